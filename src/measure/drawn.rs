//! Intervals of random draws, remembered by what they were drawn from.
//!
//! Draws are seeded from what is drawn ([`seed_of`]), so an interval follows from
//! the inputs, the function and the coverage alone: worked out again it comes to the
//! same bits. A hundred thousand draws cost a few milliseconds, a hash of their
//! inputs a microsecond; so what was drawn once is kept, by content, and a rule set
//! tried on the same shoes, or a folio published once more after one edit, draws only
//! what is new. The memory says which intervals were asked for, so that a caller can
//! keep those for its next run and drop the rest.

use super::propagate::{drawn_interval, seed_of};
use crate::quantity::{Shape, Uncertain};
use blake3::Hasher;
use std::collections::HashMap;
use std::fmt;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// How many draws a rule takes: an end of a 95 % interval then scatters by
/// √(0.025·0.975/n)/φ(1.96) = 0.0085 standard uncertainties, under a fifth of
/// [`STATED`](super::interval::STATED), as JCGM 101:2008, 8.2 asks.
pub const DRAWS: usize = 100_000;

/// What intervals were drawn from: half of a BLAKE3 hash, which no two things to be
/// drawn will share by chance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DrawnFrom(pub u128);

/// An interval that is remembered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Remembered {
    /// What it was drawn from.
    pub from: DrawnFrom,
    /// Its ends, the lower first.
    pub ends: (f64, f64),
}

/// What a function of draws is, as far as its inputs don't say: its kind and its
/// settings. Two functions that differ must differ here.
#[derive(Clone, Copy, Debug)]
pub struct Function<'f> {
    /// The kind of function, such as `scale`.
    pub kind: &'f str,
    /// Its settings in words.
    pub text: &'f str,
    /// Its settings in numbers.
    pub numbers: &'f [f64],
}

/// So many intervals are kept at most, some 60 MB of them: a desk that runs all day,
/// with rules tried again and again, begins anew then.
const MOST: usize = 1 << 20;

/// Intervals drawn before. Shared by threads; empty at first.
#[derive(Default)]
pub struct Drawn(Mutex<HashMap<DrawnFrom, Kept>>);

impl fmt::Debug for Drawn {
    // What it holds shows in nothing that is worked out.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Drawn").finish_non_exhaustive()
    }
}

#[derive(Debug)]
struct Kept {
    ends: (f64, f64),
    asked: bool,
}

impl Drawn {
    /// A memory of what was drawn in an earlier run of the same program: another
    /// build may draw otherwise.
    pub fn remembering(intervals: impl IntoIterator<Item = Remembered>) -> Self {
        let kept = |one: Remembered| {
            let kept = Kept {
                ends: one.ends,
                asked: false,
            };
            (one.from, kept)
        };
        Drawn(Mutex::new(intervals.into_iter().map(kept).collect()))
    }

    /// The intervals that were asked for since, in order.
    pub fn asked(&self) -> Vec<Remembered> {
        let mut asked: Vec<Remembered> = self
            .kept()
            .iter()
            .filter(|(_, kept)| kept.asked)
            .map(|(from, kept)| Remembered {
                from: *from,
                ends: kept.ends,
            })
            .collect();
        asked.sort_unstable_by_key(|one| one.from);
        asked
    }

    /// The interval at a coverage of a function of some inputs, as much left over on
    /// either side (JCGM 101:2008, 7.7.2), from [`DRAWS`] draws: as it was drawn
    /// before, or drawn now. `f` is called with the inputs' values in their order.
    ///
    /// # Errors
    /// The first error of `f`, which is not remembered.
    ///
    /// # Panics
    /// If `coverage` is not between 0 and 1.
    pub fn interval<E>(
        &self,
        inputs: &[&Uncertain],
        coverage: f64,
        function: Function<'_>,
        f: impl FnMut(&[f64]) -> Result<f64, E>,
    ) -> Result<(f64, f64), E> {
        let from = DrawnFrom::of(inputs, coverage, function);
        if let Some(kept) = self.kept().get_mut(&from) {
            kept.asked = true;
            return Ok(kept.ends);
        }
        // Not held meanwhile: others draw beside.
        let ends = drawn_interval(inputs, f, DRAWS, seed_of(inputs), coverage)?;
        let mut kept = self.kept();
        if kept.len() >= MOST {
            kept.clear();
        }
        kept.insert(from, Kept { ends, asked: true });
        Ok(ends)
    }

    fn kept(&self) -> MutexGuard<'_, HashMap<DrawnFrom, Kept>> {
        // What is in it is whole whatever the thread that held it was at.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl DrawnFrom {
    fn of(inputs: &[&Uncertain], coverage: f64, function: Function<'_>) -> Self {
        let mut hasher = Hasher::new();
        text(&mut hasher, function.kind);
        text(&mut hasher, function.text);
        count(&mut hasher, function.numbers.len());
        for each in function.numbers {
            number(&mut hasher, *each);
        }
        number(&mut hasher, coverage);
        for input in inputs {
            number(&mut hasher, input.value);
            count(&mut hasher, input.parts().len());
            for part in input.parts() {
                text(&mut hasher, part.source.name());
                number(&mut hasher, part.u);
                number(&mut hasher, part.dof);
                hasher.update(&[match part.shape {
                    Shape::Rectangular => 0,
                    Shape::Normal => 1,
                    Shape::Student => 2,
                }]);
            }
        }
        let mut half = [0; 16];
        hasher.finalize_xof().fill(&mut half);
        DrawnFrom(u128::from_le_bytes(half))
    }
}

