//! Where files come from: the disk, or memory in tests and fuzzers.

use super::RelPath;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::File;
use std::io::{self, Read as _};
use std::path::{Component, Path, PathBuf};

/// One thing found while listing a folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Listed {
    /// A file, or a link to a file within the root.
    File(RelPath),
    /// A link that leads out of the root, or is absolute.
    Outside(String),
    /// A link to a folder; it is not followed.
    LinkedFolder(String),
    /// A name that is no safe path, as far as it can be written.
    Unsafe(String),
    /// A file or folder that could not be looked at, and why.
    Unreadable(String, String),
}

/// Why a file was not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// There is none.
    Missing,
    /// A link leads out of the root, or is absolute.
    Outside,
    /// It is a folder, a pipe or a device.
    NotAFile,
    /// It is larger than the limit.
    TooLarge,
    /// The system's reason.
    Failed(String),
}

/// All access to a lab's files.
pub trait Files: Send + Sync {
    /// Everything below a folder, in any order; nothing if there is no such folder.
    fn list(&self, folder: &RelPath) -> Vec<Listed>;

    /// A file's bytes, `limit` at most.
    ///
    /// # Errors
    /// [`Refused`] says why; never reads outside the root.
    fn read(&self, path: &RelPath, limit: u64) -> Result<Vec<u8>, Refused>;
}

/// Files held in memory.
#[derive(Clone, Debug, Default)]
pub struct Memory(BTreeMap<RelPath, Vec<u8>>);

impl Memory {
    /// No files.
    pub fn new() -> Memory {
        Memory::default()
    }

    /// With one file more.
    ///
    /// # Panics
    /// If `path` is no safe path: it is written by the program, not by a lab.
    #[must_use]
    pub fn with(mut self, path: &str, bytes: impl Into<Vec<u8>>) -> Memory {
        let path = path.parse().expect("a path in memory is safe");
        self.0.insert(path, bytes.into());
        self
    }
}

impl Files for Memory {
    fn list(&self, folder: &RelPath) -> Vec<Listed> {
        let inside = |path: &&RelPath| {
            let rest = path.as_str().strip_prefix(folder.as_str());
            rest.is_some_and(|rest| rest.starts_with('/'))
        };
        let paths = self.0.keys().filter(inside);
        paths.cloned().map(Listed::File).collect()
    }

    fn read(&self, path: &RelPath, limit: u64) -> Result<Vec<u8>, Refused> {
        let bytes = self.0.get(path).ok_or(Refused::Missing)?;
        if bytes.len() as u64 > limit {
            return Err(Refused::TooLarge);
        }
        Ok(bytes.clone())
    }
}

/// Files on the disk below one folder.
#[derive(Debug)]
pub struct Disk {
    /// The folder, absolute and with its links resolved.
    root: PathBuf,
    /// The same, held open, so that files are opened beneath it.
    #[cfg(target_os = "linux")]
    handle: File,
}

impl Disk {
    /// The files below `root`.
    ///
    /// # Errors
    /// If there is no such folder, or it can't be opened.
    pub fn open(root: &Path) -> io::Result<Disk> {
        let root = root.canonicalize()?;
        if !root.is_dir() {
            return Err(io::Error::from(io::ErrorKind::NotADirectory));
        }
        Ok(Disk {
            #[cfg(target_os = "linux")]
            handle: File::open(&root)?,
            root,
        })
    }

    /// The folder, absolute and with its links resolved.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Opens a file beneath the root; the kernel refuses any link that leads out, and
    /// any that is absolute, for it leads out wherever else the folder lies.
    /// Without waiting: opening a pipe must not hang.
    #[cfg(target_os = "linux")]
    fn open_beneath(&self, path: &RelPath) -> Result<File, Refused> {
        use rustix::fs::{Mode, OFlags, ResolveFlags, openat2};
        use rustix::io::Errno;
        let opened = openat2(
            &self.handle,
            path.as_str(),
            OFlags::RDONLY | OFlags::CLOEXEC | OFlags::NONBLOCK | OFlags::NOCTTY,
            Mode::empty(),
            ResolveFlags::BENEATH | ResolveFlags::NO_MAGICLINKS,
        );
        match opened {
            Ok(file) => Ok(File::from(file)),
            Err(Errno::XDEV) => Err(Refused::Outside),
            // A kernel before 5.6, or a sandbox that doesn't know the call; and the
            // rare race with a rename.
            Err(Errno::NOSYS | Errno::PERM | Errno::AGAIN) => self.open_checked(path),
            Err(errno) => Err(refused(&io::Error::from(errno))),
        }
    }

