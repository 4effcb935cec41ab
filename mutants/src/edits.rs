//! Texts put into a source file, and where they stand in what comes of it.

use std::ops::Range;

/// Where a place and its mutants stand in the woven text, so that the compiler's
/// errors find them.
#[derive(Clone, Debug)]
pub struct Woven {
    pub text: String,
    /// Each place's whole extent, in bytes, with its mutants.
    pub places: Vec<(Range<usize>, Range<usize>)>,
}

/// The order of what opens before an expression, outer ones first; what closes after one
/// is below zero.
pub const OPENING: isize = 1_000_000;

/// A text in place of a range of the source, for one place.
pub struct Edit {
    pub range: Range<usize>,
    /// Which comes first of several that start at one byte.
    pub order: isize,
    pub text: String,
    pub place: usize,
}

/// The source with all edits in it; `places` are the mutants of each.
pub fn assemble(source: &str, edits: &mut [Edit], places: &[Range<usize>]) -> Woven {
    edits.sort_by_key(|edit| (edit.range.start, edit.order));
    let mut text = String::new();
    let mut extents: Vec<Option<Range<usize>>> = vec![None; places.len()];
    let mut at = 0;
    for edit in edits {
        text.push_str(&source[at..edit.range.start]);
        let from = text.len();
        text.push_str(&edit.text);
        let extent = extents[edit.place].get_or_insert(from..from);
        extent.end = text.len();
        at = edit.range.end;
    }
    text.push_str(&source[at..]);
    let places = extents.into_iter().zip(places);
    Woven {
        text,
        places: places
            .filter_map(|(extent, ids)| Some((extent?, ids.clone())))
            .collect(),
    }
}
