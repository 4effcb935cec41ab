//! Why a sheet was made again: typed, with what was and what is.

use super::codec::Unreadable;
use super::fingerprint::{Basis, Parts};
use blake3::Hash;
use serde::Serialize;
use serde::ser::Serializer;
use std::fmt;

/// Why a sheet was made again, or removed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
pub enum Reason {
    /// It wasn't in the last edition.
    New,
    /// All sheets were asked for.
    Fresh,
    /// What the press wrote last could not be read.
    RecordUnreadable {
        /// What is wrong with the record.
        why: String,
    },
    /// Some of what it shows changed.
    ViewChanged {
        /// The parts of the view that differ.
        parts: Vec<PartChange>,
    },
    /// Its template, or something the template uses, changed.
    TemplateChanged {
        /// The template.
        template: String,
        /// The content of all it used.
        #[serde(serialize_with = "short")]
        old: Hash,
        /// The content of all it uses.
        #[serde(serialize_with = "short")]
        new: Hash,
    },
    /// It has another template.
    OtherTemplate {
        /// The template it had.
        old: String,
        /// The template it has.
        new: String,
    },
    /// Another build of the program made it.
    ProgramChanged {
        /// The build that made it.
        old: String,
        /// This build.
        new: String,
    },
    /// Another typesetter, or another version of it, set it.
    TypesetterChanged {
        /// What set it.
        old: String,
        /// What sets it now.
        new: String,
    },
    /// It is made another way: it was, say, data and is a page.
    MadeOtherwise {
        /// How it was made.
        old: Way,
        /// How it is made.
        new: Way,
    },
    /// Its bytes changed; for data and static files.
    BytesChanged {
        /// What it was.
        #[serde(serialize_with = "short")]
        old: Hash,
        /// What it is.
        #[serde(serialize_with = "short")]
        new: Hash,
    },
    /// Its file was gone from `out/`.
    OutputMissing,
    /// Its file in `out/` was changed by somebody else.
    OutputAltered {
        /// What was written.
        #[serde(serialize_with = "short")]
        old: Hash,
        /// What was found.
        #[serde(serialize_with = "short")]
        new: Hash,
    },
    /// The edition doesn't hold it any more.
    NotPlanned,
}

/// How a sheet is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// A page.
    Page,
    /// A print.
    Print,
    /// Data, or a static file.
    Bytes,
}

/// A part of a view that differs. Hashes are shown, not values: old views
/// aren't kept. What a reader sees differently is in the [`Difference`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartChange {
    /// The part.
    pub part: String,
    /// The beginning of its old hash; absent if it wasn't there.
    pub old: Option<String>,
    /// The beginning of its new hash; absent if it is gone.
    pub new: Option<String>,
}

/// The first line in which an old and a new file differ.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The line, counted from 1.
    pub line: usize,
    /// What it was; absent if the old file ended before.
    pub old: Option<String>,
    /// What it is; absent if the new file ends before.
    pub new: Option<String>,
}

/// Characters of a differing line that are shown around the difference.
const SHOWN: usize = 100;
/// Characters shown before the difference.
const BEFORE: usize = 30;

fn short<S: Serializer>(hash: &Hash, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&shown(hash))
}

/// The beginning of a hash, enough to tell two apart.
fn shown(hash: &Hash) -> String {
    hash.to_hex()[..16].to_owned()
}

impl Reason {
    /// The record can't be used.
    pub fn unreadable(why: &Unreadable) -> Self {
        Reason::RecordUnreadable { why: why.0.clone() }
    }

