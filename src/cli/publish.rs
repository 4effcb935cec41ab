//! `publish`: brings `out/` up to date.

mod stock;

use super::desk::{Answers, ToolError};
use super::seal::forgotten;
use super::{Desk, Exit};
use crate::diagnostics::Problem;
use crate::edition::{Edition, Scope};
use crate::files::{Date, Root};
use crate::gather::{
    Ear, Gathered, Reading, Step, check_control, gather_as, missing_editions, program_files,
    read_stock, read_templates,
};
use crate::measure::drawn::Drawn;
use crate::outputs::{self, Make, Sheet, Surroundings};
use crate::press::{
    self, Bars, Bindery, Inputs, Interrupt, Job, Look, Only, Options, Phase, Progress, Report,
    Silent, Stopped, Typesetter,
};
use crate::programs::{self, MadeFile, Outside};
use anyhow::Context as _;
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

/// Bring out/ up to date: only what readers would see differently is made again,
/// and nothing is written if an input has a problem. With `--format json` the report's
/// `problems` are the warnings, in the form of `proof`; it has none where nothing
/// changed, since then nothing is read.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The edition's date; today without it
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// Show drafts and held shoes too; every page and every print says so
    #[arg(long)]
    drafts: bool,
    /// Make only these: a shoe's address, a week such as 2026-w48, or a path in
    /// out/; `*` stands for any characters
    #[arg(long, value_name = "GLOB")]
    only: Option<String>,
    /// Whether to make PDFs
    #[arg(long, value_enum, default_value_t = Pdf::Auto)]
    pdf: Pdf,
    /// Say for each file why it was made again
    #[arg(long)]
    why: bool,
    /// Make all files again
    #[arg(long)]
    fresh: bool,
    /// Limit the fit guide to a shop's stock: a list of shoes, CSV or plain text, or
    /// the name of one in lab/shops/
    #[arg(long, value_name = "FILE")]
    stock: Option<PathBuf>,
}

impl Arguments {
    /// Whether any of them differs from what holds without it.
    pub fn are_given(&self) -> bool {
        let Arguments {
            as_of,
            drafts,
            only,
            pdf,
            why,
            fresh,
            stock,
        } = self;
        let switched = *drafts || *why || *fresh || *pdf != Pdf::Auto;
        switched || as_of.is_some() || only.is_some() || stock.is_some()
    }
}

