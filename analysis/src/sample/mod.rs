//! A validated set of lives in one canonical order.

mod fault;
mod tally;

pub use fault::{ObservationFault, SampleError};

use std::cmp::Ordering;

use sha2::{Digest, Sha256};

use crate::observation::{Ending, Observation};
use fault::{check, fault};
use tally::Tally;

/// Lives beyond this number are refused: counts are added as floating point numbers without loss only below it.
const MOST_LIVES: u64 = 1 << 53;

/// Lives in canonical order, identical rows merged.
///
/// Any order and any grouping of the same lives gives the same sample, and so bit-identical results. Failures at
/// usage zero are counted apart ([`Sample::dead_on_arrival`]) and belong to no other count.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    rows: Vec<Observation>,
    dead_on_arrival: u64,
    tally: Tally,
}

impl Sample {
    /// Checks every row, then sorts and merges them.
    ///
    /// # Errors
    /// All faults of all rows at once, so that a caller can show them together.
    pub fn new(observations: impl IntoIterator<Item = Observation>) -> Result<Self, SampleError> {
        let mut faults = Vec::new();
        let mut rows = Vec::new();
        let mut total: u64 = 0;
        for (row, observation) in observations.into_iter().enumerate() {
            let before = faults.len();
            check(row, &observation, &mut faults);
            total = match total.checked_add(observation.count) {
                Some(sum) if sum <= MOST_LIVES => sum,
                _ => {
                    faults.push(fault(
                        row,
                        "count",
                        "must keep the total at or below 2^53",
                        observation.count,
                    ));
                    total
                }
            };
            if faults.len() == before {
                rows.push(normal_zeros(observation));
            }
        }
        if faults.is_empty() {
            Ok(Self::from_checked(rows))
        } else {
            Err(SampleError { faults })
        }
    }

    fn from_checked(rows: Vec<Observation>) -> Self {
        let (dead, mut rows): (Vec<_>, Vec<_>) = rows
            .into_iter()
            .partition(|row| row.ending() == Ending::Exact && row.upper <= 0.0);
        rows.sort_by(canonical_order);
        let mut merged: Vec<Observation> = Vec::with_capacity(rows.len());
        for row in rows {
            match merged.last_mut() {
                Some(last) if canonical_order(last, &row) == Ordering::Equal => {
                    last.count += row.count
                }
                _ => merged.push(row),
            }
        }
        Self {
            tally: Tally::of(&merged),
            rows: merged,
            dead_on_arrival: dead.iter().map(|row| row.count).sum(),
        }
    }

    /// The rows in canonical order, without those dead on arrival.
    #[must_use]
    pub fn observations(&self) -> &[Observation] {
        &self.rows
    }

    /// All lives, without those dead on arrival.
    #[must_use]
    pub fn lives(&self) -> u64 {
        self.failures() + self.tally.right
    }

    /// Lives seen to fail, at whatever precision, without those dead on arrival.
    #[must_use]
    pub fn failures(&self) -> u64 {
        self.tally.exact + self.tally.left + self.tally.interval
    }

    /// Failures whose usage is known exactly.
    #[must_use]
    pub fn exact_failures(&self) -> u64 {
        self.tally.exact
    }

    /// Lives not seen to fail.
    #[must_use]
    pub fn right_censored(&self) -> u64 {
        self.tally.right
    }

    /// Failures known only to lie before a usage.
    #[must_use]
    pub fn left_censored(&self) -> u64 {
        self.tally.left
    }

    /// Failures known only to lie between two usages.
    #[must_use]
    pub fn interval_censored(&self) -> u64 {
        self.tally.interval
    }

    /// Lives watched only from some usage above zero on.
    #[must_use]
    pub fn delayed_entry(&self) -> u64 {
        self.tally.delayed
    }

    /// Failures at usage zero. They say nothing about wear and enter no curve and no model.
    #[must_use]
    pub fn dead_on_arrival(&self) -> u64 {
        self.dead_on_arrival
    }

    /// Usage over which lives were watched and known to be unfailed, summed over all lives.
    #[must_use]
    pub fn total_usage(&self) -> f64 {
        self.tally.usage
    }

    /// Largest finite usage in any row; 0 for an empty sample. A statement beyond it is an extrapolation.
    #[must_use]
    pub fn longest_usage(&self) -> f64 {
        self.tally.longest
    }

    /// Lower-case hexadecimal SHA-256 of the canonical rows and the number dead on arrival.
    #[must_use]
    pub fn digest(&self) -> String {
        let mut hasher = Sha256::new();
        hasher.update(self.dead_on_arrival.to_be_bytes());
        for row in &self.rows {
            for number in [row.entry, row.lower, row.upper] {
                hasher.update(number.to_bits().to_be_bytes());
            }
            hasher.update(row.count.to_be_bytes());
            match &row.cause {
                None => hasher.update([0]),
                Some(cause) => {
                    hasher.update([1]);
                    hasher.update((cause.len() as u64).to_be_bytes());
                    hasher.update(cause.as_bytes());
                }
            }
        }
        hasher
            .finalize()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }

    /// Causes among the failures with their number, in order of name; unnamed first.
    #[must_use]
    pub fn causes(&self) -> Vec<(Option<String>, u64)> {
        let mut found = std::collections::BTreeMap::new();
        for row in self.rows.iter().filter(|row| row.upper.is_finite()) {
            *found.entry(row.cause.clone()).or_insert(0) += row.count;
        }
        found.into_iter().collect()
    }

    /// One sample per cause: its failures stay, failures of every other cause become right-censored at the last
    /// usage known unfailed.
    ///
    /// Fitted one by one, the samples make a series system: survival is the product over causes (Nelson 1982,
    /// chapter 5).
    #[must_use]
    pub fn by_cause(&self) -> Vec<(Option<String>, Sample)> {
        self.causes()
            .into_iter()
            .map(|(cause, _)| {
                let rows = self.rows.iter().map(|row| {
                    let mut row = row.clone();
                    if row.upper.is_finite() && row.cause != cause {
                        row.upper = f64::INFINITY;
                    }
                    row.cause = row.cause.filter(|_| row.upper.is_finite());
                    row
                });
                let sample = Self::from_checked(rows.collect());
                (cause, sample)
            })
            .collect()
    }
}

/// Turns -0 into 0, so that equal rows have equal bits.
fn normal_zeros(mut row: Observation) -> Observation {
    row.entry += 0.0;
    row.lower += 0.0;
    row.upper += 0.0;
    row
}

fn canonical_order(a: &Observation, b: &Observation) -> Ordering {
    a.lower
        .total_cmp(&b.lower)
        .then(a.upper.total_cmp(&b.upper))
        .then(a.entry.total_cmp(&b.entry))
        .then_with(|| a.cause.cmp(&b.cause))
}
