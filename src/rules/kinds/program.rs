//! A number worked out by a program of the lab's own.
//!
//! # What it says
//! A number with a unit and its uncertainty, as an outside program answered it of
//! each shoe. It has no score and no band; a `scale` can put it on one.
//!
//! # Formula and source
//! The program's own; the lab describes it where it describes its method. What it
//! answers is taken as a value with one standard uncertainty and its degrees of
//! freedom (JCGM 100:2008, 4.3.3: a value and uncertainty from elsewhere); the
//! interval is value ± k·u. What the program's answer shares with its inputs is
//! not known here, so a blend or formula of both takes them for uncorrelated.
//!
//! # Inputs and units
//! `of` names the quantities and findings the program is told of, each with value,
//! standard uncertainty, degrees of freedom and unit: a quantity in the protocol's
//! unit, a finding with bands as its score. `unit` is the unit the answer is kept
//! in; the program may answer in any that converts into it.
//!
//! # When data are missing
//! A shoe that lacks one of the facts is not put to the program, and the fact's
//! reason stands in the finding's place. So does the reason the program gives
//! where it answers none, and, if the lab leaves failing programs out, the
//! failure.
//!
//! # Example
//! ```yaml
//! ride-index:
//!   kind: program
//!   label: Ride index
//!   program: ride-index
//!   of: [heel-compression, rebound-travel]
//!   unit: "%"
//!   decimals: 0
//! ```

use crate::diagnostics::KeyPath;
use crate::files::Key;
use crate::measure::drawn::Drawn;
use crate::measure::expanded;
use crate::measure::interval::Method;
use crate::quantity::{Part, Shape, Source, Uncertain, Unit};
use crate::rules::bands::check_label;
use crate::rules::input::{Input, lower};
use crate::rules::names::Meaning;
use crate::rules::printed::{check_decimals, check_unit, one_decimal};
use crate::rules::{
    Answer, Fact, Facts, Finding, Form, Grounds, Head, Kind, Mistake, NotJudged, ProgramUse, Rule,
    RuleMethod, Says, TraceStep, Value, Yields, text,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;

/// The kind `program`.
pub struct Program;

/// A number worked out by a program of the lab's own.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    #[schemars(extend("examples" = ["Ride index"]))]
    pub label: String,
    /// The program, by its name under `programs` of lab/lab.yaml.
    #[schemars(extend("examples" = ["ride"]))]
    pub program: Key,
    /// The quantities and findings it is told of.
    #[schemars(length(min = 1, max = 50))]
    #[schemars(extend("examples" = [["heel-compression", "rebound"]]))]
    pub of: Vec<Key>,
    /// The unit of the result.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["%"]))]
    pub unit: String,
    /// How many decimals the result is printed with.
    #[serde(default = "one_decimal")]
    #[schemars(range(max = 9))]
    #[schemars(extend("examples" = [1]))]
    pub decimals: u8,
}

#[derive(Debug)]
struct ProgramRule {
    head: Head,
    program: Key,
    inputs: Vec<Input>,
    unit: Unit,
    decimals: u8,
    coverage: f64,
}

impl Kind for Program {
    const NAME: &'static str = "program";
    const WORD: &'static str = text!("[kind of rule] program");
    const YIELDS: Yields = Yields::Number;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        settings.of.clone()
    }

    fn unit(settings: &Settings) -> Option<Unit> {
        settings.unit.parse().ok()
    }

    fn build(
        key: &Key,
        settings: Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
        let path = KeyPath::root();
        let mut mistakes = Vec::new();
        mistakes.extend(check_label(&settings.label, path.key("label")));
        if settings.of.is_empty() {
            mistakes.push(
                Mistake::new(
                    "nothing-given",
                    path.key("of"),
                    "`of` names nothing to tell the program",
                )
                .hint("name the quantities and findings it works from"),
            );
        }
        let mut inputs = Vec::new();
        for (at, of) in settings.of.iter().enumerate() {
            match find_input(
                key,
                of,
                &settings.of[..at],
                grounds,
                &path.key("of").index(at),
            ) {
                Ok(input) => inputs.push(input),
                Err(mistake) => mistakes.push(mistake),
            }
        }
        let unit = check_unit(&settings.unit).map_err(|mistake| mistakes.push(mistake));
        mistakes.extend(check_decimals(settings.decimals));
        match unit {
            Ok(unit) if mistakes.is_empty() => Ok(Box::new(ProgramRule {
                head: Head::of::<Program>(key, settings.label, settings.of),
                program: settings.program,
                inputs,
                unit,
                decimals: settings.decimals,
                coverage: grounds.protocol.coverage,
            })),
            _ => Err(mistakes),
        }
    }
}

