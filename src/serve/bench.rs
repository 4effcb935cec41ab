//! The bench desk: readings in while the shoe is still warm.
//!
//! One page on loopback, under an address that nobody can guess: without its
//! token nothing is answered. What is typed goes into the [`journal`] before it
//! is answered, so a crash, a reload or a pulled plug loses nothing that the page
//! has shown as kept. Saving lays the readings over the shoe's file as it is at
//! that moment; a quantity that somebody else changed meanwhile is asked about.
//!
//! [`journal`]: super::journal

mod begun;
mod draft;
mod page;
mod refusal;

use super::http::{Handler, Reply, Request};
use super::journal::Journal;
use super::writing::NotWritten;
use super::{Ground, Writer, answer};
use crate::diagnostics::Problem;
use crate::files::{Date, Key, Root, Slug};
use crate::shoe::TRIALS_LIMIT;
use anyhow::Context as _;
use begun::{NewShoe, NewSpecimen};
use draft::{Draft, Line};
use refusal::{Conflict, Refusal};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// Where the journal lies in the lab's folder.
pub const JOURNAL: &str = "lab/.bench-journal.jsonl";

/// The most readings of one quantity, and the most characters of one.
const TRIALS: usize = TRIALS_LIMIT;
const WORD: usize = 40;

/// The desk of one lab.
#[derive(Debug)]
pub struct Bench {
    token: String,
    writer: Writer,
    root: Root,
    today: fn() -> Date,
    inner: Mutex<Inner>,
}

#[derive(Debug)]
struct Inner {
    ground: Ground,
    journal: Journal,
    drafts: BTreeMap<(Slug, String), Draft>,
    /// How many lines of the journal are of another version; they are kept for it.
    passed: usize,
}

#[derive(Debug, Deserialize)]
struct Which {
    shoe: Slug,
    specimen: String,
}

#[derive(Debug, Deserialize)]
struct Typed {
    shoe: Slug,
    specimen: String,
    quantity: Key,
    words: Vec<String>,
    /// What the page showed of it before, which may be in the file no more.
    seen: Option<Vec<String>>,
}

#[derive(Debug, Deserialize)]
struct Start {
    shoe: Option<Slug>,
    new: Option<NewShoe>,
    specimen: NewSpecimen,
}

#[derive(Debug, Deserialize)]
struct Left {
    shoe: Slug,
    specimen: String,
    /// Milliseconds since 1970; none takes it back.
    at: Option<i64>,
}

#[derive(Debug, Deserialize)]
struct Save {
    shoe: Slug,
    specimen: String,
    /// For quantities that were changed in the file meanwhile: whose readings count.
    #[serde(default)]
    choices: BTreeMap<Key, Choice>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Choice {
    Mine,
    File,
}

impl Bench {
    /// Opens the desk and replays its journal.
    ///
    /// # Errors
    /// If the lab's files have problems (handed back inside), the journal can't be
    /// opened, or the system gives no random numbers.
    pub fn open(root: &Root, today: fn() -> Date) -> anyhow::Result<Result<Bench, Vec<Problem>>> {
        let ground = match Ground::read(root, today()) {
            Ok(ground) => ground,
            Err(problems) => return Ok(Err(problems)),
        };
        let writer = Writer::new(root).context("the bench needs a folder on the disk")?;
        let folder = root
            .path()
            .context("the bench needs a folder on the disk")?;
        let (mut journal, lines, passed) = Journal::open::<Line>(&folder.join(JOURNAL))?;
        let written = lines.len();
        let lines = Line::unfinished(lines);
        if lines.len() < written && passed == 0 {
            // One draft that is never saved must not make the journal grow for ever;
            // where this fails, it only stays as long as it is.
            let _ = journal.rewrite(&lines);
        }
        let mut drafts = BTreeMap::new();
        for line in lines {
            line.replay(&mut drafts);
        }
        let mut random = [0; 16];
        getrandom::fill(&mut random)
            .map_err(|error| anyhow::anyhow!("no random token: {error}"))?;
        let token = random.iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Ok(Bench {
            token,
            writer,
            root: root.clone(),
            today,
            inner: Mutex::new(Inner {
                ground,
                journal,
                drafts,
                passed,
            }),
        }))
    }

    /// The page's path: what must stand behind the server's address.
    pub fn path(&self) -> String {
        format!("/{}/", self.token)
    }

    /// The address of the shoe that a name or a bench sheet's code means.
    ///
    /// # Errors
    /// If there is no such shoe.
    pub fn find(&self, name: &str) -> anyhow::Result<Slug> {
        let inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let mut shoes = inner.ground.files.keys();
        let found =
            shoes.find(|slug| slug.as_str() == name || code_of(slug).eq_ignore_ascii_case(name));
        found
            .cloned()
            .with_context(|| format!("there is no shoe `{name}`, nor one with that code"))
    }

