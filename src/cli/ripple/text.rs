//! A ripple for people, in a terminal.

use super::Forecast;
use super::sheets::Sheets;
use super::sweep::{Step, Sweep, plain};
use crate::edition::{Change, Count, ShoeChange, State, Way};
use std::fmt::Write as _;

/// Shoes told without `-v`.
const TOLD: usize = 20;
/// Files named without `-v`.
const NAMED: usize = 8;
/// The longest bar, in characters.
const BAR: usize = 40;

/// A version, or a pair of them.
pub fn versions((old, new): (u32, u32)) -> String {
    if old == new {
        format!("version {new}")
    } else {
        format!("version {old} → {new}")
    }
}

/// A forecast.
pub fn forecast(forecast: &Forecast, all: bool) -> String {
    let ripple = &forecast.ripple;
    let mut text = format!(
        "{}\nas of {}; rule set {}; protocol {}\n",
        forecast.tried,
        ripple.as_of,
        versions(ripple.rules),
        versions(ripple.protocol)
    );
    if forecast.drafts {
        text.push_str("drafts and held shoes are among them\n");
    }
    for note in &forecast.notes {
        let _ = writeln!(text, "note: {note}");
    }
    if ripple.is_still() {
        let _ = writeln!(text, "\nnone of {} shoes would change", ripple.compared);
    } else {
        findings(&mut text, &ripple.findings);
        shoes(&mut text, &ripple.shoes, ripple.compared, all);
    }
    if let Some(sheets) = &forecast.sheets {
        files(&mut text, sheets, all);
    }
    text
}

