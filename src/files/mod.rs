//! Reading a lab's files: YAML and CSV with places, safe names and paths.
//!
//! Everything that comes from outside passes through this room once and leaves
//! it typed. It guarantees that a value was finite, a name safe, a file within
//! its size limit, within the root and in UTF-8; it does not know what a shoe is.

mod date;
mod map;
mod name;

pub use date::{Date, Month, Week};
pub use map::Map;
pub use name::{Key, NAME_LIMIT, NotAName, Slug};
