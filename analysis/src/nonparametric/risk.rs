//! Who is at risk when: counts at each usage at which something ends.

use super::EstimateError;
use crate::observation::Ending;
use crate::sample::Sample;

/// One usage at which at least one life ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Moment {
    pub time: f64,
    /// Lives with `entry < time <= exit`.
    pub at_risk: u64,
    pub failed: u64,
    pub censored: u64,
}

/// The moments of a sample of exact failures and survivors, in order of usage.
pub(crate) fn moments(sample: &Sample) -> Result<Vec<Moment>, EstimateError> {
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 {
        return Err(EstimateError::InexactFailures { lives: inexact });
    }
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    let rows = || sample.observations();
    // A life that left at its entry was never at risk.
    let watched = || rows().filter(|row| row.lower > row.entry);
    let mut entries: Vec<(f64, u64)> = watched().map(|row| (row.entry, row.count)).collect();
    entries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut entries = entries.into_iter().peekable();
    let (mut entered, mut left) = (0_u64, 0_u64);
    let mut moments: Vec<Moment> = Vec::new();
    // Rows are sorted by their exit already.
    for row in watched() {
        let fresh = moments.last().is_none_or(|last| last.time < row.lower);
        if fresh {
            while let Some((_, count)) = entries.next_if(|(entry, _)| *entry < row.lower) {
                entered += count;
            }
            moments.push(Moment {
                time: row.lower,
                at_risk: entered.saturating_sub(left),
                failed: 0,
                censored: 0,
            });
        }
        if let Some(moment) = moments.last_mut() {
            match row.ending() {
                Ending::Exact => moment.failed += row.count,
                _ => moment.censored += row.count,
            }
        }
        left += row.count;
    }
    Ok(moments)
}
