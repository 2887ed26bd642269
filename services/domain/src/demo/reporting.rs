//! From what happened to what the records say: some of it is never told, some told without reasons.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use crate::catalogue::Catalogue;
use crate::history::AgeWhenFitted;
use crate::ids::{AccountId, AirframeId, ComponentId, InstallationId, PositionId, RemovalId};
use crate::keys::PartTypeKey;
use crate::vocabulary::{Discovery, RemovalReason};

use super::draw::chance;
use super::fitting::Setting;
use super::log::{Ended, Fitted, Happening, OccasionKind};
use super::logbook::Logbook;
use super::mint::bits;
use super::records::{DemoComponent, DemoFailure, DemoInstallation, DemoRemoval};
use super::scenario::Part;
use super::wear::Worn;

mod report;
mod telling;

/// Whose records these are, and what they are about.
pub(super) struct Subject<'s> {
    pub setting: &'s Setting<'s>,
    pub catalogue: &'s Catalogue,
    pub airframe: AirframeId,
    pub owner: AccountId,
    pub parts: &'s [&'s Part],
    pub positions: &'s [PositionId],
    pub joined_at: DateTime<Utc>,
    /// Whether minutes and turns before joining were kept, and the ages of parts with them.
    pub history_known: bool,
}

/// Keeps the records of one airframe while its story is told.
pub(super) struct Recorder<'s> {
    subject: Subject<'s>,
    logbook: Logbook<'s>,
    random: &'s mut ChaCha8Rng,
    told: BTreeMap<u32, bool>,
    sitting: BTreeMap<usize, InstallationId>,
    last_sound: BTreeMap<usize, DateTime<Utc>>,
    installations: BTreeMap<InstallationId, DemoInstallation>,
    components: Vec<DemoComponent>,
    failures: Vec<DemoFailure>,
}

/// The records of one airframe.
pub(super) struct Recorded {
    pub flights: Vec<super::records::DemoFlights>,
    pub components: Vec<DemoComponent>,
    pub installations: Vec<DemoInstallation>,
    pub failures: Vec<DemoFailure>,
}

impl<'s> Recorder<'s> {
    pub(super) fn new(subject: Subject<'s>, random: &'s mut ChaCha8Rng) -> Self {
        let joined = subject.joined_at.date_naive();
        let logbook = Logbook::open(subject.setting, subject.airframe, joined, random);
        Self {
            subject,
            logbook,
            random,
            told: BTreeMap::new(),
            sitting: BTreeMap::new(),
            last_sound: BTreeMap::new(),
            installations: BTreeMap::new(),
            components: Vec::new(),
            failures: Vec::new(),
        }
    }

    /// Writes down the whole story, which is in order of time.
    pub(super) fn record(mut self, story: &[Happening]) -> Recorded {
        for (index, happening) in story.iter().enumerate() {
            match happening {
                Happening::Flew(flight) => {
                    let told =
                        self.next_report_is_about(story.get(index + 1..).unwrap_or_default());
                    self.logbook.take(flight, told, self.random);
                }
                Happening::FoundSound { at, slots } => {
                    self.last_sound
                        .extend(slots.iter().map(|slot| (*slot, *at)));
                }
                Happening::Ended(ended) => self.end(ended),
                Happening::Fitted(fitted) => self.fit(fitted),
            }
        }
        self.logbook.close_week(self.random);
        Recorded {
            flights: self.logbook.rows,
            components: self.components,
            installations: self.installations.into_values().collect(),
            failures: self.failures,
        }
    }

    /// Whether a failure in this very flight, the last before the next end, will be told.
    fn next_report_is_about(&mut self, rest: &[Happening]) -> bool {
        match rest.first() {
            Some(Happening::Ended(ended)) => {
                let in_flight = ended
                    .failure
                    .as_ref()
                    .is_some_and(|failed| failed.discovery == Discovery::InFlight);
                in_flight && self.is_told(ended)
            }
            _ => false,
        }
    }

