//! Scales compared on a common likelihood, given how each unit is used (Farewell and Cox 1979, Applied Statistics 28;
//! Oakes 1995, Lifetime Data Analysis 1; Duchesne and Lawless 2000, Lifetime Data Analysis 6).
//!
//! A density per flight and one per minute are not comparable. Each unit is taken to be used at its own constant rate,
//! so that usage on one scale is a multiple of usage on another; the density on scale k then becomes one per unit of the
//! reference scale by the factor `a_k / a_ref`. Chances (survival, failure between two looks) need no factor.

use super::error::ScaleError;
use super::lives::{ScaledLives, end};
use crate::families::Family;
use crate::fitting::{Fit, FitError, fit};
use crate::observation::Ending;
use crate::sample::Sample;
use crate::summation::Sum;

/// One scale's part in a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaleResult {
    /// The scale.
    pub scale: String,
    /// The fit on this scale, or why there is none.
    pub fit: Result<Fit, FitError>,
    /// Log-likelihood with densities per unit of the reference scale; none without a fit.
    pub log_likelihood: Option<f64>,
    /// How far that falls short of the best scale.
    pub difference: Option<f64>,
    /// Share of Akaike's weights (Akaike 1978; Burnham and Anderson 2002, section 2.9).
    pub weight: Option<f64>,
    /// Coefficient of variation of life on this scale by the fit; none where infinite. The smaller, the closer failures
    /// come to happening at one usage (Kordonsky and Gertsbakh 1997, Lifetime Data Analysis 3).
    pub variation: Option<f64>,
    /// The same from the lives themselves: standard deviation over mean, for complete lives only.
    pub sample_variation: Option<f64>,
}

/// What a comparison says.
#[derive(Clone, Debug, PartialEq)]
pub enum ScaleChoice {
    /// One scale is ahead of all others by at least 2 in log-likelihood.
    Best(String),
    /// These lie within 2 of the best, the best first.
    Undecided(Vec<String>),
}

/// Scales compared.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaleComparison {
    /// The scale per unit of which densities are taken. It does not change any difference.
    pub reference: String,
    /// The scales in the order given.
    pub scales: Vec<ScaleResult>,
    /// Which scale explains wear best by likelihood.
    pub choice: ScaleChoice,
    /// The scale of smallest coefficient of variation; none where no scale has one.
    pub least_variation: Option<String>,
    /// The choice in a sentence.
    pub statement: String,
}

/// A gap in log-likelihood below which scales are not told apart.
const TELLING: f64 = 2.0;

/// Compares every scale by the likelihood of one family per unit of the scale `reference`.
///
/// # Errors
/// For a family with more than location and shape, an unknown reference, or no fit on any scale.
pub fn compare_scales(
    lives: &ScaledLives,
    reference: &str,
    family: Family,
) -> Result<ScaleComparison, ScaleError> {
    if !family.is_log_location_scale() {
        return Err(ScaleError::Family { family });
    }
    let reference_place = lives.place(reference)?;
    let mut scales = Vec::new();
    for (place, name) in lives.names().iter().enumerate() {
        let sample = lives.sample(place)?;
        let fit = fit(&sample, family);
        let log_likelihood = fit.as_ref().ok().map(|fit| {
            fit.log_likelihood + ln_rates(lives, reference_place, |life| life.get(place).map(end))
        });
        scales.push(ScaleResult {
            scale: name.clone(),
            variation: fit.as_ref().ok().and_then(variation),
            sample_variation: sample_variation(&sample),
            fit,
            log_likelihood: log_likelihood.filter(|value| value.is_finite()),
            difference: None,
            weight: None,
        });
    }
    let best = scales
        .iter()
        .filter_map(|scale| scale.log_likelihood)
        .fold(f64::NEG_INFINITY, f64::max);
    if best == f64::NEG_INFINITY {
        let error = scales.into_iter().find_map(|scale| scale.fit.err());
        return Err(error.unwrap_or(FitError::OutOfRange { family }).into());
    }
    // All scales have the same number of parameters, so Akaike's criterion differs by twice the log-likelihood.
    let total: f64 = scales
        .iter()
        .filter_map(|scale| scale.log_likelihood)
        .map(|value| (value - best).exp())
        .sum();
    for scale in &mut scales {
        scale.difference = scale.log_likelihood.map(|value| best - value);
        scale.weight = scale.difference.map(|gap| (-gap).exp() / total);
    }
    let mut near: Vec<(f64, &str)> = scales
        .iter()
        .filter_map(|scale| Some((scale.difference?, scale.scale.as_str())))
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)));
    let (choice, statement) = choose(&near);
    let least_variation = scales
        .iter()
        .filter_map(|scale| Some((scale.variation?, &scale.scale)))
        .filter(|_| family != Family::Exponential)
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)))
        .map(|(_, name)| name.clone());
    Ok(ScaleComparison {
        reference: reference.to_owned(),
        choice,
        least_variation,
        statement,
        scales,
    })
}

