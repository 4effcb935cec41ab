//! A protocol for tests: as little in it as there can be.

use super::{Conditioning, Protocol, QuantitySpec, Size, SizeSystem};
use crate::files::{Key, Map};
use crate::quantity::Unit;

/// A quantity of which nothing is stated that need not be.
pub fn quantity(label: &str, unit: Unit) -> QuantitySpec {
    QuantitySpec {
        label: label.into(),
        what: String::new(),
        at: None,
        unit,
        also: None,
        decimals: 2,
        instrument: "bench".parse().expect("a name"),
        resolution: None,
        calibration: None,
        trials: 3,
        spread: None,
        plausible: (-1000.0, 1000.0),
        repeatability: None,
        left_right: None,
        per_size: None,
        differs: None,
        from: None,
    }
}

/// A protocol of some quantities: coverage 95 %, 23 °C, 50 %, 12 h of soaking, size 270.
pub fn protocol(quantities: impl IntoIterator<Item = (Key, QuantitySpec)>) -> Protocol {
    Protocol {
        version: 1,
        effective: "2026-01-01".parse().expect("a day"),
        coverage: 0.95,
        conditioning: Conditioning {
            temperature: 23.0,
            temperature_tolerance: 1.5,
            humidity: 50.0,
            humidity_tolerance: 10.0,
            soak: 12.0,
            measure_within: None,
        },
        reference_size: Size {
            system: SizeSystem::Mondopoint,
            value: 270.0,
        },
        minimum_shoes: 5,
        quantities: quantities.into_iter().collect(),
        curves: Map::default(),
    }
}
