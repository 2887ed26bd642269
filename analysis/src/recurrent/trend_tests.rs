//! Tests of a trend in the rate of events against a constant rate (Ascher and Feingold 1984, chapter 5).
//!
//! Given its number of events, a system of constant rate has them spread evenly over its watching. Both tests add
//! up over systems, which may differ in their rates. Where watching stopped at an event, that event is set aside.

use super::history::{Histories, Truncation};
use super::{RecurrentError, chi_square};
use crate::special::normal;
use crate::summation::Sum;

/// Result of a trend test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrendTest {
    /// Test statistic.
    pub statistic: f64,
    /// Degrees of freedom; none for a statistic that is about normal.
    pub freedom: Option<f64>,
    /// Events that count: all but those that stopped the watching.
    pub events: u64,
    /// Chance, at a constant rate, of a sign of improvement (events thin out) at least as strong.
    pub p_improving: f64,
    /// Chance, at a constant rate, of a sign of deterioration (events crowd) at least as strong.
    pub p_deteriorating: f64,
    /// Twice the smaller of the two, at most 1.
    pub p_two_sided: f64,
}

/// The centroid test of Laplace, pooled over systems: about standard normal at a constant rate; positive when the
/// rate grows (Cox and Lewis 1966, section 3.3; Ascher and Feingold 1984, section 5B).
///
/// # Errors
/// Without systems, without events, or when every event stopped its watching.
pub fn laplace(histories: &Histories) -> Result<TrendTest, RecurrentError> {
    let events = free_events(histories)?;
    let longest = histories.longest_age();
    let (mut late, mut variance) = (Sum::default(), Sum::default());
    for (start, end, ages, count) in free_ages(histories) {
        // In units of the longest age, so that no square leaves the range of numbers.
        let (start, end) = (start / longest, end / longest);
        for age in ages {
            late.add(count * (age / longest - 0.5 * (start + end)));
            variance.add(count * (end - start) * (end - start) / 12.0);
        }
    }
    let statistic = late.total() / variance.total().sqrt();
    if !statistic.is_finite() {
        return Err(RecurrentError::OutOfRange);
    }
    Ok(test(
        statistic,
        None,
        events,
        normal::lower_tail(statistic),
        normal::lower_tail(-statistic),
    ))
}

/// The test of MIL-HDBK-189, pooled over systems: `2 sum ln(watched in all / watched until the event)` is chi-square
/// with two degrees of freedom per event at a constant rate; large when the system improves (MIL-HDBK-189C 2011,
/// section 6; Crow 1974).
///
/// For a system that joined late, ages count from its start of watching: only then is the distribution known.
///
/// # Errors
/// Without systems, without events, or when every event stopped its watching.
pub fn mil_hdbk_189(histories: &Histories) -> Result<TrendTest, RecurrentError> {
    let events = free_events(histories)?;
    let mut total = Sum::default();
    for (start, end, ages, count) in free_ages(histories) {
        for age in ages {
            total.add(count * -super::shape_windows::ln_ratio(age - start, end - start));
        }
    }
    let statistic = 2.0 * total.total();
    if !statistic.is_finite() {
        return Err(RecurrentError::OutOfRange);
    }
    let freedom = 2.0 * events as f64;
    let (below, above) = chi_square::tails(statistic, freedom);
    Ok(test(statistic, Some(freedom), events, above, below))
}

fn test(
    statistic: f64,
    freedom: Option<f64>,
    events: u64,
    p_improving: f64,
    p_deteriorating: f64,
) -> TrendTest {
    TrendTest {
        statistic,
        freedom,
        events,
        p_improving,
        p_deteriorating,
        p_two_sided: (2.0 * p_improving.min(p_deteriorating)).min(1.0),
    }
}

/// How many events did not stop the watching; an error if none.
pub(super) fn free_events(histories: &Histories) -> Result<u64, RecurrentError> {
    if histories.count() == 0 {
        return Err(RecurrentError::NoSystems);
    }
    if histories.events() == 0 {
        return Err(RecurrentError::NoEvents);
    }
    let stopped: u64 = histories
        .systems()
        .iter()
        .filter(|system| system.truncation == Truncation::Failure)
        .map(|system| system.count)
        .sum();
    match histories.events() - stopped {
        0 => Err(RecurrentError::OnlyTruncatingEvents),
        events => Ok(events),
    }
}

/// Start, end, ages at the events that did not stop the watching, and count, of each system.
pub(super) fn free_ages(
    histories: &Histories,
) -> impl Iterator<Item = (f64, f64, impl Iterator<Item = f64>, f64)> {
    histories.systems().iter().map(|system| {
        let stopped = usize::from(system.truncation == Truncation::Failure);
        let free = system.events.len().saturating_sub(stopped);
        (
            system.start,
            system.end,
            // In order of age, so the last is the one at the end.
            system.events.iter().copied().take(free),
            system.count as f64,
        )
    })
}
