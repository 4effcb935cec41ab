//! `intake`: readings from a spreadsheet.

mod sheet;

use super::desk::UsageError;
use super::record::{not_edited, shoe_file};
use super::{Desk, Exit};
use crate::diagnostics::{KeyPath, Place, Problem, render};
use crate::files::{CSV_LIMIT, Key, RelPath, Slug, Source, csv, edit};
use crate::lab::Protocol;
use crate::quantity::{Amount, Unit};
use crate::serve::{Ground, Writer};
use anyhow::Context as _;
use clap::Args;
use serde::Serialize;
pub use sheet::Taken;
use sheet::{Columns, row_problem};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Take readings from a CSV file in long form (shoe, specimen, quantity, value,
/// unit) or wide form (shoe, specimen, a column a quantity and trial). Shows what
/// it would do; `--apply` does it. Safe to run twice: rows that were taken change
/// nothing. A row that can't be taken is reported with its line, and holds back
/// the other readings of its quantity, no more.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The spreadsheet, as CSV
    file: PathBuf,
    /// Write the readings into the shoes' files
    #[arg(long)]
    apply: bool,
    /// Where a file holds other readings of a quantity, put the sheet's in their place
    #[arg(long)]
    replace: bool,
}

/// What becomes of the readings of one quantity of one specimen.
#[derive(Debug, Serialize)]
struct Step {
    shoe: Slug,
    specimen: String,
    quantity: Key,
    does: Does,
    /// The readings afterwards.
    readings: Vec<String>,
    /// How many of them stood there and are not of the sheet.
    stay: usize,
    #[serde(skip)]
    at: usize,
    #[serde(skip)]
    place: Place,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
enum Does {
    /// They stand there already.
    Nothing,
    /// The quantity had none.
    Begins,
    /// Some are added.
    Adds,
    /// Others stood there.
    Replaces,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let writer = Writer::new(&root).context("taking readings in needs a folder on the disk")?;
    let name = arguments.file.display().to_string();
    let bytes = read(arguments)?;
    let ground = match Ground::read(&root, Desk::today()) {
        Ok(ground) => ground,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let source = match Source::from_bytes(&name, bytes, CSV_LIMIT) {
        Ok(source) => source,
        Err(problem) => {
            desk.show_problems(&root, vec![problem]);
            return Ok(Exit::Problems);
        }
    };
    let table = match csv::Table::read(&source) {
        Ok(table) => table,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let columns = match columns_of(&name, &table, &ground.lab.protocol) {
        Ok(columns) => columns,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    if !desk.json() {
        desk.say(columns.text(&table.headings));
        if !columns.ignored.is_empty() {
            desk.say(format_args!("left alone: {}", columns.ignored.join(", ")));
        }
    }
    let mut problems = Vec::from_iter(source.cut_off());
    let taken = columns.readings(&name, &table, &ground.lab.protocol, &mut problems);
    let mut intake = Intake {
        desk,
        ground: &ground,
        name: &name,
        replace: arguments.replace,
        problems,
    };
    let by_shoe = intake.by_shoe(taken);
    let mut steps = Vec::new();
    let mut failed = None;
    for ((slug, path), groups) in by_shoe {
        match intake.shoe(&slug, &path, groups, arguments.apply.then_some(&writer)) {
            Ok(taken) => steps.extend(taken),
            // What was written before is told all the same.
            Err(error) => {
                failed = Some(error);
                break;
            }
        }
    }
    intake.tell(&steps, arguments.apply);
    if let Some(error) = failed {
        return Err(error);
    }
    Ok(if intake.problems.iter().any(Problem::is_error) {
        Exit::Problems
    } else {
        Exit::Done
    })
}

fn columns_of(
    name: &str,
    table: &csv::Table<'_>,
    protocol: &Protocol,
) -> Result<Columns, Vec<Problem>> {
    Columns::of(&table.headings, protocol).map_err(|lacks| {
        vec![
            Problem::error("intake-columns", name, KeyPath::root(), lacks)
                .at(1, 1)
                .hint("head the columns `shoe, specimen, quantity, value, unit`, or `shoe, specimen` and a column a quantity"),
        ]
    })
}

/// The readings of a sheet as `intake` takes them, before it looks for their
/// shoes: each as it will stand in the file or with what is wrong with it; and the
/// rows that can't be taken.
///
/// # Errors
/// The problems of a sheet that can't be read at all.
pub fn read_sheet(
    source: &Source,
    protocol: &Protocol,
) -> Result<(Vec<Taken>, Vec<Problem>), Vec<Problem>> {
    let table = csv::Table::read(source)?;
    let columns = columns_of(&source.file, &table, protocol)?;
    let mut problems = Vec::new();
    let taken = columns.readings(&source.file, &table, protocol, &mut problems);
    Ok((taken, problems))
}

fn read(arguments: &Arguments) -> anyhow::Result<Vec<u8>> {
    let file = &arguments.file;
    let say = || format!("can't read {}", file.display());
    let size = std::fs::metadata(file).with_context(say)?.len();
    if size > CSV_LIMIT {
        let limit = CSV_LIMIT >> 20;
        return Err(UsageError(format!(
            "{} is larger than {limit} MiB; split it",
            file.display()
        ))
        .into());
    }
    std::fs::read(file).with_context(say)
}

/// The sheet's readings of each quantity of each specimen, in its order.
type Groups = BTreeMap<(Option<String>, Key), Vec<Taken>>;

struct Intake<'i> {
    desk: &'i Desk,
    ground: &'i Ground,
    name: &'i str,
    replace: bool,
    problems: Vec<Problem>,
}

impl Intake<'_> {
    fn by_shoe(&mut self, taken: Vec<Taken>) -> BTreeMap<(Slug, RelPath), Groups> {
        let mut shoes: BTreeMap<(Slug, RelPath), Groups> = BTreeMap::new();
        for one in taken {
            match shoe_file(self.ground, &one.shoe) {
                Ok(file) => {
                    let group = (one.specimen.clone(), one.quantity.clone());
                    let groups = shoes.entry(file).or_default();
                    groups.entry(group).or_default().push(one);
                }
                Err(error) => {
                    self.problems
                        .push(row_problem(self.name, one.place, error.to_string()))
                }
            }
        }
        shoes
    }

    /// Plans the steps of one shoe, and takes them if there is a writer.
    fn shoe(
        &mut self,
        slug: &Slug,
        path: &RelPath,
        groups: Groups,
        writer: Option<&Writer>,
    ) -> anyhow::Result<Vec<Step>> {
        let before = match self.ground.root().read(path) {
            Ok(source) => source,
            Err(problem) => {
                self.problems.push(problem);
                return Ok(Vec::new());
            }
        };
        let judged = match self.ground.judge(slug, &before) {
            Ok(judged) => judged,
            Err(found) => {
                self.problems.extend(found);
                return Ok(Vec::new());
            }
        };
        self.problems.extend(before.cut_off());
        let specimens: Vec<&str> = judged
            .shoe
            .file
            .specimens
            .iter()
            .map(|specimen| specimen.id.as_str())
            .collect();
        let mut steps = Vec::new();
        let mut text = before.clone();
        for ((specimen, quantity), rows) in of_the_only(groups, &specimens) {
            let step = self.step(slug, &specimens, specimen, quantity, &rows, &text);
            let Some(step) = step else { continue };
            if step.does != Does::Nothing {
                let readings = readings_path(step.at);
                match edit::set(&text, &readings, step.quantity.as_str(), &step.readings) {
                    Ok(edited) => text = Source::new(path.as_str(), edited),
                    Err(refused) => {
                        self.problems.push(not_edited(path, &refused));
                        continue;
                    }
                }
            }
            steps.push(step);
        }
        if text.text == before.text {
            return Ok(steps);
        }
        if let Err(mut found) = self.ground.judge(slug, &text) {
            for problem in &mut found {
                problem.place = None;
            }
            self.problems.extend(found);
            return Ok(Vec::new());
        }
        match writer.map(|writer| writer.replace(path, before.hash, &text.text)) {
            None | Some(Ok(())) => Ok(steps),
            Some(Err(not_written)) => {
                self.problems.push(not_written.problem(path)?);
                Ok(Vec::new())
            }
        }
    }

    fn step(
        &mut self,
        slug: &Slug,
        specimens: &[&str],
        specimen: Option<String>,
        quantity: Key,
        rows: &[Taken],
        text: &Source,
    ) -> Option<Step> {
        let place = rows.first()?.place;
        let place_of = |id: &String| specimens.iter().position(|known| known == id);
        let at = specimen.as_ref().and_then(place_of);
        let Some(at) = at else {
            let message = match &specimen {
                Some(id) => format!(
                    "{slug} has no specimen `{id}`; it has {}",
                    specimens.join(", ")
                ),
                None => format!("say which specimen of {slug}: {}", specimens.join(", ")),
            };
            for row in rows {
                self.problems
                    .push(row_problem(self.name, row.place, &*message));
            }
            return None;
        };
        let readings = readings_path(at);
        let present = edit::words(text, &readings, quantity.as_str()).unwrap_or_default();
        let wanted = self.wanted(rows, &present)?;
        let unit = self.ground.lab.protocol.quantities.get(&quantity)?.unit;
        let same = |a: &[String], b: &[String]| {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b, unit))
        };
        let taken_before = wanted.len() <= present.len()
            && present
                .windows(wanted.len())
                .any(|stretch| same(stretch, &wanted));
        let does = if taken_before {
            Does::Nothing
        } else if present.is_empty() {
            Does::Begins
        } else if present.len() < wanted.len() && same(&present, &wanted[..present.len()]) {
            Does::Adds
        } else if self.replace {
            Does::Replaces
        } else {
            let message = format!(
                "{slug}, {}: {quantity} has other readings already: [{}], not [{}]",
                specimens[at],
                present.join(", "),
                wanted.join(", ")
            );
            self.problems.push(
                row_problem(self.name, place, message)
                    .hint("take the sheet in with --replace, or mend one of the two"),
            );
            return None;
        };
        let stay = match does {
            Does::Nothing => present.len() - wanted.len(),
            Does::Begins | Does::Adds | Does::Replaces => 0,
        };
        let readings = match does {
            // What stands there stays as it is written, with what the sheet does not hold.
            Does::Nothing => present,
            Does::Adds => {
                let more = wanted[present.len()..].to_vec();
                present.into_iter().chain(more).collect()
            }
            Does::Begins | Does::Replaces => wanted,
        };
        Some(Step {
            shoe: slug.clone(),
            specimen: specimens[at].to_owned(),
            quantity,
            does,
            readings,
            stay,
            at,
            place,
        })
    }

