//! A small invented folio for the press's tests: pages, prints, data and static
//! files from a handful of texts, with a renderer that is plain enough to check
//! by eye.

#![allow(dead_code, reason = "each test file uses a part of it")]

use blake3::Hash;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use solefolio::diagnostics::{KeyPath, Problem};
use solefolio::outputs::{FolioPath, Make, Sheet, Subject, View, streamed};
use solefolio::press::{
    InputsStamp, Interrupt, Job, MANIFEST, Options, PrintJob, PrintProblem, Progress, Renderer,
    Report, Silent, Stopped, publish,
};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Everything the folio is made from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct World {
    /// Shoes by address, each with its text.
    pub shoes: BTreeMap<String, String>,
    /// A word that every page shows, such as a phrase.
    pub phrase: String,
    /// Templates by name, each with its text.
    pub templates: BTreeMap<&'static str, String>,
    /// The style sheet.
    pub style: String,
    /// What sets the prints.
    pub typesetter: String,
    /// Shoes whose prints fail.
    pub failing: BTreeSet<String>,
    /// Whether prints are planned.
    pub prints: bool,
    /// Bytes added to every review, to make it large.
    pub padding: usize,
}

impl World {
    /// Some shoes; `seed` goes into every text.
    pub fn new(shoes: usize, seed: u64) -> Self {
        World {
            shoes: (0..shoes)
                .map(|n| (format!("shoe-{n}"), format!("text {n} of {seed}")))
                .collect(),
            phrase: "firm".into(),
            templates: ["front.html", "review.html", "review.typ"]
                .map(|name| (name, format!("template {name}")))
                .into(),
            style: "body {}".into(),
            typesetter: "setter 1".into(),
            failing: BTreeSet::new(),
            prints: true,
            padding: 0,
        }
    }

    /// The sheets of its edition.
    pub fn sheets(&self) -> Vec<Sheet<'_>> {
        let path = |path: String| FolioPath::new(path).expect("a safe path");
        let mut sheets = vec![
            Sheet {
                path: path("index.html".into()),
                output: "front",
                subject: Subject::Folio,
                make: Make::Page {
                    template: "front.html".into(),
                    view: Box::new(|| {
                        Box::new(json!({"shoes": self.shoes.keys().collect::<Vec<_>>()}))
                    }),
                },
            },
            Sheet {
                path: path("style.css".into()),
                output: "static",
                subject: Subject::Folio,
                make: Make::Static {
                    name: "style.css".into(),
                },
            },
        ];
        for (slug, text) in &self.shoes {
            let subject = Subject::Shoe(slug.parse().expect("a safe name"));
            let view = move || {
                let padding = "padding ".repeat(self.padding / 8);
                json!({"shoe": slug, "text": text, "phrase": self.phrase, "padding": padding})
            };
            let makes = [
                (
                    "index.html",
                    Some(Make::Page {
                        template: "review.html".into(),
                        view: Box::new(move || Box::new(view())),
                    }),
                ),
                (
                    "review.pdf",
                    self.prints.then_some(Make::Print {
                        template: "review.typ".into(),
                        date: jiff::civil::date(2026, 11, 26),
                        view: Box::new(move || Box::new(view())),
                    }),
                ),
                (
                    "data.json",
                    // Half of them in pieces, as large files are written.
                    Some(if slug.ends_with(['1', '3', '5', '7', '9']) {
                        Make::Stream(Box::new(move |out| {
                            let text = view().to_string();
                            let (a, b) = text.split_at(text.len() / 2);
                            out.write_all(a.as_bytes())?;
                            out.write_all(b.as_bytes())
                        }))
                    } else {
                        Make::Bytes(Box::new(move || view().to_string().into_bytes()))
                    }),
                ),
            ];
            for (name, make) in makes {
                if let Some(make) = make {
                    sheets.push(Sheet {
                        path: path(format!("shoes/{slug}/{name}")),
                        output: "review",
                        subject: subject.clone(),
                        make,
                    });
                }
            }
        }
        sheets
    }

    /// The files its edition is, worked out without the press.
    pub fn files(&self) -> Files {
        let renderer = Fake::new(self);
        let files = self.sheets().into_iter().map(|sheet| {
            let bytes = match &sheet.make {
                Make::Page { template, view } => renderer.page(template, view()).expect("a page"),
                Make::Print { template, view, .. } => renderer.filled(template, &view().value()),
                Make::Bytes(bytes) => bytes(),
                Make::Stream(write) => streamed(write),
                Make::Static { name } => renderer.static_file(name).expect("a static file"),
            };
            (sheet.path.to_string(), bytes)
        });
        with_manifest(files.collect())
    }
}

