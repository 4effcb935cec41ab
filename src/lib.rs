//! Solefolio: from raw bench readings of athletic shoes to a published folio.
//!
//! The rooms, from the ground up; each imports only from those above it in this list:
//!
//! - [`diagnostics`]: a problem with its place, message and hint
//! - [`quantity`]: units, values with uncertainty, rounding
//! - [`files`]: reading YAML and CSV with places, safe names and paths
//! - [`measure`]: the numbers: summaries, intervals, conformity, curves, charts, studies

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod diagnostics;
pub mod files;
pub mod measure;
pub mod quantity;
