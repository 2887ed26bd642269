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
    let mut moments = Vec::new();
    each_moment(sample, |moment| moments.push(moment))?;
    Ok(moments)
}

/// Visits the moments in order of usage, without a list of them.
pub(crate) fn each_moment(
    sample: &Sample,
    mut visit: impl FnMut(Moment),
) -> Result<(), EstimateError> {
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 {
        return Err(EstimateError::InexactFailures { lives: inexact });
    }
    if sample.lives() == 0 {
        return Err(EstimateError::NoLives);
    }
    if sample.delayed_entry() == 0 {
        from_new(sample, visit);
        return Ok(());
    }
    // A life that left at its entry was never at risk.
    let watched = || sample.observations().filter(|row| row.lower > row.entry);
    let mut entries: Vec<(f64, u64)> = watched().map(|row| (row.entry, row.count)).collect();
    entries.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut entries = entries.into_iter().peekable();
    let (mut entered, mut left) = (0_u64, 0_u64);
    let mut open: Option<Moment> = None;
    // Rows are sorted by their exit already.
    for row in watched() {
        if open.is_none_or(|last| last.time < row.lower) {
            if let Some(done) = open.take() {
                visit(done);
            }
            while let Some((_, count)) = entries.next_if(|(entry, _)| *entry < row.lower) {
                entered += count;
            }
            open = Some(Moment {
                time: row.lower,
                at_risk: entered.saturating_sub(left),
                failed: 0,
                censored: 0,
            });
        }
        if let Some(moment) = &mut open {
            match row.ending() {
                Ending::Exact => moment.failed += row.count,
                _ => moment.censored += row.count,
            }
        }
        left += row.count;
    }
    if let Some(done) = open {
        visit(done);
    }
    Ok(())
}

/// The same where every life was seen from new: one pass over the columns.
fn from_new(sample: &Sample, mut visit: impl FnMut(Moment)) {
    let columns = sample.columns();
    let first = columns.lower.partition_point(|lower| *lower <= 0.0);
    let rows = columns.lower.iter().zip(&columns.upper);
    let counts = columns.count.iter().copied().chain(std::iter::repeat(1));
    let unwatched: u64 = counts.clone().take(first).sum();
    let mut at_risk = sample.lives().saturating_sub(unwatched);
    let mut open: Option<Moment> = None;
    for ((time, end), count) in rows.zip(counts).skip(first) {
        let failed = if end.is_finite() { count } else { 0 };
        let censored = count - failed;
        match &mut open {
            Some(last) if last.time >= *time => {
                last.failed += failed;
                last.censored += censored;
            }
            _ => {
                let next = Moment {
                    time: *time,
                    at_risk,
                    failed,
                    censored,
                };
                if let Some(done) = open.replace(next) {
                    visit(done);
                }
            }
        }
        at_risk = at_risk.saturating_sub(count);
    }
    if let Some(done) = open {
        visit(done);
    }
}
