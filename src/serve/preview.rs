//! The preview: the folio on loopback, made again and reloaded as files change.
//!
//! A page is made when it is asked for, in memory; `out/` is not touched. Drafts
//! and held shoes are shown, and every page says so, unless only what is out is
//! asked for. After a change the browser is told over one stream of events and
//! shows the page anew where it was scrolled to. While a file is in error the last
//! good folio stays, with the problems over it, by file and line; they go when the
//! file is mended.
//!
//! What it doesn't do: show more than the plan of sheets holds. No path is ever
//! looked up on the disk.

mod folio;

use super::bench::JOURNAL;
use super::http::{Handler, Reply, Request, events};
use crate::diagnostics::{Problem, render};
use crate::edition::{Frozen, Scope};
use crate::files::{Date, Root, yaml};
use crate::gather::{OwnTemplates, Reading, Shelf, gather_again, read_templates};
use crate::outputs::{self, Surroundings};
use crate::press::{Bindery, Typesetter};
use crate::programs::{self, Outside};
use crate::words::Language;
use folio::{Folio, Found, Shown};
use notify_debouncer_full::notify::RecursiveMode;
use notify_debouncer_full::{DebounceEventResult, new_debouncer};
use serde_json::json;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::UnboundedSender;

/// How long files must be quiet: an editor writes a file in several steps.
const QUIET: Duration = Duration::from_millis(10);

const SCRIPT: &str = include_str!("preview/reload.js");
const STYLE: &str = include_str!("preview/overlay.css");
/// Where the preview's own files lie; no path of the folio begins with `-`.
const OWN: &str = "/-/";

/// What one making leaves for the next.
#[derive(Default)]
struct Kept {
    shelf: Shelf,
    bindery: Option<Bound>,
}

/// All templates with the lab's own in place, and what they were put together from.
struct Bound {
    own: OwnTemplates,
    frozen: Vec<Frozen>,
    languages: Vec<Arc<Language>>,
    bindery: Arc<Bindery>,
}

/// The preview of one lab.
pub struct Preview {
    root: Root,
    as_of: Date,
    scope: Scope,
    reading: Reading,
    typesetter: Option<Typesetter>,
    kept: Mutex<Kept>,
    folio: RwLock<Option<Arc<Folio>>>,
    problems: RwLock<Vec<Problem>>,
    listeners: Mutex<Vec<UnboundedSender<String>>>,
    /// How often the folio was made.
    made: AtomicU64,
}

impl Preview {
    /// The preview of a lab as of a date, of what is out or of all; prints are shown if there is a typesetter.
    pub fn new(
        root: Root,
        as_of: Date,
        scope: Scope,
        typesetter: Option<Typesetter>,
        outside: Outside,
    ) -> Arc<Preview> {
        let preview = Arc::new(Preview {
            root,
            as_of,
            scope,
            typesetter,
            reading: Reading {
                as_of: Some(as_of),
                outside,
                ..Reading::default()
            },
            kept: Mutex::default(),
            folio: RwLock::default(),
            problems: RwLock::default(),
            listeners: Mutex::default(),
            made: AtomicU64::new(0),
        });
        preview.make();
        preview
    }

    /// Reads everything again and tells the browsers; how long it took.
    pub fn make(&self) -> Duration {
        let started = Instant::now();
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let making = self.made.load(Ordering::SeqCst) + 1;
        let mut before = None;
        let problems = match self.folio(&mut kept, making) {
            // What an outside program failed at is shown over a folio without it.
            Ok((folio, problems)) => {
                before = write(&self.folio).replace(Arc::new(folio));
                problems
            }
            Err(problems) => problems,
        };
        let mut problems = problems;
        yaml::place_all(&mut problems, |file| self.root.look_up(file));
        render::sort(&mut problems);
        *write(&self.problems) = problems;
        self.made.store(making, Ordering::SeqCst);
        drop(kept);
        self.tell();
        let took = started.elapsed();
        // Nobody waits for the old one to be cleared away.
        drop(before);
        took
    }

