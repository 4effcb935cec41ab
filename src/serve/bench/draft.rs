//! What was typed for one specimen and is not saved yet.

use super::begun::{NewShoe, NewSpecimen};
use super::refusal::{Conflict, Refusal};
use crate::diagnostics::KeyPath;
use crate::files::edit;
use crate::files::{Key, RelPath, Slug, Source};
use crate::lab::QuantitySpec;
use crate::rules::Judged;
use crate::serve::{Answer, Ground, answer, reading};
use crate::shoe::{Session, Side};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// How many steps can be undone.
const HISTORY: usize = 200;

/// A line of the journal.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(tag = "line", rename_all = "kebab-case")]
pub(super) enum Line {
    /// A specimen was begun, and with it perhaps a shoe.
    Started {
        shoe: Slug,
        new: Option<NewShoe>,
        specimen: NewSpecimen,
    },
    /// The readings of a quantity as they stand in its fields.
    Typed {
        shoe: Slug,
        specimen: String,
        quantity: Key,
        words: Vec<String>,
        /// What the page showed of the file when the first of them was typed.
        base: Vec<String>,
    },
    /// The last change was taken back.
    Undone { shoe: Slug, specimen: String },
    /// When the specimen left conditioning.
    Left {
        shoe: Slug,
        specimen: String,
        at: Option<i64>,
    },
    /// Saved, or given up.
    Done { shoe: Slug, specimen: String },
}

impl Line {
    /// The shoe and the specimen it is about.
    fn of(&self) -> (Slug, String) {
        let (shoe, specimen) = match self {
            Line::Started { shoe, specimen, .. } => (shoe, specimen.id.trim()),
            Line::Typed { shoe, specimen, .. }
            | Line::Undone { shoe, specimen }
            | Line::Left { shoe, specimen, .. }
            | Line::Done { shoe, specimen } => (shoe, specimen.as_str()),
        };
        (shoe.clone(), specimen.to_owned())
    }

    /// Those that still count: what was saved or given up needs no line any more.
    pub fn unfinished(lines: Vec<Line>) -> Vec<Line> {
        let mut done = BTreeSet::new();
        let mut still: Vec<Line> = lines
            .into_iter()
            .rev()
            .filter(|line| {
                if let Line::Done { .. } = line {
                    done.insert(line.of());
                }
                !done.contains(&line.of())
            })
            .collect();
        still.reverse();
        still
    }

    /// Does to the drafts what was done when the line was written.
    pub fn replay(&self, drafts: &mut BTreeMap<(Slug, String), Draft>) {
        let key = self.of();
        if let Line::Done { .. } = self {
            drafts.remove(&key);
            return;
        }
        let draft = drafts.entry(key).or_default();
        match self {
            Line::Started { new, specimen, .. } => {
                draft.new_shoe.clone_from(new);
                draft.new_specimen = Some(specimen.clone());
            }
            Line::Typed {
                quantity,
                words,
                base,
                ..
            } => draft.type_in(quantity, words, base),
            Line::Undone { .. } => draft.undo(),
            Line::Left { at, .. } => draft.left = *at,
            Line::Done { .. } => {}
        }
    }
}

/// What is typed for one specimen and not saved.
#[derive(Clone, Debug, Default)]
pub(super) struct Draft {
    pub new_shoe: Option<NewShoe>,
    pub new_specimen: Option<NewSpecimen>,
    /// When it left conditioning, in milliseconds since 1970.
    pub left: Option<i64>,
    words: BTreeMap<Key, Vec<String>>,
    base: BTreeMap<Key, Vec<String>>,
    history: Vec<(Key, Option<Vec<String>>)>,
}

/// A shoe's file as it would be saved.
pub(super) struct Composed {
    pub path: RelPath,
    pub source: Source,
    /// The hash of the file it is laid over; none if it is new.
    pub was: Option<blake3::Hash>,
}

/// What the page shows of a specimen.
#[derive(Debug, Serialize)]
pub(super) struct Sheet {
    shoe: Slug,
    specimen: String,
    title: String,
    new: bool,
    session: String,
    left: Option<i64>,
    undo: bool,
    unsaved: Vec<Key>,
    words: BTreeMap<Key, Vec<String>>,
    answers: Vec<Answer>,
}

