//! Laws that hold for any text.

use super::*;
use proptest::prelude::*;

/// What a tree stands for, as serde reads it.
fn as_serde(node: &Node) -> serde_yaml::Value {
    match &node.value {
        Value::List(items) => serde_yaml::Value::Sequence(items.iter().map(as_serde).collect()),
        Value::Map(entries) => {
            let pairs = entries
                .iter()
                .map(|e| (as_serde(&e.key), as_serde(&e.value)));
            serde_yaml::Value::Mapping(pairs.collect())
        }
        Value::Scalar(scalar) if scalar.plain => serde_yaml::from_str(&scalar.text).unwrap(),
        Value::Scalar(scalar) => serde_yaml::Value::String(scalar.text.clone()),
        Value::Refused => unreachable!("nothing was refused"),
    }
}

fn any_value() -> impl Strategy<Value = serde_json::Value> {
    let leaf = prop_oneof![
        any::<bool>().prop_map(Into::into),
        any::<i32>().prop_map(Into::into),
        (-1e9f64..1e9).prop_map(Into::into),
        "[ -~äß°·\n]{0,12}".prop_map(Into::into),
        "(~|null|yes|- a|&x|\\*x|!t|<<|a: b|#c|\\.nan|2026-03-01)".prop_map(Into::into),
    ];
    leaf.prop_recursive(4, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Into::into),
            prop::collection::btree_map("[a-zß&*!~# -]{1,8}", inner, 0..6)
                .prop_map(|map| serde_json::Value::Object(map.into_iter().collect())),
        ]
    })
}

/// A shoe with a few pieces of its text replaced by what breaks files.
fn mutated() -> impl Strategy<Value = String> {
    let piece =
        "[ \n\t:,\\[\\]{}&*!#|>'\"%@`~.?-]{1,3}|<<: |---\n|\u{85}|\u{2028}|ß|- |\u{feff}|\r|null";
    prop::collection::vec((0..SHOE.len(), 0usize..6, piece), 1..4).prop_map(|edits| {
        let mut text: Vec<char> = SHOE.chars().collect();
        for (at, gone, new) in edits {
            let at = at.min(text.len());
            let end = (at + gone).min(text.len());
            text.splice(at..end, new.chars());
        }
        text.into_iter().collect()
    })
}

fn assert_sound(text: &str) -> Result<(), TestCaseError> {
    let source = Source::new("shoes/a.yaml", text);
    let text = &source.text;
    match read::<Shoe>(&source) {
        Ok(shoe) => {
            let by_serde: Shoe = serde_yaml::from_str(text).unwrap();
            prop_assert_eq!(shoe, by_serde);
        }
        Err(problems) => {
            prop_assert!(!problems.is_empty());
            let starts = line_starts(text);
            for problem in problems {
                let place = problem.place.unwrap();
                let line = line(text, &starts, place.line);
                let within = line.is_some_and(|l| place.column <= l.chars().count() + 1);
                prop_assert!(within && place.column > 0, "{:?} {:?}", text, problem);
            }
        }
    }
    Ok(())
}

/// Lines made of what opens, closes and hides.
fn tangled() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        4 => "[\"'\\[\\]{}, ]{1,3}",
        2 => "(x|y z|k: |- |\\? |: |,|#| #|\\\\|'')",
        2 => "(&a 1|\\*a|!t x|<<: 1|~|\\.nan|null)",
        1 => "(k: \\||k: >-|- \\||k: 'x'|k: \"x\"|\"k\": )",
        3 => "\n {0,4}",
    ];
    prop::collection::vec(piece, 1..14).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn prop_any_text_is_read_or_refused_at_a_place_within_it(
        text in "[a-c0-9 \n\t:,\\[\\]{}&*!#|>'\"%@`~.?\\\\-]{0,40}|\\PC{0,40}|[\\x00-\\xff\u{2028}\u{feff}]{0,20}",
    ) {
        assert_sound(&text)?;
    }

    #[test]
    fn prop_a_broken_shoe_is_read_as_serde_does_or_refused_at_a_place_within_it(text in mutated()) {
        assert_sound(&text)?;
    }

    #[test]
    fn prop_what_is_not_suspicious_holds_nothing_to_refuse(text in tangled()) {
        let suspicious = scan::is_suspicious(&text);
        let tree = Tree::parse(&Source::new("a", &*text));
        let refused = tree.problems.iter().find(|p| !matches!(p.code, "duplicate-key" | "wrong-type"));
        prop_assert!(suspicious || tree.broken || refused.is_none(), "{:?} {:?}", text, refused);
        assert_sound(&text)?;
    }

    #[test]
    fn prop_valid_yaml_reads_as_serde_reads_it(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let source = Source::new("a", &*text);
        let by_serde: serde_json::Value = serde_yaml::from_str(&text).unwrap();
        let fast = read::<serde_json::Value>(&source);
        prop_assert_eq!(fast.as_ref(), Ok(&by_serde), "{}", text);
        let slow = read_slowly::<serde_json::Value>(&source, &Forms::standard(), None);
        prop_assert_eq!(slow, fast);
    }

    #[test]
    fn prop_the_tree_is_what_serde_reads(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let tree = Tree::parse(&Source::new("a", &*text));
        prop_assert_eq!(tree.problems, vec![]);
        let by_serde: serde_yaml::Value = serde_yaml::from_str(&text).unwrap();
        prop_assert_eq!(as_serde(&tree.root.unwrap()), by_serde, "{}", text);
    }

    #[test]
    fn prop_a_scalars_place_is_where_its_text_stands(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let places = Places::of(&Source::new("a", &*text));
        let starts = line_starts(&text);
        let mut open = vec![(KeyPath::root(), places.tree().root.clone().unwrap())];
        while let Some((path, node)) = open.pop() {
            match node.value {
                Value::List(items) => {
                    open.extend(items.into_iter().enumerate().map(|(n, item)| (path.index(n), item)));
                }
                Value::Map(entries) => {
                    for entry in entries {
                        open.push((path.key(entry.name().unwrap()), entry.value));
                    }
                }
                Value::Scalar(scalar) if scalar.plain && !scalar.text.contains('\n') => {
                    let place = places.find(&path, false).unwrap();
                    let line: String = line(&text, &starts, place.line).unwrap().chars().skip(place.column - 1).collect();
                    let word = scalar.text.split(' ').next().unwrap();
                    prop_assert!(line.starts_with(word), "{} {:?} {}", text, scalar, line);
                }
                _ => {}
            }
        }
    }
}
