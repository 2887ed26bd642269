//! Where to start the search.

use super::likelihood::Member;
use super::maximise::{Free, Top, maximise_roughly};
use super::rows::{End, Row, Rows};
use super::weibull_profile;
use crate::families::Family;
use crate::summation::Sum;

/// A member near the data: of a few likely shapes, each with its best location, the one of highest likelihood.
///
/// The location is the quantile at about the share failed, which the data know best under heavy censoring.
pub(crate) fn start(rows: &Rows, family: Family) -> Member {
    let failed = weighted(rows, failure_place);
    let all = weighted(rows, |row| {
        failure_place(row).or(row.unfailed.map(|stretch| stretch.to))
    });
    let share = (failed.weight / (all.weight + 1.0)).clamp(1e-12, 0.63);
    let anchor = family.standard_quantile(-(-share).ln_1p());
    if family == Family::Weibull
        && let Some(near) = with_failures_placed(rows)
    {
        return near.anchored_at(anchor);
    }
    let shapes = if family == Family::Exponential {
        vec![1.0]
    } else {
        vec![
            family.starting_shape(failed.spread),
            family.starting_shape(all.spread),
            1.0,
        ]
    };
    // With all of the data at or below the location no hazard can overflow.
    let place = |shape: f64| {
        let first = Member {
            family,
            location: all.last,
            log_shape: shape.clamp(1e-3, 1e9).ln(),
            anchor: 0.0,
        };
        maximise_roughly(rows, first, Free::Location)
    };
    let tops: Vec<Top> = shapes
        .into_iter()
        .filter(|shape| shape.is_finite())
        .map(place)
        .collect();
    let best = tops
        .iter()
        .filter(|top| top.at.value.is_finite())
        .max_by(|a, b| a.at.value.total_cmp(&b.at.value));
    match best {
        Some(top) => top.member.anchored_at(anchor),
        None => Member {
            family,
            location: all.mean,
            log_shape: 0.0,
            anchor,
        },
    }
}

/// The Weibull fitted to the same lives with every failure put where it is taken to have happened, if there are
/// enough of them to give a shape.
fn with_failures_placed(rows: &Rows) -> Option<Member> {
    let lives = rows.iter().filter_map(|row| {
        let failed = failure_place(&row);
        let end = failed.or(row.unfailed.map(|stretch| stretch.to))?;
        let from = row
            .unfailed
            .map_or(f64::NEG_INFINITY, |stretch| stretch.from);
        // A late entry keeps its distance from where the life was last seen unfailed.
        let width = match row.unfailed {
            Some(stretch) if from.is_finite() => Some(stretch.width + (end - stretch.to)),
            _ => None,
        };
        Some((end, width, row.count, failed.is_some()))
    });
    weibull_profile::placed(lives)
}

/// Where a life is taken to have failed, for a start only.
fn failure_place(row: &Row) -> Option<f64> {
    match row.end {
        End::Survived => None,
        End::FailedAt(y) => Some(y),
        End::FailedWithin(stretch) if stretch.from.is_finite() => {
            Some(stretch.to - 0.5 * stretch.width)
        }
        End::FailedWithin(stretch) => Some(stretch.to - 0.7),
    }
}

struct Places {
    weight: f64,
    mean: f64,
    spread: f64,
    last: f64,
}

fn weighted(rows: &Rows, place: impl Fn(&Row) -> Option<f64>) -> Places {
    let places = || {
        rows.iter()
            .filter_map(|row| Some((row.count, place(&row)?)))
    };
    let weight = places().map(|(count, _)| count).collect::<Sum>().total();
    let mean = places()
        .map(|(count, y)| count * y)
        .collect::<Sum>()
        .total()
        / weight;
    let square = places()
        .map(|(count, y)| count * (y - mean) * (y - mean))
        .collect::<Sum>()
        .total()
        / weight;
    Places {
        weight,
        mean,
        spread: square.sqrt(),
        last: places().map(|(_, y)| y).fold(f64::NEG_INFINITY, f64::max),
    }
}
