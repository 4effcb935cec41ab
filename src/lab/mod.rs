//! What the laboratory fixes: its settings, protocol, instruments, rule set and
//! phrases, each read from one file of `lab/` and checked against the others.

mod check;
mod control;
#[cfg(test)]
pub(crate) mod fixture;
mod instruments;
mod language;
mod phrases;
mod programs;
mod protocol;
mod resolve;
mod rule_set;
mod settings;
mod size;
mod specification;

pub use check::{MAIL_LIMIT, QUANTITIES_LIMIT};
pub use control::{CONTROL, ControlReadings, STUDY, StudyReadings, known_on};
pub use instruments::{Calibration, Instrument, Instruments};
pub use language::{DecimalSign, FormsFile, LANGUAGES, LabelsInside, TextFile, Tongue, WordsFile};
pub use phrases::{AdvicePhrase, AdviceWeight, Cautions, FitWords, Guide, Phrase, PhrasesFile};
pub use programs::{MadeFor, OnFailure, OutsideProgram, ProgramLimits, Purpose, program_path};
pub use protocol::{
    ConditioningFile, CurveFigure, CurveFile, Differs, FromCurve, ProtocolFile, QuantityFile,
    Repeatability, Size, SizeSystem,
};
pub use resolve::{INSTRUMENTS, PHRASES, PROTOCOL, RULES, SETTINGS};
pub use rule_set::{RuleSetFile, RuleSetVersion};
pub use settings::{Licence, Paper, SchemaVersion, Settings, UnitsOrder};
pub use specification::{Conditioning, CurveSpec, Protocol, QuantitySpec, Spread};

use crate::diagnostics::{Collector, Problem};
use crate::files::{Key, Map};
use crate::words::Language;
use std::sync::Arc;

/// Everything a laboratory fixes, except its rule set.
#[derive(Clone, Debug)]
pub struct Lab {
    /// Who it is and how it publishes.
    pub settings: Settings,
    /// How each quantity is measured.
    pub protocol: Protocol,
    /// What readings are taken on.
    pub instruments: Map<Key, Instrument>,
    /// Its words.
    pub phrases: PhrasesFile,
    /// Its own language, in which everything is written.
    pub language: Arc<Language>,
    /// The further languages pages and prints are made in, by tag.
    pub tongues: Vec<Tongue>,
    /// Readings of its control shoe; empty without a log of them.
    pub control: Vec<ControlReadings>,
    /// Its gauge study; empty without one.
    pub study: Vec<StudyReadings>,
}

impl Lab {
    /// Its languages, its own first.
    pub fn languages(&self) -> Vec<Arc<Language>> {
        let others = self.tongues.iter().map(|tongue| &tongue.language);
        std::iter::once(&self.language)
            .chain(others)
            .cloned()
            .collect()
    }

    /// Puts a lab together from its files and checks them against each other.
    ///
    /// # Errors
    /// Every problem of every file; warnings alone are handed back beside the lab.
    pub fn assemble(
        settings: Settings,
        protocol: ProtocolFile,
        instruments: Instruments,
        phrases: PhrasesFile,
    ) -> Result<(Lab, Vec<Problem>), Vec<Problem>> {
        let (protocol, problems) = check(Some(&settings), Some(protocol), Some(&instruments));
        match protocol {
            Some(protocol) if !problems.iter().any(Problem::is_error) => Ok((
                Lab {
                    language: Arc::new(Language::original(&settings.language)),
                    tongues: Vec::new(),
                    settings,
                    protocol,
                    instruments: instruments.instruments,
                    phrases,
                    control: Vec::new(),
                    study: Vec::new(),
                },
                problems,
            )),
            _ => Err(problems),
        }
    }
}

/// Checks what there is of a lab's files, each against itself and the protocol
/// against the instruments, so that a file that can't be used hides nothing that
/// is wrong with the others. The protocol as used, if it is whole.
pub fn check(
    settings: Option<&Settings>,
    protocol: Option<ProtocolFile>,
    instruments: Option<&Instruments>,
) -> (Option<Protocol>, Vec<Problem>) {
    let mut of_settings = Collector::new(SETTINGS);
    if let Some(settings) = settings {
        check::check_settings(settings, &mut of_settings);
    }
    let mut of_instruments = Collector::new(INSTRUMENTS);
    let mut of_protocol = Collector::new(PROTOCOL);
    let mut resolved = None;
    if let Some(instruments) = instruments {
        check::check_instruments(instruments, &mut of_instruments);
        resolved = protocol.and_then(|protocol| {
            resolve::protocol(protocol, &instruments.instruments, &mut of_protocol)
        });
    }
    let whole = !of_protocol.has_errors();
    let problems = [of_settings, of_instruments, of_protocol]
        .into_iter()
        .flat_map(Collector::into_problems)
        .collect();
    (resolved.filter(|_| whole), problems)
}
