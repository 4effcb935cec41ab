//! What the laboratory fixes: its settings, protocol, instruments, rule set and
//! phrases, each read from one file of `lab/` and checked against the others.

mod instruments;
mod phrases;
mod protocol;
mod rule_set;
mod settings;
mod specification;

pub use instruments::{Calibration, Instrument, Instruments};
pub use phrases::{AdvicePhrase, AdviceWeight, Cautions, FitWords, Guide, Phrase, PhrasesFile};
pub use protocol::{
    ConditioningFile, CurveFigure, CurveFile, FromCurve, ProtocolFile, QuantityFile, Repeatability,
    Size, SizeSystem,
};
pub use rule_set::{RuleSetFile, RuleSetVersion};
pub use settings::{Licence, Paper, SchemaVersion, Settings, UnitsOrder};
pub use specification::{Conditioning, CurveSpec, Protocol, QuantitySpec, Spread};

use crate::files::{Key, Map};

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
}
