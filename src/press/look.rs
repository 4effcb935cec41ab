//! Whether anything was touched since the last run, decided from what the file
//! system says, and from content where that could mislead (see the stamp).
//!
//! It parses nothing, renders nothing and writes nothing, but for a new stamp if
//! very many files had to be compared by content. What it finds it names, each
//! thing with what it was and is.
//!
//! It fails only where the inputs can't be listed or read.

use super::commit::{self, HIDDEN, RECORD};
use super::folder::{Folder, Lies, Meta, Trouble};
use super::lock::Lock;
use super::stamp::{InputsStamp, Seen, SeenOutput, Stamp, find, is_racy, key, now};
use blake3::Hash;
use rayon::prelude::*;
use serde::Serialize;
use std::fmt;
use std::io::Read;
use std::path::{Path, PathBuf};

/// So many files compared by content are worth a new stamp.
const WORTH_A_STAMP: usize = 100;

/// What an edition is made from, as far as files and settings go.
#[derive(Clone, Debug)]
pub struct Inputs<'a> {
    /// The lab's root.
    pub root: &'a Path,
    /// The folders in it that are read, such as `lab`, `shoes`, `templates`.
    pub folders: &'a [&'a str],
    /// Files in these folders that no edition is made from, such as the bench's journal.
    pub without: &'a [&'a str],
    /// Single files elsewhere: the program itself, the typesetter, a stock list.
    pub also: Vec<PathBuf>,
    /// Everything else that shapes the edition, such as the date and the options.
    pub settings: String,
}

/// Whether there is anything to do.
#[derive(Clone, Debug)]
pub enum Look {
    /// Nothing was touched.
    Unchanged {
        /// How many files the folio has.
        sheets: usize,
        /// How many files had to be compared by content.
        compared: usize,
    },
    /// Something may have to be done.
    Changed {
        /// Why, as far as it was looked for; never empty.
        why: Vec<Touched>,
        /// The inputs as they are now, for the run that follows.
        stamp: InputsStamp,
    },
}

/// What was touched since the last run.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(tag = "touched", rename_all = "kebab-case")]
pub enum Touched {
    /// There was no run before, or what it left is gone.
    NoStamp,
    /// What the last run left can't be read.
    StampUnreadable {
        /// What is wrong with it.
        why: String,
    },
    /// The last run was interrupted while it put its edition in place.
    Interrupted,
    /// The last run left something to do.
    Unsettled {
        /// What.
        why: String,
    },
    /// The date or an option is another.
    Settings {
        /// What they were.
        old: String,
        /// What they are.
        new: String,
    },
    /// An input is new.
    InputNew {
        /// The file.
        path: String,
    },
    /// An input has other content.
    InputChanged {
        /// The file.
        path: String,
    },
    /// Inputs are gone.
    InputsGone {
        /// How many.
        count: usize,
    },
    /// A part of the inputs can't be looked at quickly.
    InputLink {
        /// The link to a folder.
        path: String,
    },
    /// An output is gone.
    OutputMissing {
        /// The file.
        path: String,
    },
    /// An output was changed by somebody else.
    OutputAltered {
        /// The file.
        path: String,
    },
    /// The record is another than the stamp's.
    RecordChanged,
}

impl fmt::Display for Touched {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Touched::NoStamp => write!(f, "no earlier run is known here"),
            Touched::StampUnreadable { why } => {
                write!(f, "the stamp of the last run can't be used: {why}")
            }
            Touched::Interrupted => write!(f, "the last run was interrupted"),
            Touched::Unsettled { why } => write!(f, "the last run left something to do: {why}"),
            Touched::Settings { old, new } => write!(f, "settings: `{old}` → `{new}`"),
            Touched::InputNew { path } => write!(f, "{path} is new"),
            Touched::InputChanged { path } => write!(f, "{path} changed"),
            Touched::InputsGone { count: 1 } => write!(f, "an input file is gone"),
            Touched::InputsGone { count } => write!(f, "{count} input files are gone"),
            Touched::InputLink { path } => write!(f, "{path} is a link to a folder"),
            Touched::OutputMissing { path } => write!(f, "{path} is gone from the folio"),
            Touched::OutputAltered { path } => {
                write!(f, "{path} in the folio was changed by somebody else")
            }
            Touched::RecordChanged => write!(f, "the record is not the last run's"),
        }
    }
}

