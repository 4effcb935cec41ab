//! What the press wrote last, and from what: `out/.solefolio/record`.
//!
//! The record holds one entry for each file of the folio and nothing else, in
//! the order of their paths, so the same edition makes the same record on any
//! machine. It names only what is published: a copy of `out/` that takes the
//! hidden folder along gives no draft away.
//!
//! The file has a title with its version, tables of the texts that recur, the
//! entries, and a checksum over all of it. An entry takes about 180 bytes.
//!
//! A record that is missing, damaged or of another version is no error. Then
//! every sheet is made again and compared with what lies in `out/` by content.

use super::codec::{self, Unreadable, Writer};
use super::fingerprint::{Basis, Parts, ViewPrint};
use super::manifest::Sum;
use crate::outputs::FolioPath;
use blake3::Hash;
use std::collections::HashMap;
use std::hash::Hash as Key;
use std::sync::Arc;

const TITLE: &str = "solefolio record 2";

/// One file the press wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// What it was made from; for data and static files nothing but their bytes.
    pub basis: Option<Basis>,
    /// Its bytes.
    pub bytes: Hash,
    /// Their sum for the manifest; not known of a file that only the stamp remembers.
    pub sum: Option<Sum>,
}

/// All that the press wrote.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Record {
    /// The files, in the order of their paths, none twice.
    entries: Vec<(FolioPath, Entry)>,
    /// The folders of `out/` that the press made, in order: removed when they
    /// are empty again.
    folders: Vec<String>,
}

impl Record {
    /// A record of files and folders in any order. Of two entries with one path
    /// the later counts.
    pub fn new(mut entries: Vec<(FolioPath, Entry)>, mut folders: Vec<String>) -> Self {
        entries.reverse();
        entries.sort_by(|a, b| a.0.cmp(&b.0));
        entries.dedup_by(|a, b| a.0 == b.0);
        folders.sort();
        folders.dedup();
        Record { entries, folders }
    }

    /// The files, in the order of their paths.
    pub fn entries(&self) -> &[(FolioPath, Entry)] {
        &self.entries
    }

    /// The folders the press made.
    pub fn folders(&self) -> &[String] {
        &self.folders
    }

    /// The entry at a path.
    pub fn get(&self, path: &str) -> Option<&Entry> {
        self.place(path).map(|place| &self.entries[place].1)
    }

    /// The place of a path among the entries.
    pub fn place(&self, path: &str) -> Option<usize> {
        self.entries
            .binary_search_by(|(entry, _)| entry.as_str().cmp(path))
            .ok()
    }

    /// The record as a file.
    pub fn write(&self) -> Vec<u8> {
        let mut texts = Table::default();
        let mut shapes = Table::default();
        let mut prints = Table::default();
        for (_, entry) in &self.entries {
            if let Some(basis) = &entry.basis {
                texts.add(&basis.template);
                texts.add(&basis.program);
                basis.typesetter.iter().for_each(|text| texts.add(text));
                shapes.add(&basis.view.parts.names);
                prints.add(&basis.template_print);
            }
        }
        let mut file = Writer::new(TITLE);
        file.count(texts.rows.len());
        texts.rows.iter().for_each(|text| file.text(text));
        file.count(shapes.rows.len());
        for shape in &shapes.rows {
            file.count(shape.len());
            shape.iter().for_each(|name| file.text(name));
        }
        file.count(prints.rows.len());
        prints.rows.iter().for_each(|print| file.hash(print));
        file.count(self.folders.len());
        let mut before = "";
        for folder in &self.folders {
            file.text_after(before, folder);
            before = folder;
        }
        file.count(self.entries.len());
        let mut before = "";
        for (path, entry) in &self.entries {
            file.text_after(before, path.as_str());
            before = path.as_str();
            file.hash(&entry.bytes);
            file.count(usize::from(entry.sum.is_some()));
            entry.sum.iter().for_each(|sum| file.sum(*sum));
            let Some(basis) = &entry.basis else {
                file.count(0);
                continue;
            };
            // 0: none; 1: a page; 2 and more: a print, with its typesetter.
            match &basis.typesetter {
                None => file.count(1),
                Some(typesetter) => file.count(2 + texts.place(typesetter)),
            }
            file.count(texts.place(&basis.template));
            file.count(prints.place(&basis.template_print));
            file.count(texts.place(&basis.program));
            file.hash(&basis.view.whole);
            file.count(shapes.place(&basis.view.parts.names));
            basis
                .view
                .parts
                .hashes
                .iter()
                .for_each(|&hash| file.word(hash));
        }
        file.seal()
    }

