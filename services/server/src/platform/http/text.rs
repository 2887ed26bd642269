//! Text that PostgreSQL can keep and a page can show. The rule stands in the API description and holds in the type.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};
use utoipa::{PartialSchema, ToSchema};

/// A text that breaks the rule of its kind.
#[derive(Debug, thiserror::Error)]
#[error("expected {rule}")]
pub struct TextFault {
    rule: &'static str,
}

macro_rules! texts {
    ($($(#[$doc:meta])* $name:ident $least:literal $pattern:literal $rule:literal $allowed:expr;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name<const MOST: usize>(String);

        impl<const MOST: usize> TryFrom<String> for $name<MOST> {
            type Error = TextFault;

            fn try_from(text: String) -> Result<Self, TextFault> {
                let length = text.chars().count();
                if !($least..=MOST).contains(&length) || !text.chars().all($allowed) {
                    return Err(TextFault { rule: $rule });
                }
                Ok(Self(text))
            }
        }

        impl<const MOST: usize> From<$name<MOST>> for String {
            fn from(text: $name<MOST>) -> Self {
                text.0
            }
        }

        impl<const MOST: usize> std::ops::Deref for $name<MOST> {
            type Target = str;

            fn deref(&self) -> &str {
                &self.0
            }
        }

        impl<const MOST: usize> PartialSchema for $name<MOST> {
            fn schema() -> RefOr<Schema> {
                RefOr::T(Schema::Object(
                    ObjectBuilder::new()
                        .schema_type(SchemaType::Type(Type::String))
                        .description(Some($rule))
                        .pattern(Some($pattern))
                        .min_length(Some($least))
                        .max_length(Some(MOST))
                        .build(),
                ))
            }
        }

        impl<const MOST: usize> ToSchema for $name<MOST> {
            fn name() -> Cow<'static, str> {
                format!("{}{MOST}", stringify!($name)).into()
            }
        }
    )+};
}

texts! {
    /// One line: at least one character, no control characters.
    Line 1 "^[^\\x00-\\x1f\\x7f]*$" "one line without control characters" |c| !c.is_ascii_control();
    /// Several lines: anything but NUL, which PostgreSQL cannot keep.
    Prose 0 "^[^\\x00]*$" "text without NUL characters" |c| c != '\0';
    /// Lower-case words joined by hyphens.
    Slug 1 "^[a-z0-9]+(-[a-z0-9]+)*$" "lower-case words or digits joined by single hyphens"
        |c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_cannot_be_kept_or_shown_is_refused() {
        assert!(Line::<10>::try_from("two\nlines".to_owned()).is_err());
        assert!(Line::<3>::try_from("four".to_owned()).is_err());
        assert!(Prose::<10>::try_from("a\0b".to_owned()).is_err());
        assert!(Slug::<10>::try_from("Tail".to_owned()).is_err());
        assert_eq!(
            &*Prose::<10>::try_from("two\nlines".to_owned()).unwrap(),
            "two\nlines"
        );
    }
}
