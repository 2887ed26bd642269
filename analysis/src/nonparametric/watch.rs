//! How many lives are at risk at any usage.

use super::EstimateError;
use crate::sample::Sample;

/// Lives at risk in one sample, asked for at usages that never fall.
#[derive(Clone, Debug)]
pub(super) struct Watch {
    entries: std::iter::Peekable<std::vec::IntoIter<(f64, u64)>>,
    exits: std::iter::Peekable<std::vec::IntoIter<(f64, u64)>>,
    watched: u64,
}

impl Watch {
    pub(super) fn new(sample: &Sample) -> Self {
        let mut entries: Vec<(f64, u64)> = Vec::new();
        let mut exits = Vec::new();
        for row in sample.observations() {
            exits.push((row.lower, row.count));
            match entries.last_mut() {
                Some(last) if last.0 == row.entry => last.1 += row.count,
                _ => entries.push((row.entry, row.count)),
            }
        }
        for ends in [&mut entries, &mut exits] {
            ends.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        }
        Self {
            entries: entries.into_iter().peekable(),
            exits: exits.into_iter().peekable(),
            watched: 0,
        }
    }

    /// Lives with `entry < usage <= exit`.
    pub(super) fn at(&mut self, usage: f64) -> u64 {
        while let Some((_, count)) = self.entries.next_if(|(entry, _)| *entry < usage) {
            self.watched += count;
        }
        // Whoever has left before this usage has entered before it too.
        while let Some((_, count)) = self.exits.next_if(|(exit, _)| *exit < usage) {
            self.watched = self.watched.saturating_sub(count);
        }
        self.watched
    }
}

/// Lives at risk at each usage given, `entry < usage <= exit`; at usage 0 those seen from new. For the table below a
/// survival curve. Usages may stand in any order.
///
/// # Errors
/// For failures not known exactly, whose end of risk is unknown, or a usage that is negative or not finite.
pub fn numbers_at_risk(sample: &Sample, usages: &[f64]) -> Result<Vec<u64>, EstimateError> {
    let inexact = sample.left_censored() + sample.interval_censored();
    if inexact > 0 {
        return Err(EstimateError::InexactFailures { lives: inexact });
    }
    if let Some(value) = usages
        .iter()
        .find(|usage| !(usage.is_finite() && **usage >= 0.0))
    {
        return Err(EstimateError::Usage { value: *value });
    }
    let mut order: Vec<(usize, f64)> = usages.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut watch = Watch::new(sample);
    let mut numbers: Vec<(usize, u64)> = order
        .into_iter()
        // Nobody enters before 0, so the first positive number tells who is watched from 0 on.
        .map(|(place, usage)| (place, watch.at(usage.max(f64::from_bits(1)))))
        .collect();
    numbers.sort_unstable_by_key(|(place, _)| *place);
    Ok(numbers.into_iter().map(|(_, number)| number).collect())
}