    /// The sheet's readings in the order of their trials; none if a row is bad, or
    /// a trial is there twice or missing before another.
    fn wanted(&mut self, rows: &[Taken], present: &[String]) -> Option<Vec<String>> {
        let mut good = true;
        let mut wanted: Vec<(usize, String)> = Vec::new();
        for row in rows {
            let word = match &row.word {
                Ok(word) => word.clone(),
                Err(wrong) => {
                    self.problems
                        .push(row_problem(self.name, row.place, &**wrong));
                    good = false;
                    continue;
                }
            };
            let trial = row.trial.unwrap_or(wanted.len() + 1);
            if wanted.iter().any(|(other, _)| *other == trial) {
                // Rows below each other in wide form are further trials.
                let message = format!("trial {trial} of {} is there twice", row.quantity);
                self.problems
                    .push(row_problem(self.name, row.place, message));
                good = false;
            }
            wanted.push((trial, word));
        }
        wanted.sort_by_key(|(trial, _)| *trial);
        for (at, (trial, _)) in wanted.iter().enumerate() {
            // Trials may go on where the file's end.
            let first = wanted[0].0;
            if good && (first > present.len() + 1 || *trial != first + at) {
                let message = format!("trial {trial} comes without the trial before it");
                self.problems
                    .push(row_problem(self.name, rows[0].place, message));
                good = false;
            }
        }
        let before = wanted.first().map_or(0, |(first, _)| first - 1);
        let kept = present.iter().take(before).cloned();
        good.then(|| {
            kept.chain(wanted.into_iter().map(|(_, word)| word))
                .collect()
        })
    }

