use crate::diagnostics::Problem;
use crate::rules::fixture::{build, judge, rules};
use proptest::prelude::*;

/// A good rule for others to lean on.
const DROP: &str =
    "drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}";

/// A wrong setting of a scale of the loaded drop, by what is changed.
fn scale(change: &str, to: &str) -> String {
    DROP.replace(change, to)
}

fn advice(when: &str) -> String {
    format!("{DROP}\nlow: {{kind: advice, label: Low, when: \"{when}\", say: low-drop}}")
}

fn blend(of: &str) -> String {
    format!("{DROP}\nboth: {{kind: blend, label: Both, of: {of}}}")
}

/// What a problem says, for people: code, path, message and hint.
fn line(problem: &Problem) -> String {
    let hint = problem.hint.as_deref().unwrap_or("");
    format!(
        "{} {}: {} | {hint}",
        problem.code, problem.path, problem.message
    )
}

/// Rules, lines beside them, and for each expected problem its code, path, and a
/// part of its message or hint.
type Case = (String, &'static str, Expected);

/// Code, path, and a part of message or hint of each problem.
type Expected = &'static [(&'static str, &'static str, &'static str)];

/// A case in the rules alone.
fn plain(rules: String, expected: Expected) -> Case {
    (rules, "", expected)
}

fn settings_of_scales() -> Vec<Case> {
    vec![
        plain(
            scale("[[0, 0], [10, 100]]", "[[0, 0]]"),
            &[(
                "too-few-points",
                "rules.drop.points",
                "two points at least, and there are 1",
            )],
        ),
        plain(
            scale("[[0, 0], [10, 100]]", "[]"),
            &[("too-few-points", "rules.drop.points", "there are 0")],
        ),
        plain(
            scale("[10, 100]", "[5, 50], [5, 60], [10, 100]"),
            &[(
                "points-not-in-order",
                "rules.drop.points[2]",
                "the value 5 comes after 5",
            )],
        ),
        plain(
            scale("[10, 100]", "[5, 50], [4, 60]"),
            &[(
                "points-not-in-order",
                "rules.drop.points[2]",
                "the value 4 comes after 5",
            )],
        ),
        plain(
            scale("[10, 100]", "[5, 60], [7, 50], [10, 100]"),
            &[(
                "scores-not-in-order",
                "rules.drop.points[2]",
                "the score 50 comes after 60",
            )],
        ),
        plain(
            scale("[10, 100]", "[10, 0]"),
            &[(
                "scores-not-in-order",
                "rules.drop.points",
                "every point has the score 0",
            )],
        ),
        plain(
            scale("[10, 100]", "[10, 101]"),
            &[(
                "score-out-of-range",
                "rules.drop.points[1][1]",
                "scores go from 0 to 100",
            )],
        ),
        plain(
            scale("[0, 0]", "[0, .nan]"),
            &[("not-finite", "rules.drop.points[0]", "two finite numbers")],
        ),
        plain(
            scale("unit: mm", "unit: furlong"),
            &[(
                "unknown-unit",
                "rules.drop.unit",
                "`furlong` is no unit known here",
            )],
        ),
        plain(
            scale("unit: mm", "unit: oz"),
            &[(
                "wrong-unit",
                "rules.drop.unit",
                "measured in mm, which does not convert into oz",
            )],
        ),
        plain(
            scale("of: loaded-drop", "of: loaded-drip"),
            &[(
                "unknown-name",
                "rules.drop.of",
                "did you mean `loaded-drop`?",
            )],
        ),
        plain(
            scale("of: loaded-drop", "of: zzzzzzzzz"),
            &[(
                "unknown-name",
                "rules.drop.of",
                "known here are `midfoot-torque`",
            )],
        ),
        plain(
            format!(
                "{DROP}\nmore: {{kind: scale, label: M, of: drop, unit: mm, points: [[0, 0], [9, 9]]}}"
            ),
            &[(
                "needs-a-quantity",
                "rules.more.of",
                "`drop` is a finding, and a scale needs a quantity",
            )],
        ),
        plain(
            scale("label: Drop", "label: ' '"),
            &[("blank-text", "rules.drop.label", "the label is empty")],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [20, 60, 40, 80]"),
            &[("cuts-not-rising", "rules.drop.cuts[2]", "40 comes after 60")],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [0, 40, 60, 100]"),
            &[
                ("cut-out-of-range", "rules.drop.cuts[0]", "a cut of 0"),
                ("cut-out-of-range", "rules.drop.cuts[3]", "a cut of 100"),
            ],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [20, 40, 60]"),
            &[(
                "band-names-count",
                "rules.drop.cuts",
                "3 cuts make 4 bands, but there are 5 names",
            )],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [50], names: [a, b, c]"),
            &[("band-names-count", "rules.drop.names", "write 2 names")],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [50], names: [a, a]"),
            &[(
                "duplicate-name",
                "rules.drop.names[1]",
                "`a` names two bands",
            )],
        ),
        plain(
            scale("unit: mm", "unit: mm, cuts: [], names: [a]"),
            &[("no-cuts", "rules.drop.cuts", "`cuts` is empty")],
        ),
    ]
}

