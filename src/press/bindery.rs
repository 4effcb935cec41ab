//! Pages by tera and prints by Typst, behind the press's one trait. A page whose
//! template is called `….png.svg` is filled as SVG and then drawn.

use super::interrupt::Interrupt;
use super::picture;
use super::renderer::{PrintJob, PrintProblem, Renderer};
use super::typesetter::{self, Typesetter};
use crate::diagnostics::Problem;
use crate::edition::{FROZEN_LIMIT, Frozen};
use crate::files::{RelPath, Root};
use crate::gather::OwnTemplates;
use crate::lab::Lab;
use crate::outputs::View;
use crate::outputs::pages::Pages;
use crate::words::{Language, Text, scan};
use include_dir::{Dir, include_dir};
use std::collections::{BTreeMap, HashMap};

/// The built-in print templates.
static PRINTS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/templates/print");

/// The lab's templates with what fills and sets them.
#[derive(Debug)]
pub struct Bindery {
    /// The page templates and static files.
    pub pages: Pages,
    /// The print templates, by name.
    pub prints: Vec<(String, Vec<u8>)>,
    /// What sets prints; without it the plan must hold none.
    pub typesetter: Option<Typesetter>,
    kept: Option<Kept>,
}

/// The frozen editions' files: where they lie, and their sums by their places.
#[derive(Debug)]
struct Kept {
    root: Root,
    sums: HashMap<String, blake3::Hash>,
}

impl Bindery {
    /// The built-in templates, with the lab's own in their place.
    ///
    /// # Errors
    /// Every mistake in the lab's own page templates.
    pub fn new(own: OwnTemplates, typesetter: Option<Typesetter>) -> Result<Self, Vec<Problem>> {
        let mut prints = BTreeMap::new();
        collect(&PRINTS, &mut prints);
        prints.extend(own.prints);
        Ok(Bindery {
            pages: Pages::load(own.pages)?,
            prints: prints.into_iter().collect(),
            typesetter,
            kept: None,
        })
    }

    /// Hands the files of frozen editions out as static files, from the lab's folder.
    pub fn keep_editions(&mut self, root: &Root, frozen: &[Frozen]) {
        let files = frozen.iter().flat_map(|one| {
            let files = one.files.iter();
            files.filter_map(|file| Some((one.place(file), file.hash()?)))
        });
        self.kept = Some(Kept {
            root: root.clone(),
            sums: files.collect(),
        });
    }

    /// Makes the templates speak the lab's language and each further one, those
    /// under its tag.
    pub fn speak(&mut self, lab: &Lab) {
        let languages = lab.languages();
        self.pages.speak(&languages);
        let plain: Vec<(String, Vec<u8>)> = self
            .prints
            .iter()
            .filter(|(name, _)| !lab.tongues.iter().any(|t| in_folder(name, &t.language.tag)))
            .cloned()
            .collect();
        self.prints.clear();
        for (at, language) in languages.iter().enumerate() {
            let words = words_of_prints(language, &plain);
            self.prints.extend(plain.iter().map(|(name, bytes)| {
                let tagged = match at {
                    0 => name.clone(),
                    _ => format!("{}/{name}", language.tag),
                };
                let bytes = if name == WORDS { &words } else { bytes };
                (tagged, bytes.clone())
            }));
        }
    }

    /// The names of the static files, rising.
    pub fn statics(&self) -> Vec<String> {
        let statics = self.pages.statics();
        statics
            .into_iter()
            .map(|(name, _)| name.to_owned())
            .collect()
    }
}

/// Where print templates find what their language says; no `.typ` file, so that a
/// word in it is not taken for one of Typst's.
const WORDS: &str = "lib/words.json";

fn in_folder(name: &str, folder: &str) -> bool {
    name.strip_prefix(folder)
        .is_some_and(|rest| rest.starts_with('/'))
}

/// What a language says for the texts of the print templates.
fn words_of_prints(language: &Language, templates: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut words: BTreeMap<String, &str> = BTreeMap::new();
    for (name, text) in templates {
        if !name.ends_with(".typ") {
            continue;
        }
        for found in scan::print(&String::from_utf8_lossy(text)) {
            let said = match language.text(&found.text) {
                Some(Text::One(said)) => Some(said),
                Some(Text::Forms(forms)) => forms.get("other"),
                None => None,
            };
            if let Some(said) = said {
                words.insert(found.text, said);
            }
        }
    }
    serde_json::to_vec(&words).expect("texts always serialise")
}

fn collect(folder: &Dir<'_>, to: &mut BTreeMap<String, Vec<u8>>) {
    for file in folder.files() {
        let name = file.path().to_string_lossy().replace('\\', "/");
        to.insert(name, file.contents().to_vec());
    }
    for below in folder.dirs() {
        collect(below, to);
    }
}

impl Renderer for Bindery {
    fn page(&self, template: &str, view: Box<dyn View>) -> Result<Vec<u8>, Vec<Problem>> {
        let context = Pages::context(template, &*view)?;
        // A view of the whole folio is large, and so is what is filled from it.
        drop(view);
        let page = self.pages.fill(template, &context)?;
        if template.ends_with(picture::TEMPLATE) {
            return picture::draw(template, &page);
        }
        Ok(page)
    }

    fn page_fingerprint(&self, template: &str) -> blake3::Hash {
        self.pages.fingerprint(template)
    }

    fn static_sum(&self, name: &str) -> Option<blake3::Hash> {
        self.kept.as_ref()?.sums.get(name).copied()
    }

    fn static_file(&self, name: &str) -> Option<Vec<u8>> {
        if let Some(kept) = self
            .kept
            .as_ref()
            .filter(|kept| kept.sums.contains_key(name))
        {
            let path: RelPath = name.parse().ok()?;
            return kept.root.read_bytes(&path, FROZEN_LIMIT).ok();
        }
        self.pages.static_file(name).map(<[u8]>::to_vec)
    }

    fn print_fingerprint(&self, template: &str) -> blake3::Hash {
        match &self.typesetter {
            Some(typesetter) => typesetter.fingerprint(template, &self.prints),
            None => blake3::hash(b"no typesetter"),
        }
    }

    fn typesetter(&self) -> String {
        match &self.typesetter {
            Some(typesetter) => format!("typst {}", typesetter.version()),
            None => "none".to_owned(),
        }
    }

    fn prints(
        &self,
        jobs: Vec<PrintJob>,
        interrupt: &Interrupt,
    ) -> Vec<Result<Vec<u8>, PrintProblem>> {
        let Some(typesetter) = self.typesetter.clone() else {
            let missing = || {
                Err(PrintProblem {
                    message: typesetter::Missing::NotFound.to_string(),
                })
            };
            return jobs.iter().map(|_| missing()).collect();
        };
        let jobs = jobs
            .into_iter()
            .map(|job| typesetter::PrintJob {
                name: job.name,
                template: job.template,
                data: job.data,
                date: job.date.into(),
            })
            .collect();
        typesetter
            .stop_when(interrupt.flag())
            .typeset(jobs, &self.prints, &|_| {})
            .into_iter()
            .map(|print| {
                print.map_err(|problem| PrintProblem {
                    message: problem.to_string(),
                })
            })
            .collect()
    }
}
