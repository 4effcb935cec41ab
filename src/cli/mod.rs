//! The command line: one file a command; they parse and glue.
//!
//! The only room that knows the clock, the terminal and exit codes. A command
//! takes its arguments and a [`Desk`], and comes back with an [`Exit`]; what
//! goes wrong on the way is an `anyhow` error with its context, and which exit
//! code it means is decided here.

mod begin;
mod bench;
mod complete;
mod desk;
mod drift;
mod explain;
mod intake;
mod preview;
mod proof;
mod publish;
mod record;
mod ripple;
pub mod schema;
mod seal;
mod sheet;
mod trace;
mod translate;

pub use desk::{Desk, Exit};
pub use intake::{Taken, read_sheet};

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From raw bench readings of athletic shoes to a checked, published folio.
///
/// One YAML file of raw readings a shoe goes in (`shoes/`); checked readings,
/// findings with uncertainty, review pages, PDFs, a comparison, a fit guide and
/// open data come out (`out/`). Without a command, `publish` is run.
#[derive(Debug, Parser)]
#[command(name = "solefolio", version, max_term_width = 100)]
#[command(
    after_help = "Exit codes: 0 done; 1 the inputs have problems (nothing was written, but for \
the rows that `intake --apply` could take); 2 the command line is wrong; 3 an outside tool failed; \
4 reading or writing failed; 130 stopped by Ctrl-C before anything was written."
)]
struct Cli {
    #[command(flatten)]
    common: Common,
    #[command(subcommand)]
    command: Option<Command>,
    #[command(flatten)]
    publish: publish::Arguments,
}

/// What every command takes.
#[derive(Clone, Debug, Args)]
pub struct Common {
    /// The folder with lab/, shoes/, templates/ and out/
    #[arg(long, global = true, value_name = "DIR", default_value = ".")]
    pub root: PathBuf,
    /// How results are written
    #[arg(long, global = true, value_enum, default_value_t = Format::Human)]
    pub format: Format,
    /// When to colour
    #[arg(long, global = true, value_enum, default_value_t = Color::Auto)]
    pub color: Color,
    /// Run the outside programs that lab/lab.yaml names; they run with your rights
    #[arg(long, global = true)]
    pub allow_programs: bool,
    /// Say less: nothing but problems
    #[arg(short, long, global = true, conflicts_with = "verbose")]
    pub quiet: bool,
    /// Say more
    #[arg(short, long, global = true)]
    pub verbose: bool,
}

/// How results are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Human,
    /// For programs
    Json,
}

/// When to colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Bring out/ up to date (the default)
    Publish(publish::Arguments),
    /// Check everything and write nothing
    Proof(proof::Arguments),
    /// Say what a problem's code means and how it is mended
    Explain(explain::Arguments),
    /// Show the way from a shoe's readings to its findings
    Trace(trace::Arguments),
    /// Draw the control shoe's charts, and work out the gauge study
    Drift(drift::Arguments),
    /// Show what another rule set or protocol would change, before anything does
    Ripple(ripple::Arguments),
    /// Record in the ledger what is published, and why it changed
    Seal(seal::Arguments),
    /// Type readings in at a local page and see at once where they fall
    Bench(bench::Arguments),
    /// Add readings to a shoe's file
    Record(record::Arguments),
    /// Take readings from a spreadsheet
    Intake(intake::Arguments),
    /// Show the folio on this machine, made again as files change
    Preview(preview::Arguments),
    /// Print blank bench sheets
    Sheet(sheet::Arguments),
    /// Lay a new lab with the demo's files
    Begin(begin::Arguments),
    /// Print what there is to translate into a language, ready to be filled in
    Translate(translate::Arguments),
    /// Print the JSON Schema of a file, a view, or a program's lines
    Schema(schema::Arguments),
    /// Print completions for a shell
    Complete(complete::Shell),
    /// Write the manual's pages into a folder
    Manual(complete::Manual),
}

