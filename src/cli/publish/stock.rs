//! Where a shop's stock list lies, and its text.

use crate::cli::desk::UsageError;
use crate::files::Root;
use anyhow::Context as _;
use std::path::{Path, PathBuf};

/// The lists a lab keeps: `lab/shops/north-quay.csv` may be named `north-quay`.
const SHOPS: &str = "lab/shops";

/// Where a list lies: as it was named, from the lab's folder, or among its shops'.
pub fn place(root: &Root, path: &Path) -> PathBuf {
    let folder = root.path().unwrap_or(Path::new("."));
    let shops = folder.join(SHOPS);
    let mut places = vec![path.to_owned(), folder.join(path), shops.join(path)];
    if path.extension().is_none() && path.components().count() == 1 {
        places.extend(["csv", "txt"].map(|ending| shops.join(path).with_extension(ending)));
    }
    places
        .into_iter()
        .find(|place| place.is_file())
        .unwrap_or_else(|| path.to_owned())
}

/// A list's name and its text.
///
/// # Errors
/// If it can't be read, or is larger than a list may be.
pub fn read(root: &Root, path: &Path) -> anyhow::Result<(String, String)> {
    let name = path
        .file_stem()
        .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    let at = place(root, path);
    let size = std::fs::metadata(&at)
        .with_context(|| format!("can't read the stock list {}", path.display()))?
        .len();
    if size > crate::files::CSV_LIMIT {
        return Err(UsageError(format!("the stock list {} is too large", path.display())).into());
    }
    let bytes = std::fs::read(&at)
        .with_context(|| format!("can't read the stock list {}", path.display()))?;
    let text = String::from_utf8(bytes).map_err(|_| {
        UsageError(format!(
            "the stock list {} is not UTF-8; save it as UTF-8",
            path.display()
        ))
    })?;
    Ok((name, text))
}
