//! A sample prepared for the likelihood: logarithms of usage about a centre.
//!
//! Lives seen from new that failed at a known usage, or still run, are kept as columns: most samples hold nothing
//! else, and sums over columns are many times faster. All other lives are rows.

use super::column::Column;
use super::plain_rows;
use super::weibull_parts::Parts;
use crate::observation::{Ending, Life, Observation};
use crate::sample::Sample;
use crate::special::vector::{ln_1p_all, ln_all};
use crate::summation::Sum;

/// Lives as the likelihood sees them. Usage is `exp(centre + y)`.
#[derive(Clone, Debug)]
pub(crate) struct Rows {
    pub centre: f64,
    /// Exact failures of lives seen from new.
    pub failed: Column,
    /// Lives seen from new that still run.
    pub running: Column,
    /// All other lives.
    pub others: Others,
}

/// Lives that entered late, or whose failure is not known exactly: once as rows, once as the parts that the
/// Weibull's likelihood is a sum of.
#[derive(Clone, Debug, Default)]
pub(crate) struct Others {
    pub rows: Vec<Row>,
    pub parts: Parts,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    pub count: f64,
    /// Watched and unfailed over this stretch; none where it is empty.
    pub unfailed: Option<Stretch>,
    pub end: End,
}

#[derive(Clone, Copy, Debug)]
pub(crate) enum End {
    Survived,
    FailedAt(f64),
    FailedWithin(Stretch),
}

/// A stretch of log usage. The width is kept apart because the difference of the ends loses it when they are close.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stretch {
    pub from: f64,
    pub to: f64,
    pub width: f64,
}

impl Rows {
    pub(crate) fn new(sample: &Sample) -> Self {
        if sample.left_censored() + sample.interval_censored() + sample.delayed_entry() == 0 {
            let (centre, failed, running) = plain_rows::columns(sample);
            return Self {
                centre,
                failed,
                running,
                others: Others::default(),
            };
        }
        let mut logs = Logs::of(sample);
        let centre = logs.centre(sample);
        let (mut failed, mut running) = (Column::default(), Column::default());
        let mut others = Others::default();
        logs.finish(sample);
        for (life, log) in sample.observations().zip(logs.rows(centre)) {
            let count = life.count as f64;
            let new = life.entry <= 0.0;
            match life.ending() {
                Ending::Exact if new => failed.push(log.upper, count),
                Ending::RightCensored if new && life.lower > 0.0 => running.push(log.lower, count),
                Ending::RightCensored if life.lower <= life.entry => {}
                ending => others.push(&life, &log, ending),
            }
        }
        failed.finish();
        running.finish();
        others.parts.failed.finish();
        Self {
            centre,
            failed,
            running,
            others,
        }
    }

    /// Every life as a row.
    pub(crate) fn iter(&self) -> impl Iterator<Item = Row> + '_ {
        let from_new = |(y, count): (f64, f64), end: fn(f64) -> End| Row {
            count,
            unfailed: Some(Stretch {
                from: f64::NEG_INFINITY,
                to: y,
                width: f64::INFINITY,
            }),
            end: end(y),
        };
        let failed = self
            .failed
            .iter()
            .map(move |life| from_new(life, End::FailedAt));
        let running = self
            .running
            .iter()
            .map(move |life| from_new(life, |_| End::Survived));
        failed
            .chain(running)
            .chain(self.others.rows.iter().copied())
    }
}

impl Row {
    /// One life by itself, about a centre.
    pub(crate) fn new(life: &Observation, centre: f64) -> Self {
        let failed_at = End::FailedAt(life.upper.ln() - centre);
        Self {
            count: life.count as f64,
            unfailed: Stretch::new(life.entry, life.lower, centre),
            end: match life.ending() {
                Ending::RightCensored => End::Survived,
                Ending::Exact => failed_at,
                Ending::LeftCensored | Ending::IntervalCensored => {
                    Stretch::new(life.lower, life.upper, centre)
                        .map_or(failed_at, End::FailedWithin)
                }
            },
        }
    }
}

