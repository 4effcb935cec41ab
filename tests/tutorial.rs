//! Runs the tutorial: every block of its Markdown, in order, on a fresh lab.

#[path = "common/tools.rs"]
mod tools;

use pulldown_cmark::{CodeBlockKind, Event, Parser, Tag, TagEnd};
use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tools::{is_there, left_out, typst};

/// One fenced block: what its fence says, and what is in it.
struct Block {
    says: String,
    text: String,
}

fn blocks(markdown: &str) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut open: Option<Block> = None;
    for event in Parser::new(markdown) {
        match event {
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(says))) => {
                open = Some(Block {
                    says: says.to_string(),
                    text: String::new(),
                });
            }
            Event::Text(text) => {
                if let Some(block) = &mut open {
                    block.text.push_str(&text);
                }
            }
            Event::End(TagEnd::CodeBlock) => blocks.extend(open.take()),
            _ => {}
        }
    }
    blocks
}

/// Adds a block right below the first line that is the key alone; a list's items go
/// below the items that are there.
fn add_under(text: &str, key: &str, added: &str) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let at = lines
        .iter()
        .position(|line| line.trim() == format!("{key}:"));
    let mut at = at.unwrap_or_else(|| panic!("`{key}:` is there")) + 1;
    if added.trim_start().starts_with("- ") {
        while lines
            .get(at)
            .is_some_and(|line| line.trim_start().starts_with("- "))
        {
            at += 1;
        }
    }
    let mut out: Vec<&str> = lines[..at].to_vec();
    out.extend(added.lines());
    out.extend(&lines[at..]);
    out.join("\n") + "\n"
}

/// Puts each line of a block in place of the line of the same key at the left edge.
fn put_instead(text: &str, block: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for new in block.lines() {
        let key = new.split_once(':').expect("a key").0;
        let old = lines
            .iter_mut()
            .find(|line| line.starts_with(&format!("{key}:")));
        *old.unwrap_or_else(|| panic!("`{key}:` is there")) = new.to_owned();
    }
    lines.join("\n") + "\n"
}

fn solefolio(root: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_solefolio"));
    command.current_dir(root);
    command
}

/// Runs one line of a shell block; all of them are the program's own commands.
fn run(line: &str, root: &Path) {
    let words: Vec<&str> = line.split_whitespace().collect();
    assert_eq!(words[0], "solefolio", "{line}");
    let output = solefolio(root).args(&words[1..]).output().unwrap();
    assert!(
        output.status.success(),
        "{line}: {}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

/// Does what the tutorial says, in a folder.
fn follow(markdown: &str, folder: &Path) -> PathBuf {
    let lab = folder.join("my-lab");
    let (mut commands, mut edits, mut claims) = (0, 0, 0);
    for block in blocks(markdown) {
        let words: Vec<&str> = block.says.split_whitespace().collect();
        match words[..] {
            ["sh"] => {
                for line in block.text.lines() {
                    run(line, if lab.exists() { &lab } else { folder });
                    commands += 1;
                }
            }
            ["yaml", file, "under", key] => {
                let text = fs::read_to_string(lab.join(file)).unwrap();
                fs::write(lab.join(file), add_under(&text, key, &block.text)).unwrap();
                edits += 1;
            }
            ["yaml", file, "instead"] => {
                let text = fs::read_to_string(lab.join(file)).unwrap();
                fs::write(lab.join(file), put_instead(&text, &block.text)).unwrap();
                edits += 1;
            }
            ["text", file] => {
                let made = fs::read_to_string(lab.join(file)).unwrap();
                // Markup may break a line of text; its words are what counts.
                let plain = made.split_whitespace().collect::<Vec<_>>().join(" ");
                for line in block.text.lines() {
                    assert!(plain.contains(line), "{file} holds `{line}`");
                    claims += 1;
                }
            }
            _ => panic!("a block of the tutorial says `{}`", block.says),
        }
    }
    assert!(
        commands >= 5 && edits >= 8 && claims >= 15,
        "{commands} {edits} {claims}"
    );
    lab
}

#[test]
fn the_tutorial_on_a_new_quantity_does_what_it_says() {
    let markdown = include_str!("../docs/tutorial-new-quantity.md");
    let folder = tempfile::tempdir().unwrap();
    let lab = follow(markdown, folder.path());
    let shoe = fs::read_to_string(lab.join("shoes/ostrell-gantry-2.yaml")).unwrap();
    assert!(shoe.contains("toe-bend: [1.62, 1.58, 1.60]"), "{shoe}");
    bench_asks_for_it(&lab);
    print_shows_it(&lab);
}

/// The bench desk's page names the new quantity.
fn bench_asks_for_it(lab: &Path) {
    let mut bench = solefolio(lab)
        .args(["bench", "--format", "json"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(bench.stdout.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    let address: serde_json::Value = serde_json::from_str(&line).unwrap();
    let address = address["address"].as_str().unwrap().to_owned();
    let rest = address.strip_prefix("http://").unwrap();
    let (host, path) = rest.split_once('/').unwrap();
    let mut stream = TcpStream::connect(host).unwrap();
    write!(
        stream,
        "GET /{path}state HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut page = String::new();
    let read = stream.read_to_string(&mut page);
    bench.kill().unwrap();
    bench.wait().unwrap();
    read.unwrap();
    assert!(
        page.contains("Toe bend torque"),
        "{address}: {}",
        &page[..page.len().min(400)]
    );
}

/// The review's print and the bench sheet, where there is something to set them and
/// something to read them.
fn print_shows_it(lab: &Path) {
    if typst().is_none() || !is_there("pdftotext") {
        return left_out("typst or pdftotext is not installed");
    }
    let read = |file: &Path| {
        let output = Command::new("pdftotext")
            .arg(file)
            .arg("-")
            .output()
            .unwrap();
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    run(
        "solefolio publish --as-of 2026-12-02 --pdf require --only fennick-vale-quarrel-2",
        lab,
    );
    let review = read(&lab.join("out/shoes/fennick-vale-quarrel-2/review.pdf"));
    for part in ["Toe stiffness", "Toe bend torque"] {
        assert!(review.contains(part), "{part} in {review}");
    }
    let output = solefolio(lab)
        .args(["sheet", "--format", "json"])
        .output()
        .unwrap();
    let made: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let sheet = lab.join(made["sheets"][0].as_str().unwrap());
    assert!(read(&sheet).contains("Toe bend torque"));
}
