//! After any edits of a real lab (shoes, thresholds, phrases, templates, the
//! date) `out/` is what a first publish would make, through everything from the
//! files to the folio.

#[expect(dead_code, reason = "its `main` and arguments are the example's own")]
#[path = "../examples/synthesise/main.rs"]
mod synthesise;

mod press_support;

use press_support::{in_memory, only_files};
use proptest::prelude::*;
use solefolio::edition::Scope;
use solefolio::files::{Date, Root};
use solefolio::gather::{Reading, gather_as, read_templates};
use solefolio::measure::drawn::Remembered;
use solefolio::outputs::{self, Surroundings};
use solefolio::press::{
    self, Bindery, Inputs, Interrupt, Job, Look, Options, Report, Silent, publish,
};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Shoes a lab may have; it begins with the first few.
const POOL: u32 = 14;
const FIRST: usize = 6;
const PROGRAM: &str = "program 1";

/// What happens between two publishes; the numbers choose among what there is.
#[derive(Clone, Debug)]
enum Edit {
    Add(u8),
    Remove(u8),
    Rename(u8),
    Reading(u8, u8),
    Summary(u8, u8),
    Threshold(u8),
    Phrase(u8),
    Template(u8),
    Style(u8),
    AsOf(u8),
    Publish,
}

fn edit() -> impl Strategy<Value = Edit> {
    let n = any::<u8>;
    prop_oneof![
        2 => n().prop_map(Edit::Add),
        1 => n().prop_map(Edit::Remove),
        1 => n().prop_map(Edit::Rename),
        2 => (n(), n()).prop_map(|(at, by)| Edit::Reading(at, by)),
        2 => (n(), n()).prop_map(|(at, text)| Edit::Summary(at, text)),
        1 => n().prop_map(Edit::Threshold),
        1 => n().prop_map(Edit::Phrase),
        1 => n().prop_map(Edit::Template),
        1 => n().prop_map(Edit::Style),
        1 => n().prop_map(Edit::AsOf),
        3 => Just(Edit::Publish),
    ]
}

struct Lab {
    folder: tempfile::TempDir,
    /// The pool's files, in order.
    pool: Vec<PathBuf>,
    as_of: Date,
}

fn shoes_in(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|end| end == "yaml"))
        .collect();
    files.sort();
    files
}

/// Changes one text of a file that holds it.
fn replace(path: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(path).expect("a text");
    assert!(text.contains(from), "{} holds {from}", path.display());
    fs::write(path, text.replacen(from, to, 1)).expect("written");
}

impl Lab {
    fn new() -> Self {
        let folder = in_memory();
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
        synthesise::write_lab(&source, &folder.path().join("lab"), POOL, 3).expect("a lab");
        let shoes = folder.path().join("lab/shoes/0000");
        let pool = folder.path().join("pool");
        fs::rename(&shoes, &pool).expect("moved");
        fs::create_dir(&shoes).expect("made");
        if pool.join("curves").exists() {
            fs::rename(pool.join("curves"), shoes.join("curves")).expect("moved");
        }
        let pool = shoes_in(&pool);
        let lab = Lab {
            folder,
            pool,
            as_of: "2026-11-26".parse().expect("a date"),
        };
        for at in 0..FIRST {
            lab.add(at);
        }
        lab
    }

    fn root(&self) -> PathBuf {
        self.folder.path().join("lab")
    }

    fn shoes(&self) -> PathBuf {
        self.root().join("shoes/0000")
    }

    fn add(&self, at: usize) {
        let file = &self.pool[at % self.pool.len()];
        let name = file.file_name().expect("a name");
        fs::copy(file, self.shoes().join(name)).expect("copied");
    }

    fn nth(&self, at: u8) -> Option<PathBuf> {
        let files = shoes_in(&self.shoes());
        (!files.is_empty()).then(|| files[usize::from(at) % files.len()].clone())
    }

    /// A file of the lab as it was first, with one text changed; or the built-in
    /// template with it, under `templates/`.
    fn own(&self, path: &str, from: &str, to: &str) {
        let first = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
        let to_path = self.root().join(path);
        fs::create_dir_all(to_path.parent().expect("a folder")).expect("made");
        fs::copy(first, &to_path).expect("copied");
        replace(&to_path, from, to);
    }