    #[cfg(not(target_os = "linux"))]
    fn open_beneath(&self, path: &RelPath) -> Result<File, Refused> {
        self.open_checked(path)
    }

    /// The same for any system: follow all links, check, open.
    fn open_checked(&self, path: &RelPath) -> Result<File, Refused> {
        let whole = self.followed(Path::new(path.as_str()))?;
        if !whole.is_file() {
            return Err(Refused::NotAFile);
        }
        File::open(whole).map_err(|error| refused(&error))
    }

    /// Where a path below the root leads, its links followed as the kernel does beneath
    /// it: none may be absolute or step above the root, even to come back.
    fn followed(&self, path: &Path) -> Result<PathBuf, Refused> {
        let mut ahead = Vec::new();
        lay_out(path, &mut ahead)?;
        let mut at = PathBuf::new();
        let mut links = 0;
        while let Some(step) = ahead.pop() {
            if step == ".." {
                if !at.pop() {
                    return Err(Refused::Outside);
                }
                continue;
            }
            at.push(&step);
            let whole = self.root.join(&at);
            let about = whole.symlink_metadata().map_err(|error| refused(&error))?;
            if about.is_symlink() {
                links += 1;
                if links > LINK_LIMIT {
                    return Err(Refused::Failed("a circle of links".into()));
                }
                at.pop();
                let target = whole.read_link().map_err(|error| refused(&error))?;
                lay_out(&target, &mut ahead)?;
            }
        }
        Ok(self.root.join(at))
    }

    fn listed(&self, entry: Result<walkdir::DirEntry, walkdir::Error>) -> Option<Listed> {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                let gone = error
                    .io_error()
                    .is_some_and(|e| e.kind() == io::ErrorKind::NotFound);
                if gone && error.depth() == 0 {
                    return None;
                }
                let at = error.path().map(|path| self.shown(path));
                return Some(Listed::Unreadable(
                    at.unwrap_or_default(),
                    error.io_error().map_or("a circle of links".into(), reason),
                ));
            }
        };
        let kind = entry.file_type();
        if kind.is_dir() {
            return None;
        }
        let shown = self.shown(entry.path());
        if kind.is_symlink() {
            let below = entry.path().strip_prefix(&self.root);
            match self.followed(below.unwrap_or(entry.path())) {
                Err(Refused::Outside) => return Some(Listed::Outside(shown)),
                Err(refused) => return Some(Listed::Unreadable(shown, why(refused))),
                Ok(target) if target.is_dir() => return Some(Listed::LinkedFolder(shown)),
                Ok(_) => {}
            }
        }
        let safe = entry.path().strip_prefix(&self.root).ok();
        match safe.and_then(Path::to_str).map(with_slashes) {
            Some(path) => match path.parse() {
                Ok(path) => Some(Listed::File(path)),
                Err(_) => Some(Listed::Unsafe(shown)),
            },
            None => Some(Listed::Unsafe(shown)),
        }
    }

    fn shown(&self, path: &Path) -> String {
        let inside = path.strip_prefix(&self.root).unwrap_or(path);
        with_slashes(&inside.to_string_lossy())
    }
}

/// How many links one path may lead over, as on Linux (path_resolution(7)).
const LINK_LIMIT: usize = 40;

/// Lays a path's steps on a stack, the first on top.
fn lay_out(path: &Path, ahead: &mut Vec<OsString>) -> Result<(), Refused> {
    for step in path.components().rev() {
        match step {
            Component::Normal(name) => ahead.push(name.to_owned()),
            Component::ParentDir => ahead.push("..".into()),
            Component::CurDir => {}
            Component::RootDir | Component::Prefix(_) => return Err(Refused::Outside),
        }
    }
    Ok(())
}

/// Why a link that is listed can't be followed.
fn why(refused: Refused) -> String {
    match refused {
        Refused::Failed(why) => why,
        _ => "there is no such file".into(),
    }
}

