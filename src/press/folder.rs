//! Handles on folders, through which everything in `out/` is reached.
//!
//! Whoever writes or removes walks a path part by part ([`Walker`]), and no part
//! may be a symbolic link: whatever is put into `out/`, nothing outside it is
//! written or removed through it. Whoever only looks or reads follows no link at
//! the path's end; a folder on the way that is one is told before anything is
//! written below it. Only `out/` itself may be a link, for it is the lab who names it.
//!
//! Every failure is a [`Trouble`] that names the file and what was tried.

use rayon::prelude::*;
use rustix::fd::{AsFd, OwnedFd};
use rustix::fs::{AtFlags, FileType, Mode, OFlags, RenameFlags, Stat};
use rustix::io::Errno;
use std::fmt;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Reading or writing failed.
#[derive(Debug)]
pub struct Trouble {
    /// What was tried, such as `write out/index.html`.
    pub tried: String,
    /// What the system said.
    pub error: io::Error,
}

impl Trouble {
    /// A failure of `tried`.
    pub fn new(tried: impl Into<String>, error: impl Into<io::Error>) -> Self {
        Trouble {
            tried: tried.into(),
            error: error.into(),
        }
    }

    /// Whether a part of the way is a link, or no folder.
    pub(super) fn is_no_folder(&self) -> bool {
        matches!(
            Errno::from_io_error(&self.error),
            Some(Errno::LOOP | Errno::NOTDIR)
        )
    }

    fn hint(&self) -> Option<&'static str> {
        match Errno::from_io_error(&self.error)? {
            Errno::NOSPC | Errno::DQUOT => Some("free some space and publish again"),
            Errno::ACCESS | Errno::PERM | Errno::ROFS => {
                Some("give yourself the right to write there and publish again")
            }
            Errno::LOOP => Some("replace the symbolic link with a real folder"),
            _ => None,
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "could not {}: {}", self.tried, self.error)?;
        if let Some(hint) = self.hint() {
            write!(f, "; {hint}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Trouble {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.error)
    }
}

/// What the file system says of a file without reading it. Two equal metas of
/// one path are the same content, unless the file was changed within one tick
/// of the file system's clock (see the stamp).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Meta {
    /// Size in bytes.
    pub size: u64,
    /// The file's number on its file system.
    pub inode: u64,
    /// When the content was last changed, in nanoseconds since 1970.
    pub modified: i64,
    /// When content or attributes were last changed, in nanoseconds since 1970.
    pub changed: i64,
}

impl Meta {
    /// The meta of a stat answer.
    #[allow(
        clippy::useless_conversion,
        clippy::cast_sign_loss,
        clippy::unnecessary_cast,
        reason = "the fields' types differ between systems"
    )]
    pub fn of(stat: &Stat) -> Self {
        let nanoseconds = |seconds: i64, nanoseconds: i64| {
            seconds
                .saturating_mul(1_000_000_000)
                .saturating_add(nanoseconds)
        };
        Meta {
            size: stat.st_size as u64,
            inode: stat.st_ino as u64,
            modified: nanoseconds(stat.st_mtime as i64, stat.st_mtime_nsec as i64),
            changed: nanoseconds(stat.st_ctime as i64, stat.st_ctime_nsec as i64),
        }
    }
}

/// What lies at a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lies {
    /// Nothing.
    Nothing,
    /// A file.
    File(Meta),
    /// A folder.
    Folder,
    /// A symbolic link, never followed.
    Link,
    /// A device, a pipe, a socket.
    Other,
}

/// An open folder.
#[derive(Debug)]
pub struct Folder {
    handle: OwnedFd,
    path: PathBuf,
}

const FOLDER: OFlags = OFlags::RDONLY
    .union(OFlags::DIRECTORY)
    .union(OFlags::CLOEXEC);

/// Folders are made like this, less the umask.
const FOLDER_MODE: Mode = Mode::from_raw_mode(0o755);
/// Files are made like this, less the umask.
const FILE_MODE: Mode = Mode::from_raw_mode(0o644);

impl Folder {
    /// Opens a folder the lab names, making it and those above it if they are missing.
    pub fn make(path: &Path) -> Result<Self, Trouble> {
        std::fs::create_dir_all(path)
            .map_err(|error| Trouble::new(format!("make the folder {}", path.display()), error))?;
        Folder::open(path)
    }

    /// Opens a folder the lab names.
    pub fn open(path: &Path) -> Result<Self, Trouble> {
        let handle = rustix::fs::open(path, FOLDER, Mode::empty())
            .map_err(|error| Trouble::new(format!("open the folder {}", path.display()), error))?;
        Ok(Folder {
            handle,
            path: path.to_owned(),
        })
    }