    fn route(&self, way: &str, request: &Request) -> Reply {
        let page = match way {
            "" => Some(("text/html; charset=utf-8", page::PAGE)),
            "bench.css" => Some(("text/css; charset=utf-8", page::STYLE)),
            "bench.js" => Some(("text/javascript; charset=utf-8", page::SCRIPT)),
            _ => None,
        };
        if let (Some((kind, bytes)), false) = (page, request.writes) {
            return Reply::Whole {
                status: 200,
                kind,
                bytes: bytes.into(),
            };
        }
        // A panic in one request leaves the drafts as they were: they change last.
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let result = match (way, request.writes) {
            ("state", false) => {
                inner.read_again(&self.root, (self.today)());
                Ok(page::state(&inner.ground, &inner.drafts))
            }
            ("open", true) => with(request, |which: Which| {
                inner.open(&which.shoe, &which.specimen)
            }),
            ("start", true) => with(request, |start| inner.start(start)),
            ("typed", true) => with(request, |typed| inner.typed(typed)),
            ("undo", true) => with(request, |which| inner.undo(which)),
            ("left", true) => with(request, |left| inner.left(left)),
            ("drop", true) => with(request, |which| inner.forget(which)),
            ("save", true) => with(request, |save| inner.save(save, &self.writer)),
            _ => return Reply::text(404, "there is nothing here"),
        };
        match result {
            Ok(value) => Reply::json(200, &value),
            Err(refusal) => Reply::json(refusal.status, &refusal.body),
        }
    }
}

impl Handler for Bench {
    fn answer(&self, request: &Request) -> Reply {
        let mut parts = request.path.splitn(3, '/').skip(1);
        let (token, way) = (parts.next().unwrap_or_default(), parts.next());
        // Hashes compare in constant time.
        let known = blake3::hash(token.as_bytes()) == blake3::hash(self.token.as_bytes());
        match way {
            Some(way) if known => self.route(way, request),
            _ => Reply::text(
                403,
                "this page opens by the whole address that `solefolio bench` printed",
            ),
        }
    }
}

/// A shoe's short code, as its bench sheet has it: six letters and digits that are
/// told apart when read aloud, made from its address.
pub fn code_of(shoe: &Slug) -> String {
    const LETTERS: &[u8; 32] = b"ABCDEFGHJKMNPQRSTUVWXYZ123456789";
    let hash = blake3::hash(shoe.as_str().as_bytes());
    let letters = hash.as_bytes()[..6].iter();
    letters
        .map(|byte| char::from(LETTERS[usize::from(*byte) % LETTERS.len()]))
        .collect()
}

type Answered = Result<serde_json::Value, Refusal>;

fn with<T: serde::de::DeserializeOwned>(
    request: &Request,
    then: impl FnOnce(T) -> Answered,
) -> Answered {
    match serde_json::from_slice(&request.body) {
        Ok(asked) => then(asked),
        Err(error) => Err(Refusal::said(
            400,
            format!("the request can't be read: {error}"),
        )),
    }
}

fn json(value: &impl Serialize) -> Answered {
    serde_json::to_value(value).map_err(|error| Refusal::said(500, error.to_string()))
}

impl Inner {
    /// Reads the lab's files again; if they are broken just now, the old ones stay.
    fn read_again(&mut self, root: &Root, today: Date) {
        if let Ok(ground) = Ground::read(root, today) {
            self.ground = ground;
        }
    }

    fn keep(&mut self, line: Line) -> Result<(), Refusal> {
        let written = self.journal.add(&line);
        written.map_err(|error| Refusal::said(500, format!("not kept: {error:#}")))?;
        line.replay(&mut self.drafts);
        Ok(())
    }

    fn draft(&self, shoe: &Slug, specimen: &str) -> Draft {
        let key = (shoe.clone(), specimen.to_owned());
        self.drafts.get(&key).cloned().unwrap_or_default()
    }

    fn open(&self, shoe: &Slug, specimen: &str) -> Answered {
        let draft = self.draft(shoe, specimen);
        let sheet = draft.sheet(&self.ground, shoe, specimen)?;
        json(&sheet)
    }

    fn start(&mut self, start: Start) -> Answered {
        let shoe = match (&start.shoe, &start.new) {
            (Some(shoe), None) => shoe.clone(),
            (None, Some(new)) => new.slug()?,
            _ => {
                return Err(Refusal::said(
                    400,
                    "name a shoe, or say what the new one is",
                ));
            }
        };
        let specimen = start.specimen.id.trim().to_owned();
        if start.new.is_some() && self.ground.files.contains_key(&shoe) {
            return Err(Refusal::said(
                422,
                format!("there is a shoe `{shoe}` already; pick it from the list"),
            ));
        }
        // Its conditions stand in the file; those of the form would be dropped unsaid.
        let known = self.ground.shoe(&shoe).into_iter();
        let mut specimens = known.flat_map(|known| &known.shoe.file.specimens);
        if specimens.any(|one| one.id == specimen) {
            return Err(Refusal::said(
                422,
                format!("{shoe} has a specimen `{specimen}` already; pick it from the list"),
            ));
        }
        let mut draft = self.draft(&shoe, &specimen);
        draft.new_shoe.clone_from(&start.new);
        draft.new_specimen = Some(start.specimen.clone());
        // Judged once before it is begun, so that the form can say what is wrong.
        draft.judge(&self.ground, &shoe, &specimen)?;
        self.keep(Line::Started {
            shoe: shoe.clone(),
            new: start.new,
            specimen: start.specimen,
        })?;
        self.open(&shoe, &specimen)
    }

