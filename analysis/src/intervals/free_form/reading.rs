//! A quantity as read from a life distribution.

use crate::families::{Curve, Family};
use crate::fitting::LifeDistribution;
use crate::intervals::Quantity;

/// The quantity; none where it leaves the range of numbers or is not served.
pub(super) fn read(life: &LifeDistribution, quantity: Quantity) -> Option<f64> {
    let value = match quantity {
        Quantity::Quantile(p) => life.quantile(p)?,
        Quantity::Survival(usage) => life.survival(usage),
        Quantity::Hazard(usage) => life.hazard(usage)?,
        Quantity::ConditionalSurvival { age, span } => life.conditional_survival(age, span),
        Quantity::Span { age, share } => life.span_for_risk(age, share)?,
        Quantity::MeanResidualLife(_) => return None,
        Quantity::Parameter(name) => parameter(life, name)?,
    };
    value.is_finite().then_some(value)
}

fn parameter(life: &LifeDistribution, name: &str) -> Option<f64> {
    Some(match (life.family, name) {
        (Family::Gamma, "shape") => (2.0 * life.log_shape).exp(),
        (Family::Gamma, "scale") => (life.location - 2.0 * life.log_shape).exp(),
        (_, "mu") => life.location,
        (_, "sigma") => (-life.log_shape).exp(),
        (_, "scale") => life.location.exp(),
        (_, "shape") => life.log_shape.exp(),
        (_, "threshold") => life.threshold,
        (_, "q") => match life.curve {
            Curve::GeneralisedGamma(curve) => curve.form(),
            _ => return None,
        },
        _ => return None,
    })
}
