//! Likelihood of the three-parameter Weibull, with exact derivatives in location, log shape and threshold.
//!
//! `z(t) = exp(log_shape) (ln(t - threshold) - location)`, cumulative hazard `exp(z)`, nothing before the threshold
//! (Meeker and Escobar 1998, section 5.10).

use nalgebra::{Matrix3, Vector3};

use crate::fitting::newton::Surface;
use crate::summation::Sum;

/// The usages of one life, in units of the typical one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Usages {
    pub count: f64,
    pub entry: f64,
    pub lower: f64,
    /// Infinite if it survived, equal to `lower` if it failed exactly there.
    pub upper: f64,
}

/// A term with derivatives.
#[derive(Clone, Copy, Debug)]
struct Term {
    value: f64,
    gradient: Vector3<f64>,
    hessian: Matrix3<f64>,
}

/// Standard variable with derivatives.
type Standard = Term;

/// Location, log shape and threshold.
pub(super) type Place = Vector3<f64>;

fn nothing() -> Term {
    Term {
        value: 0.0,
        gradient: Vector3::zeros(),
        hessian: Matrix3::zeros(),
    }
}

/// Log-likelihood, by the density of usage in its own unit.
pub(super) fn evaluate(lives: &[Usages], at: &Place) -> Surface<3> {
    let mut sums = [Sum::default(); 10];
    for life in lives {
        let term = contribution(life, at);
        let (g, h) = (term.gradient, term.hessian);
        let parts = [
            term.value, g.x, g.y, g.z, h.m11, h.m12, h.m13, h.m22, h.m23, h.m33,
        ];
        for (sum, part) in sums.iter_mut().zip(parts) {
            sum.add(life.count * part);
        }
    }
    let [value, g0, g1, g2, a, b, c, d, e, f] = sums.map(|sum| sum.total());
    Surface {
        value,
        gradient: Vector3::new(g0, g1, g2),
        hessian: Matrix3::new(a, b, c, b, d, e, c, e, f),
    }
}

fn contribution(life: &Usages, at: &Place) -> Term {
    let mut term = if life.upper.is_infinite() {
        nothing()
    } else if life.upper <= life.lower {
        log_hazard(life.lower, at)
    } else {
        log_failure(&gain(life.lower, life.upper, at))
    };
    for (usage, sign) in [(life.lower, -1.0), (life.entry, 1.0)] {
        if usage > at.z {
            let z = standard(usage, at);
            let amount = sign * z.value.exp();
            if amount != 0.0 {
                term.value += amount;
                term.gradient += z.gradient * amount;
                term.hessian += (z.hessian + z.gradient * z.gradient.transpose()) * amount;
            }
        }
    }
    term
}

fn standard(usage: f64, at: &Place) -> Standard {
    let shape = at.y.exp();
    let since = usage - at.z;
    let z = shape * (since.ln() - at.x);
    let rise = shape / since;
    Term {
        value: z,
        gradient: Vector3::new(-shape, z, -rise),
        hessian: Matrix3::new(
            0.0,
            -shape,
            0.0,
            -shape,
            z,
            -rise,
            0.0,
            -rise,
            -rise / since,
        ),
    }
}

/// Logarithm of the hazard per unit of usage.
fn log_hazard(usage: f64, at: &Place) -> Term {
    let mut term = standard(usage, at);
    let since = usage - at.z;
    term.value += at.y - since.ln();
    term.gradient.y += 1.0;
    term.gradient.z += 1.0 / since;
    term.hessian.m33 += 1.0 / (since * since);
    term
}

/// Logarithm of the cumulative hazard gained, with derivatives of the gain divided by it.
fn gain(lower: f64, upper: f64, at: &Place) -> Term {
    let shape = at.y.exp();
    let since = lower - at.z;
    if since > 0.0 && (upper - lower) * (shape + 1.0) < 0.3 * since {
        return gain_by_quadrature(lower, upper, at);
    }
    let top = standard(upper, at);
    let bottom = (since > 0.0).then(|| standard(lower, at));
    let ln = match &bottom {
        Some(bottom) => top.value + (-(bottom.value - top.value).exp_m1()).ln(),
        None => top.value,
    };
    let mut gained = nothing();
    gained.value = ln;
    let mut add = |z: &Standard, sign: f64| {
        let rate = sign * (z.value - ln).exp();
        if rate != 0.0 {
            gained.gradient += z.gradient * rate;
            gained.hessian += (z.hessian + z.gradient * z.gradient.transpose()) * rate;
        }
    };
    add(&top, 1.0);
    if let Some(bottom) = &bottom {
        add(bottom, -1.0);
    }
    gained
}

/// Over short stretches the difference of two cumulative hazards would cancel: integrate the hazard instead.
fn gain_by_quadrature(lower: f64, upper: f64, at: &Place) -> Term {
    let reference = log_hazard(upper, at).value;
    let mut total = 0.0;
    let mut gained = nothing();
    for (point, weight) in crate::fitting::likelihood::RULE {
        let rate = log_hazard(lower + point * (upper - lower), at);
        let mass = weight * (rate.value - reference).exp();
        total += mass;
        gained.gradient += rate.gradient * mass;
        gained.hessian += (rate.hessian + rate.gradient * rate.gradient.transpose()) * mass;
    }
    Term {
        value: reference + total.ln() + (upper - lower).ln(),
        gradient: gained.gradient / total,
        hessian: gained.hessian / total,
    }
}

/// Logarithm of `1 - exp(-gain)`.
fn log_failure(gain: &Term) -> Term {
    let amount = gain.value.exp();
    let (value, first, second) = if amount < 1e-9 {
        (gain.value - 0.5 * amount, 1.0 - 0.5 * amount, -1.0)
    } else {
        let value = crate::special::incomplete_gamma::ln_complement(-amount);
        let first = if amount > 700.0 {
            0.0
        } else {
            amount / amount.exp_m1()
        };
        (value, first, -first * (first + amount))
    };
    // Far out the share is one and stays one.
    let second = if first == 0.0 { 0.0 } else { second };
    Term {
        value,
        gradient: gain.gradient * first,
        hessian: gain.hessian * first + gain.gradient * gain.gradient.transpose() * second,
    }
}
