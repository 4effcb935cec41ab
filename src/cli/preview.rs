use super::{Desk, Exit};
#[derive(Debug, clap::Args)]
pub struct Arguments {}
pub fn run(_: &Desk, _: &Arguments) -> anyhow::Result<Exit> {
    Ok(Exit::Usage)
}
