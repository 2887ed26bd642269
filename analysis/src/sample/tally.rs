//! Counts and sums over the rows of a sample.

use super::columns::Columns;
use crate::observation::Ending;
use crate::summation::Sum;

#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Tally {
    pub exact: u64,
    pub right: u64,
    pub left: u64,
    pub interval: u64,
    pub delayed: u64,
    pub usage: f64,
    pub longest: f64,
}

impl Tally {
    pub(super) fn of(columns: &Columns) -> Self {
        let mut tally = Self::default();
        let mut usage = Sum::default();
        for row in columns.lives() {
            *match row.ending() {
                Ending::Exact => &mut tally.exact,
                Ending::RightCensored => &mut tally.right,
                Ending::LeftCensored => &mut tally.left,
                Ending::IntervalCensored => &mut tally.interval,
            } += row.count;
            if row.entry > 0.0 {
                tally.delayed += row.count;
            }
            usage.add(row.count as f64 * (row.lower - row.entry));
            let end = if row.upper.is_finite() {
                row.upper
            } else {
                row.lower
            };
            tally.longest = tally.longest.max(end);
        }
        tally.usage = usage.total();
        tally
    }
}
