//! Reading the control shoe's log and the gauge study.

use super::lab::read_table;
use crate::diagnostics::{KeyPath, Problem, text::quote};
use crate::files::{Date, Key, Root, Source, csv, nearest};
use crate::lab::{CONTROL, ControlReadings, Protocol, StudyReadings};
use crate::quantity::Unit;
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// The control shoe's readings, by quantity in the file's order; what is wrong is
/// added to the problems. An empty cell is a day on which it was not measured.
pub fn read_control(
    source: &Source,
    protocol: &Protocol,
    problems: &mut Vec<Problem>,
) -> Vec<ControlReadings> {
    let Some(table) = table(source, &["date"], problems) else {
        return Vec::new();
    };
    let Some(day_at) = table.column("date") else {
        return Vec::new();
    };
    let days = days(source, &table, day_at, problems);
    let mut decimals = table.decimals();
    let mut all = Vec::new();
    for (at, quantity, unit, working) in columns(source, &table, &["date"], protocol, problems) {
        let mut readings = ControlReadings {
            quantity,
            days: Vec::new(),
            values: Vec::new(),
        };
        for (row, day) in table.rows.iter().zip(&days) {
            if row[at].text.is_empty() {
                continue;
            }
            match (decimals.read(&row[at], &table.headings[at].name), day) {
                (Ok(value), Some(day)) => {
                    readings.days.push(*day);
                    readings
                        .values
                        .push(unit.convert(value, working).unwrap_or(value));
                }
                (Ok(_), None) => {}
                (Err(problem), _) => problems.push(*problem),
            }
        }
        all.push(readings);
    }
    all
}

/// What of the control shoe's log is still to come: a reading of a day after today is a
/// slip, and counts for nothing until then. What is wrong with the log otherwise is
/// told where it is read.
pub fn check_control(root: &Root, today: Date) -> Vec<Problem> {
    let source = read_table(root, CONTROL, &mut Vec::new());
    Vec::from_iter(source.and_then(|source| ahead(&source, today)))
}

fn ahead(source: &Source, today: Date) -> Option<Problem> {
    let table = csv::Table::read(source).ok()?;
    let at = table.column("date")?;
    let is_ahead = |text: &str| text.parse::<Date>().is_ok_and(|day| day > today);
    let days = table.rows.iter().map(|row| &row[at]);
    let mut later = days.filter(|cell| is_ahead(&cell.text));
    let first = later.next()?;
    let more = match later.count() {
        0 => String::new(),
        1 => ", and so is the row below it".to_owned(),
        more => format!(", and so are {more} rows below it"),
    };
    let message = format!(
        "{} is still to come{more}; until then the reading counts for nothing",
        first.text
    );
    let problem = Problem::warning(
        "control-date",
        source.file.as_str(),
        KeyPath::root(),
        message,
    );
    Some(
        problem
            .at(first.place.line, first.place.column)
            .hint("check the year and the month"),
    )
}

/// A crossed gauge study, by quantity in the file's order.
pub fn read_study(
    source: &Source,
    protocol: &Protocol,
    problems: &mut Vec<Problem>,
) -> Vec<StudyReadings> {
    const NAMES: [&str; 3] = ["part", "operator", "trial"];
    let Some(table) = table(source, &NAMES[..2], problems) else {
        return Vec::new();
    };
    let (Some(part), Some(operator)) = (table.column("part"), table.column("operator")) else {
        return Vec::new();
    };
    if let Some(trial) = table.column("trial") {
        problems.extend(twice(source, &table, [part, operator, trial]));
    }
    let mut decimals = table.decimals();
    let mut all = Vec::new();
    for (at, quantity, unit, working) in columns(source, &table, &NAMES, protocol, problems) {
        let mut readings = Vec::with_capacity(table.rows.len());
        for row in &table.rows {
            match decimals.read(&row[at], &table.headings[at].name) {
                Ok(value) => readings.push((
                    row[part].text.clone().into_owned(),
                    row[operator].text.clone().into_owned(),
                    unit.convert(value, working).unwrap_or(value),
                )),
                Err(problem) => problems.push(*problem),
            }
        }
        all.push(StudyReadings { quantity, readings });
    }
    all
}