impl Others {
    fn push(&mut self, life: &Life<'_>, log: &LogRow, ending: Ending) {
        let count = life.count as f64;
        let within = matches!(ending, Ending::LeftCensored | Ending::IntervalCensored);
        let unfailed = if life.lower <= life.entry {
            None
        } else if life.entry <= 0.0 {
            if !within {
                self.parts.from_new.push(log.lower, count);
            }
            Some(Stretch {
                from: f64::NEG_INFINITY,
                to: log.lower,
                width: f64::INFINITY,
            })
        } else {
            self.parts.late.push(log.lower, log.entry_to_lower, count);
            Some(Stretch {
                from: log.entry,
                to: log.lower,
                width: log.entry_to_lower,
            })
        };
        let end = match ending {
            Ending::RightCensored => End::Survived,
            Ending::Exact => {
                self.parts.failed.push(log.upper, count);
                End::FailedAt(log.upper)
            }
            Ending::LeftCensored | Ending::IntervalCensored => {
                let (from, width) = if life.lower <= 0.0 {
                    (f64::NEG_INFINITY, f64::INFINITY)
                } else {
                    (log.lower, log.lower_to_upper)
                };
                let into = if life.entry <= 0.0 {
                    &mut self.parts.within_from_new
                } else {
                    &mut self.parts.within
                };
                into.push(log.upper, width, count);
                End::FailedWithin(Stretch {
                    from,
                    to: log.upper,
                    width,
                })
            }
        };
        self.rows.push(Row {
            count,
            unfailed,
            end,
        });
    }
}

/// Logarithms of the columns of a sample, and of the ratios between them less one.
struct Logs {
    lower: Vec<f64>,
    upper: Vec<f64>,
    entry: Vec<f64>,
    entry_to_lower: Vec<f64>,
    lower_to_upper: Vec<f64>,
}

/// One row of them, about a centre.
struct LogRow {
    lower: f64,
    upper: f64,
    entry: f64,
    entry_to_lower: f64,
    lower_to_upper: f64,
}

impl Logs {
    fn of(sample: &Sample) -> Self {
        let mut lower = sample.columns().lower.clone();
        ln_all(&mut lower);
        let exact = sample.left_censored() + sample.interval_censored() == 0;
        let mut upper = Vec::new();
        if !exact {
            upper.clone_from(&sample.columns().upper);
            ln_all(&mut upper);
        }
        Self {
            lower,
            upper,
            entry: Vec::new(),
            entry_to_lower: Vec::new(),
            lower_to_upper: Vec::new(),
        }
    }

    /// The columns that only late entries and intervals need.
    fn finish(&mut self, sample: &Sample) {
        let columns = sample.columns();
        let widths = |from: &[f64], to: &[f64]| -> Vec<f64> {
            let mut ratios: Vec<f64> = from
                .iter()
                .zip(to)
                .map(|(from, to)| ((to - from) / from).min(f64::MAX))
                .collect();
            ln_1p_all(&mut ratios);
            ratios
        };
        if !columns.entry.is_empty() {
            self.entry.clone_from(&columns.entry);
            ln_all(&mut self.entry);
            self.entry_to_lower = widths(&columns.entry, &columns.lower);
        }
        if !self.upper.is_empty() {
            self.lower_to_upper = widths(&columns.lower, &columns.upper);
        }
    }

    fn rows(&self, centre: f64) -> impl Iterator<Item = LogRow> + '_ {
        let get = |column: &[f64], row: usize| column.get(row).copied();
        (0..self.lower.len()).map(move |row| {
            let lower = get(&self.lower, row).unwrap_or(0.0) - centre;
            LogRow {
                lower,
                upper: get(&self.upper, row).map_or(lower, |upper| upper - centre),
                entry: get(&self.entry, row).unwrap_or(f64::NEG_INFINITY) - centre,
                entry_to_lower: get(&self.entry_to_lower, row).unwrap_or(f64::INFINITY),
                lower_to_upper: get(&self.lower_to_upper, row).unwrap_or(0.0),
            }
        })
    }

    /// Mean log usage at the end of the lives.
    fn centre(&self, sample: &Sample) -> f64 {
        let columns = sample.columns();
        let ends = self.lower.iter().enumerate().map(|(row, lower)| {
            let end = self
                .upper
                .get(row)
                .copied()
                .filter(|upper| upper.is_finite());
            let count = columns.count.get(row).map_or(1.0, |count| *count as f64);
            (end.unwrap_or(*lower), count)
        });
        let (mut total, mut weight) = (Sum::default(), Sum::default());
        for (y, count) in ends.filter(|(y, _)| y.is_finite()) {
            total.add(count * y);
            weight.add(count);
        }
        let weight = weight.total();
        if weight > 0.0 {
            total.total() / weight
        } else {
            0.0
        }
    }
}

impl Stretch {
    /// From usage `from >= 0` to usage `to`; none if empty.
    pub(crate) fn new(from: f64, to: f64, centre: f64) -> Option<Self> {
        if to <= from {
            return None;
        }
        let end = to.ln() - centre;
        if from <= 0.0 {
            return Some(Self {
                from: f64::NEG_INFINITY,
                to: end,
                width: f64::INFINITY,
            });
        }
        let width = ((to - from) / from).ln_1p();
        Some(Self {
            from: from.ln() - centre,
            to: end,
            width,
        })
    }
}
