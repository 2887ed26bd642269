//! What the Weibull's likelihood is a sum of, column by column.

use super::column::Column;
use super::concave;
use super::likelihood::{Member, evaluate_parts};
use super::maximise::Top;
use super::moments::moments;
use super::stretches::Stretches;
use crate::families::Curve;
use crate::sample::Sample;
use crate::special::vector::{ln_1p_all, ln_all};

/// Lives in parts, by log usage.
#[derive(Clone, Debug, Default)]
pub(crate) struct Parts {
    /// Exact failures.
    pub failed: Column,
    /// Watched and unfailed from new to here, unless failed within a stretch from here.
    pub from_new: Column,
    /// Watched and unfailed over a stretch that begins late.
    pub late: Stretches,
    /// How many of these, from the first, were the end of what was seen of their life.
    ended_late: usize,
    /// Failed somewhere within, of lives that entered late.
    pub within: Stretches,
    /// Failed somewhere within, and unfailed from new to the start of it.
    pub within_from_new: Stretches,
}

/// Where a failure before the first look is taken to have happened, as logarithm of its share of that usage; for a
/// start only.
const BEFORE_THE_FIRST_LOOK: f64 = -0.7;

/// The Weibull's top for lives of any kind, by log usage, if Newton's steps settle.
pub(crate) fn top(sample: &Sample) -> Option<Top> {
    let parts = Parts::of(sample);
    concave::top(parts.start()?, |member| evaluate_parts(&parts, member))
}

impl Parts {
    /// Usages and ratios of usages first, so that their logarithms are taken all at once.
    fn of(sample: &Sample) -> Self {
        let columns = sample.columns();
        let counted = !columns.count.is_empty();
        let new = sample.delayed_entry() == 0;
        let room = |any: bool| if any { columns.len() } else { 0 };
        let mut parts = Self::default();
        let mut before = Stretches::default();
        parts.from_new.y.reserve(columns.len());
        parts.within_from_new.reserve(room(new));
        for stretches in [&mut parts.late, &mut parts.within, &mut before] {
            stretches.reserve(room(!new));
        }
        for (row, (lower, upper)) in columns.lower.iter().zip(&columns.upper).enumerate() {
            let entry = columns.entry.get(row).copied().unwrap_or(0.0);
            let weight = counted.then(|| columns.count.get(row).map_or(1.0, |count| *count as f64));
            let exact = lower == upper;
            if exact {
                put(&mut parts.failed, *upper, weight);
            }
            if !exact && *upper < f64::INFINITY {
                let into = if entry <= 0.0 {
                    &mut parts.within_from_new
                } else {
                    &mut parts.within
                };
                into.put(*upper, *lower, weight);
                if entry <= 0.0 {
                    continue;
                }
            }
            if *lower > entry {
                if entry <= 0.0 {
                    put(&mut parts.from_new, *lower, weight);
                } else if exact || *upper == f64::INFINITY {
                    parts.late.put(*lower, entry, weight);
                } else {
                    before.put(*lower, entry, weight);
                }
            }
        }
        parts.ended_late = parts.late.y.len();
        parts.late.y.extend(before.y);
        parts.late.width.extend(before.width);
        parts.late.weight.extend(before.weight);
        for column in [&mut parts.failed, &mut parts.from_new] {
            ln_all(&mut column.y);
            column.finish();
        }
        for stretches in [
            &mut parts.late,
            &mut parts.within,
            &mut parts.within_from_new,
        ] {
            stretches.take_logarithms();
        }
        parts
    }

    /// A member near the lives, by the mean and spread of all of them; see [`super::start::near`].
    fn start(&self) -> Option<Member> {
        let placed = |stretches: &Stretches| {
            let halves = stretches
                .width
                .iter()
                .map(|width| (0.5 * width).min(-BEFORE_THE_FIRST_LOOK));
            let squares: Vec<f64> = halves.clone().map(|half| half * half).collect();
            let places: Vec<f64> = stretches
                .y
                .iter()
                .zip(halves)
                .map(|(y, half)| y - half)
                .collect();
            let [total, mean, spread] = moments(&places, &stretches.weight);
            let [_, square, _] = moments(&squares, &stretches.weight);
            // Middles scatter more than failures do, by the variance within a stretch (Sheppard 1898).
            [
                total,
                mean,
                (spread - total * square / 3.0).max(0.25 * spread),
            ]
        };
        let (within, from_new) = (placed(&self.within), placed(&self.within_from_new));
        let (y, weight) = (&self.late.y, &self.late.weight);
        let late = moments(
            y.get(..self.ended_late).unwrap_or_default(),
            weight.get(..self.ended_late).unwrap_or_default(),
        );
        let ended = [
            self.from_new.total,
            self.from_new.mean,
            self.from_new.squares,
        ];
        let failures = self.failed.total + within[0] + from_new[0];
        super::start::near(Curve::Weibull, failures, &[within, from_new, late, ended])
    }
}

/// A weight of none is one.
fn put(column: &mut Column, y: f64, weight: Option<f64>) {
    column.y.push(y);
    column.weight.extend(weight);
}

impl Stretches {
    /// A stretch of usage, for [`Self::take_logarithms`].
    fn put(&mut self, to: f64, from: f64, weight: Option<f64>) {
        self.y.push(to);
        // A start at zero or near it would make the ratio infinite.
        self.width.push(((to - from) / from).min(f64::MAX));
        self.weight.extend(weight);
    }

    fn reserve(&mut self, room: usize) {
        self.y.reserve(room);
        self.width.reserve(room);
    }

    fn take_logarithms(&mut self) {
        ln_all(&mut self.y);
        ln_1p_all(&mut self.width);
    }
}
