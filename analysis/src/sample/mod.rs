//! A validated set of lives in one canonical order.

pub(crate) mod columns;
mod fault;
mod order;
mod tally;

pub use fault::{ObservationFault, SampleError};
pub(crate) use fault::{USAGE_RULE, is_out_of_reach, shown};

use std::collections::BTreeMap;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use crate::observation::{Life, Observation};
use columns::Columns;
use fault::{Checked, check, fault};
use order::Key;
use tally::Tally;

/// Lives beyond this number are refused: counts are added as floating point numbers without loss only below it.
const MOST_LIVES: u64 = 1 << 53;

/// Lives in canonical order, identical rows merged.
///
/// Any order and any grouping of the same lives gives the same sample, and so bit-identical results. Failures at
/// usage zero are counted apart ([`Sample::dead_on_arrival`]) and belong to no other count.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// Shared with the curves that are read from them.
    columns: Arc<Columns>,
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
        let mut keys = Vec::new();
        let mut causes: BTreeMap<String, u32> = BTreeMap::new();
        let mut total: u64 = 0;
        for (row, observation) in observations.into_iter().enumerate() {
            let before = faults.len();
            check(row, Checked::from(&observation), &mut faults);
            total = counted(row, observation.count, total, &mut faults);
            if faults.len() > before {
                continue;
            }
            let cause = match observation.cause {
                None => 0,
                Some(name) => {
                    let next = u32::try_from(causes.len()).unwrap_or(u32::MAX - 1) + 1;
                    *causes.entry(name).or_insert(next)
                }
            };
            keys.push(Key {
                lower: bits(observation.lower),
                upper: bits(observation.upper),
                entry: bits(observation.entry),
                cause,
                count: observation.count,
            });
        }
        if !faults.is_empty() {
            return Err(SampleError { faults });
        }
        // Causes were numbered as they came; the order of rows goes by name.
        let mut by_name = vec![0; causes.len() + 1];
        for (place, given) in (1_u32..).zip(causes.values()) {
            if let Some(slot) = usize::try_from(*given)
                .ok()
                .and_then(|at| by_name.get_mut(at))
            {
                *slot = place;
            }
        }
        for key in &mut keys {
            let place = usize::try_from(key.cause)
                .ok()
                .and_then(|at| by_name.get(at));
            key.cause = place.copied().unwrap_or(0);
        }
        Ok(Self::from_keys(keys, causes.into_keys().collect()))
    }

    /// A sample of lives seen from new, each its usage and whether it failed then; the others still run. As
    /// [`Sample::new`] with [`Observation::exact`] and [`Observation::right_censored`], for a fraction of the memory.
    ///
    /// # Errors
    /// As [`Sample::new`].
    pub fn from_ages(lives: impl IntoIterator<Item = (f64, bool)>) -> Result<Self, SampleError> {
        let lives = lives.into_iter();
        let mut faults = Vec::new();
        let mut words = Vec::with_capacity(lives.size_hint().0);
        let mut dead_on_arrival = 0;
        for (row, (age, failed)) in lives.enumerate() {
            if !(age.is_finite() && age >= 0.0) {
                check(row, Checked::life(age, failed), &mut faults);
            } else if failed && age <= 0.0 {
                dead_on_arrival += 1;
            } else {
                words.push(order::word(age + 0.0, failed));
            }
        }
        if !faults.is_empty() {
            return Err(SampleError { faults });
        }
        Ok(Self::from_columns(
            order::plain_columns(words),
            dead_on_arrival,
        ))
    }

    fn from_keys(mut keys: Vec<Key>, names: Vec<String>) -> Self {
        let mut dead_on_arrival = 0;
        keys.retain(|key| {
            let dead = key.dead_on_arrival();
            if dead {
                dead_on_arrival += key.count;
            }
            !dead
        });
        Self::from_columns(order::columns(keys, names), dead_on_arrival)
    }

    fn from_columns(columns: Columns, dead_on_arrival: u64) -> Self {
        Self {
            tally: Tally::of(&columns),
            columns: Arc::new(columns),
            dead_on_arrival,
        }
    }

    /// The rows in canonical order, without those dead on arrival.
    pub fn observations(
        &self,
    ) -> impl ExactSizeIterator<Item = Life<'_>> + DoubleEndedIterator + Clone {
        self.columns.lives()
    }

    /// The same by column.
    pub(crate) fn columns(&self) -> &Columns {
        &self.columns
    }

    /// The columns for a curve that outlives the sample.
    pub(crate) fn shared_columns(&self) -> Arc<Columns> {
        Arc::clone(&self.columns)
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
        for row in self.columns.lives() {
            for number in [row.entry, row.lower, row.upper] {
                hasher.update(number.to_bits().to_be_bytes());
            }
            hasher.update(row.count.to_be_bytes());
            match row.cause {
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
        let mut found: BTreeMap<Option<&str>, u64> = BTreeMap::new();
        for row in self.columns.lives().filter(|row| row.upper.is_finite()) {
            *found.entry(row.cause).or_insert(0) += row.count;
        }
        found
            .into_iter()
            .map(|(cause, failures)| (cause.map(str::to_owned), failures))
            .collect()
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
                let sample = self.of_cause(cause.as_deref());
                (cause, sample)
            })
            .collect()
    }

    fn of_cause(&self, cause: Option<&str>) -> Self {
        let names = &self.columns.names;
        let given = cause.and_then(|cause| names.iter().position(|name| name == cause));
        let number = given.map_or(0, |place| u32::try_from(place + 1).unwrap_or(0));
        let keys = self.columns.lives().enumerate().map(|(row, life)| {
            let own = self.columns.cause.get(row).copied().unwrap_or(0);
            let failed = life.upper.is_finite() && own == number;
            Key {
                lower: bits(life.lower),
                upper: bits(if failed { life.upper } else { f64::INFINITY }),
                entry: bits(life.entry),
                cause: if failed { number } else { 0 },
                count: life.count,
            }
        });
        Self::from_keys(keys.collect(), names.clone())
    }
}

/// Adds a row's count to the total, if it stays in range.
fn counted(row: usize, count: u64, total: u64, faults: &mut Vec<ObservationFault>) -> u64 {
    match total.checked_add(count) {
        Some(sum) if sum <= MOST_LIVES => sum,
        _ => {
            faults.push(fault(
                row,
                "count",
                "must keep the total at or below 2^53",
                count,
            ));
            total
        }
    }
}

/// The bits of a number at least zero; -0 becomes 0, so that equal rows have equal bits.
fn bits(number: f64) -> u64 {
    (number + 0.0).to_bits()
}
