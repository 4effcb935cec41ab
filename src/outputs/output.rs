//! The trait every output has, and the sheets it plans.

use super::pages::OwnPage;
use super::view::View;
use crate::edition::Edition;
use crate::files::Slug;
use serde::Serialize;
use std::borrow::Cow;
use std::fmt;
use std::io;

/// One thing that the folio contains.
pub trait Output: Send + Sync {
    /// Its name, such as `review-page`.
    fn name(&self) -> &'static str;

    /// Its sheets for an edition, in a stated order. Planning is cheap: views
    /// are made later, one at a time, on whichever thread renders.
    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>>;

    /// Whether its pages and prints are made in every language. What is no page
    /// and no print is made once.
    fn speaks(&self) -> bool {
        true
    }
}

/// What an output must know beyond the edition.
#[derive(Clone, Debug, Default)]
pub struct Surroundings {
    /// Whether prints are made in this run or there already; pages link to them only then.
    pub prints: bool,
    /// The shop's stock the fit guide is limited to.
    pub stock: Option<Stock>,
    /// The static files of the templates folder, by their names there, rising.
    pub statics: Vec<String>,
    /// The pages the lab's own templates add, by the templates' names.
    pub pages: Vec<OwnPage>,
    /// The further language pages and prints are made in, by its place among the
    /// lab's; none for the lab's own.
    pub tongue: Option<usize>,
    /// The same for each further language; see [`Surroundings::in_tongues`].
    pub tongues: Vec<Surroundings>,
}

impl Surroundings {
    /// With the surroundings of each of so many further languages.
    #[must_use]
    pub fn in_tongues(mut self, tongues: usize) -> Self {
        self.tongues.clear();
        let each = (0..tongues).map(|at| Surroundings {
            tongue: Some(at),
            ..self.clone()
        });
        self.tongues = each.collect();
        self
    }

    /// With prints.
    #[must_use]
    pub fn with_prints(mut self) -> Self {
        self.prints = true;
        self.in_tongues_again()
    }

    fn in_tongues_again(self) -> Self {
        let tongues = self.tongues.len();
        self.in_tongues(tongues)
    }
}

/// What a shop has.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stock {
    /// The shop's name.
    pub name: String,
    /// Shoes the lab has measured.
    pub shoes: Vec<Slug>,
    /// Shoes it has not.
    pub not_measured: Vec<String>,
}

/// Where in the folio a sheet lies: a relative path with forward slashes whose
/// parts are safe names. Nothing else can be written.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct FolioPath(String);

/// A text that is no path inside the folio.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnsafePath(pub String);

impl fmt::Display for UnsafePath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is no path inside the folio", self.0)
    }
}

impl std::error::Error for UnsafePath {}

impl FolioPath {
    /// A path of parts made of letters, digits, `-`, `_` and `.`, none beginning with a dot.
    ///
    /// # Errors
    /// [`UnsafePath`] for anything else.
    pub fn new(path: impl Into<String>) -> Result<Self, UnsafePath> {
        let path = path.into();
        let safe = |part: &str| {
            !part.is_empty()
                && !part.starts_with('.')
                && part
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
        };
        if path.len() <= 400 && path.split('/').all(safe) {
            Ok(FolioPath(path))
        } else {
            Err(UnsafePath(path))
        }
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The way from this sheet to the folio's root: empty or some `../`.
    pub fn to_root(&self) -> String {
        "../".repeat(self.0.matches('/').count())
    }
}

impl fmt::Display for FolioPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a sheet is about, for messages and for `--only`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// One shoe.
    Shoe(Slug),
    /// One week, as `2026-w48`.
    Week(String),
    /// The folio as a whole.
    Folio,
}

/// One file of the folio, planned.
pub struct Sheet<'e> {
    /// Where it lies.
    pub path: FolioPath,
    /// The output it belongs to.
    pub output: &'static str,
    /// What it is about.
    pub subject: Subject,
    /// How its bytes are made.
    pub make: Make<'e>,
}

/// Makes a view, when it is wanted.
pub type MakeView<'e> = Box<dyn Fn() -> Box<dyn View> + Send + Sync + 'e>;

/// Writes a sheet's bytes, the same at every call; fails only where the writing does.
pub type WriteStream<'e> = dyn Fn(&mut dyn io::Write) -> io::Result<()> + Send + Sync + 'e;

/// How a sheet's bytes are made.
pub enum Make<'e> {
    /// A tera template fills in a view.
    Page {
        /// The template's name, such as `review.html`, or `de/review.html` in another
        /// language than the lab's.
        template: Cow<'static, str>,
        /// The view.
        view: MakeView<'e>,
    },
    /// A Typst template sets a view, as a PDF.
    Print {
        /// The template's name, such as `review.typ`.
        template: Cow<'static, str>,
        /// The document's date, for its metadata: midnight UTC of this day.
        date: jiff::civil::Date,
        /// The view.
        view: MakeView<'e>,
    },
    /// The bytes themselves, such as open data.
    Bytes(Box<dyn Fn() -> Vec<u8> + Send + Sync + 'e>),
    /// The bytes themselves, so many that they are never in memory together.
    Stream(Box<WriteStream<'e>>),
    /// A file that is published as it lies: of the templates folder, such as the
    /// style sheet, or of a frozen edition.
    Static {
        /// Its name in the templates folder, or its place in the lab's.
        name: String,
    },
}

impl Sheet<'_> {
    /// The sheet in a further language: under its tag, by the templates in it.
    /// None for what is made once for all.
    pub(super) fn spoken(self, tag: &str) -> Option<Self> {
        let tagged = |template: Cow<'static, str>| Cow::Owned(format!("{tag}/{template}"));
        let make = match self.make {
            Make::Page { template, view } => Make::Page {
                template: tagged(template),
                view,
            },
            Make::Print {
                template,
                date,
                view,
            } => Make::Print {
                template: tagged(template),
                date,
                view,
            },
            Make::Bytes(_) | Make::Stream(_) | Make::Static { .. } => return None,
        };
        Some(Sheet {
            path: FolioPath::new(format!("{tag}/{}", self.path)).ok()?,
            make,
            ..self
        })
    }
}

/// Hands on what is written, and lets a function hear it: to sum it up in passing.
pub struct Heard<W, F> {
    /// Where it goes.
    pub to: W,
    /// What hears it.
    pub hear: F,
}

impl<W: io::Write, F: FnMut(&[u8])> io::Write for Heard<W, F> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.to.write(bytes)?;
        (self.hear)(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

/// What a stream comes to.
pub fn streamed(write: &WriteStream<'_>) -> Vec<u8> {
    let mut bytes = Vec::new();
    write(&mut bytes).expect("writing to memory does not fail");
    bytes
}

impl fmt::Debug for Sheet<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sheet")
            .field("path", &self.path)
            .field("output", &self.output)
            .field("subject", &self.subject)
            .finish_non_exhaustive()
    }
}
