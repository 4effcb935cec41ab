//! What `ripple` says before a change is what the publish after it does: every
//! finding with its figures, band, tier, rank and fit cells, every caution, every
//! page and every PDF.
//!
//! PDFs are counted with a stand-in for Typst, which sets none but is asked for each
//! that has to be set: which these are does not depend on what sets them. Once it is
//! tried with Typst itself, where it is installed.

#![cfg(unix)]

mod seal_support;

use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use seal_support::{Lab, cells, left_out, small, typst};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

const DAY: &str = "2026-11-28";

/// A program that answers as Typst does and writes one and the same file for all.
fn stand_in(folder: &Path) -> PathBuf {
    let path = folder.join("typst");
    // The older version sets one sheet a process, so that nothing has to be told apart.
    let script = "#!/bin/sh\n\
        if [ \"$1\" = --version ]; then echo 'typst 0.14.2 (stand-in)'; exit 0; fi\n\
        for last; do :; done\n\
        echo '%PDF-1.7 stand-in' > \"$last\"\n";
    std::fs::write(&path, script).expect("writable");
    let mode = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(&path, mode).expect("it is ours");
    path
}

/// A row of the published findings, by column.
type Row = BTreeMap<String, String>;

/// What a publish put out, as far as a forecast speaks of it.
struct Out {
    /// By shoe and finding, without the versions.
    findings: BTreeMap<(String, String), Row>,
    /// Of each shoe the cautions the fit guide shows, by its title.
    cautions: BTreeMap<String, String>,
}

impl Out {
    fn read(lab: &Lab) -> Out {
        let text = lab.text("out/data/findings.csv");
        let mut lines = text.lines().map(cells);
        let head = lines.next().expect("a header");
        let findings = lines
            .map(|row| {
                let mut row: Row = head.iter().cloned().zip(row).collect();
                row.remove("rules_version");
                row.remove("protocol_version");
                ((row["shoe"].clone(), row["finding"].clone()), row)
            })
            .collect();
        let guide = lab.text("out/guide/index.html");
        let cautions = guide
            .split("<tr><th scope=\"row\">")
            .skip(1)
            .map(|row| {
                let name = row.split(['>', '<']).nth(2).expect("a name in a link");
                let last = row.split("</tr>").next().expect("its end");
                let last = last.rsplit("<td>").next().expect("a last cell");
                let name = name.replace("&amp;", "&").replace("&#39;", "'");
                (name, last.replace("</td>", ""))
            })
            .collect();
        Out { findings, cautions }
    }
}

/// The names of a fit's options, rows and then columns, by their keys.
fn options(rules: &serde_yaml::Value) -> [Vec<(String, String)>; 2] {
    ["rows", "columns"].map(|axis| {
        let options = rules["rules"]["builds"][axis]["options"].as_mapping();
        let options = options.expect("options").iter();
        options
            .map(|(key, option)| {
                let text = |value: &serde_yaml::Value| value.as_str().unwrap().to_owned();
                (text(key), text(&option["label"]))
            })
            .collect()
    })
}

/// The cells of a fit as the data's verdicts make them: each the worse of its two.
fn fit_cells(row: &Row, options: &[Vec<(String, String)>; 2]) -> Vec<(String, &'static str)> {
    let verdicts: BTreeMap<&str, &str> = row["verdicts"]
        .split(';')
        .filter_map(|one| one.split_once('='))
        .collect();
    let mut cells = Vec::new();
    for (row, row_label) in &options[0] {
        for (column, column_label) in &options[1] {
            let both = [verdicts[&**row], verdicts[&**column]];
            let says = [
                ("fails", "other"),
                ("unknown", "not known"),
                ("close", "close"),
                ("holds", "suits"),
            ];
            let worse = says.into_iter().find(|(is, _)| both.contains(is));
            let (_, says) = worse.expect("a verdict");
            cells.push((format!("{row_label} × {column_label}"), says));
        }
    }
    cells
}

/// A lab, its stand-in, and what is out.
struct Trial {
    lab: Lab,
    typst: PathBuf,
    out: Out,
    options: [Vec<(String, String)>; 2],
    bands_moved: usize,
    cells_moved: usize,
    cautions_moved: usize,
    tiers_moved: usize,
    pages: usize,
    prints: usize,
}

