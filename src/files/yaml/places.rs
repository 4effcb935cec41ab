//! From a way through a file to its place, for problems found after reading.

use super::tree::{Node, Tree, Value, clamp};
use crate::diagnostics::text::line_starts;
use crate::diagnostics::{KeyPath, Place, Problem, Step};
use crate::files::Source;
use std::collections::{BTreeMap, HashMap};

/// Where the keys and values of one file stand.
#[derive(Clone, Debug)]
pub struct Places {
    tree: Tree,
    text: String,
    starts: Vec<usize>,
}

impl Places {
    /// Reads a file for its places; of a broken file, those before the break.
    pub fn of(source: &Source) -> Places {
        Places {
            tree: Tree::parse(source),
            starts: line_starts(&source.text),
            text: source.text.clone(),
        }
    }

    /// The file's tree.
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// The place of a value, or of its key; of its nearest parent that is there if
    /// the file doesn't have it. None in a file without any value.
    pub fn find(&self, path: &KeyPath, at_key: bool) -> Option<Place> {
        let mut place = None;
        self.answer(vec![Asked {
            way: &path.0,
            at_key,
            place: &mut place,
        }]);
        place
    }

    fn answer(&self, asked: Vec<Asked<'_>>) {
        if let Some(root) = &self.tree.root {
            self.descend(root, None, asked);
        }
    }

    /// Goes down from a value to all that are asked for. A map is looked through
    /// once, however many of its keys they are: a hostile file has a hundred
    /// thousand, and a problem with each.
    fn descend(&self, node: &Node, key: Option<&Node>, asked: Vec<Asked<'_>>) {
        let mut below: HashMap<&Step, Vec<Asked<'_>>> = HashMap::new();
        for one in asked {
            let Some((step, rest)) = one.way.split_first() else {
                let shown = match key {
                    Some(key) if one.at_key || is_empty(node) => key,
                    _ => node,
                };
                *one.place = Some(self.within(shown.span.start));
                continue;
            };
            let one = Asked { way: rest, ..one };
            below.entry(step).or_default().push(one);
        }
        match &node.value {
            Value::Map(entries) if !below.is_empty() => {
                for entry in entries {
                    let step = entry.name().map(|name| Step::Key(name.to_owned()));
                    if let Some(asked) = step.and_then(|step| below.remove(&step)) {
                        self.descend(&entry.value, Some(&entry.key), asked);
                    }
                }
            }
            Value::List(items) if !below.is_empty() => {
                for (at, item) in items.iter().enumerate() {
                    if let Some(asked) = below.remove(&Step::Index(at)) {
                        self.descend(item, None, asked);
                    }
                }
            }
            _ => {}
        }
        // Not there: the parent's key says more than the first of its values.
        let parent = key.unwrap_or(node).span.start;
        for one in below.into_values().flatten() {
            *one.place = Some(self.within(parent));
        }
    }

    fn within(&self, place: Place) -> Place {
        clamp(&self.text, &self.starts, place)
    }
}

/// A place that is asked for, and where the answer goes.
struct Asked<'a> {
    /// What is left of the way to it.
    way: &'a [Step],
    at_key: bool,
    place: &'a mut Option<Place>,
}

