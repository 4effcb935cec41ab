//! `preview`: the folio on this machine, made again as files change.

use super::desk::Answers;
use super::{Desk, Exit};
use crate::edition::Scope;
use crate::files::Date;
use crate::press::Typesetter;
use crate::serve::{http, preview::Preview};
use clap::Args;

/// Show the folio in a browser on this machine, drafts and held shoes too, each
/// page saying so. When a shoe, rule, phrase or template changes, the page is
/// made again and reloaded where it was scrolled to; a mistake is shown over the
/// page with its file and line until it is mended. Nothing is written.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The edition's date; today without it
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// Only what is out then: the edition as it is published
    #[arg(long)]
    published: bool,
    /// The port; any free one without it
    #[arg(long, default_value_t = 0)]
    port: u16,
    /// Listen on ::1 instead of 127.0.0.1
    #[arg(long)]
    ipv6: bool,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let preview = Preview::new(
        root.clone(),
        as_of,
        if arguments.published {
            Scope::Published
        } else {
            Scope::WithDrafts
        },
        Typesetter::find().ok(),
        desk.outside(&root, Answers::Read),
    );
    let problems = preview.problems();
    if !problems.is_empty() && !desk.json() {
        desk.show_problems(&root, problems);
    }
    let verbose = desk.common.verbose;
    let _watching = preview.watch(move |took| {
        if verbose {
            anstream::eprintln!("made again in {} ms", took.as_millis());
        }
    })?;
    let listening = http::listen(arguments.port, arguments.ipv6)?;
    let address = format!("http://{}/", listening.address);
    if desk.json() {
        desk.print(&format!("{}\n", serde_json::json!({ "address": address })));
    } else {
        desk.print(&format!("{address}\n"));
        desk.say("open this address in a browser on this machine; Ctrl-C ends the preview");
    }
    listening.serve(preview)?;
    Ok(Exit::Done)
}