impl Draft {
    fn type_in(&mut self, quantity: &Key, words: &[String], base: &[String]) {
        let before = self.words.insert(quantity.clone(), words.to_vec());
        let base: &[String] = self
            .base
            .entry(quantity.clone())
            .or_insert_with(|| base.to_vec());
        // Keystrokes in one field are one step.
        let same_field = match (&before, self.history.last()) {
            (Some(before), Some((last, old))) if last == quantity => {
                let old = old.as_deref().unwrap_or(base);
                keystrokes(before, words).is_some_and(|at| changed(old, before) == Some(at))
            }
            _ => false,
        };
        if !same_field && before.as_deref() != Some(words) {
            self.history.push((quantity.clone(), before));
            if self.history.len() > HISTORY {
                self.history.remove(0);
            }
        }
    }

    fn undo(&mut self) {
        match self.history.pop() {
            Some((quantity, Some(before))) => {
                self.words.insert(quantity, before);
            }
            Some((quantity, None)) => self.let_go(&quantity),
            None => {}
        }
    }

    /// Forgets what was typed of a quantity.
    pub fn let_go(&mut self, quantity: &Key) {
        self.words.remove(quantity);
        self.base.remove(quantity);
    }

    /// Whether something was typed of a quantity.
    pub fn holds(&self, quantity: &Key) -> bool {
        self.base.contains_key(quantity)
    }

    pub fn can_undo(&self) -> bool {
        !self.history.is_empty()
    }

    /// The file this is laid over, as it is now; none for a new shoe.
    fn file(ground: &Ground, shoe: &Slug) -> Result<Option<(RelPath, Source)>, Refusal> {
        let Some(path) = ground.files.get(shoe) else {
            return Ok(None);
        };
        let source = ground
            .root()
            .read(path)
            .map_err(|problem| Refusal::problems(&[problem]))?;
        Ok(Some((path.clone(), source)))
    }

    /// The text with the specimen in it, without what was typed.
    fn ground_text(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
    ) -> Result<(Composed, usize), Refusal> {
        let composed = match (
            Self::file(ground, shoe)?,
            &self.new_shoe,
            &self.new_specimen,
        ) {
            (Some((path, source)), _, _) => Composed {
                path,
                was: Some(source.hash),
                source,
            },
            (None, Some(new), Some(specimen)) => {
                let path: RelPath = format!("shoes/{shoe}.yaml")
                    .parse()
                    .map_err(|_| Refusal::said(422, "the shoe's address is no name of a file"))?;
                Composed {
                    source: Source::new(path.as_str(), new.text(specimen)),
                    path,
                    was: None,
                }
            }
            _ => return Err(Refusal::said(404, format!("there is no shoe `{shoe}`"))),
        };
        let file: crate::shoe::ShoeFile = crate::files::yaml::read(&composed.source)
            .map_err(|problems| Refusal::problems(&problems))?;
        if let Some(at) = file.specimens.iter().position(|one| one.id == specimen) {
            return Ok((composed, at));
        }
        let Some(new) = &self.new_specimen else {
            return Err(Refusal::said(
                404,
                format!("{shoe} has no specimen `{specimen}`"),
            ));
        };
        let list = KeyPath::root().key("specimens");
        let text = edit::append(&composed.source, &list, &new.entries())
            .map_err(|refused| Refusal::said(422, refused.to_string()))?;
        let source = Source::new(composed.path.as_str(), text);
        Ok((Composed { source, ..composed }, file.specimens.len()))
    }

    /// The file as it would be saved; with `good` only readings that can be taken
    /// are in it.
    pub fn compose(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
        good: bool,
    ) -> Result<Composed, Refusal> {
        let (mut composed, at) = self.ground_text(ground, shoe, specimen)?;
        let readings = readings_path(at);
        for (quantity, words) in &self.words {
            let spec = ground.lab.protocol.quantities.get(quantity);
            let Some(spec) = spec else { continue };
            let kept: Vec<String> = words
                .iter()
                .filter(|word| !word.is_empty() && (!good || reading(word, spec).is_ok()))
                .cloned()
                .collect();
            if kept.is_empty() {
                continue;
            }
            let text = edit::set(&composed.source, &readings, quantity.as_str(), &kept)
                .map_err(|refused| Refusal::said(422, format!("{quantity}: {refused}")))?;
            composed.source = Source::new(composed.path.as_str(), text);
        }
        Ok(composed)
    }

    pub fn judge(&self, ground: &Ground, shoe: &Slug, specimen: &str) -> Result<Judged, Refusal> {
        let composed = self.compose(ground, shoe, specimen, true)?;
        ground
            .judge(shoe, &composed.source)
            .map_err(|problems| Refusal::problems(&problems))
    }