impl<'a> Asked<'a> {
    fn by(problem: &'a mut Problem) -> Asked<'a> {
        Asked {
            way: &problem.path.0,
            at_key: problem.at_key,
            place: &mut problem.place,
        }
    }
}

fn is_empty(node: &Node) -> bool {
    matches!(&node.value, Value::Scalar(scalar) if scalar.plain && scalar.text.is_empty())
}

/// Fills in the places of problems that have none. A file is looked up and read
/// for places only if a problem needs it, and once.
pub fn place_all(problems: &mut [Problem], mut lookup: impl FnMut(&str) -> Option<Source>) {
    let mut files: BTreeMap<String, Vec<Asked<'_>>> = BTreeMap::new();
    for problem in problems {
        // A problem of the whole file, such as its name, stands at no line.
        if problem.place.is_none() && problem.path != KeyPath::root() {
            let of_file = files.entry(problem.file.clone()).or_default();
            of_file.push(Asked::by(problem));
        }
    }
    for (file, asked) in files {
        if let Some(source) = lookup(&file) {
            Places::of(&source).answer(asked);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHOE: &str = "\
# Größe
maker: Fennick & Vale
specimens:
  - id: Q2-L
    readings:
      mass: [262, 263]
      torque: {größe: 4.3, b: 2}
note:
";

    fn find(path: &KeyPath, at_key: bool) -> Option<(usize, usize)> {
        let places = Places::of(&Source::new("a.yaml", SHOE));
        places.find(path, at_key).map(|p| (p.line, p.column))
    }

    #[test]
    fn keys_and_values_are_found() {
        let specimen = KeyPath::root().key("specimens").index(0);
        let readings = specimen.key("readings");
        assert_eq!(find(&readings.key("mass").index(1), false), Some((6, 19)));
        assert_eq!(find(&readings.key("mass"), true), Some((6, 7)));
        assert_eq!(find(&readings.key("mass"), false), Some((6, 13)));
        assert_eq!(find(&readings.key("torque").key("b"), false), Some((7, 31)));
        assert_eq!(find(&specimen, false), Some((4, 5)));
    }

    #[test]
    fn what_is_not_there_is_placed_at_its_nearest_parent() {
        let specimen = KeyPath::root().key("specimens").index(0);
        let readings = specimen.key("readings");
        assert_eq!(find(&readings.key("drop").index(2), false), Some((5, 5)));
        assert_eq!(find(&specimen.key("side"), false), Some((4, 5)));
        assert_eq!(find(&KeyPath::root().key("model"), false), Some((2, 1)));
        assert_eq!(find(&KeyPath::root().key("note"), false), Some((8, 1)));
        let empty = Places::of(&Source::new("a.yaml", ""));
        assert_eq!(empty.find(&KeyPath::root(), false), None);
    }

    #[test]
    fn only_files_with_a_problem_to_place_are_looked_up() {
        let path = KeyPath::root().key("maker");
        let mut problems = vec![
            Problem::error("wrong-type", "a.yaml", path.clone(), "m"),
            Problem::error("wrong-type", "a.yaml", path.clone(), "m").on_key(),
            Problem::error("wrong-type", "b.yaml", path, "m").at(7, 7),
            Problem::error("same-address", "c.yaml", KeyPath::root(), "m"),
        ];
        let mut asked = Vec::new();
        place_all(&mut problems, |file| {
            asked.push(file.to_owned());
            Some(Source::new(file, SHOE))
        });
        assert_eq!(asked, ["a.yaml"]);
        let lines: Vec<_> = problems
            .iter()
            .map(|p| p.place.map(|p| (p.line, p.column)))
            .collect();
        assert_eq!(lines, [Some((2, 8)), Some((2, 1)), Some((7, 7)), None]);
    }

    #[test]
    fn a_problem_with_each_of_fifty_thousand_keys_is_placed_at_once() {
        let keys = 0..50_000;
        let text: String = keys.clone().map(|n| format!("key-{n}: x\n")).collect();
        let of = |n: i32| {
            let path = KeyPath::root().key(format!("key-{n}"));
            Problem::error("wrong-type", "a.yaml", path, "m").on_key()
        };
        let mut problems: Vec<Problem> = keys.map(of).collect();
        let start = std::time::Instant::now();
        place_all(&mut problems, |file| Some(Source::new(file, &*text)));
        let took = start.elapsed();
        for (n, problem) in problems.iter().enumerate() {
            let line = n + 1;
            assert_eq!(problem.place, Some(Place { line, column: 1 }));
        }
        // One by one it takes a minute; generous, because other work may share the machine.
        assert!(took.as_secs() < 10, "{took:?}");
    }
}
