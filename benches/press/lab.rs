//! The lab that is measured, and the programs that run on it.

use crate::synthesise;
use anyhow::{Context, Result, ensure};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// A later date than any invented shoe comes out.
const AS_OF: &str = "2026-11-26";

pub struct Lab {
    folder: tempfile::TempDir,
    program: PathBuf,
}

/// A change of one shoe's file.
#[derive(Clone, Copy, Debug)]
pub enum Edit {
    /// The editor's text: the shoe's own page shows it.
    Review,
    /// The shoe in one sentence: lists show it too.
    Summary,
    /// A reading: findings, standings and tables change.
    Reading,
}

impl Edit {
    pub fn name(self) -> &'static str {
        match self {
            Edit::Review => "one shoe's text",
            Edit::Summary => "one shoe's summary",
            Edit::Reading => "one shoe's reading",
        }
    }
}

/// What a publish took, and what it said.
pub struct Published {
    pub seconds: f64,
    pub kilobytes: u64,
    report: Value,
}

impl Published {
    /// How many files were written.
    pub fn made(&self) -> u64 {
        self.report["made"].as_u64().expect("a count")
    }

    pub fn expect_unchanged(&self) {
        assert_eq!((self.made(), &self.report["same"]), (0, &0.into()));
        assert!(self.report["unchanged"].as_u64() > Some(0));
    }
}

impl Lab {
    pub fn make(at: &Path, shoes: u32, program: &Path) -> Result<Self> {
        let folder = tempfile::Builder::new()
            .prefix("press-bench")
            .tempdir_in(at)?;
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
        synthesise::write_lab(&source, &folder.path().join("lab"), shoes, 7)?;
        Ok(Lab {
            folder,
            program: program.canonicalize()?,
        })
    }

    fn root(&self) -> PathBuf {
        self.folder.path().join("lab")
    }

    fn out(&self) -> PathBuf {
        self.root().join("out")
    }

    pub fn clear(&self) -> Result<()> {
        remove(&self.out())
    }

