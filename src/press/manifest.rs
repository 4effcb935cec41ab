//! The folio's manifest: `out/SHA256SUMS`.
//!
//! It holds the SHA-256 sum of every file that is published but itself, one a
//! line in the order of their paths, as coreutils' `sha256sum` writes and checks
//! it: 64 hexadecimal digits, two spaces, the path. So a reader, or a lab that
//! copied its folio to a server, can check the whole of it with
//! `sha256sum --check SHA256SUMS`, or with [`check`], which also finds what is
//! there and isn't listed.
//!
//! Sums are worked out where a file's bytes are made and kept in the record, so
//! an unchanged file is never read for its sum. SHA-256 is FIPS 180-4.
//!
//! It tells damage and mistakes, not malice: whoever can change a file can
//! change its line.

use super::folder::{Folder, Lies, Trouble};
use super::record::Entry;
use crate::outputs::{FolioPath, Heard, WriteStream};
use rayon::prelude::*;
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::{self, Write as _};
use std::io;
use std::path::Path;

/// The manifest's file, in `out/`.
pub const MANIFEST: &str = "SHA256SUMS";

/// Bytes of a sum.
const BYTES: usize = 32;

/// A SHA-256 sum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sum(pub [u8; BYTES]);

impl Sum {
    /// The sum of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Sum(Sha256::digest(bytes).into())
    }

    fn read(hexadecimal: &str) -> Option<Self> {
        let digits = hexadecimal.as_bytes();
        let mut sum = [0; BYTES];
        if digits.len() != 2 * BYTES {
            return None;
        }
        for (byte, pair) in sum.iter_mut().zip(digits.chunks_exact(2)) {
            let digit = |digit: u8| char::from(digit).to_digit(16);
            let value = digit(pair[0])? << 4 | digit(pair[1])?;
            *byte = u8::try_from(value).ok()?;
        }
        Some(Sum(sum))
    }
}

/// What a file's bytes come to: the hash they are known by, and their sum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sums {
    /// Their BLAKE3 hash.
    pub bytes: blake3::Hash,
    /// Their SHA-256 sum.
    pub sum: Sum,
}

impl Sums {
    /// Of what is written.
    pub fn of(write: &WriteStream<'_>) -> Self {
        Sums::passing(write, &mut io::sink()).expect("nothing is written anywhere")
    }

    /// Of what is written on to a file.
    pub fn passing(write: &WriteStream<'_>, to: &mut dyn io::Write) -> io::Result<Self> {
        let (mut hash, mut sum) = (blake3::Hasher::new(), Sha256::new());
        let hear = |piece: &[u8]| {
            hash.update(piece);
            sum.update(piece);
        };
        write(&mut Heard { to, hear })?;
        Ok(Sums {
            bytes: hash.finalize(),
            sum: Sum(sum.finalize().into()),
        })
    }
}

impl fmt::Display for Sum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// The manifest of some files, in any order. One whose sum isn't known is left
/// out: it isn't what the press wrote.
pub fn write<'e>(entries: impl Iterator<Item = (&'e FolioPath, &'e Entry)>) -> Vec<u8> {
    let mut lines: Vec<(&str, Sum)> = entries
        .filter_map(|(path, entry)| Some((path.as_str(), entry.sum?)))
        .collect();
    lines.sort_by_key(|(path, _)| *path);
    let mut text = String::with_capacity(lines.len() * 110);
    for (path, sum) in lines {
        let _ = writeln!(text, "{sum}  {path}");
    }
    text.into_bytes()
}

/// What became of a folio since it was published.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Checked {
    /// How many files are as they were published.
    pub sound: usize,
    /// Listed files that aren't there.
    pub missing: Vec<String>,
    /// Listed files with other bytes, or that are no files.
    pub altered: Vec<String>,
    /// Files that are there and not listed; names that begin with a dot are left
    /// out, for no file of a folio has one.
    pub extra: Vec<String>,
}

impl Checked {
    /// Whether it is exactly what was published.
    pub fn is_sound(&self) -> bool {
        self.missing.is_empty() && self.altered.is_empty() && self.extra.is_empty()
    }
}

/// Why a folio can't be checked.
#[derive(Debug)]
pub enum Uncheckable {
    /// It has no manifest.
    NoManifest,
    /// A line of its manifest, counted from 1, is none.
    BadLine(usize),
    /// Reading failed.
    Trouble(Trouble),
}

impl fmt::Display for Uncheckable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Uncheckable::NoManifest => write!(
                f,
                "it has no {MANIFEST}, which every publish writes; name the folder that holds it"
            ),
            Uncheckable::BadLine(line) => write!(
                f,
                "{MANIFEST}:{line} is no line of a manifest; take the folio from the lab again"
            ),
            Uncheckable::Trouble(trouble) => write!(f, "{trouble}"),
        }
    }
}

impl std::error::Error for Uncheckable {}

impl From<Trouble> for Uncheckable {
    fn from(trouble: Trouble) -> Self {
        Uncheckable::Trouble(trouble)
    }
}

/// Compares a folio anywhere with its manifest. Links in it are not followed.
///
/// # Errors
/// [`Uncheckable`]; not a file that is missing, altered or extra.
pub fn check(folio: &Path) -> Result<Checked, Uncheckable> {
    let folio = Folder::open(folio)?;
    let manifest = folio.read(MANIFEST)?.ok_or(Uncheckable::NoManifest)?;
    let listed = read(&manifest)?;
    let found = listed
        .par_iter()
        .map(|(path, sum)| Ok((path, compare(&folio, path, *sum)?)))
        .collect::<Result<Vec<_>, Trouble>>()?;
    let mut checked = Checked::default();
    for (path, state) in found {
        match state {
            State::Sound => checked.sound += 1,
            State::Missing => checked.missing.push((*path).to_owned()),
            State::Altered => checked.altered.push((*path).to_owned()),
        }
    }
    checked.extra = folio.files(|path| path != MANIFEST && !listed.contains_key(path))?;
    Ok(checked)
}

