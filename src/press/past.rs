//! The last edition: what the record says, and what lies in `out/`.

use super::codec::Unreadable;
use super::commit::RECORD;
use super::folder::{Folder, Lies, Meta, Trouble};
use super::job::{InTheWay, Obstacle};
use super::reason::Reason;
use super::record::{Entry, Record};
use super::stamp::{SeenOutput, Stamp};
use crate::outputs::FolioPath;
use blake3::Hash;

/// The last edition.
pub struct Past {
    /// What the press wrote. If the record can't be read, only the files' bytes
    /// are known, from the stamp.
    pub record: Record,
    /// Why the record can't be read.
    pub unreadable: Option<Reason>,
    /// The record's file, whole.
    pub record_bytes: Option<Vec<u8>>,
    /// How the outputs were seen last, in the record's order, if that is known.
    outputs: Vec<SeenOutput>,
}

/// What lies where a sheet goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Nothing.
    Absent,
    /// The file the press wrote.
    Intact(Meta),
    /// A file the press wrote and somebody changed, with its bytes' hash.
    Altered(Meta, Hash),
    /// A file the press didn't write, with its bytes' hash.
    Foreign(Meta, Hash),
    /// Something that is no file.
    NoFile(Obstacle),
}

impl Past {
    /// Reads what the last run left. A record that can't be read is none.
    pub fn load(hidden: &Folder) -> Result<Self, Trouble> {
        let record_bytes = hidden.read(RECORD)?;
        let stamp = Stamp::load(hidden)?.and_then(Result::ok);
        let record = match (&record_bytes, &stamp) {
            (Some(bytes), _) => Record::read(bytes),
            (None, None) => Ok(Record::default()),
            (None, Some(_)) => Err(Unreadable("it is missing".to_owned())),
        };
        let (record, unreadable, outputs) = match (record, stamp) {
            (Ok(record), Some(stamp)) if hidden.lies(RECORD)? == Lies::File(stamp.record) => {
                (record, None, stamp.outputs)
            }
            (Ok(record), _) => (record, None, Vec::new()),
            (Err(why), stamp) => (
                salvage(stamp.as_ref()),
                Some(Reason::unreadable(&why)),
                Vec::new(),
            ),
        };
        Ok(Past {
            record,
            unreadable,
            record_bytes,
            outputs,
        })
    }

    /// The entry of a path, and its place.
    pub fn entry(&self, path: &FolioPath) -> Option<(&Entry, usize)> {
        let place = self.record.place(path.as_str())?;
        Some((&self.record.entries()[place].1, place))
    }

    fn seen(&self, path: &FolioPath, place: usize) -> Option<&SeenOutput> {
        // The stamp's outputs are the record's entries; a stamp that isn't so
        // only costs a comparison by content.
        self.outputs
            .get(place)
            .filter(|seen| seen.path() == path.as_str())
    }

    /// What lies at a path.
    pub fn standing(&self, out: &Folder, path: &FolioPath) -> Result<Standing, Trouble> {
        let known = self.entry(path);
        let meta = match out.lies(path.as_str())? {
            Lies::Nothing => return Ok(Standing::Absent),
            Lies::File(meta) => meta,
            Lies::Folder => return Ok(Standing::NoFile(Obstacle::Folder)),
            Lies::Link => return Ok(Standing::NoFile(Obstacle::Link)),
            Lies::Other => return Ok(Standing::NoFile(Obstacle::Other)),
        };
        if let Some((_, place)) = known
            && self
                .seen(path, place)
                .is_some_and(|seen| seen.is_still(meta))
        {
            return Ok(Standing::Intact(meta));
        }
        let Some(bytes) = out.read(path.as_str())? else {
            return Ok(Standing::Absent);
        };
        let found = blake3::hash(&bytes);
        Ok(match known {
            Some((entry, _)) if entry.bytes == found => Standing::Intact(meta),
            Some(_) => Standing::Altered(meta, found),
            None => Standing::Foreign(meta, found),
        })
    }
}

impl Standing {
    /// The hash of the file there, given the recorded one.
    pub fn hash(self, recorded: Option<Hash>) -> Option<(Meta, Hash)> {
        match self {
            Standing::Intact(meta) => recorded.map(|hash| (meta, hash)),
            Standing::Altered(meta, hash) | Standing::Foreign(meta, hash) => Some((meta, hash)),
            Standing::Absent | Standing::NoFile(_) => None,
        }
    }
}

/// What the stamp still knows of the files when the record is lost: which are
/// the press's own. Not what they were made from, so all are made again.
fn salvage(stamp: Option<&Stamp>) -> Record {
    let entries = stamp.into_iter().flat_map(|stamp| &stamp.outputs);
    let entries = entries.filter_map(|seen| {
        let path = FolioPath::new(seen.path()).ok()?;
        let entry = Entry {
            basis: None,
            bytes: seen.hash(),
            sum: None,
        };
        Some((path, entry))
    });
    let entries: Vec<(FolioPath, Entry)> = entries.collect();
    // Which folders the press made isn't known, but they are only removed when
    // nothing is left in them.
    let above = |path: &FolioPath| -> Vec<String> {
        let path = path.as_str();
        let places = path.match_indices('/');
        places.map(|(at, _)| path[..at].to_owned()).collect()
    };
    let folders = entries.iter().flat_map(|(path, _)| above(path)).collect();
    Record::new(entries, folders)
}

/// Looks at the folders above some files: which are missing, those above first,
/// and what is in the way.
pub fn folders_above<'p>(
    out: &Folder,
    paths: impl Iterator<Item = &'p FolioPath>,
) -> Result<(Vec<String>, Vec<InTheWay>), Trouble> {
    let mut known = std::collections::HashSet::new();
    let (mut missing, mut in_the_way) = (Vec::new(), Vec::new());
    for path in paths {
        let path = path.as_str();
        for (at, _) in path.match_indices('/') {
            let folder = &path[..at];
            if !known.insert(folder) {
                continue;
            }
            let what = match out.lies(folder)? {
                Lies::Folder => continue,
                Lies::Nothing => {
                    missing.push(folder.to_owned());
                    continue;
                }
                Lies::Link => Obstacle::Link,
                Lies::File(_) | Lies::Other => Obstacle::FileForFolder,
            };
            in_the_way.push(InTheWay {
                path: out.path().join(folder),
                what,
            });
        }
    }
    // Below something in the way nothing is seen rightly.
    missing.sort();
    Ok((missing, in_the_way))
}

/// The files in `out/` that aren't in a record, in order.
pub fn foreign_files(out: &Folder, record: &Record) -> Result<Vec<String>, Trouble> {
    out.files(|path| record.get(path).is_none())
}
