//! The flights and readings of airframes as ledgers, for whoever derives lives.

use super::store;
use crate::platform::http::problem::Problem;
use crate::platform::postgres::Connection;
use std::collections::HashMap;
use uuid::Uuid;
use wearbook_domain::units::{FlightMinutes, Flights, RotorKiloRevolutions, Rpm, Usage};
use wearbook_domain::usage_ledger::{LoggedFlights, Reading, UsageLedger};

/// Ledgers by airframe.
pub type AirframeRecords = HashMap<Uuid, UsageLedger>;

/// Loads the ledgers of these airframes. One without records has an empty ledger.
///
/// # Errors
/// When the database is away, or a stored number breaks its rule, which is our fault.
pub async fn ledgers_of(
    connection: &mut Connection,
    airframes: &[Uuid],
) -> Result<AirframeRecords, Problem> {
    let mut flown: HashMap<Uuid, Vec<LoggedFlights>> = HashMap::new();
    for (airframe, at, flights, minutes, head_speed) in
        store::flown_by(connection, airframes).await?
    {
        flown.entry(airframe).or_default().push(LoggedFlights {
            at,
            flights: Flights::new(f64::from(flights)).map_err(Problem::internal)?,
            minutes: FlightMinutes::new(minutes).map_err(Problem::internal)?,
            head_speed: head_speed
                .map(Rpm::new)
                .transpose()
                .map_err(Problem::internal)?,
        });
    }
    let mut read: HashMap<Uuid, Vec<Reading>> = HashMap::new();
    for (airframe, at, flights, minutes, rotor_krev) in
        store::read_of(connection, airframes).await?
    {
        let usage = Usage {
            flights: Flights::new(flights).map_err(Problem::internal)?,
            flight_minutes: minutes
                .map(FlightMinutes::new)
                .transpose()
                .map_err(Problem::internal)?,
            rotor_krev: rotor_krev
                .map(RotorKiloRevolutions::new)
                .transpose()
                .map_err(Problem::internal)?,
        };
        read.entry(airframe)
            .or_default()
            .push(Reading { at, usage });
    }
    store::usual_head_speeds(connection, airframes)
        .await?
        .into_iter()
        .map(|(airframe, usual)| {
            let usual = usual.map(Rpm::new).transpose().map_err(Problem::internal)?;
            let flights = flown.remove(&airframe).unwrap_or_default();
            let readings = read.remove(&airframe).unwrap_or_default();
            Ok((airframe, UsageLedger::new(flights, readings, usual)))
        })
        .collect()
}
