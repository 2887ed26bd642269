//! Random effects on estimates with known variances: `y_i ~ N(theta_i, v_i)`, `theta_i ~ N(mean, between)`
//! (Rubin 1981, Journal of Educational Statistics 6; Gelman et al. 2013, section 5.4).

use super::PoolingError;
use crate::special::gamma::chi_square_upper;
use crate::special::normal::quantile;
use crate::summation::Sum;

/// How the variance between groups is found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Between {
    /// Restricted maximum likelihood (Patterson and Thompson 1971, Biometrika 58).
    #[default]
    Restricted,
    /// From the spread about the weighted mean (DerSimonian and Laird 1986, Controlled Clinical Trials 7).
    Moments,
    /// For equal variances: the shrinkage is `(k - 3) v / S`, with `S` the squares about the mean (Efron and Morris
    /// 1975, JASA 70), at most 1.
    EfronMorris,
    /// Declared.
    Known(f64),
}

/// One group's effect after pooling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NormalEffect {
    /// Posterior mean.
    pub mean: f64,
    /// Posterior standard deviation, that of the common mean included.
    pub deviation: f64,
    /// How far the group's own estimate was drawn to the common mean: 0 not at all, 1 wholly.
    pub shrinkage: f64,
}

/// Effects of several groups, pooled.
#[derive(Clone, Debug, PartialEq)]
pub struct NormalPooled {
    /// Common mean.
    pub mean: f64,
    /// Its standard error.
    pub mean_error: f64,
    /// Variance between groups.
    pub between: f64,
    /// Squares about the weighted mean (Cochran 1954, Biometrics 10).
    pub heterogeneity: f64,
    /// Chance of squares at least as large if groups are alike.
    pub heterogeneity_p: f64,
    /// The groups in the order given.
    pub effects: Vec<NormalEffect>,
}

impl NormalEffect {
    /// Normal limits with confidence `level` in (0, 1), half the rest on each side.
    #[must_use]
    pub fn limits(&self, level: f64) -> Option<(f64, f64)> {
        (level > 0.0 && level < 1.0).then(|| {
            let reach = quantile(0.5 + 0.5 * level) * self.deviation;
            (self.mean - reach, self.mean + reach)
        })
    }
}

/// Pools estimates, each given with its variance.
///
/// # Errors
/// For fewer than 3 groups (4 by the rule of Efron and Morris), values that cannot be used, or unequal variances where
/// the rule needs equal ones.
pub fn pool_normal(
    estimates: &[(f64, f64)],
    between: Between,
) -> Result<NormalPooled, PoolingError> {
    let least = if between == Between::EfronMorris {
        4
    } else {
        3
    };
    if estimates.len() < least {
        return Err(PoolingError::TooFewGroups {
            groups: estimates.len(),
            least,
        });
    }
    for (place, (estimate, variance)) in estimates.iter().enumerate() {
        let usable = estimate.is_finite()
            && variance.is_finite()
            && *variance > 0.0
            && (1.0 / variance).is_finite();
        if !usable {
            return Err(PoolingError::Effect { place });
        }
    }
    let alike = At::new(estimates, 0.0);
    let freedom = estimates.len() as f64 - 1.0;
    let between = match between {
        Between::Known(value) if value.is_finite() && value >= 0.0 => value,
        Between::Known(value) => return Err(PoolingError::Between { value }),
        Between::Moments => {
            let spare = alike.weight - alike.squared_weight / alike.weight;
            ((alike.squares - freedom) / spare).max(0.0)
        }
        Between::EfronMorris => efron_morris(estimates)?,
        Between::Restricted => restricted(estimates),
    };
    let at = At::new(estimates, between);
    let mean_variance = 1.0 / at.weight;
    if !(at.mean.is_finite() && mean_variance.is_finite() && alike.squares.is_finite()) {
        return Err(PoolingError::NotConverged);
    }
    Ok(NormalPooled {
        mean: at.mean,
        mean_error: mean_variance.sqrt(),
        between,
        heterogeneity: alike.squares,
        heterogeneity_p: chi_square_upper(alike.squares, freedom),
        effects: estimates
            .iter()
            .map(|(estimate, variance)| {
                let shrinkage = variance / (variance + between);
                NormalEffect {
                    mean: shrinkage * at.mean + (1.0 - shrinkage) * estimate,
                    deviation: ((1.0 - shrinkage) * variance
                        + shrinkage * shrinkage * mean_variance)
                        .sqrt(),
                    shrinkage,
                }
            })
            .collect(),
    })
}

