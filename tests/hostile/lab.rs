//! A laboratory whose text fields can be set one by one.

use serde_json::Value;
use solefolio::diagnostics::{KeyPath, Problem, Step};
use solefolio::files::{Date, Memory, Root};
use solefolio::gather::gather;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The day of the edition.
pub const AS_OF: &str = "2026-11-30";

/// The lab's files: those in YAML as values, the others as bytes.
#[derive(Clone)]
pub struct HostileLab {
    pub yaml: BTreeMap<String, Value>,
    pub other: BTreeMap<String, Vec<u8>>,
}

/// A text of a file: which, and the way to it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Leaf {
    pub file: String,
    pub way: Vec<String>,
}

impl Leaf {
    /// The field, without which of many it is: `shoes/full.yaml specimens.*.id`.
    pub fn field(&self) -> String {
        let file = match self.file.strip_prefix("shoes/") {
            Some(_) => "shoe",
            None => &self.file,
        };
        let counted = |step: &String| step.parse::<usize>().is_ok();
        let step = |step: &String| if counted(step) { "*" } else { step }.to_owned();
        let way: Vec<String> = self.way.iter().map(step).collect();
        format!("{file} {}", way.join("."))
    }

    /// Whether a problem is about it, or about something it lies in or holds.
    pub fn is_meant(&self, problem: &Problem) -> bool {
        let way: Vec<String> = problem
            .path
            .0
            .iter()
            .map(|step| match step {
                Step::Key(key) => key.clone(),
                Step::Index(at) => at.to_string(),
            })
            .collect();
        let same = way.len().min(self.way.len());
        self.file == problem.file && way[..same] == self.way[..same]
    }
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder can be listed") {
        let path = entry.expect("a folder can be listed").path();
        if path.is_dir() {
            files(&path, found);
        } else {
            found.push(path);
        }
    }
}

fn leaves(file: &str, value: &Value, way: &mut Vec<String>, found: &mut Vec<Leaf>) {
    let mut into = |step: String, value: &Value, way: &mut Vec<String>| {
        way.push(step);
        leaves(file, value, way, found);
        way.pop();
    };
    match value {
        Value::String(_) => found.push(Leaf {
            file: file.to_owned(),
            way: way.clone(),
        }),
        Value::Array(items) => {
            for (at, item) in items.iter().enumerate() {
                into(at.to_string(), item, way);
            }
        }
        Value::Object(entries) => {
            for (key, item) in entries {
                into(key.clone(), item, way);
            }
        }
        _ => {}
    }
}

impl HostileLab {
    /// The lab with its harmless texts.
    pub fn harmless() -> HostileLab {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/hostile-lab");
        let mut paths = Vec::new();
        files(&folder, &mut paths);
        let mut lab = HostileLab {
            yaml: BTreeMap::new(),
            other: BTreeMap::new(),
        };
        for path in paths {
            let name = path.strip_prefix(&folder).expect("it lies inside");
            let name = name.to_str().expect("names are UTF-8").replace('\\', "/");
            let bytes = fs::read(&path).expect("a file can be read");
            if name.ends_with(".yaml") {
                let value = serde_yaml::from_slice(&bytes).expect("it is right");
                lab.yaml.insert(name, value);
            } else if !name.ends_with(".md") {
                lab.other.insert(name, bytes);
            }
        }
        lab
    }

    /// Every text there is, but those that must be the same as another: the names
    /// of bands, and of the specimen whose reading is left out.
    pub fn leaves(&self) -> Vec<Leaf> {
        let mut found = Vec::new();
        for (file, value) in &self.yaml {
            leaves(file, value, &mut Vec::new(), &mut found);
        }
        found.retain(|leaf| {
            let step = |at: usize| leaf.way.get(at).map(String::as_str);
            let same = (step(0), step(2)) == (Some("leave-out"), Some("specimen"));
            !same && step(0) != Some("bands") && step(2) != Some("names")
        });
        found
    }

    pub fn text(&self, leaf: &Leaf) -> &str {
        let value = leaf.way.iter().fold(&self.yaml[&leaf.file], |value, step| {
            step.parse::<usize>()
                .ok()
                .and_then(|at| value.get(at))
                .unwrap_or_else(|| &value[step])
        });
        value.as_str().expect("it is a text")
    }

