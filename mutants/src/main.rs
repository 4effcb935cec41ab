//! Mutants of the program, all of them in one build: each place that can be made wrong
//! stands behind a switch read from the environment. How it is used: README.md.

mod edits;
mod judge;
mod tree;
mod values;
mod weave;
#[cfg(test)]
mod weave_tests;

use anyhow::Context;
use clap::{Parser, Subcommand};
use std::path::{Path, PathBuf};

#[derive(Parser)]
#[command(about = "Mutants of the program, all of them in one build")]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Write a copy of the program with the mutants of these rooms in it
    Weave {
        /// Files or folders of src/, such as press or measure/curve.rs
        #[arg(required = true)]
        rooms: Vec<String>,
    },
    /// Run test programs against each mutant that they reach
    Judge(judge::Arguments),
    /// Say what was caught, what lives, and what nothing reached
    Report {
        /// Files or folders of src/; all that were woven without it
        rooms: Vec<String>,
    },
}

/// Where the copy, its list of mutants and their outcomes lie.
fn ground() -> PathBuf {
    project().join("target/mutants")
}

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("it lies in the project")
}

fn main() -> anyhow::Result<()> {
    std::fs::create_dir_all(ground()).context("making target/mutants")?;
    match Cli::parse().command {
        Command::Weave { rooms } => tree::weave_all(project(), &ground(), &rooms),
        Command::Judge(arguments) => judge::run(&ground(), &arguments),
        Command::Report { rooms } => judge::report(&ground(), &rooms),
    }
}
