//! From what happened to what the records say: some of it is never told, some told without reasons.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use crate::catalogue::Catalogue;
use crate::history::AgeWhenFitted;
use crate::ids::{
    AccountId, AirframeId, ComponentId, FailureReportId, InstallationId, PositionId, RemovalId,
};
use crate::keys::PartTypeKey;
use crate::units::Usage;
use crate::vocabulary::{Discovery, FailureCause, RemovalReason, Severity};

use super::draw::{chance, log_normal, minutes};
use super::fitting::Setting;
use super::log::{Effect, Ended, Failed, Fitted, Happening, Occasion, OccasionKind};
use super::logbook::Logbook;
use super::mint::bits;
use super::records::{DemoComponent, DemoFailure, DemoInstallation, DemoRemoval};
use super::scenario::Part;
use super::wear::Worn;

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

    /// Decided once per occasion.
    fn is_told(&mut self, ended: &Ended) -> bool {
        let Occasion { number, kind } = ended.occasion;
        if let Some(told) = self.told.get(&number) {
            return *told;
        }
        let told = kind == OccasionKind::WriteOff || {
            let never = self.share_never_told(ended);
            let reporting = &self.subject.setting.scenario.reporting;
            let delay = log_normal(
                self.random,
                reporting.delay_days_median,
                reporting.delay_days_log_sd,
            );
            let arrives = ended.at + minutes(delay * 24.0 * 60.0);
            !chance(self.random, never)
                && arrives.date_naive() <= self.subject.setting.scenario.period.data_cut
        };
        self.told.insert(number, told);
        told
    }

    fn share_never_told(&self, ended: &Ended) -> f64 {
        let scenario = self.subject.setting.scenario;
        if self.subject.setting.pilot.uses_shop_for_rebuild {
            return 1.0 - scenario.shop.records_complete;
        }
        let never = &scenario.reporting.never_reported;
        match ended.occasion.kind {
            OccasionKind::InFlightFailure => never.in_flight_failure,
            OccasionKind::PlannedRenewal => never.planned_renewal,
            OccasionKind::CrashDamage => never.crash_damage,
            OccasionKind::WriteOff => 0.0,
            OccasionKind::Finding => {
                let attention = &scenario.reporting.attention_after_notice;
                let since = ended.at.date_naive() - scenario.notice.issued;
                let noticed = self.part_type(ended.slot) == Some(&scenario.notice.part_type)
                    && since >= TimeDelta::zero()
                    && since < TimeDelta::weeks(i64::from(attention.weeks));
                let factor = if noticed { attention.factor } else { 1.0 };
                1.0 - ((1.0 - never.inspection_finding) * factor).min(1.0)
            }
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

    fn report(
        &mut self,
        slot: usize,
        failed: &Failed,
        (component, installation): (ComponentId, InstallationId),
        fitted_at: DateTime<Utc>,
    ) -> DemoFailure {
        let setting = self.subject.setting;
        let reporting = &setting.scenario.reporting;
        let habits = reporting.classes.get(&setting.pilot.reporting);
        let keeps_looks = chance(
            self.random,
            habits.map_or(0.0, |habits| habits.looks_recorded),
        );
        let knows_cause = chance(self.random, reporting.cause_recorded);
        let last_sound = self.last_sound.get(&slot).copied();
        let mode = self
            .part_type(slot)
            .and_then(|key| self.subject.catalogue.part_type(key))
            .and_then(|part| part.failure_mode(&failed.mode));
        DemoFailure {
            id: FailureReportId::from_parts(failed.at, bits(self.random)),
            component,
            installation,
            occurred_at: failed.at,
            discovery: failed.discovery,
            last_known_good_at: last_sound
                .filter(|_| keeps_looks && failed.discovery != Discovery::InFlight)
                .filter(|at| fitted_at < *at && *at < failed.at),
            mode: failed.mode.clone(),
            role: failed.role,
            cause: if knows_cause {
                failed.cause
            } else {
                FailureCause::Unknown
            },
            severity: match failed.effect {
                Effect::Crash => Severity::Catastrophic,
                Effect::ForcedLanding => Severity::Critical,
                Effect::CarriedOn => Severity::Marginal,
                Effect::SeenOnTheGround => mode.map_or(Severity::Marginal, |mode| mode.severity),
            },
            detail: detail(
                failed,
                mode.map_or(failed.mode.as_str(), |mode| mode.name.as_str()),
            ),
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

impl Worn {
    /// The same as a recorded usage, in whole flights and minutes.
    pub(super) fn to_usage(self) -> Option<Usage> {
        use crate::units::{FlightMinutes, Flights, RotorKiloRevolutions};
        Some(Usage {
            flights: Flights::new(self.flights.floor()).ok()?,
            flight_minutes: Some(FlightMinutes::new(self.minutes.floor()).ok()?),
            rotor_krev: Some(RotorKiloRevolutions::new(self.krev.floor()).ok()?),
        })
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

fn detail(failed: &Failed, mode: &str) -> String {
    let effect = match failed.effect {
        Effect::Crash => "Lost control or power and crashed.",
        Effect::ForcedLanding => "Landed at once, without damage.",
        Effect::CarriedOn => "Noticed in flight, landed normally.",
        Effect::SeenOnTheGround => match failed.discovery {
            Discovery::DefectFoundAtCheck => "Seen at a check before it failed.",
            Discovery::InFlight | Discovery::FoundFailedAtCheck => "Found failed on the ground.",
        },
    };
    format!("{mode}. {effect}")
}
