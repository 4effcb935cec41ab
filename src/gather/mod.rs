//! From a lab's folder to judged shoes: reads every file, checks it whole,
//! works out every quantity and finding.
//!
//! Shoes are read and judged side by side, and come out by address whatever
//! order they went in. Problems are gathered, never thrown: a mistake in one
//! file does not hide those in another. A lab file that can't be used means
//! that shoes are only checked for their form.

mod control;
mod cross;
mod editions;
mod heard;
mod lab;
mod languages;
mod ledger;
mod outside;
mod phrases;
mod reading;
mod shelf;
mod shoes;
mod stock;
mod templates;

use crate::diagnostics::Problem;
use crate::edition::{Assembled, Edition, Frozen, Ledger, Scope, Stamps, unaccepted};
use crate::files::{Date, Key, Root};
use crate::lab::Lab;
use crate::rules::{Judged, RuleSet};

pub use control::{check_control, read_control, read_study};
pub use editions::{check_editions, missing_editions};
pub use heard::{Ear, Step};
pub use lab::{EARLIER, LabFiles, check_earlier, read_lab};
pub use languages::{LanguageFiles, is_tag, lab_words, words_by_hand};
pub use outside::program_files;
pub use phrases::PLACEHOLDERS;
pub use reading::Reading;
pub use shelf::{Shelf, gather_again};
pub use shoes::{SHOES_LIMIT, judge_one, read_shoe};
pub use stock::read_stock;
pub use templates::{OwnTemplates, TEMPLATE_LIMIT, check_templates, read_templates};

/// All that a lab's folder holds, judged.
#[derive(Debug)]
pub struct Gathered {
    /// The laboratory.
    pub lab: Lab,
    /// Its rule set.
    pub rules: RuleSet,
    /// Its shoes, by address: drafts and held ones too.
    pub shoes: Vec<Judged>,
    /// What has been sealed.
    pub ledger: Ledger,
    /// The versions of rule set and protocol.
    pub stamps: Stamps,
    /// The editions that were sealed, frozen.
    pub frozen: Vec<Frozen>,
    /// What is wrong with the files that could be used all the same: warnings.
    pub warnings: Vec<Problem>,
}

/// Reads and judges everything below `root`.
///
/// # Errors
/// All problems of all files, if one of them is an error.
pub fn gather(root: &Root) -> Result<Gathered, Vec<Problem>> {
    gather_as(root, &Reading::default())
}

/// Reads and judges everything below `root`, its lab as it is wanted.
///
/// # Errors
/// All problems of all files, if one of them is an error.
pub fn gather_as(root: &Root, reading: &Reading) -> Result<Gathered, Vec<Problem>> {
    let (gathered, problems) = gather_all_the_same(root, reading);
    match gathered {
        Some(gathered) if !problems.iter().any(Problem::is_error) => Ok(Gathered {
            warnings: problems,
            ..gathered
        }),
        _ => Err(problems),
    }
}

/// Reads everything below `root`, and judges what can be judged whatever is wrong
/// with the rest: for the desk, which wants to see how far a batch is. Nothing can
/// be if a file of the lab or the ledger can't be used.
pub fn gather_all_the_same(root: &Root, reading: &Reading) -> (Option<Gathered>, Vec<Problem>) {
    let mut problems = Vec::new();
    let files = LabFiles::read_as(root, reading, &mut problems);
    let lab = files
        .as_ref()
        .and_then(|files| files.assemble(&mut problems));
    let ledger = ledger::read(root, &mut problems);
    let frozen = editions::read(root, &mut problems);
    let shoes = shoes::read(
        root,
        lab.as_ref().map(|(lab, _)| lab),
        reading,
        &mut problems,
    );
    let (Some(files), Some((lab, rules)), Some(ledger)) = (files, lab, ledger) else {
        return (None, problems);
    };
    let stamps = ledger::stamps(&files, (rules.version, lab.protocol.version));
    if !reading.trial {
        problems.extend(ledger::check(&ledger, &stamps));
    }
    cross::check(&lab, &rules, shoes.iter(), &mut problems);
    languages::check(&lab, &rules, &ledger, shoes.iter(), &mut problems);
    let shoes = shoes::judge(shoes, &lab, &rules, reading);
    let shoes = outside::answer(root, shoes, &lab, &rules, &reading.outside, &mut problems);
    let gathered = Gathered {
        lab,
        rules,
        shoes,
        ledger,
        stamps,
        frozen,
        warnings: Vec::new(),
    };
    (Some(gathered), problems)
}

/// What of a lab's folder can be used while something in it is broken.
#[derive(Debug)]
pub struct Usable {
    /// The laboratory.
    pub lab: Lab,
    /// Its rule set.
    pub rules: RuleSet,
    /// The shoes without an error, judged, by address.
    pub shoes: Vec<Judged>,
    /// Everything that is wrong.
    pub problems: Vec<Problem>,
}

/// Reads and judges what can be used below `root` on a day, for a desk that must go on
/// working while one shoe's file is broken. Rule set and protocol are those that hold
/// that day, as for what is published.
///
/// # Errors
/// All problems, if the files of `lab/` can't be used.
pub fn gather_usable(root: &Root, today: Date) -> Result<Usable, Vec<Problem>> {
    let mut problems = Vec::new();
    let reading = Reading::on(today);
    let Some((lab, rules)) = read_lab(root, &reading, &mut problems) else {
        return Err(problems);
    };
    let shoes = shoes::read(root, Some(&lab), &reading, &mut problems);
    let shoes = shoes::judge(shoes, &lab, &rules, &reading);
    Ok(Usable {
        lab,
        rules,
        shoes,
        problems,
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

    /// The edition of a date, with what was sealed and what was read.
    pub fn edition(self, as_of: Date, scope: Scope) -> (Assembled, Ledger, Stamps) {
        let label = |key: &Key| {
            let rule = self.rules.rules.get(key);
            rule.map_or_else(|| key.to_string(), |rule| rule.label().to_owned())
        };
        let corrections = self.ledger.corrections(label);
        let mut assembled =
            Edition::assemble(self.lab, self.rules, self.shoes, corrections, as_of, scope);
        assembled.edition.frozen = self.frozen;
        assembled.edition.frozen.retain(|frozen| frozen.on <= as_of);
        assembled.edition.sealed = self.ledger.mark(as_of);
        (assembled, self.ledger, self.stamps)
    }
}