/// Weighted sums at one variance between groups.
struct At {
    weight: f64,
    squared_weight: f64,
    mean: f64,
    /// Weighted squares about the mean.
    squares: f64,
    /// Restricted log-likelihood, up to a constant.
    value: f64,
}

impl At {
    fn new(estimates: &[(f64, f64)], between: f64) -> Self {
        let sum = |of: &dyn Fn(f64, f64) -> f64| {
            estimates
                .iter()
                .map(|(estimate, variance)| of(*estimate, 1.0 / (variance + between)))
                .collect::<Sum>()
                .total()
        };
        let weight = sum(&|_, w| w);
        let mean = sum(&|y, w| w * y) / weight;
        let squares = sum(&|y, w| w * (y - mean) * (y - mean));
        let logs = sum(&|_, w| w.ln());
        Self {
            weight,
            squared_weight: sum(&|_, w| w * w),
            mean,
            squares,
            value: 0.5 * (logs - weight.ln() - squares),
        }
    }
}

fn efron_morris(estimates: &[(f64, f64)]) -> Result<f64, PoolingError> {
    let first = estimates.first().map_or(1.0, |first| first.1);
    if estimates
        .iter()
        .any(|(_, variance)| (variance / first - 1.0).abs() > 1e-9)
    {
        return Err(PoolingError::UnequalVariances);
    }
    let squares = At::new(estimates, 0.0).squares * first;
    let shrinkage = (estimates.len() as f64 - 3.0) * first / squares;
    if shrinkage >= 1.0 || squares <= 0.0 {
        return Ok(0.0);
    }
    // shrinkage = v / (v + between)
    Ok(first / shrinkage - first)
}

/// The top of the restricted likelihood: the best of a wide grid, then golden sections about it.
fn restricted(estimates: &[(f64, f64)]) -> f64 {
    let value = |between: f64| At::new(estimates, between).value;
    let least = estimates.iter().map(|e| e.1).fold(f64::INFINITY, f64::min);
    let alike = At::new(estimates, 0.0);
    let widest = estimates
        .iter()
        .map(|(y, _)| (y - alike.mean) * (y - alike.mean))
        .fold(least, f64::max);
    let (low, high) = ((least * 1e-8).ln(), (widest * 100.0).ln());
    let steps = 240;
    let at = |step: f64| (low + (high - low) * step / f64::from(steps)).exp();
    let mut best = (0.0, f64::NEG_INFINITY);
    for step in 0..=steps {
        let step = f64::from(step);
        if value(at(step)) > best.1 {
            best = (step, value(at(step)));
        }
    }
    if alike.value >= best.1 {
        return 0.0;
    }
    let (mut a, mut b) = (best.0 - 1.0, best.0 + 1.0);
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    while b - a > 1e-9 {
        let (c, d) = (b - ratio * (b - a), a + ratio * (b - a));
        if value(at(c)) > value(at(d)) {
            b = d;
        } else {
            a = c;
        }
    }
    let found = polished(estimates, at(0.5 * (a + b)));
    if value(found) > alike.value {
        found
    } else {
        0.0
    }
}

/// Scoring steps on the slope, which tells the top more sharply than the value does.
fn polished(estimates: &[(f64, f64)], mut between: f64) -> f64 {
    for _ in 0..20 {
        let at = At::new(estimates, between);
        let sum = |of: &dyn Fn(f64, f64) -> f64| {
            estimates
                .iter()
                .map(|(y, v)| of(*y - at.mean, 1.0 / (v + between)))
                .collect::<Sum>()
                .total()
        };
        // Twice the slope, and twice the information expected.
        let slope = sum(&|gap, w| w * w * gap * gap) - at.weight + at.squared_weight / at.weight;
        let cubes = sum(&|_, w| w * w * w);
        let information = at.squared_weight - 2.0 * cubes / at.weight
            + at.squared_weight * at.squared_weight / (at.weight * at.weight);
        let next = between + slope / information;
        if !(next.is_finite() && next > 0.0 && (next / between - 1.0).abs() < 0.1) {
            break;
        }
        between = next;
    }
    between
}
