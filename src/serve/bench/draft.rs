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
use std::collections::BTreeMap;

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
        /// What the file held when the first of them was typed.
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
    /// Does to the drafts what was done when the line was written.
    pub fn replay(&self, drafts: &mut BTreeMap<(Slug, String), Draft>) {
        let (shoe, specimen) = match self {
            Line::Started { shoe, specimen, .. } => (shoe, specimen.id.trim()),
            Line::Typed { shoe, specimen, .. }
            | Line::Undone { shoe, specimen }
            | Line::Left { shoe, specimen, .. }
            | Line::Done { shoe, specimen } => (shoe, specimen.as_str()),
        };
        let key = (shoe.clone(), specimen.to_owned());
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
        self.base
            .entry(quantity.clone())
            .or_insert_with(|| base.to_vec());
        // Keystrokes in one field are one step: its word only grew or shrank.
        let same_field = before
            .as_ref()
            .is_some_and(|before| before.len() == words.len())
            && self.history.last().is_some_and(|(last, old)| {
                last == quantity && old.as_ref().map_or(0, Vec::len) < words.len()
            });
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

    /// What the file holds of a quantity, or held when it was first typed.
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

    /// The quantities that the file and the desk have changed, each its own way.
    pub fn conflicts(
        &self,
        ground: &Ground,
        shoe: &Slug,
        specimen: &str,
    ) -> Result<Vec<Conflict>, Refusal> {
        let (composed, at) = self.ground_text(ground, shoe, specimen)?;
        let mut conflicts = Vec::new();
        for (quantity, mine) in &self.words {
            let file = edit::words(&composed.source, &readings_path(at), quantity.as_str());
            let file = file.unwrap_or_default();
            let base = self.base.get(quantity).cloned().unwrap_or_default();
            if file != base && file != *mine {
                let spec = ground.lab.protocol.quantities.get(quantity);
                conflicts.push(Conflict {
                    quantity: quantity.clone(),
                    label: spec.map_or_else(|| quantity.to_string(), |spec| spec.label.to_string()),
                    mine: mine.clone(),
                    file,
                });
            }
        }
        Ok(conflicts)
    }

    /// A reading that can't be taken is not saved, and nothing is left out unsaid.
    pub fn refuse_wrong(&self, ground: &Ground) -> Result<(), Refusal> {
        let mut said = Vec::new();
        for (quantity, words) in &self.words {
            let Some(spec) = ground.lab.protocol.quantities.get(quantity) else {
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
