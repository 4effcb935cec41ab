//! Solefolio: from raw bench readings of athletic shoes to a published folio.
//!
//! The rooms, from the ground up; each imports only from those above it in this list:
//!
//! - [`diagnostics`]: a problem with its place, message and hint
//! - [`words`]: what the program says, in one language or another
//! - [`quantity`]: units, values with uncertainty, rounding
//! - [`files`]: reading YAML and CSV with places, safe names and paths
//! - [`lab`]: what the laboratory fixes
//! - [`shoe`]: one shoe, as its file says it
//! - [`measure`]: from readings to values with uncertainty
//! - [`rules`]: from values to findings
//! - [`catalogue`]: one shoe against all others
//! - [`edition`]: what is out as of a date
//! - [`outputs`]: what the folio contains
//! - [`programs`]: outside programs of the lab, asked and checked
//! - [`gather`]: from a lab's folder to judged shoes, side by side
//! - [`press`]: what must be made again, and a whole edition at a time
//! - [`serve`]: the loopback servers, and what the bench desk answers
//!
//! [`library`] puts them together for programs in Rust; [`reference`] is made from
//! all of them.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod catalogue;
pub mod cli;
pub mod diagnostics;
pub mod edition;
pub mod files;
pub mod gather;
pub mod lab;
pub mod library;
pub mod measure;
pub mod outputs;
pub mod press;
pub mod programs;
pub mod quantity;
pub mod rules;
pub mod serve;
pub mod shoe;

/// The reference, made from doc comments, registries and schemas, and the tutorials.
pub mod reference {
    /// Every kind of rule.
    #[doc = include_str!("../docs/reference/rules.md")]
    pub mod rule_kinds {}
    /// Every output.
    #[doc = include_str!("../docs/reference/outputs.md")]
    pub mod all_outputs {}
    /// Every problem code.
    #[doc = include_str!("../docs/reference/codes.md")]
    pub mod problem_codes {}
    /// Every file of a lab, the header of a page, the lines of a program.
    #[doc = include_str!("../docs/reference/files.md")]
    pub mod all_files {}
    /// Every view that templates and programs see.
    #[doc = include_str!("../docs/reference/views.md")]
    pub mod all_views {}
    /// Every command.
    #[doc = include_str!("../docs/reference/commands.md")]
    pub mod commands {}
    /// A new quantity by files alone.
    #[doc = include_str!("../docs/tutorial-new-quantity.md")]
    pub mod new_quantity {}
    /// Pages of a lab's own.
    #[doc = include_str!("../docs/own-pages.md")]
    pub mod own_pages {}
    /// Programs of a lab's own.
    #[doc = include_str!("../examples/programs/README.md")]
    pub mod own_programs {}
}
pub mod words;