    /// Where the folder is, for messages.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A failure of doing something to a name in this folder.
    pub fn trouble(&self, verb: &str, name: &str, error: impl Into<io::Error>) -> Trouble {
        Trouble::new(format!("{verb} {}", self.path.join(name).display()), error)
    }

    /// Opens the folder `name` directly in this one.
    pub fn folder(&self, name: &str) -> Result<Folder, Trouble> {
        let flags = FOLDER | OFlags::NOFOLLOW;
        let handle =
            rustix::fs::openat(&self.handle, name, flags, Mode::empty()).map_err(|error| {
                // Linux says `not a directory` of a link where it means `a link`.
                let error = match (error, self.lies(name)) {
                    (Errno::NOTDIR, Ok(Lies::Link)) => Errno::LOOP,
                    _ => error,
                };
                self.trouble("open the folder", name, error)
            })?;
        Ok(Folder {
            handle,
            path: self.path.join(name),
        })
    }

    /// Opens the folder `name` directly in this one, making it if it is missing.
    pub fn folder_made(&self, name: &str) -> Result<Folder, Trouble> {
        match rustix::fs::mkdirat(&self.handle, name, FOLDER_MODE) {
            Ok(()) | Err(Errno::EXIST) => self.folder(name),
            Err(error) => Err(self.trouble("make the folder", name, error)),
        }
    }

    /// What lies at a path. Only the last part is certain not to be reached
    /// through a link; whoever writes goes through [`Walker`].
    pub fn lies(&self, path: &str) -> Result<Lies, Trouble> {
        match rustix::fs::statat(&self.handle, path, AtFlags::SYMLINK_NOFOLLOW) {
            Ok(stat) => Ok(match FileType::from_raw_mode(stat.st_mode) {
                FileType::RegularFile => Lies::File(Meta::of(&stat)),
                FileType::Directory => Lies::Folder,
                FileType::Symlink => Lies::Link,
                _ => Lies::Other,
            }),
            Err(Errno::NOENT | Errno::NOTDIR) => Ok(Lies::Nothing),
            Err(error) => Err(self.trouble("look at", path, error)),
        }
    }

    /// The meta of the file a path leads to, through links too; `None` if there
    /// is none, or it is no file. For the lab's own files, never for `out/`.
    pub fn meta_through_links(&self, path: &Path) -> Option<Meta> {
        let stat = rustix::fs::statat(&self.handle, path, AtFlags::empty()).ok()?;
        (FileType::from_raw_mode(stat.st_mode) == FileType::RegularFile).then(|| Meta::of(&stat))
    }

    /// Whether anything lies at a path.
    pub fn has(&self, path: &str) -> Result<bool, Trouble> {
        Ok(self.lies(path)? != Lies::Nothing)
    }

    /// Reads a file of this folder; `None` if there is none.
    pub fn read(&self, path: &str) -> Result<Option<Vec<u8>>, Trouble> {
        let flags = OFlags::RDONLY | OFlags::CLOEXEC | OFlags::NOFOLLOW | OFlags::NONBLOCK;
        let handle = match rustix::fs::openat(&self.handle, path, flags, Mode::empty()) {
            Ok(handle) => handle,
            Err(Errno::NOENT | Errno::NOTDIR) => return Ok(None),
            Err(error) => return Err(self.trouble("read", path, error)),
        };
        let mut bytes = Vec::new();
        File::from(handle)
            .read_to_end(&mut bytes)
            .map_err(|error| self.trouble("read", path, error))?;
        Ok(Some(bytes))
    }

    /// Writes a file that isn't there yet; returns its meta.
    pub fn write_new(&self, name: &str, bytes: &[u8]) -> Result<Meta, Trouble> {
        let (meta, ()) = self.write_new_by(name, |file| file.write_all(bytes))?;
        Ok(meta)
    }

    /// Writes a file that isn't there yet as a function does; returns its meta, and
    /// what the function tells.
    pub fn write_new_by<T>(
        &self,
        name: &str,
        write: impl FnOnce(&mut File) -> io::Result<T>,
    ) -> Result<(Meta, T), Trouble> {
        let flags =
            OFlags::WRONLY | OFlags::CREATE | OFlags::EXCL | OFlags::CLOEXEC | OFlags::NOFOLLOW;
        let handle = rustix::fs::openat(&self.handle, name, flags, FILE_MODE)
            .map_err(|error| self.trouble("write", name, error))?;
        let mut file = File::from(handle);
        let told = write(&mut file).map_err(|error| self.trouble("write", name, error))?;
        let stat = rustix::fs::fstat(&file).map_err(|error| self.trouble("write", name, error))?;
        Ok((Meta::of(&stat), told))
    }

