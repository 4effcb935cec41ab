//! The lab's folder: what is in it, and reading it.

use super::source::too_large;
use super::{CSV_LIMIT, Disk, Files, Listed, Refused, RelPath, Slug, Source, YAML_LIMIT};
use crate::diagnostics::text::{neutral, quote};
use crate::diagnostics::{KeyPath, Problem};
use anyhow::Context as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The lab's folder, on the disk or in memory.
///
/// Nothing outside it is ever read, and nothing is written through it.
#[derive(Clone)]
pub struct Root {
    files: Arc<dyn Files>,
    path: Option<PathBuf>,
}

/// The files of one folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Listing {
    /// The files, sorted by their paths' bytes.
    pub files: Vec<RelPath>,
    /// What was found there and can't be taken.
    pub problems: Vec<Problem>,
}

/// The files of one folder, each by its address.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Addressed {
    /// Addresses and files, sorted by address; each address once.
    pub files: Vec<(Slug, RelPath)>,
    /// What was found there and can't be taken.
    pub problems: Vec<Problem>,
}

impl std::fmt::Debug for Root {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Root")
            .field("path", &self.path)
            .finish_non_exhaustive()
    }
}

impl Root {
    /// The folder at `path`.
    ///
    /// # Errors
    /// If it is no folder, or can't be opened.
    pub fn open(path: impl AsRef<Path>) -> anyhow::Result<Root> {
        let path = path.as_ref();
        let disk = Disk::open(path)
            .with_context(|| format!("can't open the lab's folder {}", path.display()))?;
        Ok(Root {
            path: Some(disk.root().to_owned()),
            files: Arc::new(disk),
        })
    }

    /// A folder that is not on the disk.
    pub fn over(files: impl Files + 'static) -> Root {
        Root {
            files: Arc::new(files),
            path: None,
        }
    }

    /// Where it lies on the disk, links resolved; none in memory.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The files below `folder` with one of these endings (`yaml`, whatever the
    /// letters' case), sorted by bytes; hidden files are left alone.
    pub fn walk(&self, folder: &str, endings: &[&str]) -> Listing {
        let mut listing = Listing::default();
        let Ok(folder) = folder.parse::<RelPath>() else {
            listing
                .problems
                .extend(problem_of(Listed::Unsafe(folder.to_owned())));
            return listing;
        };
        let wanted = |ending: &str| endings.iter().any(|e| e.eq_ignore_ascii_case(ending));
        let ending_of = |name: &str| name.rsplit('.').next().map(str::to_owned);
        for found in self.files.list(&folder) {
            match found {
                Listed::File(path) if wanted(path.ending()) => listing.files.push(path),
                Listed::File(_) => {}
                // An odd name with another ending is nobody's business here.
                Listed::Unsafe(name) if !ending_of(&name).is_some_and(|e| wanted(&e)) => {}
                other => listing.problems.extend(problem_of(other)),
            }
        }
        listing.files.sort();
        crate::diagnostics::render::sort(&mut listing.problems);
        listing
    }

    /// The files below `folder` with none of these endings, sorted by bytes; hidden
    /// files are left alone.
    pub fn others(&self, folder: &RelPath, endings: &[&str]) -> Vec<RelPath> {
        let is_other = |path: &RelPath| {
            let ending = path.ending();
            !endings.iter().any(|one| one.eq_ignore_ascii_case(ending))
        };
        let found = self.files.list(folder).into_iter();
        let mut others: Vec<RelPath> = found
            .filter_map(|listed| match listed {
                Listed::File(path) if is_other(&path) => Some(path),
                _ => None,
            })
            .collect();
        others.sort();
        others
    }

