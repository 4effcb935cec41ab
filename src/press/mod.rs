//! From sheets to `out/`: what must be made again, and a whole edition at a time.
//!
//! The only room that writes into `out/`. It takes the sheets of an edition and
//! a renderer, and brings `out/` to exactly those sheets.
//!
//! # What it guarantees
//!
//! - **Early cut-off**: a sheet is rendered only if its view or its templates
//!   changed, and written only if its bytes did (the fingerprints' module says
//!   what is tracked).
//! - **No edition by halves**: killed at any instant, a reader finds every file
//!   of the old edition or its new version, and the next run completes the new
//!   one (the commit's module lists the cases). An error leaves `out/` as it was.
//! - **Incremental is fresh**: after any sequence of edits the files are byte for
//!   byte those a first publish would make.
//! - **A manifest**: `out/SHA256SUMS` holds the sum of every other file of the
//!   edition, so that a copy anywhere can be checked.
//! - **Nothing foreign is touched**: a file it has no record of is neither
//!   removed nor written over, and is named in the report. A file it wrote that
//!   somebody changed is made again while the edition holds it; if the edition
//!   doesn't, it is left to whoever changed it.
//! - **Nothing outside is reached**: symbolic links in `out/` are not followed.
//!
//! # Where it keeps its own
//!
//! In `out/.solefolio/`, on the same file system, because a rename across two is
//! none: `record` (what was written, from what), `stamp` (how all files were
//! seen), `lock`, `drawn` (intervals that cost draws), `answers/` (what outside programs
//! said), and while a publish is under way `staging/` and `journal`. No sheet can lie there, the preview doesn't serve it, and it names nothing that
//! isn't published; leave it out when `out/` is copied to a server. Without it
//! the press can't tell its own files from yours and says so.
//!
//! # What it doesn't do
//!
//! It reads no input, judges no shoe and knows no template; it doesn't decide
//! whether prints are wanted. It doesn't turn a file of one edition into a folder
//! of the next at the same name, nor the reverse: that is in the way, and said.
//!
//! # How it fails
//!
//! With [`Stopped`], which says what to do. Prints that fail are no failure of
//! the publish; they are in the [`Report`].

mod bindery;
mod codec;
mod commit;
mod drawn;
mod fingerprint;
mod folder;
mod interrupt;
mod job;
mod journal;
mod judge;
mod judged;
mod lock;
mod look;
mod manifest;
mod memory;
mod past;
mod picture;
mod plan;
mod printing;
mod program;
mod progress;
mod publish;
mod reason;
mod record;
mod renderer;
mod report;
mod stamp;
pub mod typesetter;

pub use bindery::Bindery;
pub use commit::HIDDEN;
pub use drawn::{remember, remembered};
pub use folder::Trouble;
pub use interrupt::Interrupt;
pub use job::{InTheWay, Job, Obstacle, Only, Options, Stopped};
pub use look::{Inputs, Look, Touched, look};
pub use manifest::{Checked, MANIFEST, Uncheckable, check};
pub use memory::AnswerFiles;
pub use program::{program, standing};
pub use progress::{Bars, Phase, Progress, Silent};
pub use publish::publish;
pub use reason::{Difference, PartChange, Reason, Way};
pub use renderer::{PrintJob, PrintProblem, Renderer};
pub use report::{FailedPrint, Outcome, Prints, Report, Why};
pub use stamp::InputsStamp;
pub use typesetter::Typesetter;
