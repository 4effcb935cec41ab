//! `proof`: checks everything and writes nothing.

use super::{Desk, Exit};
use crate::edition::is_out;
use crate::files::Date;
use clap::Args;

/// Check every file of lab/ and shoes/, work out every finding, and show every
/// problem with its file, line and what to do. Writes nothing.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The edition's date; today without it
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let gathered = match desk.gather_as_of(&root, as_of)? {
        Ok(gathered) => gathered,
        Err(exit) => return Ok(exit),
    };
    let problems = gathered.problems(as_of);
    let errors = problems.iter().any(crate::diagnostics::Problem::is_error);
    let none = problems.is_empty();
    if desk.json() || !none {
        desk.show_problems(&root, problems);
    }
    let shoes = gathered.shoes.len();
    let out = gathered
        .shoes
        .iter()
        .filter(|judged| is_out(judged, as_of))
        .count();
    desk.say(format_args!(
        "checked {shoes} shoes as of {as_of}: {out} out, {} held back{}",
        shoes - out,
        if none { "; no problem" } else { "" }
    ));
    Ok(if errors { Exit::Problems } else { Exit::Done })
}
