//! Frozen editions: the open data as it was on a day that was sealed.
//!
//! A published figure may be corrected; who cited the one before must find it.
//! What was out on a day can't be worked out again from inputs that were edited
//! since, and `out/` can be thrown away at any time. So `seal` puts the data
//! files of the edition it seals into `lab/editions/NAME/`, once and for ever, and
//! they are an input like any other: the same files give the same folio. Keep
//! them under version control with the ledger.
//!
//! NAME is the edition's date; a second seal on one day adds `-2`, for the first
//! may have been cited by then. `edition.json` in it names every file with its
//! length and its sums; a file that no longer comes to its sum is not published.
//!
//! A review taken back later stays in the frozen files it was in, because who
//! cited them must be able to see what they cited; the folder's own page says
//! that it was taken back.

use crate::diagnostics::text::{is_refused, says_refused};
use crate::files::Date;
use serde::{Deserialize, Serialize};

/// Where the frozen editions are.
pub const EDITIONS: &str = "lab/editions";
/// The file of each that names the others.
pub const MANIFEST: &str = "edition.json";
/// The largest frozen file, in bytes.
pub const FROZEN_LIMIT: u64 = 4 * 1024 * 1024 * 1024;

/// One frozen edition.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Frozen {
    /// Its name: the date, with `-2` and so on after it for a later one of the day.
    pub name: String,
    /// The edition's date.
    pub on: Date,
    /// Why it was sealed.
    pub because: String,
    /// How many shoes are in it.
    pub shoes: usize,
    /// Version of the protocol.
    pub protocol_version: u32,
    /// Version of the rule set.
    pub rules_version: u32,
    /// Its files, in the order they were made.
    pub files: Vec<FrozenFile>,
}

/// One file of a frozen edition.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrozenFile {
    /// Its name, such as `findings.csv`.
    pub name: String,
    /// Its length.
    pub bytes: u64,
    /// Its SHA-256, in hexadecimal digits: the sum readers can check.
    pub sha256: String,
    /// Its BLAKE3, by which the press knows it without reading it.
    pub blake3: String,
}

impl Frozen {
    /// Reads a manifest and checks that its names are names of files, that its reason
    /// can stand on a page, and that it stands in the folder it is called after.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(text: &str, folder: &str) -> Result<Frozen, String> {
        let frozen: Frozen = serde_json::from_str(text).map_err(|error| error.to_string())?;
        if frozen.name != folder || !is_name(&frozen.name, frozen.on) {
            return Err(format!(
                "it is the manifest of `{}`, which is no edition of {} or not this folder",
                frozen.name.escape_debug(),
                frozen.on
            ));
        }
        if let Some(c) = frozen.because.chars().find(|c| is_refused(*c)) {
            return Err(says_refused(c));
        }
        for file in &frozen.files {
            let safe = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.');
            if file.name.starts_with('.') || file.name.is_empty() || !file.name.bytes().all(safe) {
                return Err(format!(
                    "`{}` is no name of a file",
                    file.name.escape_debug()
                ));
            }
            if blake3::Hash::from_hex(&file.blake3).is_err() {
                return Err(format!("the sum of `{}` is none", file.name));
            }
        }
        Ok(frozen)
    }

    /// The manifest as it is written.
    pub fn write(&self) -> Vec<u8> {
        let mut text =
            serde_json::to_vec_pretty(self).expect("texts and whole numbers always serialise");
        text.push(b'\n');
        text
    }

    /// Where one of its files lies in the lab's folder.
    pub fn place(&self, file: &FrozenFile) -> String {
        format!("{EDITIONS}/{}/{}", self.name, file.name)
    }
}

impl FrozenFile {
    /// The BLAKE3 sum; what was read has one.
    pub fn hash(&self) -> Option<blake3::Hash> {
        blake3::Hash::from_hex(&self.blake3).ok()
    }
}

/// The name of the `nth` edition of a day, counted from 1.
pub fn edition_name(on: Date, nth: usize) -> String {
    match nth {
        0 | 1 => on.to_string(),
        more => format!("{on}-{more}"),
    }
}

/// Which of its day's editions a name is of; none if it is no name of that day.
fn number(name: &str, on: Date) -> Option<usize> {
    let rest = name.strip_prefix(&on.to_string())?;
    if rest.is_empty() {
        return Some(1);
    }
    let number: usize = rest.strip_prefix('-')?.parse().ok()?;
    (number > 1 && edition_name(on, number) == name).then_some(number)
}

fn is_name(name: &str, on: Date) -> bool {
    number(name, on).is_some()
}

/// Puts frozen editions in the order of their days, the earlier of a day first.
pub fn sort_frozen(all: &mut [Frozen]) {
    all.sort_by_key(|frozen| (frozen.on, number(&frozen.name, frozen.on)));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frozen(name: &str, file: &str) -> String {
        format!(
            r#"{{"name": "{name}", "on": "2026-11-26", "because": "x", "shoes": 1,
            "protocol_version": 2, "rules_version": 4, "files": [{{"name": "{file}", "bytes": 1,
            "sha256": "00", "blake3": "{}"}}]}}"#,
            blake3::hash(b"x").to_hex()
        )
    }

    #[test]
    fn a_manifest_stands_in_its_own_folder_and_names_files_in_it_alone() {
        let read = |name: &str, folder: &str, file: &str| Frozen::read(&frozen(name, file), folder);
        assert!(read("2026-11-26", "2026-11-26", "a.csv").is_ok());
        assert!(read("2026-11-26-2", "2026-11-26-2", "a.csv").is_ok());
        for (name, folder, file) in [
            ("2026-11-26", "2026-11-27", "a.csv"),
            ("2026-11-27", "2026-11-27", "a.csv"),
            ("2026-11-26-1", "2026-11-26-1", "a.csv"),
            ("2026-11-26-02", "2026-11-26-02", "a.csv"),
            ("2026-11-26-0", "2026-11-26-0", "a.csv"),
            ("2026-11-26", "2026-11-26", "../a.csv"),
            ("2026-11-26", "2026-11-26", ".a"),
            ("2026-11-26", "2026-11-26", "a/b.csv"),
            ("2026-11-26", "2026-11-26", ""),
        ] {
            assert!(read(name, folder, file).is_err(), "{name} {folder} {file}");
        }
        let sum = blake3::hash(b"x").to_hex();
        let no_sum = frozen("2026-11-26", "a.csv").replace(&*sum, &sum[1..]);
        assert!(Frozen::read(&no_sum, "2026-11-26").is_err());
        let hidden = frozen("2026-11-26", "a.csv").replace("\"x\"", "\"x\\u202e\"");
        let refused = Frozen::read(&hidden, "2026-11-26").unwrap_err();
        assert!(refused.contains("U+202E"), "{refused}");
        let whole = read("2026-11-26", "2026-11-26", "a.csv").unwrap();
        assert!(whole.write().ends_with(b"}\n"));
        let again = String::from_utf8(whole.write()).unwrap();
        assert_eq!(Frozen::read(&again, "2026-11-26").unwrap(), whole);
    }

    #[test]
    fn editions_stand_by_day_and_number() {
        let on = "2026-11-26".parse().unwrap();
        let mut all: Vec<Frozen> = [10, 2, 1]
            .map(|nth| {
                let name = edition_name(on, nth);
                Frozen::read(&frozen(&name, "a.csv"), &name).unwrap()
            })
            .into();
        sort_frozen(&mut all);
        let names: Vec<&str> = all.iter().map(|frozen| &*frozen.name).collect();
        assert_eq!(names, ["2026-11-26", "2026-11-26-2", "2026-11-26-10"]);
    }
}