    /// The files below `folder` with one of these endings, each by its address: its name
    /// without the ending.
    ///
    /// A name that is no [`Slug`] is the problem `unsafe-name`, the same address in
    /// two folders the problem `same-address`; then neither file is taken.
    pub fn addresses(&self, folder: &str, endings: &[&str]) -> Addressed {
        let Listing { files, problems } = self.walk(folder, endings);
        let mut found = Addressed {
            files: Vec::with_capacity(files.len()),
            problems,
        };
        for path in files {
            match path.stem().parse::<Slug>() {
                Ok(slug) if is_device(slug.as_str()) => found.problems.push(
                    Problem::error(
                        "unsafe-name",
                        path.as_str(),
                        KeyPath::root(),
                        format!("`{slug}` is the name of a device on some systems, not of a file"),
                    )
                    .hint("put the maker's name before it"),
                ),
                Ok(slug) => found.files.push((slug, path)),
                Err(error) => found.problems.push(
                    Problem::error(
                        "unsafe-name",
                        path.as_str(),
                        KeyPath::root(),
                        format!("the file's name is its address for ever, but {error}"),
                    )
                    .hint(name_hint(&path)),
                ),
            }
        }
        found.files.sort();
        let mut unique = Vec::with_capacity(found.files.len());
        for same in found.files.chunk_by(|a, b| a.0 == b.0) {
            if let [one] = same {
                unique.push(one.clone());
                continue;
            }
            for (slug, path) in &same[1..] {
                found.problems.push(
                    Problem::error(
                        "same-address",
                        path.as_str(),
                        KeyPath::root(),
                        format!(
                            "the address `{slug}` is taken by {}",
                            quote(same[0].1.as_str())
                        ),
                    )
                    .hint("rename one of the two files; folders are not part of the address"),
                );
            }
        }
        found.files = unique;
        crate::diagnostics::render::sort(&mut found.problems);
        found
    }

    /// Whether there is a file at this path, readable or not.
    pub fn holds(&self, path: &RelPath) -> bool {
        !matches!(self.files.read(path, 0), Err(Refused::Missing))
    }

    /// A YAML file's text.
    ///
    /// # Errors
    /// `unreadable-file`, `outside-root`, `file-too-large` or `not-utf-8`.
    pub fn read(&self, path: &RelPath) -> Result<Source, Problem> {
        self.read_text(path, YAML_LIMIT)
    }

    /// The text of a file that a problem names, if it can be read: for
    /// [`place_all`](super::yaml::place_all) and for showing its lines.
    pub fn look_up(&self, file: &str) -> Option<Source> {
        self.read_text(&file.parse().ok()?, CSV_LIMIT).ok()
    }

    /// A text file with its own limit in bytes.
    ///
    /// # Errors
    /// As [`Root::read`].
    pub fn read_text(&self, path: &RelPath, limit: u64) -> Result<Source, Problem> {
        Source::from_bytes(path.as_str(), self.read_bytes(path, limit)?, limit)
    }

    /// A file's bytes, `limit` at most.
    ///
    /// # Errors
    /// `unreadable-file`, `outside-root` or `file-too-large`.
    pub fn read_bytes(&self, path: &RelPath, limit: u64) -> Result<Vec<u8>, Problem> {
        let unreadable = |why: &str| {
            let message = format!("the file can't be read: {why}");
            Problem::error("unreadable-file", path.as_str(), KeyPath::root(), message)
        };
        self.files
            .read(path, limit)
            .map_err(|refused| match refused {
                Refused::Missing => unreadable("there is no such file"),
                Refused::NotAFile => unreadable("it is a folder, a pipe or a device"),
                Refused::Failed(why) => unreadable(&why),
                Refused::Outside => outside(path.as_str()),
                Refused::TooLarge => too_large(path.as_str(), limit),
            })
    }
}

fn outside(name: &str) -> Problem {
    Problem::error(
        "outside-root",
        neutral(name),
        KeyPath::root(),
        "the link leads out of the lab's folder",
    )
    .hint("put the file itself here; a link that stays within it may not be absolute")
}

fn problem_of(found: Listed) -> Option<Problem> {
    let problem = |code, name: &str, message: String| {
        Problem::error(code, neutral(name), KeyPath::root(), message)
    };
    Some(match found {
        Listed::File(_) => return None,
        Listed::Outside(name) => outside(&name),
        Listed::LinkedFolder(name) => problem(
            "linked-folder",
            &name,
            "a link to a folder is not followed".into(),
        )
        .hint("put the folder itself here"),
        Listed::Unsafe(name) => problem(
            "unsafe-name",
            &name,
            "the file's name is not safe on every system".into(),
        )
        .hint("use small letters a to z, digits and single hyphens"),
        Listed::Unreadable(name, why) => problem(
            "unreadable-file",
            &name,
            format!("the file can't be read: {why}"),
        ),
    })
}

/// Whether a name can't be a file's on Windows, whatever its ending.
fn is_device(name: &str) -> bool {
    let numbered = |stem: &str| {
        name.strip_prefix(stem)
            .is_some_and(|rest| matches!(rest.as_bytes(), [b'1'..=b'9']))
    };
    matches!(name, "con" | "prn" | "aux" | "nul") || numbered("com") || numbered("lpt")
}

