use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::ToSchema;

use super::{FlightMinutes, Flights, QuantityError, RotorKiloRevolutions, WearScale};

/// Accumulated exposure of an airframe or a component; what was never kept is absent, not zero.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Usage {
    /// Flights made.
    pub flights: Flights,
    /// Minutes in the air, if somebody kept them from the start.
    #[serde(default)]
    pub flight_minutes: Option<FlightMinutes>,
    /// Thousands of main rotor turns, if minutes and head speed were kept from the start.
    #[serde(default)]
    pub rotor_krev: Option<RotorKiloRevolutions>,
}

/// Why two usages could not be added or subtracted.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum UsageError {
    /// The later usage is smaller than the earlier one on some scale.
    #[error("usage on {scale} runs backwards: {later} after {earlier}")]
    Backwards {
        /// The scale on which it happened.
        scale: WearScale,
        /// The usage that should be the smaller.
        earlier: f64,
        /// The usage that should be the larger.
        later: f64,
    },
    /// The sum leaves the range of the quantity.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

impl Usage {
    /// A new part: nothing on any scale.
    pub const ZERO: Self = Self {
        flights: Flights::ZERO,
        flight_minutes: Some(FlightMinutes::ZERO),
        rotor_krev: Some(RotorKiloRevolutions::ZERO),
    };

    /// Usage known in flights only.
    #[must_use]
    pub const fn flights_only(flights: Flights) -> Self {
        Self {
            flights,
            flight_minutes: None,
            rotor_krev: None,
        }
    }

    /// The bare number on one scale, in that scale's unit; `None` where it was never kept.
    #[must_use]
    pub fn on(&self, scale: WearScale) -> Option<f64> {
        match scale {
            WearScale::Flights => Some(self.flights.get()),
            WearScale::FlightMinutes => self.flight_minutes.map(FlightMinutes::get),
            WearScale::RotorKrev => self.rotor_krev.map(RotorKiloRevolutions::get),
        }
    }

    /// What was added since `earlier`; a scale unknown on either side stays unknown.
    ///
    /// # Errors
    /// When any scale known on both sides has become smaller.
    pub fn since(&self, earlier: &Self) -> Result<Self, UsageError> {
        let on = |scale| match (self.on(scale), earlier.on(scale)) {
            (Some(later), Some(earlier)) if later < earlier => Err(UsageError::Backwards {
                scale,
                earlier,
                later,
            }),
            (Some(later), Some(earlier)) => Ok(Some(later - earlier)),
            _ => Ok(None),
        };
        Self::from_numbers(on)
    }

    /// The sum; a scale unknown on either side stays unknown.
    ///
    /// # Errors
    /// When a sum leaves the range of its quantity.
    pub fn plus(&self, more: &Self) -> Result<Self, UsageError> {
        Self::from_numbers(|scale| Ok(self.on(scale).zip(more.on(scale)).map(|(a, b)| a + b)))
    }

    fn from_numbers(
        on: impl Fn(WearScale) -> Result<Option<f64>, UsageError>,
    ) -> Result<Self, UsageError> {
        Ok(Self {
            flights: Flights::new(on(WearScale::Flights)?.unwrap_or(0.0))?,
            flight_minutes: on(WearScale::FlightMinutes)?
                .map(FlightMinutes::new)
                .transpose()?,
            rotor_krev: on(WearScale::RotorKrev)?
                .map(RotorKiloRevolutions::new)
                .transpose()?,
        })
    }
}