/// Files and the manifest of them.
pub fn with_manifest(mut files: Files) -> Files {
    files.remove(MANIFEST);
    let line = |(path, bytes): (&String, &Vec<u8>)| -> String {
        let sum = Sha256::digest(bytes);
        let digits: String = sum.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("{digits}  {path}\n")
    };
    let of_files = files.iter().filter(|(path, _)| !path.ends_with('/'));
    let manifest: String = of_files.map(line).collect();
    files.insert(MANIFEST.to_owned(), manifest.into_bytes());
    files
}

/// A folder for a test: in memory where the system has such, for tests that
/// publish hundreds of times.
pub fn in_memory() -> tempfile::TempDir {
    tempfile::tempdir_in("/dev/shm")
        .or_else(|_| tempfile::tempdir())
        .expect("a folder")
}

/// The files of a folio, by path.
pub type Files = BTreeMap<String, Vec<u8>>;

/// A renderer that writes the template's text and the view, and counts.
pub struct Fake<'w> {
    world: &'w World,
    /// Pages filled.
    pub pages: AtomicUsize,
    /// Prints set.
    pub prints: AtomicUsize,
    /// Raised when so many pages were filled.
    pub interrupt_after: Option<(usize, Interrupt)>,
}

impl<'w> Fake<'w> {
    pub fn new(world: &'w World) -> Self {
        Fake {
            world,
            pages: AtomicUsize::new(0),
            prints: AtomicUsize::new(0),
            interrupt_after: None,
        }
    }

    fn filled(&self, template: &str, view: &Value) -> Vec<u8> {
        let text = &self.world.templates[template];
        let by = if template.ends_with(".typ") {
            self.world.typesetter.as_str()
        } else {
            ""
        };
        format!("{text} {by}\n{view:#}\nend\n").into_bytes()
    }
}

impl Renderer for Fake<'_> {
    fn page(&self, template: &str, view: Box<dyn View>) -> Result<Vec<u8>, Vec<Problem>> {
        let filled = 1 + self.pages.fetch_add(1, Ordering::SeqCst);
        if let Some((after, interrupt)) = &self.interrupt_after
            && filled >= *after
        {
            interrupt.raise();
        }
        if self.world.templates[template].contains("BROKEN") {
            let file = format!("templates/html/{template}");
            let message = "`BROKEN` is no template";
            return Err(vec![Problem::error(
                "template",
                file,
                KeyPath::root(),
                message,
            )]);
        }
        Ok(self.filled(template, &view.value()))
    }

    fn page_fingerprint(&self, template: &str) -> Hash {
        blake3::hash(self.world.templates[template].as_bytes())
    }

    fn static_file(&self, name: &str) -> Option<Vec<u8>> {
        (name == "style.css").then(|| self.world.style.clone().into_bytes())
    }

    fn print_fingerprint(&self, template: &str) -> Hash {
        self.page_fingerprint(template)
    }

    fn typesetter(&self) -> String {
        self.world.typesetter.clone()
    }

    fn prints_at_once(&self) -> usize {
        3
    }

    fn prints(&self, jobs: Vec<PrintJob>, _: &Interrupt) -> Vec<Result<Vec<u8>, PrintProblem>> {
        assert!(jobs.len() <= self.prints_at_once());
        let print = |job: PrintJob| {
            let view: Value = serde_json::from_slice(&job.data).expect("JSON");
            if self
                .world
                .failing
                .contains(view["shoe"].as_str().unwrap_or(""))
            {
                return Err(PrintProblem {
                    message: format!("error: {} can't be set", job.name),
                });
            }
            self.prints.fetch_add(1, Ordering::SeqCst);
            Ok(self.filled(&job.template, &view))
        };
        jobs.into_iter().map(print).collect()
    }
}

