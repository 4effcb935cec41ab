//! What is served to people at work: the bench desk and the preview.
//!
//! What it is for: answering a reading at once, keeping everything that was
//! typed, writing it into shoes' files without disturbing them, and showing the
//! folio while it is worked on.
//!
//! What it guarantees:
//! - servers listen on loopback only, and answer only requests that name them by
//!   a loopback host and come from their own pages ([`http`]);
//! - a shoe's file is replaced as a whole or not at all, and never over a change
//!   that was made meanwhile ([`Writer`]);
//! - what the bench desk has accepted is on the disk before it says so
//!   ([`journal`]);
//! - every figure comes from the rooms that publish it ([`Answer`]).
//!
//! What it doesn't do: publish, or let anybody in from another machine.
//!
//! How it fails: with problems of the lab's files, or errors that say what to do.

mod answer;
pub mod bench;
mod ground;
pub mod http;
pub mod journal;
pub mod preview;
mod writing;

pub(crate) use answer::reading;
pub use answer::{Answer, FindingAnswer, FlagAnswer, TrialAnswer, answer};
pub use bench::code_of;
pub use ground::Ground;
pub use writing::{NotWritten, Writer};
