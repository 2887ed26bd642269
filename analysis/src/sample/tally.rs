//! Counts and sums over the rows of a sample.

use super::columns::Columns;
use crate::observation::Ending;
use crate::summation::{BLOCK, Sum, add_all};

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
        if columns.entry.is_empty() && columns.count.is_empty() {
            return Self::of_single_lives(columns);
        }
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

    /// One life a row, all seen from new.
    fn of_single_lives(columns: &Columns) -> Self {
        let mut usage = Sum::default();
        let mut ends = [0_u64; 4];
        let mut longest = 0.0_f64;
        for (lower, upper) in columns.lower.chunks(BLOCK).zip(columns.upper.chunks(BLOCK)) {
            add_all(lower, &mut usage);
            let [exact, right, left, interval] = &mut ends;
            for (lower, upper) in lower.iter().zip(upper) {
                let (running, known, low) = (upper.is_infinite(), lower >= upper, *lower <= 0.0);
                *right += u64::from(running);
                *exact += u64::from(known);
                *left += u64::from(!running & !known & low);
                *interval += u64::from(!running & !known & !low);
                let end = if running { *lower } else { *upper };
                longest = if end > longest { end } else { longest };
            }
        }
        let [exact, right, left, interval] = ends;
        Self {
            exact,
            right,
            left,
            interval,
            delayed: 0,
            usage: usage.total(),
            longest,
        }
    }
}
