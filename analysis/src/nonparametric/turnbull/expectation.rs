//! The step of expectation and maximisation.

use super::state::{ALL_FAILED, State};
use crate::nonparametric::innermost::Support;
use crate::summation::Sum;

impl State {
    /// Shares every failure out over its run by the curve so far; the hazard of an interval is then failures over
    /// lives at risk. Lives that enter late need no ghosts.
    pub(super) fn expectation_step(&mut self, support: &Support) {
        let shared = if support.short_runs {
            self.shared_one_by_one(support)
        } else {
            self.shared_in_passing(support)
        };
        let fresh = shared
            .iter()
            .zip(&support.unfailed)
            .map(|((failing, yet_to_fail), unfailed)| {
                let passing = unfailed + (yet_to_fail - failing).max(0.0);
                // -ln(1 - failing / at risk), whether hardly anybody fails or hardly anybody is left.
                let gained = if passing > 0.0 {
                    (failing / passing).ln_1p()
                } else {
                    ALL_FAILED
                };
                gained.min(ALL_FAILED)
            })
            .collect();
        *self = Self::of(fresh, support);
    }

    /// Expected failures in each interval, and of those whose run covers it, the expected number still to fail at
    /// its beginning: every failure's share in every interval of its run.
    fn shared_one_by_one(&self, support: &Support) -> Vec<(f64, f64)> {
        let mut shared = vec![(0.0, 0.0); self.gained.len()];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            let scale = run.count as f64 / share;
            let place = |at: usize| self.before.get(at).copied().unwrap_or_default();
            let (start, end) = (place(run.start), place(run.end));
            let slots = shared.get_mut(run.start..run.end).unwrap_or_default();
            let gains = self.gained.get(run.start..run.end).unwrap_or_default();
            let befores = self.before.get(run.start..run.end).unwrap_or_default();
            let single = run.end == run.start + 1;
            for ((slot, gained), before) in slots.iter_mut().zip(gains).zip(befores) {
                let passed = (-before.less(&start)).exp();
                slot.0 += if single {
                    run.count as f64
                } else {
                    scale * passed * -(-gained).exp_m1()
                };
                slot.1 += if single {
                    run.count as f64
                } else {
                    scale * passed * -(-end.less(before)).exp_m1()
                };
            }
        }
        shared
    }

    /// The same for long runs, by running sums. They lose digits where counts differ by many orders.
    fn shared_in_passing(&self, support: &Support) -> Vec<(f64, f64)> {
        let m = self.gained.len();
        let (mut begun, mut ended) = (vec![0.0; m + 1], vec![0.0; m + 1]);
        let (mut starting, mut ending) = (vec![0_u64; m + 1], vec![0_u64; m + 1]);
        let mut alone = vec![0_u64; m + 1];
        for (run, share) in support.rows.iter().zip(&self.shares) {
            if run.end == run.start + 1 {
                if let Some(slot) = alone.get_mut(run.start) {
                    *slot += run.count;
                }
                continue;
            }
            let weight = run.count as f64 / share;
            for (slots, place, value) in [
                (&mut begun, run.start, weight),
                (&mut ended, run.end, weight * (1.0 - share)),
            ] {
                if let Some(slot) = slots.get_mut(place) {
                    *slot += value;
                }
            }
            for (slots, place) in [(&mut starting, run.start), (&mut ending, run.end)] {
                if let Some(slot) = slots.get_mut(place) {
                    *slot += run.count;
                }
            }
        }
        // The weight of the failures begun, relative to survival at the start of each interval.
        let mut alive = 0.0_f64;
        let mut yet_to_fail = Sum::default();
        let mut covering = 0_u64;
        let mut shared = Vec::with_capacity(m);
        let flows = begun.iter().zip(&ended).zip(starting.iter().zip(&ending));
        for (((begun, ended), (starting, ending)), (gained, alone)) in
            flows.zip(self.gained.iter().zip(&alone))
        {
            covering = (covering + starting).saturating_sub(*ending);
            alive = (alive - ended).max(0.0) + begun;
            yet_to_fail.add(*starting as f64);
            if covering == 0 {
                (alive, yet_to_fail) = (0.0, Sum::default());
            }
            let failing = alive * -(-gained).exp_m1();
            let alone = *alone as f64;
            shared.push((failing + alone, yet_to_fail.total().max(failing) + alone));
            yet_to_fail.add(-failing);
            alive *= (-gained).exp();
        }
        shared
    }
}