    fn typed(&mut self, typed: Typed) -> Answered {
        if typed.words.len() > TRIALS || typed.words.iter().any(|w| w.chars().count() > WORD) {
            return Err(Refusal::said(422, "that is no reading"));
        }
        let mut words: Vec<String> = typed.words.iter().map(|word| begun::tidy(word)).collect();
        while words.last().is_some_and(String::is_empty) {
            words.pop();
        }
        let quantity = &typed.quantity;
        let known = self.ground.lab.protocol.quantities.get(quantity);
        if known.is_none_or(|spec| spec.from.is_some()) {
            return Err(Refusal::said(422, format!("`{quantity}` is not read off")));
        }
        let before = self.draft(&typed.shoe, &typed.specimen);
        let mut base = before.base_of(&self.ground, &typed.shoe, &typed.specimen, quantity)?;
        if let Some(seen) = typed.seen
            && !before.holds(quantity)
        {
            // Typed over what the page showed: a change of the file since is asked about.
            base = seen.into_iter().filter(|word| !word.is_empty()).collect();
        }
        self.keep(Line::Typed {
            shoe: typed.shoe.clone(),
            specimen: typed.specimen.clone(),
            quantity: quantity.clone(),
            words: words.clone(),
            base,
        })?;
        let draft = self.draft(&typed.shoe, &typed.specimen);
        let (judged, given) =
            draft.judge_quantity(&self.ground, &typed.shoe, &typed.specimen, quantity)?;
        let said = answer(&self.ground, &judged, &typed.specimen, quantity, &given);
        json(&serde_json::json!({ "answer": said, "undo": draft.can_undo(), "words": words }))
    }

    fn undo(&mut self, which: Which) -> Answered {
        self.keep(Line::Undone {
            shoe: which.shoe.clone(),
            specimen: which.specimen.clone(),
        })?;
        self.open(&which.shoe, &which.specimen)
    }

    fn left(&mut self, left: Left) -> Answered {
        self.keep(Line::Left {
            shoe: left.shoe,
            specimen: left.specimen,
            at: left.at,
        })?;
        json(&serde_json::json!({}))
    }

    fn forget(&mut self, which: Which) -> Answered {
        self.keep(Line::Done {
            shoe: which.shoe,
            specimen: which.specimen,
        })?;
        json(&serde_json::json!({}))
    }

    fn save(&mut self, save: Save, writer: &Writer) -> Answered {
        let (shoe, specimen) = (&save.shoe, &save.specimen);
        let mut draft = self.draft(shoe, specimen);
        let (conflicts, was) = draft.conflicts(&self.ground, shoe, specimen)?;
        let mut open: Vec<Conflict> = Vec::new();
        for conflict in conflicts {
            match save.choices.get(&conflict.quantity) {
                Some(Choice::Mine) => {}
                Some(Choice::File) => draft.let_go(&conflict.quantity),
                None => open.push(conflict),
            }
        }
        if !open.is_empty() {
            return Err(Refusal::conflicts(&open));
        }
        draft.refuse_wrong(&self.ground)?;
        let composed = draft.compose(&self.ground, shoe, specimen, false)?;
        if composed.was != was {
            // Changed between these two looks.
            let changed = NotWritten::Changed(composed.path.to_string());
            return Err(Refusal::said(409, changed.to_string()));
        }
        let judged = self
            .ground
            .judge(shoe, &composed.source)
            .map_err(|problems| Refusal::problems(&problems))?;
        let path = composed.path.clone();
        let written = match composed.was {
            Some(was) => writer.replace(&path, was, &composed.source.text),
            None => writer.create(&path, &composed.source.text),
        };
        written.map_err(|not| match not {
            NotWritten::Failed(error) => Refusal::said(500, format!("{error:#}")),
            other => Refusal::said(409, other.to_string()),
        })?;
        self.ground.take(path.clone(), judged);
        self.keep(Line::Done {
            shoe: shoe.clone(),
            specimen: specimen.clone(),
        })?;
        if self.drafts.is_empty() && self.passed == 0 {
            // All is in the shoes' files: the journal may begin again.
            let _ = self.journal.rewrite::<Line>(&[]);
        }
        json(&serde_json::json!({ "file": path.as_str() }))
    }
}
