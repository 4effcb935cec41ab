//! How far a run is: phases with counts, for a terminal or for nobody.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use std::fmt;
use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::Duration;

/// A part of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Phase {
    /// The lab's files are read; counted in files.
    Reading,
    /// Findings are worked out; counted in shoes.
    Judging,
    /// Views are made, and pages where they differ; counted in sheets.
    Rendering,
    /// PDFs are set; counted in prints.
    Printing,
    /// The new edition is put in place; counted in files.
    Committing,
}

impl Phase {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Phase::Reading => "reading",
            Phase::Judging => "judging",
            Phase::Rendering => "rendering",
            Phase::Printing => "printing",
            Phase::Committing => "committing",
        }
    }

    fn counted_in(self) -> &'static str {
        match self {
            Phase::Reading | Phase::Committing => "files",
            Phase::Judging => "shoes",
            Phase::Rendering => "sheets",
            Phase::Printing => "prints",
        }
    }
}

impl fmt::Display for Phase {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Hears how far a run is. Called from many threads.
pub trait Progress: Sync {
    /// A phase begins, with so many things to do.
    fn begin(&self, phase: Phase, total: u64);
    /// So many more are done.
    fn advance(&self, phase: Phase, by: u64);
    /// The phase is over.
    fn end(&self, phase: Phase);
    /// Something a person waiting should know, such as what is waited for.
    fn say(&self, message: &str);
}

/// Nobody listens.
#[derive(Clone, Copy, Debug, Default)]
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: Phase, _: u64) {}
    fn advance(&self, _: Phase, _: u64) {}
    fn end(&self, _: Phase) {}
    fn say(&self, _: &str) {}
}

/// A bar on standard error: phase, count, rate and time left. Draws only on a
/// terminal; what it says is said anywhere.
#[derive(Debug)]
pub struct Bars {
    bar: Mutex<Option<ProgressBar>>,
    terminal: bool,
}

impl Bars {
    /// Bars, if standard error is a terminal.
    pub fn new() -> Self {
        Bars {
            bar: Mutex::new(None),
            terminal: std::io::stderr().is_terminal(),
        }
    }

    fn bar(&self) -> Option<ProgressBar> {
        // A thread that panicked with the lock held only held a handle.
        let bar = self.bar.lock();
        bar.unwrap_or_else(std::sync::PoisonError::into_inner)
            .clone()
    }

    fn set(&self, new: Option<ProgressBar>) {
        let mut bar = self
            .bar
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(old) = bar.take() {
            old.finish_and_clear();
        }
        *bar = new;
    }
}

impl Default for Bars {
    fn default() -> Self {
        Bars::new()
    }
}

impl Progress for Bars {
    fn begin(&self, phase: Phase, total: u64) {
        if !self.terminal {
            return;
        }
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr());
        let template = format!(
            "{{msg:>10}} [{{bar:30}}] {{pos}}/{{len}} {}, {{rate}}, {{eta}} left",
            phase.counted_in()
        );
        if let Ok(style) = ProgressStyle::with_template(&template) {
            let rate = |state: &ProgressState, to: &mut dyn fmt::Write| {
                // A line that can't be drawn is no harm.
                let _ = write!(to, "{:.0} a second", state.per_sec());
            };
            bar.set_style(style.progress_chars("=> ").with_key("rate", rate));
        }
        bar.set_message(phase.name());
        bar.enable_steady_tick(Duration::from_millis(100));
        self.set(Some(bar));
    }

    fn advance(&self, _: Phase, by: u64) {
        if !self.terminal {
            return;
        }
        if let Some(bar) = self.bar() {
            bar.inc(by);
        }
    }

    fn end(&self, _: Phase) {
        self.set(None);
    }

    fn say(&self, message: &str) {
        match self.bar() {
            Some(bar) => bar.suspend(|| anstream::eprintln!("{message}")),
            None => anstream::eprintln!("{message}"),
        }
    }
}
