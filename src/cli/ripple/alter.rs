//! A change tried without a file: one value of the rule set, by its path.

use crate::files::nearest;
use serde_yaml::Value;
use std::fmt;
use std::str::FromStr;

/// The way to a value of the rule set: `torsion.points[3]`, `borderline-below`.
///
/// The first name is one of the file's own keys or, more often, a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValuePath(Vec<Step>);

#[derive(Clone, Debug, PartialEq, Eq)]
enum Step {
    Key(String),
    At(usize),
}

/// The most steps of a path; no value of a rule set lies that deep.
const STEPS: usize = 16;

impl FromStr for ValuePath {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mistake = || format!("`{text}` is no path; write one such as `torsion.points[3]`");
        let mut steps = Vec::new();
        for part in text.trim().split('.') {
            let (name, mut rest) = match part.find('[') {
                Some(at) => part.split_at(at),
                None => (part, ""),
            };
            if name.is_empty() {
                return Err(mistake());
            }
            steps.push(Step::Key(name.to_owned()));
            while !rest.is_empty() {
                let (at, after) = rest
                    .strip_prefix('[')
                    .and_then(|rest| rest.split_once(']'))
                    .ok_or_else(mistake)?;
                steps.push(Step::At(at.trim().parse().map_err(|_| mistake())?));
                rest = after;
            }
        }
        if steps.len() > STEPS {
            return Err(mistake());
        }
        Ok(ValuePath(steps))
    }
}

impl fmt::Display for ValuePath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, step) in self.0.iter().enumerate() {
            match step {
                Step::Key(key) if place == 0 => f.write_str(key)?,
                Step::Key(key) => write!(f, ".{key}")?,
                Step::At(at) => write!(f, "[{at}]")?,
            }
        }
        Ok(())
    }
}

/// A value to be put at a path: `torsion.points[3]=[47,60]`.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// Where.
    pub path: ValuePath,
    /// What, as YAML.
    pub value: Value,
}

impl FromStr for Setting {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (path, value) = text
            .split_once('=')
            .ok_or_else(|| format!("`{text}` sets nothing; write `PATH=VALUE`"))?;
        Ok(Setting {
            path: path.parse()?,
            value: serde_yaml::from_str(value)
                .map_err(|error| format!("`{value}` is no YAML value: {error}"))?,
        })
    }
}

/// The rule set's text, parsed, to be altered.
#[derive(Clone, Debug)]
pub struct Alterable(Value);

impl Alterable {
    /// Parses a rule set.
    ///
    /// # Errors
    /// If it is no YAML mapping.
    pub fn parse(text: &str) -> Result<Alterable, String> {
        let value: Value = serde_yaml::from_str(text)
            .map_err(|error| format!("the rule set is no YAML: {error}"))?;
        if value.is_mapping() {
            Ok(Alterable(value))
        } else {
            Err("the rule set is no mapping".to_owned())
        }
    }

    /// Its text.
    pub fn text(&self) -> String {
        serde_yaml::to_string(&self.0).expect("what was parsed can be written")
    }

    /// Puts a value at a path. The last key of a mapping may be new.
    ///
    /// # Errors
    /// If the path leads nowhere, naming the nearest key.
    pub fn set(&mut self, path: &ValuePath, value: Value) -> Result<(), String> {
        let (last, way) = path.0.split_last().expect("a path has a step");
        let at = self.find(way, path, last)?;
        match (last, at) {
            (Step::Key(key), Value::Mapping(map)) => {
                map.insert(Value::String(key.clone()), value);
                Ok(())
            }
            (Step::At(place), Value::Sequence(list)) if *place < list.len() => {
                list[*place] = value;
                Ok(())
            }
            (Step::At(place), Value::Sequence(list)) => Err(too_far(path, *place, list.len())),
            _ => Err(format!(
                "`{path}` leads through something that has no parts"
            )),
        }
    }

    /// The value at a path.
    ///
    /// # Errors
    /// If there is none.
    pub fn get(&mut self, path: &ValuePath) -> Result<&Value, String> {
        let (last, way) = path.0.split_last().expect("a path has a step");
        let at = self.find(way, path, last)?;
        step_into(at, last, path).map(|value| &*value)
    }

    /// The value the way leads to; a path whose first name is no key of the file
    /// begins at the rules.
    fn find(&mut self, way: &[Step], path: &ValuePath, last: &Step) -> Result<&mut Value, String> {
        let first = match way.first().unwrap_or(last) {
            Step::Key(key) => key.as_str(),
            Step::At(_) => return Err(format!("`{path}` begins with no name")),
        };
        let mut at = &mut self.0;
        if at.get(first).is_none() && at.get("rules").is_some() {
            at = at.get_mut("rules").expect("it is there");
        }
        for step in way {
            at = step_into(at, step, path)?;
        }
        Ok(at)
    }
}

fn step_into<'v>(
    at: &'v mut Value,
    step: &Step,
    path: &ValuePath,
) -> Result<&'v mut Value, String> {
    match (step, at) {
        (Step::Key(key), Value::Mapping(map)) => {
            if map.contains_key(key.as_str()) {
                return Ok(map.get_mut(key.as_str()).expect("it is there"));
            }
            let known: Vec<&str> = map.keys().filter_map(Value::as_str).collect();
            let hint = nearest(key, known.iter().copied())
                .map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            Err(format!("`{path}`: there is no `{key}`{hint}"))
        }
        (Step::At(place), Value::Sequence(list)) => {
            let length = list.len();
            list.get_mut(*place)
                .ok_or_else(|| too_far(path, *place, length))
        }
        _ => Err(format!(
            "`{path}` leads through something that has no parts"
        )),
    }
}

fn too_far(path: &ValuePath, place: usize, length: usize) -> String {
    format!("`{path}`: there is no place {place}; the list has {length}, counted from 0")
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: &str =
        "version: 4\nborderline-below: 0.8\nrules:\n  torsion: {points: [[0, 0], [15, 20]]}\n";

    fn set(setting: &str) -> Result<String, String> {
        let setting: Setting = setting.parse()?;
        let mut rules = Alterable::parse(RULES).unwrap();
        rules.set(&setting.path, setting.value)?;
        Ok(rules.text())
    }

    #[test]
    fn a_value_is_set_by_its_path_and_nothing_else_changes() {
        let text = set("torsion.points[1]=[16,20]").unwrap();
        let back: Value = serde_yaml::from_str(&text).unwrap();
        assert_eq!(back["rules"]["torsion"]["points"][1][0], 16);
        assert_eq!(back["rules"]["torsion"]["points"][0][0], 0);
        assert_eq!(back["version"], 4);
        assert!(set("borderline-below=0.9").unwrap().contains("0.9"));
        assert!(set("rules.torsion.points[1][0]=14").unwrap().contains("14"));
    }

    #[test]
    fn a_path_that_leads_nowhere_is_refused_and_names_the_nearest() {
        for (setting, told) in [
            ("torsoin.points[1]=1", "did you mean `torsion`?"),
            ("torsion.points[2]=1", "there is no place 2; the list has 2"),
            ("version.major=1", "no parts"),
            ("torsion.points[x]=1", "is no path"),
            ("torsion..points=1", "is no path"),
            ("torsion", "sets nothing"),
        ] {
            let error = set(setting).unwrap_err();
            assert!(error.contains(told), "{setting}: {error}");
        }
    }

    #[test]
    fn a_path_reads_as_it_was_written() {
        for path in ["torsion.points[3]", "a.b[0][1].c"] {
            assert_eq!(path.parse::<ValuePath>().unwrap().to_string(), path);
        }
    }
}