    /// Opens a file to lock it, making it if it is missing.
    pub fn open_lock(&self, name: &str) -> Result<File, Trouble> {
        let flags = OFlags::RDWR | OFlags::CREATE | OFlags::CLOEXEC | OFlags::NOFOLLOW;
        rustix::fs::openat(&self.handle, name, flags, FILE_MODE)
            .map(File::from)
            .map_err(|error| self.trouble("open the lock", name, error))
    }

    /// Writes a file whole: beside it first, then over it. A file at `name` is
    /// the old one or the new one at any instant, unless the power fails before
    /// [`Folder::sync`]: what is written so carries a checksum.
    pub fn write_over(&self, name: &str, bytes: &[u8]) -> Result<(), Trouble> {
        let beside = format!("{name}.new");
        self.remove(&beside)?;
        self.write_new(&beside, bytes)?;
        self.rename(&beside, self, name)
    }

    /// Renames a file of this folder to `name` in another, over what is there.
    pub fn rename(&self, from: &str, to: &Folder, name: &str) -> Result<(), Trouble> {
        rustix::fs::renameat(&self.handle, from, &to.handle, name)
            .map_err(|error| to.trouble("write", name, error))
    }

    /// Renames a file of this folder to `name` in another, where nothing may be.
    /// A file system that can't do both at once is asked first.
    pub fn rename_new(&self, from: &str, to: &Folder, name: &str) -> Result<(), Trouble> {
        let flags = RenameFlags::NOREPLACE;
        match rustix::fs::renameat_with(&self.handle, from, &to.handle, name, flags) {
            Ok(()) => Ok(()),
            Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => {
                if to.has(name)? {
                    return Err(to.trouble("write", name, Errno::EXIST));
                }
                self.rename(from, to, name)
            }
            Err(error) => Err(to.trouble("write", name, error)),
        }
    }

    /// Gives a file a second name, by a hard link or, where there are none, by
    /// copying it. `false` if there is no such file; fine if the second name is
    /// there already.
    pub fn keep_as(&self, from: &str, to: &Folder, name: &str) -> Result<bool, Trouble> {
        match rustix::fs::linkat(&self.handle, from, &to.handle, name, AtFlags::empty()) {
            Ok(()) | Err(Errno::EXIST) => Ok(true),
            Err(Errno::NOENT) => Ok(false),
            Err(Errno::PERM | Errno::OPNOTSUPP | Errno::NOSYS | Errno::MLINK | Errno::ACCESS) => {
                let Some(bytes) = self.read(from)? else {
                    return Ok(false);
                };
                let beside = format!("{name}.new");
                to.remove(&beside)?;
                to.write_new(&beside, &bytes)?;
                to.rename(&beside, to, name)?;
                Ok(true)
            }
            Err(error) => Err(self.trouble("keep", from, error)),
        }
    }

    /// Removes a file, if it is there.
    pub fn remove(&self, name: &str) -> Result<(), Trouble> {
        match rustix::fs::unlinkat(&self.handle, name, AtFlags::empty()) {
            Ok(()) | Err(Errno::NOENT) => Ok(()),
            Err(error) => Err(self.trouble("remove", name, error)),
        }
    }

    /// Removes a folder if it is there and empty; says whether it is gone.
    pub fn remove_empty(&self, path: &str) -> Result<bool, Trouble> {
        match rustix::fs::unlinkat(&self.handle, path, AtFlags::REMOVEDIR) {
            Ok(()) | Err(Errno::NOENT) => Ok(true),
            Err(Errno::NOTEMPTY | Errno::EXIST | Errno::NOTDIR) => Ok(false),
            Err(error) => Err(self.trouble("remove", path, error)),
        }
    }

    /// Removes a folder of this one with all that is in it, if it is there.
    pub fn remove_tree(&self, name: &str) -> Result<(), Trouble> {
        match self.lies(name)? {
            Lies::Nothing => return Ok(()),
            Lies::Folder => {}
            _ => return self.remove(name),
        }
        let inner = self.folder(name)?;
        for (entry, is_folder) in inner.entries()? {
            if is_folder {
                inner.remove_tree(&entry)?;
            } else {
                inner.remove(&entry)?;
            }
        }
        if self.remove_empty(name)? {
            Ok(())
        } else {
            Err(self.trouble("remove", name, Errno::NOTEMPTY))
        }
    }

