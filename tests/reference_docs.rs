//! The reference in `docs/reference/`, made from doc comments, registries and
//! schemas. The test fails when it drifts; `UPDATE_REFERENCE=1 cargo test --test
//! reference_docs` makes it anew.

use serde_json::Value;
use solefolio::cli;
use solefolio::diagnostics::codes::CODES;
use solefolio::outputs;
use solefolio::outputs::views::{ALL, VIEWS};
use solefolio::rules::{RuleFile, kinds};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

const MADE: &str =
    "<!-- Made from the code by `UPDATE_REFERENCE=1 cargo test --test reference_docs`. -->\n\n";

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The pages: file name and text.
fn pages() -> Vec<(&'static str, String)> {
    vec![
        ("rules.md", rules()),
        ("outputs.md", all_outputs()),
        ("codes.md", codes()),
        ("files.md", files()),
        ("views.md", views()),
        ("commands.md", commands()),
    ]
}

fn rules() -> String {
    let mut text = format!(
        "# Kinds of rules\n\n{MADE}A rule in `lab/rules.yaml` is of one of these kinds. Which settings each has stands below it.\n"
    );
    let schema = Value::from(schemars::schema_for!(RuleFile));
    let variants = schema["oneOf"].as_array().expect("a kind is a variant");
    for (kind, variant) in kinds().iter().zip(variants) {
        let _ = write!(text, "\n## {}\n\n{}\n", kind.name, kind.about);
        for (heading, section) in &kind.sections {
            let _ = write!(text, "\n### {heading}\n\n{section}\n");
        }
        let own = match variant["$ref"].as_str() {
            Some(_) => &schema["$defs"][name_of(&variant["$ref"])],
            None => variant,
        };
        text.push_str("\n### Settings\n\n");
        text.push_str(&table(own));
    }
    text.push_str(&definitions(&schema, "## "));
    text
}

fn all_outputs() -> String {
    let mut text = format!(
        "# Outputs\n\n{MADE}What the folio contains, in the order in which it is planned. A page or print is a template that fills in a view; both can be replaced, and the views are described in their own chapter.\n"
    );
    let registry = std::fs::read_to_string(project().join("src/outputs/mod.rs")).unwrap();
    let list = registry.split("pub fn all()").nth(1).expect("the registry");
    let modules: Vec<&str> = list
        .lines()
        .filter_map(|line| line.trim().strip_prefix('&')?.split("::").next())
        .filter(|module| !module.starts_with('['))
        .collect();
    let outputs = outputs::all();
    assert_eq!(modules.len(), outputs.len(), "{modules:?}");
    for (module, output) in modules.iter().zip(outputs) {
        let source = project().join(format!("src/outputs/{module}.rs"));
        let source = std::fs::read_to_string(source).unwrap();
        let doc: Vec<&str> = source
            .lines()
            .map_while(|line| line.strip_prefix("//!"))
            .map(|line| line.strip_prefix(' ').unwrap_or(line))
            .collect();
        assert!(!doc.is_empty(), "{module} has a doc comment");
        let _ = write!(
            text,
            "\n## {}\n\n{}\n",
            output.name(),
            doc.join("\n").trim()
        );
    }
    text
}

fn codes() -> String {
    let mut text = format!(
        "# Problem codes\n\n{MADE}`solefolio explain CODE` says the same on the command line.\n"
    );
    let mut codes: Vec<_> = CODES.iter().collect();
    codes.sort_by_key(|code| code.name);
    for code in codes {
        let _ = write!(
            text,
            "\n## {}\n\n{} {}\n\n```text\n{}\n```\n\n{}\n",
            code.name, code.what, code.why, code.example, code.fix
        );
    }
    text
}

fn files() -> String {
    let mut text = format!(
        "# Files\n\n{MADE}What each file of a lab holds, the header of a page template, and the lines of outside programs. `solefolio schema NAME` prints each as JSON Schema.\n"
    );
    for named in cli::schema::FILES {
        // The kinds of rules have a chapter of their own.
        let schema = Value::from(named.schema());
        let _ = write!(text, "\n## {}\n\n{}.\n\n", named.word, named.what);
        text.push_str(&table(&schema));
        if named.word != "rules" {
            text.push_str(&definitions(&schema, "### "));
        }
    }
    text
}