    /// Why a sheet with basis `old` has to be made again from `new`; empty if
    /// it hasn't.
    pub fn between(old: &Basis, new: &Basis) -> Vec<Reason> {
        let mut reasons = Vec::new();
        match (&old.typesetter, &new.typesetter) {
            (Some(was), Some(is)) if was != is => reasons.push(Reason::TypesetterChanged {
                old: was.to_string(),
                new: is.to_string(),
            }),
            (was, is) if was.is_some() != is.is_some() => reasons.push(Reason::MadeOtherwise {
                old: Way::of(Some(old)),
                new: Way::of(Some(new)),
            }),
            _ => {}
        }
        if old.template != new.template {
            reasons.push(Reason::OtherTemplate {
                old: old.template.to_string(),
                new: new.template.to_string(),
            });
        } else if old.template_print != new.template_print {
            reasons.push(Reason::TemplateChanged {
                template: new.template.to_string(),
                old: old.template_print,
                new: new.template_print,
            });
        }
        if old.program != new.program {
            reasons.push(Reason::ProgramChanged {
                old: old.program.to_string(),
                new: new.program.to_string(),
            });
        }
        if old.view.whole != new.view.whole {
            reasons.push(Reason::ViewChanged {
                parts: part_changes(&old.view.parts, &new.view.parts),
            });
        }
        reasons
    }
}

impl Way {
    /// How something with this basis was made.
    pub fn of(basis: Option<&Basis>) -> Self {
        match basis {
            None => Way::Bytes,
            Some(basis) if basis.typesetter.is_some() => Way::Print,
            Some(_) => Way::Page,
        }
    }
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Way::Page => "a page",
            Way::Print => "a print",
            Way::Bytes => "data",
        })
    }
}

fn part_changes(old: &Parts, new: &Parts) -> Vec<PartChange> {
    let find = |parts: &Parts, name: &str| {
        let place = parts.names.iter().position(|known| known == name)?;
        Some(format!("{:016x}", parts.hashes[place].swap_bytes()))
    };
    let gone = old.names.iter().filter(|name| !new.names.contains(name));
    new.names
        .iter()
        .chain(gone)
        .map(|name| PartChange {
            part: name.clone(),
            old: find(old, name),
            new: find(new, name),
        })
        .filter(|change| change.old != change.new)
        .collect()
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Reason::New => write!(f, "it is new"),
            Reason::Fresh => write!(f, "all sheets were asked for"),
            Reason::RecordUnreadable { why } => {
                write!(f, "the record of what was written can't be used: {why}")
            }
            Reason::ViewChanged { parts } => {
                let names: Vec<&str> = parts.iter().map(|part| part.part.as_str()).collect();
                match names.as_slice() {
                    [] => write!(f, "the order of what it shows changed"),
                    [name] => write!(f, "`{name}` changed"),
                    [names @ .., last] => {
                        write!(f, "`{}` and `{last}` changed", names.join("`, `"))
                    }
                }
            }
            Reason::TemplateChanged { template, old, new } => write!(
                f,
                "the template `{template}` or something it uses changed ({} → {})",
                &shown(old)[..8],
                &shown(new)[..8]
            ),
            Reason::OtherTemplate { old, new } => {
                write!(f, "its template was `{old}` and is `{new}`")
            }
            Reason::ProgramChanged { old, new } => {
                write!(f, "it was made by {old}, and this is {new}")
            }
            Reason::TypesetterChanged { old, new } => {
                write!(f, "it was set by {old}, and this is {new}")
            }
            Reason::MadeOtherwise { old, new } => write!(f, "it was {old} and is {new}"),
            Reason::BytesChanged { old, new } => write!(
                f,
                "its content changed ({} → {})",
                &shown(old)[..8],
                &shown(new)[..8]
            ),
            Reason::OutputMissing => write!(f, "its file was gone"),
            Reason::OutputAltered { old, new } => write!(
                f,
                "its file was changed by somebody else ({} → {})",
                &shown(old)[..8],
                &shown(new)[..8]
            ),
            Reason::NotPlanned => write!(f, "the edition doesn't hold it any more"),
        }
    }
}

impl Difference {
    /// The first difference of two texts; `None` if they are the same or
    /// either isn't text.
    pub fn between(old: &[u8], new: &[u8]) -> Option<Self> {
        let old = std::str::from_utf8(old).ok()?;
        let new = std::str::from_utf8(new).ok()?;
        let (mut were, mut are) = (old.lines(), new.lines());
        for line in 1.. {
            let (was, is) = (were.next(), are.next());
            if was.is_none() && is.is_none() {
                break;
            }
            if was != is {
                let same = was.unwrap_or("").chars().zip(is.unwrap_or("").chars());
                let same = same.take_while(|(a, b)| a == b).count();
                return Some(Difference {
                    line,
                    old: was.map(|text| excerpt(text, same)),
                    new: is.map(|text| excerpt(text, same)),
                });
            }
        }
        None
    }
}