    /// Reads a record.
    ///
    /// # Errors
    /// [`Unreadable`] with what is wrong; nothing of it is used then.
    pub fn read(bytes: &[u8]) -> Result<Self, Unreadable> {
        let mut file = codec::open(bytes, TITLE)?;
        let mut texts: Vec<Arc<str>> = Vec::new();
        for _ in 0..file.count()? {
            texts.push(file.text()?.into());
        }
        let mut shapes: Vec<Arc<[String]>> = Vec::new();
        for _ in 0..file.count()? {
            let names: Result<Vec<String>, Unreadable> = (0..file.count()?)
                .map(|_| file.text().map(str::to_owned))
                .collect();
            shapes.push(names?.into());
        }
        let mut prints = Vec::new();
        for _ in 0..file.count()? {
            prints.push(file.hash()?);
        }
        let mut folders: Vec<String> = Vec::new();
        for _ in 0..file.count()? {
            let folder = file.text_after(folders.last().map_or("", String::as_str))?;
            folders.push(safe(folder)?.as_str().to_owned());
        }
        let count = file.count()?;
        let mut entries: Vec<(FolioPath, Entry)> = Vec::with_capacity(count);
        for _ in 0..count {
            let before = entries.last().map_or("", |(path, _)| path.as_str());
            let path = file.text_after(before)?;
            if !entries.is_empty() && path.as_str() <= before {
                return Err(Unreadable("its paths are out of order".to_owned()));
            }
            let path = safe(path)?;
            let bytes = file.hash()?;
            let sum = match file.number()? {
                0 => None,
                _ => Some(file.sum()?),
            };
            let basis = match file.number()? {
                0 => None,
                kind => {
                    let typesetter = match usize::try_from(kind - 1) {
                        Ok(0) => None,
                        Ok(place) => Some(texts.get(place - 1).cloned().ok_or_else(beyond)?),
                        Err(_) => return Err(beyond()),
                    };
                    let template = texts[file.place(texts.len())?].clone();
                    let template_print = prints[file.place(prints.len())?];
                    let program = texts[file.place(texts.len())?].clone();
                    let whole = file.hash()?;
                    let names = shapes[file.place(shapes.len())?].clone();
                    let hashes: Result<Box<[u64]>, Unreadable> =
                        names.iter().map(|_| file.word()).collect();
                    let parts = Parts {
                        names,
                        hashes: hashes?,
                    };
                    Some(Basis {
                        template,
                        template_print,
                        program,
                        typesetter,
                        view: ViewPrint { whole, parts },
                    })
                }
            };
            entries.push((path, Entry { basis, bytes, sum }));
        }
        file.end()?;
        Ok(Record { entries, folders })
    }
}

fn beyond() -> Unreadable {
    Unreadable("it points beyond a table".to_owned())
}

/// Paths of a record are checked like any other: a record made by hand can't
/// lead the press out of `out/`.
fn safe(path: String) -> Result<FolioPath, Unreadable> {
    FolioPath::new(path).map_err(|error| Unreadable(error.to_string()))
}

/// The different values of something that recurs, in order of first use.
struct Table<T> {
    rows: Vec<T>,
    places: HashMap<T, usize>,
}

impl<T> Default for Table<T> {
    fn default() -> Self {
        Table {
            rows: Vec::new(),
            places: HashMap::new(),
        }
    }
}

impl<T: Clone + Eq + Key> Table<T> {
    fn add(&mut self, row: &T) {
        if !self.places.contains_key(row) {
            self.places.insert(row.clone(), self.rows.len());
            self.rows.push(row.clone());
        }
    }

    /// The place of a row that was added.
    fn place(&self, row: &T) -> usize {
        self.places[row]
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use proptest::prelude::*;

    fn basis(template: &str, seed: u8, typesetter: Option<&str>) -> Basis {
        Basis {
            template: template.into(),
            template_print: blake3::hash(template.as_bytes()),
            program: "program 1".into(),
            typesetter: typesetter.map(Into::into),
            view: ViewPrint {
                whole: blake3::hash(&[seed]),
                parts: Parts {
                    names: [template.to_owned(), "head".to_owned()].into(),
                    hashes: [u64::from(seed), 2].into(),
                },
            },
        }
    }

    fn entry(kind: u8, seed: u8) -> Entry {
        Entry {
            basis: match kind % 3 {
                0 => None,
                1 => Some(basis("review.html", seed, None)),
                _ => Some(basis("review.typ", seed, Some("setter 2"))),
            },
            bytes: blake3::hash(&[seed, kind]),
            sum: (kind < 200).then(|| Sum::of(&[seed])),
        }
    }

    fn record(paths: &[(String, u8, u8)]) -> Record {
        let entries = paths
            .iter()
            .map(|(path, kind, seed)| (FolioPath::new(path.clone()).unwrap(), entry(*kind, *seed)));
        Record::new(entries.collect(), vec!["shoes".into(), "shoes/a".into()])
    }

    #[test]
    fn an_entry_is_found_by_its_path() {
        let record = record(&[("b/x".into(), 1, 1), ("a".into(), 0, 2)]);
        assert_eq!(record.get("a"), Some(&entry(0, 2)));
        assert_eq!(record.get("b/x"), Some(&entry(1, 1)));
        assert_eq!(record.get("b"), None);
    }

    #[test]
    fn of_two_entries_with_one_path_the_later_counts() {
        let record = record(&[("a".into(), 0, 1), ("a".into(), 0, 2)]);
        assert_eq!(record.entries().len(), 1);
        assert_eq!(record.get("a"), Some(&entry(0, 2)));
    }

    #[test]
    fn a_path_out_of_the_folio_makes_a_record_unreadable() {
        let mut file = Writer::new(TITLE);
        for _ in 0..4 {
            file.count(0);
        }
        file.count(1);
        file.text_after("", "../lab/rules.yaml");
        file.hash(&blake3::hash(b""));
        file.count(0);
        file.count(0);
        let error = Record::read(&file.seal()).unwrap_err();
        assert_eq!(error.0, "`../lab/rules.yaml` is no path inside the folio");
    }

    proptest! {
        #[test]
        fn prop_a_record_is_read_as_it_was_written(
            paths in proptest::collection::vec(("[a-c]{1,3}(/[a-c]{1,3})?", any::<u8>(), any::<u8>()), 0..30)
        ) {
            let record = record(&paths);
            prop_assert_eq!(Record::read(&record.write()).unwrap(), record);
        }
    }
}