impl Trial {
    fn begin() -> Trial {
        let lab = small();
        let typst = stand_in(lab.path());
        let rules = serde_yaml::from_str(&lab.text("lab/rules.yaml")).unwrap();
        let mut trial = Trial {
            options: options(&rules),
            out: Out {
                findings: BTreeMap::new(),
                cautions: BTreeMap::new(),
            },
            lab,
            typst,
            bands_moved: 0,
            cells_moved: 0,
            cautions_moved: 0,
            tiers_moved: 0,
            pages: 0,
            prints: 0,
        };
        trial.publish();
        trial.out = Out::read(&trial.lab);
        trial
    }

    fn json(&self, arguments: &[&str]) -> (Option<i32>, Value) {
        let mut command = self.lab.run(arguments);
        command.env("SOLEFOLIO_TYPST", &self.typst);
        let output = command.args(["--format", "json"]).output().unwrap();
        let said = serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
            panic!("{error}: {}", String::from_utf8_lossy(&output.stderr));
        });
        (output.status.code(), said)
    }

    fn publish(&self) -> (Option<i32>, Value) {
        self.json(&["publish", "--as-of", DAY, "--pdf", "require", "--why"])
    }

    /// Tries a file in place of the lab's own, then puts it there, publishes, and
    /// holds the two against each other. Says whether it could be published.
    fn hold(&mut self, option: &str, name: &str, text: &str, tried: &str) -> bool {
        self.lab.write("tried.yaml", text);
        let file = self.lab.path().join("tried.yaml");
        let file = file.to_str().unwrap();
        let (code, forecast) =
            self.json(&["ripple", option, file, "--as-of", DAY, "--pdf", "require"]);
        assert_eq!(code, Some(0), "{tried}: {forecast}");
        let before = self.lab.text(name);
        self.lab.write(name, text);
        let (code, report) = self.publish();

        let notes = forecast["notes"].as_array().unwrap();
        let stops = notes
            .iter()
            .any(|note| note.as_str().unwrap().contains("publishing it would stop"));
        assert_eq!(code, Some(i32::from(stops)), "{tried}: {notes:?}: {report}");
        if stops {
            self.lab.write(name, &before);
            return false;
        }
        self.hold_files(&forecast, &report, tried);
        let after = Out::read(&self.lab);
        self.hold_findings(&forecast, &after, tried);
        self.hold_counts(&forecast, &after, tried);
        self.out = after;
        true
    }

    /// The pages and PDFs that were made again are those that were forecast.
    fn hold_files(&mut self, forecast: &Value, report: &Value, tried: &str) {
        let made: BTreeSet<&str> = report["why"]
            .as_array()
            .into_iter()
            .flatten()
            .filter(|why| ["made", "same"].contains(&why["outcome"].as_str().unwrap()))
            .map(|why| why["path"].as_str().unwrap())
            // The manifest follows whatever is made.
            .filter(|path| *path != solefolio::press::MANIFEST)
            .collect();
        let again = forecast["sheets"]["again"].as_array().unwrap();
        let again: BTreeSet<&str> = again.iter().map(|path| path.as_str().unwrap()).collect();
        assert_eq!(again, made, "{tried}");
        for none in ["new", "gone"] {
            assert_eq!(forecast["sheets"][none].as_array().unwrap().len(), 0);
        }
        let prints = again.iter().filter(|path| path.ends_with(".pdf")).count();
        assert_eq!(report["prints"]["made"], prints, "{tried}");
        self.prints += prints;
        self.pages += again.len() - prints;
    }

    /// Every finding that changed was forecast as it is now, and no other was.
    fn hold_findings(&mut self, forecast: &Value, after: &Out, tried: &str) {
        let mut told: BTreeMap<(String, String), &Value> = BTreeMap::new();
        let mut cautious: BTreeSet<String> = BTreeSet::new();
        for shoe in forecast["ripple"]["shoes"].as_array().unwrap() {
            for change in shoe["changes"].as_array().unwrap() {
                let name = |of: &Value| of.as_str().unwrap().to_owned();
                if change["notice"] == "advice" || change["notice"] == "judged" {
                    cautious.insert(name(&shoe["title"]));
                }
                told.insert((name(&shoe["shoe"]), name(&change["finding"])), change);
            }
        }
        assert_eq!(
            self.out.findings.keys().collect::<Vec<_>>(),
            after.findings.keys().collect::<Vec<_>>()
        );
        for (key, row) in &after.findings {
            let place = format!("{tried}: {key:?}");
            let before = &self.out.findings[key];
            let Some(change) = told.get(key) else {
                assert!(
                    before == row,
                    "{place} was not forecast: {before:?} {row:?}"
                );
                continue;
            };
            // The data don't tell on which side of its threshold an advice's estimate lies.
            assert!(
                before != row || row["kind"] == "advice",
                "{place} did not change: {change}"
            );
            hold_state(&change["old"], before, &self.options, &place);
            hold_state(&change["new"], row, &self.options, &place);
            let number = |row: &Row| row["band_number"].parse::<i32>().ok();
            let way = match (number(before), number(row)) {
                (Some(old), Some(new)) if new > old => "up",
                (Some(old), Some(new)) if new < old => "down",
                _ => "",
            };
            assert_eq!(change["way"].as_str().unwrap_or_default(), way, "{place}");
            if !way.is_empty() {
                self.bands_moved += 1;
                let tier = key.1 == "pace" || key.1 == "lightness";
                self.tiers_moved += usize::from(tier);
                let notice = if tier { "tier" } else { "band" };
                assert_eq!(change["notice"], notice, "{place}");
            }
            if row["kind"] == "fit"
                && row["not_judged"].is_empty()
                && before["not_judged"].is_empty()
            {
                let pairs = fit_cells(before, &self.options)
                    .into_iter()
                    .zip(fit_cells(row, &self.options));
                let moved: Vec<String> = pairs
                    .filter(|(old, new)| old != new)
                    .map(|(old, new)| format!("{}: {} → {}", old.0, old.1, new.1))
                    .collect();
                assert_eq!(change["cells"], serde_json::json!(moved), "{place}");
                self.cells_moved += moved.len();
            }
        }
        // A caution that comes or goes in the guide was forecast of that shoe.
        for (title, cautions) in &after.cautions {
            if self.out.cautions[title] != *cautions {
                assert!(cautious.contains(title), "{tried}: {title}: {cautions}");
                self.cautions_moved += 1;
            }
        }
    }

    /// The counts of each finding are those of the published rows.
    fn hold_counts(&self, forecast: &Value, after: &Out, tried: &str) {
        for pair in forecast["ripple"]["findings"].as_array().unwrap() {
            let (finding, count) = (pair[0].as_str().unwrap(), &pair[1]);
            let mut expected: BTreeMap<&str, u64> = BTreeMap::new();
            for (key, new) in after.findings.iter().filter(|(key, _)| key.1 == finding) {
                let old = &self.out.findings[key];
                let band = |row: &Row| row["band_number"].parse::<i32>().unwrap_or_default();
                let judged = |row: &Row| row["not_judged"].is_empty();
                let near = |row: &Row| !row["borderline_with"].is_empty();
                let both = band(old) > 0 && band(new) > 0;
                for (name, is) in [
                    ("up", both && band(new) > band(old)),
                    ("down", both && band(new) < band(old)),
                    ("borderline", near(new) && !near(old)),
                    ("settled", near(old) && !near(new)),
                    ("judged", judged(new) && !judged(old)),
                    ("not_judged", judged(old) && !judged(new)),
                ] {
                    *expected.entry(name).or_default() += u64::from(is);
                }
            }
            for (name, expected) in expected {
                assert_eq!(count[name], expected, "{tried}: {name} of {finding}");
            }
        }
    }
}

