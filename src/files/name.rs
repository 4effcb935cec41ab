//! Names that are safe everywhere: in a path, an address, a formula and a phrase.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use std::{borrow::Cow, fmt, str::FromStr, sync::Arc};

/// The longest a name may be, in bytes.
pub const NAME_LIMIT: usize = 80;

/// A text that is no name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAName {
    /// What was found.
    pub found: String,
}

impl fmt::Display for NotAName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is no name: use small letters a to z, digits and single hyphens between them, {NAME_LIMIT} at most",
            self.found
        )
    }
}

impl std::error::Error for NotAName {}

fn check(text: &str) -> Result<Arc<str>, NotAName> {
    let word = |part: &str| {
        !part.is_empty()
            && part
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
    };
    if text.len() <= NAME_LIMIT && text.split('-').all(word) {
        Ok(text.into())
    } else {
        Err(NotAName {
            found: text.chars().take(NAME_LIMIT).collect(),
        })
    }
}

macro_rules! name {
    ($(#[$doc:meta])* $name:ident, $title:literal, $about:literal) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name(Arc<str>);

        impl $name {
            /// The name as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl FromStr for $name {
            type Err = NotAName;

            fn from_str(text: &str) -> Result<Self, NotAName> {
                check(text).map($name)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl std::borrow::Borrow<str> for $name {
            fn borrow(&self) -> &str {
                &self.0
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = Cow::<str>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $title.into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({
                    "description": $about,
                    "type": "string",
                    "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$",
                    "maxLength": NAME_LIMIT,
                    "format": "name",
                })
            }
        }
    };
}

name!(
    /// The name of a quantity, a rule, a phrase or anything else a lab's files name.
    Key,
    "Key",
    "A name: small letters, digits and single hyphens."
);

name!(
    /// A shoe's address: the stem of its file, for ever.
    Slug,
    "Slug",
    "A shoe's address, the stem of its file: small letters, digits and single hyphens."
);

impl Key {
    /// The name as a variable of an expression: hyphens become underscores.
    pub fn variable(&self) -> String {
        self.0.replace('-', "_")
    }
}
