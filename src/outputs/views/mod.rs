//! Views: what a template sees. Plain values, already worded and rounded.
//!
//! A view holds no model, no arithmetic is left to a template, and a number
//! reaches it as text. Where something is missing the field is `null` and the
//! reason stands beside it. Views are compared between runs: a page is made
//! again only if its view or its templates changed, so a view holds nothing a
//! reader would not see.

/// The version of the views' form. It is raised when a field is renamed, removed
/// or means something else; a field more leaves it as it is.
pub const VIEWS: u32 = 1;

mod across;
mod bench;
mod card;
mod data;
mod registry;
mod review;
pub(super) mod script;
mod site;
mod sorted;

pub use across::*;
pub use bench::*;
pub use card::*;
pub use data::*;
pub use registry::{ALL, ViewDoc};
pub use review::*;
pub use site::*;
pub use sorted::*;