/// Rows that tell of one trial again: a study that was pasted in twice would count
/// double. A row that leaves its trial empty says nothing of it.
fn twice(source: &Source, table: &csv::Table<'_>, of: [usize; 3]) -> Vec<Problem> {
    let mut seen: HashMap<[&str; 3], usize> = HashMap::with_capacity(table.rows.len());
    let mut problems = Vec::new();
    for row in &table.rows {
        let told = of.map(|at| &*row[at].text);
        let place = row[of[2]].place;
        if told[2].is_empty() {
            continue;
        }
        match seen.entry(told) {
            Entry::Vacant(free) => {
                free.insert(place.line);
            }
            Entry::Occupied(before) => problems.push(
                Problem::error(
                    "duplicate-entry",
                    source.file.as_str(),
                    KeyPath::root(),
                    format!(
                        "trial {} of part {} by {} stands in line {} already",
                        quote(told[2]),
                        quote(told[0]),
                        quote(told[1]),
                        before.get()
                    ),
                )
                .at(place.line, place.column)
                .hint("take one of the two rows out, or mend its trial"),
            ),
        }
    }
    problems
}

/// The table, if it has the columns it must have.
fn table<'s>(
    source: &'s Source,
    wanted: &[&str],
    problems: &mut Vec<Problem>,
) -> Option<csv::Table<'s>> {
    let table = csv::Table::read(source)
        .map_err(|found| problems.extend(found))
        .ok()?;
    let missing: Vec<&str> = wanted
        .iter()
        .copied()
        .filter(|name| table.column(name).is_none())
        .collect();
    for name in &missing {
        problems.push(
            Problem::error(
                "control-column",
                source.file.as_str(),
                KeyPath::root(),
                format!("there is no column `{name}`"),
            )
            .at(1, 1)
            .hint(format!("head a column `{name}`")),
        );
    }
    missing.is_empty().then_some(table)
}

