//! What a caller asks before it plans.

use super::commit::{HIDDEN, RECORD};
use super::folder::{Folder, Trouble};
use super::record::Record;
use crate::outputs::FolioPath;
use std::path::Path;

/// This build of the program: its version and the beginning of the hash of its
/// own file, so that a page is made again by a build that might make it otherwise.
///
/// # Errors
/// If the program's file can't be read.
pub fn program() -> Result<String, Trouble> {
    let path = std::env::current_exe()
        .map_err(|error| Trouble::new("find the program's own file", error))?;
    let read = |path: &Path| -> std::io::Result<blake3::Hash> {
        let mut hasher = blake3::Hasher::new();
        hasher.update_reader(std::fs::File::open(path)?)?;
        Ok(hasher.finalize())
    };
    let hash =
        read(&path).map_err(|error| Trouble::new(format!("read {}", path.display()), error))?;
    let name = env!("CARGO_PKG_NAME");
    let version = env!("CARGO_PKG_VERSION");
    Ok(format!("{name} {version} ({})", &hash.to_hex()[..12]))
}

/// The files that the last publish left in a folio and that still lie there, in
/// order; none if there was no publish. The caller that can't set prints decides
/// with it which stay.
///
/// # Errors
/// If the record can't be read from the disk. One that is damaged is none.
pub fn standing(out: &Path) -> Result<Vec<FolioPath>, Trouble> {
    if !out.exists() {
        return Ok(Vec::new());
    }
    let out = Folder::open(out)?;
    let Some(bytes) = out.read(&format!("{HIDDEN}/{RECORD}"))? else {
        return Ok(Vec::new());
    };
    let mut paths = Vec::new();
    if let Ok(record) = Record::read(&bytes) {
        for (path, _) in record.entries() {
            if out.has(path.as_str())? {
                paths.push(path.clone());
            }
        }
    }
    Ok(paths)
}
