//! Running tests against each mutant, and what came of it.

use crate::tree::{cargo, copy_of};
use crate::weave::Mutant;
use anyhow::{Context, ensure};
use clap::Args;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

#[derive(Args)]
pub struct Arguments {
    /// Test programs, in the order in which they are asked: `lib` or a name of tests/,
    /// with `:FILTER` only the tests whose name holds it
    #[arg(required = true)]
    programs: Vec<String>,
    /// How many mutants are judged at a time
    #[arg(long, default_value_t = 2)]
    jobs: usize,
    /// Only mutants of files whose name begins so, such as src/press
    #[arg(long, default_value = "src/")]
    within: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Outcome {
    /// A test failed.
    Caught,
    /// It took far longer than without the mutant.
    Hung,
    /// All tests passed.
    Alive,
    /// The tests do not come past its place.
    Unreached,
}

#[derive(Serialize, Deserialize)]
struct Verdict {
    id: usize,
    program: String,
    outcome: Outcome,
}

struct Program {
    name: String,
    exe: PathBuf,
    filter: Option<String>,
    reached: BTreeSet<usize>,
    takes: Duration,
}

pub fn run(ground: &Path, arguments: &Arguments) -> anyhow::Result<()> {
    let mutants = mutants(ground)?;
    let mut verdicts = verdicts(ground)?;
    let mut programs = Vec::new();
    let exes = build(ground, &arguments.programs)?;
    for asked in &arguments.programs {
        let (name, filter) = parted(asked);
        let exe = exes
            .get(name)
            .with_context(|| format!("cargo built no {name}"))?;
        programs.push(first_run(ground, asked, exe, filter)?);
    }
    let out = fs::File::options()
        .create(true)
        .append(true)
        .open(ground.join("verdicts.jsonl"))?;
    let out = Mutex::new(out);
    let put = |id: usize, program: &Program, outcome: Outcome| -> anyhow::Result<()> {
        let verdict = Verdict {
            id,
            program: program.name.clone(),
            outcome,
        };
        let line = serde_json::to_string(&verdict)? + "\n";
        out.lock()
            .expect("no holder panics")
            .write_all(line.as_bytes())?;
        Ok(())
    };
    let wanted: Vec<&Mutant> = mutants
        .iter()
        .filter(|mutant| mutant.file.starts_with(&arguments.within))
        .collect();
    let at = AtomicUsize::new(0);
    let judge_one =
        |mutant: &Mutant, known: &BTreeMap<String, Outcome>, job: usize| -> anyhow::Result<()> {
            if known
                .values()
                .any(|outcome| matches!(outcome, Outcome::Caught | Outcome::Hung))
            {
                return Ok(());
            }
            for program in programs
                .iter()
                .filter(|program| !known.contains_key(&program.name))
            {
                let outcome = if program.reached.contains(&mutant.place) {
                    let most = program.takes * 6 + Duration::from_secs(15);
                    one_run(
                        ground,
                        program,
                        &[("MUTANT", mutant.id.to_string())],
                        most,
                        job,
                    )?
                } else {
                    Outcome::Unreached
                };
                put(mutant.id, program, outcome)?;
                if matches!(outcome, Outcome::Caught | Outcome::Hung) {
                    break;
                }
            }
            Ok(())
        };
    let known: Vec<BTreeMap<String, Outcome>> = wanted
        .iter()
        .map(|mutant| verdicts.remove(&mutant.id).unwrap_or_default())
        .collect();
    std::thread::scope(|scope| {
        let jobs: Vec<_> = (0..arguments.jobs)
            .map(|job| {
                let (at, wanted, known, judge_one) = (&at, &wanted, &known, &judge_one);
                scope.spawn(move || -> anyhow::Result<()> {
                    loop {
                        let next = at.fetch_add(1, Ordering::Relaxed);
                        let Some(mutant) = wanted.get(next) else {
                            return Ok(());
                        };
                        judge_one(mutant, &known[next], job)?;
                        if next % 50 == 49 {
                            println!("{} of {}", next + 1, wanted.len());
                        }
                    }
                })
            })
            .collect();
        jobs.into_iter()
            .try_for_each(|job| job.join().expect("a job does not panic"))
    })?;
    report(ground, &[])
}

fn parted(asked: &str) -> (&str, Option<&str>) {
    asked
        .split_once(':')
        .map_or((asked, None), |(name, filter)| (name, Some(filter)))
}

fn mutants(ground: &Path) -> anyhow::Result<Vec<Mutant>> {
    let text = fs::read_to_string(ground.join("mutants.json")).context("nothing is woven yet")?;
    Ok(serde_json::from_str(&text)?)
}

fn verdicts(ground: &Path) -> anyhow::Result<BTreeMap<usize, BTreeMap<String, Outcome>>> {
    let mut all: BTreeMap<usize, BTreeMap<String, Outcome>> = BTreeMap::new();
    let text = fs::read_to_string(ground.join("verdicts.jsonl")).unwrap_or_default();
    for line in text.lines() {
        let verdict: Verdict = serde_json::from_str(line)?;
        all.entry(verdict.id)
            .or_default()
            .insert(verdict.program, verdict.outcome);
    }
    Ok(all)
}

/// The programs' files by name, built anew if need be.
fn build(ground: &Path, programs: &[String]) -> anyhow::Result<BTreeMap<String, PathBuf>> {
    let mut command = cargo(ground);
    command.args([
        "test",
        "--no-run",
        "--message-format=json-render-diagnostics",
    ]);
    for name in programs
        .iter()
        .map(|asked| parted(asked).0)
        .collect::<BTreeSet<_>>()
    {
        if name == "lib" {
            command.arg("--lib");
        } else {
            command.args(["--test", name]);
        }
    }
    let output = command.stderr(Stdio::inherit()).output()?;
    ensure!(output.status.success(), "the woven tests do not build");
    let mut exes = BTreeMap::new();
    for line in String::from_utf8_lossy(&output.stdout).lines() {
        let told: Value = serde_json::from_str(line)?;
        if let Some(exe) = told["executable"]
            .as_str()
            .filter(|_| told["profile"]["test"] == true)
        {
            let kind = told["target"]["kind"][0].as_str().unwrap_or_default();
            let name = if kind == "lib" {
                "lib"
            } else {
                told["target"]["name"].as_str().unwrap_or_default()
            };
            exes.insert(name.to_owned(), exe.into());
        }
    }
    Ok(exes)
}

/// Without a mutant: what it reaches, how long it takes, and that it passes.
fn first_run(
    ground: &Path,
    asked: &str,
    exe: &Path,
    filter: Option<&str>,
) -> anyhow::Result<Program> {
    let mut program = Program {
        name: asked.to_owned(),
        exe: exe.to_owned(),
        filter: filter.map(ToOwned::to_owned),
        reached: BTreeSet::new(),
        takes: Duration::ZERO,
    };
    let path = ground.join("reached");
    let _ = fs::remove_file(&path);
    let start = Instant::now();
    let hour = Duration::from_secs(3600);
    let environment = [("MUTANT_REACHED", path.display().to_string())];
    let outcome = one_run(ground, &program, &environment, hour, 0)?;
    program.takes = start.elapsed();
    ensure!(outcome == Outcome::Alive, "{asked} fails without a mutant");
    let text = fs::read_to_string(&path).unwrap_or_default();
    program.reached = text.lines().filter_map(|line| line.parse().ok()).collect();
    println!(
        "{asked}: {} places in {:.1} s",
        program.reached.len(),
        program.takes.as_secs_f64()
    );
    Ok(program)
}

/// One run of a program, ended at the first test that fails.
fn one_run(
    ground: &Path,
    program: &Program,
    environment: &[(&str, String)],
    most: Duration,
    job: usize,
) -> anyhow::Result<Outcome> {
    let scratch = ground.join(format!("scratch-{job}"));
    let _ = fs::remove_dir_all(&scratch);
    fs::create_dir_all(&scratch)?;
    let mut command = Command::new(&program.exe);
    command
        .args(program.filter.as_deref())
        .current_dir(copy_of(ground))
        .env("TMPDIR", &scratch)
        .env("CARGO_MANIFEST_DIR", copy_of(ground))
        .envs(environment.iter().cloned())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .process_group(0);
    let mut child = command.spawn().with_context(|| program.name.clone())?;
    let group = format!("-{}", child.id());
    let kill = || {
        Command::new("kill")
            .args(["-KILL", "--", &group])
            .stderr(Stdio::null())
            .status()
    };
    let lines = BufReader::new(child.stdout.take().expect("it is piped")).lines();
    let reader = std::thread::spawn(move || {
        lines
            .map_while(Result::ok)
            .any(|line| line.contains(" FAILED") || line.contains("panicked"))
    });
    let start = Instant::now();
    while !reader.is_finished() && start.elapsed() < most {
        std::thread::sleep(Duration::from_millis(10));
    }
    if !reader.is_finished() {
        kill()?;
        child.wait()?;
        return Ok(Outcome::Hung);
    }
    let failed = reader.join().unwrap_or(true);
    if failed {
        kill()?;
    }
    let passed = child.wait()?.success() && !failed;
    kill()?;
    Ok(if passed {
        Outcome::Alive
    } else {
        Outcome::Caught
    })
}

pub fn report(ground: &Path, rooms: &[String]) -> anyhow::Result<()> {
    let verdicts = verdicts(ground)?;
    let mut files: BTreeMap<&str, [usize; 3]> = BTreeMap::new();
    let mutants = mutants(ground)?;
    let wanted = |mutant: &&Mutant| {
        let name = mutant.file.trim_start_matches("src/");
        rooms.is_empty() || rooms.iter().any(|room| name.starts_with(room))
    };
    for mutant in mutants.iter().filter(wanted) {
        let outcomes: Vec<Outcome> = verdicts
            .get(&mutant.id)
            .map_or_else(Vec::new, |told| told.values().copied().collect());
        let caught = outcomes
            .iter()
            .any(|one| matches!(one, Outcome::Caught | Outcome::Hung));
        let alive = !caught && outcomes.contains(&Outcome::Alive);
        let row = files.entry(&mutant.file).or_default();
        row[if caught {
            0
        } else if alive {
            1
        } else {
            2
        }] += 1;
        if alive {
            let Mutant {
                id,
                file,
                line,
                column,
                function,
                what,
                ..
            } = mutant;
            println!("{id} {file}:{line}:{column} {function}: {what}");
        }
    }
    println!(
        "\n{:<40} {:>7} {:>7} {:>9}",
        "file", "caught", "alive", "not run"
    );
    let mut all = [0; 3];
    for (file, row) in &files {
        println!("{file:<40} {:>7} {:>7} {:>9}", row[0], row[1], row[2]);
        for (sum, one) in all.iter_mut().zip(row) {
            *sum += one;
        }
    }
    println!("{:<40} {:>7} {:>7} {:>9}", "all", all[0], all[1], all[2]);
    Ok(())
}
