//! One flight of an aircraft: wear, failures in the air, pilot error, and how it ends.

use rand::Rng;

use crate::vocabulary::{Discovery, FailureCause, FailureRole, RemovalReason};

use super::aircraft::Aircraft;
use super::draw::{chance, minutes};
use super::log::{Effect, Failed, Flight, Happening, OccasionKind};
use super::scenario::{Part, SeenAs};
use super::wear::{Threat, Worn};
use super::workshop::Job;

/// How a flight ended.
pub(super) enum Landing {
    Fine,
    /// No more flights today; these jobs wait.
    Broken(Vec<Job>),
    Crashed,
}

impl Aircraft<'_> {
    pub(super) fn fly(&mut self, flight: &Flight) -> Landing {
        self.log.push(Happening::Flew(flight.clone()));
        let once = Worn::of_flights(1.0, flight.minutes, flight.head_speed_rpm);
        for slot in &mut self.slots {
            slot.item.worn.add(once);
        }
        for flights in self.flights_since_check.values_mut() {
            *flights += 1;
        }
        self.fresh_flights = self.fresh_flights.saturating_add(1);
        let mut jobs = Vec::new();
        for index in 0..self.slots.len() {
            let Some((part, threat)) = self
                .slots
                .get(index)
                .and_then(|slot| Some((slot.part, slot.item.due()?.clone())))
            else {
                continue;
            };
            let effect = self.draw_effect(&threat);
            let failed = self.fail_in_flight(flight, &threat, effect);
            let job = Job {
                slot: index,
                kind: OccasionKind::InFlightFailure,
                reason: RemovalReason::Failed,
                failure: Some(failed),
            };
            if effect == Effect::Crash {
                jobs.push(job);
                self.crash(flight, jobs);
                return Landing::Crashed;
            }
            let unnoticed =
                effect == Effect::CarriedOn && part.failure_seen_as == SeenAs::InspectionFinding;
            if unnoticed {
                if let Some(slot) = self.slots.get_mut(index) {
                    slot.item.failed_unseen = Some(threat);
                }
            } else {
                let secondary = self.damage_others(part, &job);
                jobs.push(job);
                jobs.extend(secondary);
            }
        }
        if self.pilot_errs() || self.blades_strike_boom() {
            self.crash(flight, jobs);
            Landing::Crashed
        } else if jobs.is_empty() {
            Landing::Fine
        } else {
            Landing::Broken(jobs)
        }
    }

    /// A forced landing without power ends in a crash as often as the style of flying says.
    fn draw_effect(&mut self, threat: &Threat) -> Effect {
        let outcome = threat.outcome;
        if chance(self.random, outcome.crash) {
            return Effect::Crash;
        }
        let rest = outcome.forced_landing + outcome.carries_on;
        if rest > 0.0 && chance(self.random, outcome.carries_on / rest) {
            return Effect::CarriedOn;
        }
        if chance(self.random, self.setting.style.power_off_landing_ok) {
            Effect::ForcedLanding
        } else {
            Effect::Crash
        }
    }

    fn fail_in_flight(&mut self, flight: &Flight, threat: &Threat, effect: Effect) -> Failed {
        let share: f64 = self.random.random_range(0.1..0.95);
        Failed {
            at: flight.at + minutes(flight.minutes * share),
            mode: threat.mode.clone(),
            cause: threat.cause,
            role: FailureRole::Primary,
            discovery: Discovery::InFlight,
            effect,
        }
    }

    /// A part that fails in the air may take another with it.
    fn damage_others(&mut self, from: &Part, first: &Job) -> Vec<Job> {
        let Some(cause) = &first.failure else {
            return Vec::new();
        };
        let mut jobs = Vec::new();
        for rule in &self.setting.scenario.secondary_damage {
            if rule.from != from.part_type || !chance(self.random, rule.chance) {
                continue;
            }
            let hit = self
                .slots
                .iter()
                .position(|slot| slot.part.part_type == rule.to);
            jobs.extend(hit.map(|slot| Job {
                slot,
                kind: OccasionKind::InFlightFailure,
                reason: RemovalReason::SecondaryDamage,
                failure: Some(Failed {
                    mode: rule.mode.clone(),
                    cause: FailureCause::Use,
                    role: FailureRole::Secondary,
                    ..cause.clone()
                }),
            }));
        }
        jobs
    }

    fn pilot_errs(&mut self) -> bool {
        let rules = &self.setting.scenario.crash;
        let factor = if self.fresh_flights <= rules.first_flights {
            rules.first_flights_factor
        } else {
            1.0
        };
        chance(
            self.random,
            self.setting.style.pilot_error_per_flight * factor,
        )
    }

    fn blades_strike_boom(&mut self) -> bool {
        let wobble = &self.setting.scenario.damper_low_speed_wobble;
        let plan = self.setting.plan;
        wobble.designs.contains(&plan.design)
            && plan.head_speed_rpm < wobble.below_rpm
            && chance(self.random, wobble.wobble_per_flight * wobble.boom_strike)
    }
}
