//! The wish to stop: raised by Ctrl-C, looked at between sheets.
//!
//! Until the journal is on the disk, stopping leaves `out/` as it was. From then
//! on the new edition is put in place to its end, which is a matter of renames.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The exit code of a program that an interrupt ended: 128 and the signal's number.
const INTERRUPTED: i32 = 130;

/// Whether somebody wants to stop. Clones share one wish.
#[derive(Clone, Debug, Default)]
pub struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// A wish that Ctrl-C, a hang-up or a request to end raises. Raised a second
    /// time, the program ends at once, which is as safe as a power cut: the next
    /// run completes or forgets what was begun.
    ///
    /// # Errors
    /// If the system refuses, or something else listens for Ctrl-C already.
    pub fn on_signal() -> Result<Self, ctrlc::Error> {
        let interrupt = Interrupt::default();
        let wish = interrupt.clone();
        ctrlc::set_handler(move || {
            if wish.0.swap(true, Ordering::SeqCst) {
                std::process::exit(INTERRUPTED);
            }
        })?;
        Ok(interrupt)
    }

    /// Raises it.
    pub fn raise(&self) {
        self.0.store(true, Ordering::SeqCst);
    }

    /// The wish as others can watch it, such as a tool's runner.
    pub fn flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.0)
    }

    /// Whether it is raised.
    pub fn is_raised(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
