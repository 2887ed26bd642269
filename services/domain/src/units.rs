//! Quantities with their units, and usage on a scale; values that cannot be wrong once made.

use std::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};

mod usage;
mod wear_scale;

pub use usage::{Usage, UsageError};
pub use wear_scale::{UnknownScale, WearScale};

/// The largest amount of usage taken, in any unit: far beyond any part's life, and a guard against slips.
pub const LARGEST_USAGE: f64 = 1e9;

/// Why a number is not a quantity of the wanted kind.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum QuantityError {
    /// The number is infinite or not a number.
    #[error("{name} must be a finite number, got {value}")]
    NotFinite {
        /// The quantity that was wanted.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// The number lies outside what the quantity allows.
    #[error("{name} must lie between {least} and {most}, got {value}")]
    OutOfRange {
        /// The quantity that was wanted.
        name: &'static str,
        /// The smallest allowed value.
        least: f64,
        /// The largest allowed value.
        most: f64,
        /// What was given.
        value: f64,
    },
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $least:literal, $most:literal, $what:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            /// Checks the number.
            ///
            /// # Errors
            /// When it is not finite or lies outside the range of the quantity.
            pub fn new(value: f64) -> Result<Self, QuantityError> {
                if !value.is_finite() {
                    return Err(QuantityError::NotFinite { name: stringify!($name), value });
                }
                if !($least..=$most).contains(&value) {
                    return Err(QuantityError::OutOfRange {
                        name: stringify!($name),
                        least: $least,
                        most: $most,
                        value,
                    });
                }
                Ok(Self(value + 0.0))
            }

            /// The bare number in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $name {
            type Error = QuantityError;

            fn try_from(value: f64) -> Result<Self, QuantityError> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(quantity: $name) -> Self {
                quantity.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                RefOr::T(Schema::Object(
                    ObjectBuilder::new()
                        .schema_type(SchemaType::Type(Type::Number))
                        .description(Some($what))
                        .minimum(Some($least))
                        .maximum(Some($most))
                        .build(),
                ))
            }
        }

        impl utoipa::ToSchema for $name {}
    )+};
}

quantities! {
    /// A number of flights; fractions come from estimates and from half-finished first flights.
    Flights 0.0, 1e9, "Number of flights; estimates may have fractions.";
    /// Minutes in the air.
    FlightMinutes 0.0, 1e9, "Minutes in the air.";
    /// Thousands of main rotor turns: minutes times mean head speed over a thousand, summed over flights.
    RotorKiloRevolutions 0.0, 1e9, "Thousands of main rotor turns.";
    /// Head speed in turns a minute.
    Rpm 1.0, 10_000.0, "Head speed in turns a minute.";
    /// A share of a whole.
    Share 0.0, 1.0, "Share of a whole.";
}

impl Flights {
    /// No flights yet.
    pub const ZERO: Self = Self(0.0);
}

impl FlightMinutes {
    /// No minutes yet.
    pub const ZERO: Self = Self(0.0);
}

impl RotorKiloRevolutions {
    /// No turns yet.
    pub const ZERO: Self = Self(0.0);

    /// Turns made in `minutes` at a mean head speed.
    ///
    /// # Errors
    /// When the product leaves the range of the quantity.
    pub fn turned(minutes: FlightMinutes, head_speed: Rpm) -> Result<Self, QuantityError> {
        Self::new(minutes.get() * head_speed.get() / 1000.0)
    }
}

#[cfg(test)]
mod tests;
