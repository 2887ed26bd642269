//! Newton's step on the hazards of a few intervals at once, for where the steps one by one are slow: counts that
//! differ by many orders.

use nalgebra::{DMatrix, DVector};

use super::innermost::Support;

/// Above this many moving intervals the matrix is not worth its price.
const MOST_MOVING: usize = 120;
/// A hazard falls at most to this share of itself in one step.
const DEEPEST: f64 = 1e-3;

/// Hazards after a Newton step of length `share` on the intervals that may move; none if there are too many or too
/// few, or no direction.
pub(super) fn moved(
    support: &Support,
    gained: &[f64],
    gains: &[f64],
    slopes: &[f64],
    moving: &[usize],
    share: f64,
) -> Option<Vec<f64>> {
    let n = moving.len();
    if n == 0 || n > MOST_MOVING {
        return None;
    }
    let mut matrix = DMatrix::<f64>::zeros(n, n);
    for (run, gain) in support.rows.iter().zip(gains) {
        let pull = 1.0 / gain.exp_m1();
        let bend = run.count as f64 * pull * (1.0 + pull);
        let from = moving.partition_point(|place| *place < run.start);
        let to = moving.partition_point(|place| *place < run.end);
        let mut part = matrix.view_mut((from, from), (to - from, to - from));
        part.add_scalar_mut(bend);
    }
    // Scaled to a unit diagonal, because hazards differ by many orders.
    let scale: Vec<f64> = matrix
        .diagonal()
        .iter()
        .map(|cell| 1.0 / cell.sqrt())
        .collect();
    if scale
        .iter()
        .any(|scale| !(scale.is_finite() && *scale > 0.0))
    {
        return None;
    }
    for (mut column, own) in matrix.column_iter_mut().zip(&scale) {
        for (cell, other) in column.iter_mut().zip(&scale) {
            *cell *= own * other;
        }
    }
    for place in 0..n {
        if let Some(cell) = matrix.get_mut((place, place)) {
            *cell += 1e-13;
        }
    }
    let slope = |place: &usize| slopes.get(*place).copied().unwrap_or(0.0);
    let right = DVector::from_iterator(
        n,
        moving
            .iter()
            .zip(&scale)
            .map(|(place, scale)| slope(place) * scale),
    );
    let step = matrix.cholesky()?.solve(&right);
    let mut next = gained.to_vec();
    for ((place, step), scale) in moving.iter().zip(step.iter()).zip(&scale) {
        if let Some(hazard) = next.get_mut(*place) {
            *hazard = (*hazard + share * step * scale).max(DEEPEST * *hazard);
        }
    }
    next.iter().all(|hazard| hazard.is_finite()).then_some(next)
}