    fn part_type(&self, slot: usize) -> Option<&'s PartTypeKey> {
        self.subject.parts.get(slot).map(|part| &part.part_type)
    }

    /// Closes the stay, if anybody tells; if not, the records run on with the item they know.
    fn end(&mut self, ended: &Ended) {
        if !self.is_told(ended) {
            return;
        }
        let Some(id) = self.sitting.remove(&ended.slot) else {
            return;
        };
        self.logbook.bring_up_to_date(self.random);
        let reporting = &self.subject.setting.scenario.reporting;
        let in_flight = ended.occasion.kind == OccasionKind::InFlightFailure
            || ended.occasion.kind == OccasionKind::WriteOff;
        let silent = !in_flight && chance(self.random, reporting.removal_cause_unknown);
        let reason = if silent {
            RemovalReason::Unknown
        } else {
            ended.reason
        };
        let removal = DemoRemoval {
            id: RemovalId::from_parts(ended.at, bits(self.random)),
            at: ended.at,
            reason,
            note: note(reason).to_owned(),
        };
        let Some(stay) = self.installations.get_mut(&id) else {
            return;
        };
        stay.removed = Some(removal);
        let (component, fitted_at) = (stay.component, stay.fitted_at);
        if let Some(failed) = ended.failure.as_ref().filter(|_| !silent) {
            let report = self.report(ended.slot, failed, (component, id), fitted_at);
            self.failures.push(report);
        }
    }

    fn fit(&mut self, fitted: &Fitted) {
        let (Some(part), Some(position)) = (
            self.subject.parts.get(fitted.slot).copied(),
            self.subject.positions.get(fitted.slot).copied(),
        ) else {
            return;
        };
        if self.sitting.contains_key(&fitted.slot) {
            return;
        }
        self.logbook.bring_up_to_date(self.random);
        let setting = self.subject.setting;
        let reporting = &setting.scenario.reporting;
        let component = ComponentId::from_parts(fitted.at, bits(self.random));
        let id = InstallationId::from_parts(fitted.at, bits(self.random));
        let number = self.random.random_range(10_000..100_000);
        let serial = chance(self.random, reporting.serial_recorded).then(|| format!("S{number}"));
        let lot_kept = chance(
            self.random,
            setting.scenario.bad_lot.lot_recorded_probability,
        );
        self.components.push(DemoComponent {
            id: component,
            owner: self.subject.owner,
            part_type: part.part_type.clone(),
            part_number: part.part_numbers.get(&setting.plan.design).cloned(),
            serial,
            lot: fitted.lot.clone().filter(|_| lot_kept),
        });
        let age_when_fitted = self.age(fitted);
        let stay = DemoInstallation {
            id,
            component,
            airframe: self.subject.airframe,
            position,
            fitted_at: fitted.at,
            age_when_fitted,
            removed: None,
        };
        self.installations.insert(id, stay);
        self.sitting.insert(fitted.slot, id);
    }

    fn age(&mut self, fitted: &Fitted) -> AgeWhenFitted {
        if fitted.worn == Worn::default() {
            return AgeWhenFitted::New;
        }
        let forgotten = chance(
            self.random,
            self.subject
                .setting
                .scenario
                .reporting
                .fit_date_unknown_at_join,
        );
        if forgotten || !self.subject.history_known {
            return AgeWhenFitted::Unknown;
        }
        fitted
            .worn
            .to_usage()
            .map_or(AgeWhenFitted::Unknown, AgeWhenFitted::Known)
    }
}

fn note(reason: RemovalReason) -> &'static str {
    match reason {
        RemovalReason::PlannedRenewal => "Renewed at its planned age.",
        RemovalReason::CrashDamage => "Broken in the crash.",
        RemovalReason::Precaution => "Looked sound; renewed to be on the careful side.",
        RemovalReason::SecondaryDamage => "Damaged by the failure of another part.",
        RemovalReason::WriteOff => "Helicopter given up.",
        _ => "",
    }
}
