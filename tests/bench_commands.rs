//! `record`, `intake`, `begin`, `complete` and `manual` from the command line.

use assert_cmd::Command;
use std::path::Path;

fn run(root: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("solefolio")
        .unwrap()
        .args(["--root", root.to_str().unwrap()])
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (
        output.status.code().unwrap(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

fn lab() -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("lab");
    let (code, ..) = run(folder.path(), &["begin", root.to_str().unwrap()]);
    assert_eq!(code, 0);
    (folder, root)
}

fn read(root: &Path) -> String {
    std::fs::read_to_string(root.join("shoes/lindqvarn-tussock.yaml")).unwrap()
}

/// The lines that differ, as before and after.
fn differences(before: &str, after: &str) -> Vec<(String, String)> {
    assert_eq!(before.lines().count(), after.lines().count());
    let both = before.lines().zip(after.lines());
    both.filter(|(a, b)| a != b)
        .map(|(a, b)| (a.to_owned(), b.to_owned()))
        .collect()
}

#[test]
fn a_recorded_reading_changes_its_line_alone_and_is_answered() {
    let (_folder, root) = lab();
    let before = read(&root);
    let arguments = ["record", "lindqvarn-tussock", "mass", "316", "11.15 oz"];
    let (code, out, _) = run(&root, &arguments);
    assert_eq!(code, 0);
    for said in ["mean", "spread", "Lightness: ", "chance", "trail shoes"] {
        assert!(out.contains(said), "{said} in {out}");
    }
    assert_eq!(
        differences(&before, &read(&root)),
        [(
            "      mass: [314, 315, 315]".to_owned(),
            "      mass: [314, 315, 315, 316, 11.15 oz]".to_owned()
        )]
    );
}

#[test]
fn a_reading_that_can_not_be_is_refused_and_nothing_is_written() {
    let (_folder, root) = lab();
    let before = read(&root);
    let shoe = "lindqvarn-tussock";
    assert_eq!(run(&root, &["record", shoe, "mass", "31400"]).0, 1);
    assert_eq!(run(&root, &["record", shoe, "mass", "3 mm"]).0, 1);
    let (code, _, said) = run(&root, &["record", shoe, "mas", "314"]);
    assert_eq!(code, 2);
    assert!(said.contains("did you mean `mass`?"), "{said}");
    assert_eq!(
        run(&root, &["record", "fennick-vale-quarrel-2", "mass", "262"]).0,
        2
    );
    assert_eq!(read(&root), before);
}

#[test]
fn a_sheet_is_previewed_applied_and_safe_to_take_in_twice() {
    let (folder, root) = lab();
    let sheet = folder.path().join("sheet.csv");
    let rows = "shoe;specimen;Mass 1 (g);Mass 2;Mass 3;Mass 4 (oz);Static drop\n\
                lindqvarn-tussock;TS-L;314;315;315;11,15;6,0\n\
                nobody;X;1;;;;\n\
                lindqvarn-tussock;TS-R;314;;;;\n";
    std::fs::write(&sheet, rows).unwrap();
    let sheet = sheet.to_str().unwrap();
    let before = read(&root);
    let (code, out, said) = run(&root, &["intake", sheet]);
    assert_eq!(code, 1, "two rows can't be taken");
    assert!(
        out.contains("mass is added to: [314, 315, 315, 11.15 oz]"),
        "{out}"
    );
    assert!(
        said.contains("sheet.csv:3:10") && said.contains("sheet.csv:4:24"),
        "{said}"
    );
    assert_eq!(read(&root), before, "a preview writes nothing");
    run(&root, &["intake", sheet, "--apply"]);
    let once = read(&root);
    assert_eq!(differences(&before, &once).len(), 1);
    let (_, out, _) = run(&root, &["intake", sheet, "--apply"]);
    assert_eq!(out, "");
    assert_eq!(read(&root), once);
}

#[test]
fn a_sheet_that_may_have_been_cut_off_is_warned_of_before_anything_is_written() {
    let (folder, root) = lab();
    let sheet = folder.path().join("sheet.csv");
    let rows = "shoe,specimen,quantity,value\n\
                lindqvarn-tussock,TS-L,mass,314\n\
                lindqvarn-tussock,TS-L,mass,315\n\
                lindqvarn-tussock,TS-L,mass,315\n\
                lindqvarn-tussock,TS-L,mass,31";
    std::fs::write(&sheet, format!("{rows}6\n")).unwrap();
    let (code, _, said) = run(&root, &["intake", sheet.to_str().unwrap()]);
    assert_eq!((code, said.contains("cut-off")), (0, false), "{said}");
    std::fs::write(&sheet, format!("{rows}6")).unwrap();
    let (code, out, said) = run(&root, &["intake", sheet.to_str().unwrap()]);
    assert_eq!(code, 0, "a warning holds nothing up: {said}");
    assert!(
        out.contains("mass is added to: [314, 315, 315, 316]"),
        "{out}"
    );
    assert!(
        said.contains("warning[cut-off]") && said.contains("sheet.csv:5:32"),
        "{said}"
    );
    assert!(said.contains("0 rows or quantities not taken"), "{said}");
}

#[test]
fn a_shoe_s_file_that_may_have_been_cut_off_stays_so_when_it_is_edited() {
    let (_folder, root) = lab();
    let file = root.join("shoes/lindqvarn-tussock.yaml");
    let before = read(&root);
    std::fs::write(&file, before.trim_end()).unwrap();
    let (code, _, said) = run(&root, &["record", "lindqvarn-tussock", "mass", "316"]);
    assert_eq!(code, 0, "{said}");
    assert_eq!(said.matches("warning[cut-off]").count(), 1, "{said}");
    let after = read(&root);
    assert!(
        !after.ends_with('\n') && after.contains("315, 316]"),
        "{after}"
    );
    // The program does not take for whole what nobody has looked at.
    let (code, _, said) = run(&root, &["proof", "--as-of", "2026-11-28"]);
    assert_eq!(
        (code, said.matches("warning[cut-off]").count()),
        (0, 1),
        "{said}"
    );
}

#[test]
fn other_readings_are_replaced_only_when_asked() {
    let (folder, root) = lab();
    let sheet = folder.path().join("long.csv");
    let rows = "shoe,specimen,quantity,value,unit,trial\n\
                lindqvarn-tussock,TS-L,midfoot-torque,50,in·lbf,2\n\
                lindqvarn-tussock,TS-L,Midfoot torque,5.6,,1\n";
    std::fs::write(&sheet, rows).unwrap();
    let sheet = sheet.to_str().unwrap();
    let before = read(&root);
    let (code, _, said) = run(&root, &["intake", sheet, "--apply"]);
    assert_eq!(code, 1);
    assert!(said.contains("has other readings already"), "{said}");
    assert_eq!(read(&root), before);
    assert_eq!(run(&root, &["intake", sheet, "--apply", "--replace"]).0, 0);
    let once = read(&root);
    assert!(once.contains("midfoot-torque: [5.6, 50 in·lbf]\n"));
    let again = run(&root, &["intake", sheet, "--apply", "--replace"]);
    assert_eq!((again.0, again.1.as_str()), (0, ""));
    assert_eq!(read(&root), once, "the second time changes nothing");
}

#[test]
fn every_row_that_can_not_be_taken_is_named_by_its_line_and_the_rest_is_taken() {
    let (folder, root) = lab();
    let sheet = folder.path().join("long.csv");
    let rows = "Shoe,Specimen,Quantity,Value,Unit,Remark\n\
                lindqvarn-tussock,TS-L,rebound-travel,16.3,mm,same as there\n\
                lindqvarn-tussok,TS-L,mass,314,g,\n\
                lindqvarn-tussock,TS-Q,mass,314,g,\n\
                lindqvarn-tussock,TS-L,mas,314,g,\n\
                lindqvarn-tussock,TS-L,mass,heavy,g,\n\
                lindqvarn-tussock,TS-L,static-drop,6.0,g,\n\
                lindqvarn-tussock,TS-L,loaded-drop,4000,mm,\n\
                lindqvarn-tussock,TS-L,energy-return,70,%,\n";
    std::fs::write(&sheet, rows).unwrap();
    let before = read(&root);
    let (code, _, said) = run(&root, &["intake", sheet.to_str().unwrap()]);
    assert_eq!(code, 1);
    for line in 3..=9 {
        assert!(
            said.contains(&format!("long.csv:{line}:")),
            "{line}: {said}"
        );
    }
    assert!(!said.contains("long.csv:2:"), "{said}");
    // What each column is taken for stands first, and what is left alone.
    for told in [
        "Shoe",
        "Specimen",
        "Quantity",
        "Value",
        "Unit",
        "left alone: Remark",
    ] {
        assert!(said.contains(told), "{told} in {said}");
    }
    assert_eq!(read(&root), before);
}

#[test]
fn a_new_lab_has_schemas_where_its_files_say_they_are() {
    let (_folder, root) = lab();
    for (file, schema) in [
        ("shoes/lindqvarn-tussock.yaml", "../lab/schemas/shoe.json"),
        ("lab/protocol.yaml", "schemas/protocol.json"),
    ] {
        let text = std::fs::read_to_string(root.join(file)).unwrap();
        let first = text.lines().next().unwrap();
        assert!(first.ends_with(&format!("$schema={schema}")), "{first}");
        let at = root.join(file).parent().unwrap().join(schema);
        let schema: serde_json::Value =
            serde_json::from_slice(&std::fs::read(at).unwrap()).unwrap();
        assert!(
            schema["properties"]["schema"]["description"].is_string()
                || schema["properties"]["schema"]["$ref"].is_string()
        );
    }
    assert_eq!(run(&root, &["proof", "--as-of", "2026-11-28"]).0, 0);
}

#[test]
fn completions_and_the_manual_name_every_command() {
    let (folder, root) = lab();
    let (_, help, _) = run(&root, &["--help"]);
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        // What a command does may go on below it, farther in.
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() > 12, "{help}");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let (code, script, _) = run(&root, &["complete", shell]);
        assert_eq!(code, 0);
        for command in &commands {
            assert!(script.contains(command), "{command} for {shell}");
        }
    }
    let pages = folder.path().join("man");
    assert_eq!(run(&root, &["manual", pages.to_str().unwrap()]).0, 0);
    for command in &commands {
        let page = pages.join(format!("solefolio-{command}.1"));
        let page = std::fs::read_to_string(page).unwrap();
        assert!(page.contains(".SH NAME") && page.contains(".SH SYNOPSIS"));
    }
    let page = std::fs::read_to_string(pages.join("solefolio-bench.1")).unwrap();
    assert!(page.contains("pinch points"));
}

