use super::*;
use crate::quantity::Unit;
use crate::rules::names::Meaning;
use proptest::prelude::*;
use std::sync::Arc;

fn names() -> Names {
    let mut names = Names::default();
    for (name, meaning) in [
        ("a", Meaning::Quantity(Unit::Millimetre)),
        ("b", Meaning::Score),
        ("heel-firmness", Meaning::Score),
        ("builds", Meaning::Words),
    ] {
        names.add(&name.parse().unwrap(), name, meaning);
    }
    names
}

fn number(text: &str) -> Result<NumberExpression, Vec<Mistake>> {
    let path = KeyPath::root().key("is");
    NumberExpression::build(text, &names(), &mut Variables::default(), &path)
}

fn truth(text: &str) -> Result<TruthExpression, Vec<Mistake>> {
    let path = KeyPath::root().key("when");
    TruthExpression::build(text, &names(), &mut Variables::default(), &path)
}

/// The first mistake's code, message and hint.
fn mistake<T: std::fmt::Debug>(built: Result<T, Vec<Mistake>>) -> (&'static str, String) {
    let mistake = built.unwrap_err().remove(0);
    let hint = mistake.hint.unwrap_or_default();
    (mistake.code, format!("{} | {hint}", mistake.message))
}

#[test]
fn arithmetic_binds_as_it_is_written() {
    for (text, expected) in [
        ("a + 2.0 * 3.0", 16.0),
        ("(a + 2.0) * 3.0", 36.0),
        ("a - 2.0 - 3.0", 5.0),
        ("a / 4.0 / 2.0", 1.25),
        ("-a + 1.0", -9.0),
        ("a > 3.0 ? 1.5 : 2.5", 1.5),
        ("math.least(a, 3.0, 7.0) + math.greatest(a, 3.0)", 13.0),
        ("math.abs(1.0 - a) + math.sqrt(a + 6.0)", 13.0),
        (
            "math.floor(a / 4.0) + math.ceil(a / 4.0) + math.round(a / 4.0)",
            8.0,
        ),
    ] {
        assert_eq!(
            number(text).unwrap().at(&[Some(10.0)]),
            Ok(expected),
            "{text}"
        );
    }
}

#[test]
fn a_comparison_says_what_it_does_with_equal_sides() {
    for (comparison, at_five, at_six) in [
        ("<", false, false),
        ("<=", true, false),
        (">", false, true),
        (">=", true, true),
        ("==", true, false),
        ("!=", false, true),
    ] {
        let condition = truth(&format!("a {comparison} 5.0")).unwrap();
        let found = [5.0, 6.0].map(|a| condition.at(&[Some(a)]));
        assert_eq!(found, [Ok(at_five), Ok(at_six)], "{comparison}");
    }
}

#[test]
fn a_choice_may_be_between_truths() {
    let choice = truth("a > 3.0 ? b > 5.0 : b < 2.0").unwrap();
    for (a, b, expected) in [
        (4.0, 6.0, true),
        (4.0, 1.0, false),
        (1.0, 6.0, false),
        (1.0, 1.0, true),
    ] {
        assert_eq!(choice.at(&[Some(a), Some(b)]), Ok(expected), "{a} {b}");
    }
    for mixed in ["a > 3.0 ? a : b > 2.0", "a > 3.0 ? b > 2.0 : a"] {
        assert_eq!(mistake(number(mixed)).0, "expression-type", "{mixed}");
    }
}

#[test]
fn a_missing_fact_matters_only_where_it_decides() {
    let both = truth("a > 3.0 && b > 3.0").unwrap();
    assert_eq!(both.at(&[Some(1.0), None]), Ok(false));
    assert_eq!(both.at(&[None, Some(1.0)]), Ok(false));
    assert_eq!(both.at(&[Some(9.0), None]), Err(Undecided::Missing(1)));
    let either = truth("a > 3.0 || b > 3.0").unwrap();
    assert_eq!(either.at(&[None, Some(9.0)]), Ok(true));
    assert_eq!(either.at(&[None, Some(1.0)]), Err(Undecided::Missing(0)));
    let choice = number("a > 3.0 ? a : b").unwrap();
    assert_eq!(choice.at(&[Some(4.0), None]), Ok(4.0));
    assert_eq!(choice.at(&[Some(1.0), None]), Err(Undecided::Missing(1)));
}

#[test]
fn what_is_not_finite_decides_nothing() {
    assert_eq!(
        number("1.0 / a").unwrap().at(&[Some(0.0)]),
        Err(Undecided::NotFinite)
    );
    assert_eq!(
        number("math.sqrt(a)").unwrap().at(&[Some(-1.0)]),
        Err(Undecided::NotFinite)
    );
    let condition = truth("1.0 / a > 3.0").unwrap();
    assert_eq!(condition.at(&[Some(0.0)]), Err(Undecided::NotFinite));
}

#[test]
fn a_whole_number_is_told_how_to_be_written() {
    for text in ["a >= 60", "60 <= a", "a > 60u", "100 * a > 60.0"] {
        let (code, text) = mistake(truth(text));
        assert_eq!(code, "expression-whole-number");
        assert!(
            text.contains("write 60.0") || text.contains("write 100.0"),
            "{text}"
        );
    }
    assert!(mistake(truth("a > -5")).1.contains("-5.0"));
}