    pub fn publish(&self) -> Result<Published> {
        let told = self.folder.path().join("time");
        let begun = Instant::now();
        let output = Command::new("/usr/bin/time")
            .args(["-f", "%M", "-o"])
            .arg(&told)
            .arg(&self.program)
            .args(["publish", "--pdf", "never", "--format", "json"])
            .args(["--as-of", AS_OF, "--root"])
            .arg(self.root())
            .output()
            .context("/usr/bin/time runs the program")?;
        let seconds = begun.elapsed().as_secs_f64();
        ensure!(
            output.status.success(),
            "{}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        );
        let kilobytes = fs::read_to_string(&told)?.trim().parse()?;
        let report = serde_json::from_slice(&output.stdout)?;
        Ok(Published {
            seconds,
            kilobytes,
            report,
        })
    }

    /// Checks the number of files and, by `sha256sum`, the bytes of each against
    /// the folio's own manifest, which is handed back.
    pub fn check_folio(&self) -> Result<Vec<u8>> {
        let shoes = self.files()?.len();
        let count = |name: &str| -> usize {
            walkdir::WalkDir::new(self.out().join("shoes"))
                .into_iter()
                .filter_map(Result::ok)
                .filter(|entry| entry.file_name() == name)
                .count()
        };
        // One folder a shoe, and the data of each.
        ensure!(count("index.html") == shoes, "a page a shoe");
        ensure!(count("data.json") == shoes, "a data file a shoe");
        let checked = Command::new("sha256sum")
            .args(["--check", "--quiet", "--strict", "SHA256SUMS"])
            .current_dir(self.out())
            .output()?;
        ensure!(
            checked.status.success(),
            "{}",
            String::from_utf8_lossy(&checked.stdout)
        );
        Ok(fs::read(self.out().join("SHA256SUMS"))?)
    }

    /// Checks that what edits led to is what a first publish makes.
    pub fn check_incremental(&self) -> Result<()> {
        let after = self.check_folio()?;
        self.clear()?;
        self.publish()?;
        ensure!(self.check_folio()? == after, "incremental is fresh");
        Ok(())
    }

    /// The folio's files without the press's own, and their bytes.
    pub fn folio_size(&self) -> Result<(usize, u64)> {
        let (mut files, mut bytes) = (0, 0);
        for entry in walkdir::WalkDir::new(self.out())
            .into_iter()
            .filter_entry(|entry| entry.file_name() != ".solefolio")
        {
            let entry = entry?;
            if entry.file_type().is_file() {
                files += 1;
                bytes += entry.metadata()?.len();
            }
        }
        Ok((files, bytes))
    }

    /// Copies the finished folder without the press's own, and says how long.
    pub fn copy(&self) -> Result<f64> {
        let copy = self.folder.path().join("copy");
        remove(&copy)?;
        fs::create_dir(&copy)?;
        let begun = Instant::now();
        let done = Command::new("sh")
            .args(["-c", "cp -r \"$0\"/* \"$1\""])
            .arg(self.out())
            .arg(&copy)
            .status()?;
        let seconds = begun.elapsed().as_secs_f64();
        ensure!(done.success(), "cp copies");
        remove(&copy)?;
        Ok(seconds)
    }

    fn git(&self, arguments: &[&str]) -> Result<String> {
        let output = Command::new("git")
            .args(["-c", "user.name=bench", "-c", "user.email=bench@invalid"])
            .args(["-c", "core.autocrlf=false", "-c", "gc.auto=0"])
            .args(arguments)
            .current_dir(self.root())
            .output()?;
        ensure!(
            output.status.success(),
            "git {arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        Ok(String::from_utf8(output.stdout)?)
    }

    /// Commits the lab and the folio.
    pub fn keep_in_git(&self) -> Result<()> {
        self.git(&["init", "--quiet"])?;
        self.git(&["add", "--all"])?;
        self.git(&["commit", "--quiet", "--message", "all"])?;
        Ok(())
    }

    pub fn git_status(&self) -> Result<f64> {
        let begun = Instant::now();
        let said = self.git(&["status", "--porcelain"])?;
        let seconds = begun.elapsed().as_secs_f64();
        ensure!(said.is_empty(), "git sees no change: {said}");
        Ok(seconds)
    }

    /// The files of the shoes that are out; a few are drafts.
    fn files(&self) -> Result<Vec<PathBuf>> {
        let mut files = Vec::new();
        for entry in walkdir::WalkDir::new(self.root().join("shoes")) {
            let path = entry?.into_path();
            if path.extension().is_some_and(|end| end == "yaml")
                && fs::read_to_string(&path)?.contains("\npublish: ")
            {
                files.push(path);
            }
        }
        files.sort();
        Ok(files)
    }

    /// A shoe in the middle of the catalogue.
    fn shoe(&self) -> Result<PathBuf> {
        let files = self.files()?;
        files.get(files.len() / 2).cloned().context("a shoe")
    }

    pub fn edit(&self, edit: Edit, run: usize) -> Result<()> {
        let path = self.shoe()?;
        let text = fs::read_to_string(&path)?;
        let lines = text.lines().filter(|line| match edit {
            Edit::Review => !line.starts_with("review:"),
            Edit::Summary => !line.starts_with("summary:"),
            Edit::Reading => true,
        });
        let mut text: String = lines.map(|line| format!("{line}\n")).collect();
        match edit {
            Edit::Review => text += &format!("review: It was looked at {run} times.\n"),
            Edit::Summary => text += &format!("summary: A shoe that was edited {run} times.\n"),
            Edit::Reading => text = reweighed(&text, run)?,
        }
        fs::write(path, text)?;
        Ok(())
    }

    /// Moves a point of the torsion scale.
    pub fn move_threshold(&self, run: usize) -> Result<()> {
        let path = self.root().join("lab/rules.yaml");
        let text = fs::read_to_string(&path)?;
        let moved = |tenths: usize| format!("[45.{tenths}, 60]");
        let from = if run == 0 {
            "[45, 60]".to_owned()
        } else {
            moved(run)
        };
        ensure!(text.contains(&from), "the rule set has the point {from}");
        fs::write(path, text.replacen(&from, &moved(run + 1), 1))?;
        Ok(())
    }
}

/// A gram more in the first reading of the mass, or a gram less again.
fn reweighed(text: &str, run: usize) -> Result<String> {
    let at = text.find("mass: [").context("a mass")? + "mass: [".len();
    let end = at + text[at..].find([',', ']']).context("a list")?;
    let grams: f64 = text[at..end].trim().parse()?;
    let grams = if run.is_multiple_of(2) {
        grams + 1.0
    } else {
        grams - 1.0
    };
    Ok(format!("{}{grams}{}", &text[..at], &text[end..]))
}

fn remove(folder: &Path) -> Result<()> {
    match fs::remove_dir_all(folder) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error.into()),
        _ => Ok(()),
    }
}
