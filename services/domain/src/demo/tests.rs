//! What holds for the invented fleet, whatever the seed drew.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::LazyLock;

use chrono::{DateTime, Utc};

use crate::catalogue::catalogue;
use crate::history::AgeWhenFitted;
use crate::vocabulary::{Discovery, FailureRole, RemovalReason};

use super::{DemoFleet, DemoInstallation, DurationBasis, Scenario, generate};

static FLEET: LazyLock<DemoFleet> = LazyLock::new(|| generate(Scenario::embedded(), catalogue()));

fn end(stay: &DemoInstallation) -> DateTime<Utc> {
    stay.removed
        .as_ref()
        .map_or(DateTime::<Utc>::MAX_UTC, |removal| removal.at)
}

fn assert_no_overlap<K: std::hash::Hash + Eq>(key: impl Fn(&DemoInstallation) -> K) {
    let mut by_key: HashMap<K, Vec<&DemoInstallation>> = HashMap::new();
    for stay in &FLEET.installations {
        by_key.entry(key(stay)).or_default().push(stay);
    }
    for stays in by_key.values_mut() {
        stays.sort_by_key(|stay| stay.fitted_at);
        for pair in stays.windows(2) {
            assert!(
                end(pair[0]) < pair[1].fitted_at,
                "{:?} and {:?}",
                pair[0],
                pair[1]
            );
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_fleet_to_the_last_identifier() {
    let again = generate(Scenario::embedded(), catalogue());
    assert!(*FLEET == again, "two runs differ");
}

#[test]
fn another_seed_gives_another_fleet() {
    let mut other = Scenario::embedded().clone();
    other.seed += 1;
    assert!(*FLEET != generate(&other, catalogue()));
}

#[test]
fn a_change_to_one_aircraft_leaves_the_others_as_they_were() {
    let mut edited = Scenario::embedded().clone();
    edited.aircraft[0].head_speed_rpm += 100.0;
    let edited = generate(&edited, catalogue());
    let changed: Vec<_> = FLEET
        .airframes
        .iter()
        .filter(|row| row.name.starts_with("Aircraft 001"))
        .collect();
    let others = |fleet: &DemoFleet| {
        let rows = fleet
            .flights
            .iter()
            .filter(|row| changed.iter().all(|one| one.id != row.airframe));
        rows.cloned().collect::<Vec<_>>()
    };
    assert!(!changed.is_empty());
    assert_eq!(others(&FLEET), others(&edited));
}

#[test]
fn the_fleet_says_that_it_is_invented() {
    assert!(FLEET.notice.contains("invented"));
}

#[test]
fn clubs_shop_pilots_and_aircraft_are_all_there() {
    assert_eq!(FLEET.organisations.len(), 3);
    assert_eq!(
        FLEET
            .accounts
            .iter()
            .filter(|row| row.name.starts_with("Pilot "))
            .count(),
        60
    );
    assert_eq!(FLEET.designs.len(), 4);
    let first = FLEET
        .airframes
        .iter()
        .filter(|row| row.name.split(' ').count() == 2);
    assert_eq!(first.count(), 87);
    let replaced = FLEET.airframes.len() - 87;
    assert!(replaced <= usize::try_from(FLEET.truth.written_off).unwrap());
}

#[test]
fn identifiers_are_unique_within_their_list() {
    fn unique<T: std::hash::Hash + Eq>(ids: impl Iterator<Item = T>) -> bool {
        let mut seen = HashSet::new();
        ids.into_iter().all(|id| seen.insert(id))
    }
    assert!(unique(FLEET.accounts.iter().map(|row| row.id)));
    assert!(unique(FLEET.positions.iter().map(|row| row.id)));
    assert!(unique(
        FLEET
            .positions
            .iter()
            .map(|row| (row.design, row.key.clone()))
    ));
    assert!(unique(FLEET.airframes.iter().map(|row| row.id)));
    assert!(unique(FLEET.flights.iter().map(|row| row.id)));
    assert!(unique(FLEET.components.iter().map(|row| row.id)));
    assert!(unique(FLEET.installations.iter().map(|row| row.id)));
    assert!(unique(
        FLEET
            .installations
            .iter()
            .filter_map(|row| Some(row.removed.as_ref()?.id))
    ));
    assert!(unique(FLEET.failures.iter().map(|row| row.id)));
}

#[test]
fn a_position_never_holds_two_components_at_once() {
    assert_no_overlap(|stay| (stay.airframe, stay.position));
}

#[test]
fn a_component_never_sits_in_two_places_at_once() {
    assert_no_overlap(|stay| stay.component);
}

#[test]
fn a_component_sits_where_its_part_type_belongs() {
    let part_of: HashMap<_, _> = FLEET
        .components
        .iter()
        .map(|row| (row.id, &row.part_type))
        .collect();
    let positions: HashMap<_, _> = FLEET.positions.iter().map(|row| (row.id, row)).collect();
    let design: HashMap<_, _> = FLEET
        .airframes
        .iter()
        .map(|row| (row.id, row.design))
        .collect();
    for stay in &FLEET.installations {
        let position = positions[&stay.position];
        assert_eq!(part_of[&stay.component], &position.part_type);
        assert_eq!(design[&stay.airframe], position.design);
    }
}

#[test]
fn the_times_of_a_stay_are_in_order() {
    let airframes: HashMap<_, _> = FLEET.airframes.iter().map(|row| (row.id, row)).collect();
    for stay in &FLEET.installations {
        let airframe = airframes[&stay.airframe];
        assert!(stay.fitted_at >= airframe.joined_at);
        assert!(end(stay) > stay.fitted_at);
        if let Some(gone) = airframe.written_off_at {
            assert!(end(stay) <= gone, "{stay:?} outlives its airframe");
        }
    }
}

#[test]
fn a_failure_lies_within_its_stay_and_after_the_last_clean_look() {
    let stays: HashMap<_, _> = FLEET
        .installations
        .iter()
        .map(|row| (row.id, row))
        .collect();
    for failure in &FLEET.failures {
        let stay = stays[&failure.installation];
        assert_eq!(stay.component, failure.component);
        assert!(
            stay.fitted_at < failure.occurred_at && failure.occurred_at <= end(stay),
            "{failure:?}"
        );
        if let Some(looked) = failure.last_known_good_at {
            assert!(stay.fitted_at < looked && looked < failure.occurred_at);
            assert_ne!(failure.discovery, Discovery::InFlight);
        }
    }
}

#[test]
fn a_failure_and_the_removal_after_it_tell_the_same_story() {
    let stays: HashMap<_, _> = FLEET
        .installations
        .iter()
        .map(|row| (row.id, row))
        .collect();
    for failure in &FLEET.failures {
        let expected = match (failure.role, failure.discovery) {
            (FailureRole::Secondary, _) => RemovalReason::SecondaryDamage,
            (FailureRole::Primary, Discovery::DefectFoundAtCheck) => RemovalReason::DefectFound,
            (FailureRole::Primary, _) => RemovalReason::Failed,
        };
        assert_eq!(
            stays[&failure.installation]
                .removed
                .as_ref()
                .unwrap()
                .reason,
            expected
        );
    }
}

#[test]
fn every_failure_has_a_mode_that_the_catalogue_knows_for_its_part() {
    let part_of: HashMap<_, _> = FLEET
        .components
        .iter()
        .map(|row| (row.id, &row.part_type))
        .collect();
    for failure in &FLEET.failures {
        let part = catalogue().part_type(part_of[&failure.component]).unwrap();
        assert!(
            part.failure_mode(&failure.mode).is_some(),
            "{}: {}",
            part.key,
            failure.mode
        );
    }
}

#[test]
fn about_as_many_flights_are_flown_as_the_scenario_expects() {
    let expected = f64::from(Scenario::embedded().expected_total_flights_3y);
    let flown = f64::from(FLEET.truth.flights);
    assert!(
        (flown / expected - 1.0).abs() < 0.1,
        "{flown} against {expected}"
    );
    let recorded: u32 = FLEET.flights.iter().map(|row| row.count).sum();
    let share = f64::from(recorded) / flown;
    assert!(
        (0.85..1.0).contains(&share),
        "{share} of the flights are recorded"
    );
}

#[test]
fn failures_and_findings_of_every_part_type_are_of_the_expected_order() {
    for (part, expected) in Scenario::embedded().expected_events() {
        let truth = FLEET.truth.parts[part];
        let ratio = f64::from(truth.events()) / f64::from(expected);
        assert!(
            (1.0 / 3.0..3.0).contains(&ratio),
            "{part}: {} against {expected}",
            truth.events()
        );
    }
}

#[test]
fn every_part_type_of_the_scenario_has_stays_that_ended_and_stays_that_go_on() {
    let part_of: HashMap<_, _> = FLEET
        .components
        .iter()
        .map(|row| (row.id, &row.part_type))
        .collect();
    let mut ended: BTreeMap<_, [u32; 2]> = BTreeMap::new();
    for stay in &FLEET.installations {
        let counts = ended.entry(part_of[&stay.component]).or_default();
        counts[usize::from(stay.removed.is_some())] += 1;
    }
    for (part, _) in Scenario::embedded().expected_events() {
        assert!(ended[part].iter().all(|count| *count > 0), "{part}");
    }
}

#[test]
fn flights_lie_between_joining_and_the_end_and_always_add_usage() {
    let airframes: HashMap<_, _> = FLEET.airframes.iter().map(|row| (row.id, row)).collect();
    for row in &FLEET.flights {
        let airframe = airframes[&row.airframe];
        assert!(
            row.count >= 1 && row.duration_minutes.get() > 0.0,
            "{row:?}"
        );
        assert!(row.flown_at > airframe.joined_at);
        assert!(row.flown_at.date_naive() <= Scenario::embedded().last_day());
        assert!(
            airframe
                .written_off_at
                .is_none_or(|gone| row.flown_at < gone)
        );
    }
}

#[test]
fn nothing_lies_after_the_data_cut() {
    let cut = Scenario::embedded().data_cut();
    for stay in &FLEET.installations {
        assert!(stay.fitted_at.date_naive() <= cut);
        assert!(
            stay.removed
                .as_ref()
                .is_none_or(|removal| removal.at.date_naive() <= cut)
        );
    }
}

#[test]
fn only_aircraft_that_had_flown_before_bring_a_reading_and_used_parts() {
    let with_reading: HashSet<_> = FLEET.readings.iter().map(|row| row.airframe).collect();
    let readings: HashMap<_, _> = FLEET
        .readings
        .iter()
        .map(|row| (row.airframe, row.usage))
        .collect();
    for stay in &FLEET.installations {
        match stay.age_when_fitted {
            AgeWhenFitted::New => {}
            AgeWhenFitted::Unknown => assert!(with_reading.contains(&stay.airframe)),
            AgeWhenFitted::Known(age) => {
                assert!(age.flights.get() <= readings[&stay.airframe].flights.get());
            }
            AgeWhenFitted::CarriedOn => panic!("no component of the fleet moves"),
        }
    }
}

#[test]
fn minutes_are_partly_logged_and_partly_estimated() {
    let logged = FLEET
        .flights
        .iter()
        .filter(|row| row.duration_basis == DurationBasis::Logged)
        .count();
    let share = f64::from(u32::try_from(logged).unwrap())
        / f64::from(u32::try_from(FLEET.flights.len()).unwrap());
    assert!((0.7..0.8).contains(&share), "{share}");
}

#[test]
fn when_everything_is_told_the_records_hold_every_true_event() {
    let mut honest = Scenario::embedded().clone();
    honest.reporting.never_reported.in_flight_failure = 0.0;
    honest.reporting.never_reported.inspection_finding = 0.0;
    honest.reporting.never_reported.planned_renewal = 0.0;
    honest.reporting.never_reported.crash_damage = 0.0;
    honest.reporting.removal_cause_unknown = 0.0;
    honest.reporting.delay_days_median = 0.0;
    honest.shop.records_complete = 1.0;
    let fleet = generate(&honest, catalogue());
    let told = fleet
        .failures
        .iter()
        .filter(|row| row.role == FailureRole::Primary)
        .count();
    let true_events: u32 = fleet
        .truth
        .parts
        .values()
        .map(super::PartTruth::events)
        .sum();
    assert_eq!(told, usize::try_from(true_events).unwrap());
    let items: u32 = fleet.truth.parts.values().map(|part| part.items).sum();
    assert_eq!(fleet.components.len(), usize::try_from(items).unwrap());
}

#[test]
fn a_failure_in_flight_always_has_a_flight_behind_it() {
    let airframe: HashMap<_, _> = FLEET
        .installations
        .iter()
        .map(|row| (row.id, row))
        .collect();
    for failure in FLEET
        .failures
        .iter()
        .filter(|row| row.discovery == Discovery::InFlight)
    {
        let stay = airframe[&failure.installation];
        let flown = FLEET.flights.iter().any(|row| {
            row.airframe == stay.airframe
                && row.flown_at > stay.fitted_at
                && row.flown_at <= failure.occurred_at
        });
        assert!(flown, "{failure:?}");
    }
}
