//! Limits of what a power-law process says: exact where the design allows, by the likelihood ratio elsewhere.

use super::power_law::{Design, LN_SHAPE_RANGE, PowerLawFit};
use super::{RecurrentError, chi_square};
use crate::intervals::{Level, Limits, Side, unbounded};
use crate::quadrature::integral;
use crate::solve::root;
use crate::special::gamma::chi_square_upper;
use crate::warning::{Warning, WarningCode};

/// Exact limits of the intensity are sums over counts of events; above this number the likelihood ratio is as good.
const MOST_EVENTS_FOR_EXACT: u64 = 10_000;

/// How the limits of a power law are made. Exact ones exist for counts of events, not for lives, so the choice differs
/// from that of [`crate::intervals::Method`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PowerLawLimitMethod {
    /// From the known distribution of the estimate: for all systems watched from new to one age, or one system to its
    /// last event. The shape by chi-square; the intensity at the end by the conditional distribution of the number of
    /// events (stopped by time) or by a product of two gamma variables (stopped at an event) (Crow 1982, Technometrics
    /// 24; Lee and Lee 1978, Technometrics 20).
    Exact,
    /// Values whose best likelihood is within a chi-square of the top (Meeker and Escobar 1998, 8.3).
    LikelihoodRatio,
    /// Normal on the logarithm, with the observed information.
    Delta,
}

/// Limits with the way they were made.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLawLimits {
    /// How they were made.
    pub method: PowerLawLimitMethod,
    /// The best value and its limits.
    pub limits: Limits,
}

impl PowerLawFit {
    /// Limits of the shape: exact where the design allows, by the likelihood ratio elsewhere.
    ///
    /// # Errors
    /// When the search for a limit fails.
    pub fn shape_limits(&self, level: Level) -> Result<PowerLawLimits, RecurrentError> {
        let method = match self.design {
            Design::Other(_) => PowerLawLimitMethod::LikelihoodRatio,
            _ => PowerLawLimitMethod::Exact,
        };
        self.shape_limits_by(level, method)
    }

    /// Limits of the shape by the method asked for.
    ///
    /// # Errors
    /// When exact limits do not exist in this design, or the search fails.
    pub fn shape_limits_by(
        &self,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        let n = self.events as f64;
        let sides = match method {
            PowerLawLimitMethod::Exact => {
                let freedom = match self.design {
                    Design::CommonTime => 2.0 * n,
                    Design::OneToFailure => 2.0 * (n - 1.0),
                    Design::Other(reason) => return Err(RecurrentError::NoExactLimits { reason }),
                };
                let tail = tail(level);
                let at = |p: f64| {
                    Ok(Some(
                        self.shape * chi_square::quantile(p, freedom) / (2.0 * n),
                    ))
                };
                sides(level, || at(tail), || at(1.0 - tail))?
            }
            PowerLawLimitMethod::LikelihoodRatio => self.shape_by_likelihood(level)?,
            PowerLawLimitMethod::Delta => {
                let spread = level.distance() * self.log_covariance[1][1].sqrt();
                sides(
                    level,
                    || Ok(Some(self.shape * (-spread).exp())),
                    || Ok(Some(self.shape * spread.exp())),
                )?
            }
        };
        told(level, method, self.shape, sides, Vec::new())
    }

    /// Limits of the intensity of one system at an age: exact at the common end where the design allows, by the
    /// likelihood ratio elsewhere. Beyond the longest age watched they carry a warning.
    ///
    /// # Errors
    /// For an age that is not finite and above 0, an intensity out of range, or a search that fails.
    pub fn intensity_limits(
        &self,
        age: f64,
        level: Level,
    ) -> Result<PowerLawLimits, RecurrentError> {
        let exact = !matches!(self.design, Design::Other(_))
            && age == self.longest_age
            && self.events <= MOST_EVENTS_FOR_EXACT;
        let method = if exact {
            PowerLawLimitMethod::Exact
        } else {
            PowerLawLimitMethod::LikelihoodRatio
        };
        self.intensity_limits_by(age, level, method)
    }

