//! The people, their clubs and shop, and the designs with their positions.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};

use crate::ids::{AccountId, DesignId, OrganisationId, PositionId};
use crate::keys::DesignKey;
use crate::vocabulary::OrganisationKind;

use super::mint::bits;
use super::records::{
    DemoAccount, DemoDesign, DemoFleet, DemoMembership, DemoOrganisation, DemoPosition, DemoRole,
};
use super::scenario::{Part, Scenario};
use super::streams::Stream;

/// Where the rows of pilots and designs went, for those that point to them.
#[derive(Debug, Default)]
pub(super) struct Directory {
    pub accounts: BTreeMap<String, AccountId>,
    organisations: BTreeMap<String, OrganisationId>,
    pub designs: BTreeMap<DesignKey, DesignId>,
    /// The positions of a design in the order of [`parts_of`].
    pub positions: BTreeMap<DesignKey, Vec<PositionId>>,
}

/// Six in the morning, universal time: before anybody flies.
pub(super) fn morning(day: NaiveDate) -> DateTime<Utc> {
    day.and_time(NaiveTime::MIN).and_utc() + chrono::TimeDelta::hours(6)
}

/// The part that sits in each position of a design, in the order of its positions.
pub(super) fn parts_of<'s>(scenario: &'s Scenario, design: &DesignKey) -> Vec<&'s Part> {
    let mut parts = Vec::new();
    for part in scenario
        .parts
        .iter()
        .filter(|part| !part.absent_on_designs.contains(design))
    {
        parts.extend((0..part.per_aircraft).map(|_| part));
    }
    parts
}

/// Adds everybody and every design to the fleet.
pub(super) fn settle(scenario: &Scenario, fleet: &mut DemoFleet) -> Directory {
    let mut random = Stream::People.open(scenario.seed);
    let mut directory = Directory::default();
    let start = morning(scenario.period.start);
    let clubs = scenario
        .clubs
        .iter()
        .map(|club| (&club.key, &club.name, OrganisationKind::Club));
    let shop = (
        &scenario.shop.key,
        &scenario.shop.name,
        OrganisationKind::Shop,
    );
    for (key, name, kind) in clubs.chain([shop]) {
        let id = OrganisationId::from_parts(start, bits(&mut random));
        directory.organisations.insert(key.clone(), id);
        let (key, name) = (key.clone(), name.clone());
        fleet.organisations.push(DemoOrganisation {
            id,
            key,
            name,
            kind,
            since: start,
        });
    }
    for (name, organisation, role, since) in people(scenario) {
        let since = morning(since);
        let id = AccountId::from_parts(since, bits(&mut random));
        directory.accounts.insert(name.to_owned(), id);
        fleet.accounts.push(DemoAccount {
            id,
            name: name.to_owned(),
            role,
            since,
        });
        if let Some(organisation) = organisation
            .and_then(|key| directory.organisations.get(key))
            .copied()
        {
            fleet.memberships.push(DemoMembership {
                account: id,
                organisation,
                role,
                since,
            });
        }
    }
    for design in &scenario.designs {
        let id = DesignId::from_parts(start, bits(&mut random));
        directory.designs.insert(design.key.clone(), id);
        fleet.designs.push(DemoDesign {
            id,
            key: design.key.clone(),
            name: design.name.clone(),
            rotor_class_mm: design.rotor_class_mm,
            drive: design.drive,
            first_sold: design.first_sold,
        });
        let mut ids = Vec::new();
        let mut number = 0;
        let mut previous = None;
        for part in parts_of(scenario, &design.key) {
            number = if previous == Some(&part.part_type) {
                number + 1
            } else {
                1
            };
            previous = Some(&part.part_type);
            let position = position(
                part,
                number,
                id,
                PositionId::from_parts(start, bits(&mut random)),
            );
            ids.push(position.id);
            fleet.positions.push(position);
        }
        directory.positions.insert(design.key.clone(), ids);
    }
    directory
}

type Person<'s> = (&'s str, Option<&'s str>, DemoRole, NaiveDate);

fn people(scenario: &Scenario) -> Vec<Person<'_>> {
    let start = scenario.period.start;
    let mut people: Vec<Person<'_>> = Vec::new();
    for person in &scenario.staff {
        people.push((
            &person.name,
            person.works_for.as_deref(),
            person.role,
            start,
        ));
    }
    for name in &scenario.shop.technicians {
        people.push((name, Some(&scenario.shop.key), DemoRole::Technician, start));
    }
    for pilot in &scenario.pilots {
        people.push((&pilot.name, Some(&pilot.club), DemoRole::Pilot, pilot.joins));
    }
    people
}

fn position(part: &Part, number: u32, design: DesignId, id: PositionId) -> DemoPosition {
    let key = part.part_type.as_str();
    let (key, name) = if part.per_aircraft > 1 {
        (
            format!("{key}-{number}"),
            format!("{} {number}", key.replace('-', " ")),
        )
    } else {
        (key.to_owned(), key.replace('-', " "))
    };
    DemoPosition {
        id,
        design,
        key,
        name,
        part_type: part.part_type.clone(),
    }
}