#[test]
fn every_mistake_of_an_expression_is_named_at_once() {
    let mistakes = truth("heel_firmnes > 60 && builds > 1.0 && c").unwrap_err();
    let codes: Vec<_> = mistakes.iter().map(|mistake| mistake.code).collect();
    assert_eq!(
        codes,
        [
            "unknown-name",
            "expression-whole-number",
            "needs-a-number",
            "unknown-name"
        ]
    );
    assert_eq!(
        mistakes[0].hint.as_deref(),
        Some("did you mean `heel_firmness`?")
    );
    assert!(
        mistakes[0].message.contains("at character 1"),
        "{}",
        mistakes[0].message
    );
}

#[test]
fn a_truth_does_not_stand_for_a_number_nor_a_number_for_a_truth() {
    for text in [
        "a && b > 1.0",
        "!a",
        "(a > 1.0) + 1.0 > 2.0",
        "a > 1.0 ? 1.0 : a > 2.0",
    ] {
        assert_eq!(mistake(truth(text)).0, "expression-type", "{text}");
    }
    assert_eq!(mistake(truth("a + 1.0")).0, "expression-type");
    assert_eq!(mistake(number("a > 1.0")).0, "expression-type");
    assert_eq!(mistake(truth("(a > 1.0) == 2.0")).0, "expression-type");
}

#[test]
fn the_rest_of_the_language_is_refused_by_name() {
    for text in [
        "a % 2.0",
        "a in [1.0, 2.0]",
        "[1.0, 2.0].exists(x, x > a)",
        "a == 'text'",
        "size('text') > a",
        "a.b > 1.0",
        "math.log(a)",
        "math.abs(a, b)",
        "math.least()",
        "{'a': a}['a'] > 1.0",
        "timestamp('2026-01-01T00:00:00Z')",
        "has(a.b)",
    ] {
        let codes: Vec<_> = truth(text).unwrap_err().iter().map(|m| m.code).collect();
        assert!(
            codes.contains(&"expression-unsupported"),
            "{text}: {codes:?}"
        );
    }
}

/// The condition with more names, each of a score.
fn truth_with(more: &[&str], text: &str) -> Result<TruthExpression, Vec<Mistake>> {
    let mut names = names();
    for name in more {
        names.add(&name.parse().unwrap(), name, Meaning::Score);
    }
    TruthExpression::build(text, &names, &mut Variables::default(), &KeyPath::root())
}

#[test]
fn a_name_with_hyphens_is_no_subtraction_of_two_others() {
    let more = ["drop", "kept", "drop-kept", "kept-2"];
    for text in ["drop-kept > 60.0", "2.0*(drop-kept) > a"] {
        let (code, told) = mistake(truth_with(&more, text));
        assert_eq!(code, "expression-syntax", "{text}");
        assert!(told.contains("write `drop_kept`"), "{told}");
    }
    for text in [
        "drop_kept > 60.0",
        "drop - kept > 60.0",
        "drop -kept > 60.0",
        "kept-2.0 > 60.0",
        "a-b > 60.0",
    ] {
        assert!(truth_with(&more, text).is_ok(), "{text}");
    }
}

#[test]
fn a_name_that_no_expression_can_hold_is_named_as_the_cause() {
    let more = ["5k-time", "in", "if", "true"];
    for (text, code, cause) in [
        (
            "5k_time > 3.0",
            "expression-syntax",
            "`5k-time`: a name begins",
        ),
        (
            "5k-time > 3.0",
            "expression-syntax",
            "`5k-time`: a name begins",
        ),
        (
            "a < 1.0 && in > 3.0",
            "expression-syntax",
            "`in`: it is a word",
        ),
        ("if > 3.0", "expression-syntax", "`if`: it is a word"),
        ("a < true", "expression-type", "`true`: it is a word"),
    ] {
        let (found, told) = mistake(truth_with(&more, text));
        assert_eq!(found, code, "{text}");
        assert!(told.contains(cause), "{text}: {told}");
    }
    let (_, told) = mistake(truth_with(&more, "a > "));
    assert!(told.contains("write it as"), "{told}");
}

#[test]
fn a_condition_tells_the_constants_each_figure_is_compared_with() {
    let turns = |text: &str| truth(text).unwrap().turns;
    assert_eq!(
        turns("!(2.0 < b) && (a >= 1.5 || a >= 1.5 || -1.0 == a)"),
        [(0, 2.0), (1, -1.0), (1, 1.5)]
    );
    assert_eq!(
        turns("(a > 3.0 && b < 1.0 + 1.0 ? b : a) > 4.0"),
        [(0, 3.0), (1, 2.0)]
    );
    assert!(turns("a > b && a + 1.0 > 2.0").is_empty());
}

