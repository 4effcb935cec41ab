//! A folio that is ready to be shown: any of its sheets, made when it is asked for.
//!
//! Where each sheet is planned is found once; a request plans one output in
//! one language again, not all of them, and makes one view.

use crate::diagnostics::Problem;
use crate::edition::Edition;
use crate::outputs::{self, FolioPath, Make, Part, Sheet, Surroundings, streamed};
use crate::press::{Bindery, Interrupt, PrintJob, Renderer as _};
use crate::programs::{self, MadeFile};
use std::collections::HashMap;
use std::sync::Arc;

/// The page that stands for what is not there.
const NOT_THERE: &str = "404.html";

pub(super) struct Folio {
    /// Which making it is of.
    pub making: u64,
    /// A hash of the static files.
    pub style: String,
    edition: Edition,
    surroundings: Surroundings,
    bindery: Arc<Bindery>,
    /// What outside programs made.
    made: Vec<MadeFile>,
    /// For each sheet's path, the part of the plan it is in, none for the outside
    /// programs' files, and its place there.
    places: HashMap<String, (Option<Part>, usize)>,
}

/// What stands at an address.
pub(super) enum Found {
    /// A sheet.
    Sheet(Shown),
    /// A folder with a page in it, whose address this is.
    Folder(String),
    /// Nothing; the folio's own page that says so, if it has one.
    Nothing(Option<Shown>),
}

/// A sheet, made.
pub(super) enum Shown {
    /// Its media type and bytes.
    Bytes { kind: &'static str, bytes: Vec<u8> },
    /// What is wrong with its template.
    Problems(Vec<Problem>),
    /// Why the typesetter did not set it.
    Failed(String),
}

impl Folio {
    pub fn new(
        edition: Edition,
        surroundings: Surroundings,
        made: Vec<MadeFile>,
        bindery: Arc<Bindery>,
        making: u64,
    ) -> Folio {
        let mut places = HashMap::new();
        for part in outputs::parts(&surroundings) {
            let sheets = part.plan(&edition, &surroundings);
            for (at, sheet) in sheets.iter().enumerate() {
                // The first that plans a path has it.
                let place = (Some(part), at);
                places.entry(sheet.path.to_string()).or_insert(place);
            }
        }
        for (at, sheet) in programs::sheets(&made).into_iter().enumerate() {
            places.entry(sheet.path.to_string()).or_insert((None, at));
        }
        let mut style = blake3::Hasher::new();
        for (name, bytes) in bindery.pages.statics() {
            style.update(name.as_bytes());
            style.update(blake3::hash(bytes).as_bytes());
        }
        let style = style.finalize().to_hex()[..16].to_owned();
        Folio {
            making,
            style,
            edition,
            surroundings,
            bindery,
            made,
            places,
        }
    }

    /// What stands at the path of an address, such as `/shoes/quarrel-2/`.
    pub fn find(&self, path: &str) -> Found {
        let name = path.trim_start_matches('/');
        let name = if name.is_empty() || name.ends_with('/') {
            format!("{name}index.html")
        } else {
            name.to_owned()
        };
        if FolioPath::new(&*name).is_err() {
            return Found::Nothing(None);
        }
        if let Some(shown) = self.sheet(&name) {
            return Found::Sheet(shown);
        }
        if self.places.contains_key(&format!("{name}/index.html")) {
            return Found::Folder(format!("/{name}/"));
        }
        Found::Nothing(self.sheet(NOT_THERE))
    }

    fn sheet(&self, name: &str) -> Option<Shown> {
        let (part, at) = *self.places.get(name)?;
        let sheets = match part {
            Some(part) => part.plan(&self.edition, &self.surroundings),
            None => programs::sheets(&self.made),
        };
        Some(self.make(sheets.get(at)?))
    }

    fn make(&self, sheet: &Sheet<'_>) -> Shown {
        let made = match &sheet.make {
            Make::Page { template, view } => {
                self.bindery.page(template, view()).map_err(Shown::Problems)
            }
            Make::Bytes(make) => Ok(make()),
            Make::Stream(write) => Ok(streamed(write)),
            Make::Static { name } => Ok(self.bindery.static_file(name).unwrap_or_default()),
            Make::Print {
                template,
                date,
                view,
            } => self.print(PrintJob {
                name: sheet.path.to_string(),
                template: template.to_string(),
                data: view().json(),
                date: *date,
            }),
        };
        match made {
            Ok(bytes) => Shown::Bytes {
                kind: kind_of(sheet.path.as_str()),
                bytes,
            },
            Err(instead) => instead,
        }
    }

    fn print(&self, job: PrintJob) -> Result<Vec<u8>, Shown> {
        let mut set = self.bindery.prints(vec![job], &Interrupt::default());
        match set.pop() {
            Some(Ok(bytes)) => Ok(bytes),
            Some(Err(problem)) => Err(Shown::Failed(problem.to_string())),
            None => Err(Shown::Failed("the typesetter gave no answer".to_owned())),
        }
    }
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
