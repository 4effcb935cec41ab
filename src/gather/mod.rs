//! From a lab's folder to judged shoes: reads every file, checks it whole,
//! works out every quantity and finding.
//!
//! Shoes are read and judged side by side, and come out by address whatever
//! order they went in. Problems are gathered, never thrown: a mistake in one
//! file does not hide those in another. A lab file that can't be used means
//! that shoes are only checked for their form.

mod cross;
mod lab;
mod phrases;
mod shoes;

use crate::diagnostics::Problem;
use crate::edition::{Assembled, Correction, Edition, Scope, unaccepted};
use crate::files::{Date, Root, Slug};
use crate::lab::Lab;
use crate::rules::{Judged, RuleSet};
use std::collections::BTreeMap;

pub use lab::{LabFiles, read_lab};
pub use phrases::PLACEHOLDERS;
pub use shoes::judge_one;

/// All that a lab's folder holds, judged.
#[derive(Debug)]
pub struct Gathered {
    /// The laboratory.
    pub lab: Lab,
    /// Its rule set.
    pub rules: RuleSet,
    /// Its shoes, by address: drafts and held ones too.
    pub shoes: Vec<Judged>,
    /// What is wrong with the files that could be used all the same: warnings.
    pub warnings: Vec<Problem>,
}

/// Reads and judges everything below `root`.
///
/// # Errors
/// All problems of all files, if one of them is an error.
pub fn gather(root: &Root) -> Result<Gathered, Vec<Problem>> {
    let mut problems = Vec::new();
    let lab = read_lab(root, &mut problems);
    let shoes = shoes::read(root, lab.as_ref().map(|(lab, _)| lab), &mut problems);
    let Some((lab, rules)) = lab else {
        return Err(problems);
    };
    cross::check(&lab, &rules, &shoes, &mut problems);
    if problems.iter().any(Problem::is_error) {
        return Err(problems);
    }
    let shoes = shoes::judge(shoes, &lab, &rules);
    Ok(Gathered {
        lab,
        rules,
        shoes,
        warnings: problems,
    })
}

impl Gathered {
    /// What screening found and nobody accepted, with the warnings.
    pub fn problems(&self, as_of: Date) -> Vec<Problem> {
        self.shoes
            .iter()
            .flat_map(|judged| unaccepted(judged, as_of))
            .chain(self.warnings.iter().cloned())
            .collect()
    }

    /// The edition of a date.
    pub fn edition(
        self,
        corrections: BTreeMap<Slug, Vec<Correction>>,
        as_of: Date,
        scope: Scope,
    ) -> Assembled {
        Edition::assemble(self.lab, self.rules, self.shoes, corrections, as_of, scope)
    }
}
