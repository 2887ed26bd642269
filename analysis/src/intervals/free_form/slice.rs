//! One value of the third parameter: what is left is log-location-scale.

use std::borrow::Cow;

use super::gamma;
use super::is_chance;
use super::reading::read;
use crate::families::Family;
use crate::fitting::Fit;
use crate::fitting::rows::Rows;
use crate::intervals::profile::Measure;
use crate::intervals::{LimitsError, Quantity};

/// The best fit with the third parameter held.
pub(super) struct Slice<'a> {
    /// Usages counted from the threshold, where there is one.
    pub rows: Cow<'a, Rows>,
    /// Its log-likelihood compares with that of the whole.
    pub fit: Fit,
    /// Log-likelihood of `rows` that `fit` has there: less what recording adds.
    pub top: f64,
    /// Usage from which on the slice counts.
    pub threshold: f64,
}

/// A quantity as asked within a slice.
enum Local {
    /// Of usages since the threshold; to be added to what comes out.
    Ask(Quantity, f64),
    /// Whatever the parameters.
    Known(f64),
}

impl Slice<'_> {
    /// The furthest value of a quantity on one side, within a fall of `distance` squared over two from the top of the
    /// slice; none where it is open.
    pub(super) fn reach(
        &self,
        quantity: Quantity,
        up: bool,
        distance: f64,
    ) -> Result<Option<f64>, LimitsError> {
        if self.fit.family == Family::Gamma {
            return gamma::reach(self, quantity, up, distance);
        }
        let (local, shift) = match local(quantity, self.threshold) {
            Local::Ask(local, shift) => (local, shift),
            Local::Known(value) => return Ok(Some(value)),
        };
        let mut fit = Cow::Borrowed(&self.fit);
        fit.to_mut().log_likelihood = self.top;
        if distance < 1e-7 {
            return Ok(read(&fit.life, local).map(|value| value + shift));
        }
        // The best value of the whole is within range.
        let aim = local
            .aim_of_curve(&fit, self.rows.centre)
            .map_err(|_| LimitsError::NotConverged)?;
        let profile = aim.profile(&self.rows, &fit);
        let sign = if up == aim.grows() { 1.0 } else { -1.0 };
        let found = profile.limit(sign, distance, Measure::Root)?;
        let found = match found.and_then(|target| aim.shown(target)) {
            None if is_chance(quantity) => Some(if up { 1.0 } else { 0.0 }),
            // Too little to count beside the threshold.
            None if !up && shift > 0.0 => Some(0.0),
            found => found,
        };
        Ok(found.map(|value| value + shift))
    }
}

fn local(quantity: Quantity, threshold: f64) -> Local {
    match quantity {
        _ if threshold <= 0.0 => Local::Ask(quantity, 0.0),
        Quantity::Quantile(_) => Local::Ask(quantity, threshold),
        Quantity::Survival(usage) if usage > threshold => {
            Local::Ask(Quantity::Survival(usage - threshold), 0.0)
        }
        Quantity::Survival(_) => Local::Known(1.0),
        Quantity::Hazard(usage) if usage > threshold => {
            Local::Ask(Quantity::Hazard(usage - threshold), 0.0)
        }
        Quantity::Hazard(_) => Local::Known(0.0),
        Quantity::ConditionalSurvival { age, span } if age > threshold => {
            let age = age - threshold;
            Local::Ask(Quantity::ConditionalSurvival { age, span }, 0.0)
        }
        Quantity::ConditionalSurvival { age, span } if age + span > threshold => {
            Local::Ask(Quantity::Survival(span - (threshold - age)), 0.0)
        }
        Quantity::ConditionalSurvival { .. } => Local::Known(1.0),
        Quantity::Span { age, share } if age > threshold => {
            let age = age - threshold;
            Local::Ask(Quantity::Span { age, share }, 0.0)
        }
        Quantity::Span { age, share } => Local::Ask(Quantity::Quantile(share), threshold - age),
        Quantity::MeanResidualLife(_) | Quantity::Parameter(_) => Local::Ask(quantity, 0.0),
    }
}
