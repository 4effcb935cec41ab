//! The folio's own template filters.
//!
//! - `link(root=…)`: from a path of the folio to a link that also works where
//!   folders have no index, as from a disk;
//! - `sentence`: a clause with its first letter made a capital;
//! - `json`: a value as JSON that may stand in a script element.

use tera::{Error, Kwargs, State, Tera, TeraResult, Value};

/// Adds the filters.
pub(super) fn register(tera: &mut Tera) {
    tera.register_filter("link", link);
    tera.register_filter("sentence", sentence);
    tera.register_filter("json", json);
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
fn json(value: &Value, _: Kwargs, _: &State) -> TeraResult<Value> {
    // The engine's maps have no order of their own; the same view gives the same bytes.
    let mut ordered = serde_json::to_value(value)
        .map_err(|error| Error::chain("the value cannot be written as JSON", error))?;
    ordered.sort_all_objects();
    let text = ordered.to_string();
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            other => out.push(other),
        }
    }
    Ok(Value::safe_string(&out))
}
