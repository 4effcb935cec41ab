//! From a way through a file to its place, for problems found after reading.

use super::tree::{Entry, Node, Tree, Value, clamp};
use crate::diagnostics::text::line_starts;
use crate::diagnostics::{KeyPath, Place, Problem, Step};
use crate::files::Source;
use std::collections::BTreeMap;

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
        let mut node = self.tree.root.as_ref()?;
        let mut key: Option<&Node> = None;
        for step in &path.0 {
            match below(node, step) {
                Some((of, value)) => (key, node) = (of, value),
                // The parent: its key says more than the first of its values.
                None => return Some(self.within(key.unwrap_or(node).span.start)),
            }
        }
        let shown = match key {
            Some(key) if at_key || is_empty(node) => key,
            _ => node,
        };
        Some(self.within(shown.span.start))
    }

    /// Fills in a problem's place from its path, if it has none.
    pub fn resolve(&self, problem: &mut Problem) {
        if problem.place.is_none() {
            problem.place = self.find(&problem.path, problem.at_key);
        }
    }

    fn within(&self, place: Place) -> Place {
        clamp(&self.text, &self.starts, place)
    }
}

fn below<'t>(node: &'t Node, step: &Step) -> Option<(Option<&'t Node>, &'t Node)> {
    match (&node.value, step) {
        (Value::Map(entries), Step::Key(name)) => {
            let named = |entry: &&Entry| entry.name() == Some(name);
            let entry = entries.iter().find(named)?;
            Some((Some(&entry.key), &entry.value))
        }
        (Value::List(items), Step::Index(index)) => Some((None, items.get(*index)?)),
        _ => None,
    }
}

fn is_empty(node: &Node) -> bool {
    matches!(&node.value, Value::Scalar(scalar) if scalar.plain && scalar.text.is_empty())
}

/// Fills in the places of problems that have none. A file is looked up and read
/// for places only if a problem needs it, and once.
pub fn place_all(problems: &mut [Problem], mut lookup: impl FnMut(&str) -> Option<Source>) {
    let mut known: BTreeMap<String, Option<Places>> = BTreeMap::new();
    for problem in problems {
        // A problem of the whole file, such as its name, stands at no line.
        if problem.place.is_some() || problem.path == KeyPath::root() {
            continue;
        }
        let places = known
            .entry(problem.file.clone())
            .or_insert_with_key(|file| lookup(file).map(|source| Places::of(&source)));
        if let Some(places) = places {
            places.resolve(problem);
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
}
