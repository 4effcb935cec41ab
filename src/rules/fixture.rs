//! A small invented lab for the tests of this room.

use super::{Finding, Judged, RuleFile, RuleSet};
use crate::diagnostics::Problem;
use crate::files::Key;
use crate::lab::{Protocol, RuleSetFile, fixture};
use crate::measure::drawn::Drawn;
use crate::measure::interval::stated;
use crate::measure::{Absent, Flag, FlagWeight, Quantities, Summary};
use crate::quantity::{Part, Shape, Source, Uncertain, Unit};
use crate::shoe::Shoe;
use std::sync::Arc;

/// A name.
pub fn key(name: &str) -> Key {
    name.parse().unwrap()
}

/// What the fixture lab measures.
const QUANTITIES: [(&str, &str, Unit); 7] = [
    ("midfoot-torque", "Midfoot torque", Unit::NewtonMetre),
    ("heel-compression", "Heel compression", Unit::Millimetre),
    ("rebound-travel", "Rebound travel", Unit::Millimetre),
    ("loaded-drop", "Loaded drop", Unit::Millimetre),
    ("static-drop", "Static drop", Unit::Millimetre),
    ("mass", "Mass", Unit::Gram),
    ("temperature", "Bench temperature", Unit::Celsius),
];

/// The fixture lab's protocol: coverage 95 %.
pub fn protocol() -> Protocol {
    let quantities = QUANTITIES.iter();
    fixture::protocol(
        quantities.map(|(name, label, unit)| (key(name), fixture::quantity(label, *unit))),
    )
}

/// A rules file with these rules and the given lines beside them.
pub fn file(rules: &str, beside: &str) -> String {
    let indented = rules.trim_end().replace('\n', "\n  ");
    let mut text = String::new();
    for (name, line) in [
        ("schema", "schema: 1"),
        ("version", "version: 2"),
        ("effective", "effective: 2026-11-01"),
        ("borderline-below", "borderline-below: 0.8"),
        ("bands", "bands: [very low, low, medium, high, very high]"),
        ("page", "page: []"),
    ] {
        if !beside
            .lines()
            .any(|own| own.starts_with(&format!("{name}:")))
        {
            text.push_str(line);
            text.push('\n');
        }
    }
    format!("{text}{beside}\nrules:\n  {}\n", indented.trim_start())
}

/// The set these rules make.
pub fn build(rules: &str, beside: &str) -> Result<RuleSet, Vec<Problem>> {
    let file: RuleSetFile<RuleFile> = serde_yaml::from_str(&file(rules, beside)).unwrap();
    RuleSet::build(file, &protocol(), "lab/rules.yaml")
}

/// The set these rules make; they have no mistake.
#[track_caller]
pub fn rules(rules: &str) -> RuleSet {
    match build(rules, "") {
        Ok(set) => set,
        Err(problems) => panic!("{problems:#?}"),
    }
}

/// A value with one part of uncertainty of its own and many degrees of freedom.
pub fn uncertain(source: &str, value: f64, u: f64) -> Uncertain {
    with_dof(source, value, u, f64::INFINITY)
}

/// A value with one part of uncertainty.
pub fn with_dof(source: &str, value: f64, u: f64, dof: f64) -> Uncertain {
    let part = Part {
        source: Source::new(source),
        u,
        dof,
        shape: Shape::Student,
    };
    Uncertain::new(value, [part])
}

/// Quantities in the protocol's units: name, value, standard uncertainty.
pub fn quantities(given: &[(&str, f64, f64)]) -> Quantities {
    QUANTITIES
        .iter()
        .map(|(name, _, unit)| {
            let found = given.iter().find(|(wanted, ..)| wanted == name);
            let summary = found.map(|(_, value, u)| {
                let value = uncertain(&format!("trials of {name}"), *value, *u);
                Summary {
                    quantity: key(name),
                    unit: *unit,
                    stated: stated(&value, 0.95, &Drawn::default()),
                    value,
                    n: 3,
                    specimens: Vec::new(),
                    size_step: None,
                    pooled: false,
                    flags: Vec::new(),
                }
            });
            let absent = Absent {
                quantity: key(name),
                reason: "it was not measured".into(),
            };
            (key(name), summary.ok_or(absent))
        })
        .collect()
}

/// The same quantities, one of them in doubt.
pub fn doubted(given: &[(&str, f64, f64)], name: &str) -> Quantities {
    let mut all = quantities(given);
    let summary = all.get_mut(name).unwrap().as_mut().unwrap();
    summary.flags.push(Flag {
        code: "spread",
        weight: FlagWeight::Stops,
        quantity: Some(key(name)),
        specimen: None,
        message: "too wide".into(),
        accepted: None,
    });
    all
}

/// The shoe's address is `fixture`; nothing of it matters to a rule.
pub fn shoe() -> Arc<Shoe> {
    let file = "{schema: 1, maker: Nobody, model: Fixture, category: road, \
                size: {system: mondopoint, value: 270}, specimens: []}";
    Arc::new(Shoe {
        curves: Vec::new(),
        slug: "fixture".parse().unwrap(),
        path: "shoes/fixture.yaml".into(),
        file: serde_yaml::from_str(file).unwrap(),
    })
}

/// A shoe with these quantities, judged.
pub fn judge(set: &RuleSet, given: &[(&str, f64, f64)]) -> Judged {
    set.judge(shoe(), quantities(given), Vec::new())
}

impl Judged {
    /// A finding that was made.
    #[track_caller]
    pub fn made(&self, name: &str) -> &Finding {
        match &self.findings[&key(name)] {
            Ok(finding) => finding,
            Err(not_judged) => panic!("{not_judged}"),
        }
    }

    /// The reason a finding was not made.
    #[track_caller]
    pub fn reason(&self, name: &str) -> &str {
        match &self.findings[&key(name)] {
            Ok(finding) => panic!("{name} was judged: {finding:?}"),
            Err(not_judged) => &not_judged.reason,
        }
    }
}