/// Whether PDFs are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Pdf {
    /// If Typst is installed
    Auto,
    /// Not at all
    Never,
    /// Or nothing is published
    Require,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let folder = root
        .path()
        .context("publish needs a folder on the disk")?
        .to_owned();
    let out = folder.join("out");
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let typesetter = typesetter(desk, arguments.pdf)?;
    let program = press::program().context("can't read the program itself")?;
    let inputs = Inputs {
        root: &folder,
        folders: &["lab", "shoes", "templates"],
        without: &[crate::serve::bench::JOURNAL],
        also: arguments
            .stock
            .iter()
            .map(|path| stock::place(&root, path))
            .chain(program_files(&root))
            .collect(),
        settings: settings(
            arguments,
            as_of,
            &program,
            typesetter.as_ref(),
            desk.common.allow_programs,
        ),
    };
    let stamp = match press::look(&inputs, &out)? {
        Look::Unchanged { sheets, .. } if !arguments.fresh && arguments.only.is_none() => {
            return Ok(nothing_to_do(desk, sheets));
        }
        Look::Unchanged { .. } => None,
        Look::Changed { stamp, .. } => Some(stamp),
    };

    let started = Instant::now();
    let stock = arguments
        .stock
        .as_deref()
        .map(|path| stock::read(&root, path));
    let progress: Arc<dyn Progress + Send> = if desk.common.quiet || desk.json() {
        Arc::new(Silent)
    } else {
        Arc::new(Bars::new())
    };
    let mut outside = desk.outside(&root, Answers::Keep);
    let drawn = Arc::new(match arguments.fresh {
        true => Drawn::default(),
        false => press::remembered(&out, &program),
    });
    // A program that runs must end with us; without one, reading stops by itself.
    let interrupt = match outside.allowed {
        true => Some(interrupt()?),
        false => None,
    };
    if let Some(interrupt) = &interrupt {
        outside.stop = interrupt.flag();
    }
    let reading = Reading {
        as_of: Some(as_of),
        outside: outside.clone(),
        drawn: Arc::clone(&drawn),
        ear: ear(&progress),
        ..Reading::default()
    };
    let gathered = gather_as(&root, &reading);
    progress.end(Phase::Judging);
    if interrupt.as_ref().is_some_and(Interrupt::is_raised) {
        return Ok(interrupted(desk));
    }
    let gathered = match gathered {
        Ok(gathered) => gathered,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let mut problems = gathered.problems(as_of);
    problems.extend(forgotten(&root, &gathered.ledger));
    problems.extend(missing_editions(&gathered.ledger, &gathered.frozen));
    problems.extend(check_control(&root, Desk::today()));
    if problems.iter().any(Problem::is_error) {
        desk.show_problems(&root, problems);
        return Ok(Exit::Problems);
    }
    let mut bindery = match read_templates(&root).and_then(|own| Bindery::new(own, typesetter)) {
        Ok(bindery) => bindery,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    bindery.keep_editions(&root, &gathered.frozen);
    bindery.speak(&gathered.lab);
    let stock = stock.transpose()?;
    let reading = started.elapsed();
    if !problems.is_empty() && !desk.json() {
        desk.show_problems(&root, problems.clone());
    }
    let run = Run {
        desk,
        arguments,
        out: &out,
        bindery: &bindery,
        program,
        as_of,
        root: &root,
        outside,
        progress: &*progress,
        interrupt,
    };
    let mut report = match run.publish(gathered, stock, stamp, &mut problems)? {
        Ok(report) => report,
        Err(Stopped::Problems(problems)) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
        Err(Stopped::Interrupted) => return Ok(interrupted(desk)),
        Err(stopped) => return Err(stopped.into()),
    };
    report.spent(Phase::Reading, reading);
    if let Err(trouble) = press::remember(&out, &run.program, &drawn) {
        desk.say(format_args!(
            "{trouble}; the next run takes a little longer"
        ));
    }
    if desk.json() {
        tell_programs(desk, &root, &report, problems)?;
    } else {
        tell(desk, &report, arguments, &out);
    }
    Ok(if report.is_whole() {
        Exit::Done
    } else {
        Exit::Tool
    })
}

/// Says that somebody wanted to stop.
fn interrupted(desk: &Desk) -> Exit {
    let stopped = Stopped::Interrupted;
    if desk.json() {
        let error = serde_json::json!({"error": [stopped.to_string()]});
        desk.print(&format!("{error}\n"));
    } else {
        desk.say(&stopped);
    }
    Exit::Interrupted
}

/// Shows how far gathering is.
fn ear(progress: &Arc<dyn Progress + Send>) -> Ear {
    let progress = Arc::clone(progress);
    Ear::new(move |step| match step {
        Step::Reading(shoes) => progress.begin(Phase::Reading, shoes as u64),
        Step::Read => progress.advance(Phase::Reading, 1),
        Step::Judging(shoes) => progress.begin(Phase::Judging, shoes as u64),
        Step::Judged => progress.advance(Phase::Judging, 1),
    })
}

fn interrupt() -> anyhow::Result<Interrupt> {
    Interrupt::on_signal().context("can't listen for Ctrl-C")
}

pub(super) fn typesetter(desk: &Desk, pdf: Pdf) -> anyhow::Result<Option<Typesetter>> {
    if pdf == Pdf::Never {
        // Not asked for: not even its version.
        return Ok(None);
    }
    match Typesetter::find() {
        Ok(found) => Ok(Some(found)),
        Err(missing) if pdf == Pdf::Require => Err(ToolError(missing.to_string()).into()),
        Err(missing) => {
            desk.say(format_args!("no PDFs are made: {missing}"));
            Ok(None)
        }
    }
}

/// Everything but files that shapes an edition.
fn settings(
    arguments: &Arguments,
    as_of: Date,
    program: &str,
    typesetter: Option<&Typesetter>,
    allow_programs: bool,
) -> String {
    format!(
        "{program}; as of {as_of}; drafts {}; stock {:?}; programs {allow_programs}; typst {}",
        arguments.drafts,
        arguments.stock,
        typesetter.map_or("none", Typesetter::version),
    )
}

fn nothing_to_do(desk: &Desk, sheets: usize) -> Exit {
    if desk.json() {
        let report = Report {
            unchanged: sheets,
            ..Report::default()
        };
        desk.print(&format!("{}\n", serde_json::json!(report)));
    } else {
        desk.say(format_args!(
            "nothing changed: {sheets} files are up to date"
        ));
    }
    Exit::Done
}

struct Run<'r> {
    desk: &'r Desk,
    arguments: &'r Arguments,
    out: &'r Path,
    bindery: &'r Bindery,
    program: String,
    as_of: Date,
    root: &'r Root,
    outside: Outside,
    progress: &'r (dyn Progress + Send),
    interrupt: Option<Interrupt>,
}

