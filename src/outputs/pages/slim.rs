//! A style sheet without what only its writers read: comments, indents, spaces. The
//! first load of a review stays light even where a server compresses nothing.

/// The same style sheet, shorter. What stands in quotes is left alone, and so is
/// everything from a comment or a quote that never ends.
pub(super) fn slim(css: &str) -> String {
    let mut out = String::with_capacity(css.len());
    // Whether white space, or a comment, which parts words as a space does, came last.
    let mut apart = false;
    let mut rest = css;
    while !rest.is_empty() {
        let Some(end) = piece(rest) else {
            join(&mut out, rest, apart);
            return out;
        };
        let (taken, after) = rest.split_at(end);
        rest = after;
        if taken.starts_with("/*") || taken.trim_start().is_empty() {
            apart = true;
            continue;
        }
        if taken == "}" && out.ends_with(';') {
            out.pop();
        }
        let opaque = taken.starts_with(['"', '\'']) || taken.starts_with("url(");
        if opaque {
            join(&mut out, taken, apart);
        } else {
            join(&mut out, &without_zeros(taken), apart);
        }
        apart = false;
    }
    out
}

/// Numbers without the zero before their point: `.5rem` for `0.5rem`.
fn without_zeros(piece: &str) -> String {
    let mut out = String::with_capacity(piece.len());
    let mut rest = piece;
    while let Some(at) = rest.find("0.") {
        let (before, after) = (&rest[..at], &rest[at + 1..]);
        out.push_str(before);
        let begins =
            !out.ends_with(|letter: char| letter.is_alphanumeric() || "._#".contains(letter));
        if !(begins && after[1..].starts_with(|digit: char| digit.is_ascii_digit())) {
            out.push('0');
        }
        out.push('.');
        rest = &after[1..];
    }
    out.push_str(rest);
    out
}

/// Adds a piece, behind a space where the two would else be one word or mean
/// something else. A colon parts what is behind it, never what is before it:
/// `a :hover` is not `a:hover`.
fn join(out: &mut String, piece: &str, apart: bool) {
    let parts = ['{', '}', ';', ',', '>'];
    if apart
        && !out.is_empty()
        && !out.ends_with([':', '{', '}', ';', ',', '>'])
        && !piece.starts_with(parts)
    {
        out.push(' ');
    }
    out.push_str(piece);
}

/// Where the comment, the quoted text, the white space, the mark or the run of other
/// letters at the head of a text ends.
fn piece(text: &str) -> Option<usize> {
    let mut letters = text.char_indices();
    let (_, first) = letters.next()?;
    match first {
        '/' if text.starts_with("/*") => text[2..].find("*/").map(|at| at + 4),
        '"' | '\'' => {
            let mut escaped = false;
            for (at, letter) in letters {
                match letter {
                    _ if escaped => escaped = false,
                    '\\' => escaped = true,
                    _ if letter == first => return Some(at + first.len_utf8()),
                    _ => {}
                }
            }
            None
        }
        space if space.is_ascii_whitespace() => Some(text.len() - text.trim_ascii_start().len()),
        '/' | '{' | '}' | ';' | ',' => Some(1),
        // A backslash takes the letter behind it along.
        '\\' => Some(
            letters
                .next()
                .map_or(1, |(at, letter)| at + letter.len_utf8()),
        ),
        _ => {
            let ends = |letter: char| letter.is_ascii_whitespace() || "/{};,\"'\\".contains(letter);
            let end = text.find(ends).unwrap_or(text.len());
            match text[..end].find("url(") {
                // An address without quotes is taken whole.
                Some(0) if text[4..].trim_ascii_start().starts_with(['"', '\'']) => Some(4),
                Some(0) => text.find(')').map(|at| at + 1),
                Some(at) => Some(at),
                None => Some(end),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_spaces_for_show_go_and_nothing_else() {
        let css = "/* one\n two */\n\n.a,\n.b > c {\n  color: red; /* why */\n}\n.b::after { content: \"/* no */  \\\" x\"; }\n";
        assert_eq!(
            slim(css),
            ".a,.b>c{color:red}.b::after{content:\"/* no */  \\\" x\"}"
        );
        assert_eq!(slim("a/**/b"), "a b");
        assert_eq!(slim("url(/a/b) 1/2"), "url(/a/b) 1/2");
        assert_eq!(
            slim("a{b:url(x-0.5/0.5, y.png);c:url( \"0.5 ; )\" )}"),
            "a{b:url(x-0.5/0.5, y.png);c:url( \"0.5 ; )\" )}"
        );
    }

    #[test]
    fn spaces_that_mean_something_stay() {
        for (css, expected) in [
            ("a :hover { b: c }", "a :hover{b:c}"),
            ("@media (a) and (b: 1px) { }", "@media (a) and (b:1px){}"),
            (
                "a { b: calc(1px + 2px) !important }",
                "a{b:calc(1px + 2px) !important}",
            ),
            ("a * , b{c:d e}", "a *,b{c:d e}"),
            (
                "a{b:0.5px -0.5px 10.5px 0 .5px calc(0.5px*0.25) #000.5}",
                "a{b:.5px -.5px 10.5px 0 .5px calc(.5px*.25) #000.5}",
            ),
            ("a { --x: \\2195 / \"\"; }", "a{--x:\\2195 / \"\"}"),
        ] {
            assert_eq!(slim(css), expected);
        }
    }

    #[test]
    fn what_never_ends_is_left_alone() {
        for (css, expected) in [
            ("a {} /* x ; y", "a{}/* x ; y"),
            ("a { content: \"x ; y", "a{content:\"x ; y"),
            ("", ""),
            ("'\\'", "'\\'"),
        ] {
            assert_eq!(slim(css), expected);
        }
    }
}
