//! `sheet`: blank bench sheets to print.

use super::desk::{ToolError, UsageError};
use super::record::shoe_file;
use super::{Desk, Exit};
use crate::diagnostics::Problem;
use crate::files::Slug;
use crate::gather::read_templates;
use crate::lab::Lab;
use crate::outputs::qr_code;
use crate::press::{Bindery, Interrupt, PrintJob, Renderer as _, Typesetter};
use crate::serve::{Ground, code_of};
use anyhow::Context as _;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// What the sheet says of the press.
const CAUTION: &str = "At the press: keep fingers clear of pinch points, wear eye protection, and hold or \
clamp a shoe before it is loaded. The laboratory's own rules and the press's manual come first; whoever \
runs it must be trained, and licensed where that is required.";

/// Print blank bench sheets as PDF from the protocol: conditions, trials,
/// instruments, initials. One a shoe, with a code by which `bench` opens the shoe
/// (as letters and as a QR code), or one for any shoe.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The shoes' addresses; without one, a sheet for any shoe
    shoes: Vec<String>,
    /// The folder the sheets are written into; made if it is not there
    #[arg(long, value_name = "DIR", default_value = ".")]
    into: PathBuf,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let problems = |found: Vec<Problem>| {
        desk.show_problems(&root, found);
        Exit::Problems
    };
    let ground = match Ground::read(&root, Desk::today()) {
        Ok(ground) => ground,
        Err(found) => return Ok(problems(found)),
    };
    let typesetter = Typesetter::find().map_err(|missing| ToolError(missing.to_string()))?;
    let bindery = match read_templates(&root).and_then(|own| Bindery::new(own, Some(typesetter))) {
        Ok(bindery) => bindery,
        Err(found) => return Ok(problems(found)),
    };
    let mut jobs = Vec::new();
    if arguments.shoes.is_empty() {
        jobs.push(job("bench-sheet.pdf", &view(&ground, None), &ground));
    }
    for name in &arguments.shoes {
        let (slug, _) = shoe_file(&ground, name)?;
        let title = match ground.shoe(&slug) {
            Some(judged) => judged.shoe.title(),
            None => {
                return Err(UsageError(format!(
                    "{slug} has a mistake in its file; `solefolio proof` names it"
                ))
                .into());
            }
        };
        let view = view(&ground, Some((&slug, title)));
        jobs.push(job(&format!("bench-sheet-{slug}.pdf"), &view, &ground));
    }
    let into = &arguments.into;
    std::fs::create_dir_all(into)
        .with_context(|| format!("can't make the folder {}", into.display()))?;
    let names: Vec<String> = jobs.iter().map(|job| job.name.clone()).collect();
    let mut written = Vec::new();
    for (name, set) in names
        .iter()
        .zip(bindery.prints(jobs, &Interrupt::default()))
    {
        let bytes = set.map_err(|problem| ToolError(problem.to_string()))?;
        let path = into.join(name);
        std::fs::write(&path, bytes).with_context(|| format!("can't write {}", path.display()))?;
        written.push(path.display().to_string());
    }
    if desk.json() {
        desk.print(&format!("{}\n", json!({ "sheets": written })));
    } else {
        desk.print(&format!("{}\n", written.join("\n")));
    }
    Ok(Exit::Done)
}

fn job(name: &str, view: &Value, ground: &Ground) -> PrintJob {
    PrintJob {
        name: name.to_owned(),
        template: "sheet.typ".to_owned(),
        data: view.to_string().into_bytes(),
        date: ground.today.civil(),
    }
}

fn view(ground: &Ground, shoe: Option<(&Slug, String)>) -> Value {
    let lab = &ground.lab;
    let code = shoe.as_ref().map(|(slug, _)| code_of(slug));
    json!({
        "lab": lab.settings.name,
        "invented": lab.settings.invented,
        "paper": lab.settings.paper,
        "protocol_version": lab.protocol.version,
        "title": shoe.map_or_else(|| "Bench sheet".to_owned(), |(_, title)| title),
        "qr": code.as_deref().map(qr_code).unwrap_or_default(),
        "code": code,
        "conditioning": conditioning(lab),
        "quantities": quantities(lab),
        "caution": CAUTION,
    })
}

fn conditioning(lab: &Lab) -> String {
    let wanted = &lab.protocol.conditioning;
    let within = wanted.measure_within.map_or_else(String::new, |minutes| {
        format!("; measure within {minutes} min of leaving it")
    });
    format!(
        "conditioning: {} ± {} °C, {} ± {} %, {} h at least{within}",
        wanted.temperature,
        wanted.temperature_tolerance,
        wanted.humidity,
        wanted.humidity_tolerance,
        wanted.soak
    )
}

fn quantities(lab: &Lab) -> Vec<Value> {
    lab.protocol
        .quantities
        .iter()
        .filter(|(_, spec)| spec.from.is_none())
        .map(|(_, spec)| {
            let instrument = lab.instruments.get(&spec.instrument);
            json!({
                "label": spec.label,
                "unit": spec.unit.to_string(),
                "at": spec.at.map(|at| at.to_string()),
                "instrument": instrument.map_or(spec.instrument.as_str(), |one| &one.label),
                "trials": spec.trials,
                "range": format!("{} to {} {}", spec.plausible.0, spec.plausible.1, spec.unit),
            })
        })
        .collect()
}
