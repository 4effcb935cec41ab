//! `ripple`: what another rule set or protocol would change, before anything does.
//!
//! Both editions are put together as a publish would, from the same readings, and
//! compared as a reader sees them. Nothing is written but the page asked for with
//! `--html`.

mod alter;
mod html;
mod sheets;
mod sweep;
mod text;

use super::desk::{Answers, UsageError};
use super::publish::{self, Pdf};
use super::{Desk, Exit};
use crate::diagnostics::Problem;
use crate::edition::{Edition, Ledger, Ripple, Scope};
use crate::files::{Date, Files, Listed, Refused, RelPath, Root, Source};
use crate::gather::{Gathered, LabFiles, Reading, gather_as, read_templates};
use crate::lab::{PROTOCOL, RULES};
use crate::outputs::Surroundings;
use crate::press::Bindery;
use alter::{Alterable, Setting, ValuePath};
use anyhow::Context as _;
use clap::Args;
use serde::Serialize;
use sheets::Sheets;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use sweep::{Range, Sweep};

/// Show what another rule set or protocol would change: per finding, per shoe, and
/// which pages and PDFs would be made again. Changes nothing.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("what").required(true).multiple(true))]
pub struct Arguments {
    /// Another rule set
    #[arg(
        long,
        value_name = "FILE",
        group = "what",
        conflicts_with = "since_sealed"
    )]
    rules: Option<PathBuf>,
    /// Another protocol
    #[arg(
        long,
        value_name = "FILE",
        group = "what",
        conflicts_with = "since_sealed"
    )]
    protocol: Option<PathBuf>,
    /// What has changed since it was last sealed
    #[arg(long, group = "what")]
    since_sealed: bool,
    /// Try a value of the rule set, such as `torsion.points[3]=[47,60]`; may be repeated
    #[arg(
        long,
        value_name = "PATH=VALUE",
        group = "what",
        conflicts_with = "since_sealed"
    )]
    set: Vec<Setting>,
    /// Move a number along a range, such as `torsion.points[3] 40..50`; of a point,
    /// its place on the quantity moves
    #[arg(long, num_args = 2, value_names = ["PATH", "A..B"], group = "what", conflicts_with_all = ["since_sealed", "protocol"])]
    sweep: Vec<String>,
    /// How many values of the range are tried
    #[arg(long, value_name = "COUNT", default_value_t = 21, value_parser = clap::value_parser!(u16).range(2..=501), requires = "sweep")]
    steps: u16,
    /// The edition's date; today without it
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// Drafts and held shoes too
    #[arg(long)]
    drafts: bool,
    /// Whether PDFs are among what would be made again
    #[arg(long, value_enum, default_value_t = Pdf::Auto, conflicts_with_all = ["sweep", "since_sealed"])]
    pdf: Pdf,
    /// Write a page to send around: one file that needs no other
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
}

