//! Gathering again after a change: only what the change reaches is read and
//! judged anew.
//!
//! Every file is read and hashed each time, so nothing rests on modification
//! times or on being told of every change. What a change reaches:
//!
//! | changed | done again |
//! | --- | --- |
//! | a shoe's file | that shoe |
//! | a raw curve | the shoes that have curves, and those that could not be judged |
//! | settings, protocol, instruments | every shoe is read and judged |
//! | rules, the control shoe's log | every shoe is judged |
//! | phrases, the gauge study, the ledger | no shoe |
//!
//! The lab's own files and the checks across files are done each time.

use super::{Gathered, LabFiles, Reading, cross, editions, languages, ledger, outside, shoes};
use crate::diagnostics::Problem;
use crate::files::{CSV_LIMIT, RelPath, Root, Slug, Source};
use crate::measure::drift::Drift;
use crate::rules::Judged;
use blake3::Hash;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What was judged before, by file.
#[derive(Debug, Default)]
pub struct Shelf {
    /// What a shoe's form is checked against.
    form: Option<Hash>,
    /// What else a shoe is judged by.
    judging: Option<Hash>,
    curves: Option<Hash>,
    shoes: BTreeMap<RelPath, Kept>,
}

#[derive(Debug)]
struct Kept {
    hash: Hash,
    judged: Option<Judged>,
    problems: Vec<Problem>,
}

/// As [`gather_as`](super::gather_as), with the same result, in the time that the change needs.
///
/// # Errors
/// All problems of all files, if one of them is an error.
pub fn gather_again(
    root: &Root,
    reading: &Reading,
    shelf: &mut Shelf,
) -> Result<Gathered, Vec<Problem>> {
    let mut problems = Vec::new();
    let files = LabFiles::read_as(root, reading, &mut problems);
    let assembled = files
        .as_ref()
        .and_then(|files| files.assemble(&mut problems));
    let ledger = ledger::read(root, &mut problems);
    let frozen = editions::read(root, &mut problems);
    let (files, lab, rules, ledger) = match (files, assembled, ledger) {
        (Some(files), Some((lab, rules)), Some(ledger)) => (files, lab, rules, ledger),
        (_, assembled, _) => {
            // Shoes are checked as far as can be, so that all problems are seen at once.
            let lab = assembled.as_ref().map(|(lab, _)| lab);
            shoes::read(root, lab, reading, &mut problems);
            return Err(problems);
        }
    };
    let drift = Drift::of(&lab.control);
    if shelf.forget_what_changed(root, &files) == Reach::Judging {
        shelf.shoes.par_iter_mut().for_each(|(_, kept)| {
            if let Some(judged) = &mut kept.judged {
                *judged = shoes::judge_with(judged.shoe.clone(), &lab, &rules, &drift);
            }
        });
    }
    let found = root.addresses("shoes", &["yaml", "yml"]);
    problems.extend(found.problems);
    let before = &shelf.shoes;
    let read = |(slug, path): (Slug, RelPath)| -> (RelPath, Result<Option<Kept>, Problem>) {
        let source = match root.read(&path) {
            Ok(source) => source,
            Err(problem) => return (path, Err(problem)),
        };
        if before
            .get(&path)
            .is_some_and(|kept| kept.hash == source.hash)
        {
            return (path, Ok(None));
        }
        let mut problems = Vec::new();
        let shoe = shoes::read_shoe(root, Some(&lab), slug, &path, &source, &mut problems);
        let kept = Kept {
            hash: source.hash,
            judged: shoe.map(|shoe| shoes::judge_with(shoe.into(), &lab, &rules, &drift)),
            problems,
        };
        (path, Ok(Some(kept)))
    };
    let now: Vec<_> = found.files.into_par_iter().map(read).collect();
    let mut before = std::mem::take(&mut shelf.shoes);
    for (path, read) in now {
        let unchanged = before.remove(&path);
        match read {
            Err(problem) => problems.push(problem),
            Ok(changed) => {
                let Some(kept) = changed.or(unchanged) else {
                    continue;
                };
                problems.extend(kept.problems.iter().cloned());
                shelf.shoes.insert(path, kept);
            }
        }
    }
    let kept: Vec<&Kept> = shelf.shoes.values().collect();
    let mut judged: Vec<Judged> = kept
        .into_par_iter()
        .filter_map(|kept| kept.judged.clone())
        .collect();
    judged.sort_by(|a, b| a.shoe.slug.cmp(&b.shoe.slug));
    let stamps = ledger::stamps(&files, (rules.version, lab.protocol.version));
    problems.extend(ledger::check(&ledger, &stamps));
    cross::check(
        &lab,
        &rules,
        judged.iter().map(|judged| &*judged.shoe),
        &mut problems,
    );
    languages::check(
        &lab,
        &rules,
        &ledger,
        judged.iter().map(|judged| &*judged.shoe),
        &mut problems,
    );
    let judged = outside::answer(root, judged, &lab, &rules, &reading.outside, &mut problems);
    if problems.iter().any(Problem::is_error) {
        return Err(problems);
    }
    Ok(Gathered {
        lab,
        rules,
        shoes: judged,
        ledger,
        stamps,
        frozen,
        warnings: problems,
    })
}