fn count(to: &mut Hasher, count: usize) {
    to.update(&(count as u64).to_le_bytes());
}

fn text(to: &mut Hasher, text: &str) {
    count(to, text.len());
    to.update(text.as_bytes());
}

fn number(to: &mut Hasher, number: f64) {
    to.update(&number.to_bits().to_le_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::propagate::through_draws;
    use crate::quantity::{Part, Source};
    use std::cell::Cell;
    use std::collections::HashSet;
    use std::convert::Infallible;

    const PLAIN: Function<'static> = Function {
        kind: "sum",
        text: "",
        numbers: &[],
    };

    fn input(name: &'static str, value: f64, u: f64, dof: f64, shape: Shape) -> Uncertain {
        let source = Source::new(name);
        Uncertain::new(
            value,
            [Part {
                source,
                u,
                dof,
                shape,
            }],
        )
    }

    fn of_four(value: f64) -> Uncertain {
        input("trials", value, 0.5, 4.0, Shape::Student)
    }

    fn sum(x: &[f64]) -> Result<f64, Infallible> {
        Ok(x.iter().sum())
    }

    #[test]
    fn what_was_drawn_is_what_draws_say_and_is_drawn_once() {
        let drawn = Drawn::default();
        let x = of_four(3.0);
        let called = Cell::new(0_usize);
        let counted = |x: &[f64]| {
            called.set(called.get() + 1);
            sum(x)
        };
        let plain = through_draws(&[&x], sum, DRAWS, seed_of(&[&x])).unwrap();
        let first = drawn.interval(&[&x], 0.95, PLAIN, counted).unwrap();
        assert_eq!((first, called.get()), (plain.interval(0.95), DRAWS));
        let again = drawn.interval(&[&x.clone()], 0.95, PLAIN, counted).unwrap();
        assert_eq!((again, called.get()), (first, DRAWS));
    }

    #[test]
    fn whatever_an_interval_follows_from_tells_it_apart() {
        let (a, b) = (of_four(3.0), of_four(3.5));
        let known = input("trials", 3.0, 0.5, f64::INFINITY, Shape::Normal);
        let wider = input("trials", 3.0, 0.6, 4.0, Shape::Student);
        let freer = input("trials", 3.0, 0.5, 5.0, Shape::Student);
        let flat = input("trials", 3.0, 0.5, 4.0, Shape::Rectangular);
        let other = input("display", 3.0, 0.5, 4.0, Shape::Student);
        let exact = Uncertain::exact(3.0);
        let inputs: [&[&Uncertain]; 11] = [
            &[],
            &[&a],
            &[&b],
            &[&a, &b],
            &[&b, &a],
            &[&known],
            &[&wider],
            &[&freer],
            &[&flat],
            &[&other],
            &[&exact],
        ];
        let functions = [
            PLAIN,
            Function {
                kind: "su",
                text: "m",
                ..PLAIN
            },
            Function { text: "a", ..PLAIN },
            Function {
                numbers: &[0.0],
                ..PLAIN
            },
            Function {
                numbers: &[-0.0],
                ..PLAIN
            },
            Function {
                numbers: &[0.0, 0.0],
                ..PLAIN
            },
        ];
        let mut seen = HashSet::new();
        for inputs in inputs {
            for function in functions {
                for coverage in [0.95, 0.9545] {
                    let from = DrawnFrom::of(inputs, coverage, function);
                    assert!(seen.insert(from), "{inputs:?} {function:?} {coverage}");
                }
            }
        }
    }

    #[test]
    fn a_later_run_remembers_what_was_asked_for_and_no_more() {
        let drawn = Drawn::default();
        let (a, b) = (of_four(3.0), of_four(3.5));
        for x in [&a, &b] {
            drawn.interval(&[x], 0.95, PLAIN, sum).unwrap();
        }
        let both = drawn.asked();
        assert_eq!(both.len(), 2);
        assert!(both[0].from < both[1].from);
        let later = Drawn::remembering(both.clone());
        assert_eq!(later.asked(), []);
        let never = |_: &[f64]| -> Result<f64, Infallible> { panic!("it was drawn before") };
        let ends = later.interval(&[&b], 0.95, PLAIN, never).unwrap();
        assert_eq!(later.asked().len(), 1);
        let kept = later.asked()[0];
        assert!(kept.ends == ends && both.contains(&kept));
    }

    #[test]
    fn an_error_is_told_and_not_remembered() {
        let drawn = Drawn::default();
        let x = of_four(3.0);
        let wrong = |_: &[f64]| Err::<f64, _>("no");
        assert_eq!(drawn.interval(&[&x], 0.95, PLAIN, wrong), Err("no"));
        assert_eq!(drawn.asked(), []);
        assert!(drawn.interval(&[&x], 0.95, PLAIN, sum).is_ok());
    }
}
