//! Looking at an aircraft in the evening: what is noticed, what a check finds, what is due for renewal.

use chrono::{DateTime, TimeDelta, Utc};
use rand::seq::IndexedRandom;

use crate::vocabulary::{Discovery, FailureRole, RemovalReason};

use super::aircraft::Aircraft;
use super::draw::{chance, minutes_between};
use super::log::{Effect, Failed, Happening, OccasionKind};
use super::scenario::CheckGroup;
use super::wear::Threat;
use super::workshop::Job;

impl Aircraft<'_> {
    /// Everything that is looked at and renewed after a day of flying.
    pub(super) fn look_after(&mut self, clock: &mut DateTime<Utc>) {
        let jobs = self.notice_by_chance(*clock);
        self.work(jobs, clock);
        let jobs = self.settling_checks(clock);
        self.work(jobs, clock);
        for group in self.groups_due() {
            if chance(self.random, self.setting.style.check_rate) {
                let jobs = self.check(group, clock);
                self.work(jobs, clock);
            }
        }
        let jobs = self.renewals_due();
        self.work(jobs, clock);
    }

    /// A part that failed unnoticed may catch the eye without any check.
    fn notice_by_chance(&mut self, now: DateTime<Utc>) -> Vec<Job> {
        let share = self.setting.scenario.inspection.noticed_after_flight;
        let mut jobs = Vec::new();
        for (slot, place) in self.slots.iter().enumerate() {
            if let Some(threat) = &place.item.failed_unseen
                && chance(self.random, share)
            {
                jobs.push(finding(slot, threat, Discovery::FoundFailedAtCheck, now));
            }
        }
        jobs
    }

    /// A few flights after a fit somebody looks again, and mostly sees what was put together wrongly.
    fn settling_checks(&mut self, clock: &mut DateTime<Utc>) -> Vec<Job> {
        let catches = self.setting.scenario.settling_check.catches;
        let mut jobs = Vec::new();
        let mut sound = Vec::new();
        for (slot, place) in self.slots.iter_mut().enumerate() {
            let item = &mut place.item;
            if item
                .settling_check_at_flights
                .is_none_or(|at| item.worn.flights < at)
            {
                continue;
            }
            item.settling_check_at_flights = None;
            match item.nearest().filter(|threat| threat.from_assembly) {
                Some(threat) if chance(self.random, catches) => {
                    let discovery = discovery(item.failed_unseen.is_some());
                    jobs.push(finding(slot, threat, discovery, *clock));
                }
                _ => sound.push(slot),
            }
        }
        self.log_sound(sound, *clock);
        jobs
    }

    fn groups_due(&mut self) -> Vec<CheckGroup> {
        let intervals = &self.setting.scenario.inspection.interval_flights;
        let mut due = Vec::new();
        for (group, flights) in &mut self.flights_since_check {
            if intervals
                .get(group)
                .is_some_and(|interval| *flights >= *interval)
            {
                *flights = 0;
                due.push(*group);
            }
        }
        due
    }

    /// Looks at every part of the group; now and then a sound part is condemned.
    fn check(&mut self, group: CheckGroup, clock: &mut DateTime<Utc>) -> Vec<Job> {
        *clock += minutes_between(self.random, 8, 30);
        let inspection = &self.setting.scenario.inspection;
        let mut jobs = Vec::new();
        let mut sound = Vec::new();
        for (slot, place) in self.slots.iter().enumerate() {
            if place.part.check_group != group {
                continue;
            }
            let sees = inspection
                .detects_visible_defect
                .get(&place.part.look)
                .copied()
                .unwrap_or(0.0);
            let failed = place.item.failed_unseen.as_ref();
            match failed.or_else(|| place.item.visible()) {
                Some(threat) if chance(self.random, sees) => {
                    jobs.push(finding(slot, threat, discovery(failed.is_some()), *clock));
                }
                _ => sound.push(slot),
            }
        }
        if chance(self.random, inspection.false_alarm_per_check)
            && let Some(slot) = sound.choose(self.random).copied()
        {
            sound.retain(|other| *other != slot);
            let (kind, reason) = (OccasionKind::Finding, RemovalReason::Precaution);
            jobs.push(Job {
                slot,
                kind,
                reason,
                failure: None,
            });
        }
        self.log_sound(sound, *clock);
        jobs
    }

    fn log_sound(&mut self, slots: Vec<usize>, at: DateTime<Utc>) {
        if !slots.is_empty() {
            self.log.push(Happening::FoundSound { at, slots });
        }
    }

    fn renewals_due(&self) -> Vec<Job> {
        let (kind, reason) = (OccasionKind::PlannedRenewal, RemovalReason::PlannedRenewal);
        let due = self.slots.iter().enumerate().filter(|(_, place)| {
            place
                .item
                .renew_at_flights
                .is_some_and(|at| place.item.worn.flights >= at)
        });
        due.map(|(slot, _)| Job {
            slot,
            kind,
            reason,
            failure: None,
        })
        .collect()
    }
}

fn discovery(has_failed: bool) -> Discovery {
    if has_failed {
        Discovery::FoundFailedAtCheck
    } else {
        Discovery::DefectFoundAtCheck
    }
}

fn finding(slot: usize, threat: &Threat, discovery: Discovery, now: DateTime<Utc>) -> Job {
    let reason = match discovery {
        Discovery::DefectFoundAtCheck => RemovalReason::DefectFound,
        Discovery::InFlight | Discovery::FoundFailedAtCheck => RemovalReason::Failed,
    };
    let failure = Failed {
        at: now + TimeDelta::minutes(1),
        mode: threat.mode.clone(),
        cause: threat.cause,
        role: FailureRole::Primary,
        discovery,
        effect: Effect::SeenOnTheGround,
    };
    Job {
        slot,
        kind: OccasionKind::Finding,
        reason,
        failure: Some(failure),
    }
}