/// A forecast state of a finding says what the published row says.
fn hold_state(state: &Value, row: &Row, options: &[Vec<(String, String)>; 2], place: &str) {
    let said = |of: &str| state[of].as_str().unwrap_or_default().to_owned();
    assert_eq!(said("band"), row["band"], "{place}");
    assert_eq!(said("borderline"), row["borderline_with"], "{place}");
    assert_eq!(said("not_judged"), row["not_judged"], "{place}");
    let rank = match &state["rank"] {
        Value::Array(rank) => (rank[0].to_string(), rank[1].to_string()),
        _ => (String::new(), String::new()),
    };
    let published = (row["rank"].clone(), row["of_shoes"].clone());
    assert!(rank == published, "{place}: {rank:?} {published:?}");
    // Figures are forecast as printed: the published ones, rounded.
    for (printed, exact) in [(said("value"), "value"), (said("score"), "score")] {
        let Ok(exact) = row[exact].parse::<f64>() else {
            continue;
        };
        let number = printed.split(' ').next().unwrap_or_default();
        if number.is_empty() && row["kind"] != "scale" && row["kind"] != "blend" {
            continue;
        }
        let places = number.split_once('.').map_or(0, |(_, after)| after.len());
        let read: f64 = number
            .replace('−', "-")
            .parse()
            .unwrap_or_else(|error| panic!("{place}: `{printed}`: {error}"));
        let half = 0.5 * 10_f64.powi(-i32::try_from(places).unwrap());
        assert!(
            (read - exact).abs() <= half * 1.000_001,
            "{place}: {printed}, {exact}"
        );
    }
    if row["kind"] == "advice" && row["not_judged"].is_empty() {
        let may_say: &[&str] = match &*row["applies"] {
            "holds" => &["applies"],
            "close" => &["applies, closely", "does not apply, closely"],
            "fails" => &["does not apply"],
            _ => &["not known"],
        };
        assert!(may_say.contains(&&*said("says")), "{place}: {state}");
    }
    if row["kind"] == "fit" && row["not_judged"].is_empty() {
        let cells = serde_json::json!(fit_cells(row, options));
        assert_eq!(state["cells"], cells, "{place}");
    }
}