fn with_slashes(path: &str) -> String {
    if cfg!(windows) {
        path.replace('\\', "/")
    } else {
        path.to_owned()
    }
}

fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".into(),
        io::ErrorKind::PermissionDenied => "reading it is not permitted".into(),
        _ => error.to_string(),
    }
}

fn refused(error: &io::Error) -> Refused {
    match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Refused::Missing,
        io::ErrorKind::IsADirectory => Refused::NotAFile,
        _ => Refused::Failed(reason(error)),
    }
}

impl Files for Disk {
    fn list(&self, folder: &RelPath) -> Vec<Listed> {
        // Hidden names (an editor's swap files, version control) are not the lab's.
        let visible = |entry: &walkdir::DirEntry| {
            entry.depth() == 0 || !entry.file_name().as_encoded_bytes().starts_with(b".")
        };
        // The folder itself may be a link; then it must stay within the root.
        let top = self.root.join(folder.as_str());
        match top.canonicalize() {
            Ok(target) if !target.starts_with(&self.root) => {
                return vec![Listed::Outside(folder.to_string())];
            }
            Ok(target) if target != top => return vec![Listed::LinkedFolder(folder.to_string())],
            _ => {}
        }
        walkdir::WalkDir::new(top)
            .follow_links(false)
            .into_iter()
            .filter_entry(visible)
            .filter_map(|entry| self.listed(entry))
            .collect()
    }

