//! Finding Typst, and asking it once what it is.

use super::process::Limits;
use super::{Typesetter, process};
use std::{env, fmt, path::PathBuf, sync::Arc};

/// The environment variable that names the program.
pub const PROGRAM_VARIABLE: &str = "SOLEFOLIO_TYPST";

/// The one command that brings the program.
pub const INSTALL: &str = "cargo install typst-cli --locked --version 0.15.1";

/// PDF/UA-1 came with this version.
const OLDEST: (u32, u32) = (0, 14);

/// The bundle export came with this version.
const BUNDLES_SINCE: (u32, u32) = (0, 15);

/// Major and minor version, and the text they were read from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Version {
    pub number: (u32, u32),
    pub text: String,
}

/// Why there is no typesetter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Missing {
    /// It is nowhere.
    NotFound,
    /// What [`PROGRAM_VARIABLE`] names does not answer as Typst does.
    NotTypst {
        /// The program asked.
        program: PathBuf,
        /// What went wrong.
        reason: String,
    },
    /// It is older than PDF/UA-1 in Typst.
    TooOld {
        /// The program asked.
        program: PathBuf,
        /// Its version.
        version: String,
    },
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFound => write!(f, "typst is not installed; get it with `{INSTALL}`"),
            Self::NotTypst { program, reason } => write!(
                f,
                "`{}` does not answer as typst does ({reason}); set {PROGRAM_VARIABLE} to the right program, or get it with `{INSTALL}`",
                program.display()
            ),
            Self::TooOld { program, version } => write!(
                f,
                "`{}` is typst {version}, too old for tagged prints; get a newer one with `{INSTALL}`",
                program.display()
            ),
        }
    }
}

impl std::error::Error for Missing {}

impl Typesetter {
    /// Looks for Typst: what `SOLEFOLIO_TYPST` names, else on `PATH`, else
    /// where cargo installs programs. Asks it once for its version.
    ///
    /// # Errors
    /// [`Missing`], with the command that brings it.
    pub fn find() -> Result<Self, Missing> {
        if let Some(named) = env::var_os(PROGRAM_VARIABLE).filter(|v| !v.is_empty()) {
            return Self::at(PathBuf::from(named));
        }
        let file = format!("typst{}", env::consts::EXE_SUFFIX);
        let on_path = env::var_os("PATH").unwrap_or_default();
        let cargo_home = env::var_os("CARGO_HOME").map(PathBuf::from);
        let home = env::var_os("HOME").map(|home| PathBuf::from(home).join(".cargo"));
        env::split_paths(&on_path)
            // A relative folder on PATH would run whatever lies in the lab's own.
            .filter(|folder| folder.is_absolute())
            .chain(
                [cargo_home, home]
                    .into_iter()
                    .flatten()
                    .map(|h| h.join("bin")),
            )
            .map(|folder| folder.join(&file))
            .find(|program| program.is_file())
            .map_or(Err(Missing::NotFound), Self::at)
    }

    /// The typesetter at a path.
    ///
    /// # Errors
    /// [`Missing`] if the program there is not Typst, or too old.
    pub fn at(program: PathBuf) -> Result<Self, Missing> {
        let not_typst = |reason: String| Missing::NotTypst {
            program: program.clone(),
            reason,
        };
        let program = program
            .canonicalize()
            .map_err(|error| not_typst(error.to_string()))?;
        let says = process::version(&program).map_err(&not_typst)?;
        let version =
            Version::read(&says).ok_or_else(|| not_typst(format!("it calls itself `{says}`")))?;
        if version.number < OLDEST {
            return Err(Missing::TooOld {
                program,
                version: version.text,
            });
        }
        Ok(Self {
            bundles: version.number >= BUNDLES_SINCE,
            program,
            says,
            version,
            limits: Limits::default(),
            stop: Arc::default(),
        })
    }
}

impl Version {
    /// Reads `typst 0.15.1 (…)`.
    fn read(says: &str) -> Option<Self> {
        let text = says.strip_prefix("typst ")?.split_whitespace().next()?;
        let mut parts = text.split('.').map(str::parse);
        let number = (parts.next()?.ok()?, parts.next()?.ok()?);
        Some(Self {
            number,
            text: text.to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_read_as_typst_writes_them() {
        let version = Version::read("typst 0.15.1 (unknown commit)").expect("it is one");
        assert_eq!((version.number, version.text.as_str()), ((0, 15), "0.15.1"));
        assert!(Version::read("typst 1.0.0-rc.1").is_some_and(|v| v.number == (1, 0)));
        for other in ["", "typst", "typst new", "tectonic 0.15.0"] {
            assert_eq!(Version::read(other), None, "{other}");
        }
    }

    #[test]
    fn what_is_missing_comes_with_the_command_that_brings_it() {
        for missing in [
            Missing::NotFound,
            Missing::NotTypst {
                program: "/x".into(),
                reason: "r".to_owned(),
            },
            Missing::TooOld {
                program: "/x".into(),
                version: "0.11.0".to_owned(),
            },
        ] {
            assert!(missing.to_string().contains(INSTALL), "{missing}");
        }
    }
}