/// What a ripple found, for all its forms.
#[derive(Clone, Debug, Serialize)]
pub struct Forecast {
    /// What was tried, in words.
    pub tried: String,
    /// The laboratory.
    pub lab: String,
    /// Whether drafts and held shoes are among the shoes.
    pub drafts: bool,
    /// What publishing it would ask for first.
    pub notes: Vec<String>,
    /// What would change.
    pub ripple: Ripple,
    /// What would be made again; the ledger keeps findings and no pages, so there is
    /// none for `--since-sealed`.
    pub sheets: Option<Sheets>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let tried = match Tried::read(&root, arguments, as_of) {
        Ok(tried) => tried,
        Err(Failed::Usage(error)) => return Err(error),
        Err(Failed::Problems(problems)) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let present = match desk.gather_as_of(&root, as_of)? {
        Ok(gathered) => gathered,
        Err(exit) => return Ok(exit),
    };
    if !arguments.sweep.is_empty() {
        return tell_sweep(desk, arguments, &tried, present, as_of);
    }
    let forecast = if arguments.since_sealed {
        since_sealed(present, arguments, as_of)?
    } else {
        let reading = Reading {
            as_of: Some(as_of),
            instead: tried.instead.clone(),
            trial: true,
            outside: desk.outside(&root, Answers::Read),
            drawn: Arc::clone(&present.rules.drawn),
            ..Reading::default()
        };
        let other = match gather_as(&root, &reading) {
            Ok(gathered) => gathered,
            Err(problems) => {
                desk.say(format_args!("with {}:", tried.words));
                desk.show_problems(&tried.over(&root), problems);
                return Ok(Exit::Problems);
            }
        };
        compare(desk, arguments, &root, &tried, (present, other), as_of)?
    };
    write_html(arguments, || html::forecast(&forecast))?;
    desk.print(&if desk.json() {
        format!("{}\n", serde_json::to_string_pretty(&forecast)?)
    } else {
        text::forecast(&forecast, desk.common.verbose)
    });
    Ok(Exit::Done)
}

/// What is tried in place of the lab's own files.
struct Tried {
    instead: Vec<Source>,
    words: String,
}

enum Failed {
    Usage(anyhow::Error),
    Problems(Vec<Problem>),
}

impl From<String> for Failed {
    fn from(mistake: String) -> Self {
        Failed::Usage(UsageError(mistake).into())
    }
}

impl Tried {
    fn read(root: &Root, arguments: &Arguments, as_of: Date) -> Result<Tried, Failed> {
        let mut instead = Vec::new();
        let mut words = Vec::new();
        for (path, name) in [(&arguments.rules, RULES), (&arguments.protocol, PROTOCOL)] {
            if let Some(path) = path {
                let text = read(path).map_err(Failed::Usage)?;
                words.push(format!("{} in place of {name}", path.display()));
                instead.push(Source::new(name, text));
            }
        }
        if !arguments.set.is_empty() {
            let mut altered = Alterable::parse(&rules_text(root, &instead, as_of)?)?;
            for setting in &arguments.set {
                altered.set(&setting.path, setting.value.clone())?;
                let value = serde_json::to_string(&setting.value).unwrap_or_default();
                words.push(format!("{} = {value}", setting.path));
            }
            instead.retain(|source| source.file != RULES);
            instead.push(Source::new(RULES, altered.text()));
        }
        Ok(Tried {
            instead,
            words: words.join(", "),
        })
    }

    /// The lab's folder with what is tried in its place, to show where problems are.
    fn over(&self, root: &Root) -> Root {
        Root::over(Overlay {
            root: root.clone(),
            instead: self.instead.clone(),
        })
    }
}

/// The text of the rule set that is tried, or of the one that holds.
fn rules_text(root: &Root, instead: &[Source], as_of: Date) -> Result<String, Failed> {
    let reading = Reading {
        as_of: Some(as_of),
        instead: instead.to_vec(),
        trial: true,
        ..Reading::default()
    };
    let mut problems = Vec::new();
    match LabFiles::read_as(root, &reading, &mut problems) {
        Some(files) => Ok(files.rules.text),
        None => Err(Failed::Problems(problems)),
    }
}

fn read(path: &Path) -> anyhow::Result<String> {
    let size = std::fs::metadata(path)
        .with_context(|| format!("can't read {}", path.display()))?
        .len();
    if size > crate::files::YAML_LIMIT {
        return Err(UsageError(format!("{} is too large", path.display())).into());
    }
    std::fs::read_to_string(path).with_context(|| format!("can't read {}", path.display()))
}

struct Overlay {
    root: Root,
    instead: Vec<Source>,
}

impl Files for Overlay {
    fn list(&self, _: &RelPath) -> Vec<Listed> {
        Vec::new()
    }

