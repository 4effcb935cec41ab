//! `seal`: records what is published in the ledger.
//!
//! The ledger is read, judged against and written under one lock, so that two
//! seals at once write one chain. The new ledger is written whole beside the old
//! one and takes its place in one step: stopped at any instant, the file is the
//! old ledger or the new one, never one with half a line.
//!
//! After that the edition's open data are frozen in `lab/editions/`, from where
//! every later publish takes them. Stopped in between, sealing the same day again
//! freezes them.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::diagnostics::text::{is_refused, says_refused};
use crate::diagnostics::{KeyPath, Problem, Severity};
use crate::edition::{
    EDITIONS, Edition, Frozen, FrozenFile, LEDGER, LEDGER_HEAD, Ledger, MANIFEST, Mark, Scope,
    Unsealed, edition_name,
};
use crate::files::{Date, LINE_LIMIT, RelPath, Root, Source};
use crate::gather::Gathered;
use crate::outputs;
use crate::rules::Judged;
use anyhow::Context as _;
use clap::Args;
use serde_json::json;
use std::fs::File;
use std::io::Write as _;
use std::path::Path;

/// Record in the ledger what is published: one line for each shoe whose findings
/// differ from its last line. From then on its page says what changed, when, from
/// which version to which, and why.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Why: one sentence, for readers; it stands on the pages of these shoes
    #[arg(long, value_name = "TEXT")]
    because: String,
    /// The day of the edition that is sealed, today without it; a day to come at most four weeks after the last that is planned
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let because = reason(&arguments.because)?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let root = desk.root()?;
    let lab = root
        .path()
        .context("seal needs a folder on the disk")?
        .join("lab");
    let _lock = lock(&lab)?;
    let gathered = match desk.gather_as_of(&root, as_of)? {
        Ok(gathered) => gathered,
        Err(exit) => return Ok(exit),
    };
    let problems = gathered.problems(as_of);
    if problems.iter().any(Problem::is_error) {
        desk.show_problems(&root, problems);
        return Ok(Exit::Problems);
    }
    near_enough(&gathered, as_of, Desk::today())?;
    goes_forward(&gathered, as_of)?;
    if let Some(mut forgets) = forgotten(&root, &gathered.ledger) {
        // A line sealed upon a ledger that lost its end could never follow it.
        forgets.severity = Severity::Error;
        desk.show_problems(&root, vec![forgets]);
        return Ok(Exit::Problems);
    }
    let (assembled, ledger, stamps) = gathered.edition(as_of, Scope::Published);
    let unsealed = ledger.unsealed(&assembled.edition);
    let lines = ledger.lines_to_seal(&assembled.edition, &stamps, because);
    if !lines.is_empty() {
        append(&lab, &ledger, &lines)?;
    }
    let sealed_now = !lines.is_empty() || ledger.sealed_last() == Some(as_of);
    let frozen = if sealed_now {
        freeze(desk, &root, &lab, as_of, because)?
    } else {
        None
    };
    tell(desk, &unsealed, as_of, frozen.as_deref());
    Ok(Exit::Done)
}

/// Freezes the edition with what was just sealed in it, unless it is frozen
/// already: sealing again after being stopped makes up for what is missing.
fn freeze(
    desk: &Desk,
    root: &Root,
    lab: &Path,
    as_of: Date,
    because: &str,
) -> anyhow::Result<Option<String>> {
    // Read again, because the data tell when a shoe was corrected.
    let gathered = desk
        .gather_as_of(root, as_of)?
        .map_err(|_| {
            anyhow::anyhow!(
                "it is sealed, but the lab's files were changed meanwhile and its data are not frozen; mend that and seal again"
            )
        })?;
    let before = gathered.frozen.clone();
    let (assembled, _, _) = gathered.edition(as_of, Scope::Published);
    let latest = before.iter().rev().find(|frozen| frozen.on == as_of);
    if latest.is_some_and(|latest| same(&assembled.edition, latest)) {
        return Ok(None);
    }
    let nth = 1 + before.iter().filter(|frozen| frozen.on == as_of).count();
    let name = edition_name(as_of, nth);
    let edition = &assembled.edition;
    let files = outputs::freeze(edition, &name);
    let standing = |judged: &&Judged| judged.shoe.file.withdrawn.is_none();
    let frozen = Frozen {
        name: name.clone(),
        on: as_of,
        because: because.to_owned(),
        shoes: edition.shoes.iter().filter(standing).count(),
        protocol_version: edition.lab.protocol.version,
        rules_version: edition.rules.version,
        files: files
            .iter()
            .map(|(name, bytes, sha256)| FrozenFile {
                name: name.clone(),
                bytes: bytes.len() as u64,
                sha256: sha256.clone(),
                blake3: blake3::hash(bytes).to_hex().to_string(),
            })
            .collect(),
    };
    let manifest = (MANIFEST.to_owned(), frozen.write());
    let all = files.into_iter().map(|(name, bytes, _)| (name, bytes));
    lay(lab, &name, all.chain([manifest]))?;
    Ok(Some(name))
}

