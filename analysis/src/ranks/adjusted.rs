//! Ranks adjusted for lives that stopped being watched (Johnson 1964, The Statistical Treatment of Fatigue
//! Experiments).

use super::RankError;
use crate::observation::Ending;
use crate::sample::Sample;

/// Failures at one usage with their ranks: `first`, `first + step`, and so on, `count` of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RankedFailures {
    /// Usage at failure.
    pub time: f64,
    /// How many failed there.
    pub count: u64,
    /// Lives still watched just before the first of them fails.
    pub at_risk: u64,
    /// Rank of the first of them among all lives.
    pub first: f64,
    /// Distance to the next rank; it stays the same while nobody leaves in between.
    pub step: f64,
}

impl RankedFailures {
    /// The ranks one by one.
    pub fn ranks(&self) -> impl Iterator<Item = f64> + use<> {
        let (first, step) = (self.first, self.step);
        (0..self.count).map(move |place| first + step * place as f64)
    }

    /// The largest of the ranks.
    #[must_use]
    pub fn last(&self) -> f64 {
        self.first + self.step * self.count.saturating_sub(1) as f64
    }
}

/// Adjusted ranks, one entry per usage at failure: a failure adds
/// `(n + 1 - rank before) / (1 + lives still watched, itself included)`. Failures come before censorings at ties, and
/// tied failures have separate ranks.
///
/// # Errors
/// For a sample without failures, with failures not known exactly, or with lives that entered late.
pub fn adjusted_ranks(sample: &Sample) -> Result<Vec<RankedFailures>, RankError> {
    let inexact = sample.failures() - sample.exact_failures();
    if inexact > 0 {
        return Err(RankError::InexactFailures { lives: inexact });
    }
    if sample.delayed_entry() > 0 {
        return Err(RankError::LateEntries {
            lives: sample.delayed_entry(),
        });
    }
    if sample.failures() == 0 {
        return Err(RankError::NoFailures);
    }
    let n = sample.lives();
    let mut left = n;
    let mut rank = 0.0;
    let mut ranked: Vec<RankedFailures> = Vec::new();
    for row in sample.observations() {
        if row.ending() == Ending::Exact {
            let step = (n as f64 + 1.0 - rank) / (1.0 + left as f64);
            match ranked.last_mut().filter(|last| last.time >= row.lower) {
                Some(last) => last.count += row.count,
                None => ranked.push(RankedFailures {
                    time: row.lower,
                    count: row.count,
                    at_risk: left,
                    first: rank + step,
                    step,
                }),
            }
            // From the group as a whole, so that it does not matter how its rows were merged.
            rank = ranked.last().map_or(rank, RankedFailures::last);
        }
        left = left.saturating_sub(row.count);
    }
    Ok(ranked)
}