    fn tell(&mut self, steps: &[Step], applied: bool) {
        self.problems.sort_by(|a, b| {
            let key = |p: &Problem| (p.file.clone(), p.place);
            key(a).cmp(&key(b))
        });
        if self.desk.json() {
            self.desk.print_value(&serde_json::json!({
                "applied": applied,
                "steps": steps,
                "problems": render::value(&self.problems),
            }));
            return;
        }
        let mut same = 0;
        for step in steps {
            let does = match step.does {
                Does::Nothing => {
                    same += 1;
                    if self.replace && step.stay > 0 {
                        self.desk.print(&format!("{}\n", stays(step)));
                    }
                    continue;
                }
                Does::Begins => "begins with",
                Does::Adds => "is added to:",
                Does::Replaces => "is replaced by",
            };
            self.desk.print(&format!(
                "line {}: {}, {}: {} {does} [{}]\n",
                step.place.line,
                step.shoe,
                step.specimen,
                step.quantity,
                step.readings.join(", ")
            ));
        }
        if !self.problems.is_empty() {
            self.desk
                .show_problems(self.ground.root(), self.problems.clone());
        }
        let changes = steps.len() - same;
        self.desk.say(format_args!(
            "{changes} {} {}; {same} there already; {} rows or quantities not taken{}",
            if changes == 1 {
                "quantity"
            } else {
                "quantities"
            },
            if applied {
                "written"
            } else {
                "would be written"
            },
            self.problems.iter().filter(|one| one.is_error()).count(),
            if applied || changes == 0 {
                ""
            } else {
                "; --apply writes them"
            }
        ));
    }
}