    fn apply(&mut self, edit: &Edit) {
        match edit {
            Edit::Add(at) => self.add(usize::from(*at)),
            Edit::Remove(at) => {
                if let Some(file) = self.nth(*at) {
                    fs::remove_file(file).expect("removed");
                }
            }
            Edit::Rename(at) => {
                if let Some(file) = self.nth(*at) {
                    let name = file.file_name().and_then(|name| name.to_str());
                    let name = format!("x-{}", name.expect("a name"));
                    // Names stay short enough for an address.
                    if name.len() < 60 {
                        fs::rename(&file, self.shoes().join(name)).expect("renamed");
                    }
                }
            }
            Edit::Reading(at, by) => {
                if let Some(file) = self.nth(*at) {
                    let text = fs::read_to_string(&file).expect("a text");
                    let at = text.find("mass: [").expect("a mass") + "mass: [".len();
                    let end = at + text[at..].find([',', ']']).expect("a list");
                    let grams: f64 = text[at..end].trim().parse().expect("a number");
                    let grams = grams + if by % 2 == 0 { 0.5 } else { -0.5 };
                    let text = format!("{}{grams}{}", &text[..at], &text[end..]);
                    fs::write(&file, text).expect("written");
                }
            }
            Edit::Summary(at, text) => {
                if let Some(file) = self.nth(*at) {
                    let lines = fs::read_to_string(&file).expect("a text");
                    let kept = lines.lines().filter(|line| !line.starts_with("summary:"));
                    let mut lines: String = kept.map(|line| format!("{line}\n")).collect();
                    lines += &format!("summary: Words of number {}.\n", text % 4);
                    fs::write(&file, lines).expect("written");
                }
            }
            Edit::Threshold(to) => {
                let to = format!("[{}, 60]", 44 + to % 4);
                self.own("lab/rules.yaml", "[45, 60]", &to);
            }
            Edit::Phrase(to) => {
                let to = format!(
                    "turns freely {}",
                    ["", "indeed", "at last"][usize::from(to % 3)]
                );
                self.own("lab/phrases.yaml", "turns almost freely", to.trim());
            }
            Edit::Template(to) => {
                let to = format!("class=\"ticks t{}\"", to % 3);
                self.own("templates/html/parts/band.html", "class=\"ticks\"", &to);
            }
            Edit::Style(to) => {
                let to = format!("opacity: 0.{}", 5 + to % 3);
                self.own("templates/html/static/folio.css", "opacity: 0.5", &to);
            }
            Edit::AsOf(to) => {
                let day = ["2026-11-12", "2026-11-19", "2026-11-26", "2026-11-27"];
                self.as_of = day[usize::from(to % 4)].parse().expect("a date");
            }
            Edit::Publish => {
                self.publish();
            }
        }
    }

    /// Brings `out/` up to date as the program does: a look first.
    fn publish(&self) -> Option<Report> {
        let root = self.root();
        let inputs = Inputs {
            root: &root,
            folders: &["lab", "shoes", "templates"],
            without: &[],
            also: Vec::new(),
            settings: self.as_of.to_string(),
        };
        let out = self.folder.path().join("out");
        match press::look(&inputs, &out).expect("looked") {
            Look::Unchanged { .. } => None,
            Look::Changed { stamp, .. } => Some(self.publish_into(&out, Some(stamp))),
        }
    }

    fn publish_into(&self, out: &Path, inputs: Option<press::InputsStamp>) -> Report {
        let root = Root::open(self.root()).expect("a lab");
        let drawn = Arc::new(press::remembered(out, PROGRAM));
        let reading = Reading {
            drawn: Arc::clone(&drawn),
            ..Reading::default()
        };
        let gathered = gather_as(&root, &reading).expect("a lab without a problem");
        let problems = gathered.problems(self.as_of);
        assert!(
            problems.iter().all(|problem| !problem.is_error()),
            "{problems:?}"
        );
        let own = read_templates(&root).expect("templates");
        let mut bindery = Bindery::new(own, None).expect("templates without a mistake");
        bindery.speak(&gathered.lab);
        let (assembled, _, _) = gathered.edition(self.as_of, Scope::Published);
        let surroundings = Surroundings {
            prints: false,
            stock: None,
            pages: bindery.pages.own().to_vec(),
            statics: bindery.statics(),
            ..Surroundings::default()
        }
        .in_tongues(assembled.edition.lab.tongues.len());
        let sheets = outputs::plan(&assembled.edition, &surroundings);
        let done = publish(&Job {
            out,
            sheets,
            renderer: &bindery,
            program: PROGRAM.into(),
            inputs,
            keep: Vec::new(),
            missing_prints: 0,
            held_back: assembled.held.len(),
            options: Options::default(),
            progress: &Silent,
            interrupt: Interrupt::default(),
        });
        press::remember(out, PROGRAM, &drawn).expect("kept");
        done.expect("published")
    }

