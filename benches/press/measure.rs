//! Medians and ratios.

/// A run's time and memory.
#[derive(Clone, Copy, Debug)]
pub struct Figure {
    pub seconds: f64,
    pub kilobytes: u64,
}

pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        sorted[middle]
    } else {
        f64::midpoint(sorted[middle - 1], sorted[middle])
    }
}

/// Prints how many times `theirs` `ours` is, by the medians, with the least and
/// the most of the single ratios, and whether that reaches the goal.
pub fn ratio(what: &str, ours: &[f64], theirs: &[f64], goal: f64) {
    let of = median(ours) / median(theirs);
    let single: Vec<f64> = ours.iter().zip(theirs).map(|(a, b)| a / b).collect();
    let least = single.iter().copied().fold(f64::INFINITY, f64::min);
    let most = single.iter().copied().fold(0.0, f64::max);
    println!(
        "{what}: {:.3} s / {:.3} s = {of:.2} (single runs {least:.2} to {most:.2}; goal {goal}: {})",
        median(ours),
        median(theirs),
        if of <= goal { "reached" } else { "missed" },
    );
}
