//! The command line of Solefolio: parse, dispatch, exit code; nothing else.

use std::process::ExitCode;

/// Views are many small values made on many threads: the system's allocator took
/// a third of a publish.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    solefolio::cli::run().into()
}
