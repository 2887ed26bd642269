//! Where to start the search.

use super::column::Column;
use super::likelihood::Member;
use super::maximise::{Free, Top, maximise_roughly};
use super::rows::{End, Row, Rows};
use super::weibull_profile;
use crate::families::Curve;
use crate::summation::Sum;

/// A member near the data: of a few likely shapes, each with its best location, the one of highest likelihood.
///
/// The location is the quantile at about the share failed, which the data know best under heavy censoring.
pub(crate) fn start(rows: &Rows, family: Curve) -> Member {
    let failed = weighted(rows, failure_place);
    let all = weighted(rows, |row| {
        failure_place(row).or(row.unfailed.map(|stretch| stretch.to))
    });
    let share = (failed.weight / (all.weight + 1.0)).clamp(1e-12, 0.63);
    let anchor = family.standard_quantile(-(-share).ln_1p());
    if family == Curve::Weibull
        && let Some(near) = with_failures_placed(rows)
    {
        return near.anchored_at(anchor);
    }
    let shapes = if family == Curve::Exponential {
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

/// A member near lives seen from new with failures known exactly: by the mean and spread of all of them. None for
/// others.
pub(crate) fn of_plain(rows: &Rows, family: Curve) -> Option<Member> {
    if !rows.others.rows.is_empty() {
        return None;
    }
    let moments = |column: &Column| [column.total, column.mean, column.squares];
    let ends = [moments(&rows.failed), moments(&rows.running)];
    near(family, rows.failed.total, &ends)
}

/// A member near lives of which the failures and moments of the ends are given: weight, mean, sum of squares about it.
///
/// The hazards at their ends add up to the failures, so the location where the hazard is the failures' share lies
/// above the mean, by half the spread squared times the bend of the hazard for small spreads and by some less for
/// usual ones. Lives cut off narrow the spread, but not the Weibull's where hazards of failing and stopping are in
/// proportion.
pub(crate) fn near(family: Curve, failures: f64, ends: &[[f64; 3]]) -> Option<Member> {
    let total: f64 = ends.iter().map(|[weight, ..]| weight).sum();
    let mean = ends
        .iter()
        .map(|[weight, mean, _]| weight * mean)
        .sum::<f64>()
        / total;
    let squares: f64 = ends
        .iter()
        .map(|[weight, own, squares]| squares + weight * (own - mean) * (own - mean))
        .sum();
    let share = (failures / total).min(1.0);
    let narrowed = match family {
        Curve::Weibull => 1.0,
        _ => 1.0 - 0.25 * (1.0 - share),
    };
    let shape = family.starting_shape((squares / total).sqrt()) * narrowed;
    let anchor = family.standard_quantile(share);
    let bend = family.log_hazard(anchor).slope;
    let member = Member {
        family,
        location: mean + 0.4 * bend * shape * squares / total,
        log_shape: shape.ln(),
        anchor,
    };
    (member.location.is_finite() && member.log_shape.is_finite()).then_some(member)
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

/// Spread of the log usages of the failures and of all lives, and the last of them.
pub(crate) struct Spreads {
    pub failed: f64,
    pub all: f64,
    pub last: f64,
}

pub(crate) fn spreads(rows: &Rows) -> Spreads {
    let all = weighted(rows, |row| {
        failure_place(row).or(row.unfailed.map(|stretch| stretch.to))
    });
    Spreads {
        failed: weighted(rows, failure_place).spread,
        all: all.spread,
        last: all.last,
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
