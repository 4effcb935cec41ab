//! `bench`: the bench desk, a local page.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::serve::bench::Bench;
use crate::serve::http;
use clap::Args;
use std::sync::Arc;

/// Open the bench desk: a page on this machine to type readings in and see at
/// once their mean, spread, band and what is odd. Everything typed survives a
/// crash; saving changes nothing in a shoe's file but its readings. Only this
/// machine can reach it, by the address that is printed.
#[derive(Debug, Args)]
#[command(
    after_help = "At the press: keep fingers clear of pinch points and wear eye \
protection. The laboratory's own rules and the press's manual come first; whoever runs \
it must be trained, and licensed where that is required."
)]
pub struct Arguments {
    /// The port; any free one without it
    #[arg(long, default_value_t = 0)]
    port: u16,
    /// Listen on ::1 instead of 127.0.0.1
    #[arg(long)]
    ipv6: bool,
    /// Open this shoe: its address, or the code on its bench sheet
    #[arg(long, value_name = "SHOE")]
    shoe: Option<String>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let bench = match Bench::open(&root, Desk::today)? {
        Ok(bench) => bench,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let shoe = match &arguments.shoe {
        None => String::new(),
        Some(name) => {
            let found = bench.find(name);
            let slug = found.map_err(|unknown| UsageError(unknown.to_string()))?;
            format!("#{slug}")
        }
    };
    let listening = http::listen(arguments.port, arguments.ipv6)?;
    let address = format!("http://{}{}{shoe}", listening.address, bench.path());
    if desk.json() {
        desk.print(&format!("{}\n", serde_json::json!({ "address": address })));
    } else {
        desk.print(&format!("{address}\n"));
        desk.say("open this address in a browser on this machine; Ctrl-C ends the bench");
    }
    listening.serve(Arc::new(bench))?;
    Ok(Exit::Done)
}
