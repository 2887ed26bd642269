//! Typed identifiers: a prefix that says what is named, then a version 7 UUID as 32 hex digits.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};
use uuid::{NoContext, Timestamp, Uuid};

/// Why a text is not an identifier of the wanted kind.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum IdError {
    /// The text does not begin with the prefix of the wanted kind.
    #[error("{name} must begin with \"{prefix}_\", got \"{value}\"")]
    Prefix {
        /// The type that was wanted.
        name: &'static str,
        /// The prefix that type uses.
        prefix: &'static str,
        /// What was given.
        value: String,
    },
    /// What follows the prefix is not 32 lower-case hexadecimal digits.
    #[error(
        "{name} must have 32 lower-case hexadecimal digits after \"{prefix}_\", got \"{value}\""
    )]
    Digits {
        /// The type that was wanted.
        name: &'static str,
        /// The prefix that type uses.
        prefix: &'static str,
        /// What was given.
        value: String,
    },
}

fn parse(name: &'static str, prefix: &'static str, text: &str) -> Result<Uuid, IdError> {
    let Some(digits) = text
        .strip_prefix(prefix)
        .and_then(|rest| rest.strip_prefix('_'))
    else {
        return Err(IdError::Prefix {
            name,
            prefix,
            value: text.to_owned(),
        });
    };
    let lower_hex = digits.len() == 32
        && digits
            .bytes()
            .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    match Uuid::try_parse(digits) {
        Ok(uuid) if lower_hex => Ok(uuid),
        _ => Err(IdError::Digits {
            name,
            prefix,
            value: text.to_owned(),
        }),
    }
}

/// Milliseconds since 1970, never negative: an instant before 1970 counts as 1970.
fn milliseconds(at: DateTime<Utc>) -> u64 {
    u64::try_from(at.timestamp_millis()).unwrap_or(0)
}

fn text_schema(pattern: String, example: String, description: String) -> RefOr<Schema> {
    RefOr::T(Schema::Object(
        ObjectBuilder::new()
            .schema_type(SchemaType::Type(Type::String))
            .description(Some(description))
            .pattern(Some(pattern))
            .examples([serde_json::Value::String(example)])
            .build(),
    ))
}

macro_rules! typed_ids {
    ($($(#[$doc:meta])* $name:ident $prefix:literal $what:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "String", into = "String")]
        pub struct $name(Uuid);

        impl $name {
            /// The text before the underscore.
            pub const PREFIX: &'static str = $prefix;

            /// A fresh identifier that sorts by `at`; the rest of its bits are random.
            #[must_use]
            pub fn new_at(at: DateTime<Utc>) -> Self {
                let seconds = u64::try_from(at.timestamp()).unwrap_or(0);
                let stamp = Timestamp::from_unix(NoContext, seconds, at.timestamp_subsec_nanos());
                Self(Uuid::new_v7(stamp))
            }

            /// An identifier from an instant and ten random bytes, for callers that bring their own randomness.
            #[must_use]
            pub fn from_parts(at: DateTime<Utc>, random: [u8; 10]) -> Self {
                Self(uuid::Builder::from_unix_timestamp_millis(milliseconds(at), &random).into_uuid())
            }

            /// Wraps a stored value; the caller vouches that it names a thing of this kind.
            #[must_use]
            pub const fn from_uuid(uuid: Uuid) -> Self {
                Self(uuid)
            }

            /// The bare value, as the database keeps it.
            #[must_use]
            pub const fn uuid(self) -> Uuid {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}_{}", $prefix, self.0.simple())
            }
        }

        impl FromStr for $name {
            type Err = IdError;

            fn from_str(text: &str) -> Result<Self, IdError> {
                parse(stringify!($name), $prefix, text).map(Self)
            }
        }

        impl TryFrom<String> for $name {
            type Error = IdError;

            fn try_from(text: String) -> Result<Self, IdError> {
                text.parse()
            }
        }

        impl From<$name> for String {
            fn from(id: $name) -> Self {
                id.to_string()
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                text_schema(
                    format!("^{}_[0-9a-f]{{32}}$", $prefix),
                    format!("{}_0190b5a1c7e87c3a9f4e2b6d8a1c0e57", $prefix),
                    concat!("Identifier of ", $what, ".").to_owned(),
                )
            }
        }

        impl utoipa::ToSchema for $name {}
    )+};
}

typed_ids! {
    /// Names a club, a repair shop or a distributor.
    OrganisationId "org" "an organisation";
    /// Names a person who signs in.
    AccountId "acc" "an account";
    /// Names an access token (never its secret).
    TokenId "tok" "an access token";
    /// Names an aircraft design.
    DesignId "des" "an aircraft design";
    /// Names a place on a design where one component sits.
    PositionId "pos" "a position";
    /// Names one physical helicopter.
    AirframeId "air" "an airframe";
    /// Names one physical item.
    ComponentId "cmp" "a component";
    /// Names one stay of a component in a position.
    InstallationId "ins" "an installation";
    /// Names a flight or a counted batch of flights.
    FlightsId "flt" "a record of flights";
    /// Names a usage reading.
    ReadingId "rdg" "a usage reading";
    /// Names the event that ended an installation.
    RemovalId "rem" "a removal";
    /// Names a failure report.
    FailureReportId "fail" "a failure report";
    /// Names one immutable fit.
    FitId "fit" "a fit";
}

/// Who owns an airframe: a person or an organisation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum OwnerId {
    /// A person.
    Account(AccountId),
    /// A club, a shop or a distributor.
    Organisation(OrganisationId),
}

impl OwnerId {
    /// The bare value without the kind; two owners of different kind may in principle share it.
    #[must_use]
    pub const fn uuid(self) -> Uuid {
        match self {
            Self::Account(id) => id.uuid(),
            Self::Organisation(id) => id.uuid(),
        }
    }
}

impl fmt::Display for OwnerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Account(id) => id.fmt(f),
            Self::Organisation(id) => id.fmt(f),
        }
    }
}

impl FromStr for OwnerId {
    type Err = IdError;

    fn from_str(text: &str) -> Result<Self, IdError> {
        if text.starts_with(OrganisationId::PREFIX) {
            text.parse().map(Self::Organisation)
        } else if text.starts_with(AccountId::PREFIX) {
            text.parse().map(Self::Account)
        } else {
            Err(IdError::Prefix {
                name: "OwnerId",
                prefix: "acc_\" or \"org",
                value: text.to_owned(),
            })
        }
    }
}

impl TryFrom<String> for OwnerId {
    type Error = IdError;

    fn try_from(text: String) -> Result<Self, IdError> {
        text.parse()
    }
}

impl From<OwnerId> for String {
    fn from(id: OwnerId) -> Self {
        id.to_string()
    }
}

impl utoipa::PartialSchema for OwnerId {
    fn schema() -> RefOr<Schema> {
        text_schema(
            "^(acc|org)_[0-9a-f]{32}$".to_owned(),
            "acc_0190b5a1c7e87c3a9f4e2b6d8a1c0e57".to_owned(),
            "Identifier of the account or the organisation that owns something.".to_owned(),
        )
    }
}

impl utoipa::ToSchema for OwnerId {}

#[cfg(test)]
mod tests;
