//! A path within the lab's root that can't lead out of it.

use crate::diagnostics::text::{is_refused, quote};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use std::{borrow::Cow, fmt, str::FromStr, sync::Arc};

/// The longest a path may be, in bytes.
pub const PATH_LIMIT: usize = 512;

/// A path relative to the lab's root, with forward slashes.
///
/// It holds no `..` and no `.`, does not begin at the top of a disk, and has no
/// backslash, colon or character that no text may hold: read on any system it stays below the
/// folder it is laid on. (A link on the disk can still lead out; reading guards
/// against that, see [`Files`](super::Files).)
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct RelPath(Arc<str>);

/// A text that is no safe path.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAPath {
    /// What is wrong, in words.
    pub reason: String,
}

impl fmt::Display for NotAPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.reason)
    }
}

impl std::error::Error for NotAPath {}

impl FromStr for RelPath {
    type Err = NotAPath;

    fn from_str(text: &str) -> Result<Self, NotAPath> {
        match fault(text) {
            None => Ok(RelPath(text.into())),
            Some(fault) => Err(NotAPath {
                reason: format!("{} {fault}", quote(text)),
            }),
        }
    }
}

fn fault(text: &str) -> Option<String> {
    if text.is_empty() {
        return Some("is no path".into());
    }
    if text.len() > PATH_LIMIT {
        return Some(format!("is longer than {PATH_LIMIT} bytes"));
    }
    if text.starts_with('/') {
        return Some("begins with `/`; write a path relative to this file".into());
    }
    if let Some(c) = text
        .chars()
        .find(|c| c.is_control() || is_refused(*c) || matches!(c, '\\' | ':'))
    {
        return Some(match c {
            '\\' => "has a backslash; write forward slashes".into(),
            ':' => "has a colon, which not every system allows in a path".into(),
            c if c.is_control() => "has a control character".into(),
            c => format!("has a character that can't be seen, U+{:04X}", u32::from(c)),
        });
    }
    text.split('/').find_map(|step| match step {
        ".." => Some("has `..`; a path may not lead upward".into()),
        "" | "." => Some(format!("has an empty step `{step}`")),
        _ => None,
    })
}

impl RelPath {
    /// A path the program itself fixes, such as `lab/protocol.yaml`.
    ///
    /// # Panics
    /// If it is not safe; a lab's own texts are parsed instead.
    pub fn fixed(path: &'static str) -> RelPath {
        path.parse().expect("the program's own paths are safe")
    }

    /// The path as text, with forward slashes.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The last step: the file's name.
    pub fn name(&self) -> &str {
        self.0.rsplit('/').next().unwrap_or_default()
    }

    /// The file's name without its last ending.
    pub fn stem(&self) -> &str {
        let name = self.name();
        match name.rfind('.') {
            Some(dot) if dot > 0 => &name[..dot],
            _ => name,
        }
    }

    /// The file's last ending without its dot, empty if it has none.
    pub fn ending(&self) -> &str {
        self.name()[self.stem().len()..].trim_start_matches('.')
    }

    /// The folder it lies in, if not the root itself.
    pub fn folder(&self) -> Option<RelPath> {
        let (folder, _) = self.0.rsplit_once('/')?;
        Some(RelPath(folder.into()))
    }

    /// A path one file names, seen from the root: `curves/x.csv` in
    /// `shoes/road/a.yaml` is `shoes/road/curves/x.csv`.
    ///
    /// # Errors
    /// [`NotAPath`] if the two together are too long.
    pub fn beside(&self, named: &RelPath) -> Result<RelPath, NotAPath> {
        match self.folder() {
            None => Ok(named.clone()),
            Some(folder) => folder.join(named),
        }
    }

    /// A path below this folder.
    ///
    /// # Errors
    /// [`NotAPath`] if the two together are too long.
    pub fn join(&self, below: &RelPath) -> Result<RelPath, NotAPath> {
        format!("{self}/{below}").parse()
    }
}

impl fmt::Display for RelPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for RelPath {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl JsonSchema for RelPath {
    fn schema_name() -> Cow<'static, str> {
        "RelativePath".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A path relative to this file, with forward slashes, leading nowhere upward.",
            "type": "string",
            "minLength": 1,
            "maxLength": PATH_LIMIT,
            "format": "relative-path",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(text: &str) -> RelPath {
        text.parse().unwrap()
    }

    #[test]
    fn a_path_that_could_lead_out_is_refused() {
        for text in [
            "",
            "/etc/passwd",
            "../x",
            "a/../b",
            "a/..",
            "..",
            ".",
            "a//b",
            "a/",
            "./a",
            "a\\b",
            "C:x",
            "C:\\x",
            "a\0b",
            "a\nb",
            "a\u{202e}b",
            "a\u{feff}b",
        ] {
            assert!(text.parse::<RelPath>().is_err(), "{text:?}");
        }
        assert!("x".repeat(PATH_LIMIT + 1).parse::<RelPath>().is_err());
    }

    #[test]
    fn a_path_knows_its_parts() {
        let file = path("shoes/road/quarrel-2.v1.yaml");
        assert_eq!(file.name(), "quarrel-2.v1.yaml");
        assert_eq!(file.stem(), "quarrel-2.v1");
        assert_eq!(file.ending(), "yaml");
        assert_eq!(file.folder(), Some(path("shoes/road")));
        assert_eq!(path("a").folder(), None);
        assert_eq!(path(".hidden").stem(), ".hidden");
        assert_eq!(path(".hidden").ending(), "");
    }

    #[test]
    fn a_named_path_is_seen_from_the_file_that_names_it() {
        let curve = path("curves/x.csv");
        assert_eq!(
            path("shoes/road/a.yaml").beside(&curve),
            Ok(path("shoes/road/curves/x.csv"))
        );
        assert_eq!(path("a.yaml").beside(&curve), Ok(curve));
    }
}
