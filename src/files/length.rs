//! How long a text of a lab's files may be, by where it stands.
//!
//! A file's own limit bounds memory; these keep lists, tables and prints whole.
//! All are in characters. The table of all limits is `docs/limits.md`.

/// A mark or a word that stands in a table's cell: a specimen, a lot, a band.
pub const WORD_LIMIT: usize = 40;
/// A name or label.
pub const LABEL_LIMIT: usize = 120;
/// A sentence or two: a reason, a question, a note on a version.
pub const LINE_LIMIT: usize = 400;
/// A paragraph.
pub const PARAGRAPH_LIMIT: usize = 2_000;

/// What a message says of a text that is longer than its place holds; nothing if
/// it is not.
pub fn too_long(name: &str, text: &str, limit: usize) -> Option<String> {
    // Bytes are never fewer than characters, and cheaper to count.
    if text.len() <= limit {
        return None;
    }
    let length = text.chars().count();
    (length > limit).then(|| format!("`{name}` has {length} characters; {limit} is the most"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_counted_not_bytes() {
        assert_eq!(too_long("a", &"ä".repeat(40), 40), None);
        let said = too_long("a", &"ä".repeat(41), 40).unwrap();
        assert_eq!(said, "`a` has 41 characters; 40 is the most");
    }
}