fn find_input(
    own: &Key,
    of: &Key,
    before: &[Key],
    grounds: &Grounds<'_>,
    path: &KeyPath,
) -> Result<Input, Mistake> {
    let usable = |meaning| meaning != Meaning::Words;
    let Some(name) = grounds.names.get(of) else {
        return Err(Mistake::new(
            "unknown-name",
            path.clone(),
            format!("`{of}` is neither a quantity nor a finding"),
        )
        .hint(grounds.names.hint(of.as_str(), own, usable)));
    };
    if !usable(name.meaning) {
        return Err(Mistake::new(
            "needs-a-number",
            path.clone(),
            format!("`{of}` is said in words, and a program is told numbers"),
        )
        .hint("name a quantity, a score or a number"));
    }
    if before.contains(of) {
        return Err(Mistake::new(
            "duplicate-name",
            path.clone(),
            format!("`{of}` is named twice"),
        )
        .hint("name each once"));
    }
    Ok(Input::new(name))
}

impl ProgramRule {
    fn not_judged(&self, reason: String) -> NotJudged {
        NotJudged {
            finding: self.head.key.clone(),
            reason,
        }
    }

    fn facts(&self, facts: &Facts<'_>) -> Result<(Vec<Fact>, bool), String> {
        let mut told = Vec::with_capacity(self.inputs.len());
        let mut provisional = false;
        for input in &self.inputs {
            let known = input.find(facts)?;
            provisional |= known.provisional;
            told.push(Fact {
                key: input.key.clone(),
                value: known.value.value,
                u: known.value.u(),
                dof: known.value.dof(),
                unit: known.unit,
                band: input.banded(facts).map(|banded| banded.name().to_owned()),
            });
        }
        Ok((told, provisional))
    }

    fn value(&self, answer: &Answer) -> Value {
        let part = Part {
            source: Source::new(format!("the program's answer of {}", self.head.key)),
            u: answer.u,
            dof: answer.dof,
            shape: Shape::Student,
        };
        let value = Uncertain::new(answer.value, [part]);
        let half = expanded(&value, self.coverage).U;
        Value {
            interval: (value.value - half, value.value + half),
            method: Method::Analytic,
            value,
            unit: self.unit,
            decimals: self.decimals,
        }
    }
}

