//! The nearest other shoes, each with the one difference that matters, in words.

use super::composer::Composer;
use super::figures::Print;
use super::views::AlternativeView;
use crate::catalogue::Neighbour;
use crate::files::Key;
use crate::lab::QuantitySpec;
use crate::measure::Summary;
use crate::quantity::Dimension;
use crate::rules::Judged;
use crate::words::say;

/// How many alternatives a review names.
const ALTERNATIVES: usize = 3;

/// The nearest other shoes whose review stands, nearest first.
pub(super) fn alternatives(composer: &Composer<'_>, judged: &Judged) -> Vec<AlternativeView> {
    let neighbours = composer.edition.catalogue.neighbours(&judged.shoe.slug);
    neighbours
        .iter()
        .filter(|neighbour| neighbour.slug != judged.shoe.slug)
        .filter_map(|neighbour| Some((neighbour, composer.current_shoe(&neighbour.slug)?)))
        .take(ALTERNATIVES)
        .map(|(neighbour, other)| AlternativeView {
            title: other.shoe.title(),
            path: format!("shoes/{}/", other.shoe.slug),
            difference: difference(composer, judged, other, neighbour),
        })
        .collect()
}

/// Shoes that differ in one quantity and are otherwise alike, whose review stands:
/// all of them, as a reader who looks for something lighter looks here, whether or
/// not the same shoe is among the nearest.
pub(super) fn alike(composer: &Composer<'_>, judged: &Judged) -> Vec<AlternativeView> {
    let order = composer.edition.lab.settings.units;
    let found = composer.edition.catalogue.alike(&judged.shoe.slug);
    found
        .iter()
        .filter_map(|alike| {
            let other = composer.current_shoe(&alike.slug)?;
            let spec = composer.quantity(&alike.quantity)?;
            let size = composer.number(&Print::quantity(spec, order).difference(alike.by));
            Some(AlternativeView {
                title: other.shoe.title(),
                path: format!("shoes/{}/", other.shoe.slug),
                difference: say!(
                    composer,
                    "{size} {direction}",
                    size = size,
                    direction = direction(composer, &alike.quantity, spec, alike.by > 0.0)
                ),
            })
        })
        .collect()
}

/// What sets a neighbour apart.
fn difference(
    composer: &Composer<'_>,
    judged: &Judged,
    other: &Judged,
    neighbour: &Neighbour,
) -> String {
    let told = neighbour
        .difference
        .as_ref()
        .and_then(|(key, by)| Some((key, *by, composer.quantity(key)?)));
    let Some((key, by, spec)) = told else {
        return say!(
            composer,
            "alike in all that was compared, within the uncertainty"
        );
    };
    let order = composer.edition.lab.settings.units;
    let size = composer.number(&Print::quantity(spec, order).difference(by));
    let direction = direction(composer, key, spec, by > 0.0);
    if differs_elsewhere(composer, judged, other, key) {
        say!(
            composer,
            "{size} {direction}, with smaller differences besides",
            size = size,
            direction = direction
        )
    } else {
        say!(
            composer,
            "{size} {direction}, otherwise alike",
            size = size,
            direction = direction
        )
    }
}

/// Whether two shoes differ beyond the uncertainty in a quantity besides `told`: both
/// expanded uncertainties in quadrature, as the catalogue and the comparison have it.
/// They are taken as independent: the trials are, and a calibration that two shoes
/// share makes the true uncertainty smaller, so no shoe is said to differ that doesn't.
fn differs_elsewhere(composer: &Composer<'_>, judged: &Judged, other: &Judged, told: &Key) -> bool {
    composer
        .edition
        .lab
        .protocol
        .quantities
        .keys()
        .filter(|key| *key != told)
        .filter_map(|key| Some((summary(judged, key)?, summary(other, key)?)))
        .any(|(this, that)| {
            let apart = that.value.value - this.value.value;
            apart.abs() > this.stated.expanded.U.hypot(that.stated.expanded.U)
        })
}

fn summary<'a>(judged: &'a Judged, key: &Key) -> Option<&'a Summary> {
    judged.quantities.get(key)?.as_ref().ok()
}

/// Which way a neighbour differs: in the protocol's words, or the trade's for its
/// usual quantities; any other is `more` or `less` of its label.
fn direction(composer: &Composer<'_>, key: &Key, spec: &QuantitySpec, more: bool) -> String {
    if let Some(words) = &spec.differs {
        return composer.word(if more { &words.more } else { &words.less });
    }
    let label = composer.inside(&composer.word(&spec.label));
    let name = key.as_str();
    match (spec.unit.dimension(), name, more) {
        (Dimension::Mass, "mass", true) => say!(composer, "heavier"),
        (Dimension::Mass, "mass", false) => say!(composer, "lighter"),
        (Dimension::Torque, "midfoot-torque", true) => say!(composer, "stiffer to twist"),
        (Dimension::Torque, "midfoot-torque", false) => say!(composer, "easier to twist"),
        (Dimension::Length, "heel-compression", true) => say!(composer, "softer at the heel"),
        (Dimension::Length, "heel-compression", false) => say!(composer, "firmer at the heel"),
        (Dimension::Length, "rebound-travel", true) => say!(composer, "livelier"),
        (Dimension::Length, "rebound-travel", false) => say!(composer, "calmer"),
        (Dimension::Length, _, true) if name.ends_with("-drop") => {
            say!(composer, "higher in {what}", what = label)
        }
        (Dimension::Length, _, false) if name.ends_with("-drop") => {
            say!(composer, "lower in {what}", what = label)
        }
        (_, _, true) => say!(composer, "more {what}", what = label),
        (_, _, false) => say!(composer, "less {what}", what = label),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::{Surroundings, testing};

    fn words(quantity: &str, more: bool) -> String {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let key = testing::key(quantity);
        let spec = composer.quantity(&key).unwrap();
        direction(&composer, &key, spec, more)
    }

    #[test]
    fn each_usual_quantity_has_its_own_words() {
        assert_eq!(words("mass", false), "lighter");
        assert_eq!(words("midfoot-torque", true), "stiffer to twist");
        assert_eq!(words("heel-compression", false), "firmer at the heel");
        assert_eq!(words("rebound-travel", true), "livelier");
        assert_eq!(words("loaded-drop", false), "lower in loaded drop");
    }

    #[test]
    fn any_other_quantity_is_more_or_less_of_its_label() {
        let mut edition = testing::edition();
        let lab = testing::lab();
        edition.lab.protocol.quantities = lab
            .protocol
            .quantities
            .iter()
            .map(|(_, spec)| (testing::key("toe-spring"), spec.clone()))
            .skip(2)
            .take(1)
            .collect();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let key = testing::key("toe-spring");
        let spec = composer.quantity(&key).unwrap();
        assert_eq!(
            direction(&composer, &key, spec, false),
            "less heel compression"
        );
    }
}