    fn folio(&self, kept: &mut Kept, making: u64) -> Result<(Folio, Vec<Problem>), Vec<Problem>> {
        let own = read_templates(&self.root)?;
        let gathered = gather_again(&self.root, &self.reading, &mut kept.shelf);
        let frozen = gathered
            .as_ref()
            .map_or(&[][..], |gathered| &gathered.frozen);
        let languages = gathered
            .as_ref()
            .map_or_else(|_| Vec::new(), |gathered| gathered.lab.languages());
        let bound = kept.bindery.as_ref().filter(|bound| {
            bound.own == own && bound.frozen == frozen && bound.languages == languages
        });
        let bindery = match bound {
            Some(bound) => bound.bindery.clone(),
            None => {
                let mut bindery = Bindery::new(own.clone(), self.typesetter.clone())?;
                bindery.keep_editions(&self.root, frozen);
                if let Ok(gathered) = &gathered {
                    bindery.speak(&gathered.lab);
                }
                let bindery = Arc::new(bindery);
                kept.bindery = Some(Bound {
                    own,
                    frozen: frozen.to_vec(),
                    languages,
                    bindery: bindery.clone(),
                });
                bindery
            }
        };
        let gathered = gathered?;
        let (assembled, ..) = gathered.edition(self.as_of, self.scope);
        let edition = assembled.edition;
        let surroundings = Surroundings {
            prints: self.typesetter.is_some(),
            statics: bindery.statics(),
            pages: bindery.pages.own().to_vec(),
            ..Surroundings::default()
        }
        .in_tongues(edition.lab.tongues.len());
        let mut problems = Vec::new();
        let made = if edition.lab.settings.programs.is_empty() {
            Vec::new()
        } else {
            let planned = outputs::plan(&edition, &surroundings);
            programs::make_all(
                &self.root,
                &edition,
                &surroundings,
                &planned,
                &self.reading.outside,
                &mut problems,
            )
        };
        problems.retain(Problem::is_error);
        let folio = Folio::new(edition, surroundings, made, bindery, making);
        Ok((folio, problems))
    }

    /// What is wrong just now.
    pub fn problems(&self) -> Vec<Problem> {
        read(&self.problems).clone()
    }

    /// Watches the lab's files for as long as what comes back lives; `told` hears
    /// of every making.
    ///
    /// # Errors
    /// If the system can't watch.
    pub fn watch(
        self: &Arc<Self>,
        told: impl Fn(Duration) + Send + 'static,
    ) -> anyhow::Result<Box<dyn std::any::Any>> {
        let folder = self.root.path().unwrap_or(Path::new(".")).to_owned();
        let preview = self.clone();
        let relevant = {
            // What is typed at the bench shows once it is saved.
            let (out, typed) = (folder.join("out"), folder.join(JOURNAL));
            move |path: &Path| !path.starts_with(&out) && path != typed
        };
        let mut debouncer =
            new_debouncer(QUIET, Some(QUIET / 2), move |found: DebounceEventResult| {
                let changed = match found {
                    // What was missed may have been anything.
                    Err(_) => true,
                    Ok(events) => events.iter().any(|event| {
                        !event.kind.is_access() && event.paths.iter().any(|path| relevant(path))
                    }),
                };
                if changed {
                    told(preview.make());
                }
            })?;
        for name in ["lab", "shoes", "templates"] {
            let below = folder.join(name);
            if below.is_dir() {
                debouncer.watch(&below, RecursiveMode::Recursive)?;
            }
        }
        // A templates folder that comes later is seen from above.
        debouncer.watch(&folder, RecursiveMode::NonRecursive)?;
        Ok(Box::new(debouncer))
    }

    /// What a browser is told: of which making the folio is, and the problems.
    fn news(&self) -> String {
        let folio = read(&self.folio).clone();
        let made = name_of(folio.as_ref().map_or(0, |folio| folio.making));
        let style = folio.map(|folio| folio.style.clone());
        let problems: Vec<_> = read(&self.problems).iter().map(shown).collect();
        json!({ "made": made, "style": style, "problems": problems }).to_string()
    }

    fn tell(&self) {
        let news = self.news();
        let mut listeners = self
            .listeners
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        // Those that went away take nothing more.
        listeners.retain(|listener| listener.send(news.clone()).is_ok());
    }