    /// What is in a folder below this one; nothing if it is gone, or a link.
    pub fn entries_of(&self, path: &str) -> Result<Vec<(String, bool)>, Trouble> {
        let flags = FOLDER | OFlags::NOFOLLOW;
        match rustix::fs::openat(&self.handle, path, flags, Mode::empty()) {
            Ok(handle) => Folder {
                handle,
                path: self.path.join(path),
            }
            .entries(),
            Err(Errno::NOENT | Errno::NOTDIR | Errno::LOOP) => Ok(Vec::new()),
            Err(error) => Err(self.trouble("list", path, error)),
        }
    }

    /// What is in the folder, in no order: names, and whether each is a folder.
    /// A name that isn't UTF-8 is shown with replacement characters.
    pub fn entries(&self) -> Result<Vec<(String, bool)>, Trouble> {
        let fail = |error: Errno| Trouble::new(format!("list {}", self.path.display()), error);
        let mut found = Vec::new();
        for entry in rustix::fs::Dir::read_from(&self.handle).map_err(fail)? {
            let entry = entry.map_err(fail)?;
            let name = entry.file_name();
            if name == c"." || name == c".." {
                continue;
            }
            let is_folder = match entry.file_type() {
                FileType::Unknown => {
                    let stat = rustix::fs::statat(&self.handle, name, AtFlags::SYMLINK_NOFOLLOW)
                        .map_err(fail)?;
                    FileType::from_raw_mode(stat.st_mode) == FileType::Directory
                }
                known => known == FileType::Directory,
            };
            found.push((name.to_string_lossy().into_owned(), is_folder));
        }
        Ok(found)
    }

    /// The paths of all files below the folder that are `wanted`, in order. Names that
    /// begin with a dot are left out: no sheet can have one; the press, servers and
    /// version control do.
    pub fn files(&self, wanted: impl Fn(&str) -> bool + Sync) -> Result<Vec<String>, Trouble> {
        let mut found = Vec::new();
        let mut folders = vec![String::new()];
        while !folders.is_empty() {
            let listed = folders
                .par_iter()
                .with_min_len(16)
                .map(|folder| {
                    let entries = if folder.is_empty() {
                        self.entries()?
                    } else {
                        self.entries_of(folder)?
                    };
                    let (mut files, mut below) = (Vec::new(), Vec::new());
                    for (name, is_folder) in entries {
                        if name.starts_with('.') {
                            continue;
                        }
                        let path = if folder.is_empty() {
                            name
                        } else {
                            format!("{folder}/{name}")
                        };
                        if is_folder {
                            below.push(path);
                        } else if wanted(&path) {
                            files.push(path);
                        }
                    }
                    Ok((files, below))
                })
                .collect::<Result<Vec<_>, Trouble>>()?;
            folders = Vec::new();
            for (files, below) in listed {
                found.extend(files);
                folders.extend(below);
            }
        }
        found.sort();
        Ok(found)
    }

    /// Brings everything written to this folder's file system onto the disk.
    pub fn sync(&self) -> Result<(), Trouble> {
        #[cfg(target_os = "linux")]
        let done = rustix::fs::syncfs(self.handle.as_fd());
        #[cfg(not(target_os = "linux"))]
        let done = {
            rustix::fs::sync();
            rustix::fs::fsync(self.handle.as_fd())
        };
        done.map_err(|error| {
            Trouble::new(
                format!("bring {} onto the disk", self.path.display()),
                error,
            )
        })
    }
}

/// Walks from a folder to the folders of its files, and remembers the last
/// one: in a sorted list of files each folder is opened once.
pub struct Walker<'f> {
    root: &'f Folder,
    last: Option<(String, Folder)>,
}

impl<'f> Walker<'f> {
    /// A walker at its root.
    pub fn new(root: &'f Folder) -> Self {
        Walker { root, last: None }
    }

    /// The folder in which a path's file lies, and the file's name; `None` if
    /// there is no such folder and `making` doesn't make it.
    pub fn parent<'p>(
        &mut self,
        path: &'p str,
        making: bool,
    ) -> Result<Option<(&Folder, &'p str)>, Trouble> {
        let Some((above, name)) = path.rsplit_once('/') else {
            return Ok(Some((self.root, path)));
        };
        if self.last.as_ref().is_none_or(|(last, _)| last != above) {
            self.last = None;
            let mut folder: Option<Folder> = None;
            for part in above.split('/') {
                let at = folder.as_ref().unwrap_or(self.root);
                if !making && !at.has(part)? {
                    return Ok(None);
                }
                folder = Some(if making {
                    at.folder_made(part)?
                } else {
                    at.folder(part)?
                });
            }
            self.last = folder.map(|folder| (above.to_owned(), folder));
        }
        Ok(self.last.as_ref().map(|(_, folder)| (folder, name)))
    }
}