/// The groups of a shoe of one specimen: a row that names it and one that leaves it away
/// are of the same trials, in the order of the sheet.
fn of_the_only(groups: Groups, specimens: &[&str]) -> Groups {
    let [only] = specimens else {
        return groups;
    };
    let mut all = Groups::new();
    for ((specimen, quantity), rows) in groups {
        let specimen = specimen.or_else(|| Some((*only).to_owned()));
        all.entry((specimen, quantity)).or_default().extend(rows);
    }
    for rows in all.values_mut() {
        rows.sort_by_key(|row| row.place);
    }
    all
}

/// Says that `--replace` takes no reading away that the sheet merely doesn't hold.
fn stays(step: &Step) -> String {
    format!(
        "line {}: {}, {}: {} holds the sheet's readings already, and {} more that stay: [{}]",
        step.place.line,
        step.shoe,
        step.specimen,
        step.quantity,
        step.stay,
        step.readings.join(", ")
    )
}

fn readings_path(specimen: usize) -> KeyPath {
    let specimens = KeyPath::root().key("specimens");
    specimens.index(specimen).key("readings")
}

/// Whether two words are one reading: the same number in one unit, or both the same
/// once converted.
fn alike(a: &str, b: &str, unit: Unit) -> bool {
    let value = |word: &str| word.parse::<Amount>().ok()?.in_unit(unit).ok();
    match (value(a), value(b)) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(b.abs()),
        _ => a == b,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_that_the_sheet_does_not_hold_are_said_to_stay() {
        let step = Step {
            shoe: "maker-model".parse().unwrap(),
            specimen: "A".into(),
            quantity: "mass".parse().unwrap(),
            does: Does::Nothing,
            readings: ["262", "263", "264"].map(str::to_owned).into(),
            stay: 1,
            at: 0,
            place: Place { line: 2, column: 1 },
        };
        assert_eq!(
            stays(&step),
            "line 2: maker-model, A: mass holds the sheet's readings already, and 1 more that stay: [262, 263, 264]"
        );
    }

    #[test]
    fn a_row_that_leaves_the_only_specimen_away_is_of_its_trials() {
        let mut groups = Groups::new();
        for (line, specimen) in [(2, None), (3, Some("A")), (4, None)] {
            let specimen = specimen.map(str::to_owned);
            let quantity: Key = "mass".parse().unwrap();
            let row = Taken {
                shoe: "maker-model".into(),
                specimen: specimen.clone(),
                quantity: quantity.clone(),
                trial: None,
                word: Ok(format!("26{line}")),
                place: Place { line, column: 1 },
            };
            groups.entry((specimen, quantity)).or_default().push(row);
        }
        assert_eq!(of_the_only(groups.clone(), &["A", "B"]), groups);
        let all: Vec<_> = of_the_only(groups, &["A"]).into_values().collect();
        let words: Vec<&str> = all[0].iter().flat_map(|row| row.word.as_deref()).collect();
        assert_eq!((all.len(), words), (1, vec!["262", "263", "264"]));
    }
}
