//! What a crash does to an aircraft: broken parts, hidden damage, repair or the end.

use chrono::{DateTime, Days, TimeDelta, Utc};
use rand::Rng;

use crate::vocabulary::RemovalReason;

use super::aircraft::Aircraft;
use super::draw::{chance, log_normal, minutes, minutes_between};
use super::flying::local_clock;
use super::log::{Flight, OccasionKind};
use super::workshop::Job;

impl Aircraft<'_> {
    /// Ends the flight by impact. `failed` are the parts that lost their function in the air before it.
    pub(super) fn crash(&mut self, flight: &Flight, failed: Vec<Job>) {
        self.crashes += 1;
        self.fresh_flights = 0;
        let mut clock = flight.landed() + minutes_between(self.random, 20, 60);
        let by_part = !failed.is_empty();
        let broken = self.break_parts(failed);
        let written_off = chance(self.random, self.setting.scenario.crash.write_off);
        let kind = match (written_off, by_part) {
            (true, _) => OccasionKind::WriteOff,
            (false, true) => OccasionKind::InFlightFailure,
            (false, false) => OccasionKind::CrashDamage,
        };
        let occasion = self.next_occasion(kind);
        let out: Vec<usize> = broken.iter().map(|job| job.slot).collect();
        for job in broken {
            self.take_out(job, occasion, &mut clock);
        }
        if written_off {
            self.write_off(&out, occasion, &mut clock);
        } else {
            self.hide_damage(&out);
            self.repair(&out, clock);
        }
    }

    /// The failed parts, what broke in the impact, and what is renewed with it.
    fn break_parts(&mut self, failed: Vec<Job>) -> Vec<Job> {
        let mut jobs: Vec<Job> = Vec::new();
        for job in failed {
            if jobs.iter().all(|other| other.slot != job.slot) {
                jobs.push(job);
            }
        }
        let kind = OccasionKind::CrashDamage;
        for (slot, place) in self.slots.iter().enumerate() {
            let broken = chance(self.random, place.part.broken_in_crash);
            if broken && jobs.iter().all(|job| job.slot != slot) {
                jobs.push(Job {
                    slot,
                    kind,
                    reason: RemovalReason::CrashDamage,
                    failure: None,
                });
            }
        }
        let out: Vec<usize> = jobs.iter().map(|job| job.slot).collect();
        for slot in out {
            for mate in self.mates(slot) {
                if jobs.iter().all(|job| job.slot != mate) {
                    jobs.push(Job {
                        slot: mate,
                        kind,
                        reason: RemovalReason::Precaution,
                        failure: None,
                    });
                }
            }
        }
        jobs
    }

    fn write_off(
        &mut self,
        out: &[usize],
        occasion: super::log::Occasion,
        clock: &mut DateTime<Utc>,
    ) {
        for slot in 0..self.slots.len() {
            if !out.contains(&slot) {
                let reason = RemovalReason::WriteOff;
                self.take_out(
                    Job {
                        slot,
                        kind: occasion.kind,
                        reason,
                        failure: None,
                    },
                    occasion,
                    clock,
                );
            }
        }
        self.written_off_at = Some(*clock + TimeDelta::minutes(5));
    }

    /// Some parts that look sound will not last as they would have.
    fn hide_damage(&mut self, out: &[usize]) {
        let hidden = &self.setting.scenario.crash.hidden_damage;
        for (slot, place) in self.slots.iter_mut().enumerate() {
            let survivor =
                !out.contains(&slot) && hidden.part_types.contains(&place.part.part_type);
            if survivor && chance(self.random, hidden.share_of_survivors) {
                place.item.weaken(hidden.life_factor_after);
            }
        }
    }

    /// New parts go in on the evening of a later day; until then nobody flies.
    fn repair(&mut self, out: &[usize], crashed: DateTime<Utc>) {
        let rules = &self.setting.scenario.crash;
        let span = log_normal(
            self.random,
            rules.repair_days_median,
            rules.repair_days_log_sd,
        );
        let next_day = crashed.date_naive() + Days::new(1);
        let done_on = next_day.max((crashed + minutes(span.min(180.0) * 24.0 * 60.0)).date_naive());
        self.grounded_to = Some(done_on);
        if done_on > self.setting.scenario.period.end {
            return;
        }
        let mut clock = local_clock(self.setting, done_on, 18)
            + TimeDelta::minutes(self.random.random_range(0..60));
        let mut lots = std::collections::BTreeMap::new();
        for slot in out {
            let Some(part) = self.slots.get(*slot).map(|place| place.part) else {
                continue;
            };
            let lot = match lots.get(&part.part_type) {
                Some(lot) => Option::<String>::clone(lot),
                None => self.draw_lot(*slot, done_on),
            };
            lots.insert(&part.part_type, lot.clone());
            self.put_in(*slot, lot, &mut clock);
        }
    }
}
