//! Which texts a file says, read from its source.
//!
//! Shared with the build script, which makes the list of all the program's own
//! texts of it, so that no list is kept by hand and none can be out of date.
//! Four ways of saying something are known, each with its text as a literal:
//!
//! | where | how |
//! | --- | --- |
//! | Rust | `say!(to, "…")`, `said!("…")`, `text!("…")` |
//! | page templates | `{{ "…" \| say }}` |
//! | scripts | `say("…")` |
//! | print templates | `say("…")`, `said("…")` |
//!
//! A text that is counted has its form for one beside it, as `one`.

/// A text in a source.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// The text; where it is counted, the form for many.
    pub text: String,
    /// The form for one, where it is counted.
    pub one: Option<String>,
}

/// The texts of a Rust source, in its order; lines of comment say nothing.
pub fn rust(source: &str) -> Vec<Found> {
    let code: String = source
        .lines()
        .map(|line| match line.trim_start().starts_with("//") {
            true => "\n".to_owned(),
            false => format!("{line}\n"),
        })
        .collect();
    let mut found = Vec::new();
    for opening in ["say!(", "said!(", "text!("] {
        for (at, _) in code.match_indices(opening) {
            // Not the end of another name, and not the macro's own rule.
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
                continue;
            }
            let rest = &code[at + opening.len()..];
            if let Some(open) = rest.find('"')
                && let Some((text, after)) = literal(&rest[open..])
            {
                let one = after_comma(after, "one", '=');
                found.push((at, Found { text, one }));
            }
        }
    }
    found.sort();
    found.into_iter().map(|(_, found)| found).collect()
}

/// The texts of a page template, a script, or a script that is a template.
pub fn page(source: &str) -> Vec<Found> {
    let mut found = Vec::new();
    for (at, _) in source.match_indices('|') {
        let after = source[at + 1..].trim_start();
        let Some(options) = after.strip_prefix("say") else {
            continue;
        };
        if options.starts_with(|c: char| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let before = source[..at].trim_end();
        let Some(inside) = before.strip_suffix('"') else {
            continue;
        };
        let Some(open) = inside.rfind('"') else {
            continue;
        };
        let one = options.strip_prefix('(').and_then(|options| {
            let value = options.trim_start().strip_prefix("one")?.trim_start();
            let value = value.strip_prefix('=')?.trim_start();
            Some(literal(value)?.0)
        });
        let text = inside[open + 1..].to_owned();
        found.push((at, Found { text, one }));
    }
    found.extend(calls(source, "say("));
    found.sort();
    found.into_iter().map(|(_, found)| found).collect()
}

/// The texts of a print template.
pub fn print(source: &str) -> Vec<Found> {
    let mut found = calls(source, "say(");
    found.extend(calls(source, "said("));
    found.sort();
    found.into_iter().map(|(_, found)| found).collect()
}

/// The texts of calls `say("…", one: "…")`.
fn calls(source: &str, opening: &str) -> Vec<(usize, Found)> {
    let mut found = Vec::new();
    for (at, _) in source.match_indices(opening) {
        let before = source[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '-') {
            continue;
        }
        let rest = source[at + opening.len()..].trim_start();
        if let Some((text, after)) = literal(rest) {
            let after = after.trim_start();
            // A script hands its values over in braces.
            let one = match after.strip_prefix(',').map(str::trim_start) {
                Some(braced) if braced.starts_with('{') => {
                    after_comma(&format!(",{}", &braced[1..]), "one", ':')
                }
                _ => after_comma(after, "one", ':'),
            };
            found.push((at, Found { text, one }));
        }
    }
    found
}

/// The literal after `, name = ` (or another sign), where that comes next.
fn after_comma(rest: &str, name: &str, sign: char) -> Option<String> {
    let rest = rest.trim_start().strip_prefix(',')?.trim_start();
    let rest = rest.strip_prefix(name)?.trim_start();
    let rest = rest.strip_prefix(sign)?.trim_start();
    Some(literal(rest)?.0)
}

/// A text in quotation marks at the head of a source, and what follows it.
fn literal(source: &str) -> Option<(String, &str)> {
    let mut letters = source.strip_prefix('"')?.char_indices().peekable();
    let mut text = String::new();
    while let Some((at, letter)) = letters.next() {
        match letter {
            '"' => return Some((text, &source[at + 2..])),
            '\\' => match letters.next()?.1 {
                'n' => text.push('\n'),
                't' => text.push('\t'),
                'u' => {
                    let code: String = letters
                        .by_ref()
                        .map(|(_, letter)| letter)
                        .take_while(|letter| *letter != '}')
                        .filter(|letter| *letter != '{')
                        .collect();
                    text.push(char::from_u32(u32::from_str_radix(&code, 16).ok()?)?);
                }
                // A line break that is none, with the spaces after it.
                '\n' => while letters.next_if(|(_, c)| c.is_whitespace()).is_some() {},
                other => text.push(other),
            },
            other => text.push(other),
        }
    }
    None
}

/// Every literal of a source, with where its quotation mark stands. Character
/// literals and lines of comment hold none.
pub fn literals(source: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(step) = source[at..].find(['"', '/', '\'']) {
        let here = at + step;
        let rest = &source[here..];
        if rest.starts_with("//") {
            at = here + rest.find('\n').unwrap_or(rest.len());
        } else if rest.starts_with("'\"'") || rest.starts_with("'\\\"'") {
            at = here + rest[1..].find('\'').map_or(1, |end| end + 2);
        } else if let Some((text, after)) = literal(rest) {
            found.push((here, text));
            at = source.len() - after.len();
        } else {
            at = here + 1;
        }
    }
    found
}