fn choose(ranked: &[(f64, &str)]) -> (ScaleChoice, String) {
    let close: Vec<String> = ranked
        .iter()
        .filter(|(gap, _)| *gap < TELLING)
        .map(|(_, name)| (*name).to_owned())
        .collect();
    match close.as_slice() {
        [only] => {
            let next = ranked.get(1).map_or_else(
                || "no other scale could be fitted".to_owned(),
                |(gap, name)| format!("log-likelihood is {gap:.1} above the next scale, {name}"),
            );
            (
                ScaleChoice::Best(only.clone()),
                format!("Wear follows {only} best: {next}."),
            )
        }
        _ => {
            let statement = format!(
                "The data do not settle which scale wear follows: {} lie within {TELLING} in log-likelihood.",
                close.join(" and ")
            );
            (ScaleChoice::Undecided(close), statement)
        }
    }
}

/// Sum over exact failures of the logarithm of usage on a scale over usage on the reference.
pub(super) fn ln_rates(
    lives: &ScaledLives,
    reference: usize,
    usage: impl Fn(&[crate::observation::Observation]) -> Option<f64>,
) -> f64 {
    lives
        .lives()
        .iter()
        .filter_map(|life| {
            let base = life.on.get(reference)?;
            if base.ending() != Ending::Exact {
                return None;
            }
            Some(base.count as f64 * (usage(&life.on)?.ln() - end(base).ln()))
        })
        .collect::<Sum>()
        .total()
}

/// Standard deviation over mean of a fitted life; none where infinite.
fn variation(fit: &Fit) -> Option<f64> {
    let square = match fit.family {
        Family::Exponential => 1.0,
        Family::Lognormal => {
            let sigma = fit.parameter("sigma")?;
            (sigma * sigma).exp_m1()
        }
        Family::Weibull => {
            let inverse = 1.0 / fit.parameter("shape")?;
            (libm::lgamma(1.0 + 2.0 * inverse) - 2.0 * libm::lgamma(1.0 + inverse)).exp_m1()
        }
        _ => {
            let inverse = 1.0 / fit.parameter("shape")?;
            if inverse >= 0.5 {
                return None;
            }
            // Moments of the loglogistic: (pi k / shape) / sin(pi k / shape).
            let angle = std::f64::consts::PI * inverse;
            angle.tan() / angle - 1.0
        }
    };
    (square.is_finite() && square >= 0.0).then(|| square.sqrt())
}

fn sample_variation(sample: &Sample) -> Option<f64> {
    let complete = sample.exact_failures() == sample.lives() && sample.delayed_entry() == 0;
    if !complete || sample.lives() < 2 {
        return None;
    }
    let (mut sum, mut squares) = (Sum::default(), Sum::default());
    let lives = sample.lives() as f64;
    for row in sample.observations() {
        sum.add(row.count as f64 * row.upper / lives);
    }
    let mean = sum.total();
    for row in sample.observations() {
        let gap = row.upper / mean - 1.0;
        squares.add(row.count as f64 * gap * gap);
    }
    let variation = (squares.total() / (lives - 1.0)).sqrt();
    variation.is_finite().then_some(variation)
}
