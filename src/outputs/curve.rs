//! The picture of a raw curve: a loop of load against travel in a box of
//! 600 × 400 units, y downward as SVG has it.
//!
//! The branches are thinned by the Ramer–Douglas–Peucker method (Douglas and
//! Peucker 1973) to a third of a unit, which no eye can tell from the raw
//! points; the figures beside the picture come from the raw points.

use super::figures::{coordinate, minus, with_unit};
use super::findings::figure_text;
use super::views::{CurveView, FigureView, TickView};
use crate::quantity::{Unit, fixed};
use crate::words::{Language, say};

const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 400.0;

/// How far a thinned line may lie from the raw points, in the picture's units.
const TOLERANCE: f64 = 1.0 / 3.0;

/// About how many steps an axis has.
const STEPS: f64 = 5.0;

/// One branch of a loop: points of travel (or angle) and load (or torque).
pub type Branch = [(f64, f64)];

/// The units of a loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CurveAxes {
    /// Of travel or angle, along the bottom.
    pub travel: Unit,
    /// Of load or torque, along the side.
    pub load: Unit,
}

/// The picture of one loop with the figures it comes to; none where a branch
/// has fewer than two points, or nothing but one place.
pub fn curve_view(
    language: &Language,
    label: &str,
    specimen: &str,
    loading: &Branch,
    unloading: &Branch,
    axes: CurveAxes,
    figures: Vec<(String, FigureView)>,
) -> Option<CurveView> {
    if loading.len() < 2 || unloading.len() < 2 {
        return None;
    }
    let points = || loading.iter().chain(unloading);
    let x = Axis::over(points().map(|point| point.0))?;
    let y = Axis::over(points().map(|point| point.1))?;
    let place = |branch: &Branch| -> Vec<(f64, f64)> {
        branch
            .iter()
            .map(|(travel, load)| (x.share(*travel) * WIDTH, HEIGHT - y.share(*load) * HEIGHT))
            .collect()
    };
    let (across, up) = (
        axis_name(language, axes.travel),
        load_name(language, axes.load),
    );
    let far = x.reach(language, points().map(|point| point.0), axes.travel);
    let high = y.reach(language, points().map(|point| point.1), axes.load);
    let description = description(language, label, specimen, (&high, &far), &figures);
    Some(CurveView {
        label: label.to_owned(),
        specimen: specimen.to_owned(),
        loading: path(&thin(&place(loading))),
        unloading: path(&thin(&place(unloading))),
        x_ticks: x.ticks(language, |share| share * WIDTH),
        y_ticks: y.ticks(language, |share| HEIGHT - share * HEIGHT),
        x_label: format!("{across} ({})", axes.travel),
        y_label: format!("{up} ({})", axes.load),
        description,
        figures,
    })
}

fn axis_name(language: &Language, unit: Unit) -> String {
    match unit {
        Unit::Degree | Unit::Radian => say!(language, "angle"),
        _ => say!(language, "travel"),
    }
}

fn load_name(language: &Language, unit: Unit) -> String {
    match unit {
        Unit::NewtonMetre | Unit::InchPoundForce | Unit::FootPoundForce => say!(language, "torque"),
        _ => say!(language, "load"),
    }
}

fn description(
    language: &Language,
    label: &str,
    specimen: &str,
    (load, travel): (&str, &str),
    figures: &[(String, FigureView)],
) -> String {
    let mut text = say!(
        language,
        "{curve}, specimen {specimen}: the loop goes to {load} at {travel}.",
        curve = label,
        specimen = specimen,
        load = load,
        travel = travel
    );
    for (name, figure) in figures {
        text.push_str(&format!(" {name}: {}.", figure_text(figure)));
    }
    text
}

/// An axis from a round number to a round number.
struct Axis {
    from: f64,
    step: f64,
    steps: u32,
    decimals: u8,
}

impl Axis {
    /// The axis that holds zero and all values; none where they are all zero.
    fn over(values: impl Iterator<Item = f64>) -> Option<Axis> {
        let (low, high) = values.fold((0.0_f64, 0.0_f64), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let range = high - low;
        if !(range.is_finite() && range > 0.0) {
            return None;
        }
        let exponent = (range / STEPS).log10().floor();
        let power = 10_f64.powi(exponent as i32);
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|factor| factor * power)
            .into_iter()
            .find(|step| range / step <= STEPS + 1e-9)
            .unwrap_or(10.0 * power);
        let from = (low / step).floor() * step;
        let steps = ((high - from) / step - 1e-9).ceil().max(1.0) as u32;
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as u8;
        Some(Axis {
            from,
            step,
            steps,
            decimals,
        })
    }

