//! Mean residual life: the integral of survival beyond an age, over survival at the age.
//!
//! Closed forms for the exponential, the Weibull (incomplete gamma) and the loglogistic (incomplete beta), and for
//! power tails of the generalised gamma; else the double-exponential rule for half-infinite ranges (Takahasi and Mori
//! 1974, Publ. RIMS 9), halved until two results agree.

use std::f64::consts::FRAC_PI_2;

use super::life_distribution::{LifeDistribution, ln_mean_ratio};
use crate::families::Curve;
use crate::special::gamma::pi_over_sine;
use crate::special::incomplete_gamma::GammaShape;
use crate::summation::Sum;

/// Products `|Q| sigma` beyond this have a tail so heavy that the integral is taken in closed form.
const HEAVY_TAIL: f64 = 0.2;

pub(super) fn mean_residual_life(life: &LifeDistribution, age: f64) -> Option<f64> {
    if !(age.is_finite() && age >= 0.0) {
        return None;
    }
    if age <= life.threshold {
        return Some(life.mean()? - age).filter(|mean| mean.is_finite() && *mean > 0.0);
    }
    let since = age - life.threshold;
    let shape = life.shape();
    let mean = match life.curve {
        Curve::Exponential => life.location.exp(),
        Curve::Weibull => {
            // scale/shape Gamma(1/shape, H) exp(H), where the last two make the reciprocal rate of a gamma variable.
            let tails = GammaShape::new(1.0 / shape).tails(life.z(age) + life.log_shape);
            (since.ln() - life.log_shape - tails.ln_upper_rate).exp()
        }
        Curve::Loglogistic if shape > 1.0 => loglogistic(life, age),
        Curve::Loglogistic => return None,
        Curve::GeneralisedGamma(curve) if curve.form() / shape < -HEAVY_TAIL => {
            power_tail(life, curve.form(), age)?
        }
        Curve::Lognormal | Curve::GeneralisedGamma(_) => by_quadrature(life, age)?,
    };
    (mean.is_finite() && mean > 0.0).then_some(mean)
}

/// `scale/shape B(S; 1 - 1/shape, 1/shape) / S`.
fn loglogistic(life: &LifeDistribution, age: f64) -> f64 {
    let b = 1.0 / life.shape();
    let a = 1.0 - b;
    let ln_survival = -life.curve.cumulative_hazard(life.z(age));
    let survival = ln_survival.exp();
    let ln_unit = life.location + b.ln() - ln_survival;
    if survival < 0.5 {
        (ln_unit + a * ln_survival).exp() * incomplete_beta_series(survival, a)
    } else {
        let failed = -ln_survival.exp_m1();
        ln_unit.exp() * (pi_over_sine(b) - failed.powf(b) * incomplete_beta_series(failed, b))
    }
}

/// `B(x; a, 1 - a) / x^a`, by its series (Abramowitz and Stegun 1964, 26.5.4), for `0 <= x <= 1/2`.
fn incomplete_beta_series(x: f64, a: f64) -> f64 {
    let (mut factor, mut total, mut n) = (1.0, 1.0 / a, 0.0);
    for _ in 0..200 {
        factor *= x * (a + n) / (n + 1.0);
        n += 1.0;
        let term = factor / (a + n);
        total += term;
        if term <= total * 1e-18 {
            break;
        }
    }
    total
}

/// `E(T; T > t) / S(t) - t` for `Q < 0`: the first term is the mean times a gamma probability of shape `a + sigma/Q`.
fn power_tail(life: &LifeDistribution, form: f64, age: f64) -> Option<f64> {
    let sigma = 1.0 / life.shape();
    let ln_mean = life.location + ln_mean_ratio(form, sigma)?;
    let a = 1.0 / (form * form);
    let growth = sigma * form;
    let u = form * life.z(age);
    let within = GammaShape::new(a * (1.0 + growth)).tails(u - growth.ln_1p());
    let all = GammaShape::new(a).tails(u);
    Some((ln_mean + within.ln_lower - all.ln_lower).exp() - (age - life.threshold))
}

fn by_quadrature(life: &LifeDistribution, age: f64) -> Option<f64> {
    /// Powers beyond these leave the range of numbers.
    const FURTHEST: f64 = 6.2;
    let unit = life.span_for_hazard(age, 1.0)?;
    let term = |x: f64| {
        let ln_span = FRAC_PI_2 * x.sinh();
        let survived = (-life.ln_gain(age, unit * ln_span.exp()).exp()).exp();
        let term = survived * ln_span.exp() * FRAC_PI_2 * x.cosh();
        if survived > 0.0 && term.is_finite() {
            term
        } else {
            0.0
        }
    };
    let mut step = 0.5;
    let mut sum = Sum::default();
    let mut x = -FURTHEST;
    while x <= FURTHEST {
        sum.add(term(x));
        x += step;
    }
    let mut before = sum.total() * step;
    for _ in 0..9 {
        let mut x = -FURTHEST + 0.5 * step;
        while x <= FURTHEST {
            sum.add(term(x));
            x += step;
        }
        step *= 0.5;
        let now = sum.total() * step;
        if (now - before).abs() <= 1e-10 * now {
            return Some(now * unit);
        }
        before = now;
    }
    None
}
