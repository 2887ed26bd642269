//! Work on an aircraft: taking parts out and putting new ones in.

use chrono::{DateTime, NaiveDate, Utc};

use crate::vocabulary::RemovalReason;

use super::aircraft::Aircraft;
use super::draw::minutes_between;
use super::log::{Ended, Failed, Fitted, Happening, Occasion, OccasionKind};

/// A part that has to come out, and why.
pub(super) struct Job {
    pub slot: usize,
    pub kind: OccasionKind,
    pub reason: RemovalReason,
    pub failure: Option<Failed>,
}

impl Aircraft<'_> {
    /// Does the jobs one after the other; each position is worked on once, and parts of one bag go together.
    pub(super) fn work(&mut self, jobs: Vec<Job>, clock: &mut DateTime<Utc>) {
        let mut done = Vec::new();
        for job in jobs {
            if done.contains(&job.slot) {
                continue;
            }
            let occasion = self.next_occasion(job.kind);
            let mut together = vec![job.slot];
            together.extend(
                self.mates(job.slot)
                    .into_iter()
                    .filter(|slot| !done.contains(slot)),
            );
            let lot = self.draw_lot(job.slot, clock.date_naive());
            self.take_out(job, occasion, clock);
            for slot in together.iter().skip(1) {
                let reason = RemovalReason::Precaution;
                let mate = Job {
                    slot: *slot,
                    kind: occasion.kind,
                    reason,
                    failure: None,
                };
                self.take_out(mate, occasion, clock);
            }
            for slot in &together {
                self.put_in(*slot, lot.clone(), clock);
            }
            done.extend(together);
        }
    }

    pub(super) fn next_occasion(&mut self, kind: OccasionKind) -> Occasion {
        self.occasions += 1;
        Occasion {
            number: self.occasions,
            kind,
        }
    }

    /// The other positions that are renewed whenever this one is.
    pub(super) fn mates(&self, slot: usize) -> Vec<usize> {
        let Some(part) = self
            .slots
            .get(slot)
            .map(|slot| slot.part)
            .filter(|part| part.renewed_together)
        else {
            return Vec::new();
        };
        let same = self
            .slots
            .iter()
            .enumerate()
            .filter(|(_, other)| other.part.part_type == part.part_type);
        same.map(|(index, _)| index)
            .filter(|index| *index != slot)
            .collect()
    }

    pub(super) fn draw_lot(&mut self, slot: usize, day: NaiveDate) -> Option<String> {
        let part = self.slots.get(slot)?.part;
        self.setting.draw_lot(part, day, self.random)
    }

    pub(super) fn take_out(&mut self, job: Job, occasion: Occasion, clock: &mut DateTime<Utc>) {
        *clock += minutes_between(self.random, 2, 8);
        let Job {
            slot,
            reason,
            failure,
            ..
        } = job;
        self.log.push(Happening::Ended(Ended {
            at: *clock,
            slot,
            occasion,
            reason,
            failure,
        }));
    }

    pub(super) fn put_in(&mut self, slot: usize, lot: Option<String>, clock: &mut DateTime<Utc>) {
        *clock += minutes_between(self.random, 3, 14);
        if let Some(place) = self.slots.get_mut(slot) {
            place.item =
                self.setting
                    .draw_item(place.part, clock.date_naive(), lot.clone(), self.random);
            let worn = place.item.worn;
            self.log.push(Happening::Fitted(Fitted {
                at: *clock,
                slot,
                lot,
                worn,
            }));
        }
    }
}
