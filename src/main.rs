//! The command line of Solefolio: parse, dispatch, exit code; nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    solefolio::cli::run().into()
}