    /// Limits of the intensity of one system at an age by the method asked for.
    ///
    /// # Errors
    /// As [`Self::intensity_limits`], and when exact limits do not exist in this design or at this age.
    pub fn intensity_limits_by(
        &self,
        age: f64,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        if !(age.is_finite() && age > 0.0) {
            return Err(RecurrentError::Age { value: age });
        }
        let best = self.intensity(age).ok_or(RecurrentError::OutOfRange)?;
        let sides = match method {
            PowerLawLimitMethod::Exact => {
                let (low, high) = self.exact_factors(age, level)?;
                (low.map(|low| best * low), high.map(|high| best * high))
            }
            PowerLawLimitMethod::LikelihoodRatio => {
                let (low, high) = self.ln_intensity_steps(age, level)?;
                (
                    low.map(|step| best * step.exp()),
                    high.map(|step| best * step.exp()),
                )
            }
            PowerLawLimitMethod::Delta => {
                let spread = level.distance() * self.ln_intensity_error(age);
                sides(
                    level,
                    || Ok(Some(best * (-spread).exp())),
                    || Ok(Some(best * spread.exp())),
                )?
            }
        };
        told(level, method, best, sides, self.beyond(age))
    }

    /// Limits of the mean usage between events of one system at an age, as those of the intensity.
    ///
    /// # Errors
    /// As [`Self::intensity_limits`].
    pub fn mtbf_limits(&self, age: f64, level: Level) -> Result<PowerLawLimits, RecurrentError> {
        inverted(self.intensity_limits(age, level.opposite())?, level)
    }

    /// Limits of the mean usage between events of one system at an age by the method asked for.
    ///
    /// # Errors
    /// As [`Self::intensity_limits_by`].
    pub fn mtbf_limits_by(
        &self,
        age: f64,
        level: Level,
        method: PowerLawLimitMethod,
    ) -> Result<PowerLawLimits, RecurrentError> {
        inverted(
            self.intensity_limits_by(age, level.opposite(), method)?,
            level,
        )
    }

    fn beyond(&self, age: f64) -> Vec<Warning> {
        if age <= self.longest_age {
            return Vec::new();
        }
        vec![Warning::new(
            WarningCode::Extrapolation,
            format!(
                "The age {age} lies beyond the longest age watched, {}.",
                self.longest_age
            ),
        )]
    }

    /// Standard error of the logarithm of the intensity.
    fn ln_intensity_error(&self, age: f64) -> f64 {
        let at = self.windows.moments(self.shape);
        let n = self.events as f64;
        let lever = self.ln_age(age) - at.mean;
        ((1.0 + lever * lever / at.variance) / n).sqrt()
    }

    fn shape_by_likelihood(
        &self,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let n = self.events as f64;
        let profile = |ln_shape: f64| {
            let shape = ln_shape.exp();
            -n * self.windows.moments(shape).ln_total + shape * self.ln_ages
        };
        let best = self.shape.ln();
        let top = profile(best);
        let gap = 0.5 * level.distance().powi(2);
        let first = level.distance() * self.log_covariance[1][1].sqrt();
        let range = (LN_SHAPE_RANGE.0 - best, LN_SHAPE_RANGE.1 - best);
        let fall = |step: f64| Some(top - profile(best + step) - gap);
        let (low, high) = sides(
            level,
            || crossing(&fall, -first, range.0),
            || crossing(&fall, first, range.1),
        )?;
        Ok((
            low.map(|step| (best + step).exp()),
            high.map(|step| (best + step).exp()),
        ))
    }

    /// Steps of the log intensity at an age to its limits by the likelihood ratio.
    fn ln_intensity_steps(
        &self,
        age: f64,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let n = self.events as f64;
        let r = self.ln_age(age);
        // Up to a constant, at ln(intensity age) = target and the shape given.
        let value = |target: f64, ln_shape: f64| {
            let shape = ln_shape.exp();
            let ln_expected = target - shape * r + self.windows.moments(shape).ln_total;
            n * (target - shape * r) + shape * self.ln_ages - ln_expected.exp()
        };
        let profile = |target: f64| {
            let slope = |ln_shape: f64| {
                let shape = ln_shape.exp();
                let at = self.windows.moments(shape);
                let lever = at.mean - r;
                let expected = (target - shape * r + at.ln_total).exp().min(f64::MAX);
                self.ln_ages - n * r - if lever == 0.0 { 0.0 } else { expected * lever }
            };
            let ln_shape = falling_root(&slope, self.shape.ln())?;
            Some(value(target, ln_shape))
        };
        let best = self.ln_level + self.shape * r;
        let top = value(best, self.shape.ln());
        let gap = 0.5 * level.distance().powi(2);
        let first = level.distance() * self.ln_intensity_error(age);
        let fall = |step: f64| Some(top - profile(best + step)? - gap);
        sides(
            level,
            || crossing(&fall, -first, -700.0),
            || crossing(&fall, first, 700.0),
        )
    }