fn settings_of_blends() -> Vec<Case> {
    vec![
        plain(blend("{drop: 0.0, drops: 1.0}"), &[
            ("weight-not-positive", "rules.both.of.drop", "a weight of 0"),
            ("unknown-name", "rules.both.of.drops", "did you mean `drop`?"),
        ]),
        plain(blend("{drop: 0.9}"), &[
            ("weights-do-not-add-up", "rules.both.of", "the weights add up to 0.9"),
        ]),
        plain(blend("{drop: 0.99999}"), &[
            ("weights-do-not-add-up", "rules.both.of", "the weights add up to 0.99999,"),
        ]),
        plain(blend("{}"), &[("no-inputs", "rules.both.of", "a blend of nothing")]),
        plain(blend("{mass: 1.0}"), &[
            ("needs-a-score", "rules.both.of.mass", "`mass` is a quantity, and a blend weighs scores"),
        ]),
        plain(blend("{kept: 1.0}") + "\nkept: {kind: formula, label: K, unit: mm, is: mass + 1.0}", &[
            ("needs-a-score", "rules.both.of.kept", "`kept` is a number without a score"),
        ]),
        plain(blend("{low: 1.0}") + "\nlow: {kind: advice, label: L, when: mass > 1.0, say: low}", &[
            ("needs-a-score", "rules.both.of.low", "`low` is a finding in words"),
        ]),
        plain("a: {kind: blend, label: A, of: {b: 1.0}}\nb: {kind: blend, label: B, of: {c: 1.0}}\n\
               c: {kind: blend, label: C, of: {a: 1.0}}".into(), &[
            ("circle-of-rules", "rules.a", "a → b → c → a"),
        ]),
        plain("a: {kind: blend, label: A, of: {a: 1.0}}".into(), &[
            ("circle-of-rules", "rules.a", "a → a"),
        ]),
        plain("a: {kind: blend, label: A, of: {b: 0.7}}\nb: {kind: formula, label: B, unit: mm, is: a + 1}".into(), &[
            ("circle-of-rules", "rules.a", "a → b → a"),
            ("weights-do-not-add-up", "rules.a.of", "add up to 0.7"),
            ("needs-a-score", "rules.a.of.b", "`b` is a number without a score"),
            ("expression-whole-number", "rules.b.is", "write 1.0"),
        ]),
    ]
}

