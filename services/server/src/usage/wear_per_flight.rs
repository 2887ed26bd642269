//! What one flight of this fleet means on each scale: turns a target per flight into one per minute or per turn.

use super::store;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use wearbook_domain::units::WearScale;

/// Mean wear of one flight, by scale; absent where nothing was logged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WearPerFlight {
    minutes: Option<f64>,
    rotor_krev: Option<f64>,
}

impl WearPerFlight {
    /// The mean on one scale.
    #[must_use]
    pub fn on(&self, scale: WearScale) -> Option<f64> {
        match scale {
            WearScale::Flights => Some(1.0),
            WearScale::FlightMinutes => self.minutes,
            WearScale::RotorKrev => self.rotor_krev,
        }
    }
}

/// Means over everything logged on this instance.
///
/// # Errors
/// When the database is away.
pub async fn wear_per_flight(connection: &mut Connection) -> Result<WearPerFlight, Problem> {
    let totals = store::fleet_totals(connection).await?;
    let mean = |sum: f64, count: f64| (count > 0.0).then(|| sum / count);
    Ok(WearPerFlight {
        minutes: mean(totals.minutes, totals.flights),
        rotor_krev: mean(totals.rotor_krev, totals.flights_with_turns),
    })
}