fn excerpt(line: &str, same: usize) -> String {
    let skipped = same.saturating_sub(BEFORE);
    let shown: String = line.chars().skip(skipped).take(SHOWN).collect();
    let begin = if skipped > 0 { "…" } else { "" };
    let rest = line.chars().nth(skipped + SHOWN).is_some();
    format!("{begin}{}{}", shown.trim(), if rest { "…" } else { "" })
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: ", self.line)?;
        match (&self.old, &self.new) {
            (Some(old), Some(new)) => write!(f, "`{old}` → `{new}`"),
            (Some(old), None) => write!(f, "`{old}` is gone"),
            (None, Some(new)) => write!(f, "`{new}` was added"),
            (None, None) => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::press::fingerprint::ViewPrint;
    use insta::assert_snapshot;
    use serde_json::{Value, json};

    fn basis(view: &Value) -> Basis {
        Basis {
            template: "review.html".into(),
            template_print: blake3::hash(b"template"),
            program: "solefolio 1".into(),
            typesetter: None,
            view: ViewPrint::of(view, None, None),
        }
    }

    fn said(old: &Basis, new: &Basis) -> String {
        let reasons = Reason::between(old, new);
        let said: Vec<String> = reasons.iter().map(ToString::to_string).collect();
        said.join("; ")
    }

    #[test]
    fn the_same_basis_is_no_reason() {
        let one = basis(&json!({"a": 1}));
        assert_eq!(Reason::between(&one, &one.clone()), []);
    }

    #[test]
    fn a_changed_view_names_the_parts() {
        let old = basis(&json!({"shoe": 1, "findings": 2, "doubts": 3}));
        let new = basis(&json!({"shoe": 1, "findings": 3, "summary": 3}));
        assert_snapshot!(said(&old, &new), @"`findings`, `summary` and `doubts` changed");
    }

    #[test]
    fn parts_in_another_order_are_a_change() {
        let old = basis(&json!({"a": 1, "b": 2}));
        let new = basis(&json!({"b": 2, "a": 1}));
        assert_snapshot!(said(&old, &new), @"the order of what it shows changed");
    }

    #[test]
    fn all_reasons_are_told_at_once() {
        let old = basis(&json!({"a": 1}));
        let mut new = basis(&json!({"a": 2}));
        new.template_print = blake3::hash(b"other");
        new.program = "solefolio 2".into();
        assert_snapshot!(said(&old, &new), @"the template `review.html` or something it uses changed (47cb0691 → 3f796163); it was made by solefolio 1, and this is solefolio 2; `a` changed");
    }

    #[test]
    fn a_reason_is_json_with_old_and_new() {
        let reason = Reason::TypesetterChanged {
            old: "setter 1".into(),
            new: "setter 2".into(),
        };
        assert_snapshot!(serde_json::to_string(&reason).unwrap(), @r#"{"reason":"typesetter-changed","old":"setter 1","new":"setter 2"}"#);
    }

    #[test]
    fn a_difference_shows_the_line_around_it() {
        let line = "x".repeat(200);
        let old = format!("a\n{line}medium{line}\n");
        let new = format!("a\n{line}high{line}\n");
        assert_snapshot!(Difference::between(old.as_bytes(), new.as_bytes()).unwrap(), @"line 2: `…xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxmediumxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…` → `…xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxhighxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…`");
        let added = Difference::between(b"a\n", b"a\nb\n").unwrap();
        assert_snapshot!(added, @"line 2: `b` was added");
        assert_eq!(Difference::between(b"a", b"a"), None);
        assert_eq!(Difference::between(&[0xff], b"a"), None);
    }
}
