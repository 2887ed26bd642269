//! Three-parameter Weibull: usage counts from a threshold on.
//!
//! The likelihood by density has no highest value: as the threshold nears the first exact failure and the shape stays
//! below one, it grows without end. Where a hill with shape above one stands apart from that, its top is the
//! estimate. Else exact usages are taken for what they are, known to the precision of recording, which bounds the
//! likelihood (Cheng and Iles 1987, Applied Statistics 36; Meeker and Escobar 1998, section 5.10.2).

mod likelihood;
mod precision;
mod search;

use nalgebra::{Matrix3, Vector3};

use super::fitted::{Fit, Found, fit};
use super::free_form::table;
use super::{FitError, LifeDistribution, existence};
use crate::families::{Curve, Family};
use crate::observation::Ending;
use crate::sample::Sample;
use crate::summation::Sum;
use crate::warning::{Warning, WarningCode};
use search::{Best, Ended, Search};

/// How exact failures enter the likelihood.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum ThresholdLikelihood {
    /// By density where that has a top with a shape above one, else by recording with the precision read from the
    /// digits of the usages.
    #[default]
    Automatic,
    /// By density only.
    Density,
    /// Each exact failure lies within half of this precision (a usage) of what was recorded.
    Recorded {
        /// The precision.
        precision: f64,
    },
}

/// Fits the three-parameter Weibull, with `0 <= threshold < first failure`.
///
/// The log-likelihood is by the density of usage; by recording, probabilities are divided by the precision, so that
/// it compares with other families. Warnings say which likelihood was used.
///
/// # Errors
/// [`FitError`] when no finite maximum exists, the parameters cannot be told apart, the precision is not usable, or the
/// search fails.
pub fn threshold_weibull(
    sample: &Sample,
    likelihood: ThresholdLikelihood,
) -> Result<Fit, FitError> {
    let family = Family::ThresholdWeibull;
    existence::check(sample, family)?;
    let start = fit(sample, Family::Weibull)?;
    let unit = start.location.exp();
    let first = Vector3::new(start.location - unit.ln(), start.log_shape, 0.0);
    let data = Data::by_density(sample, unit);
    let by_density = match likelihood {
        ThresholdLikelihood::Recorded { .. } => None,
        _ => {
            let search = Search {
                lives: &data.lives,
                bound: data.bound,
                unbounded: data.spike,
            };
            search.best(first)
        }
    };
    if let Some(best) = by_density {
        let mut warnings = Vec::new();
        if data.spike {
            warnings.push(Warning::new(
                WarningCode::LocalMaximum,
                "The likelihood grows without end as the threshold nears the first failure. The estimate is the top of the hill with a shape of one or more.",
            ));
        }
        return finish(sample, &data, best, warnings);
    }
    let precision = match likelihood {
        ThresholdLikelihood::Density => {
            return Err(FitError::NoFiniteMaximum {
                family,
                reason: "the likelihood by density only grows as the threshold nears the first failure; use the precision of recording",
            });
        }
        ThresholdLikelihood::Recorded { precision } => precision,
        ThresholdLikelihood::Automatic if data.spike => {
            precision::recorded(sample).ok_or(FitError::UnknownPrecision)?
        }
        ThresholdLikelihood::Automatic => return Err(no_top()),
    };
    if !(precision.is_finite() && precision > 0.0 && precision < 2.0 * data.bound * unit) {
        return Err(FitError::Precision { value: precision });
    }
    let data = Data::by_recording(sample, unit, precision);
    let search = Search {
        lives: &data.lives,
        bound: data.bound,
        unbounded: false,
    };
    let best = search.best(first).ok_or_else(no_top)?;
    let warning = Warning::new(
        WarningCode::RecordingPrecision,
        format!(
            "The likelihood by density grows without end near the first failure, so each exact usage is taken as known to a precision of {precision} only."
        ),
    );
    let mut fit = finish(sample, &data, best, vec![warning])?;
    fit.recorded = Some(precision);
    Ok(fit)
}