fn settings_of_expressions() -> Vec<Case> {
    let formula = |rest: &str| format!("kept: {{kind: formula, label: K, {rest}}}");
    let fit = |rows: &str| {
        format!(
            "builds: {{kind: fit, label: B, rows: {{label: R, options: {rows}}}, \
         columns: {{label: C, options: {{all: {{label: All, suits: mass > 0.0}}}}}}}}"
        )
    };
    vec![
        plain(
            advice("drop >= 60"),
            &[("expression-whole-number", "rules.low.when", "write 60.0")],
        ),
        plain(
            advice("drip >= 60.0"),
            &[("unknown-name", "rules.low.when", "did you mean `drop`?")],
        ),
        plain(
            advice("drop >="),
            &[("expression-syntax", "rules.low.when", "can't be read")],
        ),
        plain(
            advice("drop"),
            &[(
                "expression-type",
                "rules.low.when",
                "comes to a number, and true or false is expected",
            )],
        ),
        plain(
            advice(&format!("drop > 1.0{}", " || drop > 2.0".repeat(40))),
            &[(
                "expression-too-long",
                "rules.low.when",
                "400 characters at most",
            )],
        ),
        plain(
            advice(&format!("{}drop{} > 1.0", "(".repeat(60), ")".repeat(60))),
            &[(
                "expression-too-deep",
                "rules.low.when",
                "nest 24 deep at most",
            )],
        ),
        plain(
            advice("loaded-drop > 1.0"),
            &[(
                "unknown-name",
                "rules.low.when",
                "write `loaded_drop`: in an expression a hyphen is a minus",
            )],
        ),
        plain(
            advice("low || drop > 1.0"),
            &[
                ("circle-of-rules", "rules.low", "low → low"),
                ("needs-a-number", "rules.low.when", "a finding in words"),
            ],
        ),
        plain(
            advice("drop in [1.0]"),
            &[("expression-unsupported", "rules.low.when", "math.least")],
        ),
        plain(
            advice("true"),
            &[(
                "expression-constant",
                "rules.low.when",
                "the same for every shoe",
            )],
        ),
        plain(
            formula("unit: mm, is: mass > 1.0"),
            &[(
                "expression-type",
                "rules.kept.is",
                "comes to true or false, and a number is expected",
            )],
        ),
        plain(
            formula("unit: furlong, decimals: 12, is: 100 * mass"),
            &[
                ("unknown-unit", "rules.kept.unit", "`furlong`"),
                (
                    "decimals-out-of-range",
                    "rules.kept.decimals",
                    "12 decimals",
                ),
                ("expression-whole-number", "rules.kept.is", "write 100.0"),
            ],
        ),
        plain(
            fit("{}"),
            &[(
                "no-options",
                "rules.builds.rows.options",
                "one option at least",
            )],
        ),
        plain(
            fit("{light: {label: '', suits: mas < 1.0}}"),
            &[
                (
                    "blank-text",
                    "rules.builds.rows.options.light.label",
                    "the label is empty",
                ),
                (
                    "unknown-name",
                    "rules.builds.rows.options.light.suits",
                    "did you mean `mass`?",
                ),
            ],
        ),
    ]
}

fn settings_beside_the_rules() -> Vec<Case> {
    let good = || DROP.to_owned();
    vec![
        (
            good(),
            "page: [drip]",
            &[("unknown-name", "page[0]", "did you mean `drop`?")],
        ),
        (
            good(),
            "page: [drop, drop]",
            &[("duplicate-name", "page[1]", "named twice")],
        ),
        (
            advice("drop > 1.0"),
            "page: [low]",
            &[(
                "needs-a-score",
                "page[0]",
                "`low` is of kind `advice`, which has no bands",
            )],
        ),
        (
            good(),
            "borderline-below: 0.5",
            &[(
                "limit-out-of-range",
                "borderline-below",
                "above 0.5 and below 1",
            )],
        ),
        (
            good(),
            "borderline-below: 1.0",
            &[(
                "limit-out-of-range",
                "borderline-below",
                "a limit of 1 is out of range",
            )],
        ),
        (
            good(),
            "version: 0",
            &[("version-out-of-range", "version", "count from 1")],
        ),
        (
            good(),
            "bands: [a, b, b, d, ' ']",
            &[
                ("duplicate-name", "bands[2]", "`b` names two bands"),
                ("blank-text", "bands[4]", "the name of a band is empty"),
            ],
        ),
        (
            good(),
            "history: [{version: 3, effective: 2026-11-01, note: n}]",
            &[(
                "history-mismatch",
                "history[0].version",
                "raise `version` to 3",
            )],
        ),
        (
            good(),
            "history: [{version: 2, effective: 2026-10-01, note: n}]",
            &[(
                "history-mismatch",
                "history[0].effective",
                "holds from 2026-10-01, and the rule set from 2026-11-01",
            )],
        ),
        (
            good(),
            "history: [{version: 1, effective: 2026-10-01, note: n}]",
            &[(
                "history-mismatch",
                "history",
                "add a line {version: 2, effective: 2026-11-01",
            )],
        ),
        (
            good(),
            "history: [{version: 2, effective: 2026-11-01, note: n}, {version: 2, effective: 2026-11-01, note: ' '}]",
            &[
                (
                    "blank-text",
                    "history[1].note",
                    "say in a sentence what changed",
                ),
                (
                    "history-out-of-order",
                    "history[1].version",
                    "version 2 comes after version 2",
                ),
            ],
        ),
        (
            good(),
            "history: [{version: 1, effective: 2026-12-01, note: n}, {version: 2, effective: 2026-11-01, note: n}]",
            &[(
                "history-out-of-order",
                "history[1].effective",
                "before version 1 did",
            )],
        ),
        (
            good().replace("drop:", "mass:"),
            "",
            &[(
                "name-taken",
                "rules.mass",
                "`mass` is a quantity of the protocol already",
            )],
        ),
    ]
}

