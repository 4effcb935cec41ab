//! Thin equivalents of `measure` and `files` functions, with the same names and
//! signatures.

use crate::quantity::{Part, Shape, Source, Uncertain};
use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};

/// The known word nearest to `word`, if one is near enough to be meant.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |word: &str| word.replace(['-', '_'], "").to_lowercase();
    let wanted = plain(word);
    known
        .into_iter()
        .map(|candidate| (distance(&wanted, &plain(candidate)), candidate))
        .filter(|(distance, _)| *distance <= (wanted.len() / 3).max(1))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Levenshtein's distance.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut before = row[0];
        row[0] = i + 1;
        for (j, to) in b.iter().enumerate() {
            let replaced = before + usize::from(from != *to);
            before = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(before + 1);
        }
    }
    row[b.len()]
}

fn normal() -> Normal {
    Normal::standard()
}

/// Chance that Student's t is at most `t`.
fn student_cdf(t: f64, dof: f64) -> f64 {
    if t.is_infinite() {
        return if t > 0.0 { 1.0 } else { 0.0 };
    }
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(student) if dof.is_finite() => student.cdf(t),
        _ => normal().cdf(t),
    }
}

/// The two-sided factor for a coverage.
pub fn coverage_factor(coverage: f64, dof: f64) -> f64 {
    let p = 0.5 + 0.5 * coverage;
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(student) if dof.is_finite() => student.inverse_cdf(p),
        _ => normal().inverse_cdf(p),
    }
}

/// The chance of each band between rising cuts (JCGM 106:2012).
pub fn band_chances(value: f64, u: f64, dof: f64, cuts: &[f64]) -> Vec<f64> {
    if u == 0.0 {
        let stated = cuts.partition_point(|cut| *cut <= value);
        return (0..=cuts.len())
            .map(|band| f64::from(u8::from(band == stated)))
            .collect();
    }
    let mut below = 0.0;
    let mut chances: Vec<f64> = Vec::with_capacity(cuts.len() + 1);
    for cut in cuts {
        let under = student_cdf((cut - value) / u, dof);
        chances.push(under - below);
        below = under;
    }
    chances.push(1.0 - below);
    chances
}

/// A function of several inputs by central differences over ±u
/// (JCGM 100:2008, 5.1.3, note 2), shared sources kept.
pub fn through_function<E>(
    value: f64,
    inputs: &[&Uncertain],
    mut f: impl FnMut(&[f64]) -> Result<f64, E>,
) -> Result<Uncertain, E> {
    let mut at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let mut slopes = Vec::with_capacity(inputs.len());
    for (index, input) in inputs.iter().enumerate() {
        let u = input.u();
        if u == 0.0 {
            slopes.push(0.0);
            continue;
        }
        at[index] = input.value + u;
        let up = f(&at)?;
        at[index] = input.value - u;
        let down = f(&at)?;
        at[index] = input.value;
        slopes.push((up - down) / (2.0 * u));
    }
    Ok(Uncertain::combine(
        value,
        slopes.into_iter().zip(inputs.iter().copied()),
    ))
}

/// Through a scale of straight pieces, level beyond its ends, by statistical
/// linearisation: the mean slope for the value's own parts, and what it leaves
/// over as a part of its own.
pub fn through_piecewise(value: &Uncertain, points: &[(f64, f64)], residual: Source) -> Uncertain {
    let mut points = points.to_vec();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (x, u) = (value.value, value.u());
    let first = points[0];
    let last = points[points.len() - 1];
    let mut pieces = vec![(f64::NEG_INFINITY, first.0, first.1, first.1)];
    pieces.extend(points.windows(2).map(|p| (p[0].0, p[1].0, p[0].1, p[1].1)));
    pieces.push((last.0, f64::INFINITY, last.1, last.1));
    let slope_of = |(from, to, low, high): (f64, f64, f64, f64)| {
        if from.is_finite() && to.is_finite() {
            (high - low) / (to - from)
        } else {
            0.0
        }
    };
    // The line of a piece at `x`, from a finite end of it.
    let line_at = |piece: (f64, f64, f64, f64)| {
        if piece.0.is_finite() {
            piece.2 + slope_of(piece) * (x - piece.0)
        } else {
            piece.3
        }
    };
    let here = pieces
        .iter()
        .find(|piece| x <= piece.1)
        .map_or(last.1, |piece| {
            if x == piece.1 {
                piece.3
            } else {
                line_at(*piece)
            }
        });
    if u == 0.0 {
        return Uncertain::exact(here);
    }
    let density = |t: f64| if t.is_finite() { normal().pdf(t) } else { 0.0 };
    let times = |t: f64| {
        if t.is_finite() {
            t * normal().pdf(t)
        } else {
            0.0
        }
    };
    let moments = |piece: &(f64, f64, f64, f64)| {
        let (a, b) = ((piece.0 - x) / u, (piece.1 - x) / u);
        let chance = student_cdf(b, f64::INFINITY) - student_cdf(a, f64::INFINITY);
        (
            chance,
            density(a) - density(b),
            chance + times(a) - times(b),
        )
    };
    let slope: f64 = pieces.iter().map(|p| slope_of(*p) * moments(p).0).sum();
    let (mut mean, mut square) = (0.0, 0.0);
    for piece in &pieces {
        let (m0, m1, m2) = moments(piece);
        let alpha = line_at(*piece) - here;
        let beta = (slope_of(*piece) - slope) * u;
        mean += alpha * m0 + beta * m1;
        square += alpha * alpha * m0 + 2.0 * alpha * beta * m1 + beta * beta * m2;
    }
    let left = (square - mean * mean).max(0.0);
    let straight = (slope * u).powi(2);
    let carried = value.through(here, slope);
    if left.sqrt() <= 1e-6 * (left + straight).sqrt() {
        return carried;
    }
    let part = Part {
        source: residual,
        u: left.sqrt(),
        dof: value.dof() * left / (2.0 * straight + left),
        shape: Shape::Normal,
    };
    Uncertain::new(here, carried.parts().iter().cloned().chain([part]))
}
