//! The points of a scale: checked, in order, and read backwards.

use super::Mistake;
use crate::diagnostics::KeyPath;

/// The most points of a scale.
pub const POINTS_LIMIT: usize = 100;

/// How far from zero a point's value may lie: beyond, a difference of two may be no
/// number any more.
const VALUE_LIMIT: f64 = 1e12;

/// How far apart the values of two points lie at least: nearer, a slope or its square
/// may be no number any more.
const LEAST_STEP: f64 = 1e-12;

/// Points of a scale, two at least, in rising order of value; the score only
/// rises or only falls along them.
#[derive(Clone, Debug)]
pub(super) struct Points(Vec<(f64, f64)>);

impl Points {
    /// The points as a rule's `points` has them.
    pub fn build(points: &[[f64; 2]]) -> Result<Points, Vec<Mistake>> {
        let mistakes = check_points(points);
        if !mistakes.is_empty() {
            return Err(mistakes);
        }
        let mut points: Vec<(f64, f64)> = points.iter().map(|[x, s]| (*x, *s)).collect();
        if points[0].0 > points[points.len() - 1].0 {
            points.reverse();
        }
        Ok(Points(points))
    }

    /// (value, score) in rising order of value.
    pub fn all(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// Whether the score falls as the value rises.
    pub fn falling(&self) -> bool {
        self.0[0].1 > self.0[self.0.len() - 1].1
    }

    /// The lowest and the highest score.
    pub fn scores(&self) -> (f64, f64) {
        let (first, last) = (self.0[0].1, self.0[self.0.len() - 1].1);
        (first.min(last), first.max(last))
    }

    /// Where on the quantity the bands meet, in rising order: for a rising scale the
    /// least value that reaches a cut, for a falling one the greatest; infinite
    /// where no value reaches the cut or every value does.
    pub fn thresholds(&self, cuts: &[f64]) -> Vec<f64> {
        if self.falling() {
            // The same scale seen in a mirror rises.
            let mirrored: Vec<_> = self.0.iter().rev().map(|(x, s)| (-x, *s)).collect();
            let mut found: Vec<f64> = cuts.iter().map(|cut| -reaches(&mirrored, *cut)).collect();
            found.reverse();
            found
        } else {
            cuts.iter().map(|cut| reaches(&self.0, *cut)).collect()
        }
    }

    /// The piece a value lies on, or the end it is held at.
    pub fn piece(&self, x: f64) -> Result<[(f64, f64); 2], (f64, f64)> {
        let (first, last) = (self.0[0], self.0[self.0.len() - 1]);
        if x < first.0 {
            return Err(first);
        }
        if x > last.0 {
            return Err(last);
        }
        let above = self.0.partition_point(|(at, _)| *at <= x);
        let above = above.clamp(1, self.0.len() - 1);
        Ok([self.0[above - 1], self.0[above]])
    }
}

fn check_points(points: &[[f64; 2]]) -> Vec<Mistake> {
    let path = KeyPath::root().key("points");
    let mut mistakes = Vec::new();
    if points.len() < 2 {
        mistakes.push(
            Mistake::new(
                "too-few-points",
                path.clone(),
                format!(
                    "a scale needs two points at least, and there are {}",
                    points.len()
                ),
            )
            .hint("write them as [[value, score], [value, score]]"),
        );
    }
    if points.len() > POINTS_LIMIT {
        let message = format!("{} points; {POINTS_LIMIT} are the most", points.len());
        return vec![
            Mistake::new("wrong-length", path, message)
                .hint("leave out points that lie on the line between their neighbours"),
        ];
    }
    for (at, [value, score]) in points.iter().enumerate() {
        if !value.is_finite() || !score.is_finite() {
            mistakes.push(
                Mistake::new(
                    "not-finite",
                    path.index(at),
                    "a point is made of two finite numbers",
                )
                .hint("write it as [value, score]"),
            );
        } else if !(0.0..=100.0).contains(score) {
            mistakes.push(
                Mistake::new(
                    "score-out-of-range",
                    path.index(at).index(1),
                    format!("a score of {score} is out of range; scores go from 0 to 100"),
                )
                .hint("a point is written [value, score]; are the two the wrong way round?"),
            );
        } else if value.abs() > VALUE_LIMIT {
            mistakes.push(
                Mistake::new(
                    "out-of-range",
                    path.index(at).index(0),
                    format!(
                        "a value of {value:e} is out of range; values go from -{VALUE_LIMIT:e} to {VALUE_LIMIT:e}"
                    ),
                )
                .hint("check the exponent, or write the scale in a larger unit"),
            );
        }
    }
    if mistakes.is_empty() {
        mistakes.extend(check_order(points, &path));
    }
    mistakes
}

/// The first point out of order, in its value and in its score.
fn check_order(points: &[[f64; 2]], path: &KeyPath) -> Vec<Mistake> {
    let mut mistakes = Vec::new();
    // The first step says which way the points run; values that are equal, or as
    // good as equal, run nowhere.
    let direction = points[1][0] - points[0][0];
    let backwards = |pair: &[[f64; 2]]| {
        let step = pair[1][0] - pair[0][0];
        step.abs() < LEAST_STEP || (step > 0.0) != (direction > 0.0)
    };
    if let Some(at) = points.windows(2).position(backwards) {
        mistakes.push(
            Mistake::new(
                "points-not-in-order",
                path.index(at + 1),
                format!(
                    "the value {} comes after {}; values must only rise or only fall",
                    points[at + 1][0],
                    points[at][0]
                ),
            )
            .hint("sort the points by value, and write each value once"),
        );
    }
    let rises = |pair: &[[f64; 2]]| pair[1][1] > pair[0][1];
    let falls = |pair: &[[f64; 2]]| pair[1][1] < pair[0][1];
    let first_rise = points.windows(2).position(rises);
    let first_fall = points.windows(2).position(falls);
    match (first_rise, first_fall) {
        (Some(rise), Some(fall)) => {
            let at = rise.max(fall) + 1;
            mistakes.push(
                Mistake::new(
                    "scores-not-in-order",
                    path.index(at),
                    format!(
                        "the score {} comes after {}; along the points scores must only rise or only fall",
                        points[at][1],
                        points[at - 1][1]
                    ),
                )
                .hint("a scale must not turn back: one score would stand for two values"),
            );
        }
        (None, None) => mistakes.push(
            Mistake::new(
                "scores-not-in-order",
                path.clone(),
                format!(
                    "every point has the score {}, so the scale says nothing",
                    points[0][1]
                ),
            )
            .hint("give the points scores that rise or fall"),
        ),
        _ => {}
    }
    mistakes
}

/// The least value at which a rising scale has the score `cut`.
fn reaches(points: &[(f64, f64)], cut: f64) -> f64 {
    match points.iter().position(|(_, score)| *score >= cut) {
        None => f64::INFINITY,
        Some(0) => f64::NEG_INFINITY,
        Some(at) => {
            let ((x1, s1), (x2, s2)) = (points[at - 1], points[at]);
            x1 + (cut - s1) / (s2 - s1) * (x2 - x1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(points: &[[f64; 2]]) -> Vec<&'static str> {
        match Points::build(points) {
            Ok(_) => Vec::new(),
            Err(mistakes) => mistakes.into_iter().map(|mistake| mistake.code).collect(),
        }
    }

    #[test]
    fn a_value_on_a_point_lies_on_the_piece_that_begins_there() {
        let points = Points::build(&[[0.0, 0.0], [3.0, 20.0], [9.0, 100.0]]).unwrap();
        let (low, bend, high) = ((0.0, 0.0), (3.0, 20.0), (9.0, 100.0));
        for (x, piece) in [
            (-0.1, Err(low)),
            (0.0, Ok([low, bend])),
            (2.9, Ok([low, bend])),
            (3.0, Ok([bend, high])),
            (9.0, Ok([bend, high])),
            (9.1, Err(high)),
        ] {
            assert_eq!(points.piece(x), piece, "{x}");
        }
    }

    #[test]
    fn scores_reach_from_the_lowest_to_the_highest_whichever_way_the_points_run() {
        for points in [[[0.0, 10.0], [5.0, 90.0]], [[0.0, 90.0], [5.0, 10.0]]] {
            assert_eq!(Points::build(&points).unwrap().scores(), (10.0, 90.0));
        }
    }

    #[test]
    fn a_value_is_written_once_whichever_way_the_points_run() {
        for points in [
            [[4.0, 0.0], [4.0, 50.0], [5.0, 100.0]],
            [[4.0, 0.0], [5.0, 50.0], [5.0, 100.0]],
            [[5.0, 0.0], [4.0, 50.0], [4.0, 100.0]],
        ] {
            assert_eq!(codes(&points), ["points-not-in-order"], "{points:?}");
        }
        assert_eq!(codes(&[[f64::INFINITY, 0.0], [4.0, 50.0]]), ["not-finite"]);
        assert_eq!(codes(&[[0.0, f64::NAN], [4.0, 50.0]]), ["not-finite"]);
    }

    #[test]
    fn values_lie_where_a_slope_between_them_is_a_number() {
        assert_eq!(codes(&[[-1e308, 0.0], [1e308, 100.0]]), ["out-of-range"; 2]);
        assert_eq!(
            codes(&[[0.0, 0.0], [5e-324, 100.0]]),
            ["points-not-in-order"]
        );
        assert!(codes(&[[-1e12, 0.0], [1e12, 100.0]]).is_empty());
        assert!(codes(&[[0.0, 0.0], [1e-12, 100.0]]).is_empty());
    }
}
