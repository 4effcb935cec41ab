//! What a publish did, as one short summary for people and as JSON.

use super::progress::Phase;
use super::reason::{Difference, Reason};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;
use std::time::Duration;

/// What became of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It was written: it is new, or reads differently.
    Made,
    /// It was made again and came out the same, so it wasn't written.
    Same,
    /// It was removed.
    Removed,
    /// It could not be made; the one that was there, if any, stays.
    Failed,
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Outcome::Made => "made",
            Outcome::Same => "same",
            Outcome::Removed => "removed",
            Outcome::Failed => "failed",
        })
    }
}

/// Why something became of a sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Why {
    /// The sheet.
    pub path: String,
    /// What became of it.
    pub outcome: Outcome,
    /// Why; never empty.
    pub reasons: Vec<Reason>,
    /// What a reader sees differently first, where both are text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference: Option<Difference>,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}: ", self.outcome, self.path)?;
        for (place, reason) in self.reasons.iter().enumerate() {
            let comma = if place > 0 { "; " } else { "" };
            write!(f, "{comma}{reason}")?;
        }
        if let Some(difference) = &self.difference {
            write!(f, "\n  {difference}")?;
        }
        Ok(())
    }
}

/// A print that could not be set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FailedPrint {
    /// Where it would lie.
    pub path: String,
    /// Whose it is: a shoe's address, a week, or the folio.
    pub of: String,
    /// What the typesetter said.
    pub message: String,
    /// Whether the print of an earlier edition is still there.
    pub kept_old: bool,
}

/// How many prints there are.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Prints {
    /// Set in this run.
    pub made: usize,
    /// There already and still right.
    pub kept: usize,
    /// Planned by the edition but left out, as the caller says.
    pub missing: usize,
    /// Those that could not be set.
    pub failed: Vec<FailedPrint>,
}

/// What a publish did.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Report {
    /// Sheets written.
    pub made: usize,
    /// Sheets made again that came out the same.
    pub same: usize,
    /// Sheets that didn't have to be made again.
    pub unchanged: usize,
    /// Files removed.
    pub removed: usize,
    /// Shoes that are held back, as the caller says.
    pub held_back: usize,
    /// Sheets outside of what was asked for, left as they are.
    pub left: usize,
    /// Prints among the sheets.
    pub prints: Prints,
    /// Files in the folio that the press didn't write, and leaves alone.
    pub foreign: Vec<String>,
    /// Whether an interrupted run was completed first.
    pub recovered: bool,
    /// Why for each sheet that isn't unchanged, if it was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub why: Vec<Why>,
    /// Seconds spent, by phase.
    pub seconds: BTreeMap<&'static str, f64>,
}

/// Foreign files named in the summary.
const NAMED: usize = 5;

impl Report {
    /// Adds time spent in a phase, such as the caller's own reading.
    pub fn spent(&mut self, phase: Phase, time: Duration) {
        *self.seconds.entry(phase.name()).or_insert(0.0) += time.as_secs_f64();
    }

    /// Whether all that was asked for is there.
    pub fn is_whole(&self) -> bool {
        self.prints.failed.is_empty()
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut counts = vec![
            format!("{} made", self.made),
            format!("{} unchanged", self.unchanged + self.same),
            format!("{} removed", self.removed),
        ];
        if self.held_back > 0 {
            counts.push(format!("{} held back", self.held_back));
        }
        if self.left > 0 {
            counts.push(format!("{} not asked for", self.left));
        }
        write!(f, "{}", counts.join(", "))?;
        let prints = &self.prints;
        let mut pdfs = Vec::new();
        for (count, what) in [
            (prints.made, "made"),
            (prints.kept, "kept"),
            (prints.missing, "missing"),
            (prints.failed.len(), "failed"),
        ] {
            if count > 0 {
                pdfs.push(format!("{count} {what}"));
            }
        }
        if !pdfs.is_empty() {
            write!(f, "; PDFs: {}", pdfs.join(", "))?;
        }
        // A plain sum of nothing is minus zero.
        let seconds = self
            .seconds
            .values()
            .fold(0.0, |sum, seconds| sum + seconds);
        writeln!(f, "; {seconds:.1} s")?;
        if self.recovered {
            writeln!(f, "an interrupted publish was completed first")?;
        }
        for failed in &prints.failed {
            let kept = if failed.kept_old {
                " (the one of an earlier edition stays)"
            } else {
                ""
            };
            writeln!(f, "could not set {} of {}{kept}:", failed.path, failed.of)?;
            for line in failed.message.trim_end().lines() {
                writeln!(f, "  {line}")?;
            }
        }
        if !self.foreign.is_empty() {
            let named: Vec<&str> = self
                .foreign
                .iter()
                .take(NAMED)
                .map(String::as_str)
                .collect();
            let more = match self.foreign.len().saturating_sub(NAMED) {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            writeln!(
                f,
                "left alone, because publish did not write them: {}{more}",
                named.join(", ")
            )?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use insta::assert_snapshot;

    #[test]
    fn a_summary_is_one_line_if_nothing_is_amiss() {
        let report = Report {
            made: 12,
            unchanged: 300,
            same: 2,
            held_back: 1,
            prints: Prints {
                made: 3,
                kept: 30,
                ..Prints::default()
            },
            seconds: BTreeMap::from([("rendering", 0.25), ("committing", 0.5)]),
            ..Report::default()
        };
        assert_snapshot!(report, @"12 made, 302 unchanged, 0 removed, 1 held back; PDFs: 3 made, 30 kept; 0.8 s");
    }

    #[test]
    fn a_failed_print_is_told_with_its_shoe_and_message() {
        let report = Report {
            prints: Prints {
                failed: vec![FailedPrint {
                    path: "shoes/quarrel-2/review.pdf".into(),
                    of: "quarrel-2".into(),
                    message: "error: unknown font\n  at line 3\n".into(),
                    kept_old: true,
                }],
                ..Prints::default()
            },
            foreign: (0..7).map(|n| format!("mine-{n}")).collect(),
            ..Report::default()
        };
        assert_snapshot!(report, @r"
        0 made, 0 unchanged, 0 removed; PDFs: 1 failed; 0.0 s
        could not set shoes/quarrel-2/review.pdf of quarrel-2 (the one of an earlier edition stays):
          error: unknown font
            at line 3
        left alone, because publish did not write them: mine-0, mine-1, mine-2, mine-3, mine-4 and 2 more
        ");
    }
}
