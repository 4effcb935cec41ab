//! What the press asks of templates: everything of tera and Typst that it knows.

use super::interrupt::Interrupt;
use crate::diagnostics::Problem;
use crate::outputs::View;
use blake3::Hash;
use std::fmt;

/// One print to be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrintJob {
    /// Where the print will lie in the folio, such as `shoes/quarrel-2/review.pdf`;
    /// different for every job of one call.
    pub name: String,
    /// The template, such as `review.typ`, or `de/review.typ` in another language.
    pub template: String,
    /// The view, as JSON.
    pub data: Vec<u8>,
    /// The document's date, for its metadata: midnight UTC of this day.
    pub date: jiff::civil::Date,
}

/// Why one print could not be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrintProblem {
    /// What the typesetter said, whole.
    pub message: String,
}

impl fmt::Display for PrintProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for PrintProblem {}

/// Turns views into bytes. The same view, template and date give the same bytes.
pub trait Renderer: Sync {
    /// Fills a page.
    ///
    /// # Errors
    /// What is wrong in the template, with its place.
    fn page(&self, template: &str, view: Box<dyn View>) -> Result<Vec<u8>, Vec<Problem>>;

    /// The content of everything a page's template uses: itself, its parents,
    /// includes and components. It is asked once a run.
    fn page_fingerprint(&self, template: &str) -> Hash;

    /// A static file of the templates.
    fn static_file(&self, name: &str) -> Option<Vec<u8>>;

    /// What a static file's bytes must come to, where that is known beforehand:
    /// one that lies in the folio as it should is then not read again, and one
    /// that comes to something else is not published.
    fn static_sum(&self, name: &str) -> Option<Hash> {
        let _ = name;
        None
    }

    /// The content of everything a print's template uses.
    fn print_fingerprint(&self, template: &str) -> Hash;

    /// What sets the prints, with its version, such as `typst 0.15.1`. A print
    /// is made again when it changes.
    fn typesetter(&self) -> String;

    /// How many prints to hand over at once: all their data and all their bytes
    /// are in memory together.
    fn prints_at_once(&self) -> usize {
        256
    }

    /// Sets prints; one answer a job, in the jobs' order. One that fails spoils
    /// no other. When the interrupt is raised, what was set is handed back and
    /// the rest may fail.
    fn prints(
        &self,
        jobs: Vec<PrintJob>,
        interrupt: &Interrupt,
    ) -> Vec<Result<Vec<u8>, PrintProblem>>;
}
