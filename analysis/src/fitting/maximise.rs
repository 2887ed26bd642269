//! Damped Newton search for the top of the likelihood.

use super::likelihood::{Evaluation, Member, evaluate};
use super::matrix::{Symmetric, dot};
use super::rows::Rows;

/// Which of the two parameters may move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Free {
    Both,
    Location,
}

/// Where a search ended.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Top {
    pub member: Member,
    pub at: Evaluation,
    pub iterations: u32,
    pub ended: Ended,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ended {
    Converged,
    /// A parameter ran off: no finite maximum in reach.
    RanOff,
    Exhausted,
}

/// Log shapes beyond these bounds count as run off; the widest real data stay far inside.
const LOG_SHAPE_RANGE: std::ops::Range<f64> = -13.0..25.0;
const FURTHEST_LOCATION: f64 = 5_000.0;
const MOST_STEPS: u32 = 300;

/// Newton steps with Levenberg-Marquardt damping; every accepted step climbs.
pub(crate) fn maximise(rows: &Rows, start: Member, free: Free) -> Top {
    let top = climb(rows, start, free, 1e-12);
    if top.ended != Ended::Converged {
        return top;
    }
    let (member, at) = polished(rows, top.member, top.at, free);
    ended(member, at, top.iterations, Ended::Converged)
}

/// As [`maximise`], to within a hundredth of the log-likelihood.
pub(crate) fn maximise_roughly(rows: &Rows, start: Member, free: Free) -> Top {
    climb(rows, start, free, 1e-2)
}

fn climb(rows: &Rows, start: Member, free: Free, tolerance: f64) -> Top {
    let rough = tolerance > 1e-3;
    let mut member = start;
    let mut at = evaluate(rows, &member);
    let mut damping = 0.0_f64;
    let mut iterations = 0;
    while iterations < MOST_STEPS {
        iterations += 1;
        let step = step(&at, member.shape(), damping, free);
        let promise = 0.5 * dot(step, at.gradient).abs();
        let enough = if rough {
            tolerance
        } else {
            tolerance * (1.0 + at.value.abs())
        };
        if damping <= 1e-6 && promise <= enough {
            return ended(member, at, iterations, Ended::Converged);
        }
        let next = moved(member, step);
        let there = evaluate(rows, &next);
        if there.value.is_finite() && there.value >= at.value {
            (member, at) = (next, there);
            damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
        } else if promise <= 1e-10 * (1.0 + at.value.abs()) {
            // Too flat to climb in floating point.
            return ended(member, at, iterations, Ended::Converged);
        } else {
            damping = (damping * 8.0).max(1e-3);
            if damping > 1e12 {
                break;
            }
        }
        if !LOG_SHAPE_RANGE.contains(&member.log_shape) || member.location.abs() > FURTHEST_LOCATION
        {
            return ended(member, at, iterations, Ended::RanOff);
        }
    }
    ended(member, at, iterations, Ended::Exhausted)
}

/// Full Newton steps, too small for the likelihood to show whether they climb, as long as the gradient shrinks.
fn polished(
    rows: &Rows,
    mut member: Member,
    mut at: Evaluation,
    free: Free,
) -> (Member, Evaluation) {
    for _ in 0..3 {
        let promise = |at: &Evaluation| dot(step(at, member.shape(), 0.0, free), at.gradient).abs();
        if promise(&at) <= 1e-22 * (1.0 + at.value.abs()) {
            break;
        }
        let next = moved(member, step(&at, member.shape(), 0.0, free));
        let there = evaluate(rows, &next);
        if !there.value.is_finite() || promise(&there).is_nan() || promise(&there) >= promise(&at) {
            break;
        }
        (member, at) = (next, there);
    }
    (member, at)
}

fn ended(member: Member, at: Evaluation, iterations: u32, ended: Ended) -> Top {
    Top {
        member,
        at,
        iterations,
        ended,
    }
}

/// The step of a Newton iteration on a matrix made positive definite by raising its diagonal.
fn step(at: &Evaluation, shape: f64, damping: f64, free: Free) -> [f64; 2] {
    let [g0, g1] = at.gradient;
    let mut matrix = Symmetric {
        a: -at.hessian.a,
        b: -at.hessian.b,
        d: -at.hessian.d,
    };
    if free == Free::Location {
        let curvature = if matrix.a > 0.0 {
            matrix.a
        } else {
            matrix.a.abs().max(g0.abs())
        };
        return [
            limited(g0 / (curvature * (1.0 + damping)), 4.0 / shape),
            0.0,
        ];
    }
    let floor_a = matrix.a.abs().max(1e-8 * matrix.d.abs()).max(1e-300);
    let floor_d = matrix.d.abs().max(1e-8 * matrix.a.abs()).max(1e-300);
    let mut raise = damping;
    for _ in 0..60 {
        let raised = Symmetric {
            a: matrix.a + raise * floor_a,
            b: matrix.b,
            d: matrix.d + raise * floor_d,
        };
        if let Some(inverse) = raised.inverse_of_positive() {
            matrix = inverse;
            break;
        }
        raise = (raise * 4.0).max(1e-3);
    }
    let [s0, s1] = matrix.times([g0, g1]);
    let shrink = (1.5 / s1.abs()).min(8.0 / s0.abs()).min(1.0);
    [s0 * shrink, s1 * shrink]
}

fn limited(step: f64, most: f64) -> f64 {
    if step.is_finite() {
        step.clamp(-most, most)
    } else {
        0.0
    }
}

fn moved(member: Member, step: [f64; 2]) -> Member {
    Member {
        location: member.location + step[0],
        log_shape: member.log_shape + step[1],
        ..member
    }
}
