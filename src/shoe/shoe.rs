//! One shoe, as the other rooms use it.

use super::file::{ShoeFile, Version};
use crate::files::Slug;

/// One shoe: its address, where its file is, and what the file says.
#[derive(Clone, Debug)]
pub struct Shoe {
    /// Its address: the file's stem.
    pub slug: Slug,
    /// The file, relative to the lab's root.
    pub path: String,
    /// What the file says.
    pub file: ShoeFile,
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
