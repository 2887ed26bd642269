//! Innermost intervals: the only places where the best curve from intervals may fall.

use crate::observation::Ending;
use crate::sample::Sample;

/// Innermost intervals and the run of them that each row covers.
#[derive(Clone, Debug)]
pub(crate) struct Support {
    /// `(after, by]`, or one usage twice for an exact failure; the last `by` may be infinite.
    pub intervals: Vec<(f64, f64)>,
    pub rows: Vec<Run>,
    pub lives: f64,
}

/// Intervals `start..end` lie within a row.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Run {
    pub start: usize,
    pub end: usize,
    pub count: f64,
}

/// A place on the usage line: just before, at, or just after a usage.
type Place = (f64, u8);
const BEFORE: u8 = 0;
const AT: u8 = 1;
const AFTER: u8 = 2;

pub(crate) fn support(sample: &Sample) -> Support {
    let bounds: Vec<(Place, Place, f64)> = sample
        .observations()
        .map(|row| {
            let side = if row.ending() == Ending::Exact {
                BEFORE
            } else {
                AFTER
            };
            ((row.lower, side), (row.upper, AT), row.count as f64)
        })
        .collect();
    let mut marks: Vec<(Place, bool)> = bounds
        .iter()
        .flat_map(|(from, to, _)| [(*from, true), (*to, false)])
        .collect();
    marks.sort_by(|a, b| order(&a.0, &b.0).then(b.1.cmp(&a.1)));
    // An innermost interval is a beginning followed at once by an end.
    let inner: Vec<(Place, Place)> = marks
        .windows(2)
        .filter_map(|pair| match pair {
            [(from, true), (to, false)] => Some((*from, *to)),
            _ => None,
        })
        .collect();
    let rows = bounds
        .iter()
        .map(|(from, to, count)| Run {
            start: inner.partition_point(|interval| order(&interval.0, from).is_lt()),
            end: inner.partition_point(|interval| order(&interval.1, to).is_le()),
            count: *count,
        })
        .collect();
    Support {
        intervals: inner.iter().map(|(from, to)| (from.0, to.0)).collect(),
        rows,
        lives: sample.lives() as f64,
    }
}

fn order(a: &Place, b: &Place) -> std::cmp::Ordering {
    a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
}