    fn read(&self, path: &RelPath, limit: u64) -> Result<Vec<u8>, Refused> {
        match self.instead.iter().find(|one| one.file == path.as_str()) {
            Some(source) => Ok(source.text.clone().into_bytes()),
            None => self
                .root
                .read_bytes(path, limit)
                .map_err(|_| Refused::Missing),
        }
    }
}

fn scope(arguments: &Arguments) -> Scope {
    if arguments.drafts {
        Scope::WithDrafts
    } else {
        Scope::Published
    }
}

fn compare(
    desk: &Desk,
    arguments: &Arguments,
    root: &Root,
    tried: &Tried,
    (present, other): (Gathered, Gathered),
    as_of: Date,
) -> anyhow::Result<Forecast> {
    let mut notes = stopping(&other, as_of);
    let (old, ledger, _) = present.edition(as_of, scope(arguments));
    let (mut new, _, stamps) = other.edition(as_of, scope(arguments));
    for problem in ledger.check_versions(&stamps, (RULES, PROTOCOL)) {
        notes.push(format!(
            "{}; publishing it takes a new version number, which every page shows",
            problem.message
        ));
    }
    let typesetter = publish::typesetter(desk, arguments.pdf)?;
    let prints = typesetter.is_some();
    let own = read_templates(root).map_err(|problems| broken(&problems))?;
    let bindery = Bindery::new(own, typesetter).map_err(|problems| broken(&problems))?;
    let surroundings = Surroundings {
        prints,
        statics: bindery.statics(),
        pages: bindery.pages.own().to_vec(),
        ..Surroundings::default()
    }
    .in_tongues(old.edition.lab.tongues.len());
    let ripple = Ripple::between(&old.edition, &new.edition);
    let sheets = sheets::forecast(&old.edition, &mut new.edition, &surroundings);
    Ok(Forecast {
        tried: tried.words.clone(),
        lab: old.edition.lab.settings.name.clone(),
        drafts: arguments.drafts,
        notes,
        ripple,
        sheets: Some(sheets),
    })
}

fn broken(problems: &[Problem]) -> anyhow::Error {
    let told: Vec<String> = problems
        .iter()
        .map(|problem| format!("{}: {}", problem.file, problem.message))
        .collect();
    anyhow::anyhow!("the lab's own templates can't be used: {}", told.join("; "))
}

/// What would stop a publish: another protocol may put readings out of its limits.
fn stopping(other: &Gathered, as_of: Date) -> Vec<String> {
    let problems = other.problems(as_of);
    let errors = problems.iter().filter(|problem| problem.is_error());
    errors
        .map(|problem| {
            format!(
                "publishing it would stop: {}: {}",
                problem.file, problem.message
            )
        })
        .collect()
}

fn since_sealed(present: Gathered, arguments: &Arguments, as_of: Date) -> anyhow::Result<Forecast> {
    let (assembled, ledger, _) = present.edition(as_of, Scope::Published);
    let edition: &Edition = &assembled.edition;
    let ledger: &Ledger = &ledger;
    if ledger.entries().is_empty() {
        return Err(UsageError(
            "nothing has been sealed yet; `solefolio seal --because TEXT` begins the ledger".into(),
        )
        .into());
    }
    let never = ledger.unsealed(edition);
    let never = never.iter().filter(|one| one.changes.is_none()).count();
    let mut notes = Vec::new();
    if never > 0 {
        notes.push(format!(
            "{never} published shoes were never sealed, and are not compared"
        ));
    }
    if arguments.drafts {
        notes.push("drafts and held shoes are never sealed, and are not compared".into());
    }
    Ok(Forecast {
        tried: "the present files, against what was sealed last".into(),
        lab: edition.lab.settings.name.clone(),
        drafts: false,
        notes,
        ripple: Ripple::since(&ledger.latest(), edition),
        sheets: None,
    })
}

fn tell_sweep(
    desk: &Desk,
    arguments: &Arguments,
    tried: &Tried,
    present: Gathered,
    as_of: Date,
) -> anyhow::Result<Exit> {
    let usage = |mistake: String| anyhow::Error::from(UsageError(mistake));
    let path: ValuePath = arguments.sweep[0].parse().map_err(usage)?;
    let range: Range = arguments.sweep[1].parse().map_err(usage)?;
    let root = desk.root()?;
    let text = match rules_text(&root, &tried.instead, as_of) {
        Ok(text) => text,
        Err(Failed::Usage(error)) => return Err(error),
        Err(Failed::Problems(problems)) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let (assembled, _, _) = present.edition(as_of, scope(arguments));
    let edition = assembled.edition;
    let mut shoes = edition.shoes;
    shoes.retain(|judged| judged.shoe.file.withdrawn.is_none());
    let swept: Sweep = sweep::sweep(
        &text,
        &path,
        range,
        usize::from(arguments.steps),
        &shoes,
        (&edition.lab.protocol, &edition.rules.drawn),
    )
    .map_err(usage)?;
    write_html(arguments, || {
        html::sweep(
            &swept,
            &tried.words,
            &shoes,
            &edition.lab.settings.name,
            arguments.drafts,
        )
    })?;
    desk.print(&if desk.json() {
        format!("{}\n", serde_json::to_string_pretty(&swept)?)
    } else {
        text::sweep(&swept, &tried.words)
    });
    Ok(Exit::Done)
}

fn write_html(arguments: &Arguments, page: impl FnOnce() -> String) -> anyhow::Result<()> {
    match &arguments.html {
        None => Ok(()),
        Some(path) => {
            std::fs::write(path, page()).with_context(|| format!("can't write {}", path.display()))
        }
    }
}
