//! Damped Newton search in a few parameters, for the families with a third parameter.

use nalgebra::{SMatrix, SVector};

/// Log-likelihood with its derivatives at one place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Surface<const N: usize> {
    pub value: f64,
    pub gradient: SVector<f64, N>,
    pub hessian: SMatrix<f64, N, N>,
}

/// Where a search ended.
#[derive(Clone, Copy, Debug)]
pub(super) struct Peak<const N: usize> {
    pub at: SVector<f64, N>,
    pub surface: Surface<N>,
    pub iterations: u32,
    /// The gradient is zero and the surface bends down in every direction.
    pub converged: bool,
}

const MOST_STEPS: u32 = 200;

impl<const N: usize> Surface<N> {
    fn is_finite(&self) -> bool {
        self.value.is_finite()
            && self.gradient.iter().all(|part| part.is_finite())
            && self.hessian.iter().all(|part| part.is_finite())
    }

    /// Inverse of the observed information; none unless it is positive definite.
    pub(super) fn covariance(&self) -> Option<SMatrix<f64, N, N>> {
        // Brought to a unit diagonal first, so that the test does not depend on units.
        let mut scale = SVector::<f64, N>::zeros();
        for (place, bend) in scale.iter_mut().zip(self.hessian.diagonal().iter()) {
            if *bend >= 0.0 {
                return None;
            }
            *place = 1.0 / (-bend).sqrt();
        }
        let spread = SMatrix::<f64, N, N>::from_diagonal(&scale);
        let scaled = -(spread * self.hessian * spread);
        let inverse = spread * scaled.cholesky()?.inverse() * spread;
        inverse
            .iter()
            .all(|cell| cell.is_finite())
            .then_some(inverse)
    }

    /// What an undamped step would still add to the log-likelihood; none where the surface does not bend down.
    pub(super) fn still_to_gain(&self) -> Option<f64> {
        let step = self.covariance()? * self.gradient;
        Some(0.5 * step.dot(&self.gradient)).filter(|gain| gain.is_finite())
    }
}

/// Climbs from `start`, each parameter by at most `most` in a step. The surface is none outside its domain; the
/// answer is none where it is none at the start.
pub(super) fn climb<const N: usize>(
    surface: impl Fn(&SVector<f64, N>) -> Option<Surface<N>>,
    start: SVector<f64, N>,
    most: SVector<f64, N>,
) -> Option<Peak<N>> {
    let look = |at: &SVector<f64, N>| surface(at).filter(Surface::is_finite);
    let mut peak = Peak {
        at: start,
        surface: look(&start)?,
        iterations: 0,
        converged: false,
    };
    let mut damping = 0.0_f64;
    while peak.iterations < MOST_STEPS {
        peak.iterations += 1;
        let flat = 1.0 + peak.surface.value.abs();
        let left = peak.surface.still_to_gain();
        if left.is_some_and(|left| left <= 1e-12 * flat) {
            polish(&look, &mut peak);
            peak.converged = true;
            return Some(peak);
        }
        let step = step(&peak.surface, damping, &most)?;
        let next = peak.at + step;
        match look(&next) {
            Some(there) if there.value >= peak.surface.value => {
                (peak.at, peak.surface) = (next, there);
                damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
            }
            _ if left.is_some_and(|left| left <= 1e-10 * flat) => {
                // Too flat to climb in floating point.
                polish(&look, &mut peak);
                peak.converged = true;
                return Some(peak);
            }
            _ => {
                damping = (damping * 8.0).max(1e-3);
                if damping > 1e14 {
                    break;
                }
            }
        }
    }
    Some(peak)
}

/// Full steps, too small for the value to show whether they climb, as long as the gain left shrinks.
fn polish<const N: usize>(
    look: &impl Fn(&SVector<f64, N>) -> Option<Surface<N>>,
    peak: &mut Peak<N>,
) {
    for _ in 0..3 {
        let (Some(covariance), Some(left)) =
            (peak.surface.covariance(), peak.surface.still_to_gain())
        else {
            return;
        };
        let next = peak.at + covariance * peak.surface.gradient;
        match look(&next) {
            Some(there) if there.still_to_gain().is_some_and(|gain| gain < left) => {
                (peak.at, peak.surface) = (next, there);
            }
            _ => return,
        }
    }
}

/// A step on a matrix made positive definite by raising its diagonal.
fn step<const N: usize>(
    surface: &Surface<N>,
    damping: f64,
    most: &SVector<f64, N>,
) -> Option<SVector<f64, N>> {
    let largest = surface.hessian.diagonal().amax();
    let floor = surface
        .hessian
        .diagonal()
        .map(|bend| bend.abs().max(1e-8 * largest).max(1e-300));
    let mut raise = damping;
    for _ in 0..80 {
        let raised = -surface.hessian + SMatrix::<f64, N, N>::from_diagonal(&(floor * raise));
        if let Some(factor) = raised.cholesky() {
            let step = factor.solve(&surface.gradient);
            if step.iter().all(|part| part.is_finite()) {
                let shrink = step
                    .iter()
                    .zip(most.iter())
                    .map(|(part, most)| most / part.abs())
                    .fold(1.0_f64, f64::min);
                return Some(step * shrink);
            }
        }
        raise = (raise * 4.0).max(1e-3);
    }
    None
}