/// Looks whether anything was touched since the last run. Writes nothing, but
/// for a new stamp if very many files had to be compared by content.
///
/// # Errors
/// If the inputs can't be listed or read.
pub fn look(inputs: &Inputs<'_>, out: &Path) -> Result<Look, Trouble> {
    let hidden = open_hidden(out);
    let last = match &hidden {
        None => Err(Touched::NoStamp),
        Some((_, hidden)) => match Stamp::load(hidden)? {
            None => Err(Touched::NoStamp),
            Some(Err(why)) => Err(Touched::StampUnreadable { why: why.0 }),
            Some(Ok(stamp)) => Ok(stamp),
        },
    };
    let last = match last {
        Ok(last) => last,
        Err(touched) => {
            let (stamp, _, _) = stamp_inputs(inputs, &[])?;
            return Ok(Look::Changed {
                why: vec![touched],
                stamp,
            });
        }
    };
    let outputs = || match &hidden {
        Some((out, _)) => look_at_outputs(out, &last.outputs),
        None => Ok((Vec::new(), Vec::new())),
    };
    let (of_inputs, of_outputs) = rayon::join(|| stamp_inputs(inputs, &last.inputs.files), outputs);
    let (stamp, mut why, compared_inputs) = of_inputs?;
    let (touched, confirmed) = of_outputs?;
    why.extend(touched);
    if let Some((_, hidden)) = &hidden {
        if commit::is_pending(hidden)? {
            why.push(Touched::Interrupted);
        }
        if hidden.lies(RECORD)? != Lies::File(last.record) {
            why.push(Touched::RecordChanged);
        }
    }
    if stamp.settings != last.inputs.settings {
        why.push(Touched::Settings {
            old: last.inputs.settings.clone(),
            new: stamp.settings.clone(),
        });
    }
    if let Some(left) = &last.unsettled {
        why.push(Touched::Unsettled { why: left.clone() });
    }
    if !why.is_empty() {
        why.sort();
        return Ok(Look::Changed { why, stamp });
    }
    let compared = compared_inputs + confirmed.len();
    let sheets = last.outputs.len();
    if let Some((_, hidden)) = &hidden
        && compared >= WORTH_A_STAMP
    {
        refresh(hidden, last, stamp, &confirmed)?;
    }
    Ok(Look::Unchanged { sheets, compared })
}

fn open_hidden(out: &Path) -> Option<(Folder, Folder)> {
    let out = Folder::open(out).ok()?;
    let hidden = out.folder(HIDDEN).ok()?;
    Some((out, hidden))
}

/// Stamps anew what was found unchanged by content.
fn refresh(
    hidden: &Folder,
    mut last: Stamp,
    inputs: InputsStamp,
    confirmed: &[(usize, Meta)],
) -> Result<(), Trouble> {
    let Some(_lock) = Lock::try_now(hidden)? else {
        return Ok(());
    };
    if hidden.lies(RECORD)? != Lies::File(last.record) {
        return Ok(());
    }
    let now = now();
    for &(place, meta) in confirmed {
        let seen = &mut last.outputs[place].seen;
        seen.meta = meta;
        seen.racy = is_racy(meta, now);
    }
    last.inputs = inputs;
    last.save(hidden)
}

/// Lists the inputs, relative to the root, in no order; and a link to a folder, if there is one.
fn list(inputs: &Inputs<'_>) -> Result<(Vec<PathBuf>, Option<PathBuf>), Trouble> {
    let mut files = inputs.also.clone();
    let mut beyond = None;
    let mut folders: Vec<PathBuf> = inputs.folders.iter().map(PathBuf::from).collect();
    while let Some(folder) = folders.pop() {
        let full = inputs.root.join(&folder);
        let fail = |error| Trouble::new(format!("list {}", full.display()), error);
        let entries = match std::fs::read_dir(&full) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => continue,
            Err(error) => return Err(fail(error)),
        };
        for entry in entries {
            let entry = entry.map_err(fail)?;
            let kind = entry.file_type().map_err(fail)?;
            let path = folder.join(entry.file_name());
            if kind.is_dir() {
                folders.push(path);
            } else if kind.is_symlink() && inputs.root.join(&path).is_dir() {
                beyond = Some(path);
            } else if !inputs.without.iter().any(|other| path == Path::new(other)) {
                files.push(path);
            }
        }
    }
    Ok((files, beyond))
}

