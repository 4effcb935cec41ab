//! The lab's own templates: single files that stand in for the built-in ones.

use crate::diagnostics::{KeyPath, Problem};
use crate::files::{RelPath, Root};
use crate::outputs::pages::OwnFile;

/// The lab's own templates; empty where it has none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnTemplates {
    /// Below `templates/html/`.
    pub pages: Vec<OwnFile>,
    /// Below `templates/print/`: name and bytes.
    pub prints: Vec<(String, Vec<u8>)>,
}

/// The most bytes of one file of the lab's own templates, pictures included.
pub const TEMPLATE_LIMIT: u64 = 8 << 20;

/// The endings of files that belong to templates.
const ENDINGS: [&str; 9] = [
    "html", "xml", "svg", "css", "js", "json", "txt", "png", "typ",
];

/// Where they lie: those of pages, and those of prints.
const FOLDERS: [&str; 2] = ["templates/html", "templates/print"];

/// Reads the lab's own templates.
///
/// # Errors
/// Every file that can't be read.
pub fn read_templates(root: &Root) -> Result<OwnTemplates, Vec<Problem>> {
    let mut own = OwnTemplates::default();
    let mut problems = Vec::new();
    for (folder, print) in FOLDERS.into_iter().zip([false, true]) {
        let listing = root.walk(folder, &ENDINGS);
        problems.extend(listing.problems);
        for file in listing.files {
            let name = file.as_str()[folder.len() + 1..].to_owned();
            match root.read_bytes(&file, TEMPLATE_LIMIT) {
                Err(problem) => problems.push(problem),
                Ok(bytes) if print => own.prints.push((name, bytes)),
                Ok(bytes) => own.pages.push(OwnFile { name, bytes }),
            }
        }
    }
    if problems.is_empty() {
        Ok(own)
    } else {
        Err(problems)
    }
}

/// Files in `templates/` that nothing reads, by their folder or ending.
pub fn check_templates(root: &Root) -> Vec<Problem> {
    let is_read = |path: &RelPath| {
        let inside = |folder: &str| {
            let below = path.as_str().strip_prefix(folder);
            below.is_some_and(|below| below.starts_with('/'))
        };
        let ending = path.ending();
        FOLDERS.into_iter().any(inside)
            && ENDINGS
                .iter()
                .any(|known| known.eq_ignore_ascii_case(ending))
    };
    let all = root.others(&RelPath::fixed("templates"), &[]).into_iter();
    let unread = all.filter(|path| !is_read(path));
    unread
        .map(|path| {
            Problem::warning(
                "not-read",
                path.as_str(),
                KeyPath::root(),
                "the file is no template by its folder or ending, and nothing reads it",
            )
            .hint(format!(
                "templates lie in {}; their endings are {}",
                FOLDERS.join("/ and ") + "/",
                ENDINGS.join(", ")
            ))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Memory;

    #[test]
    fn a_file_that_is_no_template_is_told_of() {
        let root = Root::over(
            Memory::new()
                .with("templates/html/review.html", "")
                .with("templates/html/static/logo.PNG", "")
                .with("templates/html/static/logo.jpg", "")
                .with("templates/print/review.typ", "")
                .with("templates/review.html", "")
                .with("templates/htmls/review.html", ""),
        );
        let told = check_templates(&root).into_iter();
        let files: Vec<String> = told.map(|problem| problem.file).collect();
        assert_eq!(
            files,
            [
                "templates/html/static/logo.jpg",
                "templates/htmls/review.html",
                "templates/review.html",
            ]
        );
    }
}