#[test]
fn form_is_limited_in_length_and_depth() {
    assert_eq!(mistake(truth("a >")).0, "expression-syntax");
    assert_eq!(mistake(truth("")).0, "expression-syntax");
    assert_eq!(mistake(truth("a > 1.0 }")).0, "expression-syntax");
    let long = format!("a > 1.0{}", " + 1.0".repeat(100));
    assert_eq!(mistake(truth(&long)).0, "expression-too-long");
    let deep = format!("{}a{} > 1.0", "(".repeat(100), ")".repeat(100));
    assert_eq!(mistake(truth(&deep)).0, "expression-too-deep");
    let within = format!("{}a{} > 1.0", "(".repeat(20), ")".repeat(20));
    assert!(truth(&within).is_ok());
}

#[test]
fn the_same_for_every_shoe_is_a_mistake() {
    assert_eq!(mistake(truth("1.0 < 2.0")).0, "expression-constant");
    assert_eq!(mistake(number("1.0")).0, "expression-constant");
}

#[test]
fn mentions_are_keys_known_or_not() {
    let found = mentions("heel_firmness > 1.0 && nobody < math.abs(a)");
    let found: Vec<_> = found.iter().map(Key::as_str).collect();
    assert_eq!(found, ["heel-firmness", "nobody", "a"]);
    assert!(mentions("(((").is_empty());
}

/// The text of an expression that comes to a number.
fn numbers() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("a".to_owned()),
        Just("b".to_owned()),
        (-50.0..50.0_f64).prop_map(|x| format!("({x:?})")),
    ];
    leaf.prop_recursive(3, 12, 3, |part| {
        let two = (part.clone(), part.clone());
        prop_oneof![
            (two.clone(), prop::sample::select(vec!["+", "-", "*", "/"]))
                .prop_map(|((x, y), op)| format!("({x} {op} {y})")),
            part.clone().prop_map(|x| format!("-({x})")),
            (two.clone(), prop::sample::select(vec!["least", "greatest"]))
                .prop_map(|((x, y), f)| format!("math.{f}({x}, {y})")),
            (
                part.clone(),
                prop::sample::select(vec!["abs", "sqrt", "floor", "ceil", "round"])
            )
                .prop_map(|(x, f)| format!("math.{f}({x})")),
            (two, part).prop_map(|((x, y), z)| format!("({x} < {y} ? {x} : {z})")),
        ]
    })
}

/// The text of an expression that is true or false.
fn truths() -> impl Strategy<Value = String> {
    let compare = prop::sample::select(vec!["<", "<=", ">", ">=", "==", "!="]);
    let leaf = (numbers(), compare, numbers()).prop_map(|(x, op, y)| format!("{x} {op} {y}"));
    leaf.prop_recursive(2, 4, 2, |part| {
        prop_oneof![
            (
                part.clone(),
                part.clone(),
                prop::sample::select(vec!["&&", "||", "==", "!="])
            )
                .prop_map(|(x, y, op)| format!("({x}) {op} ({y})")),
            part.prop_map(|x| format!("!({x})")),
        ]
    })
}

/// What the language's own interpreter makes of an expression.
fn interpreted(text: &str, a: Option<f64>, b: Option<f64>) -> Option<cel::Value> {
    let mut env = cel::Env::stdlib();
    env.add_extension(cel::extensions::math).unwrap();
    let env = Arc::new(env);
    let program = env.compile(text).unwrap();
    let mut context = cel::Context::with_env(env);
    for (name, value) in [("a", a), ("b", b)] {
        if let Some(value) = value {
            context.add_variable(name, value).unwrap();
        }
    }
    program.execute(&context).ok()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn prop_a_number_is_the_one_the_language_has(text in numbers(), a in -9.0..9.0_f64, b in 0.0..100.0_f64) {
        prop_assume!(text.chars().count() + 30 <= LENGTH_LIMIT);
        let full = format!("a * 0.0 + b * 0.0 + {text}");
        if let Ok(found) = number(&full).unwrap().at(&[Some(a), Some(b)]) {
            let Some(cel::Value::Float(expected)) = interpreted(&full, Some(a), Some(b)) else {
                return Err(TestCaseError::fail(full));
            };
            prop_assert_eq!(found, expected, "{}", full);
        }
    }

    #[test]
    fn prop_a_truth_is_the_one_the_language_has_with_and_without_a_fact(
        text in truths(), a in -9.0..9.0_f64, b in prop::option::of(0.0..100.0_f64),
    ) {
        prop_assume!(text.chars().count() + 40 <= LENGTH_LIMIT);
        let full = format!("(a == a) == (b == b || true) && ({text})");
        if let Ok(found) = truth(&full).unwrap().at(&[Some(a), b]) {
            prop_assert_eq!(interpreted(&full, Some(a), b), Some(cel::Value::Bool(found)), "{}", full);
        }
    }

    #[test]
    fn prop_no_text_panics(text in "[ab0-9.()<>=!&|?:+*/'\\[\\]{}, \\-%_a-z]{0,60}") {
        let _ = truth(&text);
        let _ = number(&text);
        let _ = mentions(&text);
    }

    #[test]
    fn prop_no_unicode_text_panics(text in "\\PC{0,40}") {
        let _ = truth(&text);
    }
}
