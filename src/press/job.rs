//! What the press is asked to do, and how it may stop.

use super::folder::Trouble;
use super::interrupt::Interrupt;
use super::progress::Progress;
use super::renderer::Renderer;
use super::stamp::InputsStamp;
use crate::diagnostics::Problem;
use crate::outputs::{FolioPath, Sheet, Subject};
use std::fmt;
use std::path::{Path, PathBuf};

/// One publish.
pub struct Job<'j> {
    /// The folio's folder; made if it is missing.
    pub out: &'j Path,
    /// All sheets of the edition.
    pub sheets: Vec<Sheet<'j>>,
    /// Makes pages and prints.
    pub renderer: &'j dyn Renderer,
    /// The program's build: pages and prints of another are made again.
    pub program: String,
    /// The inputs as they were before they were read; without them the next run
    /// can't see at a glance that nothing was touched.
    pub inputs: Option<InputsStamp>,
    /// Files of the last edition that stay although no sheet is planned for them:
    /// prints, when nothing can set them now.
    pub keep: Vec<FolioPath>,
    /// How many prints the edition would have that aren't planned; for the report.
    pub missing_prints: usize,
    /// How many shoes are held back; for the report.
    pub held_back: usize,
    /// How it is done.
    pub options: Options,
    /// Hears how far it is.
    pub progress: &'j dyn Progress,
    /// Stops it.
    pub interrupt: Interrupt,
}

/// How a publish is done.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Make all sheets again.
    pub fresh: bool,
    /// Make only these; all others stay as they are, and nothing is removed.
    pub only: Option<Only>,
    /// Say for each sheet why it was made again.
    pub why: bool,
}

/// A pattern for sheets: `*` stands for any characters, `?` for one. It must
/// match the whole of a sheet's path, or of what the sheet is about: a shoe's
/// address, or a week such as `2026-w48`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Only(String);

impl Only {
    /// A pattern.
    pub fn new(pattern: impl Into<String>) -> Self {
        Only(pattern.into())
    }

    /// Whether it is meant.
    pub fn matches(&self, sheet: &Sheet<'_>) -> bool {
        let subject = match &sheet.subject {
            Subject::Shoe(slug) => Some(slug.as_str()),
            Subject::Week(week) => Some(week.as_str()),
            Subject::Folio => None,
        };
        fits(&self.0, sheet.path.as_str()) || subject.is_some_and(|name| fits(&self.0, name))
    }
}

impl fmt::Display for Only {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Whether a pattern fits a text. On a mismatch only the last `*` has to take
/// one character more, so the time is at most the product of both lengths.
fn fits(pattern: &str, text: &str) -> bool {
    let pattern: Vec<char> = pattern.chars().collect();
    let text: Vec<char> = text.chars().collect();
    let (mut p, mut t) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, t));
                p += 1;
            }
            Some(&c) if c == '?' || c == text[t] => {
                p += 1;
                t += 1;
            }
            _ => match star {
                Some((at, taken)) => {
                    star = Some((at, taken + 1));
                    p = at + 1;
                    t = taken + 1;
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|&c| c == '*')
}

/// Why nothing was published. `out/` is as it was.
#[derive(Debug)]
pub enum Stopped {
    /// Templates or the plan have problems.
    Problems(Vec<Problem>),
    /// Something lies where a sheet goes.
    InTheWay(Vec<InTheWay>),
    /// Somebody wanted to stop.
    Interrupted,
    /// Reading or writing failed.
    Trouble(Trouble),
}

/// Something in `out/` that lies where a sheet goes, and is left alone.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct InTheWay {
    /// Where it lies.
    pub path: PathBuf,
    /// What it is.
    pub what: Obstacle,
}

/// What can be in the way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Obstacle {
    /// A file that the press has no record of.
    ForeignFile,
    /// A folder, where a file goes.
    Folder,
    /// A symbolic link, which is never followed.
    Link,
    /// A file, where a folder goes.
    FileForFolder,
    /// A device, a pipe or a socket.
    Other,
}

impl fmt::Display for InTheWay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.what {
            Obstacle::ForeignFile => "a file that publish did not write lies where a sheet goes",
            Obstacle::Folder => "a folder lies where a file goes",
            Obstacle::Link => "a symbolic link is in the folio, and links are not followed",
            Obstacle::FileForFolder => "a file lies where a folder goes",
            Obstacle::Other => "something that is no file lies where a file goes",
        };
        write!(
            f,
            "{}: {what}; move it elsewhere and publish again",
            self.path.display()
        )
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Stopped::Problems(problems) => {
                write!(f, "nothing was published, because of ")?;
                match problems.len() {
                    1 => write!(f, "a problem")?,
                    count => write!(f, "{count} problems")?,
                }
                for problem in problems {
                    write!(f, "\n{}: {}", problem.file, problem.message)?;
                }
                Ok(())
            }
            Stopped::InTheWay(all) => {
                write!(f, "nothing was published, because something is in the way")?;
                for one in all {
                    write!(f, "\n{one}")?;
                }
                Ok(())
            }
            Stopped::Interrupted => write!(f, "interrupted; nothing was published"),
            Stopped::Trouble(trouble) => write!(f, "nothing was published: {trouble}"),
        }
    }
}

impl std::error::Error for Stopped {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Stopped::Trouble(trouble) => Some(&trouble.error),
            _ => None,
        }
    }
}

impl From<Trouble> for Stopped {
    fn from(trouble: Trouble) -> Self {
        Stopped::Trouble(trouble)
    }
}

/// Whose a sheet is, for messages.
pub fn of(subject: &Subject) -> String {
    match subject {
        Subject::Shoe(slug) => slug.to_string(),
        Subject::Week(week) => week.clone(),
        Subject::Folio => "the folio".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_pattern_fits_as_a_whole() {
        for (pattern, text, expected) in [
            ("quarrel-2", "quarrel-2", true),
            ("quarrel", "quarrel-2", false),
            ("quarrel-*", "quarrel-2", true),
            ("*", "", true),
            ("?", "é", true),
            ("*/index.html", "shoes/a/index.html", true),
            ("*a*b", "xaxaxb", true),
            ("*a*b", "xaxaxbc", false),
            ("", "a", false),
        ] {
            assert_eq!(fits(pattern, text), expected, "{pattern} {text}");
        }
    }

    /// The plain definition, exponential.
    fn fits_by_definition(pattern: &[char], text: &[char]) -> bool {
        match (pattern.split_first(), text.split_first()) {
            (None, None) => true,
            (Some((&'*', rest)), _) => {
                fits_by_definition(rest, text)
                    || text
                        .split_first()
                        .is_some_and(|(_, after)| fits_by_definition(pattern, after))
            }
            (Some((&p, rest)), Some((&t, after))) => {
                (p == '?' || p == t) && fits_by_definition(rest, after)
            }
            _ => false,
        }
    }

    proptest! {
        #[test]
        fn prop_a_pattern_fits_as_defined(pattern in "[ab*?]{0,7}", text in "[ab]{0,8}") {
            let p: Vec<char> = pattern.chars().collect();
            let t: Vec<char> = text.chars().collect();
            prop_assert_eq!(fits(&pattern, &text), fits_by_definition(&p, &t));
        }
    }
}