#[test]
fn each_wrong_setting_is_told_by_code_path_and_what_to_do() {
    let mut cases = settings_of_scales();
    cases.extend(settings_of_blends());
    cases.extend(settings_of_expressions());
    cases.extend(settings_beside_the_rules());
    assert!(cases.len() >= 50, "{}", cases.len());
    let mut wrong = Vec::new();
    for (rules, beside, expected) in cases {
        let found = match build(&rules, beside) {
            Ok(_) => Vec::new(),
            Err(problems) => problems,
        };
        let as_expected = found.len() == expected.len()
            && found
                .iter()
                .zip(expected)
                .all(|(problem, (code, path, part))| {
                    problem.file == "lab/rules.yaml"
                        && problem.code == *code
                        && problem.path.to_string() == *path
                        && line(problem).contains(part)
                });
        if !as_expected {
            let found: Vec<String> = found.iter().map(line).collect();
            wrong.push(format!(
                "{rules}\n{beside}\nexpected {expected:#?}\nfound {found:#?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn messages_start_small_and_problems_stop_publishing() {
    let problems = build(&blend("{mass: 0.2}"), "page: [none]").unwrap_err();
    assert!(problems.len() >= 3);
    for problem in problems {
        assert!(problem.is_error());
        assert!(
            !problem.message.starts_with(char::is_uppercase),
            "{}",
            problem.message
        );
    }
}

#[test]
fn the_demo_labs_rules_need_only_its_protocols_quantities() {
    let text = include_str!("../../../lab/rules.yaml");
    let file: crate::lab::RuleSetFile<crate::rules::RuleFile> = serde_yaml::from_str(text).unwrap();
    let set =
        crate::rules::RuleSet::build(file, &crate::rules::fixture::protocol(), "lab/rules.yaml");
    let set = set.unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(set.version, 4);
    assert_eq!(set.phrases().len(), 8);
    for (_, method) in set.method() {
        assert!(!method.plain.is_empty() && !method.formula.is_empty());
    }
}

/// Rules that lean on each other, one a line.
const LINES: [&str; 6] = [
    "top: {kind: blend, label: Top, of: {middle: 0.5, drop: 0.5}}",
    "middle: {kind: blend, label: Middle, of: {drop: 0.3, rebound: 0.7}}",
    "drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}",
    "rebound: {kind: scale, label: R, of: rebound-travel, unit: in, points: [[0, 0], [1, 100]]}",
    "kept: {kind: formula, label: K, unit: '%', is: 100.0 * loaded_drop / static_drop}",
    "low: {kind: advice, label: L, when: kept < 50.0 && top < 60.0, say: low}",
];

proptest! {
    #[test]
    fn prop_judging_does_not_depend_on_the_order_of_the_rules(
        lines in Just(LINES.to_vec()).prop_shuffle(),
        drop in 0.0..12.0_f64, rebound in 0.0..30.0_f64, fixed in prop::option::of(1.0..9.0_f64),
    ) {
        let mut given = vec![("loaded-drop", drop, 0.2), ("rebound-travel", rebound, 0.3)];
        given.extend(fixed.map(|fixed| ("static-drop", fixed, 0.1)));
        let as_written = judge(&rules(&LINES.join("\n")), &given);
        let shuffled = judge(&rules(&lines.join("\n")), &given);
        prop_assert_eq!(
            format!("{:?}", as_written.findings),
            format!("{:?}", shuffled.findings)
        );
    }
}