impl Run<'_> {
    fn publish(
        &self,
        gathered: Gathered,
        stock: Option<(String, String)>,
        stamp: Option<press::InputsStamp>,
        warnings: &mut Vec<Problem>,
    ) -> anyhow::Result<Result<Report, Stopped>> {
        let scope = if self.arguments.drafts {
            Scope::WithDrafts
        } else {
            Scope::Published
        };
        let (assembled, ledger, _) = gathered.edition(self.as_of, scope);
        let edition = &assembled.edition;
        self.remind_of_seal(edition, &ledger);
        let surroundings = Surroundings {
            prints: self.bindery.typesetter.is_some(),
            stock: stock.map(|(name, text)| read_stock(&name, &text, edition)),
            statics: self.bindery.statics(),
            pages: self.bindery.pages.own().to_vec(),
            ..Surroundings::default()
        }
        .in_tongues(edition.lab.tongues.len());
        let (mut sheets, missing) = plan(edition, &surroundings);
        let made = match self.programs(edition, &surroundings, &sheets, warnings) {
            Ok(made) => made,
            Err(problems) => return Ok(Err(Stopped::Problems(problems))),
        };
        sheets.extend(programs::sheets(&made));
        if self.arguments.pdf == Pdf::Auto {
            self.name_missing(&missing);
        }
        let job = Job {
            out: self.out,
            sheets,
            renderer: self.bindery,
            program: self.program.clone(),
            inputs: stamp,
            keep: Vec::new(),
            missing_prints: missing.len(),
            held_back: assembled.held.len(),
            options: Options {
                fresh: self.arguments.fresh,
                only: self.arguments.only.clone().map(Only::new),
                why: self.arguments.why,
            },
            progress: self.progress,
            interrupt: match &self.interrupt {
                Some(interrupt) => interrupt.clone(),
                None => interrupt()?,
            },
        };
        Ok(press::publish(&job))
    }

    /// The files of the lab's own outputs; what is not in order with them is added to
    /// the warnings.
    fn programs(
        &self,
        edition: &Edition,
        surroundings: &Surroundings,
        sheets: &[Sheet<'_>],
        warnings: &mut Vec<Problem>,
    ) -> Result<Vec<MadeFile>, Vec<Problem>> {
        let mut problems = Vec::new();
        let made = programs::make_all(
            self.root,
            edition,
            surroundings,
            sheets,
            &self.outside,
            &mut problems,
        );
        if problems.iter().any(Problem::is_error) {
            return Err(problems);
        }
        if !problems.is_empty() && !self.desk.json() {
            self.desk.show_problems(self.root, problems.clone());
        }
        warnings.extend(problems);
        Ok(made)
    }

    /// A past edition made under a rule set that came later is not what came out then.
    fn mind_the_rules(&self, edition: &Edition) {
        let rules = &edition.rules;
        if rules.effective > self.as_of {
            self.desk.say(format_args!(
                "version {} of the rule set holds from {}, after {}; keep the earlier one as {}/rules-{}.yaml to make that edition as it was",
                rules.version,
                rules.effective,
                self.as_of,
                crate::gather::EARLIER,
                rules.version.saturating_sub(1),
            ));
        }
    }

    /// Says which PDFs are missing. What brings them was said when Typst was looked for.
    fn name_missing(&self, missing: &[String]) {
        if missing.is_empty() {
            return;
        }
        let shown = if self.desk.common.verbose {
            missing.len()
        } else {
            3
        };
        let named: Vec<&str> = missing.iter().take(shown).map(String::as_str).collect();
        let more = match missing.len().saturating_sub(shown) {
            0 => String::new(),
            more => format!(" and {more} more (-v names them all)"),
        };
        self.desk.say(format_args!(
            "{} PDFs are missing: {}{more}",
            missing.len(),
            named.join(", "),
        ));
    }

    fn remind_of_seal(&self, edition: &Edition, ledger: &crate::edition::Ledger) {
        // A lab that never sealed has not begun to keep a ledger.
        if ledger.entries().is_empty() {
            return;
        }
        // The edition of a day before the last seal can't be sealed any more.
        if ledger.sealed_last().is_some_and(|last| self.as_of < last) {
            self.mind_the_rules(edition);
            return;
        }
        let changed: Vec<_> = ledger
            .unsealed(edition)
            .into_iter()
            .filter_map(|unsealed| Some((unsealed.slug, unsealed.changes?)))
            .collect();
        if changed.is_empty() {
            return;
        }
        self.desk.say(format_args!(
            "{} published before differ from what was sealed; note why with `solefolio seal --because TEXT`:",
            match changed.len() {
                1 => "1 shoe".to_owned(),
                many => format!("{many} shoes"),
            }
        ));
        for (slug, changes) in changed.iter().take(5) {
            self.desk
                .say(format_args!("  {slug}: {}", changes.join("; ")));
        }
        if changed.len() > 5 {
            self.desk
                .say(format_args!("  and {} more", changed.len() - 5));
        }
    }
}

