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
//! - [`gather`]: from a lab's folder to judged shoes, side by side
//! - [`press`]: what must be made again, and a whole edition at a time
//! - [`serve`]: the loopback servers, and what the bench desk answers

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod catalogue;
pub mod cli;
pub mod diagnostics;
pub mod edition;
pub mod files;
pub mod gather;
pub mod lab;
pub mod measure;
pub mod outputs;
pub mod press;
pub mod quantity;
pub mod rules;
pub mod serve;
pub mod shoe;
pub mod words;
