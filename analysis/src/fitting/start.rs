//! Where to start the search.

use super::likelihood::Member;
use super::maximise::{Free, maximise};
use super::rows::{End, Rows};
use crate::families::Family;
use crate::summation::Sum;

/// A member near the data: shape from the spread of the failures, location by maximum likelihood at that shape.
///
/// The location is the quantile at about the share failed, which the data know best under heavy censoring.
pub(crate) fn start(rows: &Rows, family: Family) -> Member {
    let (mut weight, mut lives, mut mean) = (0.0, 0.0, Sum::default());
    let points = || {
        rows.rows.iter().filter_map(|row| match row.end {
            End::Survived => None,
            End::FailedAt(y) => Some((row.count, y)),
            End::FailedWithin(stretch) if stretch.from.is_finite() => {
                Some((row.count, stretch.to - 0.5 * stretch.width))
            }
            End::FailedWithin(stretch) => Some((row.count, stretch.to - 0.7)),
        })
    };
    for row in &rows.rows {
        lives += row.count;
    }
    for (count, y) in points() {
        weight += count;
        mean.add(count * y);
    }
    let mean = mean.total() / weight;
    let spread = points().map(|(count, y)| count * (y - mean) * (y - mean)).collect::<Sum>().total() / weight;
    let shape = if spread > 0.0 { family.starting_shape(spread.sqrt()) } else { 2.0 };
    let share = (weight / (lives + 1.0)).clamp(1e-12, 0.63);
    let anchor = family.standard_quantile(-(-share).ln_1p());
    let first = Member {
        family,
        location: mean,
        log_shape: if family == Family::Exponential { 0.0 } else { shape.clamp(0.05, 1e8).ln() },
        anchor,
    };
    let placed = maximise(rows, first, Free::Location);
    if placed.at.value.is_finite() { placed.member } else { first }
}