/// How a publish is to be done, beyond its world.
#[derive(Default)]
pub struct How<'h> {
    pub options: Options,
    pub inputs: Option<InputsStamp>,
    pub keep: Vec<&'h str>,
    pub program: Option<&'h str>,
    pub progress: Option<&'h dyn Progress>,
    pub interrupt: Interrupt,
}

/// Publishes a world with a renderer.
pub fn publish_with(
    out: &Path,
    world: &World,
    fake: &Fake<'_>,
    how: How<'_>,
) -> Result<Report, Stopped> {
    publish(&Job {
        out,
        sheets: world.sheets(),
        renderer: fake,
        program: how.program.unwrap_or("program 1").into(),
        inputs: how.inputs,
        keep: how
            .keep
            .into_iter()
            .map(|path| FolioPath::new(path).expect("a safe path"))
            .collect(),
        missing_prints: 0,
        held_back: 0,
        options: how.options,
        progress: how.progress.unwrap_or(&Silent),
        interrupt: how.interrupt,
    })
}

/// Publishes a world.
pub fn put(out: &Path, world: &World) -> Result<Report, Stopped> {
    publish_with(out, world, &Fake::new(world), How::default())
}

/// Publishes a world and says why.
pub fn put_why(out: &Path, world: &World) -> Report {
    let how = How {
        options: Options {
            why: true,
            ..Options::default()
        },
        ..How::default()
    };
    publish_with(out, world, &Fake::new(world), how).expect("published")
}

/// The reasons told, one line a sheet; the manifest's always is that another changed.
pub fn told(report: &Report) -> Vec<String> {
    let sheets = report.why.iter().filter(|why| why.path != MANIFEST);
    sheets.map(ToString::to_string).collect()
}

/// All files of a folder by their paths, without the press's own hidden folder.
/// Follows no link: a link is shown as its target.
pub fn files_of(folder: &Path) -> Files {
    fn walk(folder: &Path, path: &str, files: &mut Files) {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let entry = entry.expect("an entry");
            let name = entry.file_name().into_string().expect("UTF-8");
            if path.is_empty() && name == ".solefolio" {
                continue;
            }
            let path = format!("{path}{name}");
            let kind = entry.file_type().expect("a kind");
            if kind.is_dir() {
                // Empty folders count too.
                files.insert(format!("{path}/"), Vec::new());
                walk(&entry.path(), &format!("{path}/"), files);
            } else if kind.is_symlink() {
                let target = std::fs::read_link(entry.path()).expect("a link");
                files.insert(path, target.as_os_str().as_encoded_bytes().to_vec());
            } else {
                files.insert(path, std::fs::read(entry.path()).expect("a file"));
            }
        }
    }
    let mut files = Files::new();
    if folder.exists() {
        walk(folder, "", &mut files);
    }
    files
}

/// The files of a folder without its folders.
pub fn only_files(folder: &Path) -> Files {
    let mut files = files_of(folder);
    files.retain(|path, _| !path.ends_with('/'));
    files
}

/// That a folder holds exactly a world's edition: no file and no folder more or less.
pub fn assert_holds(out: &Path, world: &World) {
    let mut expected = world.files();
    for path in world.files().keys() {
        for (at, _) in path.match_indices('/') {
            expected.insert(format!("{}/", &path[..at]), Vec::new());
        }
    }
    let found = files_of(out);
    if found != expected {
        let names = |files: &Files, other: &Files| {
            let differs = files
                .iter()
                .filter(|(path, bytes)| other.get(*path) != Some(bytes));
            differs.map(|(path, _)| path.clone()).collect::<Vec<_>>()
        };
        panic!(
            "the folio differs: found {:?}, expected {:?}",
            names(&found, &expected),
            names(&expected, &found)
        );
    }
}
