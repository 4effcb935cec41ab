//! What the file system said when the last run ended: `out/.solefolio/stamp`.
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
use super::folder::{Folder, Meta, Trouble};
use blake3::Hash;
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

/// A file as it was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Seen {
    /// What the file system said.
    pub meta: Meta,
    /// Whether its times can't be trusted.
    pub racy: bool,
    /// Its content.
    pub hash: Hash,
}

/// The inputs as they were before they were read.
#[derive(Clone, Debug, Default)]
pub struct InputsStamp {
    pub(super) settings: String,
    /// By the hash of the path, in order.
    pub(super) files: Vec<(u128, Seen)>,
    /// Something that can't be stamped.
    pub(super) beyond: Option<PathBuf>,
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
    pub(super) path: String,
    pub(super) seen: Seen,
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

/// Now, in nanoseconds since 1970, for judging what is racy.
pub fn now() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| i64::try_from(since.as_nanos()).ok())
        // A clock that can't be right: then everything is racy.
        .unwrap_or(i64::MIN)
}

pub(super) fn is_racy(meta: Meta, now: i64) -> bool {
    let last = meta.modified.max(meta.changed);
    let window = if meta.modified % 1_000_000_000 == 0 && meta.changed % 1_000_000_000 == 0 {
        RACY_COARSE
    } else {
        RACY
    };
    last >= now.saturating_sub(window)
}

pub(super) fn key(path: &Path) -> u128 {
    let hash = blake3::hash(path.as_os_str().as_encoded_bytes());
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&hash.as_bytes()[..16]);
    u128::from_le_bytes(bytes)
}

pub(super) fn find(files: &[(u128, Seen)], key: u128) -> Option<&Seen> {
    files
        .binary_search_by_key(&key, |(key, _)| *key)
        .ok()
        .map(|place| &files[place].1)
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn meta(seed: u64) -> Meta {
        Meta {
            size: seed,
            inode: seed.wrapping_mul(3),
            modified: seed.cast_signed(),
            changed: -7,
        }
    }

    fn stamp(paths: &[(String, u64)], unsettled: Option<&str>) -> Stamp {
        let seen = |seed: u64| Seen {
            meta: meta(seed),
            racy: seed.is_multiple_of(2),
            hash: blake3::hash(&seed.to_le_bytes()),
        };
        let mut files: Vec<(u128, Seen)> = paths
            .iter()
            .map(|(path, seed)| (key(Path::new(path)), seen(*seed)))
            .collect();
        files.sort_by_key(|(key, _)| *key);
        let outputs = paths.iter().map(|(path, seed)| SeenOutput {
            path: path.clone(),
            seen: seen(*seed),
        });
        Stamp {
            inputs: InputsStamp {
                settings: "as of some day".into(),
                files,
                beyond: None,
            },
            outputs: outputs.collect(),
            record: meta(9),
            unsettled: unsettled.map(str::to_owned),
        }
    }

    #[test]
    fn a_file_that_rested_is_trusted_and_one_that_did_not_is_not() {
        let changed = 1_000_000_007;
        let meta = Meta {
            modified: changed,
            changed,
            ..meta(1)
        };
        assert!(is_racy(meta, changed));
        assert!(is_racy(meta, changed + RACY));
        assert!(!is_racy(meta, changed + RACY + 1));
        // A clock that was set back makes what is from its future racy.
        assert!(is_racy(meta, changed - 1));
        assert!(is_racy(meta, i64::MIN));
    }

    #[test]
    fn a_file_system_without_fractions_of_a_second_is_given_more_time() {
        let whole = 5_000_000_000;
        let meta = Meta {
            modified: whole,
            changed: whole,
            ..meta(1)
        };
        assert!(is_racy(meta, whole + RACY + 1));
        assert!(!is_racy(meta, whole + RACY_COARSE + 1));
    }

    #[test]
    fn the_later_of_both_times_counts() {
        let meta = Meta {
            modified: 3,
            changed: 1_000_000_007,
            ..meta(1)
        };
        assert!(is_racy(meta, 1_000_000_008));
    }

    #[test]
    fn an_output_is_still_what_it_was_only_with_the_same_meta_and_time_to_rest() {
        let hash = blake3::hash(b"x");
        let rested = SeenOutput::new("a".into(), meta(1), hash, 1 << 40);
        assert!(rested.is_still(meta(1)));
        for other in [
            Meta { size: 2, ..meta(1) },
            Meta {
                inode: 4,
                ..meta(1)
            },
            Meta {
                modified: 2,
                ..meta(1)
            },
            Meta {
                changed: 2,
                ..meta(1)
            },
        ] {
            assert!(!rested.is_still(other), "{other:?}");
        }
        let racy = SeenOutput::new("a".into(), meta(1), hash, 1);
        assert!(!racy.is_still(meta(1)));
    }

    #[test]
    fn an_input_is_found_by_its_path() {
        let stamp = stamp(&[("a".into(), 1), ("b/c".into(), 2)], None);
        let of = |seed: u64| Some(blake3::hash(&seed.to_le_bytes()));
        assert_eq!(stamp.inputs.content("a"), of(1));
        assert_eq!(stamp.inputs.content("b/c"), of(2));
        assert_eq!(stamp.inputs.content("b"), None);
    }

    #[test]
    fn a_stamp_names_no_input() {
        let mut stamp = stamp(&[("shoes/held-back.yaml".into(), 1)], None);
        stamp.outputs.clear();
        let bytes = stamp.write();
        assert!(!bytes.windows(4).any(|part| part == b"held"));
    }

    #[test]
    fn a_damaged_stamp_is_unreadable_wherever_it_is_damaged() {
        let bytes = stamp(&[("a".into(), 1)], Some("a print failed")).write();
        for at in 0..bytes.len() {
            let mut damaged = bytes.clone();
            damaged[at] ^= 1;
            assert!(Stamp::read(&damaged).is_err(), "byte {at}");
        }
    }

    proptest! {
        #[test]
        fn prop_a_stamp_is_read_as_it_was_written(
            paths in proptest::collection::btree_map("[a-c]{1,3}(/[a-c]{1,3})?", any::<u64>(), 0..30),
            unsettled in proptest::option::of("[a-z]{1,9}")
        ) {
            let paths: Vec<(String, u64)> = paths.into_iter().collect();
            let stamp = stamp(&paths, unsettled.as_deref());
            let read = Stamp::read(&stamp.write()).unwrap();
            prop_assert_eq!(format!("{read:?}"), format!("{stamp:?}"));
        }
    }
}
