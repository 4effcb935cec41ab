//! One shoe, as the other rooms use it.

use super::file::{ShoeFile, Version};
use crate::files::{Key, Slug};

/// One shoe: its address, where its file is, and what the file says.
#[derive(Clone, Debug)]
pub struct Shoe {
    /// Its address: the file's stem.
    pub slug: Slug,
    /// The file, relative to the lab's root.
    pub path: String,
    /// What the file says.
    pub file: ShoeFile,
    /// The raw curves its readings name.
    pub curves: Vec<RawCurve>,
}

/// A raw curve as it was recorded, in millimetres and newtons, or in degrees and
/// newton metres.
#[derive(Clone, Debug, PartialEq)]
pub struct RawCurve {
    /// Which of the shoe's specimens, counted from 0.
    pub specimen: usize,
    /// The curve's name in the protocol.
    pub key: Key,
    /// Travel or angle, row by row.
    pub travel: Vec<f64>,
    /// Load or torque, row by row.
    pub load: Vec<f64>,
}

impl Shoe {
    /// Model and version: `Quarrel 2`.
    pub fn model(&self) -> String {
        let mut name = self.file.model.clone();
        match &self.file.version {
            Some(Version::Number(number)) => name.push_str(&format!(" {number}")),
            Some(Version::Word(word)) => name.push_str(&format!(" {word}")),
            None => {}
        }
        name
    }

    /// Maker, model, version and colour: `Fennick & Vale Quarrel 2, moss`.
    pub fn title(&self) -> String {
        let name = format!("{} {}", self.file.maker, self.model());
        match &self.file.colour {
            Some(colour) => format!("{name}, {colour}"),
            None => name,
        }
    }
}