/// Changes one thing of a rule set at random, in a way it can be changed.
fn change_rules(rules: &mut serde_yaml::Value, random: &mut StdRng) -> String {
    const SCALES: [&str; 5] = ["torsion", "heel-firmness", "rebound", "lightness", "lift"];
    match random.random_range(0..12) {
        0..=5 => {
            let name = SCALES[random.random_range(0..SCALES.len())];
            let points = rules["rules"][name]["points"].as_sequence_mut().unwrap();
            let at = random.random_range(1..points.len() - 1);
            let x = |point: &serde_yaml::Value| point[0].as_f64().unwrap();
            let (before, after) = (x(&points[at - 1]), x(&points[at + 1]));
            let share = random.random_range(0.15..0.85);
            let new = ((before + (after - before) * share) * 100.0).round() / 100.0;
            points[at][0] = new.into();
            format!("{name}.points[{at}][0] = {new}")
        }
        6 => {
            let cut = random.random_range(25..45);
            rules["rules"]["platform"]["cuts"][0] = cut.into();
            format!("platform.cuts[0] = {cut}")
        }
        7 => {
            let cut = random.random_range(35..65);
            rules["rules"]["pace"]["cuts"][1] = cut.into();
            format!("pace.cuts[1] = {cut}")
        }
        8 => {
            let limit = f64::from(random.random_range(55..99)) / 100.0;
            rules["borderline-below"] = limit.into();
            format!("borderline-below = {limit}")
        }
        9 => {
            let from = random.random_range(20..80);
            let suits = format!("platform >= {from}.0");
            rules["rules"]["builds"]["columns"]["options"]["pronated"]["suits"] = suits.into();
            format!("builds: pronated from a platform of {from}")
        }
        10 => {
            let from = random.random_range(45..85);
            rules["rules"]["firm-landing"]["when"] = format!("heel_firmness >= {from}.0").into();
            format!("firm-landing from {from}")
        }
        _ => {
            let kept = random.random_range(50..95);
            rules["rules"]["sinking-heel"]["when"] = format!("drop_kept < {kept}.0").into();
            format!("sinking-heel below {kept}")
        }
    }
}

fn next_version(rules: &mut serde_yaml::Value) {
    let version = rules["version"].as_u64().unwrap() + 1;
    rules["version"] = version.into();
    let line = format!("{{version: {version}, effective: 2026-11-01, note: Tried.}}");
    let line = serde_yaml::from_str(&line).unwrap();
    rules["history"].as_sequence_mut().unwrap().push(line);
}