/// The command line as it is declared, for completions, manual and reference.
pub fn command() -> clap::Command {
    <Cli as clap::CommandFactory>::command()
}

/// Runs the command line and says how it ended.
pub fn run() -> Exit {
    let cli = match Cli::try_parse().and_then(Cli::checked) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version are no mistakes; clap knows which stream each belongs on.
            let _ = error.print();
            return if error.use_stderr() {
                Exit::Usage
            } else {
                Exit::Done
            };
        }
    };
    let desk = Desk::new(cli.common);
    let result = match cli.command {
        None => publish::run(&desk, &cli.publish),
        Some(Command::Publish(arguments)) => publish::run(&desk, &arguments),
        Some(Command::Proof(arguments)) => proof::run(&desk, &arguments),
        Some(Command::Explain(arguments)) => explain::run(&desk, &arguments),
        Some(Command::Trace(arguments)) => trace::run(&desk, &arguments),
        Some(Command::Drift(arguments)) => drift::run(&desk, &arguments),
        Some(Command::Ripple(arguments)) => ripple::run(&desk, &arguments),
        Some(Command::Seal(arguments)) => seal::run(&desk, &arguments),
        Some(Command::Bench(arguments)) => bench::run(&desk, &arguments),
        Some(Command::Record(arguments)) => record::run(&desk, &arguments),
        Some(Command::Intake(arguments)) => intake::run(&desk, &arguments),
        Some(Command::Preview(arguments)) => preview::run(&desk, &arguments),
        Some(Command::Sheet(arguments)) => sheet::run(&desk, &arguments),
        Some(Command::Begin(arguments)) => begin::run(&desk, &arguments),
        Some(Command::Translate(arguments)) => translate::run(&desk, &arguments),
        Some(Command::Schema(arguments)) => schema::run(&desk, arguments),
        Some(Command::Complete(arguments)) => Ok(complete::shell(&desk, &arguments)),
        Some(Command::Manual(arguments)) => complete::manual(&desk, &arguments),
    };
    desk.end(result.unwrap_or_else(|error| desk.failed(&error)))
}

impl Cli {
    /// Options of `publish` stand alone or behind its name: before another command
    /// they would count for nothing.
    fn checked(self) -> Result<Cli, clap::Error> {
        if self.command.is_some() && self.publish.are_given() {
            return Err(command().error(
                clap::error::ErrorKind::ArgumentConflict,
                "an option stands before the command and would count for nothing; write it behind the command",
            ));
        }
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(line: &str) -> Result<Cli, clap::Error> {
        Cli::try_parse_from(line.split(' ')).and_then(Cli::checked)
    }

    fn are_taken(lines: &[&str]) {
        for line in lines {
            assert!(parse(line).is_ok(), "{line}");
        }
    }

    fn are_refused(lines: &[&str]) {
        for line in lines {
            let error = parse(line).expect_err(line);
            assert_eq!(error.exit_code(), 2, "{line}");
        }
    }

    #[test]
    fn an_option_of_publish_before_another_command_is_refused() {
        are_taken(&[
            "solefolio --as-of 2026-11-26 --root lab",
            "solefolio --root lab -q proof --as-of 2026-11-26",
            "solefolio publish --pdf never",
        ]);
        are_refused(&[
            "solefolio --as-of 2026-11-26 proof",
            "solefolio --as-of 2026-11-26 seal --because x",
            "solefolio --pdf never publish",
        ]);
    }

    #[test]
    fn pdfs_count_for_nothing_in_a_sweep_or_against_the_ledger() {
        are_taken(&[
            "solefolio ripple --sweep torsion.points[3] 40..50",
            "solefolio ripple --since-sealed",
            "solefolio ripple --set torsion.points[3]=[47,60] --pdf never",
        ]);
        are_refused(&[
            "solefolio ripple --sweep torsion.points[3] 40..50 --pdf never",
            "solefolio ripple --since-sealed --pdf require",
        ]);
    }
}