    /// Limits of the intensity at the common end, as multiples of the estimate.
    fn exact_factors(
        &self,
        age: f64,
        level: Level,
    ) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
        let none = |reason| RecurrentError::NoExactLimits { reason };
        if let Design::Other(reason) = self.design {
            return Err(none(reason));
        }
        if age != self.longest_age {
            return Err(none("the age is not the common end"));
        }
        if self.events > MOST_EVENTS_FOR_EXACT {
            return Err(none("there are too many events for them"));
        }
        let n = self.events as f64;
        let tail = tail(level);
        let found = |ln: Option<f64>| {
            ln.map(|ln| Some((ln - 2.0 * n.ln()).exp()))
                .ok_or(RecurrentError::NotConverged)
        };
        if self.design == Design::CommonTime {
            // Given the sum of ln(end / age), the number of events has a distribution with one parameter, which is
            // the intensity at the end times known numbers.
            sides(
                level,
                || {
                    if self.events < 2 {
                        // A single event is there at any intensity, however low.
                        return Ok(None);
                    }
                    found(rising_root(
                        &|ln| 1.0 - at_most(n - 1.0, ln) - tail,
                        2.0 * n.ln(),
                        n,
                    ))
                },
                || found(rising_root(&|ln| tail - at_most(n, ln), 2.0 * n.ln(), n)),
            )
        } else {
            let below = |p: f64| {
                move |ln: f64| gamma_product_upper(n, ln).map_or(f64::NAN, |upper| 1.0 - p - upper)
            };
            sides(
                level,
                || found(rising_root(&below(tail), 2.0 * n.ln(), n)),
                || found(rising_root(&below(1.0 - tail), 2.0 * n.ln(), n)),
            )
        }
    }
}

/// Chance that a count with probabilities proportional to `z^k / (k! (k-1)!)`, `k >= 1`, is at most `most`.
///
/// The total is `sqrt(z)` times the modified Bessel function of order 1 at `2 sqrt(z)`; both parts are summed from
/// the term at the bound outwards, where the terms are largest.
fn at_most(most: f64, ln_z: f64) -> f64 {
    if most < 1.0 {
        return 0.0;
    }
    let z = ln_z.exp();
    let (mut below, mut term, mut k) = (1.0_f64, 1.0, most);
    while k > 1.0 && term > 1e-18 * below {
        term *= k * (k - 1.0) / z;
        below += term;
        k -= 1.0;
    }
    let (mut above, mut term, mut k) = (0.0_f64, 1.0, most);
    loop {
        term *= z / ((k + 1.0) * k);
        k += 1.0;
        above += term;
        let falling = z < k * (k + 1.0);
        if (falling && term <= 1e-18 * (above + below)) || above > 1e290 {
            break;
        }
    }
    below / (below + above)
}

/// Chance that the product of two independent gamma variables, of shapes `n - 1` and `n`, lies above `exp(ln)`.
fn gamma_product_upper(n: f64, ln: f64) -> Option<f64> {
    let reach = 12.0 / n.sqrt();
    // The lower tail of the logarithm falls as exp(n y), the upper as exp(-exp(y)).
    let (low, high) = (-reach - 40.0 / n, reach.min(2.0) + 1.5 / n.sqrt());
    // About ln n, where large numbers cancel before they are rounded.
    let ln_n = n.ln();
    let ln_peak = n * ln_n - n - libm::lgamma(n);
    integral(
        |d| {
            let density = (ln_peak + n * (d - d.exp_m1())).exp();
            density * chi_square_upper(2.0 * (ln - ln_n - d).exp(), 2.0 * (n - 1.0))
        },
        low,
        high,
        1e-10,
    )
}

/// Chance left out on each side.
fn tail(level: Level) -> f64 {
    match level.side() {
        Side::TwoSided => 0.5 * (1.0 - level.level()),
        Side::Lower | Side::Upper => 1.0 - level.level(),
    }
}