/// A column of the table of findings: its name and what it counts.
type Column = (&'static str, fn(&Count) -> usize);

/// The columns of the table of findings.
pub const COLUMNS: [Column; 9] = [
    ("up", |count| count.up),
    ("down", |count| count.down),
    ("borderline", |count| count.borderline),
    ("settled", |count| count.settled),
    ("not judged", |count| count.not_judged),
    ("judged", |count| count.judged),
    ("verdicts", |count| count.verdicts),
    ("figures", |count| count.figures),
    ("same", |count| count.same),
];

fn findings(text: &mut String, findings: &[(crate::files::Key, Count)]) {
    let wide = findings
        .iter()
        .map(|(_, count)| count.label.chars().count())
        .max()
        .unwrap_or(0);
    let _ = write!(text, "\n{:wide$}", "");
    for (name, _) in COLUMNS {
        let _ = write!(text, "  {name}");
    }
    text.push('\n');
    for (_, count) in findings {
        let _ = write!(text, "{:wide$}", count.label);
        for (name, of) in COLUMNS {
            let width = name.len() + 2;
            match of(count) {
                0 => {
                    let _ = write!(text, "{:>width$}", "·");
                }
                some => {
                    let _ = write!(text, "{some:>width$}");
                }
            }
        }
        text.push('\n');
    }
}

fn shoes(text: &mut String, shoes: &[ShoeChange], compared: usize, all: bool) {
    let _ = writeln!(text, "\n{} of {compared} shoes would change:", shoes.len());
    let told = if all { shoes.len() } else { TOLD };
    for shoe in shoes.iter().take(told) {
        let _ = writeln!(text, "  {} ({})", shoe.title, shoe.shoe);
        for change in &shoe.changes {
            let _ = writeln!(text, "    {}", line(change));
        }
    }
    if shoes.len() > told {
        let _ = writeln!(text, "  and {} more; -v tells all", shoes.len() - told);
    }
}

/// A change in a line: `▲ Torsion: medium → high; 44.2 in·lbf; 59 → 61 of 100; rank 4 → 3 of 31`.
pub fn line(change: &Change) -> String {
    let mark = match change.way {
        Some(Way::Up) => "▲ ",
        Some(Way::Down) => "▼ ",
        None => "",
    };
    format!("{mark}{}: {}", change.label, parts(change).join("; "))
}

/// What changes, part by part.
pub fn parts(change: &Change) -> Vec<String> {
    let (old, new) = match (&change.old, &change.new) {
        (Some(old), Some(new)) => (old, new),
        (None, Some(new)) => return vec![format!("new: {}", new.says)],
        (Some(old), None) => return vec![format!("no longer found; it is {}", old.says)],
        (None, None) => return Vec::new(),
    };
    let mut parts = Vec::new();
    if change.cells.is_empty()
        && (old.says != new.says || old.score.is_none() && old.rank.is_none())
    {
        if old.says == new.says {
            parts.push(format!("{}, with another uncertainty", old.says));
        } else {
            parts.push(format!("{} → {}", old.says, new.says));
        }
    }
    parts.extend(change.cells.iter().cloned());
    let value = |state: &State| state.value.clone().filter(|value| *value != state.says);
    pair(&mut parts, "", value(old), value(new), "");
    pair(
        &mut parts,
        "score ",
        old.score.clone(),
        new.score.clone(),
        " of 100",
    );
    let rank = |state: &State| state.rank.map(|(rank, n)| format!("{rank} of {n}"));
    if rank(old).is_some() && rank(new).is_some() {
        pair(&mut parts, "rank ", rank(old), rank(new), "");
    }
    if parts.is_empty() {
        parts.push(format!("{}, with another uncertainty or chance", new.says));
    }
    parts
}

fn pair(parts: &mut Vec<String>, what: &str, old: Option<String>, new: Option<String>, unit: &str) {
    let absent = || "none".to_owned();
    if old != new {
        let (old, new) = (old.unwrap_or_else(absent), new.unwrap_or_else(absent));
        parts.push(format!("{what}{old} → {new}{unit}"));
    }
}

/// What would be made again, in a sentence.
pub fn made_again(sheets: &Sheets) -> String {
    let total = sheets.again.len() + sheets.same + sheets.gone.len();
    let mut said = format!(
        "{} of {total} files would be made again",
        sheets.again.len()
    );
    if sheets.beyond_version.len() != sheets.again.len() {
        let _ = write!(
            said,
            ", {} of them for more than the version they show",
            sheets.beyond_version.len()
        );
    }
    if !sheets.new.is_empty() {
        let _ = write!(said, ", {} would be new", sheets.new.len());
    }
    if !sheets.gone.is_empty() {
        let _ = write!(said, ", {} would be removed", sheets.gone.len());
    }
    if !sheets.prints {
        said.push_str("; PDFs are not counted, because none are made");
    }
    said
}

fn files(text: &mut String, sheets: &Sheets, all: bool) {
    let _ = writeln!(text, "\n{}", made_again(sheets));
    let named = if all { usize::MAX } else { NAMED };
    for path in sheets.beyond_version.iter().take(named) {
        let _ = writeln!(text, "  {path}");
    }
    if sheets.beyond_version.len() > named {
        let _ = writeln!(
            text,
            "  and {} more; -v tells all",
            sheets.beyond_version.len() - named
        );
    }
}

/// A sweep, with a bar a value; `with` is what else is tried, in words.
pub fn sweep(sweep: &Sweep, with: &str) -> String {
    let mut text = format!(
        "{}, now {}: how many of {} shoes change band\n",
        sweep.path,
        plain(sweep.now),
        sweep.shoes
    );
    if !with.is_empty() {
        let _ = writeln!(text, "with {with}, against the rules as they are");
    }
    text.push('\n');
    let wide = sweep
        .steps
        .iter()
        .map(|step| step.text.len())
        .max()
        .unwrap_or(0);
    let most = sweep
        .steps
        .iter()
        .map(|step| step.changed)
        .max()
        .unwrap_or(0);
    for step in &sweep.steps {
        let now = if same(step.value, sweep.now) {
            ">"
        } else {
            " "
        };
        let _ = writeln!(text, "{now} {:>wide$}  {}", step.text, bar(step, most));
    }
    text
}

/// Whether two values of a sweep are the same number, as written.
pub fn same(a: f64, b: f64) -> bool {
    plain(a) == plain(b)
}

fn bar(step: &Step, most: usize) -> String {
    if let Some(reason) = &step.refused {
        return format!("can't be: {reason}");
    }
    if step.changed == 0 {
        return "0".to_owned();
    }
    // At least one mark for a shoe, however many there are at most.
    let long = (step.changed * BAR).div_ceil(most.max(BAR));
    format!(
        "{} {} ({} up, {} down)",
        "█".repeat(long),
        step.changed,
        step.up,
        step.down
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sweep_says_what_else_is_tried() {
        let swept = Sweep {
            path: "torsion.points[3][0]".into(),
            now: 45.0,
            shoes: 3,
            steps: vec![Step {
                value: 45.0,
                text: "45".into(),
                changed: 1,
                up: 1,
                ..Step::default()
            }],
        };
        assert!(!sweep(&swept, "").contains("with"));
        let text = sweep(&swept, "rebound.points[0] = [5,0]");
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines[1..],
            [
                "with rebound.points[0] = [5,0], against the rules as they are",
                "",
                "> 45  █ 1 (1 up, 0 down)",
            ]
        );
    }
}
