//! The story of one aircraft from the plan to the rows, and of those that replace it.

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::catalogue::Catalogue;
use crate::ids::{AirframeId, ReadingId};
use crate::units::{Flights, Rpm, Usage};

use super::aircraft::Aircraft;
use super::draw::{chance, exponential, minutes};
use super::fitting::Setting;
use super::people::{Directory, morning, parts_of};
use super::records::{DemoAirframe, DemoFleet, DemoReading};
use super::reporting::{Recorder, Subject};
use super::scenario::{AircraftPlan, Scenario};
use super::streams::Stream;
use super::wear::Worn;
use super::{flying, mint};

/// What bears on one aircraft; habits of the pilot are the same on all of the pilot's aircraft.
pub(super) fn set<'s>(
    scenario: &'s Scenario,
    plan: &'s AircraftPlan,
    number: u32,
) -> Option<Setting<'s>> {
    let (row, pilot) = (0_u32..)
        .zip(&scenario.pilots)
        .find(|(_, pilot)| pilot.name == plan.owner)?;
    let style = scenario.styles.get(&pilot.style)?;
    let mut random = Stream::Pilot(row).open(scenario.seed);
    let notice = &scenario.notice;
    let follows = chance(&mut random, notice.followed_share);
    let lag = exponential(&mut random, notice.uptake_lag_days_mean);
    let greases = chance(&mut random, scenario.grease.compliance);
    let emerging = &scenario.emerging_mode;
    let carries = chance(
        &mut Stream::Emerging(number).open(scenario.seed),
        emerging.affects_share_of_design_aircraft,
    );
    Some(Setting {
        scenario,
        plan,
        pilot,
        style,
        dust: scenario
            .clubs
            .iter()
            .find(|club| club.key == pilot.club)
            .map_or(1.0, |club| club.dust_factor_bearings),
        follows_notice_from: follows
            .then(|| (morning(notice.issued) + minutes(lag * 24.0 * 60.0)).date_naive()),
        greases,
        carries_emerging: carries && emerging.designs.contains(&plan.design),
    })
}

/// The second and later aircraft of one row draw from streams of their own.
const GENERATION: u32 = 1000;

/// Tells the story of one aircraft, and of those that replace it when it is written off.
pub(super) fn tell(
    setting: &Setting<'_>,
    catalogue: &Catalogue,
    directory: &Directory,
    row: u32,
    fleet: &mut DemoFleet,
) {
    let mut joined = setting.pilot.joins.max(setting.scenario.period.start);
    for (generation, ordinal) in (0_u32..).zip(["", " second", " third", " fourth"]) {
        let number = row + generation * GENERATION;
        let before = if generation == 0 {
            setting.plan.flights_before_joining
        } else {
            0
        };
        let name = format!("{}{ordinal}", setting.plan.name);
        let one = Chapter {
            setting,
            catalogue,
            directory,
            number,
            before,
            name,
            joined,
        };
        match one.tell(fleet) {
            Some(written_off_at) => joined = written_off_at.date_naive() + Days::new(21),
            None => break,
        }
        if joined >= setting.scenario.period.end {
            break;
        }
    }
}

/// One airframe from joining to the end of the period or to its own.
struct Chapter<'s> {
    setting: &'s Setting<'s>,
    catalogue: &'s Catalogue,
    directory: &'s Directory,
    number: u32,
    before: u32,
    name: String,
    joined: NaiveDate,
}

impl Chapter<'_> {
    /// Adds its rows to the fleet; returns when it was written off, if it was.
    fn tell(&self, fleet: &mut DemoFleet) -> Option<DateTime<Utc>> {
        let (setting, plan) = (self.setting, self.setting.plan);
        let (scenario, joined_at) = (setting.scenario, morning(self.joined));
        let owner = *self.directory.accounts.get(&plan.owner)?;
        let design = *self.directory.designs.get(&plan.design)?;
        let usual_head_speed_rpm = Rpm::new(plan.head_speed_rpm).ok()?;
        let parts = parts_of(scenario, &plan.design);
        let days = flying::days(
            setting,
            self.joined,
            &mut Stream::Flying(self.number).open(scenario.seed),
        );
        let mut wear = Stream::Wear(self.number).open(scenario.seed);
        let mut aircraft = Aircraft::new(setting, &parts, joined_at, self.before, &mut wear);
        aircraft.live_through(&days);
        fleet.truth.crashes += aircraft.crashes;
        let (story, written_off_at) = (aircraft.log, aircraft.written_off_at);
        for happening in &story {
            fleet.truth.count(&parts, happening);
        }
        fleet.truth.written_off += u32::from(written_off_at.is_some());

        let mut random = Stream::Reporting(self.number).open(scenario.seed);
        let airframe = AirframeId::from_parts(joined_at, mint::bits(&mut random));
        let name = self.name.clone();
        fleet.airframes.push(DemoAirframe {
            id: airframe,
            owner,
            design,
            name,
            usual_head_speed_rpm,
            joined_at,
            written_off_at,
        });
        if let Some(usage) = self.usage_before() {
            let id = ReadingId::from_parts(joined_at, mint::bits(&mut random));
            fleet.readings.push(DemoReading {
                id,
                airframe,
                read_at: joined_at,
                usage,
            });
        }
        let subject = Subject {
            setting,
            catalogue: self.catalogue,
            airframe,
            owner,
            parts: &parts,
            positions: self.directory.positions.get(&plan.design)?,
            joined_at,
            history_known: plan.history_before_joining_known,
        };
        let recorded = Recorder::new(subject, &mut random).record(&story);
        fleet.flights.extend(recorded.flights);
        fleet.components.extend(recorded.components);
        fleet.installations.extend(recorded.installations);
        fleet.failures.extend(recorded.failures);
        written_off_at
    }

    /// What an aircraft that has flown before shows on the day it joins.
    fn usage_before(&self) -> Option<Usage> {
        let (plan, style) = (self.setting.plan, self.setting.style);
        let flights = f64::from(self.before);
        if self.before == 0 {
            None
        } else if plan.history_before_joining_known {
            Worn::of_flights(flights, style.minutes_mean, plan.head_speed_rpm).to_usage()
        } else {
            Flights::new(flights).ok().map(Usage::flights_only)
        }
    }
}
