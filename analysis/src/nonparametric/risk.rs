//! Who is at risk when: counts at each usage at which something ends.

use std::sync::Arc;

use super::EstimateError;
use crate::sample::Sample;
use crate::sample::columns::Columns;

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
    let sets = RiskSets::of(sample)?;
    Ok(sets.from(sets.start()).map(|(moment, _)| moment).collect())
}

/// The lives of a sample and when they came under watch: its moments can be read from any place on, again and again.
#[derive(Clone, Debug)]
pub(crate) struct RiskSets {
    /// Rows are sorted by their exit.
    columns: Arc<Columns>,
    /// Usages at which lives came under watch, and how many; empty when all were seen from new.
    entries: Vec<(f64, u64)>,
    /// At risk before anybody enters late.
    from_new: u64,
}

/// A place between two moments.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Place {
    row: usize,
    entry: usize,
    at_risk: u64,
}

impl RiskSets {
    /// # Errors
    /// For an empty sample and failures not known exactly.
    pub(crate) fn of(sample: &Sample) -> Result<Self, EstimateError> {
        let inexact = sample.left_censored() + sample.interval_censored();
        if inexact > 0 {
            return Err(EstimateError::InexactFailures { lives: inexact });
        }
        if sample.lives() == 0 {
            return Err(EstimateError::NoLives);
        }
        let columns = sample.shared_columns();
        // A life that left at its entry was never at risk.
        if sample.delayed_entry() == 0 {
            let unwatched = columns.lower.partition_point(|lower| *lower <= 0.0);
            let left: u64 = match columns.count.get(..unwatched) {
                Some(counts) => counts.iter().sum(),
                None => unwatched as u64,
            };
            return Ok(Self {
                from_new: sample.lives().saturating_sub(left),
                entries: Vec::new(),
                columns,
            });
        }
        let watched = sample.observations().filter(|row| row.lower > row.entry);
        let mut entries: Vec<(f64, u64)> = watched.map(|row| (row.entry, row.count)).collect();
        entries.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        Ok(Self {
            columns,
            entries,
            from_new: 0,
        })
    }

    /// The place before the first moment.
    pub(crate) fn start(&self) -> Place {
        Place {
            at_risk: self.from_new,
            ..Place::default()
        }
    }

    /// The moments from a place on, each with the place after it.
    pub(crate) fn from(&self, place: Place) -> impl Iterator<Item = (Moment, Place)> {
        Moments {
            columns: &self.columns,
            entries: &self.entries,
            place,
        }
    }
}

struct Moments<'a> {
    columns: &'a Columns,
    entries: &'a [(f64, u64)],
    place: Place,
}

impl Moments<'_> {
    /// Counts those who have come under watch before `time`.
    fn enter(&mut self, time: f64) {
        while let Some((_, count)) = self
            .entries
            .get(self.place.entry)
            .filter(|(entry, _)| *entry < time)
        {
            self.place.at_risk += count;
            self.place.entry += 1;
        }
    }
}

impl Iterator for Moments<'_> {
    type Item = (Moment, Place);

    #[inline]
    fn next(&mut self) -> Option<Self::Item> {
        let columns = self.columns;
        let entered = |row: usize| columns.entry.get(row).copied().unwrap_or(0.0);
        let mut time = *columns.lower.get(self.place.row)?;
        while time <= entered(self.place.row) {
            self.place.row += 1;
            time = *columns.lower.get(self.place.row)?;
        }
        self.enter(time);
        let (mut failed, mut censored) = (0, 0);
        while let (Some(lower), Some(upper)) = (
            columns.lower.get(self.place.row),
            columns.upper.get(self.place.row),
        ) {
            if *lower > time {
                break;
            }
            if *lower > entered(self.place.row) {
                let count = columns.count.get(self.place.row).copied().unwrap_or(1);
                if upper.is_finite() {
                    failed += count;
                } else {
                    censored += count;
                }
            }
            self.place.row += 1;
        }
        let moment = Moment {
            time,
            at_risk: self.place.at_risk,
            failed,
            censored,
        };
        self.place.at_risk = self.place.at_risk.saturating_sub(failed + censored);
        Some((moment, self.place))
    }
}