/// The sides asked for.
fn sides(
    level: Level,
    low: impl FnOnce() -> Result<Option<f64>, RecurrentError>,
    high: impl FnOnce() -> Result<Option<f64>, RecurrentError>,
) -> Result<(Option<f64>, Option<f64>), RecurrentError> {
    let low = if level.wants_lower() { low()? } else { None };
    let high = if level.wants_upper() { high()? } else { None };
    Ok((low, high))
}

/// Where a function that is negative at 0 and grows outwards changes its sign; none if it does not up to `last`.
fn crossing(
    fall: &impl Fn(f64) -> Option<f64>,
    first: f64,
    last: f64,
) -> Result<Option<f64>, RecurrentError> {
    let (mut near, mut far) = (0.0, first.clamp(-0.99 * last.abs(), 0.99 * last.abs()));
    for _ in 0..80 {
        let there = fall(far).ok_or(RecurrentError::NotConverged)?;
        if there.is_nan() {
            return Err(RecurrentError::NotConverged);
        }
        if there >= 0.0 {
            // An infinite fall would stall the interpolation of the root.
            return root(
                |step| fall(step).map_or(f64::NAN, |fall| fall.min(1e3)),
                near,
                far,
            )
            .map(Some)
            .ok_or(RecurrentError::NotConverged);
        }
        if far == last {
            return Ok(None);
        }
        near = far;
        far *= 1.6;
        if far.abs() >= last.abs() {
            far = last;
        }
    }
    Err(RecurrentError::NotConverged)
}

/// Root of a falling function of the log shape, or the end of the range where it has none.
fn falling_root(slope: &impl Fn(f64) -> f64, start: f64) -> Option<f64> {
    let (least, most) = LN_SHAPE_RANGE;
    let (mut low, mut high) = (start, start);
    let mut step = 0.1;
    while slope(low) < 0.0 {
        if low <= least {
            return Some(least);
        }
        low = (low - step).max(least);
        step *= 2.0;
    }
    step = 0.1;
    while slope(high) > 0.0 {
        if high >= most {
            return Some(most);
        }
        high = (high + step).min(most);
        step *= 2.0;
    }
    // Tamed, because a slope of any size would stall the interpolation of the root.
    root(
        |ln_shape| slope(ln_shape).clamp(f64::MIN, f64::MAX).asinh(),
        low,
        high,
    )
}

/// Root of a rising function about a start, with steps that suit a spread of one over the root of `n`.
fn rising_root(f: &impl Fn(f64) -> f64, start: f64, n: f64) -> Option<f64> {
    let (mut low, mut high) = (start, start);
    let mut step = 1.0 / n.sqrt();
    for _ in 0..60 {
        if f(low) <= 0.0 {
            break;
        }
        low -= step;
        step *= 1.5;
    }
    step = 1.0 / n.sqrt();
    for _ in 0..60 {
        if f(high) >= 0.0 {
            break;
        }
        high += step;
        step *= 1.5;
    }
    root(f, low, high)
}

/// Limits with a warning for each side that was wanted and does not exist.
fn told(
    level: Level,
    method: PowerLawLimitMethod,
    value: f64,
    (lower, upper): (Option<f64>, Option<f64>),
    mut warnings: Vec<Warning>,
) -> Result<PowerLawLimits, RecurrentError> {
    let lower = lower.filter(|limit| limit.is_finite() && *limit > 0.0);
    let upper = upper.filter(|limit| limit.is_finite() && *limit > 0.0);
    if level.wants_lower() && lower.is_none() {
        warnings.push(unbounded("lower"));
    }
    if level.wants_upper() && upper.is_none() {
        warnings.push(unbounded("upper"));
    }
    Ok(PowerLawLimits {
        method,
        limits: Limits {
            value,
            lower,
            upper,
            warnings,
        },
    })
}

/// One over the limits, sides exchanged.
fn inverted(of: PowerLawLimits, level: Level) -> Result<PowerLawLimits, RecurrentError> {
    let value = 1.0 / of.limits.value;
    if !value.is_finite() {
        return Err(RecurrentError::OutOfRange);
    }
    let kept = of
        .limits
        .warnings
        .into_iter()
        .filter(|warning| warning.code != WarningCode::UnboundedLimit)
        .collect();
    told(
        level,
        of.method,
        value,
        (
            of.limits.upper.map(|limit| 1.0 / limit),
            of.limits.lower.map(|limit| 1.0 / limit),
        ),
        kept,
    )
}
