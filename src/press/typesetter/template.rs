//! What a print template uses, read from its text.
//!
//! Nothing is evaluated. Both questions are answered on the safe side: a file
//! that may be used counts as used, a template that may ask about the whole
//! document counts as asking.

use std::collections::BTreeSet;

type Templates = [(String, Vec<u8>)];

/// Words through which a template learns of, or adds to, more than its own
/// sheet. In a bundle Typst answers them for all sheets together.
const SHARED: &[&str] = &[
    "bibliography",
    "cite",
    "counter",
    "footnote",
    "here",
    "label",
    "locate",
    "numbering",
    "outline",
    "position",
    "query",
    "ref",
    "state",
];

/// Whether a text is a template's name: a relative path of plain parts, none
/// beginning with a dot. No other reaches the disk or Typst's source.
pub fn is_name(name: &str) -> bool {
    !name.is_empty()
        && name.split('/').all(|part| {
            !part.is_empty()
                && !part.starts_with('.')
                && part
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
        })
}

/// The files a template uses, itself among them, by name. A file counts as used
/// if a text in quotation marks names it, relative to the file it stands in or
/// from the folder's root. All files count where one imports a thing that has no
/// name there, or names a folder that a name could be made from.
pub fn used_by<'t>(template: &str, templates: &'t Templates) -> Vec<(&'t str, &'t [u8])> {
    let mut used = BTreeSet::new();
    let mut open = vec![template.to_owned()];
    while let Some(name) = open.pop() {
        let Some((_, text)) = templates.iter().find(|(other, _)| *other == name) else {
            continue;
        };
        if !used.insert(name.clone()) {
            continue;
        }
        let text = String::from_utf8_lossy(text);
        let mut folder_named = false;
        for quoted in quoted(&text) {
            let Some(path) = resolve(&name, quoted) else {
                continue;
            };
            let folder = format!("{path}/");
            folder_named |= quoted.ends_with('/')
                && templates
                    .iter()
                    .any(|(other, _)| other.starts_with(&folder));
            if templates.iter().any(|(other, _)| *other == path) {
                open.push(path);
            }
        }
        if folder_named || imports_unnamed(&text) {
            used.extend(templates.iter().map(|(other, _)| other.clone()));
            break;
        }
    }
    let mut files: Vec<(&str, &[u8])> = templates
        .iter()
        .filter(|(name, _)| used.contains(name))
        .map(|(name, text)| (name.as_str(), text.as_slice()))
        .collect();
    files.sort_unstable();
    files
}

/// Whether something is imported or included that is not named by a text.
fn imports_unnamed(text: &str) -> bool {
    ["import", "include"].iter().any(|keyword| {
        text.match_indices(keyword).any(|(at, _)| {
            let after = &text[at + keyword.len()..];
            // `important` and `imports` are other words; `import"a"` is none of them.
            !after.starts_with(|c: char| c.is_alphanumeric() || c == '_' || c == '-')
                && !after.trim_start().starts_with('"')
        })
    })
}

/// Whether a sheet of this template neither asks about the document as a whole
/// nor adds to what others could ask, so that it may share a process.
pub fn keeps_to_itself(template: &str, templates: &Templates) -> bool {
    used_by(template, templates)
        .into_iter()
        .filter(|(name, _)| name.ends_with(".typ"))
        .all(|(_, text)| std::str::from_utf8(text).is_ok_and(no_shared_word))
}

/// Every stretch between two quotation marks, taken from each mark in turn, so
/// that a lone mark in running text cannot hide a name.
fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.match_indices('"').filter_map(|(at, _)| {
        let rest = &text[at + 1..];
        rest.split_once('"').map(|(inside, _)| inside)
    })
}

/// A path as Typst resolves it in a file: from the root after a slash, else
/// from the file's own folder. None if it leads out of the root.
fn resolve(from: &str, path: &str) -> Option<String> {
    let mut parts: Vec<&str> = match path.strip_prefix('/') {
        Some(_) => Vec::new(),
        None => from
            .split('/')
            .rev()
            .skip(1)
            .collect::<Vec<_>>()
            .into_iter()
            .rev()
            .collect(),
    };
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    Some(parts.join("/"))
}