    /// The judged shoe, and the readings of a quantity as typed or as in its file.
    pub fn judge_quantity(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
        quantity: &Key,
    ) -> Result<(Judged, Vec<String>), Refusal> {
        let words = match self.words.get(quantity) {
            Some(words) => words
                .iter()
                .filter(|word| !word.is_empty())
                .cloned()
                .collect(),
            None => self.base_of(ground, shoe, specimen, quantity)?,
        };
        Ok((self.judge(ground, shoe, specimen)?, words))
    }

    /// What the file holds of a quantity, or was shown to hold when it was first typed.
    pub fn base_of(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
        quantity: &Key,
    ) -> Result<Vec<String>, Refusal> {
        if let Some(base) = self.base.get(quantity) {
            return Ok(base.clone());
        }
        let (composed, at) = self.ground_text(ground, shoe, specimen)?;
        let words = edit::words(&composed.source, &readings_path(at), quantity.as_str());
        Ok(words.unwrap_or_default())
    }

    /// The quantities that the file and the desk have changed, each its own way; and
    /// the hash of the file that was looked at, none if it is new.
    pub fn conflicts(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
    ) -> Result<(Vec<Conflict>, Option<blake3::Hash>), Refusal> {
        let (composed, at) = self.ground_text(ground, shoe, specimen)?;
        let mut conflicts = Vec::new();
        for (quantity, mine) in &self.words {
            let file = edit::words(&composed.source, &readings_path(at), quantity.as_str());
            let file = file.unwrap_or_default();
            let base = self.base.get(quantity).cloned().unwrap_or_default();
            let given = mine.iter().filter(|word| !word.is_empty());
            if file != base && !given.eq(&file) {
                let spec = ground.lab.protocol.quantities.get(quantity);
                conflicts.push(Conflict {
                    quantity: quantity.clone(),
                    label: spec.map_or_else(|| quantity.to_string(), |spec| spec.label.to_string()),
                    mine: mine.clone(),
                    file,
                });
            }
        }
        Ok((conflicts, composed.was))
    }

    /// A reading that can't be taken is not saved, and nothing is left out unsaid.
    pub fn refuse_wrong(&self, ground: &Ground) -> Result<(), Refusal> {
        let mut said = Vec::new();
        for (quantity, words) in &self.words {
            let Some(spec) = ground.lab.protocol.quantities.get(quantity) else {
                let given = words.iter().map(String::as_str);
                let given: Vec<&str> = given.filter(|word| !word.is_empty()).collect();
                if !given.is_empty() {
                    said.push(format!(
                        "`{quantity}` is in the protocol no more, and was typed here: {}; put \
                         it back there, or note the readings and undo them",
                        given.join(", ")
                    ));
                }
                continue;
            };
            said.extend(wrong(spec, words));
            let emptied = words.iter().all(String::is_empty);
            if emptied && self.base.get(quantity).is_some_and(|base| !base.is_empty()) {
                said.push(format!(
                    "{}: every trial is empty, and the file has readings; type one, undo, or \
                     take the entry out of the file by hand",
                    spec.label
                ));
            }
        }
        if said.is_empty() {
            return Ok(());
        }
        Err(Refusal {
            status: 422,
            body: serde_json::json!({ "said": said }),
        })
    }

    pub fn sheet(&self, ground: &Ground, shoe: &Slug, specimen: &str) -> Result<Sheet, Refusal> {
        let judged = self.judge(ground, shoe, specimen)?;
        let one = judged
            .shoe
            .file
            .specimens
            .iter()
            .find(|one| one.id == specimen);
        let one =
            one.ok_or_else(|| Refusal::said(404, format!("there is no specimen `{specimen}`")))?;
        let (composed, at) = self.ground_text(ground, shoe, specimen)?;
        let mut words = BTreeMap::new();
        let mut answers = Vec::new();
        for (key, spec) in ground.lab.protocol.quantities.iter() {
            if spec.from.is_some() {
                continue;
            }
            let of_file = || edit::words(&composed.source, &readings_path(at), key.as_str());
            let typed = self.words.get(key).cloned();
            let now = typed.or_else(of_file).unwrap_or_default();
            let given: Vec<String> = now
                .iter()
                .filter(|word| !word.is_empty())
                .cloned()
                .collect();
            if !given.is_empty() {
                answers.extend(answer(ground, &judged, specimen, key, &given));
            }
            words.insert(key.clone(), now);
        }
        Ok(Sheet {
            shoe: shoe.clone(),
            specimen: specimen.to_owned(),
            title: judged.shoe.title(),
            new: self.new_specimen.is_some(),
            session: session_text(ground, &one.session, one.side),
            left: self.left,
            undo: self.can_undo(),
            unsaved: self.words.keys().cloned().collect(),
            words,
            answers,
        })
    }

