//! Whether anything was touched since the last run: `out/.solefolio/stamp`.
//!
//! The stamp holds what the file system said of every input and every output
//! after the last publish: size, inode, times; and the hash of each. If it still
//! says the same of all of them, and settings and program are the same, nothing
//! is parsed, rendered or written.
//!
//! # Where the file system could mislead
//!
//! A file changed twice within one tick of the file system's clock, to the same
//! size, looks the same. So a file whose last change lies within the racy window
//! (`RACY`) before it was looked at is marked and compared by content in every
//! later look. So is a file whose times or inode differ: it may have been touched
//! or checked out again without a change.
//!
//! Inputs are stamped *before* they are read. A file that changes in between is
//! then stamped as older than it was read, which costs a run and no truth.
//!
//! # What the stamp doesn't tell
//!
//! It keeps no name of any input, only hashes of their paths: a copy of `out/`
//! that takes the hidden folder along doesn't say which shoes are held back.
//! That a file is gone is therefore told without its name.
//!
//! # Limits
//!
//! - A program that changes a file and sets both its times back, on a file system
//!   that lets it set the second, is not seen.
//! - A file server whose clock is behind by more than the racy window can hide a
//!   change made within one tick of another.
//! - Folders below the inputs that are symbolic links are not followed; while
//!   there is one, every run is a full one.
//! - Files in `out/` that the press didn't write are not looked for.

use super::codec::{self, Unreadable, Writer};
use super::commit::{self, HIDDEN, RECORD};
use super::folder::{Folder, Lies, Meta, Trouble};
use super::lock::Lock;
use blake3::Hash;
use rayon::prelude::*;
use serde::Serialize;
use std::fmt;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

const TITLE: &str = "solefolio stamp 1";
const NAME: &str = "stamp";
/// Two changes can look alike if they are this close, in nanoseconds: twice the
/// tick of a clock of 100 Hz, the slowest a common kernel stamps files with.
const RACY: i64 = 20_000_000;
/// The same, on a file system that keeps no fractions of a second (two seconds
/// are the coarsest in use).
const RACY_COARSE: i64 = 2_000_000_000;
/// So many files compared by content are worth a new stamp.
const WORTH_A_STAMP: usize = 100;

/// What an edition is made from, as far as files and settings go.
#[derive(Clone, Debug)]
pub struct Inputs<'a> {
    /// The lab's root.
    pub root: &'a Path,
    /// The folders in it that are read, such as `lab`, `shoes`, `templates`.
    pub folders: &'a [&'a str],
    /// Single files elsewhere: the program itself, the typesetter, a stock list.
    pub also: Vec<PathBuf>,
    /// Everything else that shapes the edition, such as the date and the options.
    pub settings: String,
}

/// A file as it was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Seen {
    meta: Meta,
    /// Whether its times can't be trusted.
    racy: bool,
    hash: Hash,
}

/// The inputs as they were before they were read.
#[derive(Clone, Debug, Default)]
pub struct InputsStamp {
    settings: String,
    /// By the hash of the path, in order.
    files: Vec<(u128, Seen)>,
    /// Something that can't be stamped.
    beyond: Option<PathBuf>,
}

impl InputsStamp {
    /// The content's hash of an input, by its path under the root: what is
    /// worked out from it may be kept under this.
    pub fn content(&self, path: &str) -> Option<Hash> {
        find(&self.files, key(Path::new(path))).map(|seen| seen.hash)
    }
}

/// An output as it was seen.
#[derive(Clone, Debug)]
pub struct SeenOutput {
    path: String,
    seen: Seen,
}

impl SeenOutput {
    /// An output with its content's hash, seen `now`.
    pub fn new(path: String, meta: Meta, hash: Hash, now: i64) -> Self {
        SeenOutput {
            path,
            seen: Seen {
                meta,
                racy: is_racy(meta, now),
                hash,
            },
        }
    }

    /// Where it lies.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// What it held.
    pub fn hash(&self) -> Hash {
        self.seen.hash
    }

    /// Whether it certainly is what it was.
    pub fn is_still(&self, meta: Meta) -> bool {
        !self.seen.racy && self.seen.meta == meta
    }
}

/// The stamp.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// The inputs.
    pub inputs: InputsStamp,
    /// The outputs, in the order of their paths.
    pub outputs: Vec<SeenOutput>,
    /// The record it goes with.
    pub record: Meta,
    /// Why the next run has work whatever the files say; `None` if it hasn't.
    pub unsettled: Option<String>,
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