#[test]
#[cfg(unix)]
fn bash_takes_its_completions() {
    let (folder, root) = lab();
    let (_, script, _) = run(&root, &["complete", "bash"]);
    let file = folder.path().join("solefolio.bash");
    std::fs::write(&file, script).unwrap();
    let typed = "source \"$1\"; COMP_WORDS=(solefolio rec); COMP_CWORD=1; \
                 _solefolio solefolio rec solefolio; echo \"${COMPREPLY[*]}\"";
    let output = std::process::Command::new("bash")
        .args(["-c", typed, "bash", file.to_str().unwrap()])
        .output()
        .unwrap();
    let completed = String::from_utf8_lossy(&output.stdout);
    assert_eq!(completed.trim(), "record", "{output:?}");
}

#[test]
fn the_readme_s_bench_commands_are_those_there_are() {
    let (_folder, root) = lab();
    let readme = include_str!("../README.md");
    let section = readme
        .split("\n## ")
        .find(|part| part.starts_with("At the bench"));
    let section = section.unwrap();
    for (command, options) in [
        ("sheet", &["--into"][..]),
        ("bench", &["--shoe"]),
        ("record", &["--specimen", "--unit", "--replace"]),
        ("intake", &["--apply", "--replace"]),
        ("preview", &[]),
        ("complete", &[]),
        ("manual", &[]),
    ] {
        assert!(
            section.contains(&format!("`solefolio {command}")),
            "{command}"
        );
        let (code, help, _) = run(&root, &[command, "--help"]);
        assert_eq!(code, 0);
        for option in options {
            assert!(
                section.contains(option) && help.contains(option),
                "{command} {option}"
            );
        }
    }
}
