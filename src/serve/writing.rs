//! Writing a shoe's file: as a whole, and never over somebody else's change.
//!
//! A file is written beside its place under a hidden name, brought to the disk,
//! and renamed over the old one with its mode kept. Before that, under a lock
//! that all of solefolio's writers share, the file is read again: if its bytes
//! are not those the edit was made from, nothing is written. An editor does not
//! know the lock; between the look and the rename lie microseconds, in which a
//! change of its own could be lost. Everything before that is safe.

use crate::diagnostics::{KeyPath, Problem};
use crate::files::{RelPath, Root, YAML_LIMIT};
use anyhow::Context as _;
use blake3::Hash;
use rustix::fs::{FlockOperation, flock};
use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

const MARK: &str = "\u{FEFF}";

/// Why nothing was written.
#[derive(Debug)]
pub enum NotWritten {
    /// The file is not what the edit was made from.
    Changed(String),
    /// There is a file already where a new one was to be.
    Taken(String),
    /// The system's reason.
    Failed(anyhow::Error),
}

impl fmt::Display for NotWritten {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotWritten::Changed(file) => write!(
                f,
                "{file} was changed by somebody else meanwhile; nothing was written. \
                 Look at the file and do it again"
            ),
            NotWritten::Taken(file) => {
                write!(
                    f,
                    "there is {file} already; give the new shoe another address"
                )
            }
            NotWritten::Failed(error) => write!(f, "{error:#}"),
        }
    }
}

impl NotWritten {
    /// What is to be said of a file that was not replaced because it is another by now.
    ///
    /// # Errors
    /// The system's reason, which is no problem of the file's.
    pub fn problem(self, path: &RelPath) -> anyhow::Result<Problem> {
        match self {
            NotWritten::Failed(error) => Err(error),
            changed => Ok(Problem::error(
                "changed-meanwhile",
                path.as_str(),
                KeyPath::root(),
                changed.to_string(),
            )
            .hint("run the same command again: it reads the file as it is now")),
        }
    }
}

impl std::error::Error for NotWritten {}

impl From<anyhow::Error> for NotWritten {
    fn from(error: anyhow::Error) -> NotWritten {
        NotWritten::Failed(error)
    }
}

/// Writes files of one lab's folder.
#[derive(Clone, Debug)]
pub struct Writer {
    root: PathBuf,
}

impl Writer {
    /// A writer for a lab's folder; none if it is not on the disk.
    pub fn new(root: &Root) -> Option<Writer> {
        Some(Writer {
            root: root.path()?.to_owned(),
        })
    }

    /// Replaces a file whose bytes have the hash `was` by `text`; a byte order
    /// mark at its beginning stays.
    ///
    /// # Errors
    /// [`NotWritten::Changed`] if it has other bytes now, or is gone.
    pub fn replace(&self, path: &RelPath, was: Hash, text: &str) -> Result<(), NotWritten> {
        self.replace_after(path, was, text, || {})
    }

    /// The same, with something that happens just before the last look; tests
    /// play the other writer there.
    fn replace_after(
        &self,
        path: &RelPath,
        was: Hash,
        text: &str,
        meanwhile: impl FnOnce(),
    ) -> Result<(), NotWritten> {
        let _lock = self.lock()?;
        let changed = || NotWritten::Changed(path.to_string());
        // A link within the lab is followed, so that the link stays one.
        let file = self
            .root
            .join(path.as_str())
            .canonicalize()
            .map_err(|_| changed())?;
        if !file.starts_with(&self.root) {
            return Err(anyhow::anyhow!("{path} leads out of the lab's folder").into());
        }
        meanwhile();
        let size = fs::metadata(&file).map_err(|_| changed())?;
        if size.len() > YAML_LIMIT {
            return Err(changed());
        }
        let bytes = fs::read(&file).map_err(|_| changed())?;
        if blake3::hash(&bytes) != was {
            return Err(changed());
        }
        let marked = bytes.starts_with(MARK.as_bytes());
        let beside = Beside::write(&file, if marked { MARK } else { "" }, text)?;
        fs::set_permissions(&beside.path, size.permissions())
            .with_context(|| format!("can't keep the mode of {path}"))?;
        fs::rename(&beside.path, &file).with_context(|| format!("can't replace {path}"))?;
        sync_folder(&file);
        Ok(())
    }

    /// Writes a file that is not there yet.
    ///
    /// # Errors
    /// [`NotWritten::Taken`] if it is.
    pub fn create(&self, path: &RelPath, text: &str) -> Result<(), NotWritten> {
        let _lock = self.lock()?;
        let file = self.root.join(path.as_str());
        let folder = file.parent().unwrap_or(&self.root);
        let inside = folder
            .canonicalize()
            .with_context(|| format!("can't find the folder of {path}"))?;
        if !inside.starts_with(&self.root) {
            return Err(anyhow::anyhow!("{path} leads out of the lab's folder").into());
        }
        let beside = Beside::write(&file, "", text)?;
        // A hard link, unlike a rename, does not replace what is there.
        match fs::hard_link(&beside.path, &file) {
            Ok(()) => {
                sync_folder(&file);
                Ok(())
            }
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
                Err(NotWritten::Taken(path.to_string()))
            }
            Err(error) => Err(anyhow::Error::new(error)
                .context(format!("can't write {path}"))
                .into()),
        }
    }

    /// Waits for the lock of all writers: the folder of shoes itself, so that no
    /// file of ours lies about. It ends with the process that holds it.
    fn lock(&self) -> Result<File, NotWritten> {
        let folder = self.root.join("shoes");
        let file =
            File::open(&folder).with_context(|| format!("can't open {}", folder.display()))?;
        flock(&file, FlockOperation::LockExclusive)
            .with_context(|| format!("can't lock {}", folder.display()))?;
        Ok(file)
    }
}