    fn listen(&self) -> Reply {
        let (sender, receiver) = events();
        let mut listeners = self
            .listeners
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let _ = sender.send(self.news());
        listeners.push(sender);
        Reply::Events(receiver)
    }

    fn page(&self, path: &str) -> Reply {
        let Some(folio) = read(&self.folio).clone() else {
            return broken(&own_head(0, ""), &self.problems());
        };
        match folio.find(path) {
            Found::Sheet(shown) => self.reply(200, &folio, shown),
            Found::Folder(address) => Reply::Elsewhere(address),
            Found::Nothing(Some(shown)) => self.reply(404, &folio, shown),
            Found::Nothing(None) => Reply::text(404, "there is no such page"),
        }
    }

    fn reply(&self, status: u16, folio: &Folio, shown: Shown) -> Reply {
        let head = own_head(folio.making, &folio.style);
        match shown {
            Shown::Bytes { kind, bytes } => Reply::Whole {
                status,
                kind,
                bytes: if kind.starts_with("text/html") {
                    injected(&head, bytes)
                } else {
                    bytes
                },
            },
            Shown::Problems(mut problems) => {
                yaml::place_all(&mut problems, |file| self.root.look_up(file));
                broken(&head, &problems)
            }
            Shown::Failed(why) => Reply::text(500, why),
        }
    }
}

impl Handler for Preview {
    fn answer(&self, request: &Request) -> Reply {
        if request.writes {
            return Reply::text(405, "the preview only shows");
        }
        match request.path.strip_prefix(OWN) {
            Some("events") => self.listen(),
            Some("reload.js") => own_file("text/javascript; charset=utf-8", SCRIPT),
            Some("overlay.css") => own_file("text/css; charset=utf-8", STYLE),
            Some(_) => Reply::text(404, "there is nothing here"),
            None => self.page(&request.path),
        }
    }
}

fn own_file(kind: &'static str, text: &str) -> Reply {
    Reply::Whole {
        status: 200,
        kind,
        bytes: text.into(),
    }
}

fn read<T>(lock: &RwLock<T>) -> std::sync::RwLockReadGuard<'_, T> {
    lock.read().unwrap_or_else(PoisonError::into_inner)
}

fn write<T>(lock: &RwLock<T>) -> std::sync::RwLockWriteGuard<'_, T> {
    lock.write().unwrap_or_else(PoisonError::into_inner)
}

fn shown(problem: &Problem) -> serde_json::Value {
    json!({
        "file": problem.file,
        "line": problem.place.map(|place| place.line),
        "column": problem.place.map(|place| place.column),
        "message": problem.message,
        "hint": problem.hint,
        "error": problem.is_error(),
    })
}

/// How browsers are told of a making: two runs of the program have none in common.
fn name_of(making: u64) -> String {
    format!("{}-{making}", std::process::id())
}

/// What the preview adds to a page's head.
fn own_head(making: u64, style: &str) -> String {
    let made = name_of(making);
    format!(
        "<link rel=\"stylesheet\" href=\"/-/overlay.css\">\
         <script defer src=\"/-/reload.js\" data-made=\"{made}\" data-style=\"{style}\"></script>"
    )
}

/// The page with the preview's own script in its head.
fn injected(head: &str, page: Vec<u8>) -> Vec<u8> {
    let Ok(text) = String::from_utf8(page) else {
        return Vec::new();
    };
    match text.find("</head>") {
        Some(at) => format!("{}{head}{}", &text[..at], &text[at..]).into_bytes(),
        None => format!("{head}{text}").into_bytes(),
    }
}

/// A page of problems, where there is no folio to lay them over.
fn broken(head: &str, problems: &[Problem]) -> Reply {
    let shown: Vec<_> = problems.iter().map(shown).collect();
    // In an attribute, so that no text of a lab's file can be markup or script.
    let data = escape(&json!(shown).to_string());
    let page = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Problems</title>\
         {head}</head><body data-problems=\"{data}\"></body></html>"
    );
    Reply::Whole {
        status: 500,
        kind: "text/html; charset=utf-8",
        bytes: page.into_bytes(),
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