/// Stamps the inputs, and says what differs from the last stamp and how many
/// files were compared by content.
fn stamp_inputs(
    inputs: &Inputs<'_>,
    last: &[(u128, Seen)],
) -> Result<(InputsStamp, Vec<Touched>, usize), Trouble> {
    let root = Folder::open(inputs.root)?;
    let now = now();
    let (paths, beyond) = list(inputs)?;
    let mut files = paths
        .par_iter()
        .with_min_len(64)
        .filter_map(|path| {
            let meta = root.meta_through_links(path)?;
            let key = key(path);
            let known = find(last, key);
            if let Some(known) = known
                && !known.racy
                && known.meta == meta
            {
                return Some(Ok((key, known.clone(), None, false)));
            }
            let hash = match hash_file(&inputs.root.join(path)) {
                Ok(hash) => hash,
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => return None,
                Err(error) => {
                    let tried = format!("read {}", path.display());
                    return Some(Err(Trouble::new(tried, error)));
                }
            };
            let name = || path.display().to_string();
            let touched = match known {
                None => Some(Touched::InputNew { path: name() }),
                Some(known) if known.hash != hash => Some(Touched::InputChanged { path: name() }),
                Some(_) => None,
            };
            let racy = is_racy(meta, now);
            Some(Ok((key, Seen { meta, racy, hash }, touched, true)))
        })
        .collect::<Result<Vec<_>, Trouble>>()?;
    files.par_sort_unstable_by_key(|(key, ..)| *key);
    files.dedup_by_key(|(key, ..)| *key);
    let mut why = Vec::new();
    let (mut compared, mut known) = (0, 0);
    let mut seen = Vec::with_capacity(files.len());
    for (key, file, touched, by_content) in files {
        compared += usize::from(by_content);
        known += usize::from(!matches!(touched, Some(Touched::InputNew { .. })));
        why.extend(touched);
        seen.push((key, file));
    }
    if known < last.len() {
        why.push(Touched::InputsGone {
            count: last.len() - known,
        });
    }
    if let Some(path) = &beyond {
        why.push(Touched::InputLink {
            path: path.display().to_string(),
        });
    }
    let stamp = InputsStamp {
        settings: inputs.settings.clone(),
        files: seen,
        beyond,
    };
    Ok((stamp, why, compared))
}

fn hash_file(path: &Path) -> std::io::Result<Hash> {
    let mut file = std::fs::File::open(path)?;
    let mut bytes = Vec::new();
    // Most inputs are small; a large one is hashed without holding it.
    (&mut file).take(1 << 20).read_to_end(&mut bytes)?;
    let mut hasher = blake3::Hasher::new();
    hasher.update(&bytes);
    hasher.update_reader(file)?;
    Ok(hasher.finalize())
}

/// What differs from the last stamp; and the places of the files that were
/// compared by content and found the same, with their meta before that.
#[expect(clippy::type_complexity, reason = "a pair of lists, named above")]
fn look_at_outputs(
    out: &Folder,
    outputs: &[SeenOutput],
) -> Result<(Vec<Touched>, Vec<(usize, Meta)>), Trouble> {
    let look = |output: &SeenOutput| -> Result<Option<Result<Meta, Touched>>, Trouble> {
        let path = || output.path.clone();
        Ok(match out.lies(&output.path)? {
            Lies::File(meta) if output.is_still(meta) => None,
            Lies::File(meta) => {
                let bytes = out.read(&output.path)?;
                let same = bytes.map(|bytes| blake3::hash(&bytes)) == Some(output.seen.hash);
                Some(if same {
                    Ok(meta)
                } else {
                    Err(Touched::OutputAltered { path: path() })
                })
            }
            Lies::Nothing => Some(Err(Touched::OutputMissing { path: path() })),
            _ => Some(Err(Touched::OutputAltered { path: path() })),
        })
    };
    let found = outputs
        .par_iter()
        .enumerate()
        .with_min_len(256)
        .filter_map(|(place, output)| match look(output) {
            Ok(found) => found.map(|found| Ok((place, found))),
            Err(trouble) => Some(Err(trouble)),
        })
        .collect::<Result<Vec<_>, Trouble>>()?;
    let (mut touched, mut confirmed) = (Vec::new(), Vec::new());
    for (place, found) in found {
        match found {
            Ok(meta) => confirmed.push((place, meta)),
            Err(what) => touched.push(what),
        }
    }
    Ok((touched, confirmed))
}
