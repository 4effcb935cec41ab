//! What differs from a shoe in one quantity and is otherwise alike.
//!
//! Two shoes differ in a quantity where their values lie farther apart than their
//! expanded uncertainties together, in quadrature; otherwise they are alike in it.
//! For each quantity a tree of all the others is searched within the reach of the
//! uncertainties, so the whole grows as n·log n. Among very many shoes that can't be
//! told apart a search gives up after a fixed number of looks; the nearer ones are
//! looked at first.

use super::build::same_model;
use super::nearest::Tree;
use super::standing::Alike;
use crate::files::Slug;
use crate::measure::Summary;
use crate::rules::Judged;

/// How many shoes one search looks at.
const LOOKS: usize = 256;

/// How many shoes one search brings, in hope of one on either side.
const FEW: usize = 6;

/// The shoes of a category that have a place, with their quantities in one order,
/// the same scaled, the scales, and the expanded uncertainties. Places come by address.
pub(super) fn alike(
    places: &[(&Judged, Vec<&Summary>)],
    points: &[Vec<f64>],
    scales: &[f64],
    wide: &[Vec<f64>],
) -> Vec<(Slug, Vec<Alike>)> {
    let widest: Vec<f64> = (0..scales.len())
        .map(|axis| wide.iter().map(|of| of[axis]).fold(0.0, f64::max))
        .collect();
    let mut found: Vec<Vec<Alike>> = vec![Vec::new(); places.len()];
    for axis in 0..scales.len() {
        let others: Vec<Vec<f64>> = points.iter().map(|point| without(point, axis)).collect();
        let tree = Tree::new(&others);
        for (at, (judged, of)) in places.iter().enumerate() {
            let apart = |other: u32, axis: usize| {
                let other = other as usize;
                let apart = places[other].1[axis].value.value - of[axis].value.value;
                let unsure = wide[at][axis].hypot(wide[other][axis]);
                (apart.abs() > unsure).then_some(apart)
            };
            let reach: f64 = (0..scales.len())
                .filter(|other| *other != axis)
                .map(|other| (wide[at][other].hypot(widest[other]) / scales[other]).powi(2))
                .sum();
            let fits = |other: u32| {
                let by = apart(other, axis)?;
                let alike =
                    (0..scales.len()).all(|each| each == axis || apart(other, each).is_none());
                (alike && !same_model(judged, places[other as usize].0)).then_some(by)
            };
            // Rounding of the scaled places must not cut off what lies at the edge.
            let within = reach * (1.0 + 1e-9) + 1e-12;
            let search = |k: usize, wanted: &dyn Fn(f64) -> bool| {
                let wanted = |other: u32| fits(other).is_some_and(wanted);
                tree.nearest_within(&others[at], k, within, LOOKS, &wanted)
            };
            let few = search(FEW, &|_| true);
            for less in [true, false] {
                let on_side = |by: f64| (by < 0.0) == less;
                let first = few
                    .iter()
                    .copied()
                    .find(|near| fits(near.at).is_some_and(on_side));
                // All that were found may lie on the other side.
                let nearest = match first {
                    None if few.len() == FEW => search(1, &on_side).first().copied(),
                    first => first,
                };
                found[at].extend(nearest.and_then(|near| {
                    Some(Alike {
                        slug: places[near.at as usize].0.shoe.slug.clone(),
                        quantity: of[axis].quantity.clone(),
                        by: fits(near.at)?,
                    })
                }));
            }
        }
    }
    places
        .iter()
        .map(|(judged, _)| judged.shoe.slug.clone())
        .zip(found)
        .collect()
}

fn without(point: &[f64], axis: usize) -> Vec<f64> {
    point
        .iter()
        .enumerate()
        .filter(|(at, _)| *at != axis)
        .map(|(_, value)| *value)
        .collect()
}
