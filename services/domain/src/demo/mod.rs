//! An invented fleet: people, helicopters, three years of flying, and the records they left.
//!
//! Two layers. First what truly happened: flights that cluster, items with drawn lives, checks that see or miss a
//! defect, crashes and their damage, a bad lot, a notice that helps, a new mode of failure in the last year. Then
//! what people wrote down of it: flights missing or rounded, events never told, reasons and ages not known. Where an
//! event is never told the records run on with the item they know, so recorded lives are somewhat too long, as
//! they are in life. [`DemoFleet::truth`] holds the true counts beside it.
//!
//! The fleet follows from the seed alone. Each pilot and each aircraft has streams of random numbers of its own, so
//! that a change to one leaves the others as they were.
//!
//! Flight packs take turns: an aircraft has three, one of which flies at a time. Their stays are recorded like any
//! other, so their lives on the scale of flights count the flights of the aircraft, three for each charge of one pack.
//!
//! Part of the flights lost to a broken aircraft are flown later. A written-off aircraft is replaced by one of the same
//! design three weeks later. Dampers come two from a bag and are renewed together; the sound one then leaves as a
//! precaution. A fault of assembly is recorded under the mode of the catalogue that comes closest, with its cause.
//!
//! Left out of the reporting layer: reports sent twice, reports that name the wrong part type or position, clocks that
//! are wrong. Every wobble that does not end in a boom strike passes without a record. Everything here is invented.

use crate::catalogue::Catalogue;

mod aircraft;
mod crash;
mod draw;
mod fitting;
mod flight;
mod flying;
mod inspection;
mod log;
mod logbook;
mod mint;
mod people;
mod records;
mod reporting;
mod scenario;
mod story;
mod streams;
#[cfg(test)]
mod tests;
mod truth;
mod wear;
mod workshop;

pub use records::{
    DemoAccount, DemoAirframe, DemoComponent, DemoDesign, DemoFailure, DemoFleet, DemoFlights,
    DemoInstallation, DemoMembership, DemoOrganisation, DemoPosition, DemoReading, DemoRemoval,
    DemoRole, Drive, DurationBasis,
};
pub use scenario::Scenario;
pub use truth::{PartTruth, Truth};

/// Makes the fleet; the same scenario and catalogue give the same fleet, to the last identifier.
///
/// An aircraft whose owner, style or design the scenario does not name is left out.
#[must_use]
pub fn generate(scenario: &Scenario, catalogue: &Catalogue) -> DemoFleet {
    let mut fleet = DemoFleet {
        notice: scenario.notice_to_reader.clone(),
        organisations: Vec::new(),
        accounts: Vec::new(),
        memberships: Vec::new(),
        designs: Vec::new(),
        positions: Vec::new(),
        airframes: Vec::new(),
        readings: Vec::new(),
        flights: Vec::new(),
        components: Vec::new(),
        installations: Vec::new(),
        failures: Vec::new(),
        truth: Truth::default(),
    };
    let directory = people::settle(scenario, &mut fleet);
    for (number, plan) in (0_u32..).zip(&scenario.aircraft) {
        if let Some(setting) = story::set(scenario, plan, number) {
            story::tell(&setting, catalogue, &directory, number, &mut fleet);
        }
    }
    sort(&mut fleet);
    fleet
}

/// By time, then by identifier; identifiers begin with the time of the event.
fn sort(fleet: &mut DemoFleet) {
    fleet.airframes.sort_by_key(|row| row.id);
    fleet.readings.sort_by_key(|row| row.id);
    fleet.flights.sort_by_key(|row| row.id);
    fleet.components.sort_by_key(|row| row.id);
    fleet.installations.sort_by_key(|row| row.id);
    fleet.failures.sort_by_key(|row| row.id);
}
