//! For how long every life would have been watched: what is left to chance in how a sample came about.

use crate::fitting::likelihood::{Member, gain};
use crate::fitting::rows::Stretch;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::summation::Sum;

/// Windows of watching, with the number of lives in each.
///
/// A survivor shows its window. That of a failure is not seen past the failure; its share goes in equal parts to
/// the lives that end later (Efron 1967, redistribution to the right).
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    windows: Vec<(f64, Stretch)>,
    /// Lives that would have been watched until they failed.
    open: f64,
}

impl Plan {
    pub(crate) fn new(sample: &Sample, centre: f64) -> Self {
        let mut ends: Vec<(f64, bool, f64, f64)> = sample
            .observations()
            .iter()
            .map(|row| {
                let failed = row.ending() != Ending::RightCensored;
                let end = if failed { row.upper } else { row.lower };
                (end, !failed, row.entry, row.count as f64)
            })
            .collect();
        let failures: f64 = sample.failures() as f64;
        // Failures come before survivors at the same usage.
        ends.sort_by(|a, b| {
            a.0.total_cmp(&b.0)
                .then(a.1.cmp(&b.1))
                .then(a.2.total_cmp(&b.2))
        });
        if stopped_at_failures(&ends) {
            return Self {
                windows: Vec::new(),
                open: failures,
            };
        }
        let mut left: f64 = ends.iter().map(|end| end.3).sum();
        let mut weight = 1.0;
        let mut plan = Self {
            windows: Vec::new(),
            open: 0.0,
        };
        for (end, survived, entry, count) in ends {
            if survived {
                if let Some(stretch) = Stretch::new(entry, end, centre) {
                    plan.windows.push((weight * count, stretch));
                }
                left -= count;
            } else if left > count {
                weight *= left / (left - count);
                left -= count;
            } else {
                plan.open += weight * count;
                left = 0.0;
            }
        }
        plan
    }

    /// Failures expected of a member.
    pub(crate) fn expected(&self, member: &Member) -> f64 {
        let mut sum = Sum::default();
        sum.add(self.open);
        for (count, stretch) in &self.windows {
            sum.add(-count * (-gain(stretch, member).ln.exp()).exp_m1());
        }
        sum.total()
    }
}

/// Whether every survivor was withdrawn at the usage of a failure, as in a test that stops at a failure: then the
/// number of failures was not left to chance. The ends are in order, failures first.
fn stopped_at_failures(ends: &[(f64, bool, f64, f64)]) -> bool {
    let mut failure = f64::NAN;
    for (end, survived, ..) in ends {
        if !survived {
            failure = *end;
        } else if failure.to_bits() != end.to_bits() {
            return false;
        }
    }
    true
}