/// How far the changes of the lab's files reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reach {
    /// Shoes whose own files changed, no more; those that must be read again are
    /// forgotten already.
    Files,
    /// Every shoe must be judged again.
    Judging,
}

impl Shelf {
    /// Forgets the shoes that must be read again.
    fn forget_what_changed(&mut self, root: &Root, files: &LabFiles) -> Reach {
        let form = Some(together([
            Some(&files.settings),
            Some(&files.protocol),
            Some(&files.instruments),
        ]));
        let judging = Some(together([Some(&files.rules), files.control.as_ref()]));
        let curves = Some(curves(root));
        if self.form != form {
            self.shoes.clear();
        } else if self.curves != curves {
            // A shoe that could not be judged may lack just the curve that came.
            self.shoes.retain(|_, kept| {
                let judged = kept.judged.as_ref();
                judged.is_some_and(|judged| judged.shoe.curves.is_empty())
            });
        }
        let reach = if self.judging == judging {
            Reach::Files
        } else {
            Reach::Judging
        };
        (self.form, self.judging, self.curves) = (form, judging, curves);
        reach
    }
}

/// One hash of some files; one that is not there counts too.
fn together<const N: usize>(files: [Option<&Source>; N]) -> Hash {
    let mut hasher = blake3::Hasher::new();
    for file in files {
        match file {
            Some(file) => hasher.update(file.hash.as_bytes()),
            None => hasher.update(b"-"),
        };
    }
    hasher.finalize()
}