    /// What was drawn for the folio that is out.
    fn drawn(&self) -> Vec<Remembered> {
        let drawn = press::remembered(&self.folder.path().join("out"), PROGRAM);
        let reading = Reading {
            drawn: drawn.into(),
            ..Reading::default()
        };
        let root = Root::open(self.root()).expect("a lab");
        gather_as(&root, &reading).expect("a lab without a problem");
        reading.drawn.asked()
    }

    fn check(&self) {
        self.publish();
        let fresh = self.folder.path().join("fresh");
        self.publish_into(&fresh, None);
        let out = only_files(&self.folder.path().join("out"));
        let fresh = only_files(&fresh);
        assert_eq!(
            out.keys().collect::<Vec<_>>(),
            fresh.keys().collect::<Vec<_>>()
        );
        for (path, bytes) in &out {
            assert!(*bytes == fresh[path], "{path} differs from a fresh one");
        }
        assert!(self.publish().is_none(), "nothing is left to do");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 40, ..ProptestConfig::default() })]
    #[test]
    fn prop_incremental_is_fresh_through_the_whole_pipeline(
        edits in proptest::collection::vec(edit(), 1..10)
    ) {
        let mut lab = Lab::new();
        lab.publish();
        for edit in &edits {
            lab.apply(edit);
        }
        lab.check();
    }
}

/// Early cut-off where it counts: what no reader sees differently isn't made.
#[test]
fn a_day_without_a_change_makes_nothing_again() {
    let mut lab = Lab::new();
    lab.publish();
    lab.as_of = "2026-11-27".parse().expect("a date");
    let report = lab.publish().expect("the date is another");
    assert_eq!((report.made, report.same, report.removed), (0, 0, 0));
}

#[test]
fn a_summary_is_made_again_where_it_is_shown_and_nowhere_else() {
    let mut lab = Lab::new();
    lab.publish();
    let before = only_files(&lab.folder.path().join("out"));
    let file = lab.nth(0).expect("a shoe");
    lab.apply(&Edit::Summary(0, 1));
    lab.publish();
    let after = only_files(&lab.folder.path().join("out"));
    let slug = file
        .file_stem()
        .and_then(|stem| stem.to_str())
        .expect("a name");
    for (path, bytes) in &after {
        let others_page = path.starts_with("shoes/") && !path.contains(slug);
        assert!(!others_page || *bytes == before[path], "{path}");
    }
}

/// Drawing is what judging costs most: an edit draws what it changed, no more.
#[test]
fn only_what_is_new_is_drawn_and_only_what_is_asked_for_is_kept() {
    let mut lab = Lab::new();
    lab.publish();
    let kept = |lab: &Lab| {
        let hidden = lab.folder.path().join("out").join(press::HIDDEN);
        fs::read(hidden.join("drawn")).expect("intervals are kept")
    };
    let (few, file) = (lab.drawn(), kept(&lab));
    assert!(!few.is_empty());
    lab.apply(&Edit::Summary(0, 1));
    lab.publish();
    assert!(kept(&lab) == file, "words draw nothing");
    // A display so coarse that the formula for the mass doesn't fit.
    lab.own("lab/instruments.yaml", "resolution: 1 g", "resolution: 5 g");
    lab.publish();
    let more = lab.drawn();
    assert!(more.len() > few.len());
    assert!(few.iter().filter(|one| more.contains(one)).count() > 0);
    lab.own("lab/instruments.yaml", "resolution: 1 g", "resolution: 1 g");
    lab.publish();
    assert!(kept(&lab) == file, "what nothing asks for is forgotten");
}