    fn read(&self, path: &RelPath, limit: u64) -> Result<Vec<u8>, Refused> {
        let file = self.open_beneath(path)?;
        let about = file.metadata().map_err(|error| refused(&error))?;
        if !about.is_file() {
            return Err(Refused::NotAFile);
        }
        if about.len() > limit {
            return Err(Refused::TooLarge);
        }
        // The file may grow while it is read: never take more than the limit.
        let mut bytes = Vec::with_capacity(usize::try_from(about.len()).unwrap_or(0) + 1);
        file.take(limit + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| refused(&error))?;
        if bytes.len() as u64 > limit {
            return Err(Refused::TooLarge);
        }
        Ok(bytes)
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    fn path(text: &str) -> RelPath {
        text.parse().unwrap()
    }

    fn lab() -> (tempfile::TempDir, Disk) {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("lab");
        std::fs::create_dir_all(root.join("shoes/sub")).unwrap();
        std::fs::write(root.join("shoes/a.yaml"), "a").unwrap();
        std::fs::write(root.join("shoes/sub/b.yaml"), "b").unwrap();
        std::fs::write(folder.path().join("secret"), "s").unwrap();
        let disk = Disk::open(&root).unwrap();
        (folder, disk)
    }

    #[test]
    fn links_out_of_the_root_are_neither_listed_as_files_nor_read() {
        let (folder, disk) = lab();
        let shoes = folder.path().join("lab/shoes");
        symlink("../../secret", shoes.join("out.yaml")).unwrap();
        symlink("a.yaml", shoes.join("in.yaml")).unwrap();
        symlink("sub", shoes.join("folder")).unwrap();
        symlink("nowhere", shoes.join("gone.yaml")).unwrap();
        let mut listed = disk.list(&path("shoes"));
        listed.sort();
        assert_eq!(
            listed,
            [
                Listed::File(path("shoes/a.yaml")),
                Listed::File(path("shoes/in.yaml")),
                Listed::File(path("shoes/sub/b.yaml")),
                Listed::Outside("shoes/out.yaml".into()),
                Listed::LinkedFolder("shoes/folder".into()),
                Listed::Unreadable("shoes/gone.yaml".into(), "there is no such file".into()),
            ]
        );
        let read = |name: &str| disk.read(&path(name), 9);
        assert_eq!(read("shoes/out.yaml"), Err(Refused::Outside));
        assert_eq!(read("shoes/in.yaml"), Ok(b"a".to_vec()));
        assert_eq!(read("shoes/gone.yaml"), Err(Refused::Missing));
        let checked = |name: &str| disk.open_checked(&path(name)).map(|_| ());
        assert_eq!(checked("shoes/out.yaml"), Err(Refused::Outside));
        assert_eq!(checked("shoes/in.yaml"), Ok(()));
        assert_eq!(checked("shoes/sub"), Err(Refused::NotAFile));
    }

    #[test]
    fn a_link_that_is_absolute_or_leaves_to_come_back_is_outside_on_every_system() {
        let (_folder, disk) = lab();
        let shoes = disk.root().join("shoes");
        symlink(shoes.join("a.yaml"), shoes.join("absolute.yaml")).unwrap();
        symlink("../../lab/shoes/a.yaml", shoes.join("back.yaml")).unwrap();
        symlink("sub/../sub/b.yaml", shoes.join("turns.yaml")).unwrap();
        symlink("round.yaml", shoes.join("round.yaml")).unwrap();
        let listed = disk.list(&path("shoes"));
        for (name, read) in [
            ("shoes/absolute.yaml", Err(Refused::Outside)),
            ("shoes/back.yaml", Err(Refused::Outside)),
            ("shoes/turns.yaml", Ok(())),
        ] {
            let as_listed = match &read {
                Ok(()) => Listed::File(path(name)),
                Err(_) => Listed::Outside(name.into()),
            };
            assert!(listed.contains(&as_listed), "{name}: {listed:?}");
            assert_eq!(disk.read(&path(name), 9).map(|_| ()), read, "{name}");
            assert_eq!(disk.open_checked(&path(name)).map(|_| ()), read, "{name}");
        }
        let round = Listed::Unreadable("shoes/round.yaml".into(), "a circle of links".into());
        assert!(listed.contains(&round), "{listed:?}");
    }

    #[test]
    fn a_linked_top_folder_is_not_followed() {
        let (folder, disk) = lab();
        symlink("/", folder.path().join("lab/all")).unwrap();
        assert_eq!(disk.list(&path("all")), [Listed::Outside("all".into())]);
        assert_eq!(
            disk.read(&path("all/etc/passwd"), 9999),
            Err(Refused::Outside)
        );
    }

    #[test]
    fn a_pipe_and_a_folder_are_refused_without_waiting() {
        let (folder, disk) = lab();
        let pipe = folder.path().join("lab/shoes/pipe.yaml");
        let made = rustix::fs::mknodat(
            rustix::fs::CWD,
            &pipe,
            rustix::fs::FileType::Fifo,
            rustix::fs::Mode::RWXU,
            0,
        );
        made.unwrap();
        assert_eq!(
            disk.read(&path("shoes/pipe.yaml"), 9),
            Err(Refused::NotAFile)
        );
        assert_eq!(disk.read(&path("shoes/sub"), 9), Err(Refused::NotAFile));
        assert_eq!(disk.read(&path("shoes/none"), 9), Err(Refused::Missing));
    }

    #[test]
    fn a_file_is_read_up_to_its_limit_and_not_over() {
        let (folder, disk) = lab();
        std::fs::write(folder.path().join("lab/x"), "12345").unwrap();
        assert_eq!(disk.read(&path("x"), 5), Ok(b"12345".to_vec()));
        assert_eq!(disk.read(&path("x"), 4), Err(Refused::TooLarge));
    }

    #[test]
    fn names_that_are_no_text_are_reported_and_hidden_ones_left_alone() {
        use std::os::unix::ffi::OsStrExt as _;
        let (folder, disk) = lab();
        let shoes = folder.path().join("lab/shoes");
        let odd = std::ffi::OsStr::from_bytes(b"\xFFx.yaml");
        if std::fs::write(shoes.join(odd), "").is_err() {
            return; // this disk allows UTF-8 names only
        }
        std::fs::write(shoes.join("a\\b.yaml"), "").unwrap();
        std::fs::write(shoes.join(".swap.yaml"), "").unwrap();
        let listed = disk.list(&path("shoes"));
        assert!(listed.contains(&Listed::Unsafe("shoes/\u{FFFD}x.yaml".into())));
        assert!(listed.contains(&Listed::Unsafe("shoes/a\\b.yaml".into())));
        assert!(!format!("{listed:?}").contains("swap"));
    }

    #[test]
    fn a_folder_that_is_not_there_lists_nothing() {
        let (_folder, disk) = lab();
        assert_eq!(disk.list(&path("none")), []);
        assert_eq!(Memory::new().list(&path("none")), []);
    }
}