fn no_top() -> FitError {
    FitError::NoFiniteMaximum {
        family: Family::ThresholdWeibull,
        reason: "the likelihood keeps growing as the threshold nears the first failure and the shape shrinks",
    }
}

/// The lives in units of the typical usage.
struct Data {
    lives: Vec<likelihood::Usages>,
    unit: f64,
    /// The threshold stays below this.
    bound: f64,
    /// The bound as a usage, without the rounding of units: at a cusp the last bit of the threshold shows.
    usage_bound: f64,
    /// The likelihood is unbounded near the bound.
    spike: bool,
    /// To be added to the log-likelihood to make it a density in the unit of usage.
    density: f64,
}

impl Data {
    fn by_density(sample: &Sample, unit: f64) -> Self {
        Self::new(sample, unit, None)
    }

    fn by_recording(sample: &Sample, unit: f64, precision: f64) -> Self {
        Self::new(sample, unit, Some(precision))
    }

    fn new(sample: &Sample, unit: f64, precision: Option<f64>) -> Self {
        let mut lives = Vec::new();
        let (mut bound, mut exact) = (f64::INFINITY, f64::INFINITY);
        let mut usage_bound = f64::INFINITY;
        let mut density = Sum::default();
        for row in sample.observations() {
            let count = row.count as f64;
            let mut life = likelihood::Usages {
                count,
                entry: row.entry / unit,
                lower: row.lower / unit,
                upper: row.upper / unit,
            };
            if row.ending() == Ending::Exact {
                life.upper = life.lower;
                density.add(-count * unit.ln());
                if let Some(precision) = precision {
                    let half = 0.5 * precision / unit;
                    life.lower = (life.upper - half).max(life.entry);
                    life.upper += half;
                    density.add(-count * (life.upper - life.lower).ln());
                    bound = bound.min(life.lower);
                    usage_bound = usage_bound.min((row.lower - 0.5 * precision).max(row.entry));
                } else {
                    exact = exact.min(life.lower);
                }
            }
            if life.upper.is_finite() {
                bound = bound.min(life.upper);
                usage_bound = usage_bound.min(row.upper);
            }
            lives.push(life);
        }
        Self {
            lives,
            unit,
            bound,
            usage_bound,
            spike: exact <= bound,
            density: density.total(),
        }
    }
}

fn finish(
    sample: &Sample,
    data: &Data,
    best: Best,
    mut warnings: Vec<Warning>,
) -> Result<Fit, FitError> {
    let family = Family::ThresholdWeibull;
    match best.ended {
        Ended::Inside => {}
        Ended::AtZero => warnings.push(Warning::new(
            WarningCode::ParameterAtBound,
            "The best threshold is zero, the end of its range: this is the Weibull with two parameters, and no covariance is given.",
        )),
        Ended::OnKink => warnings.push(Warning::new(
            WarningCode::ParameterAtBound,
            "The best threshold stands where a life was last known unfailed; the likelihood has a corner there, so no covariance is given.",
        )),
    }
    let location = best.at.x + data.unit.ln();
    let threshold = if best.at.z < data.bound {
        (best.at.z * data.unit).min(data.usage_bound)
    } else {
        data.usage_bound
    };
    let (scale, shape) = (location.exp(), best.at.y.exp());
    let covariance = best
        .surface
        .covariance()
        .filter(|_| best.ended == Ended::Inside);
    let carried = |carry: Vector3<f64>| {
        let carry = Matrix3::from_diagonal(&carry);
        let cov = carry * covariance? * carry;
        table(cov.row_iter())
    };
    Fit::assembled(
        sample,
        Found {
            life: LifeDistribution {
                family,
                curve: Curve::Weibull,
                location,
                log_shape: best.at.y,
                threshold,
            },
            parameters: vec![scale, shape, threshold],
            covariance: carried(Vector3::new(scale, shape, data.unit)),
            log_covariance: carried(Vector3::new(1.0, 1.0, data.unit)),
            location_covariance: None,
            log_likelihood: best.surface.value + data.density,
            iterations: best.iterations,
            still_to_gain: best
                .surface
                .still_to_gain()
                .filter(|_| best.ended == Ended::Inside),
            warnings,
        },
    )
}