    /// Where a value lies, as a share of the axis.
    fn share(&self, value: f64) -> f64 {
        (value - self.from) / (self.step * f64::from(self.steps))
    }

    /// How far values go, one place finer than the axis's steps, with their unit.
    fn reach(&self, language: &Language, values: impl Iterator<Item = f64>, unit: Unit) -> String {
        let far = values.fold(f64::MIN, f64::max);
        let places = (1.0 - self.step.log10().floor()).clamp(0.0, 9.0) as u8;
        let number = minus(&fixed(far, places));
        with_unit(&language.number(&number), unit)
    }

    fn ticks(&self, language: &Language, place: impl Fn(f64) -> f64) -> Vec<TickView> {
        (0..=self.steps)
            .map(|at| TickView {
                at: coordinate(place(f64::from(at) / f64::from(self.steps))),
                text: language
                    .number(&minus(&fixed(
                        self.from + self.step * f64::from(at),
                        self.decimals,
                    )))
                    .into_owned(),
            })
            .collect()
    }
}

/// The points that matter to the eye; the first and the last always do.
fn thin(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept = vec![false; points.len()];
    kept[0] = true;
    kept[points.len() - 1] = true;
    let mut open = vec![(0, points.len() - 1)];
    while let Some((first, last)) = open.pop() {
        let farthest = (first + 1..last)
            .map(|at| (at, distance(points[at], points[first], points[last])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((at, far)) = farthest
            && far > TOLERANCE
        {
            kept[at] = true;
            open.push((first, at));
            open.push((at, last));
        }
    }
    let pairs = points.iter().zip(kept);
    pairs
        .filter(|(_, kept)| *kept)
        .map(|(point, _)| *point)
        .collect()
}

/// How far a point lies from the stretch between two others.
fn distance(point: (f64, f64), from: (f64, f64), to: (f64, f64)) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length2 = dx * dx + dy * dy;
    let along = if length2 == 0.0 {
        0.0
    } else {
        (((point.0 - from.0) * dx + (point.1 - from.1) * dy) / length2).clamp(0.0, 1.0)
    };
    (point.0 - from.0 - along * dx).hypot(point.1 - from.1 - along * dy)
}

/// A path in steps from point to point, whole tenths each, so that their sums stay on
/// the points: half as long as one that names each place.
fn path(points: &[(f64, f64)]) -> String {
    let tenths = |at: f64| (at * 10.0).round() as i64;
    let mut path = String::new();
    let mut here = None;
    for (x, y) in points.iter().map(|(x, y)| (tenths(*x), tenths(*y))) {
        let (dx, dy) = match here {
            None => (x, y),
            Some((from_x, from_y)) => (x - from_x, y - from_y),
        };
        path.push_str(match here {
            None => "M",
            Some(_) if path.contains('l') => " ",
            Some(_) => "l",
        });
        path.push_str(&in_tenths(dx));
        path.push(' ');
        path.push_str(&in_tenths(dy));
        here = Some((x, y));
    }
    // A minus parts two numbers as well as a space does.
    path.replace(" -", "-")
}

/// Tenths as a number without zeros that say nothing: `12`, `0.4` as `.4`.
fn in_tenths(tenths: i64) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    let (whole, rest) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    match (whole, rest) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, rest) => format!("{sign}.{rest}"),
        (whole, rest) => format!("{sign}{whole}.{rest}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AXES: CurveAxes = CurveAxes {
        travel: Unit::Millimetre,
        load: Unit::Newton,
    };

    fn branch(points: usize, power: i32) -> Vec<(f64, f64)> {
        let share = |at: usize| at as f64 / (points - 1) as f64;
        (0..points)
            .map(|at| (9.3 * share(at), 450.0 * share(at).powi(power)))
            .collect()
    }

    fn loop_of(points: usize) -> [Vec<(f64, f64)>; 2] {
        let mut unloading = branch(points, 3);
        unloading.reverse();
        [branch(points, 2), unloading]
    }

    fn view_of(loading: &[(f64, f64)], unloading: &[(f64, f64)]) -> Option<CurveView> {
        let english = Language::english();
        curve_view(
            english,
            "Heel load",
            "Q2-L",
            loading,
            unloading,
            AXES,
            Vec::new(),
        )
    }

    #[test]
    fn the_loop_fills_the_box_between_round_ticks() {
        let [loading, unloading] = loop_of(500);
        let view = view_of(&loading, &unloading).unwrap();
        let texts: Vec<&str> = view.x_ticks.iter().map(|tick| tick.text.as_str()).collect();
        assert_eq!(texts, ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(view.y_ticks.last().unwrap().text, "500");
        assert_eq!(view.y_ticks[0].at, "400");
        assert_eq!(view.x_label, "travel (mm)");
        assert!(view.loading.starts_with("M0 400l"), "{}", view.loading);
        let (x, y) = *walked(&view.loading).last().unwrap();
        assert_eq!((x.round(), y.round()), (558.0, 40.0), "{}", view.loading);
    }

    #[test]
    fn the_words_are_as_fine_as_the_loop_is_small() {
        let [loading, unloading] = loop_of(500);
        let said = view_of(&loading, &unloading).unwrap().description;
        assert!(said.ends_with("goes to 450 N at 9.3 mm."), "{said}");
        let twist = |branch: &Branch| -> Vec<(f64, f64)> {
            let small = branch.iter();
            small.map(|(at, load)| (at * 2.0, load / 1000.0)).collect()
        };
        let axes = CurveAxes {
            travel: Unit::Degree,
            load: Unit::NewtonMetre,
        };
        let (up, down) = (twist(&loading), twist(&unloading));
        let english = Language::english();
        let view = curve_view(english, "Twist", "Q2-L", &up, &down, axes, Vec::new());
        let said = view.unwrap().description;
        assert!(said.ends_with("goes to 0.45 N·m at 18.6°."), "{said}");
    }

    /// The places a path of steps comes by.
    fn walked(path: &str) -> Vec<(f64, f64)> {
        let spaced = path.replace(['M', 'l'], " ").replace('-', " -");
        let numbers: Vec<f64> = spaced
            .split_whitespace()
            .map(|number| number.parse().unwrap())
            .collect();
        let mut here = (0.0, 0.0);
        numbers
            .chunks(2)
            .map(|step| {
                here = (here.0 + step[0], here.1 + step[1]);
                here
            })
            .collect()
    }

    #[test]
    fn steps_of_a_path_never_drift_from_its_points() {
        let points: Vec<(f64, f64)> = (0..500)
            .map(|at| (f64::from(at) * 1.2345, 400.0 - f64::from(at).sqrt() * 17.77))
            .collect();
        let steps = path(&points);
        let places = walked(&steps);
        assert_eq!(places.len(), points.len());
        for ((x, y), (px, py)) in places.iter().zip(&points) {
            assert!((x - px).abs() < 0.051 && (y - py).abs() < 0.051, "{x} {y}");
        }
        assert_eq!(
            path(&[(0.0, 400.0), (0.4, 399.0), (10.0, 399.5)]),
            "M0 400l.4-1 9.6 .5"
        );
    }

    #[test]
    fn thousands_of_points_become_few() {
        let [loading, unloading] = loop_of(20_000);
        let view = view_of(&loading, &unloading).unwrap();
        assert!(view.loading.len() < 400, "{} bytes", view.loading.len());
    }

    #[test]
    fn a_branch_that_is_no_line_has_no_picture() {
        let [loading, _] = loop_of(10);
        assert!(view_of(&loading, &[]).is_none());
        let flat = [(0.0, 0.0), (0.0, 0.0)];
        assert!(view_of(&flat, &flat).is_none());
    }

    #[test]
    fn every_thinned_point_is_a_raw_one_and_the_line_stays_near() {
        let [loading, _] = loop_of(300);
        let thinned = thin(&loading);
        assert!(thinned.iter().all(|point| loading.contains(point)));
        for point in &loading {
            let near = thinned
                .windows(2)
                .map(|pair| distance(*point, pair[0], pair[1]))
                .fold(f64::MAX, f64::min);
            assert!(near <= TOLERANCE);
        }
    }
}
