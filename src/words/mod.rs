//! What the program says of its own, and how it says it in another language.
//!
//! A text is written in English where it is said, with named places for what is
//! put in: `say!(to, "higher than {share} of {among}", share = …, among = …)`.
//! The English is its key. A [`Language`] has its own text for it, which may put
//! the values in another order; the lab's own language has the English. So a
//! reader of the code sees what a reader of the page sees, and English needs no
//! file. `build.rs` gathers all texts into [`TEXTS`]; what a language lacks, or
//! has for a text that is no longer said, is found by comparing the two.
//!
//! - [`say!`] says a text to whoever knows the language;
//! - [`said!`] says it in English where no language is known: below `outputs`,
//!   whose sentences also go into the ledger, the data and the trace;
//!   [`Language::retell`] says such a sentence anew;
//! - [`text!`] only marks a text, for a table of them.
//!
//! A text that is counted is written for many, with its form for one as `one`
//! and the number as `n`. A text may begin with a word in square brackets that
//! tells it from its namesake, such as `[way] up`; it is not shown.
//!
//! It does not read files, knows nothing of shoes and never fails: what a
//! language lacks is said in English.

pub mod direction;
mod language;
mod retell;
pub mod scan;

pub use language::{Language, Text, forms_of};

use std::borrow::Cow;

/// One of the program's texts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Said {
    /// The text in English; where it is counted, for many.
    pub text: &'static str,
    /// The form for one, where it is counted.
    pub one: Option<&'static str>,
    /// The files that say it.
    pub files: &'static [&'static str],
}

/// All texts of the program, rising.
pub const TEXTS: &[Said] = include!(concat!(env!("OUT_DIR"), "/texts.rs"));

/// Says a text to something that knows the language.
macro_rules! say {
    ($to:expr, $text:literal, one = $one:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $to.say_counted($text, $one, &[$((stringify!($name), &$value.to_string() as &str)),*])
    };
    ($to:expr, $text:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $to.say($text, &[$((stringify!($name), &$value.to_string() as &str)),*])
    };
}

/// Says a text in English.
macro_rules! said {
    ($text:literal, one = $one:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::words::Language::english()
            .say_counted($text, $one, &[$((stringify!($name), &$value.to_string() as &str)),*])
    };
    ($text:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::words::fill($text, &[$((stringify!($name), &$value.to_string() as &str)),*])
    };
}

/// Marks a text that is said elsewhere.
macro_rules! text {
    ($text:literal) => {
        $text
    };
}

pub(crate) use {said, say, text};

/// A text as it is shown: without the word in brackets that tells it apart.
pub fn shown(text: &str) -> &str {
    match text
        .strip_prefix('[')
        .and_then(|rest| rest.split_once("] "))
    {
        Some((_, text)) => text,
        None => text,
    }
}

/// A text with its placeholders, such as `{value}`, put in. One pass: what is
/// put in is not searched again, so a shoe called `{band}` stays called that.
/// A placeholder that is not known stays as it is written.
pub fn fill(text: &str, values: &[(&str, &str)]) -> String {
    fill_with(text, values, Cow::Borrowed)
}

/// [`fill`] for readers: what is put in leaves the order of the text as it is.
pub fn fill_isolated(text: &str, values: &[(&str, &str)]) -> String {
    fill_with(text, values, direction::isolated)
}

fn fill_with<'v>(
    text: &str,
    values: &[(&str, &'v str)],
    put: impl Fn(&'v str) -> Cow<'v, str>,
) -> String {
    let mut filled = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(open) = rest.find('{') {
        filled.push_str(&rest[..open]);
        rest = &rest[open..];
        let known = values.iter().find(|(name, _)| {
            rest[1..]
                .strip_prefix(name)
                .is_some_and(|after| after.starts_with('}'))
        });
        match known {
            Some((name, value)) => {
                filled.push_str(&put(value));
                rest = &rest[name.len() + 2..];
            }
            None => {
                filled.push('{');
                rest = &rest[1..];
            }
        }
    }
    filled.push_str(rest);
    filled
}

/// The names of a text's placeholders, in its order.
pub fn placeholders(text: &str) -> Vec<&str> {
    let pieces = text.split('{').skip(1);
    let names = pieces.filter_map(|piece| Some(piece.split_once('}')?.0));
    names
        .filter(|name| {
            !name.is_empty() && name.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use scan::Found;

    fn found(text: &str, one: Option<&str>) -> Found {
        Found {
            text: text.into(),
            one: one.map(Into::into),
        }
    }

    #[test]
    fn a_text_is_found_however_it_is_said() {
        let rust = "a(say\u{21}(to, \"{n} of\\\n   {all}\", n = 1)); // say\n// say\u{21}(x, \"no\")\nsaid\u{21}(\"{n} shoes\", one = \"{n} shoe\", n = 2)";
        assert_eq!(
            scan::rust(rust),
            [
                found("{n} of{all}", None),
                found("{n} shoes", Some("{n} shoe"))
            ]
        );
        let page = r#"<p>{{ "Findings" | say }} {{ "{n} shoes" | say(one="{n} shoe", n=3) }} {{ x | sayings }}</p>"#;
        assert_eq!(
            scan::page(page),
            [
                found("Findings", None),
                found("{n} shoes", Some("{n} shoe"))
            ]
        );
        let script =
            r#"x = say("Nothing"); y = say("{n} found", {one: "1 found", n}); essay("no")"#;
        assert_eq!(
            scan::page(script),
            [found("Nothing", None), found("{n} found", Some("1 found"))]
        );
        let print = r#"text(say("not judged")) + say("{n} pages", one: "a page", n: 1)"#;
        assert_eq!(
            scan::print(print),
            [
                found("not judged", None),
                found("{n} pages", Some("a page"))
            ]
        );
    }

    #[test]
    fn what_is_put_in_is_not_searched_again() {
        assert_eq!(
            fill("{shoe}: {value}", &[("shoe", "{value}"), ("value", "4")]),
            "{value}: 4"
        );
        assert_eq!(fill("{other} {", &[]), "{other} {");
    }

    #[test]
    fn the_word_that_tells_namesakes_apart_is_not_shown() {
        assert_eq!(shown("[way] Up"), "Up");
        assert_eq!(shown("[Up]"), "[Up]");
        assert_eq!(
            placeholders("{n} of {all_shoes}, {s: 1}"),
            ["n", "all_shoes"]
        );
    }

    /// A text that is counted in one place is counted in all, else a language
    /// could not have a form for each number.
    #[test]
    fn the_list_of_texts_is_rising_and_each_has_a_file() {
        assert!(TEXTS.windows(2).all(|pair| pair[0].text < pair[1].text));
        assert!(
            TEXTS
                .iter()
                .all(|said| !said.files.is_empty() && !said.text.is_empty())
        );
        for said in TEXTS.iter().filter(|said| said.one.is_some()) {
            assert!(placeholders(said.text).contains(&"n"), "{}", said.text);
        }
    }
}