/// Proposes the nearest name that would do.
fn name_hint(path: &RelPath) -> String {
    let lower = path.stem().to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    match words.join("-").parse::<Slug>() {
        Ok(slug) => format!("rename it to `{slug}.{}`", path.ending().to_lowercase()),
        Err(_) => "rename it".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Memory;

    fn path(text: &str) -> RelPath {
        text.parse().unwrap()
    }

    fn codes(problems: &[Problem]) -> Vec<(&str, &str)> {
        problems.iter().map(|p| (p.file.as_str(), p.code)).collect()
    }

    #[test]
    fn files_come_sorted_by_bytes_and_by_ending() {
        let root = Root::over(
            Memory::new()
                .with("shoes/b.yaml", "")
                .with("shoes/a/z.yml", "")
                .with("shoes/a-1.YAML", "")
                .with("shoes/x.csv", "")
                .with("shoesx/c.yaml", ""),
        );
        let listing = root.walk("shoes", &["yaml", "yml"]);
        let names: Vec<_> = listing.files.iter().map(RelPath::as_str).collect();
        assert_eq!(names, ["shoes/a-1.YAML", "shoes/a/z.yml", "shoes/b.yaml"]);
        assert_eq!(listing.problems, []);
        let others = root.others(&path("shoes"), &["yaml", "yml"]);
        assert_eq!(others, [path("shoes/x.csv")]);
    }

    #[test]
    fn a_name_that_is_no_address_is_reported_with_one_that_is() {
        let root = Root::over(
            Memory::new()
                .with("shoes/Quarrel 2.yaml", "")
                .with("shoes/ok.yaml", ""),
        );
        let found = root.addresses("shoes", &["yaml"]);
        assert_eq!(
            codes(&found.problems),
            [("shoes/Quarrel 2.yaml", "unsafe-name")]
        );
        assert_eq!(
            found.problems[0].hint.as_deref(),
            Some("rename it to `quarrel-2.yaml`")
        );
        assert_eq!(
            found.files,
            [("ok".parse().unwrap(), path("shoes/ok.yaml"))]
        );
    }

    #[test]
    fn one_address_in_two_folders_names_both_and_takes_neither() {
        let root = Root::over(
            Memory::new()
                .with("shoes/2026/q.yaml", "")
                .with("shoes/q.yml", "")
                .with("shoes/r.yml", ""),
        );
        let found = root.addresses("shoes", &["yaml", "yml"]);
        assert_eq!(codes(&found.problems), [("shoes/q.yml", "same-address")]);
        assert!(found.problems[0].message.contains("`shoes/2026/q.yaml`"));
        assert_eq!(found.files.len(), 1);
    }

    #[test]
    fn a_problems_file_is_looked_up_by_its_name() {
        let root = Root::over(Memory::new().with("shoes/a.yaml", "a: 1"));
        assert_eq!(root.look_up("shoes/a.yaml").unwrap().text, "a: 1");
        assert_eq!(root.look_up("shoes/b.yaml"), None);
        assert_eq!(root.look_up("../a.yaml"), None);
        assert_eq!(root.walk("..", &["yaml"]).problems[0].code, "unsafe-name");
    }

    #[test]
    fn a_missing_or_oversized_file_is_a_problem_of_that_file() {
        let root = Root::over(Memory::new().with("big.yaml", vec![b' '; (1 << 20) + 1]));
        let code = |name| root.read(&path(name)).unwrap_err().code;
        assert_eq!(code("none.yaml"), "unreadable-file");
        assert_eq!(code("big.yaml"), "file-too-large");
    }

    #[test]
    fn a_root_that_is_no_folder_does_not_open() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("x.yaml"), "a: 1").unwrap();
        assert!(Root::open(folder.path().join("x.yaml")).is_err());
        assert!(Root::open(folder.path().join("none")).is_err());
        let root = Root::open(folder.path()).unwrap();
        assert_eq!(root.read(&path("x.yaml")).unwrap().text, "a: 1");
    }

    #[test]
    #[cfg(unix)]
    fn links_in_shoes_are_problems_of_their_own() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let shoes = folder.path().join("shoes");
        std::fs::create_dir(&shoes).unwrap();
        std::fs::create_dir(folder.path().join("other")).unwrap();
        symlink("/etc/passwd", shoes.join("p.yaml")).unwrap();
        symlink("../other", shoes.join("linked")).unwrap();
        let found = Root::open(folder.path())
            .unwrap()
            .addresses("shoes", &["yaml"]);
        assert_eq!(
            codes(&found.problems),
            [
                ("shoes/linked", "linked-folder"),
                ("shoes/p.yaml", "outside-root")
            ]
        );
    }
}
