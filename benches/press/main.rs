//! How fast and how small a publish is, each figure a ratio against a known
//! program on the same files in the same run:
//! `cargo bench --bench press -- [--shoes N] [--runs N] [--dir DIR] [--large]`.
//!
//! What is measured, after what came out was checked:
//!
//! - a fresh publish of HTML and data against `cp -r` of the finished folder;
//! - a run with nothing changed against `git status` on the same tree;
//! - one shoe edited, its text and a reading, against a run with nothing changed;
//! - one threshold moved against a fresh publish;
//! - peak memory; with `--large` time and memory at five and ten times the shoes.
//!
//! The two sides of a ratio take turns, and a figure is the median of its runs.
//! Everything lies in one folder, `/dev/shm` unless `--dir` names another, so that
//! the disk's mood is no part of a figure; on a disk the publish alone also
//! waits until all is on it. `git`, `cp` and `/usr/bin/time` must be there.
//!
//! Prints are measured by `cargo test --release --test print -- --ignored`.

#[expect(dead_code, reason = "its `main` and arguments are the example's own")]
#[path = "../../examples/synthesise/main.rs"]
mod synthesise;

mod lab;
mod measure;

use clap::Parser;
use lab::Lab;
use measure::{Figure, median, ratio};
use std::path::PathBuf;

#[derive(Parser)]
struct Arguments {
    /// How many shoes
    #[arg(long, default_value_t = 10_000)]
    shoes: u32,
    /// How often each is run; the median counts
    #[arg(long, default_value_t = 5)]
    runs: usize,
    /// Where the lab is made
    #[arg(long, default_value = "/dev/shm")]
    dir: PathBuf,
    /// The program to measure, instead of the one that was built with this
    #[arg(long, default_value = env!("CARGO_BIN_EXE_solefolio"))]
    program: PathBuf,
    /// Five and ten times the shoes too
    #[arg(long)]
    large: bool,
    /// `cargo bench` says this to every benchmark
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    println!(
        "{} shoes in {}, medians of {} runs",
        arguments.shoes,
        arguments.dir.display(),
        arguments.runs
    );
    let lab = Lab::make(&arguments.dir, arguments.shoes, &arguments.program)?;
    fresh(&lab, arguments.runs)?;
    unchanged(&lab, arguments.runs)?;
    edits(&lab, arguments.runs)?;
    threshold(&lab, arguments.runs)?;
    drop(lab);
    if arguments.large {
        large(&arguments)?;
    }
    Ok(())
}

/// A first publish, against copying what it makes.
fn fresh(lab: &Lab, runs: usize) -> anyhow::Result<()> {
    let (mut ours, mut copies, mut most) = (Vec::new(), Vec::new(), 0);
    let mut first = None;
    for _ in 0..runs {
        lab.clear()?;
        let published = lab.publish()?;
        let manifest = lab.check_folio()?;
        // The same in, the same out.
        assert!(*first.get_or_insert_with(|| manifest.clone()) == manifest);
        copies.push(lab.copy()?);
        ours.push(published.seconds);
        most = most.max(published.kilobytes);
    }
    let (files, bytes) = lab.folio_size()?;
    println!("folio: {files} files, {} MB", bytes / 1_000_000);
    println!("peak memory, fresh: {} MB", most / 1000);
    ratio("fresh publish / cp -r", &ours, &copies, 3.0);
    Ok(())
}

/// Nothing changed, against what git needs to see that.
fn unchanged(lab: &Lab, runs: usize) -> anyhow::Result<()> {
    lab.keep_in_git()?;
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    // Once each before it counts: both refresh what they remember of the files.
    lab.git_status()?;
    lab.publish()?.expect_unchanged();
    for _ in 0..runs.max(9) {
        let published = lab.publish()?;
        published.expect_unchanged();
        ours.push(published.seconds);
        theirs.push(lab.git_status()?);
    }
    ratio("no change / git status", &ours, &theirs, 1.0);
    Ok(())
}

/// One shoe's file edited, against a run with nothing changed.
fn edits(lab: &Lab, runs: usize) -> anyhow::Result<()> {
    for edit in [lab::Edit::Review, lab::Edit::Summary, lab::Edit::Reading] {
        let (mut ours, mut idle) = (Vec::new(), Vec::new());
        let (mut made, mut memory) = (Vec::new(), 0);
        for run in 0..runs {
            lab.edit(edit, run)?;
            let published = lab.publish()?;
            assert!(published.made() > 0, "{edit:?} is seen");
            made.push(published.made());
            memory = memory.max(published.kilobytes);
            ours.push(published.seconds);
            let published = lab.publish()?;
            published.expect_unchanged();
            idle.push(published.seconds);
        }
        let name = format!("{} edited / no change", edit.name());
        ratio(&name, &ours, &idle, 3.0);
        println!("  files made: {made:?}; peak memory {} MB", memory / 1000);
    }
    lab.check_incremental()
}

/// A threshold moved, against publishing afresh.
fn threshold(lab: &Lab, runs: usize) -> anyhow::Result<()> {
    let (mut ours, mut fresh, mut made) = (Vec::new(), Vec::new(), Vec::new());
    for run in 0..runs {
        lab.move_threshold(run)?;
        let published = lab.publish()?;
        made.push(published.made());
        ours.push(published.seconds);
        lab.clear()?;
        fresh.push(lab.publish()?.seconds);
    }
    ratio("threshold moved / fresh", &ours, &fresh, 1.0);
    println!("  files made: {made:?}");
    Ok(())
}

/// Whether time and memory grow in a straight line.
fn large(arguments: &Arguments) -> anyhow::Result<()> {
    let mut first: Option<Figure> = None;
    for times in [1, 5, 10] {
        let lab = Lab::make(&arguments.dir, arguments.shoes * times, &arguments.program)?;
        let published = lab.publish()?;
        lab.check_folio()?;
        let idle: Vec<f64> = (0..3)
            .map(|_| lab.publish().map(|run| run.seconds))
            .collect::<Result<_, _>>()?;
        println!(
            "{:>7} shoes: {:.1} s, peak {} MB; no change {:.2} s",
            arguments.shoes * times,
            published.seconds,
            published.kilobytes / 1000,
            median(&idle),
        );
        let base = *first.get_or_insert(Figure {
            seconds: published.seconds,
            kilobytes: published.kilobytes,
        });
        println!(
            "         {:.2} of {times} times the time, {:.2} of {times} times the memory",
            published.seconds / (base.seconds * f64::from(times)),
            published.kilobytes as f64 / (base.kilobytes * u64::from(times)) as f64,
        );
    }
    Ok(())
}