    /// Sets a text, and with a specimen's mark those that name it.
    pub fn set(&mut self, leaf: &Leaf, text: &str) {
        if leaf.way == ["specimens", "0", "id"]
            && let Some(left) = self.yaml[&leaf.file].get("leave-out")
        {
            for at in 0..left.as_array().map_or(0, Vec::len) {
                let way = ["leave-out", &at.to_string(), "specimen"].map(str::to_owned);
                let naming = Leaf {
                    file: leaf.file.clone(),
                    way: way.to_vec(),
                };
                self.set(&naming, text);
            }
        }
        let file = self.yaml.get_mut(&leaf.file).expect("the file is there");
        let value = leaf.way.iter().fold(file, |value, step| match value {
            Value::Array(items) => &mut items[step.parse::<usize>().expect("an index")],
            other => &mut other[step],
        });
        *value = Value::String(text.to_owned());
    }

    /// Gives the bands of the whole set, and of the rule that has its own, other
    /// names, in rules and phrases alike.
    pub fn name_bands(&mut self, names: [&str; 5]) {
        let rules = self.yaml.get_mut("lab/rules.yaml").expect("rules");
        let mut old: Vec<String> =
            serde_json::from_value(rules["bands"].clone()).expect("five names");
        rules["bands"] = names.into_iter().collect();
        rules["rules"]["pace"]["names"] = names[..2].iter().copied().collect();
        old.extend(["easy", "quick"].map(str::to_owned));
        let names = names.into_iter().chain(names[..2].to_vec());
        let phrases = self.yaml.get_mut("lab/phrases.yaml").expect("phrases");
        let findings = phrases["findings"].as_object_mut().expect("a map");
        for (_, words) in findings.iter_mut() {
            let words = words.as_object_mut().expect("a map");
            for (old, new) in old.iter().zip(names.clone()) {
                if let Some(phrase) = words.shift_remove(old) {
                    words.insert(new.to_owned(), phrase);
                }
            }
        }
    }

    /// The files' bytes; a text is written as JSON writes it, which YAML reads.
    pub fn bytes(&self) -> BTreeMap<String, Vec<u8>> {
        let json = |value| serde_json::to_string_pretty(value).expect("values are JSON");
        let yaml = self
            .yaml
            .iter()
            .map(|(name, value)| (name.clone(), json(value).into_bytes()));
        yaml.chain(self.other.clone()).collect()
    }

    /// What is wrong with it: errors only.
    pub fn errors(&self) -> Vec<Problem> {
        let memory = self
            .bytes()
            .into_iter()
            .fold(Memory::new(), |memory, (name, bytes)| {
                memory.with(&name, bytes)
            });
        let as_of: Date = AS_OF.parse().expect("a day");
        let mut problems = match gather(&Root::over(memory)) {
            Ok(gathered) => gathered.problems(as_of),
            Err(problems) => problems,
        };
        problems.retain(Problem::is_error);
        problems
    }

    /// Sets texts, and takes back those that are refused until nothing is; says
    /// which stayed, and hands every refusal over.
    pub fn settle(
        &mut self,
        wanted: &[(Leaf, &str)],
        refused: &mut dyn FnMut(&Problem),
    ) -> Vec<Leaf> {
        let before = self.clone();
        let mut set: Vec<&(Leaf, &str)> = wanted.iter().collect();
        for (leaf, text) in wanted {
            self.set(leaf, text);
        }
        loop {
            let errors = self.errors();
            if errors.is_empty() {
                return set.into_iter().map(|(leaf, _)| leaf.clone()).collect();
            }
            let count = set.len();
            let at = |problem: &Problem, leaf: &Leaf| {
                problem.path != KeyPath::root() && leaf.is_meant(problem)
            };
            let placed = set
                .iter()
                .any(|(leaf, _)| errors.iter().any(|problem| at(problem, leaf)));
            set.retain(|(leaf, _)| {
                // A name may be missed where it leads to, in another file.
                let leads = leaf.way.last().is_some_and(|step| step == "say");
                let meant = errors.iter().any(|problem| at(problem, leaf)) || (!placed && leads);
                if meant {
                    self.set(leaf, before.text(leaf));
                }
                !meant
            });
            errors.iter().for_each(&mut *refused);
            assert!(set.len() < count, "nothing to take back for {errors:#?}");
        }
    }

    /// Writes it into a folder.
    pub fn write(&self, folder: &Path) {
        for (name, bytes) in self.bytes() {
            let path = folder.join(name);
            fs::create_dir_all(path.parent().expect("a file lies in a folder")).expect("made");
            fs::write(path, bytes).expect("written");
        }
    }
}