/// Now, in nanoseconds since 1970, for judging what is racy.
pub fn now() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| i64::try_from(since.as_nanos()).ok())
        // A clock that can't be right: then everything is racy.
        .unwrap_or(i64::MIN)
}

fn is_racy(meta: Meta, now: i64) -> bool {
    let last = meta.modified.max(meta.changed);
    let window = if meta.modified % 1_000_000_000 == 0 && meta.changed % 1_000_000_000 == 0 {
        RACY_COARSE
    } else {
        RACY
    };
    last >= now.saturating_sub(window)
}

fn key(path: &Path) -> u128 {
    let hash = blake3::hash(path.as_os_str().as_encoded_bytes());
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&hash.as_bytes()[..16]);
    u128::from_le_bytes(bytes)
}

fn find(files: &[(u128, Seen)], key: u128) -> Option<&Seen> {
    files
        .binary_search_by_key(&key, |(key, _)| *key)
        .ok()
        .map(|place| &files[place].1)
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
            } else {
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

impl Stamp {
    /// The stamp of a hidden folder; `None` if there is none.
    pub fn load(hidden: &Folder) -> Result<Option<Result<Self, Unreadable>>, Trouble> {
        Ok(hidden.read(NAME)?.map(|bytes| Stamp::read(&bytes)))
    }

    /// Puts the stamp in place.
    pub fn save(&self, hidden: &Folder) -> Result<(), Trouble> {
        hidden.write_over(NAME, &self.write())
    }

    fn write(&self) -> Vec<u8> {
        let mut file = Writer::new(TITLE);
        file.text(&self.inputs.settings);
        file.text(self.unsettled.as_deref().unwrap_or(""));
        file.number(u64::from(self.inputs.beyond.is_some()));
        write_meta(&mut file, self.record);
        file.count(self.outputs.len());
        let mut before = "";
        for output in &self.outputs {
            file.text_after(before, &output.path);
            before = &output.path;
            write_seen(&mut file, &output.seen);
        }
        file.count(self.inputs.files.len());
        for (key, seen) in &self.inputs.files {
            file.word(*key as u64);
            file.word((*key >> 64) as u64);
            write_seen(&mut file, seen);
        }
        file.seal()
    }

    fn read(bytes: &[u8]) -> Result<Self, Unreadable> {
        let mut file = codec::open(bytes, TITLE)?;
        let settings = file.text()?.to_owned();
        let unsettled = Some(file.text()?.to_owned()).filter(|why| !why.is_empty());
        let beyond = (file.number()? != 0).then(PathBuf::new);
        let record = read_meta(&mut file)?;
        let count = file.count()?;
        let mut outputs: Vec<SeenOutput> = Vec::with_capacity(count);
        for _ in 0..count {
            let before = outputs.last().map_or("", |output| output.path.as_str());
            let path = file.text_after(before)?;
            let seen = read_seen(&mut file)?;
            outputs.push(SeenOutput { path, seen });
        }
        let count = file.count()?;
        let mut files = Vec::with_capacity(count);
        for _ in 0..count {
            let key = u128::from(file.word()?) | u128::from(file.word()?) << 64;
            files.push((key, read_seen(&mut file)?));
        }
        file.end()?;
        Ok(Stamp {
            inputs: InputsStamp {
                settings,
                files,
                beyond,
            },
            outputs,
            record,
            unsettled,
        })
    }
}

fn write_meta(file: &mut Writer, meta: Meta) {
    file.number(meta.size);
    file.number(meta.inode);
    file.word(meta.modified.cast_unsigned());
    file.word(meta.changed.cast_unsigned());
}

fn read_meta(file: &mut codec::Reader<'_>) -> Result<Meta, Unreadable> {
    Ok(Meta {
        size: file.number()?,
        inode: file.number()?,
        modified: file.word()?.cast_signed(),
        changed: file.word()?.cast_signed(),
    })
}

fn write_seen(file: &mut Writer, seen: &Seen) {
    write_meta(file, seen.meta);
    file.number(u64::from(seen.racy));
    file.hash(&seen.hash);
}

fn read_seen(file: &mut codec::Reader<'_>) -> Result<Seen, Unreadable> {
    Ok(Seen {
        meta: read_meta(file)?,
        racy: file.number()? != 0,
        hash: file.hash()?,
    })
}
