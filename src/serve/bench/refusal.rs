//! How the desk says no, and what it then asks.

use crate::diagnostics::Problem;
use crate::files::Key;
use serde::Serialize;

/// Why the desk says no.
#[derive(Debug)]
pub(super) struct Refusal {
    pub status: u16,
    pub body: serde_json::Value,
}

impl Refusal {
    pub fn said(status: u16, text: impl Into<String>) -> Refusal {
        Refusal {
            status,
            body: serde_json::json!({ "said": [text.into()] }),
        }
    }

    pub fn problems(problems: &[Problem]) -> Refusal {
        let said: Vec<String> = problems
            .iter()
            .map(|problem| match &problem.hint {
                Some(hint) => format!("{}: {}; {hint}", problem.path, problem.message),
                None => format!("{}: {}", problem.path, problem.message),
            })
            .collect();
        Refusal {
            status: 422,
            body: serde_json::json!({ "said": said }),
        }
    }

    pub fn conflicts(conflicts: &[Conflict]) -> Refusal {
        Refusal {
            status: 409,
            body: serde_json::json!({
                "said": ["somebody changed the file meanwhile; choose whose readings count"],
                "conflicts": conflicts,
            }),
        }
    }
}

/// A quantity that was changed here and in the file.
#[derive(Debug, Serialize)]
pub(super) struct Conflict {
    pub quantity: Key,
    pub label: String,
    pub mine: Vec<String>,
    pub file: Vec<String>,
}
