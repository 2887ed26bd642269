//! Hazard accumulated by a life under proportional hazards (Breslow 1974, Biometrics 30; its variance: Tsiatis 1981,
//! Annals of Statistics 9).

use nalgebra::DVector;

use super::covariates::CovariatePoint;
use super::design::scaled;
use super::error::PredictionError;
use super::partial_likelihood::{PartialLikelihood, StratumLives, without};
use super::proportional_hazards::{ProportionalHazardsFit, Ties};
use crate::intervals::LimitsError;

/// The baseline of one stratum, in order of usage.
#[derive(Clone, Debug, PartialEq)]
pub struct StratumBaseline {
    /// The stratum; none where strata are ignored.
    pub stratum: Option<String>,
    /// Usages at which something failed.
    pub steps: Vec<BaselineStep>,
}

/// What the hazard of an average life (every covariate at its mean over distinct rows) gains at one usage.
#[derive(Clone, Debug, PartialEq)]
pub struct BaselineStep {
    /// Usage.
    pub usage: f64,
    /// Hazard gained there. Failures over weighted lives at risk; under the rule of Efron the sum over the order of
    /// ties; under the exact rule as under Breslow's.
    pub gain: f64,
    /// Hazard gained up to and including there.
    pub cumulative: f64,
    /// Variance of the gain with coefficients known.
    gain_variance: f64,
    /// Gain times the mean of the scaled covariates of the lives at risk.
    gain_mean: DVector<f64>,
}

/// The steps of one stratum; none where the risk set is empty to working precision.
pub(crate) fn baseline(
    likelihood: &PartialLikelihood<'_>,
    lives: &StratumLives,
    theta: &DVector<f64>,
) -> Option<StratumBaseline> {
    let mut steps = Vec::new();
    likelihood.walk(lives, theta, |at, at_risk, failed, _, shift| {
        let mut step = BaselineStep {
            usage: at.usage,
            gain: 0.0,
            cumulative: 0.0,
            gain_variance: 0.0,
            gain_mean: DVector::zeros(theta.len()),
        };
        let parts = if likelihood.ties == Ties::Efron {
            at.count
        } else {
            1
        };
        for part in 0..parts {
            let left = without(at_risk, failed, part as f64 / parts as f64);
            let each = at.count as f64 / parts as f64;
            let gain = each * (-shift).exp() / left.weight;
            if !gain.is_finite() {
                return None;
            }
            step.gain += gain;
            step.gain_variance += gain * gain / each;
            step.gain_mean.axpy(gain / left.weight, &left.first, 1.0);
        }
        steps.push(step);
        Some(())
    })?;
    steps.reverse();
    let mut cumulative = crate::summation::Sum::default();
    for step in &mut steps {
        cumulative.add(step.gain);
        step.cumulative = cumulative.total();
    }
    Some(StratumBaseline {
        stratum: lives.stratum.clone(),
        steps,
    })
}

impl ProportionalHazardsFit {
    /// Hazard accumulated up to `usage >= 0` at a point, with its standard error.
    ///
    /// # Errors
    /// For a point that does not fit the model, a usage that is negative or not finite, or a hazard beyond the range
    /// of numbers.
    pub fn cumulative_hazard(
        &self,
        point: &CovariatePoint,
        usage: f64,
    ) -> Result<(f64, f64), PredictionError> {
        if !(usage.is_finite() && usage >= 0.0) {
            return Err(LimitsError::Usage {
                rule: "at least 0",
                value: usage,
            }
            .into());
        }
        let scaled = scaled(&self.columns, &self.names, &point.values)?;
        let stratum = if self.model.stratified {
            point.stratum.as_ref()
        } else {
            None
        };
        let found = self
            .baselines
            .iter()
            .find(|baseline| baseline.stratum.as_ref() == stratum)
            .ok_or_else(|| PredictionError::Stratum {
                stratum: point.stratum.clone(),
            })?;
        let factor = self.theta.dot(&scaled).exp();
        let (mut hazard, mut variance) = (0.0, 0.0);
        let mut pull = DVector::zeros(scaled.len());
        for step in found.steps.iter().take_while(|step| step.usage <= usage) {
            hazard = factor * step.cumulative;
            variance += factor * factor * step.gain_variance;
            pull += factor * (step.gain * &scaled - &step.gain_mean);
        }
        variance += pull.dot(&(&self.scaled_covariance * &pull));
        let error = variance.max(0.0).sqrt();
        if hazard.is_finite() && error.is_finite() {
            Ok((hazard, error))
        } else {
            Err(LimitsError::OutOfRange.into())
        }
    }

    /// Share of lives that survive `usage >= 0` at a point: `exp(-hazard)`.
    ///
    /// # Errors
    /// As [`Self::cumulative_hazard`].
    pub fn survival(&self, point: &CovariatePoint, usage: f64) -> Result<f64, PredictionError> {
        Ok((-self.cumulative_hazard(point, usage)?.0).exp())
    }
}
