//! The lab's own templates: single files that stand in for the built-in ones.

use crate::diagnostics::Problem;
use crate::files::Root;
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

/// Reads the lab's own templates.
///
/// # Errors
/// Every file that can't be read.
pub fn read_templates(root: &Root) -> Result<OwnTemplates, Vec<Problem>> {
    let mut own = OwnTemplates::default();
    let mut problems = Vec::new();
    for (folder, print) in [("templates/html", false), ("templates/print", true)] {
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
