//! `begin`: lays a new lab with the demo's files.

use super::desk::UsageError;
use super::schema::FILES;
use super::{Desk, Exit};
use anyhow::Context as _;
use clap::Args;
use include_dir::{Dir, DirEntry, include_dir};
use std::path::{Path, PathBuf};

/// What the demo lab has published is not what a new one has.
const PUBLISHED: &str = "editions";

static LAB: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/lab");
static SHOES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/shoes");

const IGNORE: &str = "# The folio is made by `solefolio publish`.\n*\n!.gitignore\n";

/// Lay a new lab in a folder: the invented demo lab's files, to be replaced by
/// your own one by one. Nothing that is there is overwritten.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The folder; made if it is not there
    dir: PathBuf,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let dir = &arguments.dir;
    for name in ["lab", "shoes", "out"] {
        let path = dir.join(name);
        if path.symlink_metadata().is_ok() {
            return Err(UsageError(format!(
                "{} is there already; `begin` lays a lab only where none is",
                path.display()
            ))
            .into());
        }
    }
    let files = lay(&LAB, &dir.join("lab"), "schemas/")?
        + lay(&SHOES, &dir.join("shoes"), "../lab/schemas/")?;
    for name in FILES.iter().filter(|named| named.is_file) {
        let text = serde_json::to_string_pretty(&name.schema())?;
        let file = dir.join(format!("lab/schemas/{}.json", name.word));
        write(&file, format!("{text}\n").as_bytes())?;
    }
    // What was typed at the bench and is not saved belongs to one machine.
    write(&dir.join("lab/.gitignore"), b".bench-journal.*\n")?;
    write(&dir.join("out/.gitignore"), IGNORE.as_bytes())?;
    desk.say(format_args!(
        "laid {files} files of the invented demo lab in {0}\n\
         next: solefolio publish --root {0}, then open {0}/out/index.html",
        dir.display()
    ));
    Ok(Exit::Done)
}

/// The first line of a YAML file, by which editors with a YAML language server find
/// the schema: keys are completed, explained and checked while they are typed.
fn schema_line(name: &str, schemas: &str) -> Option<String> {
    let (stem, ending) = name.rsplit_once('.')?;
    if ending != "yaml" {
        return None;
    }
    // From the shoes' folders the way leads through the lab's.
    let word = if schemas.ends_with("lab/schemas/") {
        "shoe"
    } else {
        // An earlier rule set is called `rules-3.yaml`.
        let kind = stem.split_once('-').map_or(stem, |(kind, _)| kind);
        let mut files = FILES.iter().filter(|named| named.is_file);
        files.find(|named| named.word == kind)?.word
    };
    Some(format!(
        "# yaml-language-server: $schema={schemas}{word}.json\n"
    ))
}

/// Writes the files of an embedded folder, all those below it too; `schemas` is the
/// way from it to the schemas.
fn lay(from: &Dir<'_>, to: &Path, schemas: &str) -> anyhow::Result<usize> {
    let mut files = 0;
    for entry in from.entries() {
        match entry {
            DirEntry::Dir(below) => {
                let name = below
                    .path()
                    .file_name()
                    .context("an embedded folder has a name")?;
                if name == PUBLISHED {
                    continue;
                }
                files += lay(below, &to.join(name), &format!("../{schemas}"))?;
            }
            DirEntry::File(file) => {
                let name = file
                    .path()
                    .file_name()
                    .context("an embedded file has a name")?;
                // What the demo lab has published is not what the new one has.
                if Path::new(name)
                    .file_stem()
                    .is_some_and(|stem| stem == "ledger")
                {
                    continue;
                }
                let line = schema_line(&name.to_string_lossy(), schemas).unwrap_or_default();
                let bytes = [line.as_bytes(), file.contents()].concat();
                write(&to.join(name), &bytes)?;
                files += 1;
            }
        }
    }
    Ok(files)
}

fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let folder = path.parent().context("a file lies in a folder")?;
    std::fs::create_dir_all(folder)
        .with_context(|| format!("can't make the folder {}", folder.display()))?;
    std::fs::write(path, bytes).with_context(|| format!("can't write {}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_leads_to_its_own_schema() {
        for (name, schemas, expected) in [
            ("rules.yaml", "schemas/", Some("schemas/rules.json")),
            ("rules-3.yaml", "../schemas/", Some("../schemas/rules.json")),
            (
                "words.yaml",
                "../../schemas/",
                Some("../../schemas/words.json"),
            ),
            (
                "phrases.yaml",
                "../../schemas/",
                Some("../../schemas/phrases.json"),
            ),
            (
                "lab-rat-2.yaml",
                "../lab/schemas/",
                Some("../lab/schemas/shoe.json"),
            ),
            ("control.csv", "schemas/", None),
        ] {
            let line = expected.map(|way| format!("# yaml-language-server: $schema={way}\n"));
            assert_eq!(schema_line(name, schemas), line, "{name}");
        }
    }
}