/// Whether an edition's data are those that were frozen under a name.
fn same(edition: &Edition, frozen: &Frozen) -> bool {
    let now = outputs::freeze(edition, &frozen.name);
    now.len() == frozen.files.len()
        && now
            .iter()
            .zip(&frozen.files)
            .all(|((name, _, sha256), file)| *name == file.name && *sha256 == file.sha256)
}

/// Lays a folder of files down in one step.
fn lay(
    lab: &Path,
    name: &str,
    files: impl Iterator<Item = (String, Vec<u8>)>,
) -> anyhow::Result<()> {
    let editions = lab.join(self::name(EDITIONS));
    let (new, folder) = (editions.join(format!(".{name}.new")), editions.join(name));
    let write = || -> std::io::Result<()> {
        std::fs::create_dir_all(&editions)?;
        // Version control that turns line ends about would break the sums.
        let attributes = editions.join(".gitattributes");
        if !attributes.exists() {
            std::fs::write(attributes, "* -text\n")?;
        }
        // What a seal that was stopped left behind.
        if new.exists() {
            std::fs::remove_dir_all(&new)?;
        }
        std::fs::create_dir(&new)?;
        for (name, bytes) in files {
            let mut file = File::create(new.join(name))?;
            file.write_all(&bytes)?;
            file.sync_all()?;
        }
        std::fs::rename(&new, &folder)?;
        File::open(&editions)?.sync_all()
    };
    write().with_context(|| {
        format!(
            "it is sealed, but its data can't be frozen in {}; mend that and seal again",
            folder.display()
        )
    })
}

/// Where the folio tells how far the ledger had come.
const DESCRIPTOR: &str = "out/data/datapackage.json";
/// More than any descriptor has, in bytes.
const DESCRIPTOR_LIMIT: u64 = 4 * 1024 * 1024;

/// That the folio was published with a ledger that went further than this one: what
/// neither file of the ledger can tell once both are gone or cut back together.
/// Nothing can be told where there is no folio, or another's.
pub(super) fn forgotten(root: &Root, ledger: &Ledger) -> Option<Problem> {
    let path: RelPath = DESCRIPTOR.parse().ok()?;
    if !root.holds(&path) {
        return None;
    }
    let source = root.read_text(&path, DESCRIPTOR_LIMIT).ok()?;
    let told: serde_json::Value = serde_json::from_str(&source.text).ok()?;
    let mark: Mark = serde_json::from_value(told.get("ledger")?.clone()).ok()?;
    (!ledger.holds(&mark)).then(|| {
        Problem::warning(
            "ledger-forgets",
            LEDGER,
            KeyPath::root(),
            format!(
                "the folio in out/ was published when the ledger had {} lines; this one has {}{}",
                mark.lines,
                ledger.entries().len(),
                if ledger.entries().len() < mark.lines { "" } else { ", and another there" }
            ),
        )
        .hint("bring lab/ledger.jsonl and lab/ledger.head back from version control; if out/ is another lab's folio, publish elsewhere")
    })
}

/// The reason, if it is one sentence a page can show.
fn reason(text: &str) -> anyhow::Result<&str> {
    let text = text.trim();
    let mistake = if text.is_empty() {
        "the reason is empty; say in a sentence why these findings are published as they are"
            .to_owned()
    } else if text.chars().any(char::is_control) {
        "the reason has more than one line; readers see it as one sentence".to_owned()
    } else if let Some(c) = text.chars().find(|c| is_refused(*c)) {
        says_refused(c)
    } else if text.chars().count() > LINE_LIMIT {
        format!(
            "the reason is longer than {LINE_LIMIT} characters; say it shorter, and the rest in the review"
        )
    } else {
        return Ok(text);
    };
    Err(UsageError(mistake).into())
}

/// How many days behind the last thing planned a day to come may be sealed.
const AHEAD: i32 = 28;

/// A day far ahead can't be sealed: it would be the ledger's last, and every day before
/// it refused for ever, which one slip in the year is enough for.
fn near_enough(gathered: &Gathered, as_of: Date, today: Date) -> anyhow::Result<()> {
    let planned = gathered
        .shoes
        .iter()
        .filter_map(|judged| judged.shoe.file.publish)
        .chain(gathered.ledger.sealed_last())
        .max();
    if is_near(as_of, today, planned) {
        return Ok(());
    }
    Err(UsageError(format!(
        "{as_of} is still to come (today is {today}), and nothing is planned for that time; once it were sealed, no day before it could be. Give a day that has come with --as-of"
    ))
    .into())
}