    /// Whether there is something to save.
    pub fn is_unsaved(&self) -> bool {
        !self.words.is_empty() || self.new_specimen.is_some()
    }
}

/// The one place at which two lists of words differ; an empty word at the end is none.
fn changed(old: &[String], new: &[String]) -> Option<usize> {
    let word = |words: &[String], at: usize| words.get(at).cloned().unwrap_or_default();
    let places = 0..old.len().max(new.len());
    let mut differing = places.filter(|at| word(old, *at) != word(new, *at));
    let at = differing.next()?;
    differing.next().is_none().then_some(at)
}

/// The place at which one word only grew or shrank, and is still there.
fn keystrokes(old: &[String], new: &[String]) -> Option<usize> {
    let at = changed(old, new)?;
    let (was, is) = (old.get(at)?, new.get(at)?);
    let kept = is.starts_with(was.as_str()) || was.starts_with(is.as_str());
    (old.len() == new.len() && kept && !is.is_empty()).then_some(at)
}

fn wrong(spec: &QuantitySpec, words: &[String]) -> Vec<String> {
    let words = words
        .iter()
        .enumerate()
        .filter(|(_, word)| !word.is_empty());
    words
        .filter_map(|(at, word)| {
            let wrong = reading(word, spec).err()?;
            Some(format!("{}, trial {}: {wrong}", spec.label, at + 1))
        })
        .collect()
}

fn session_text(ground: &Ground, session: &Session, side: Side) -> String {
    let operators = &ground.lab.settings.operators;
    let operator = operators
        .get(&session.operator)
        .map_or(session.operator.as_str(), String::as_str);
    let side = match side {
        Side::Left => "left",
        Side::Right => "right",
    };
    format!(
        "{side}, {}, {operator}, {}, {}, conditioned {}",
        session.on.text(),
        in_words(session.temperature, "°C"),
        in_words(session.humidity, "%"),
        in_words(session.soaked, "h")
    )
}

fn in_words(amount: crate::quantity::Amount, unit: &str) -> String {
    match amount.unit {
        Some(_) => amount.to_string(),
        None => format!("{} {unit}", amount.value),
    }
}

fn readings_path(specimen: usize) -> KeyPath {
    let specimens = KeyPath::root().key("specimens");
    specimens.index(specimen).key("readings")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(words: &[&str]) -> Vec<String> {
        words.iter().map(|word| (*word).to_owned()).collect()
    }

    #[test]
    fn undoing_takes_back_the_last_word_and_no_other() {
        let mass: Key = "mass".parse().unwrap();
        let mut draft = Draft::default();
        let file = words(&["4.0"]);
        for typed in [
            &["4"][..],
            &["4.3"],
            &["4.3", "5"],
            &["4.3", "5.4"],
            // Another field, then another word in the same one, then none.
            &["4.31", "5.4"],
            &["9", "5.4"],
            &["", "5.4"],
        ] {
            draft.type_in(&mass, &words(typed), &file);
        }
        for before in [
            &["9", "5.4"][..],
            &["4.31", "5.4"],
            &["4.3", "5.4"],
            &["4.3"],
        ] {
            draft.undo();
            assert_eq!(draft.words[&mass], words(before));
        }
        draft.undo();
        assert!(!draft.holds(&mass) && !draft.can_undo());
    }

    #[test]
    fn lines_of_what_is_done_are_let_go_and_bring_the_same_drafts_without() {
        let line = |kind: &str, specimen: &str, more: &str| -> Line {
            let text = format!(r#"{{"line":"{kind}","shoe":"a","specimen":"{specimen}"{more}}}"#);
            serde_json::from_str(&text).unwrap()
        };
        let mass = r#","quantity":"mass","words":["1"],"base":[]"#;
        let lines = vec![
            line("typed", "L", mass),
            line("typed", "R", mass),
            line("done", "L", ""),
            line("left", "L", r#","at":7"#),
        ];
        let replayed = |lines: &[Line]| {
            let mut drafts = BTreeMap::new();
            lines.iter().for_each(|line| line.replay(&mut drafts));
            format!("{drafts:?}")
        };
        let still = Line::unfinished(lines.clone());
        assert_eq!(still.len(), 2);
        assert_eq!(replayed(&still), replayed(&lines));
    }
}
