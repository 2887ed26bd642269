//! The likelihood by sums over columns, for the lives and families that have them.

use super::{Evaluation, Member, Term, add, total};
use crate::families::Curve;
use crate::fitting::column::{Column, Kind, Line};
use crate::fitting::matrix::Symmetric;
use crate::fitting::rows::Rows;
use crate::fitting::weibull_parts::Parts;
use crate::summation::Sum;

/// Which lives the sums over columns held.
pub(super) enum Covered {
    Everything,
    Columns,
    /// The family has no sums over columns.
    Nothing,
}

/// Adds the lives kept as columns.
pub(super) fn by_columns(rows: &Rows, member: &Member, sums: &mut [Sum; 6]) -> Covered {
    let line = Line::of(member);
    let (curve, all) = match member.family {
        Curve::Exponential | Curve::Weibull => (Kind::Exponential, true),
        Curve::Loglogistic => (Kind::Logistic, rows.others.rows.is_empty()),
        Curve::Lognormal => (Kind::Normal, rows.others.rows.is_empty()),
        Curve::GeneralisedGamma(_) => return Covered::Nothing,
    };
    add_failed(&rows.failed, rows.centre, member, sums);
    add(&hazards(&rows.running, curve, line), -1.0, sums);
    match curve {
        Kind::Exponential => {
            add(&hazards(&rows.failed, curve, line), -1.0, sums);
            if !rows.others.rows.is_empty() {
                add_weibull_parts(&rows.others.parts, rows.centre, member, line, sums);
            }
        }
        // ln h = z - H for the logistic; for the normal ln h - H is the logarithm of the density.
        Kind::Logistic => add(&hazards(&rows.failed, curve, line), -2.0, sums),
        Kind::Normal => {}
    }
    if all {
        Covered::Everything
    } else {
        Covered::Columns
    }
}

impl Line {
    fn of(member: &Member) -> Self {
        Self {
            b: member.shape(),
            location: member.location,
            anchor: member.anchor,
        }
    }
}

/// Cumulative hazards over a column, in location and log shape.
fn hazards(column: &Column, curve: Kind, line: Line) -> Term {
    in_parameters(column.hazards(curve, line), line.b)
}

/// From derivatives in `z` to derivatives in location and log shape: `z` moves by `-b` and by `u`.
fn in_parameters(sums: [f64; 6], b: f64) -> Term {
    let [value, first, first_u, second, second_u, second_uu] = sums;
    Term {
        value,
        gradient: [-b * first, first_u],
        hessian: Symmetric {
            a: b * b * second,
            b: -b * (second_u + first),
            d: second_uu + first_u,
        },
    }
}

/// What exact failures add beside their hazards: `ln b - ln t`, and `z`, or for the lognormal the logarithm of the
/// normal density.
fn add_failed(column: &Column, centre: f64, member: &Member, sums: &mut [Sum; 6]) {
    let Column {
        total,
        mean,
        squares,
        ..
    } = *column;
    if total <= 0.0 {
        return;
    }
    let b = member.shape();
    let u = b * (mean - member.location);
    let term = if member.family == Curve::Lognormal {
        // Sums of z^2, z u and u^2 about the means, so that nothing cancels.
        let (z, spread) = (u + member.anchor, b * b * squares / total);
        in_parameters(
            [
                -0.5 * (z * z + spread) - LN_SQRT_2_PI,
                -z,
                -(z * u + spread),
                -1.0,
                -u,
                -(u * u + spread),
            ],
            b,
        )
    } else {
        in_parameters([u + member.anchor, 1.0, u, 0.0, 0.0, 0.0], b)
    };
    let term = Term {
        value: term.value + member.log_shape - centre - mean,
        gradient: [term.gradient[0], term.gradient[1] + 1.0],
        ..term
    };
    add(&term, total, sums);
}

/// Late entries and failures not known exactly, for the Weibull.
fn add_weibull_parts(parts: &Parts, centre: f64, member: &Member, line: Line, sums: &mut [Sum; 6]) {
    add_failed(&parts.failed, centre, member, sums);
    add(
        &hazards(&parts.from_new, Kind::Exponential, line),
        -1.0,
        sums,
    );
    if !parts.late.is_empty() {
        let [s0, s1, s2] = parts.late.gains(line);
        add(&in_parameters([s0, s0, s1, s0, s1, s2], line.b), -1.0, sums);
    }
    if !parts.within.is_empty() {
        add(&in_parameters(parts.within.within(line), line.b), 1.0, sums);
    }
    if !parts.within_from_new.is_empty() {
        let found = parts.within_from_new.survived_and_within(line);
        add(&in_parameters(found, line.b), 1.0, sums);
    }
}

/// The Weibull's likelihood of lives in parts, of usage `exp y`.
pub(crate) fn evaluate_parts(parts: &Parts, member: &Member) -> Evaluation {
    let mut sums = [Sum::default(); 6];
    add_weibull_parts(parts, 0.0, member, Line::of(member), &mut sums);
    total(sums)
}

const LN_SQRT_2_PI: f64 = 0.918_938_533_204_672_7;