/// One hash of all raw curves, their names too.
fn curves(root: &Root) -> Hash {
    let hashes: Vec<Hash> = root
        .walk("shoes", &["csv"])
        .files
        .into_par_iter()
        .map(|path| {
            let mut hasher = blake3::Hasher::new();
            hasher.update(path.as_str().as_bytes());
            if let Ok(bytes) = root.read_bytes(&path, CSV_LIMIT) {
                hasher.update(blake3::hash(&bytes).as_bytes());
            }
            hasher.finalize()
        })
        .collect();
    let mut hasher = blake3::Hasher::new();
    for hash in hashes {
        hasher.update(hash.as_bytes());
    }
    hasher.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gather::gather;
    use std::path::Path;

    fn same(a: &Result<Gathered, Vec<Problem>>, b: &Result<Gathered, Vec<Problem>>) {
        assert_eq!(format!("{a:?}"), format!("{b:?}"));
    }

    #[test]
    fn gathering_again_after_any_change_is_as_gathering_afresh() {
        let folder = tempfile::tempdir().unwrap();
        let demo = Path::new(env!("CARGO_MANIFEST_DIR"));
        for name in ["lab", "shoes", "shoes/curves"] {
            std::fs::create_dir_all(folder.path().join(name)).unwrap();
            for entry in std::fs::read_dir(demo.join(name)).unwrap() {
                let entry = entry.unwrap();
                if entry.file_type().unwrap().is_file() {
                    let to = folder.path().join(name).join(entry.file_name());
                    std::fs::copy(entry.path(), to).unwrap();
                }
            }
        }
        let root = Root::open(folder.path()).unwrap();
        let mut shelf = Shelf::default();
        let edit = |file: &str, from: &str, to: &str| {
            let path = folder.path().join(file);
            let text = std::fs::read_to_string(&path).unwrap();
            assert!(text.contains(from), "{file} holds {from}");
            std::fs::write(path, text.replacen(from, to, 1)).unwrap();
        };
        let shoe = "shoes/fennick-vale-quarrel-2.yaml";
        let curve = "shoes/curves/quarrel-2-heel.csv";
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        edit(shoe, "[262, 263, 262]", "[272, 273, 272]");
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        edit(shoe, "category: road", "category: moon");
        let broken = gather_again(&root, &Reading::default(), &mut shelf);
        assert!(broken.is_err());
        same(&broken, &gather(&root));
        // A broken ledger hides nothing that is wrong with the shoes.
        let ledger = folder.path().join("lab/ledger.jsonl");
        let whole = std::fs::read(&ledger).unwrap();
        std::fs::write(&ledger, "no entry\n").unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        std::fs::write(&ledger, whole).unwrap();
        edit(shoe, "category: moon", "category: road");
        std::fs::rename(folder.path().join(curve), folder.path().join("away.csv")).unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        std::fs::rename(folder.path().join("away.csv"), folder.path().join(curve)).unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        edit("lab/rules.yaml", "[45, 60]", "[48, 60]");
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        edit("lab/phrases.yaml", "findings:", "# words\nfindings:");
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        let control = std::fs::read_to_string(folder.path().join("lab/control.csv")).unwrap();
        let days: Vec<&str> = control.lines().collect();
        let fewer = format!("{}\n", days[..days.len() - 5].join("\n"));
        std::fs::write(folder.path().join("lab/control.csv"), fewer).unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        std::fs::remove_file(folder.path().join("lab/control.csv")).unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        edit("lab/instruments.yaml", "resolution: ", "resolution: 1");
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
        std::fs::remove_file(folder.path().join(shoe)).unwrap();
        same(
            &gather_again(&root, &Reading::default(), &mut shelf),
            &gather(&root),
        );
    }

    #[test]
    fn a_change_of_rules_or_phrases_reads_no_shoe_again() {
        let demo = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut memory = crate::files::Memory::new();
        for name in ["lab", "shoes", "shoes/curves"] {
            for entry in std::fs::read_dir(demo.join(name)).unwrap() {
                let entry = entry.unwrap();
                if entry.file_type().unwrap().is_file() {
                    let file = format!("{name}/{}", entry.file_name().to_str().unwrap());
                    memory = memory.with(&file, std::fs::read(entry.path()).unwrap());
                }
            }
        }
        let mut shelf = Shelf::default();
        let first =
            gather_again(&Root::over(memory.clone()), &Reading::default(), &mut shelf).unwrap();
        for file in ["lab/rules.yaml", "lab/phrases.yaml"] {
            let text = std::fs::read_to_string(demo.join(file)).unwrap();
            let changed = memory.clone().with(file, format!("{text}# more\n"));
            let again =
                gather_again(&Root::over(changed), &Reading::default(), &mut shelf).unwrap();
            assert_eq!(first.shoes.len(), again.shoes.len());
            for (a, b) in first.shoes.iter().zip(&again.shoes) {
                assert!(std::sync::Arc::ptr_eq(&a.shoe, &b.shoe), "{file}");
            }
        }
    }
}