/// The columns that are quantities: place, name, the column's unit, the protocol's.
fn columns(
    source: &Source,
    table: &csv::Table<'_>,
    others: &[&str],
    protocol: &Protocol,
    problems: &mut Vec<Problem>,
) -> Vec<(usize, Key, Unit, Unit)> {
    let mut found = Vec::new();
    for (at, heading) in table.headings.iter().enumerate() {
        if others.contains(&heading.name.as_str()) {
            continue;
        }
        let mut problem = |message: String, hint: String| {
            problems.push(
                Problem::error(
                    "control-column",
                    source.file.as_str(),
                    KeyPath::root(),
                    message,
                )
                .at(heading.place.line, heading.place.column)
                .hint(hint),
            );
        };
        let known = protocol.quantities.get(heading.name.as_str());
        let (Some(spec), Ok(key)) = (known, heading.name.parse::<Key>()) else {
            let near = nearest(&heading.name, protocol.quantities.keys().map(Key::as_str));
            let hint = near.map_or_else(
                || "name a quantity of the protocol".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            problem(
                format!("{} is no quantity of the protocol", quote(&heading.name)),
                hint,
            );
            continue;
        };
        let unit = heading.unit.unwrap_or(spec.unit);
        if unit.convert(1.0, spec.unit).is_err() {
            problem(
                format!(
                    "{unit} does not convert into {}, the unit of `{key}`",
                    spec.unit
                ),
                format!("head it `{key} ({})`", spec.unit),
            );
            continue;
        }
        found.push((at, key, unit, spec.unit));
    }
    found
}

/// The days of the rows; they must only rise, so that runs are runs.
fn days(
    source: &Source,
    table: &csv::Table<'_>,
    at: usize,
    problems: &mut Vec<Problem>,
) -> Vec<Option<Date>> {
    let mut last: Option<Date> = None;
    let mut days = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        let cell = &row[at];
        let mut problem = |message: String, hint: &str| {
            problems.push(
                Problem::error(
                    "control-date",
                    source.file.as_str(),
                    KeyPath::root(),
                    message,
                )
                .at(cell.place.line, cell.place.column)
                .hint(hint),
            );
        };
        let day = cell.text.parse::<Date>();
        match (&day, last) {
            (Err(error), _) => problem(error.to_string(), "write it as 2026-11-18"),
            (Ok(day), Some(before)) if *day < before => problem(
                format!("{day} stands below {before}"),
                "keep the rows in the order of their days; runs are looked for in that order",
            ),
            (Ok(day), _) => last = Some(*day),
        }
        days.push(day.ok());
    }
    days
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn control(text: &str) -> (Vec<ControlReadings>, Vec<(&'static str, usize, usize)>) {
        let mut problems = Vec::new();
        let source = Source::new("lab/control.csv", text);
        let found = read_control(&source, &testing::lab().protocol, &mut problems);
        let places = problems
            .iter()
            .map(|problem| {
                let place = problem.place.expect("a place");
                (problem.code, place.line, place.column)
            })
            .collect();
        (found, places)
    }

    #[test]
    fn readings_come_in_the_protocol_s_unit_and_an_empty_cell_is_a_day_without() {
        let (found, problems) =
            control("date;mass (kg);heel-compression\n2026-11-01;0,28;6,4\n2026-11-02;;6,5\n");
        assert_eq!(problems, []);
        assert_eq!((found[0].days.len(), found[1].days.len()), (1, 2));
        assert!((found[0].values[0] - 280.0).abs() < 1e-9);
        assert_eq!(found[1].values, [6.4, 6.5]);
    }

    #[test]
    fn what_is_wrong_has_its_place() {
        for (text, expected) in [
            ("mass (g)\n280\n", ("control-column", 1, 1)),
            ("date,mas (g)\n2026-11-01,280\n", ("control-column", 1, 6)),
            ("date,mass (mm)\n2026-11-01,280\n", ("control-column", 1, 6)),
            ("date,mass (g)\n1 Nov,280\n", ("control-date", 2, 1)),
            (
                "date,mass (g)\n2026-11-02,280\n2026-11-01,280\n",
                ("control-date", 3, 1),
            ),
            ("date,mass (g)\n2026-11-02,x\n", ("csv-number", 2, 12)),
        ] {
            assert_eq!(control(text).1, [expected], "{text:?}");
        }
    }

    #[test]
    fn a_study_is_read_by_part_and_operator() {
        let mut problems = Vec::new();
        let source = Source::new(
            "s.csv",
            "part,operator,trial,mass (g)\nA,ivo,1,280\nA,ivo,2,281\n",
        );
        let found = read_study(&source, &testing::lab().protocol, &mut problems);
        assert!(problems.is_empty());
        assert_eq!(found[0].readings[1], ("A".into(), "ivo".into(), 281.0));
    }

    #[test]
    fn a_trial_of_a_study_that_stands_there_twice_is_a_problem() {
        let lines = "A,ivo,1,280\nA,ivo,2,281\n";
        let mut problems = Vec::new();
        let text = format!("part,operator,trial,mass (g)\n{lines}{lines}A,ivo,,282\nA,ivo,,282\n");
        read_study(
            &Source::new("s.csv", text),
            &testing::lab().protocol,
            &mut problems,
        );
        let places = problems.iter().map(|problem| (problem.code, problem.place));
        let at = |line| Some(crate::diagnostics::Place { line, column: 7 });
        let twice = "duplicate-entry";
        assert!(places.eq([(twice, at(4)), (twice, at(5))]), "{problems:?}");
    }

    #[test]
    fn a_reading_of_a_day_to_come_is_told_of_where_it_stands() {
        let log = "date,mass (g)\n2026-11-30,280\n2026-12-01,280\n2027-12-02,281\n2027-12-03,281\n";
        let root = Root::over(crate::files::Memory::new().with(CONTROL, log));
        let told = |today: &str| check_control(&root, today.parse().unwrap());
        assert_eq!(told("2027-12-03"), []);
        let problems = told("2026-12-01");
        assert_eq!(problems.len(), 1, "one tells of all");
        let problem = &problems[0];
        assert!(!problem.is_error() && problem.message.contains("2027-12-02"));
        assert_eq!(problem.place.map(|place| place.line), Some(4));
    }
}
