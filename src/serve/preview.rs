//! The preview: the folio on loopback, made again and reloaded as files change.
//!
//! A page is made when it is asked for, in memory; `out/` is not touched. Drafts
//! and held shoes are shown, and every page says so. After a change the browser
//! is told over one stream of events and reloads where it was scrolled to. While
//! a file is in error the last good folio stays, with the problems over it, by
//! file and line; they go when the file is mended.
//!
//! What it doesn't do: show more than the plan of sheets holds. No path is ever
//! looked up on the disk.

use super::http::{Handler, Reply, Request, events};
use crate::diagnostics::{Problem, render};
use crate::edition::{Edition, Scope};
use crate::files::{Date, Root, yaml};
use crate::gather::{Reading, Shelf, gather_again, read_templates};
use crate::outputs::{self, FolioPath, Make, Sheet, Surroundings};
use crate::press::{Bindery, Interrupt, PrintJob, Renderer as _, Typesetter};
use notify_debouncer_full::notify::RecursiveMode;
use notify_debouncer_full::{DebounceEventResult, new_debouncer};
use serde_json::json;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::UnboundedSender;

/// How long files must be quiet: an editor writes a file in several steps.
const QUIET: Duration = Duration::from_millis(25);

const SCRIPT: &str = include_str!("preview/reload.js");
const STYLE: &str = include_str!("preview/overlay.css");
/// Where the preview's own files lie; no path of the folio begins with `-`.
const OWN: &str = "/-/";
const INJECTED: &str =
    "<link rel=\"stylesheet\" href=\"/-/overlay.css\"><script defer src=\"/-/reload.js\"></script>";

/// A folio that is ready to be shown.
struct Folio {
    edition: Edition,
    surroundings: Surroundings,
    bindery: Bindery,
}

/// The preview of one lab.
pub struct Preview {
    root: Root,
    as_of: Date,
    typesetter: Option<Typesetter>,
    shelf: Mutex<Shelf>,
    folio: RwLock<Option<Arc<Folio>>>,
    problems: RwLock<Vec<Problem>>,
    listeners: Mutex<Vec<UnboundedSender<String>>>,
    made: Mutex<u64>,
}

impl Preview {
    /// The preview of a lab as of a date; prints are shown if there is a typesetter.
    pub fn new(root: Root, as_of: Date, typesetter: Option<Typesetter>) -> Arc<Preview> {
        let preview = Arc::new(Preview {
            root,
            as_of,
            typesetter,
            shelf: Mutex::default(),
            folio: RwLock::default(),
            problems: RwLock::default(),
            listeners: Mutex::default(),
            made: Mutex::new(0),
        });
        preview.make();
        preview
    }

    /// Reads everything again and tells the browsers; how long it took.
    pub fn make(&self) -> Duration {
        let started = Instant::now();
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        let reading = Reading {
            as_of: Some(self.as_of),
            ..Reading::default()
        };
        let made = read_templates(&self.root)
            .and_then(|own| Bindery::new(own, self.typesetter.clone()))
            .and_then(|bindery| Ok((bindery, gather_again(&self.root, &reading, &mut shelf)?)));
        let problems = match made {
            Err(mut problems) => {
                yaml::place_all(&mut problems, |file| self.root.look_up(file));
                render::sort(&mut problems);
                problems
            }
            Ok((mut bindery, gathered)) => {
                bindery.speak(&gathered.lab);
                let (assembled, ..) = gathered.edition(self.as_of, Scope::WithDrafts);
                let surroundings = Surroundings {
                    prints: self.typesetter.is_some(),
                    statics: bindery.statics(),
                    ..Surroundings::default()
                }
                .in_tongues(assembled.edition.lab.tongues.len());
                let folio = Arc::new(Folio {
                    edition: assembled.edition,
                    surroundings,
                    bindery,
                });
                *write(&self.folio) = Some(folio);
                Vec::new()
            }
        };
        *write(&self.problems) = problems;
        drop(shelf);
        *self.made.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.tell();
        started.elapsed()
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
            let out = folder.join("out");
            move |path: &Path| !path.starts_with(&out)
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

    /// What a browser is told: which making this is, and the problems.
    fn news(&self) -> String {
        let made = *self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let problems: Vec<_> = read(&self.problems).iter().map(shown).collect();
        json!({ "made": made, "problems": problems }).to_string()
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
            return broken(&self.problems());
        };
        let name = path.trim_start_matches('/');
        let name = if name.is_empty() || name.ends_with('/') {
            format!("{name}index.html")
        } else {
            name.to_owned()
        };
        if FolioPath::new(&*name).is_err() {
            return Reply::text(404, "there is no such page");
        }
        let sheets = outputs::plan(&folio.edition, &folio.surroundings);
        let at = |path: &str| sheets.iter().find(|sheet| sheet.path.as_str() == path);
        if let Some(sheet) = at(&name) {
            return self.set(&folio, sheet, 200);
        }
        if at(&format!("{name}/index.html")).is_some() {
            return Reply::Elsewhere(format!("/{name}/"));
        }
        match at("404.html") {
            Some(sheet) => self.set(&folio, sheet, 404),
            None => Reply::text(404, "there is no such page"),
        }
    }

    fn set(&self, folio: &Folio, sheet: &Sheet<'_>, status: u16) -> Reply {
        let kind = kind_of(sheet.path.as_str());
        let bytes = match &sheet.make {
            Make::Page { template, view } => match folio.bindery.page(template, &view()) {
                Ok(bytes) if kind.starts_with("text/html") => injected(bytes),
                Ok(bytes) => bytes,
                Err(mut problems) => {
                    yaml::place_all(&mut problems, |file| self.root.look_up(file));
                    return broken(&problems);
                }
            },
            Make::Bytes(make) => make(),
            Make::Static { name } => folio.bindery.static_file(name).unwrap_or_default(),
            Make::Print {
                template,
                date,
                view,
            } => {
                let job = PrintJob {
                    name: sheet.path.to_string(),
                    template: template.to_string(),
                    data: view().to_string().into_bytes(),
                    date: *date,
                };
                let set = folio.bindery.prints(vec![job], &Interrupt::default());
                match set.into_iter().next() {
                    Some(Ok(bytes)) => bytes,
                    Some(Err(problem)) => return Reply::text(500, problem.to_string()),
                    None => return Reply::text(500, "the typesetter gave no answer"),
                }
            }
        };
        Reply::Whole {
            status,
            kind,
            bytes,
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

/// The page with the preview's own script in its head.
fn injected(page: Vec<u8>) -> Vec<u8> {
    let Ok(text) = String::from_utf8(page) else {
        return Vec::new();
    };
    match text.find("</head>") {
        Some(at) => format!("{}{INJECTED}{}", &text[..at], &text[at..]).into_bytes(),
        None => format!("{INJECTED}{text}").into_bytes(),
    }
}

/// A page of problems, where there is no folio to lay them over.
fn broken(problems: &[Problem]) -> Reply {
    let shown: Vec<_> = problems.iter().map(shown).collect();
    // In an attribute, so that no text of a lab's file can be markup or script.
    let data = escape(&json!(shown).to_string());
    let page = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Problems</title>\
         {INJECTED}</head><body data-problems=\"{data}\"></body></html>"
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

fn kind_of(path: &str) -> &'static str {
    match path.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "json" => "application/json",
        "xml" => "application/xml",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "pdf" => "application/pdf",
        "csv" => "text/csv; charset=utf-8",
        "md" => "text/markdown; charset=utf-8",
        "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}
