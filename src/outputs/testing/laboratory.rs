//! The small edition's laboratory and rule set, by hand; all invented.

use super::{day, key};
use crate::files::Key;
use crate::lab::{
    Lab, PhrasesFile, Protocol, QuantitySpec, RuleSetVersion, Settings, Spread, fixture,
};
use crate::measure::drawn::Drawn;
use crate::quantity::Unit;
use crate::rules::{
    BandScale, Facts, Finding, Form, Head, NotJudged, Rule, RuleMethod, RuleSet, TraceStep,
};
use crate::words::Language;
use std::sync::Arc;

/// The laboratory.
pub fn lab() -> Lab {
    Lab {
        settings: settings(),
        protocol: protocol(),
        instruments: serde_yaml::from_str(
            "bench-1: {label: Bench no. 1, resolution: 0.01 mm, calibration: {on: 2026-01-20, due: 2027-01-20, uncertainty: 0.06 mm, k: 2}}",
        )
        .expect("instruments"),
        phrases: phrases(),
        language: Arc::new(Language::original("en")),
        tongues: Vec::new(),
        control: Vec::new(),
        study: Vec::new(),
    }
}

fn settings() -> Settings {
    serde_yaml::from_str(
        "
schema: 1
name: Test & Bench <Laboratory>
invented: true
about: An invented laboratory.
address: https://lab.example
contact: desk@lab.example
licence: {name: CC-BY-4.0, title: Creative Commons Attribution 4.0, address: 'https://creativecommons.org/licenses/by/4.0/'}
categories: {road: Road, trail: Trail}
operators: {ivo: Ivo Brandt}
",
    )
    .expect("settings")
}

fn phrases() -> PhrasesFile {
    let bands = |name: &str| {
        ["very low", "low", "medium", "high", "very high"]
            .map(|band| {
                format!(
                    "    {band}: {{short: '{{band}} at {{value}}', means: '{name} of {{shoe}} is {{band}}: {{score}} of 100 (chance {{chance}}).'}}\n"
                )
            })
            .concat()
    };
    let text = format!(
        "
schema: 1
findings:
  torsion:
{}  heel-firmness:
{}  pace:
    daily: {{short: for every day, means: 'Daily pace, {{score}} of 100.'}}
  drop-kept:
    any: {{short: '{{value}}', means: '{{value}} of the drop is left under load.'}}
advice:
  firm-landing: {{weight: caution, short: Firm landing, text: 'A firm heel may strain a sore heel; ask a licensed clinician.'}}
  soft-ground: {{weight: note, short: Soft ground, text: Grips better on soft ground.}}
guide: {{questions: [Does a heel hurt?], refer: ['Pain that stays: to a licensed clinician.']}}
fit: {{suits: may suit, close: just so, other: rather another, unknown: not known}}
cautions: {{short: 'No medical advice.', long: ['Findings describe shoes, not people.']}}
",
        bands("Torsion"),
        bands("Firmness")
    );
    serde_yaml::from_str(&text).expect("phrases")
}

fn quantity(label: &str, unit: Unit, also: Option<Unit>, decimals: u8) -> QuantitySpec {
    QuantitySpec {
        what: format!("{label} as the bench reads it."),
        also,
        decimals,
        instrument: key("bench-1"),
        resolution: Some(0.01),
        calibration: Some(0.03),
        plausible: (0.0, 600.0),
        repeatability: Some((0.12, 58.0)),
        ..fixture::quantity(label, unit)
    }
}

/// How the quantities are measured.
pub fn protocol() -> Protocol {
    let quantities = [
        ("mass", quantity("Mass", Unit::Gram, Some(Unit::Ounce), 0)),
        (
            "midfoot-torque",
            QuantitySpec {
                at: Some("15 °".parse().expect("an angle")),
                spread: Some(Spread::OfMean(0.12)),
                plausible: (0.3, 15.0),
                ..quantity(
                    "Midfoot torque",
                    Unit::NewtonMetre,
                    Some(Unit::InchPoundForce),
                    2,
                )
            },
        ),
        (
            "heel-compression",
            quantity("Heel compression", Unit::Millimetre, Some(Unit::Inch), 2),
        ),
        (
            "rebound-travel",
            quantity("Rebound travel", Unit::Millimetre, None, 1),
        ),
        (
            "loaded-drop",
            quantity("Loaded drop", Unit::Millimetre, None, 1),
        ),
    ];
    let quantities = quantities.map(|(name, spec)| (key(name), spec));
    Protocol {
        version: 2,
        effective: day("2026-09-01"),
        ..fixture::protocol(quantities)
    }
}

