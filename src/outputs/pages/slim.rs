//! A style sheet without what only its writers read: comments, indents, spaces. The
//! first load of a review stays light even where a server compresses nothing.

/// The same style sheet, shorter. What stands in quotes is left alone, and so is
/// everything from a comment or a quote that never ends.
pub(super) fn slim(css: &str) -> String {
    let mut out = String::with_capacity(css.len());
    let mut rest = css;
    while let Some(at) = rest.find(['"', '\'', '/', '\n']) {
        let (before, from) = rest.split_at(at);
        out.push_str(&closer(before));
        let Some(end) = piece(from) else {
            out.push_str(from);
            return out;
        };
        let (taken, after) = from.split_at(end);
        if taken.starts_with("/*") {
            // A comment parts words as a space does.
            if !out.ends_with([' ', '\n', '}', '{', ';']) && !out.is_empty() {
                out.push(' ');
            }
        } else if taken.starts_with('\n') {
            if !out.is_empty() && !out.ends_with('\n') {
                out.push('\n');
            }
        } else {
            out.push_str(taken);
        }
        rest = after;
    }
    out.push_str(&closer(rest));
    out
}

/// Text outside of quotes without the spaces within braces and after semicolons.
fn closer(text: &str) -> String {
    let text = text.replace("{ ", "{").replace("; ", ";");
    text.replace(" }", "}").replace(";}", "}")
}

/// Where the comment, the quoted text, the line break with its indent or the
/// single letter at the head of a text ends.
fn piece(text: &str) -> Option<usize> {
    let mut letters = text.char_indices();
    let (_, first) = letters.next()?;
    match first {
        '/' if text.starts_with("/*") => text[2..].find("*/").map(|at| at + 4),
        '/' => Some(1),
        '\n' => Some(text.len() - text.trim_start().len()),
        quote => {
            let mut escaped = false;
            for (at, letter) in letters {
                match letter {
                    _ if escaped => escaped = false,
                    '\\' => escaped = true,
                    _ if letter == quote => return Some(at + quote.len_utf8()),
                    _ => {}
                }
            }
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_indents_go_and_nothing_else() {
        let css = "/* one\n two */\n\n.a {\n  color: red; /* why */\n}\n.b::after { content: \"/* no */  \\\" x\"; }\n";
        assert_eq!(
            slim(css),
            ".a {\ncolor: red;\n}\n.b::after {content: \"/* no */  \\\" x\"}\n"
        );
        assert_eq!(slim("a/**/b"), "a b");
        assert_eq!(slim("url(/a/b) 1/2"), "url(/a/b) 1/2");
    }

    #[test]
    fn what_never_ends_is_left_alone() {
        for (css, expected) in [
            ("a {} /* x ; y", "a {} /* x ; y"),
            ("a { content: \"x ; y", "a {content: \"x ; y"),
            ("", ""),
            ("'\\'", "'\\'"),
        ] {
            assert_eq!(slim(css), expected);
        }
    }
}
