//! The folio's own template filters.
//!
//! - `link(root=…)`: from a path of the folio to a link that also works where
//!   folders have no index, as from a disk;
//! - `sentence`: a clause with its first letter made a capital;
//! - `json`: a value as JSON that may stand in a script element;
//! - `say(name=…)`: a text in the page's language, with values put in, such as
//!   `{{ "Edition of {day}." | say(day=…) }}`; what is HTML already stays so. A
//!   text that is counted is written for many, with `one` for one and `n`;
//! - `inside`: a label as it stands within a sentence;
//! - `words`: of a static script's name, what the script needs to speak.

use super::escape::escape;
use crate::outputs::views::script::safe_in_script;
use crate::words::{Language, Text, scan};
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::Arc;
use tera::{Error, Kwargs, State, Tera, TeraResult, Value};

/// Adds the filters; `scripts` are the static files, by name, as text.
pub(super) fn register(
    tera: &mut Tera,
    language: &Arc<Language>,
    scripts: &Arc<BTreeMap<String, String>>,
) {
    tera.register_filter("link", link);
    tera.register_filter("sentence", sentence);
    tera.register_filter("json", json_filter);
    let own = language.clone();
    tera.register_filter("say", move |text: &str, values: Kwargs, _: &State| {
        say(&own, text, &values)
    });
    let own = language.clone();
    tera.register_filter("inside", move |label: &str, _: Kwargs, _: &State| {
        own.inside(label)
    });
    let own = language.clone();
    let scripts = scripts.clone();
    tera.register_filter("words", move |name: &str, _: Kwargs, _: &State| {
        words(&own, &scripts, name)
    });
}

/// A text in the page's language. If a value is HTML all else is escaped, and so
/// is the text itself.
fn say(language: &Language, text: &str, values: &Kwargs) -> TeraResult<Value> {
    let markup = values.iter().any(|(_, value)| value.is_safe());
    let written = |plain: &str| -> TeraResult<String> {
        let mut out = Vec::with_capacity(plain.len());
        escape(plain, &mut out).map_err(|error| Error::message(error.to_string()))?;
        Ok(String::from_utf8_lossy(&out).into_owned())
    };
    let mut one = None;
    let mut given: Vec<(String, String)> = Vec::new();
    for (name, value) in values.iter() {
        let shown = value.to_string();
        let name = name.as_str().unwrap_or_default();
        if name == "one" {
            one = Some(shown);
        } else if markup && !value.is_safe() {
            given.push((name.to_owned(), written(&shown)?));
        } else {
            given.push((name.to_owned(), shown));
        }
    }
    let put: Vec<(&str, &str)> = given
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    let in_words = |values: &[(&str, &str)]| match &one {
        Some(one) => language.say_counted(text, one, values),
        None => language.say(text, values),
    };
    if !markup {
        return Ok(Value::from(in_words(&put)));
    }
    // The text is escaped while its places are still empty: braces stay as they are.
    let count: Vec<(&str, &str)> = put
        .iter()
        .copied()
        .filter(|(name, _)| *name == "n")
        .collect();
    let bare = written(&match &one {
        Some(one) => language.say_counted(text, one, &count),
        None => language.say(text, &[]),
    })?;
    Ok(Value::safe_string(&crate::words::fill(&bare, &put)))
}

/// What a script needs to speak: its texts, where the language has its own for
/// them, and how it writes numbers and labels.
fn words(language: &Language, scripts: &BTreeMap<String, String>, name: &str) -> TeraResult<Value> {
    let source = scripts
        .get(name)
        .ok_or_else(|| Error::message(format!("there is no static file `{name}`")))?;
    let texts: BTreeMap<String, serde_json::Value> = scan::page(source)
        .into_iter()
        .filter_map(|found| {
            let said = match language.text(&found.text)? {
                Text::One(said) => json!(said),
                Text::Forms(forms) => json!(forms),
            };
            Some((found.text, said))
        })
        .collect();
    in_script(json!({
        "texts": texts,
        "decimal": language.decimal().to_string(),
        "capitals": language.keeps_capitals(),
    }))
}

/// `shoes/a/` with `root="../"` becomes `../shoes/a/index.html`. An absolute
/// web or mail address stays; any other scheme is taken for a path, so it can
/// do nothing.
fn link(path: &str, options: Kwargs, _: &State) -> TeraResult<String> {
    if ["https://", "http://", "mailto:"]
        .iter()
        .any(|scheme| path.starts_with(scheme))
    {
        return Ok(path.to_string());
    }
    let root: &str = options.must_get("root")?;
    let (path, fragment) = path.split_at(path.find('#').unwrap_or(path.len()));
    let index = if path.is_empty() || path.ends_with('/') {
        "index.html"
    } else {
        ""
    };
    // `./` keeps a colon in the first part from being read as a scheme.
    let here = if root.is_empty() && path.contains(':') {
        "./"
    } else {
        root
    };
    Ok(format!("{here}{path}{index}{fragment}"))
}

/// A clause at the head of a sentence; the rest of it stays as it is.
fn sentence(clause: &str, _: Kwargs, _: &State) -> String {
    let mut letters = clause.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// JSON in which no character can end a script element or a line of script.
fn json_filter(value: &Value, _: Kwargs, _: &State) -> TeraResult<Value> {
    let value = serde_json::to_value(value)
        .map_err(|error| Error::chain("the value cannot be written as JSON", error))?;
    in_script(value)
}

fn in_script(mut ordered: serde_json::Value) -> TeraResult<Value> {
    // The engine's maps have no order of their own; the same view gives the same bytes.
    ordered.sort_all_objects();
    Ok(Value::safe_string(&safe_in_script(&ordered.to_string())))
}
