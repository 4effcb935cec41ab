//! Names in scripts that run from right to left, within sentences that do not.
//!
//! Such a name takes what stands around it along: its neighbours' digits and
//! marks, and the name beside it, change places with it. So whatever is put into
//! a sentence, and whatever a page shows, stands between Unicode's first strong
//! isolate and its end where it holds a letter of such a script (UAX #9, 2.4.2
//! and 3.1.2): its own order is found from itself alone, and what is around it
//! keeps its place. A lab's own text can hold neither of the two characters
//! (`diagnostics::text::is_refused`), so those there are stand in pairs.

use std::borrow::Cow;

/// Begins what is ordered on its own (FIRST STRONG ISOLATE).
pub const ISOLATE: char = '\u{2068}';

/// Ends it (POP DIRECTIONAL ISOLATE).
pub const POP: char = '\u{2069}';

/// A text that leaves the order around it as it is.
pub fn isolated(text: &str) -> Cow<'_, str> {
    if reorders(text) {
        Cow::Owned(format!("{ISOLATE}{text}{POP}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Whether a text may reorder what stands around it: it holds a letter that runs
/// from right to left and is not isolated yet. An address is left alone: it is
/// followed as often as it is read.
pub fn reorders(text: &str) -> bool {
    // Below this lead byte UTF-8 holds none of them, which most texts show at once.
    if text.bytes().all(|byte| byte < 0xd6) || is_address(text) {
        return false;
    }
    let mut inside = 0_usize;
    text.chars().any(|letter| {
        match letter {
            ISOLATE => inside += 1,
            POP => inside = inside.saturating_sub(1),
            _ => {}
        }
        inside == 0 && runs_leftwards(letter)
    })
}

fn is_address(text: &str) -> bool {
    text.contains("://") || (text.contains('@') && !text.contains(' '))
}

/// The blocks that Unicode keeps for scripts from right to left, with their
/// digits, and the two marks of that direction (DerivedBidiClass.txt, its default
/// classes R, AL and AN; from memory).
fn runs_leftwards(letter: char) -> bool {
    matches!(
        letter,
        '\u{590}'..='\u{8ff}'
            | '\u{200f}'
            | '\u{fb1d}'..='\u{fdff}'
            | '\u{fe70}'..='\u{fefe}'
            | '\u{10800}'..='\u{10fff}'
            | '\u{1e800}'..='\u{1efff}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_runs_leftwards_is_isolated_and_only_once() {
        for text in [
            "Quarrel 2",
            "4.21 N·m ± 0.18",
            "Größe − 日本 𝟚",
            "",
            "Ωmega",
        ] {
            assert_eq!(isolated(text), text);
        }
        for text in ["عداء 3", "Quarrel ריצה", "٤٢", "\u{10800}", "a\u{200f}b"] {
            let once = isolated(text).into_owned();
            assert_eq!(once, format!("{ISOLATE}{text}{POP}"));
            assert_eq!(isolated(&once), once);
            assert_eq!(isolated(&format!("of {once}: 4")), format!("of {once}: 4"));
            assert!(reorders(&format!("{once} {text}")), "{text}");
        }
    }

    #[test]
    fn an_address_stays_one() {
        assert!(!reorders("https://مثال.example/"));
        assert!(!reorders("lab@مثال.example"));
        assert!(reorders("write to lab@مثال.example"));
    }
}