/// The lines by path. Only what [`write`] writes is a line, and paths in it are
/// checked: a manifest made by hand can't lead out of the folio.
fn read(manifest: &[u8]) -> Result<BTreeMap<&str, Sum>, Uncheckable> {
    let mut listed = BTreeMap::new();
    let mut lines = 0;
    for line in manifest.split_inclusive(|&byte| byte == b'\n') {
        lines += 1;
        let parsed = std::str::from_utf8(line).ok().and_then(|line| {
            let (sum, path) = line.strip_suffix('\n')?.split_once("  ")?;
            FolioPath::new(path).ok()?;
            Some((path, Sum::read(sum)?))
        });
        match parsed {
            Some((path, sum)) if listed.insert(path, sum).is_none() => {}
            _ => return Err(Uncheckable::BadLine(lines)),
        }
    }
    Ok(listed)
}

enum State {
    Sound,
    Missing,
    Altered,
}

fn compare(folio: &Folder, path: &str, sum: Sum) -> Result<State, Trouble> {
    match folio.lies(path)? {
        Lies::Nothing => return Ok(State::Missing),
        Lies::File(_) => {}
        Lies::Folder | Lies::Link | Lies::Other => return Ok(State::Altered),
    }
    Ok(match folio.read(path)? {
        None => State::Missing,
        Some(bytes) if Sum::of(&bytes) == sum => State::Sound,
        Some(_) => State::Altered,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::HIDDEN;
    use std::fs;

    /// FIPS 180-4's examples, as NIST's "Examples with Intermediate Values" for
    /// SHA-256 gives them (from memory): one block, and two.
    #[test]
    fn a_sum_is_that_of_the_standard() {
        let long = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        for (text, sum) in [
            (
                "abc",
                "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
            ),
            (
                long,
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
            ),
        ] {
            assert_eq!(Sum::of(text.as_bytes()).to_string(), sum);
            assert_eq!(Sum::read(sum), Some(Sum::of(text.as_bytes())));
        }
        assert_eq!(Sum::read("ba78"), None);
        assert_eq!(Sum::read(&"é".repeat(32)), None);
    }

    fn folio(files: &[(&str, &str)]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir_all(folder.path().join("shoes/a")).unwrap();
        fs::create_dir_all(folder.path().join(HIDDEN)).unwrap();
        fs::write(folder.path().join(HIDDEN).join("record"), "").unwrap();
        let mut manifest = String::new();
        for (path, text) in files {
            fs::write(folder.path().join(path), text).unwrap();
            manifest += &format!("{}  {path}\n", Sum::of(text.as_bytes()));
        }
        fs::write(folder.path().join(MANIFEST), manifest).unwrap();
        folder
    }

    #[test]
    fn a_folio_as_it_was_published_is_sound() {
        let folder = folio(&[("index.html", "a"), ("shoes/a/index.html", "b")]);
        let checked = check(folder.path()).unwrap();
        assert!(checked.is_sound());
        assert_eq!(checked.sound, 2);
    }

    #[test]
    fn what_is_missing_altered_and_extra_is_named() {
        let folder = folio(&[("a", "a"), ("b", "b"), ("shoes/a/c", "c")]);
        fs::remove_file(folder.path().join("a")).unwrap();
        fs::write(folder.path().join("b"), "B").unwrap();
        fs::remove_file(folder.path().join("shoes/a/c")).unwrap();
        fs::create_dir(folder.path().join("shoes/a/c")).unwrap();
        fs::write(folder.path().join("shoes/.d"), "").unwrap();
        fs::write(folder.path().join("shoes/d"), "").unwrap();
        let checked = check(folder.path()).unwrap();
        assert_eq!(checked.missing, ["a"]);
        assert_eq!(checked.altered, ["b", "shoes/a/c"]);
        assert_eq!(checked.extra, ["shoes/d"]);
        assert_eq!(checked.sound, 0);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_no_file_of_the_folio() {
        let folder = folio(&[("a", "a")]);
        fs::write(folder.path().join(HIDDEN).join("b"), "a").unwrap();
        fs::remove_file(folder.path().join("a")).unwrap();
        let to = folder.path().join(HIDDEN).join("b");
        std::os::unix::fs::symlink(to, folder.path().join("a")).unwrap();
        assert_eq!(check(folder.path()).unwrap().altered, ["a"]);
    }

    #[test]
    fn a_manifest_that_is_none_is_told_with_its_line() {
        let folder = folio(&[("a", "a")]);
        let path = folder.path().join(MANIFEST);
        let good = fs::read_to_string(&path).unwrap();
        let sum = Sum::of(b"");
        for bad in [
            format!("{sum}  ../lab/lab.yaml\n"),
            format!("{sum} *b\n"),
            format!("{sum}  b"),
            good.clone(),
            "\n".to_owned(),
        ] {
            fs::write(&path, format!("{good}{bad}")).unwrap();
            let error = check(folder.path()).unwrap_err();
            assert!(matches!(error, Uncheckable::BadLine(2)), "{bad}: {error}");
        }
        fs::remove_file(&path).unwrap();
        let error = check(folder.path()).unwrap_err();
        assert!(matches!(error, Uncheckable::NoManifest));
    }
}