/// All sheets of the edition, and the prints left out of them. Without a
/// typesetter no page links to a print, and those of an earlier run are removed:
/// they would be of another edition than their pages.
pub(super) fn plan<'e>(
    edition: &'e Edition,
    surroundings: &'e Surroundings,
) -> (Vec<Sheet<'e>>, Vec<String>) {
    if surroundings.prints {
        return (outputs::plan(edition, surroundings), Vec::new());
    }
    let with_prints = surroundings.clone().with_prints();
    let missing = outputs::plan(edition, &with_prints)
        .iter()
        .filter(|sheet| matches!(sheet.make, Make::Print { .. }))
        .map(|sheet| sheet.path.to_string())
        .collect();
    let mut sheets = outputs::plan(edition, surroundings);
    sheets.retain(|sheet| !matches!(sheet.make, Make::Print { .. }));
    (sheets, missing)
}

/// The report for people.
fn tell(desk: &Desk, report: &Report, arguments: &Arguments, out: &Path) {
    if arguments.why {
        let why: String = report.why.iter().map(|why| format!("{why}\n")).collect();
        desk.print(&why);
    }
    desk.say(report.to_string().trim_end());
    desk.say(format_args!("open {}", out.join("index.html").display()));
}

/// The report for programs, with the warnings.
fn tell_programs(
    desk: &Desk,
    root: &Root,
    report: &Report,
    problems: Vec<Problem>,
) -> anyhow::Result<()> {
    let mut told = serde_json::to_value(report)?;
    told["problems"] = desk.problems_value(root, problems);
    desk.print_value(&told);
    Ok(())
}