fn views() -> String {
    let mut text = format!(
        "# Views\n\n{MADE}What templates and programs see: version {VIEWS} of their form. It is raised when a field is renamed, removed or means something else; a field more leaves it as it is. What may be `null` is said so, and a template asks with `if` first.\n"
    );
    let mut shared: BTreeMap<String, Value> = BTreeMap::new();
    for view in ALL {
        let schema = Value::from(view.schema());
        let _ = write!(text, "\n## {}\n\n{}", view.name, said(&schema));
        if !view.templates.is_empty() {
            let _ = write!(text, " Seen by `{}`.", view.templates.join("`, `"));
        }
        if let Some(made_for) = view.made_for {
            let _ = write!(text, " Pages and programs made for `{made_for}` see it.");
        }
        text.push_str("\n\n");
        text.push_str(&table(&schema));
        for (name, definition) in schema["$defs"].as_object().into_iter().flatten() {
            shared.insert(name.clone(), definition.clone());
        }
    }
    for (name, definition) in &shared {
        let _ = write!(
            text,
            "\n## {name}\n\n{}\n\n{}",
            said(definition),
            table(definition)
        );
    }
    text
}

fn commands() -> String {
    let mut text = format!(
        "# Commands\n\n{MADE}`solefolio COMMAND --help` says the same. Every command takes the options of the first table.\n"
    );
    let command = cli::command();
    text.push_str("\n## Everywhere\n\n");
    text.push_str(&options(
        command.get_arguments().filter(|one| one.is_global_set()),
    ));
    for sub in command.get_subcommands() {
        let about = sub.get_about().map(ToString::to_string).unwrap_or_default();
        let _ = write!(text, "\n## {}\n\n{}\n", sub.get_name(), ended(&about));
        let own = options(sub.get_arguments().filter(|one| !one.is_global_set()));
        if !own.is_empty() {
            let _ = write!(text, "\n{own}");
        }
    }
    text
}

fn options<'a>(arguments: impl Iterator<Item = &'a clap::Arg>) -> String {
    let mut rows = String::new();
    for one in arguments.filter(|one| one.get_id() != "help" && one.get_id() != "version") {
        let long = one.get_long().map(|long| format!("--{long}"));
        let short = one.get_short().map(|short| format!("-{short}"));
        let mut name: Vec<String> = short.into_iter().chain(long).collect();
        let value = one.get_value_names().map(|names| {
            names
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(" ")
        });
        let takes = one.get_action().takes_values();
        if name.is_empty() {
            name.push(
                value
                    .clone()
                    .unwrap_or_else(|| one.get_id().to_string().to_uppercase()),
            );
        } else if let Some(value) = value.filter(|_| takes) {
            *name.last_mut().expect("it has a name") += &format!(" {value}");
        }
        let help = one.get_help().map(ToString::to_string).unwrap_or_default();
        let _ = writeln!(
            rows,
            "| `{}` | {} |",
            name.join("`, `"),
            cell(&ended(&help))
        );
    }
    if rows.is_empty() {
        return rows;
    }
    format!("| option | does |\n| --- | --- |\n{rows}")
}