impl Rule for ProgramRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, _drawn: &Drawn) -> Result<Finding, NotJudged> {
        let (told, provisional) = self.facts(facts).map_err(|why| self.not_judged(why))?;
        let answer = match facts.answers.get(&self.head.key) {
            Some(answered) if answered.facts == told => match &answered.answer {
                Ok(answer) => answer,
                Err(reason) => return Err(self.not_judged(reason.clone())),
            },
            Some(_) => {
                return Err(self.not_judged(said!(
                    "the program `{program}` was asked with other figures",
                    program = self.program
                )));
            }
            None => {
                return Err(self.not_judged(said!(
                    "the program `{program}` was not run",
                    program = self.program
                )));
            }
        };
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Value(self.value(answer)),
            provisional,
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Value(value) = &finding.says else {
            return Vec::new();
        };
        let told: Vec<String> = self
            .inputs
            .iter()
            .filter_map(|input| {
                let known = input.find(facts).ok()?;
                let u = known.value.u();
                let number = text::with_unit(known.value.value, u, known.unit);
                Some(format!("{} = {number}", input.key))
            })
            .collect();
        let (low, high) = value.interval;
        let u = value.value.u();
        vec![
            TraceStep {
                what: format!("ask the program `{}`", self.program),
                formula: "its own".into(),
                numbers: format!(
                    "told {}; it answered {}, u = {}, ν = {}",
                    told.join(", "),
                    text::with_unit(value.value.value, u, value.unit),
                    text::with_unit_of_difference(u, value.unit),
                    text::dof(&value.value)
                ),
            },
            TraceStep {
                what: "the interval (JCGM 100, 6.2)".into(),
                formula: "y ± k·u".into(),
                numbers: format!(
                    "{} to {}",
                    text::with_unit(low, u, value.unit),
                    text::with_unit(high, u, value.unit)
                ),
            },
        ]
    }

    fn phrases(&self) -> Vec<String> {
        vec!["any".into()]
    }

    fn form(&self) -> Form {
        Form::Value(self.unit, self.decimals)
    }

    fn method(&self) -> RuleMethod {
        let inputs: Vec<String> = self
            .inputs
            .iter()
            .map(|input| lower(&input.label))
            .collect();
        RuleMethod {
            plain: said!(
                "{what} is worked out from {inputs} by a program of the lab's own, in {unit}.",
                what = self.head.label,
                inputs = inputs.join(" and "),
                unit = self.unit
            ),
            formula: format!("{}({})", self.program, inputs.join(", ")),
        }
    }

    fn program(&self) -> Option<ProgramUse<'_>> {
        Some(ProgramUse {
            program: &self.program,
            unit: self.unit,
        })
    }

    fn question(&self, facts: &Facts<'_>) -> Option<Vec<Fact>> {
        self.facts(facts).ok().map(|(told, _)| told)
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::fixture::{build, doubted, key, quantities, rules, shoe};
    use crate::rules::{Answer, Answered, Answers, RuleSet, Says, trace};

    const RIDE: &str = "ride: {kind: program, label: Ride, program: ride, of: [loaded-drop], unit: mm}\nsoft: {kind: scale, label: Soft, of: ride, unit: mm, points: [[0, 0], [10, 100]]}";

    fn asked(
        set: &RuleSet,
        given: &[(&str, f64, f64)],
        answer: Result<Answer, String>,
    ) -> crate::rules::Judged {
        let first = set.judge(shoe(), quantities(given), Vec::new());
        let facts = set.question(&first, &key("ride")).unwrap();
        let answers = Answers::from([(key("ride"), Answered { facts, answer })]);
        set.judge_with(shoe(), quantities(given), Vec::new(), answers)
    }

    const FOUR: Answer = Answer {
        value: 4.0,
        u: 0.5,
        dof: f64::INFINITY,
    };

    #[test]
    fn an_answer_becomes_a_number_and_a_scale_can_rest_on_it() {
        let set = rules(RIDE);
        let judged = asked(&set, &[("loaded-drop", 4.5, 0.1)], Ok(FOUR));
        let Says::Value(value) = &judged.made("ride").says else {
            panic!("a number is said");
        };
        assert_eq!((value.value.value, value.value.u()), (4.0, 0.5));
        // k = 1.95996 at 95 % (tables of the normal distribution, from memory).
        let (low, high) = value.interval;
        assert!((low - 3.020_02).abs() < 1e-4, "{low}");
        assert!((high - 4.979_98).abs() < 1e-4, "{high}");
        let Says::Band(banded) = &judged.made("soft").says else {
            panic!("a band is said");
        };
        assert_eq!(banded.score.value, 40.0);
        assert!((banded.score.u() - 5.0).abs() < 1e-9);
        let steps = trace::steps(&set, &judged, &key("ride"));
        assert!(
            steps[0].numbers.contains("told loaded-drop = 4.50 mm"),
            "{steps:?}"
        );
    }

    #[test]
    fn without_an_answer_the_reason_stands_in_its_place() {
        let set = rules(RIDE);
        let given = [("loaded-drop", 4.5, 0.1)];
        let judged = set.judge(shoe(), quantities(&given), Vec::new());
        assert_eq!(judged.reason("ride"), "the program `ride` was not run");
        assert_eq!(judged.reason("soft"), "the program `ride` was not run");
        let judged = asked(&set, &given, Err("it is a boot".into()));
        assert_eq!(judged.reason("ride"), "it is a boot");
        let judged = set.judge(shoe(), quantities(&[]), Vec::new());
        assert_eq!(judged.reason("ride"), "loaded drop was not measured");
        assert!(set.question(&judged, &key("ride")).is_none());
    }

    #[test]
    fn a_program_is_asked_after_what_it_rests_on_was_judged_wherever_that_stands() {
        let set = rules(
            "ride: {kind: program, label: Ride, program: ride, of: [drop, loaded-drop], unit: mm}\n\
             drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}",
        );
        let given = [("loaded-drop", 4.5, 0.1)];
        let judged = asked(&set, &given, Ok(FOUR));
        let Says::Value(value) = &judged.made("ride").says else {
            panic!("a number is said");
        };
        assert_eq!((value.value.value, value.decimals), (4.0, 1));
        assert!(!judged.made("ride").provisional);
        let in_doubt = set.judge_with(
            shoe(),
            doubted(&given, "loaded-drop"),
            Vec::new(),
            judged.answers,
        );
        assert!(in_doubt.made("ride").provisional);
    }

    #[test]
    fn a_reason_names_a_program_by_its_label() {
        let set = rules(&format!(
            "{RIDE}\nmore: {{kind: formula, label: More, unit: mm, is: ride + 1.0}}"
        ));
        let method = set.rules.get(&key("more")).unwrap().method();
        assert_eq!(method.plain, "More is worked out from ride, in mm.");
    }

    #[test]
    fn an_answer_for_other_figures_counts_as_none() {
        let set = rules(RIDE);
        let judged = asked(&set, &[("loaded-drop", 4.5, 0.1)], Ok(FOUR));
        let moved = set.judge_with(
            shoe(),
            quantities(&[("loaded-drop", 4.6, 0.1)]),
            Vec::new(),
            judged.answers,
        );
        assert!(moved.reason("ride").contains("other figures"));
    }

    #[test]
    fn mistakes_are_named_with_what_could_stand_there() {
        let found = build(
            "ride: {kind: program, label: Ride, program: ride, of: [loaded-drip, mass, mass], unit: parsec}",
            "",
        )
        .unwrap_err();
        let codes: Vec<&str> = found.iter().map(|problem| problem.code).collect();
        assert_eq!(codes, ["unknown-name", "duplicate-name", "unknown-unit"]);
        assert_eq!(
            found[0].hint.as_deref(),
            Some("did you mean `loaded-drop`?")
        );
    }
}
