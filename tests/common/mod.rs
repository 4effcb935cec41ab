//! What the reference tests share: reading their tables, and comparing.

/// The records of a comma-separated table in `tests/data`, without its header.
/// Fields may stand in double quotes; none holds a comma.
#[allow(dead_code, reason = "not every test file has tables")]
pub fn records(name: &str) -> Vec<Vec<String>> {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let records: Vec<Vec<String>> = text
        .lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .map(|field| field.trim().trim_matches('"').to_owned())
                .collect()
        })
        .collect();
    assert!(!records.is_empty(), "{path} holds nothing to check against");
    records
}

/// Fails unless `value` lies within `tolerance` of `expected`.
#[track_caller]
pub fn near(value: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{what}: {value} is not {expected} to {tolerance:e}"
    );
}
