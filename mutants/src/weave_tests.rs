use crate::weave::weave;
use std::collections::BTreeSet;

fn woven(source: &str) -> (String, Vec<String>) {
    let (woven, mutants, next) = weave("a.rs", source, 1, &BTreeSet::new()).unwrap();
    assert_eq!(next, mutants.len() + 1);
    syn::parse_file(&woven.text).expect("what is woven is Rust");
    let told = mutants.into_iter().map(|mutant| mutant.what).collect();
    (woven.text, told)
}

#[test]
fn an_operator_is_exchanged_behind_its_switch() {
    let (text, told) = woven("fn f(a: i8) { g(a -1) }");
    let arms = "match crate::mutant::of(2, 2) { 1 => { woven_x + woven_y } 2 => { woven_x / woven_y } _ => { woven_x - woven_y } }";
    let whole = format!("g((match ((a ), (1)) {{ (woven_x, woven_y) => {arms} }}))");
    assert!(text.contains(&whole), "{text}");
    assert_eq!(told[1..], ["- → + in a -1", "- → / in a -1"]);
}

#[test]
fn places_in_places_close_in_their_order() {
    woven("fn f(a: bool) -> bool { if !(a&&!b||c<=-1) {-d+e*f} else { g.max(-h).min(i) } }");
    woven("fn f() -> Option<u8> { match a { Some(b) if b < 1 => None, Some(_) => c, _ => d } }");
}

#[test]
fn what_is_worked_out_while_compiling_is_left_alone() {
    let source = "const A: u8 = 1 + 2; const fn f() -> u8 { 1 + 2 } static B: bool = !true;\n\
                  #[cfg(test)] mod tests { fn g() -> u8 { 1 } }\n\
                  #[test] fn h() { assert!(1 < 2) }";
    assert_eq!(woven(source), (source.to_owned(), Vec::new()));
}

#[test]
fn a_condition_that_binds_is_left_whole() {
    let (_, told) = woven("fn f() { if let Some(a) = b && a < 1 { c() } }");
    assert_eq!(
        told[1..],
        ["< → <= in a < 1", "< → == in a < 1", "< → > in a < 1"]
    );
}

#[test]
fn what_does_not_compile_is_dropped_and_keeps_its_number() {
    let source = "fn f(a: u8, b: u8) -> bool { a <= b }";
    let dropped = BTreeSet::from([1, 3]);
    let (woven, mutants, next) = weave("a.rs", source, 1, &dropped).unwrap();
    assert_eq!(
        mutants.iter().map(|one| one.id).collect::<Vec<_>>(),
        [2, 4, 5]
    );
    assert_eq!(next, 6);
    assert!(woven.text.contains("of(3, 3) { 2 =>"), "{}", woven.text);
}