/// Changes one thing of a protocol at random.
fn change_protocol(protocol: &mut serde_yaml::Value, random: &mut StdRng) -> String {
    const MEASURED: [&str; 4] = [
        "midfoot-torque",
        "heel-compression",
        "rebound-travel",
        "loaded-drop",
    ];
    let name = MEASURED[random.random_range(0..MEASURED.len())];
    let unit = if name == "midfoot-torque" {
        "N·m"
    } else {
        "mm"
    };
    let mut put = |key: &str, value: String| {
        protocol["quantities"][name][key] = serde_yaml::from_str(&value).unwrap();
        format!("{name}.{key} = {value}")
    };
    match random.random_range(0..8) {
        0 => {
            let coverage = ["68 %", "90 %", "95 %", "99 %"][random.random_range(0..4)];
            protocol["coverage"] = coverage.into();
            format!("coverage = {coverage}")
        }
        1..=2 => {
            let s = f64::from(random.random_range(4..40)) / 100.0;
            put("repeatability", format!("{{s: {s} {unit}, dof: 40}}"))
        }
        3 => {
            let least = random.random_range(2..5);
            protocol["minimum-shoes"] = least.into();
            format!("minimum-shoes = {least}")
        }
        4 => {
            let step = f64::from(random.random_range(0..30)) / 10.0;
            protocol["quantities"]["mass"]["per-size"] = format!("{step} g").into();
            format!("mass.per-size = {step} g")
        }
        5 => put("decimals", random.random_range(0..4).to_string()),
        6 => {
            let warm = f64::from(random.random_range(1..20)) / 10.0;
            protocol["conditioning"]["temperature-tolerance"] = format!("{warm} °C").into();
            format!("temperature-tolerance = {warm} °C")
        }
        // A narrow one puts readings out of it, and nothing can be published.
        _ => put("spread", format!("{} %", random.random_range(2..14))),
    }
}

fn text<T: serde::Serialize>(value: &T) -> String {
    serde_yaml::to_string(value).unwrap()
}

#[test]
fn a_hundred_random_changes_of_rules_do_what_was_forecast() {
    let mut trial = Trial::begin();
    let mut random = StdRng::seed_from_u64(20_261_126);
    let mut rules: serde_yaml::Value =
        serde_yaml::from_str(&trial.lab.text("lab/rules.yaml")).unwrap();
    for round in 0..100 {
        let tried = change_rules(&mut rules, &mut random);
        // Every other change is published as a new version, which all pages show.
        if round % 2 == 0 {
            next_version(&mut rules);
        }
        let tried = format!("round {round}: {tried}");
        assert!(trial.hold("--rules", "lab/rules.yaml", &text(&rules), &tried));
    }
    // The changes were large enough to mean something.
    for (what, moved, least) in [
        ("bands", trial.bands_moved, 30),
        ("tiers", trial.tiers_moved, 5),
        ("fit cells", trial.cells_moved, 50),
        ("cautions", trial.cautions_moved, 5),
        ("pages", trial.pages, 1000),
        ("prints", trial.prints, 500),
    ] {
        println!("{what}: {moved}");
        assert!(moved > least, "{what}: {moved}");
    }
}

#[test]
fn random_changes_of_the_protocol_do_what_was_forecast() {
    let mut trial = Trial::begin();
    let mut random = StdRng::seed_from_u64(20_261_128);
    let mut protocol: serde_yaml::Value =
        serde_yaml::from_str(&trial.lab.text("lab/protocol.yaml")).unwrap();
    let (mut published, mut stopped) = (0, 0);
    for round in 0..30 {
        let before = protocol.clone();
        let tried = change_protocol(&mut protocol, &mut random);
        if round % 2 == 0 {
            let version = protocol["version"].as_u64().unwrap() + 1;
            protocol["version"] = version.into();
        }
        let tried = format!("round {round}: {tried}");
        if trial.hold("--protocol", "lab/protocol.yaml", &text(&protocol), &tried) {
            published += 1;
        } else {
            protocol = before;
            stopped += 1;
        }
    }
    println!("{published} published, {stopped} stopped");
    assert!(published > 15 && stopped > 0, "{published}, {stopped}");
    assert!(trial.pages > 100 && trial.prints > 50);
}

/// The same once with Typst itself: its PDFs are those that were forecast, and those
/// that were not are untouched.
#[test]
fn typst_sets_the_prints_that_were_forecast() {
    let Some(typst) = typst() else {
        return left_out("typst is not installed");
    };
    let mut trial = Trial::begin();
    trial.typst = typst;
    trial.publish();
    let mut rules: serde_yaml::Value =
        serde_yaml::from_str(&trial.lab.text("lab/rules.yaml")).unwrap();
    // Moves one shoe's figures among eight, and the week and guide that hold it.
    rules["rules"]["firm-landing"]["when"] = "heel_firmness >= 76.0".into();
    assert!(trial.hold(
        "--rules",
        "lab/rules.yaml",
        &text(&rules),
        "firm-landing from 76"
    ));
    assert!(trial.prints > 0);
}
