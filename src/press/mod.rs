//! The press: from an edition's sheets to the folio on disk.

pub mod typesetter;
