//! Keys of the catalogue: lower-case words joined by hyphens, the same in tables, routes and files.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};

/// The longest key, in characters.
pub const LONGEST_KEY: usize = 60;

/// Why a text is not a key.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum KeyError {
    /// The text is empty or longer than 60 characters.
    #[error("{name} must have 1 to 60 characters, got {length}: \"{value}\"")]
    Length {
        /// The type that was wanted.
        name: &'static str,
        /// How many characters were given.
        length: usize,
        /// What was given.
        value: String,
    },
    /// The text holds something other than lower-case letters, digits and single hyphens between them.
    #[error("{name} must be lower-case words or digits joined by single hyphens, got \"{value}\"")]
    Shape {
        /// The type that was wanted.
        name: &'static str,
        /// What was given.
        value: String,
    },
}

fn check(name: &'static str, text: &str) -> Result<(), KeyError> {
    let length = text.chars().count();
    if length == 0 || length > LONGEST_KEY {
        return Err(KeyError::Length {
            name,
            length,
            value: text.to_owned(),
        });
    }
    let words_hold = text.split('-').all(|word| {
        !word.is_empty()
            && word
                .bytes()
                .all(|b| b.is_ascii_digit() || b.is_ascii_lowercase())
    });
    if words_hold {
        Ok(())
    } else {
        Err(KeyError::Shape {
            name,
            value: text.to_owned(),
        })
    }
}

macro_rules! keys {
    ($($(#[$doc:meta])* $name:ident $example:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(String);

        impl $name {
            /// Checks the text; see [`KeyError`] for the rules.
            ///
            /// # Errors
            /// When the text is empty, too long, or not lower-case words joined by hyphens.
            pub fn new(text: impl Into<String>) -> Result<Self, KeyError> {
                let text = text.into();
                check(stringify!($name), &text)?;
                Ok(Self(text))
            }

            /// The key as text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl AsRef<str> for $name {
            fn as_ref(&self) -> &str {
                &self.0
            }
        }

        impl FromStr for $name {
            type Err = KeyError;

            fn from_str(text: &str) -> Result<Self, KeyError> {
                Self::new(text)
            }
        }

        impl TryFrom<String> for $name {
            type Error = KeyError;

            fn try_from(text: String) -> Result<Self, KeyError> {
                Self::new(text)
            }
        }

        impl From<$name> for String {
            fn from(key: $name) -> Self {
                key.0
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                RefOr::T(Schema::Object(
                    ObjectBuilder::new()
                        .schema_type(SchemaType::Type(Type::String))
                        .description(Some("Lower-case words or digits joined by single hyphens."))
                        .pattern(Some("^[a-z0-9]+(-[a-z0-9]+)*$"))
                        .min_length(Some(1))
                        .max_length(Some(LONGEST_KEY))
                        .examples([serde_json::Value::String($example.to_owned())])
                        .build(),
                ))
            }
        }

        impl utoipa::ToSchema for $name {}
    )+};
}

keys! {
    /// Names a part type of the catalogue.
    PartTypeKey "tail-belt";
    /// Names an aircraft design in words a person can type.
    DesignKey "seven-hundred-belt";
    /// Names the manner in which a part failed; the same key may occur under several part types.
    FailureModeKey "tooth-shear";
    /// Names a check of the catalogue.
    CheckKey "head-lash";
    /// Names a family of part types that wear alike.
    FamilyKey "belts";
    /// Names a system of the helicopter.
    SystemKey "tail-drive";
}

impl FailureModeKey {
    /// Stands in where a removal says "failed" and no report names the manner.
    #[must_use]
    pub fn not_stated() -> Self {
        Self("not-stated".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_key_of_lower_case_words_is_taken() {
        for text in ["tail-belt", "a", "m5-bolt", "700"] {
            assert_eq!(PartTypeKey::new(text).unwrap().as_str(), text);
        }
    }

    #[test]
    fn a_key_with_another_shape_is_refused_and_shown() {
        for text in [
            "Tail-belt",
            "tail belt",
            "-belt",
            "belt-",
            "tail--belt",
            "riemen-öl",
        ] {
            let error = PartTypeKey::new(text).unwrap_err();
            assert!(matches!(error, KeyError::Shape { .. }), "{text}");
            assert!(error.to_string().contains(text));
        }
    }

    #[test]
    fn an_empty_or_overlong_key_is_refused() {
        assert!(matches!(DesignKey::new(""), Err(KeyError::Length { .. })));
        assert!(matches!(
            DesignKey::new("a".repeat(61)),
            Err(KeyError::Length { length: 61, .. })
        ));
        assert!(DesignKey::new("a".repeat(60)).is_ok());
    }

    proptest! {
        #[test]
        fn a_key_that_parses_prints_as_it_was(text in "[a-z0-9-]{0,70}") {
            if let Ok(key) = text.parse::<FailureModeKey>() {
                prop_assert_eq!(key.to_string(), text);
            }
        }
    }
}