/// Whether none of the words stands in a text's lines that are not comment whole.
fn no_shared_word(text: &str) -> bool {
    text.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .all(no_shared_word_in)
}

fn no_shared_word_in(text: &str) -> bool {
    let word = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
    let mut rest = text;
    while let Some(start) = rest.find(|c: char| c.is_alphabetic()) {
        let before = &rest[..start];
        let after = &rest[start..];
        let end = after.find(|c: char| !word(c)).unwrap_or(after.len());
        let (name, next) = after.split_at(end);
        if SHARED.contains(&name) {
            let next = next.trim_start();
            let harmless = match name {
                // Pages are counted for each sheet, in a bundle too.
                "counter" => next.starts_with("(page)"),
                "numbering" => next.starts_with(": none"),
                // A view's field of that name.
                "label" => before.ends_with('.'),
                _ => false,
            };
            if !harmless {
                return false;
            }
        }
        // A label is set with `<name>`.
        if before.ends_with('<') && next.starts_with('>') {
            return false;
        }
        rest = next;
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(files: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
        files
            .iter()
            .map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec()))
            .collect()
    }

    fn names(template: &str, files: &[(&str, &str)]) -> Vec<String> {
        let files = set(files);
        used_by(template, &files)
            .into_iter()
            .map(|(name, _)| name.to_owned())
            .collect()
    }

    #[test]
    fn uses_follow_imports_of_imports_and_no_others() {
        let files = [
            (
                "review.typ",
                "#import \"lib/a.typ\": x\n#include \"/top.typ\"",
            ),
            ("lib/a.typ", "#import \"b.typ\": y\n#image(\"../logo.svg\")"),
            ("lib/b.typ", "#import \"a.typ\": x"),
            ("logo.svg", "<svg/>"),
            ("top.typ", ""),
            ("other.typ", ""),
        ];
        assert_eq!(
            names("review.typ", &files),
            [
                "lib/a.typ",
                "lib/b.typ",
                "logo.svg",
                "review.typ",
                "top.typ"
            ]
        );
    }

    #[test]
    fn a_lone_quotation_mark_hides_no_import() {
        let files = [("r.typ", "5\" wide\n#import \"a.typ\": x"), ("a.typ", "")];
        assert_eq!(names("r.typ", &files), ["a.typ", "r.typ"]);
    }

    #[test]
    fn a_name_put_together_from_a_folder_counts_all_files() {
        let files = [
            ("r.typ", "#include \"lib/\" + name"),
            ("lib/a.typ", ""),
            ("z.typ", ""),
        ];
        assert_eq!(names("r.typ", &files), ["lib/a.typ", "r.typ", "z.typ"]);
    }

    #[test]
    fn an_import_without_a_name_counts_all_files() {
        let files = [
            ("r.typ", "#let f = \"/\" + name\n#include f"),
            ("z.typ", ""),
        ];
        assert_eq!(names("r.typ", &files), ["r.typ", "z.typ"]);
        let files = [("r.typ", "an important thing, split(\"/\")"), ("z.typ", "")];
        assert_eq!(names("r.typ", &files), ["r.typ"]);
    }

    #[test]
    fn names_that_lead_elsewhere_are_no_names() {
        for bad in [
            "", "/a.typ", "../a.typ", "a//b", ".hidden", "a b.typ", "a\"b.typ", "lib/../a",
        ] {
            assert!(!is_name(bad), "{bad}");
        }
        assert!(is_name("lib/a-1_b.typ"));
    }

    #[test]
    fn templates_that_ask_about_the_document_do_not_share_a_process() {
        for asking in [
            "#outline()",
            "#context query(heading)",
            "#counter(heading).step()",
            "#set heading(numbering: \"1.\")",
            "#let q = std.query",
            "= Title <title>",
            "#footnote[x]",
            "x // y\n#locate(z)",
            "#here\n()",
        ] {
            assert!(
                !keeps_to_itself("r.typ", &set(&[("r.typ", asking)])),
                "{asking}"
            );
        }
    }

    #[test]
    fn page_numbers_and_fields_do_not_keep_a_template_from_sharing() {
        let text = "#counter(page).display() #q.label figure(numbering: none) a <b and c> d label-text\n  // here, a query";
        assert!(keeps_to_itself("r.typ", &set(&[("r.typ", text)])));
    }
}
