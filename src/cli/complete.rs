//! `complete` and `manual`: completions for shells and pages for `man`, both made
//! from the commands themselves.

use super::{Cli, Desk, Exit};
use anyhow::Context as _;
use clap::{Args, CommandFactory as _};
use std::path::PathBuf;

/// Print completions for a shell on standard output, to be put where the shell
/// looks for them, such as
/// `solefolio complete bash > ~/.local/share/bash-completion/completions/solefolio`.
#[derive(Debug, Args)]
pub struct Shell {
    /// Which shell
    #[arg(value_enum)]
    shell: clap_complete::Shell,
}

/// Write the manual's pages, one a command, such as
/// `solefolio manual ~/.local/share/man/man1`, then `man solefolio-record`.
#[derive(Debug, Args)]
pub struct Manual {
    /// The folder; made if it is not there
    dir: PathBuf,
}

pub fn shell(desk: &Desk, arguments: &Shell) -> Exit {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut Cli::command(),
        "solefolio",
        &mut script,
    );
    desk.print(&String::from_utf8_lossy(&script));
    Exit::Done
}

pub fn manual(desk: &Desk, arguments: &Manual) -> anyhow::Result<Exit> {
    let dir = &arguments.dir;
    std::fs::create_dir_all(dir)
        .with_context(|| format!("can't make the folder {}", dir.display()))?;
    clap_mangen::generate_to(Cli::command(), dir)
        .with_context(|| format!("can't write the manual into {}", dir.display()))?;
    desk.say(format_args!(
        "wrote the manual's pages into {}",
        dir.display()
    ));
    Ok(Exit::Done)
}