/// A rule that only has a name and a form; findings are made by hand.
#[derive(Debug)]
struct Named(Head, Form);

impl Rule for Named {
    fn head(&self) -> &Head {
        &self.0
    }
    fn form(&self) -> Form {
        self.1.clone()
    }
    fn judge(&self, _: &Facts<'_>, _: &Drawn) -> Result<Finding, NotJudged> {
        Err(NotJudged {
            finding: self.0.key.clone(),
            reason: "findings are made by hand here".into(),
        })
    }
    fn steps(&self, _: &Facts<'_>, _: &Finding) -> Vec<TraceStep> {
        Vec::new()
    }
    fn phrases(&self) -> Vec<String> {
        Vec::new()
    }
    fn method(&self) -> RuleMethod {
        RuleMethod {
            plain: format!("{} in plain words.", self.0.label),
            formula: "x".into(),
        }
    }
}

/// The names of the bands.
pub const BANDS: [&str; 5] = ["very low", "low", "medium", "high", "very high"];

/// The bands of the rule set.
pub fn five_bands() -> Arc<BandScale> {
    bands(&BANDS, &[20.0, 40.0, 60.0, 80.0])
}

/// The bands of the pace.
pub fn tiers() -> Arc<BandScale> {
    let names = ["easy", "daily", "tempo", "race"];
    bands(&names, &[25.0, 50.0, 75.0])
}

fn bands(names: &[&str], cuts: &[f64]) -> Arc<BandScale> {
    Arc::new(BandScale {
        names: names.iter().map(|name| (*name).to_owned()).collect(),
        cuts: cuts.to_vec(),
    })
}

/// The rule set.
pub fn rules() -> RuleSet {
    let rule = |name: &str, label: &str, kind, needs: &[&str]| -> (Key, Box<dyn Rule>) {
        let head = Head {
            key: key(name),
            label: label.into(),
            kind,
            kind_word: kind,
            needs: needs.iter().map(|need| key(need)).collect(),
        };
        let form = match kind {
            "scale" => Form::Band(five_bands()),
            "blend" => Form::Band(tiers()),
            "formula" => Form::Value(Unit::Percent, 0),
            "fit" => Form::Fit,
            _ => Form::Advice,
        };
        let rule = Named(head, form);
        (key(name), Box::new(rule))
    };
    RuleSet {
        version: 4,
        effective: day("2026-11-01"),
        drawn: Arc::default(),
        borderline_below: 0.8,
        bands: BANDS.map(str::to_owned),
        history: vec![
            RuleSetVersion {
                version: 3,
                effective: day("2026-04-01"),
                note: "Before.".into(),
            },
            RuleSetVersion {
                version: 4,
                effective: day("2026-11-01"),
                note: "Moved.".into(),
            },
        ],
        page: vec![key("torsion"), key("heel-firmness")],
        rules: [
            rule("torsion", "Torsion", "scale", &["midfoot-torque"]),
            rule(
                "heel-firmness",
                "Heel firmness",
                "scale",
                &["heel-compression"],
            ),
            rule(
                "drop-kept",
                "Drop kept under load",
                "formula",
                &["loaded-drop"],
            ),
            rule("pace", "Pace", "blend", &["torsion", "heel-firmness"]),
            rule("builds", "Build and foot posture", "fit", &["torsion"]),
            rule("firm-landing", "Firm landing", "advice", &["heel-firmness"]),
            rule("soft-ground", "Soft ground", "advice", &["torsion"]),
        ]
        .into_iter()
        .collect(),
        order: (0..7).collect(),
    }
}
