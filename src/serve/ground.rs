//! The ground a reading is answered on: the lab, its rules, and its other shoes.

use crate::diagnostics::Problem;
use crate::edition::{is_out, is_taken_back};
use crate::files::{Date, RelPath, Root, Slug, Source};
use crate::gather::{Usable, gather_usable, judge_one, read_shoe};
use crate::lab::Lab;
use crate::rules::{Judged, RuleSet};
use std::collections::BTreeMap;

/// A lab as it was read at one moment.
#[derive(Debug)]
pub struct Ground {
    /// The laboratory.
    pub lab: Lab,
    /// Its rule set.
    pub rules: RuleSet,
    /// Its shoes without an error, by address.
    pub shoes: Vec<Judged>,
    /// Everything that is wrong in the lab's folder.
    pub problems: Vec<Problem>,
    /// Every shoe's file, broken or not.
    pub files: BTreeMap<Slug, RelPath>,
    /// The day on which others count as out.
    pub today: Date,
    root: Root,
}

impl Ground {
    /// Reads a lab's folder. One broken shoe does not stop work on the others.
    ///
    /// # Errors
    /// All problems, if the files of `lab/` can't be used.
    pub fn read(root: &Root, today: Date) -> Result<Ground, Vec<Problem>> {
        let Usable {
            lab,
            rules,
            shoes,
            problems,
        } = gather_usable(root, today)?;
        let files = root.addresses("shoes", &["yaml", "yml"]).files;
        Ok(Ground {
            lab,
            rules,
            shoes,
            problems,
            files: files.into_iter().collect(),
            today,
            root: root.clone(),
        })
    }

    /// The folder it was read from.
    pub fn root(&self) -> &Root {
        &self.root
    }

    /// The shoe at an address, as it was read.
    pub fn shoe(&self, slug: &Slug) -> Option<&Judged> {
        let at = self
            .shoes
            .binary_search_by(|judged| judged.shoe.slug.cmp(slug));
        at.ok().map(|at| &self.shoes[at])
    }

    /// Judges a shoe from a text that stands, or is to stand, in its file.
    ///
    /// # Errors
    /// Every problem of the text, if one is an error.
    pub fn judge(&self, slug: &Slug, source: &Source) -> Result<Judged, Vec<Problem>> {
        let mut problems = Vec::new();
        let path: RelPath = source.file.parse().map_err(|_| Vec::new())?;
        let lab = Some(&self.lab);
        match read_shoe(&self.root, lab, slug.clone(), &path, source, &mut problems) {
            Some(shoe) => Ok(judge_one(shoe, &self.lab, &self.rules)),
            None => Err(problems),
        }
    }

    /// The other shoes of a shoe's category that are out, and not taken back.
    pub fn others<'g>(&'g self, judged: &'g Judged) -> impl Iterator<Item = &'g Judged> {
        self.shoes.iter().filter(move |other| {
            other.shoe.slug != judged.shoe.slug
                && other.shoe.file.category == judged.shoe.file.category
                && !is_taken_back(other, self.today)
                && is_out(other, self.today)
        })
    }

    /// Puts a shoe that was just written in the place of what was read before.
    pub fn take(&mut self, path: RelPath, judged: Judged) {
        let slug = judged.shoe.slug.clone();
        match self.shoes.binary_search_by(|old| old.shoe.slug.cmp(&slug)) {
            Ok(at) => self.shoes[at] = judged,
            Err(at) => self.shoes.insert(at, judged),
        }
        self.files.insert(slug, path);
    }
}
