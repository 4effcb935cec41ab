//! Reading a lab's files: YAML and CSV with places, safe names and paths.
//!
//! Everything that comes from outside passes through this room once and leaves
//! it typed. It guarantees that a value was finite, a name safe, a file within
//! its size limit, within the root and in UTF-8; it does not know what a shoe is.
//!
//! - [`Root`]: the lab's folder, on the disk or ([`Memory`]) in tests and fuzzers
//! - [`Source`]: one file's text, and [`yaml::read`], [`csv::Table`] to read it
//! - [`yaml::place_all`]: places for problems that were found later
//! - [`Key`], [`Slug`], [`RelPath`], [`Address`], [`Date`], [`Month`], [`Week`],
//!   [`Map`]: types that can't hold a wrong value
//! - [`edit`]: changes to a text that keep its comments
//!
//! It fails with [`Problem`](crate::diagnostics::Problem)s, all of a file at once.

mod address;
pub mod csv;
mod date;
mod disk;
pub mod edit;
mod found;
mod length;
mod map;
mod name;
mod nearest;
mod path;
mod root;
mod source;
pub mod yaml;

pub use address::{ADDRESS_LIMIT, Address, NotAnAddress};
pub use date::{Date, Month, NotADate, Week};
pub use disk::{Disk, Files, Listed, Memory, Refused};
pub(crate) use found::Found;
pub use found::{PROBLEM_LIMIT, limited};
pub use length::{LABEL_LIMIT, LINE_LIMIT, PARAGRAPH_LIMIT, WORD_LIMIT, too_long};
pub use map::Map;
pub use name::{Key, NAME_LIMIT, NotAName, Slug};
pub use nearest::nearest;
pub use path::{NotAPath, PATH_LIMIT, RelPath};
pub use root::{Addressed, Listing, Root};
pub use source::{CSV_LIMIT, Source, YAML_LIMIT};