/// Whether a day has come, or lies before the last publish or sealed day or at most
/// [`AHEAD`] days behind it: an edition may be sealed ahead, and the laboratory's own days
/// say more than a clock that is wrong.
fn is_near(as_of: Date, today: Date, planned: Option<Date>) -> bool {
    let behind = |day: Date| (as_of.civil() - day.civil()).get_days();
    as_of <= today || planned.is_some_and(|day| behind(day) <= AHEAD)
}

fn goes_forward(gathered: &Gathered, as_of: Date) -> anyhow::Result<()> {
    match gathered.ledger.sealed_last() {
        Some(last) if as_of < last => Err(UsageError(format!(
            "the ledger's last line is of {last}; nothing can be sealed as of {as_of}, before it"
        ))
        .into()),
        _ => Ok(()),
    }
}

/// Holds the lab's folder for as long as it lives; waits for another seal to end.
fn lock(lab: &Path) -> anyhow::Result<File> {
    let folder = File::open(lab).with_context(|| format!("can't open {}", lab.display()))?;
    folder
        .lock()
        .with_context(|| format!("can't lock {}", lab.display()))?;
    Ok(folder)
}

fn append(lab: &Path, ledger: &Ledger, lines: &str) -> anyhow::Result<()> {
    let path = lab.join(name(LEDGER));
    let mut text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(error) => return Err(error).with_context(|| format!("can't read {}", path.display())),
    };
    // An editor may have taken the last line break away.
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    text.push_str(lines);
    let sealed = Ledger::read(&Source::new(LEDGER, text.as_str()))
        .ok()
        .filter(|sealed| sealed.entries().len() == ledger.entries().len() + lines.lines().count())
        .context("the ledger was changed by somebody else while it was sealed; seal again")?;
    replace(&path, text.as_bytes())?;
    replace(&lab.join(name(LEDGER_HEAD)), sealed.head().as_bytes())
}

fn name(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

/// Puts a file in the place of another in one step, and waits until the disk has it.
fn replace(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let folder = path.parent().context("a file lies in a folder")?;
    let new = path.with_file_name(format!(
        ".{}.new",
        path.file_name().unwrap_or_default().to_string_lossy()
    ));
    let write = || -> std::io::Result<()> {
        let mut file = File::create(&new)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        std::fs::rename(&new, path)?;
        File::open(folder)?.sync_all()
    };
    write().with_context(|| {
        // What was half written is of no use; the ledger itself is untouched.
        let _ = std::fs::remove_file(&new);
        format!("can't write {}; it is as it was", path.display())
    })
}

fn tell(desk: &Desk, unsealed: &[Unsealed], as_of: Date, frozen: Option<&str>) {
    if desk.json() {
        let shoes: Vec<_> = unsealed
            .iter()
            .map(|one| json!({"shoe": one.slug, "changes": one.changes}))
            .collect();
        desk.print(&format!(
            "{:#}\n",
            json!({"as_of": as_of, "sealed": shoes, "frozen": frozen})
        ));
        return;
    }
    if let Some(name) = frozen {
        desk.say(format_args!(
            "froze the edition's data in {EDITIONS}/{name}/; keep it with the ledger"
        ));
    }
    if unsealed.is_empty() {
        desk.say(format_args!(
            "all that is published as of {as_of} is sealed already; {LEDGER} is as it was"
        ));
        return;
    }
    let (first, corrected): (Vec<_>, Vec<_>) =
        unsealed.iter().partition(|one| one.changes.is_none());
    desk.say(format_args!(
        "sealed in {LEDGER} as of {as_of}: {} first published, {} corrected",
        first.len(),
        corrected.len()
    ));
    for one in corrected {
        let changes = one.changes.as_deref().unwrap_or_default();
        desk.say(format_args!("  {}: {}", one.slug, changes.join("; ")));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_far_ahead_is_not_sealed() {
        let day = |text: &str| text.parse::<Date>().unwrap();
        let today = day("2026-12-01");
        let planned = Some(day("2026-12-03"));
        for near in ["2026-11-26", "2026-12-01", "2026-12-03", "2026-12-31"] {
            assert!(is_near(day(near), today, planned), "{near}");
        }
        for far in ["2027-01-01", "2036-12-01"] {
            assert!(!is_near(day(far), today, planned), "{far}");
        }
        assert!(is_near(today, today, None));
        assert!(!is_near(day("2026-12-02"), today, None));
    }

    #[test]
    fn a_reason_is_one_visible_sentence_of_400_characters_at_most() {
        assert_eq!(reason(" Because. ").unwrap(), "Because.");
        assert!(reason(&"x".repeat(LINE_LIMIT)).is_ok());
        for refused in [
            "",
            "two\nlines",
            "\u{1b}[31mred",
            "\u{202e}turned",
            &"x".repeat(LINE_LIMIT + 1),
        ] {
            assert!(reason(refused).is_err(), "{refused:?}");
        }
    }
}
