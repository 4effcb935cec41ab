//! The nearest known word for a mistyped one.

/// The longest words compared, in characters: distance costs their product.
const WORD_LIMIT: usize = 80;

/// The known word nearest to `word`, if one is near enough to be meant: a third of
/// its letters may differ, and case, hyphens and underscores count little.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |word: &str| -> Vec<char> {
        let lower = word.chars().take(WORD_LIMIT).flat_map(char::to_lowercase);
        lower.filter(|c| !matches!(c, '-' | '_' | ' ')).collect()
    };
    let wanted = plain(word);
    let allowed = (wanted.len() / 3).max(1);
    known
        .into_iter()
        .filter_map(|candidate| {
            let plain_candidate = plain(candidate);
            let distance = distance(&wanted, &plain_candidate);
            // A word of one letter is near to every other; only the same will do.
            let near = distance <= allowed && distance < plain_candidate.len().max(1);
            near.then_some((distance, candidate))
        })
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// How many letters must be added, left out, changed or swapped with their
/// neighbour to turn one word into the other (Damerau's distance in its
/// restricted form: no letter is edited twice).
fn distance(a: &[char], b: &[char]) -> usize {
    let width = b.len() + 1;
    let mut before: Vec<usize> = vec![0; width];
    let mut last: Vec<usize> = (0..width).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; width];
        for j in 1..width {
            let changed = usize::from(a[i - 1] != b[j - 1]);
            row[j] = (last[j] + 1).min(row[j - 1] + 1).min(last[j - 1] + changed);
            let swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            if swapped {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mistyped_word_finds_its_own() {
        let known = [
            "midfoot-torque",
            "heel-compression",
            "mass",
            "model",
            "maker",
        ];
        let find = |word| nearest(word, known);
        assert_eq!(find("midfoot-torqe"), Some("midfoot-torque"));
        assert_eq!(find("Midfoot_Torque"), Some("midfoot-torque"));
        assert_eq!(find("mdoel"), Some("model"));
        assert_eq!(find("colour"), None);
        assert_eq!(find(""), None);
    }

    #[test]
    fn a_short_word_is_not_mistaken_for_another() {
        assert_eq!(nearest("k", ["N", "g"]), None);
        assert_eq!(nearest("n", ["N", "g"]), Some("N"));
    }

    #[test]
    fn the_distance_counts_a_swap_once() {
        let chars = |s: &str| s.chars().collect::<Vec<_>>();
        assert_eq!(distance(&chars("ca"), &chars("ac")), 1);
        assert_eq!(distance(&chars("kitten"), &chars("sitting")), 3);
        assert_eq!(distance(&chars(""), &chars("abc")), 3);
    }
}
