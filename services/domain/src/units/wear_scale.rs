use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::ToSchema;

/// The clock a life is counted on.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum WearScale {
    /// Flights made.
    Flights,
    /// Minutes in the air.
    FlightMinutes,
    /// Thousands of main rotor turns.
    RotorKrev,
}

/// A text that names no wear scale.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("wear scale must be one of flights, flight-minutes, rotor-krev, got \"{value}\"")]
pub struct UnknownScale {
    /// What was given.
    pub value: String,
}

impl WearScale {
    /// Every scale, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::Flights, Self::FlightMinutes, Self::RotorKrev];

    /// The word used in the API, in tables and in files.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Flights => "flights",
            Self::FlightMinutes => "flight-minutes",
            Self::RotorKrev => "rotor-krev",
        }
    }

    /// The unit as it stands behind a number on a page.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Flights => "flights",
            Self::FlightMinutes => "flight minutes",
            Self::RotorKrev => "thousand rotor turns",
        }
    }
}

impl fmt::Display for WearScale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl FromStr for WearScale {
    type Err = UnknownScale;

    fn from_str(text: &str) -> Result<Self, UnknownScale> {
        Self::ALL
            .into_iter()
            .find(|scale| scale.code() == text)
            .ok_or_else(|| UnknownScale {
                value: text.to_owned(),
            })
    }
}
