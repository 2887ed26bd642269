//! Puts a component's rows and its airframes' ledgers together into the history that the rules read.

use super::store::{ComponentFacts, FailureFacts, StayFacts};
use crate::platform::http::problem::Problem;
use crate::usage::AirframeRecords;
use wearbook_domain::history::{
    AgeWhenFitted, ComponentHistory, FailureEvent, Fitting, FittingEnd,
};
use wearbook_domain::ids::{AirframeId, ComponentId, FailureReportId, InstallationId, RemovalId};
use wearbook_domain::units::{FlightMinutes, Flights, RotorKiloRevolutions, Usage};
use wearbook_domain::usage_ledger::LedgerWindow;

/// The whole history of one component.
///
/// # Errors
/// When a stored value breaks its rule, which is our fault.
pub fn history_of(
    component: &ComponentFacts,
    stays: &[StayFacts],
    failures: &[FailureFacts],
    ledgers: &AirframeRecords,
) -> Result<ComponentHistory, Problem> {
    let empty = wearbook_domain::usage_ledger::UsageLedger::default();
    let ledger = |stay: &StayFacts| ledgers.get(&stay.airframe_id).unwrap_or(&empty);
    let mut fittings = Vec::with_capacity(stays.len());
    let mut events = Vec::with_capacity(failures.len());
    for stay in stays {
        let window = ledger(stay).window(stay.fitted_at, stay.removed_at);
        fittings.push(fitting_of(stay, window, ledger(stay).last_at())?);
        for failure in failures
            .iter()
            .filter(|failure| failure.installation_id == stay.id)
        {
            events.push(event_of(failure, window)?);
        }
    }
    Ok(ComponentHistory {
        component: ComponentId::from_uuid(component.id),
        part_type: component.part_type_key.parse().map_err(Problem::internal)?,
        fittings,
        failures: events,
    })
}

fn fitting_of(
    stay: &StayFacts,
    window: LedgerWindow<'_>,
    last_record: Option<chrono::DateTime<chrono::Utc>>,
) -> Result<Fitting, Problem> {
    let now = last_record.map_or(stay.fitted_at, |last| last.max(stay.fitted_at));
    let ended = match (stay.removed_at, &stay.removal) {
        (Some(at), Some((removal, reason))) => Some(FittingEnd {
            removal: RemovalId::from_uuid(*removal),
            at,
            airframe_usage: window.at(at).map_err(Problem::internal)?,
            reason: reason.parse().map_err(Problem::internal)?,
        }),
        _ => None,
    };
    Ok(Fitting {
        installation: InstallationId::from_uuid(stay.id),
        airframe: AirframeId::from_uuid(stay.airframe_id),
        fitted_at: stay.fitted_at,
        age_when_fitted: age_of(stay)?,
        airframe_usage_when_fitted: window.at(stay.fitted_at).map_err(Problem::internal)?,
        ended,
        airframe_usage_now: window.at(now).map_err(Problem::internal)?,
    })
}

fn age_of(stay: &StayFacts) -> Result<AgeWhenFitted, Problem> {
    Ok(match (stay.age_basis.as_str(), stay.age_flights) {
        ("new", _) => AgeWhenFitted::New,
        ("carried-on", _) => AgeWhenFitted::CarriedOn,
        ("known", Some(flights)) => AgeWhenFitted::Known(Usage {
            flights: Flights::new(flights).map_err(Problem::internal)?,
            flight_minutes: stay
                .age_flight_minutes
                .map(FlightMinutes::new)
                .transpose()
                .map_err(Problem::internal)?,
            rotor_krev: stay
                .age_rotor_krev
                .map(RotorKiloRevolutions::new)
                .transpose()
                .map_err(Problem::internal)?,
        }),
        _ => AgeWhenFitted::Unknown,
    })
}

fn event_of(failure: &FailureFacts, window: LedgerWindow<'_>) -> Result<FailureEvent, Problem> {
    let good = failure
        .last_known_good_at
        .map(|at| window.at(at))
        .transpose()
        .map_err(Problem::internal)?;
    Ok(FailureEvent {
        report: FailureReportId::from_uuid(failure.id),
        installation: InstallationId::from_uuid(failure.installation_id),
        at: failure.occurred_at,
        airframe_usage: window.at(failure.occurred_at).map_err(Problem::internal)?,
        discovery: failure.discovery.parse().map_err(Problem::internal)?,
        last_known_good: good,
        mode: failure.mode_key.parse().map_err(Problem::internal)?,
        role: failure.role.parse().map_err(Problem::internal)?,
        severity: failure.severity.parse().map_err(Problem::internal)?,
    })
}
