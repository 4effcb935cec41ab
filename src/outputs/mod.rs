//! What the folio contains: one file an output, each from an edition to sheets.
//!
//! An output plans sheets and makes their views. It reads no file and writes
//! none; only the press touches `out/`.

mod output;
pub mod pages;
pub mod views;

pub use output::{FolioPath, Make, Output, Sheet, Stock, Subject, Surroundings, UnsafePath};