fn ended(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() || text.ends_with('.') {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

/// The tables of a schema's shared forms.
fn definitions(schema: &Value, level: &str) -> String {
    let mut text = String::new();
    for (name, definition) in schema["$defs"].as_object().into_iter().flatten() {
        let _ = write!(
            text,
            "\n{level}{name}\n\n{}\n\n{}",
            said(definition),
            table(definition)
        );
    }
    text
}

/// What a key says; one that is always the same word needs no words of its own.
fn meaning(property: &Value) -> String {
    match (property.get("const"), said(property)) {
        (Some(word), said) if said.is_empty() => format!("Always `{}`.", bare(word)),
        (_, said) => said,
    }
}

fn said(schema: &Value) -> String {
    schema["description"]
        .as_str()
        .unwrap_or_default()
        .replace('\n', " ")
}

/// A table of an object's keys, a list of words, or nothing.
fn table(schema: &Value) -> String {
    if let Some(properties) = schema["properties"].as_object() {
        let required: Vec<&str> = schema["required"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .collect();
        let mut text = "| key | is | says |\n| --- | --- | --- |\n".to_owned();
        for (key, property) in properties {
            let optional = if required.contains(&key.as_str()) {
                ""
            } else {
                ", optional"
            };
            let _ = writeln!(
                text,
                "| `{key}` | {}{optional} | {} |",
                cell(&form(property)),
                cell(&meaning(property))
            );
        }
        return text;
    }
    let variants = schema["oneOf"]
        .as_array()
        .or_else(|| schema["anyOf"].as_array());
    let mut text = String::new();
    for variant in variants.into_iter().flatten() {
        let words = match variant["properties"].as_object() {
            Some(_) => format!("{}\n\n{}", ended(&said(variant)), table(variant)),
            None => format!("- {}: {}\n", form(variant), ended(&said(variant))),
        };
        text.push_str(&words);
    }
    text
}

/// What a value is, in a few words.
fn form(schema: &Value) -> String {
    if schema["$ref"].is_string() {
        return name_of(&schema["$ref"]).to_string();
    }
    if let Some(word) = schema.get("const") {
        return format!("`{}`", bare(word));
    }
    if let Some(words) = schema["enum"].as_array() {
        let words: Vec<String> = words
            .iter()
            .map(|word| format!("`{}`", bare(word)))
            .collect();
        return words.join(", ");
    }
    for key in ["anyOf", "oneOf", "allOf"] {
        if let Some(variants) = schema[key].as_array() {
            let forms: Vec<String> = variants.iter().map(form).collect();
            return forms.join(" or ");
        }
    }
    let of = |one: &Value| match one.as_str() {
        Some("array") => {
            let item = form(&schema["items"]);
            format!(
                "list of {}",
                if item.is_empty() {
                    "values".to_owned()
                } else {
                    item
                }
            )
        }
        Some("object") if schema["additionalProperties"].is_object() => {
            format!("map to {}", form(&schema["additionalProperties"]))
        }
        Some("object") => "map".to_owned(),
        Some("string") => match schema["format"].as_str() {
            Some(format) => format!("text ({format})"),
            None => "text".to_owned(),
        },
        Some("integer") => "whole number".to_owned(),
        Some("boolean") => "true or false".to_owned(),
        Some(word) => word.to_owned(),
        None => String::new(),
    };
    match &schema["type"] {
        Value::Array(types) => types.iter().map(of).collect::<Vec<_>>().join(" or "),
        one => match of(one) {
            form if form.is_empty() => "any value".to_owned(),
            form => form,
        },
    }
}

fn bare(value: &Value) -> String {
    value
        .as_str()
        .map_or_else(|| value.to_string(), str::to_owned)
}

fn name_of(reference: &Value) -> &str {
    reference
        .as_str()
        .unwrap_or_default()
        .rsplit('/')
        .next()
        .unwrap_or_default()
}

/// A text that can stand in a table.
fn cell(text: &str) -> String {
    text.replace('\n', " ").replace('|', "\\|")
}

#[test]
fn the_reference_is_as_the_code_says() {
    let folder = project().join("docs/reference");
    let update = std::env::var_os("UPDATE_REFERENCE").is_some();
    for (name, text) in pages() {
        let text: String = text
            .lines()
            .map(|line| format!("{}\n", line.trim_end()))
            .collect();
        let file = folder.join(name);
        if update {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(&file, text).unwrap();
            continue;
        }
        let there = std::fs::read_to_string(&file).unwrap_or_default();
        let differs = there
            .lines()
            .zip(text.lines())
            .find(|(old, new)| old != new);
        assert!(
            there == text,
            "docs/reference/{name} has drifted from the code, first at {differs:?}; \
             run `UPDATE_REFERENCE=1 cargo test --test reference_docs`"
        );
    }
}

#[test]
fn every_entry_of_every_registry_has_its_place() {
    let pages: BTreeMap<&str, String> = pages().into_iter().collect();
    let heading = |page: &str, name: &str| {
        let there = pages[page]
            .lines()
            .any(|line| line.trim_start_matches('#').trim() == name);
        assert!(there && !name.is_empty(), "{page} has no heading {name}");
    };
    kinds()
        .iter()
        .for_each(|kind| heading("rules.md", kind.name));
    outputs::all()
        .iter()
        .for_each(|output| heading("outputs.md", output.name()));
    CODES.iter().for_each(|code| heading("codes.md", code.name));
    ALL.iter().for_each(|view| heading("views.md", view.name));
    cli::schema::FILES
        .iter()
        .for_each(|named| heading("files.md", named.word));
    for sub in cli::command().get_subcommands() {
        heading("commands.md", sub.get_name());
    }
    let mut names: Vec<&str> = outputs::all().iter().map(|output| output.name()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(
        names.len(),
        outputs::all().len(),
        "outputs have names of their own"
    );
    // No key of any table goes without a word.
    for (page, text) in &pages {
        for line in text.lines().filter(|line| line.starts_with("| `")) {
            assert!(!line.ends_with("|  |"), "{page}: {line} says nothing");
        }
    }
}
