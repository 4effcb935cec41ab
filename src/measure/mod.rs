//! The numbers: what trials say, how sure they are, and what that means.
//!
//! Pure functions on `f64` and on [`Uncertain`](crate::quantity::Uncertain):
//! no file, clock or thread. Every function names the published method it
//! follows. What cannot be worked out is `None` or a typed error, never a NaN;
//! slices of values must hold finite numbers, as everything read from a lab's
//! files does.
//!
//! Results are the same on every machine: the elementary functions that matter
//! are `libm`'s, not the platform's.

pub mod anova;
pub mod conformity;
pub mod control;
mod coverage;
mod curve;
mod distribution;
pub mod drawn;
pub mod drift;
mod flags;
pub mod gauge;
mod grubbs;
pub mod hysteresis;
pub mod interval;
mod moments;
pub mod propagate;
mod quantile;
pub mod robust;
mod screen;
mod summarise;
#[cfg(test)]
mod summarise_tests;
mod trace;

pub use conformity::{band_chances, chance_between};
pub use coverage::{coverage_factor, expanded, stands_on_few};
pub use curve::{curve_figure, loop_figures, read_loop, working_units};
pub use distribution::{
    f_upper_quantile, f_upper_tail, normal_cdf, normal_quantile, normal_upper_tail, student_cdf,
    student_quantile, student_upper_tail,
};
pub use flags::{Flag, FlagWeight};
pub use grubbs::{Outlier, grubbs, grubbs_critical, grubbs_rounded, grubbs_statistic};
pub use moments::{Moments, Pooled, mean_and_deviation, pool, pooled_deviation};
pub use quantile::{Type, percentile_rank_mid, quantile};
pub use screen::{FLAGS, screen_sessions};
pub use summarise::{Absent, Figures, Quantities, SpecimenSummary, Summary, Trial, summarise};
pub use trace::{TraceStep, dof_text, quantity_steps};
