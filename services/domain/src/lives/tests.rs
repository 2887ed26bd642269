//! One test per row of the table from removal to statistics, then contradictions, then properties.

mod contradictions;
mod properties;
mod table;

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use uuid::Uuid;

use super::*;
use crate::history::{AgeWhenFitted, ComponentHistory, FailureEvent, Fitting, FittingEnd};
use crate::ids::AirframeId;
use crate::keys::PartTypeKey;
use crate::units::{FlightMinutes, Flights, Usage};
use crate::vocabulary::{Discovery, FailureRole, Severity};

fn day(number: i64) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2025, 3, 1, 12, 0, 0).unwrap() + TimeDelta::days(number)
}

/// Usage in flights, with five minutes a flight.
fn flown(flights: f64) -> Usage {
    Usage {
        flights: Flights::new(flights).unwrap(),
        flight_minutes: Some(FlightMinutes::new(flights * 5.0).unwrap()),
        rotor_krev: None,
    }
}

fn installation(number: u128) -> InstallationId {
    InstallationId::from_uuid(Uuid::from_u128(number))
}

fn removal(number: u128) -> RemovalId {
    RemovalId::from_uuid(Uuid::from_u128(number))
}

fn report(number: u128) -> FailureReportId {
    FailureReportId::from_uuid(Uuid::from_u128(number))
}

/// A stay that begins on day `from` when the airframe had `usage` flights, still running at `now` flights.
fn fitted(number: u128, from: i64, usage: f64, age: AgeWhenFitted, now: f64) -> Fitting {
    Fitting {
        installation: installation(number),
        airframe: AirframeId::from_uuid(Uuid::from_u128(number)),
        fitted_at: day(from),
        age_when_fitted: age,
        airframe_usage_when_fitted: flown(usage),
        ended: None,
        airframe_usage_now: flown(now),
    }
}

fn removed(mut fitting: Fitting, on: i64, usage: f64, reason: RemovalReason) -> Fitting {
    let number = fitting.installation.uuid().as_u128();
    fitting.ended = Some(FittingEnd {
        removal: removal(number),
        at: day(on),
        airframe_usage: flown(usage),
        reason,
    });
    fitting
}

/// A new component, fitted when its airframe had 100 flights.
fn new_part(now: f64) -> Fitting {
    fitted(1, 0, 100.0, AgeWhenFitted::New, now)
}

fn said(number: u128, stay: u128, on: i64, usage: f64, discovery: Discovery) -> FailureEvent {
    FailureEvent {
        report: report(number),
        installation: installation(stay),
        at: day(on),
        airframe_usage: flown(usage),
        discovery,
        last_known_good: None,
        mode: mode(),
        role: FailureRole::Primary,
        severity: Severity::Critical,
    }
}

fn mode() -> FailureModeKey {
    FailureModeKey::new("tooth-shear").unwrap()
}

fn history(fittings: Vec<Fitting>, failures: Vec<FailureEvent>) -> ComponentHistory {
    ComponentHistory {
        component: ComponentId::from_uuid(Uuid::from_u128(9)),
        part_type: PartTypeKey::new("tail-belt").unwrap(),
        fittings,
        failures,
    }
}

fn life_of(fittings: Vec<Fitting>, failures: Vec<FailureEvent>) -> Life {
    let derivation = derive(&history(fittings, failures), WearScale::Flights);
    assert!(derivation.exclusion.is_none(), "{:?}", derivation.exclusion);
    derivation.life.unwrap()
}

fn exclusion_of(fittings: Vec<Fitting>, failures: Vec<FailureEvent>) -> ExclusionReason {
    let derivation = derive(&history(fittings, failures), WearScale::Flights);
    assert!(derivation.life.is_none(), "{:?}", derivation.life);
    derivation.exclusion.unwrap().reason
}