/// A file under a hidden name beside its place, gone when dropped.
struct Beside {
    path: PathBuf,
}

impl Drop for Beside {
    fn drop(&mut self) {
        // Renamed, it is not there any more; else it is of no use.
        let _ = fs::remove_file(&self.path);
    }
}

impl Beside {
    fn write(file: &Path, mark: &str, text: &str) -> anyhow::Result<Beside> {
        let name = file
            .file_name()
            .context("a file has a name")?
            .to_string_lossy();
        let path = file.with_file_name(format!(".{name}.{}.tmp", std::process::id()));
        let beside = Beside { path };
        let say = || format!("can't write beside {}", file.display());
        let _ = fs::remove_file(&beside.path);
        let mut open = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&beside.path)
            .with_context(say)?;
        open.write_all(mark.as_bytes())
            .and_then(|()| open.write_all(text.as_bytes()))
            .and_then(|()| open.sync_all())
            .with_context(say)?;
        Ok(beside)
    }
}

/// Brings a rename to the disk. Where a system can't, the file is whole all the
/// same: old or new.
fn sync_folder(file: &Path) {
    if let Some(folder) = file.parent()
        && let Ok(open) = File::open(folder)
    {
        let _ = open.sync_all();
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt as _;

    fn lab() -> (tempfile::TempDir, Writer, RelPath) {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("shoes")).unwrap();
        fs::write(folder.path().join("shoes/a.yaml"), "a: 1\n").unwrap();
        let writer = Writer::new(&Root::open(folder.path()).unwrap()).unwrap();
        (folder, writer, "shoes/a.yaml".parse().unwrap())
    }

    fn names(folder: &tempfile::TempDir) -> Vec<String> {
        let entries = fs::read_dir(folder.path().join("shoes")).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_is_replaced_with_its_mode_and_nothing_is_left_beside_it() {
        let (folder, writer, path) = lab();
        let file = folder.path().join("shoes/a.yaml");
        fs::set_permissions(&file, fs::Permissions::from_mode(0o664)).unwrap();
        writer
            .replace(&path, blake3::hash(b"a: 1\n"), "a: 2\n")
            .unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"a: 2\n");
        assert_eq!(
            fs::metadata(&file).unwrap().permissions().mode() & 0o777,
            0o664
        );
        assert_eq!(names(&folder), ["a.yaml"]);
    }

    #[test]
    fn a_change_made_meanwhile_is_never_written_over() {
        let (folder, writer, path) = lab();
        let file = folder.path().join("shoes/a.yaml");
        let was = blake3::hash(b"a: 1\n");
        let late = writer.replace_after(&path, was, "a: 2\n", || {
            fs::write(&file, "a: 3\n").unwrap();
        });
        assert!(matches!(late, Err(NotWritten::Changed(_))));
        assert_eq!(fs::read(&file).unwrap(), b"a: 3\n");
        let gone = writer.replace_after(&path, was, "a: 2\n", || fs::remove_file(&file).unwrap());
        assert!(matches!(gone, Err(NotWritten::Changed(_))));
        assert_eq!(names(&folder), [] as [&str; 0]);
    }

    #[test]
    fn a_byte_order_mark_stays() {
        let (folder, writer, path) = lab();
        let file = folder.path().join("shoes/a.yaml");
        fs::write(&file, "\u{FEFF}a: 1\n").unwrap();
        let was = blake3::hash("\u{FEFF}a: 1\n".as_bytes());
        writer.replace(&path, was, "a: 2\n").unwrap();
        assert_eq!(fs::read_to_string(&file).unwrap(), "\u{FEFF}a: 2\n");
    }

    #[test]
    fn a_new_file_never_replaces_one_and_no_link_leads_out() {
        let (folder, writer, path) = lab();
        assert!(matches!(
            writer.create(&path, "b: 1\n"),
            Err(NotWritten::Taken(_))
        ));
        writer
            .create(&"shoes/b.yaml".parse().unwrap(), "b: 1\n")
            .unwrap();
        assert_eq!(names(&folder), ["a.yaml", "b.yaml"]);
        let outside = tempfile::NamedTempFile::new().unwrap();
        std::os::unix::fs::symlink(outside.path(), folder.path().join("shoes/c.yaml")).unwrap();
        let led = writer.replace(&"shoes/c.yaml".parse().unwrap(), blake3::hash(b""), "x");
        assert!(matches!(led, Err(NotWritten::Failed(_))));
        assert_eq!(fs::read(outside.path()).unwrap(), b"");
    }

    #[test]
    fn of_many_writers_at_once_each_writes_or_is_told() {
        let (folder, writer, path) = lab();
        let written = std::sync::atomic::AtomicUsize::new(0);
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    let was = blake3::hash(b"a: 1\n");
                    if writer.replace(&path, was, "a: 2\n").is_ok() {
                        written.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
                    }
                });
            }
        });
        assert_eq!(written.into_inner(), 1);
        assert_eq!(names(&folder), ["a.yaml"]);
    }
}
