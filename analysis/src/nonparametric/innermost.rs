//! Innermost intervals: the only places where the best curve from intervals may fall.
//!
//! An interval begins where some life was last known unfailed and ends at the next usage by which one is known to
//! have failed, or at which one entered late (Turnbull 1976, JRSS B 38, with the ends at late entries of Frydman
//! 1994, JRSS B 56).

use crate::observation::Ending;
use crate::sample::Sample;

/// Innermost intervals and where each row stands among them.
#[derive(Clone, Debug)]
pub(super) struct Support {
    /// `(after, by]`, or one usage twice for an exact failure.
    pub intervals: Vec<(f64, f64)>,
    /// Failures.
    pub rows: Vec<Run>,
    /// Lives watched and unfailed over each interval, with count.
    pub unfailed: Vec<f64>,
    /// Lives that may have failed in each interval, with count.
    pub covered: Vec<f64>,
    /// The runs are few or short enough to be walked through one by one.
    pub short_runs: bool,
}

/// A failure within the intervals `start..end`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Run {
    pub start: usize,
    pub end: usize,
    pub count: u64,
}

/// A place on the usage line: just before, at, or just after a usage.
type Place = (f64, u8);
const BEFORE: u8 = 0;
const AT: u8 = 1;
const AFTER: u8 = 2;

pub(super) fn support(sample: &Sample) -> Support {
    let from = |lower: f64, ending: Ending| {
        let side = if ending == Ending::Exact {
            BEFORE
        } else {
            AFTER
        };
        (lower, side)
    };
    let lives = || {
        sample
            .observations()
            .map(move |life| (life, from(life.lower, life.ending())))
    };
    let mut marks: Vec<(Place, bool)> = lives()
        .flat_map(|(life, from)| {
            [
                (from, true),
                ((life.upper, AT), false),
                ((life.entry, AT), false),
            ]
        })
        .filter(|((usage, _), begins)| *begins || (usage.is_finite() && *usage > 0.0))
        .collect();
    marks.sort_unstable_by(|a, b| order(&a.0, &b.0).then(b.1.cmp(&a.1)));
    // An innermost interval is a beginning followed at once by an end.
    let candidates: Vec<(Place, Place)> = marks
        .windows(2)
        .filter_map(|pair| match pair {
            [(from, true), (to, false)] => Some((*from, *to)),
            _ => None,
        })
        .collect();
    let before = |places: &[(Place, Place)], place: Place| {
        places.partition_point(|interval| order(&interval.0, &place).is_lt())
    };
    let until = |places: &[(Place, Place)], place: Place| {
        places.partition_point(|interval| order(&interval.1, &place).is_le())
    };
    // Where nobody may have failed the curve stays level.
    let spans = lives()
        .filter(|(life, _)| life.upper.is_finite())
        .map(|(life, from)| {
            (
                before(&candidates, from),
                until(&candidates, (life.upper, AT)),
                life.count,
            )
        });
    let covered = levels(candidates.len(), spans);
    let inner: Vec<(Place, Place)> = candidates
        .iter()
        .zip(&covered)
        .filter(|(_, covered)| **covered > 0.0)
        .map(|(interval, _)| *interval)
        .collect();
    let mut rows: Vec<Run> = lives()
        .filter(|(life, _)| life.upper.is_finite())
        .map(|(life, from)| Run {
            start: before(&inner, from),
            end: until(&inner, (life.upper, AT)),
            count: life.count,
        })
        .collect();
    rows.sort_unstable();
    rows.dedup_by(|next, kept| {
        let same = (kept.start, kept.end) == (next.start, next.end);
        if same {
            kept.count += next.count;
        }
        same
    });
    let steps: usize = rows
        .iter()
        .map(|run| run.end.saturating_sub(run.start))
        .sum();
    let watched = lives().map(|(life, from)| {
        (
            until(&inner, (life.entry, AT)),
            before(&inner, from),
            life.count,
        )
    });
    Support {
        intervals: inner.iter().map(|(from, to)| (from.0, to.0)).collect(),
        unfailed: levels(inner.len(), watched),
        covered: levels(
            inner.len(),
            rows.iter().map(|run| (run.start, run.end, run.count)),
        ),
        short_runs: steps <= 4 * (rows.len() + inner.len()) + 2_000,
        rows,
    }
}

/// How many lives, with count, have each place in their span `start..end`.
fn levels(places: usize, spans: impl Iterator<Item = (usize, usize, u64)>) -> Vec<f64> {
    let mut changes = vec![(0_u64, 0_u64); places + 1];
    for (start, end, count) in spans.filter(|(start, end, _)| start < end) {
        if let Some(change) = changes.get_mut(start) {
            change.0 += count;
        }
        if let Some(change) = changes.get_mut(end) {
            change.1 += count;
        }
    }
    let mut level = 0_u64;
    changes
        .iter()
        .take(places)
        .map(|(begun, ended)| {
            level = (level + begun).saturating_sub(*ended);
            level as f64
        })
        .collect()
}

fn order(a: &Place, b: &Place) -> std::cmp::Ordering {
    a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
}
