//! The likelihood, written once for all families, all censoring and delayed entry.
//!
//! Every life contributes the hazard at its failure, if that is exact, and the cumulative hazard over stretches of
//! usage: minus the hazard gained while known unfailed, and for a failure within a stretch the logarithm of
//! `1 - exp(-gain)`. Gains are handled by their logarithm and their relative derivatives, so that neither tail
//! underflows, and over short stretches by quadrature, so that nothing cancels.

mod by_columns;
mod hazard_gain;
#[cfg(test)]
mod tests;

pub(crate) use self::by_columns::evaluate_parts;
use self::by_columns::{Covered, by_columns};
pub(crate) use self::hazard_gain::{Gain, RULE, gain};
use super::matrix::Symmetric;
use super::rows::{End, Row, Rows};
use crate::families::Curve;
use crate::summation::Sum;

/// A member of a family on the centred log scale, by one of its quantiles:
/// `z(y) = (y - location) * exp(log_shape) + anchor`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Member {
    /// The family, by its standard curve.
    pub family: Curve,
    /// Where `z` equals the anchor.
    pub location: f64,
    /// Logarithm of the shape.
    pub log_shape: f64,
    /// Fixed number that says which quantile `location` is.
    pub anchor: f64,
}

impl Member {
    pub(crate) fn shape(&self) -> f64 {
        self.log_shape.exp()
    }

    pub(crate) fn z(&self, y: f64) -> f64 {
        (y - self.location) * self.shape() + self.anchor
    }

    /// The same member described by another quantile.
    pub(crate) fn anchored_at(&self, anchor: f64) -> Self {
        Self {
            location: self.location + (anchor - self.anchor) / self.shape(),
            anchor,
            ..*self
        }
    }

    /// Derivative of `z` in location and log shape.
    fn gradient(&self, z: f64) -> [f64; 2] {
        [-self.shape(), z - self.anchor]
    }

    /// Second derivatives of `z`.
    fn bend(&self, z: f64) -> Symmetric {
        Symmetric {
            a: 0.0,
            b: -self.shape(),
            d: z - self.anchor,
        }
    }
}

/// Log-likelihood with derivatives in location and log shape.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Evaluation {
    pub value: f64,
    pub gradient: [f64; 2],
    pub hessian: Symmetric,
}

/// One term: value and derivatives.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Term {
    pub value: f64,
    pub gradient: [f64; 2],
    pub hessian: Symmetric,
}

/// Log-likelihood of the lives, on the usage scale (density of usage, not of its logarithm).
pub(crate) fn evaluate(rows: &Rows, member: &Member) -> Evaluation {
    let mut sums = [Sum::default(); 6];
    match by_columns(rows, member, &mut sums) {
        Covered::Everything => {}
        Covered::Columns => {
            for row in &rows.others.rows {
                add(
                    &contribution(row, rows.centre, member),
                    row.count,
                    &mut sums,
                );
            }
        }
        Covered::Nothing => return evaluate_by_life(rows, member),
    }
    total(sums)
}

/// The same life by life: the plain way, for families without sums over columns, and what those sums are checked
/// against.
pub(crate) fn evaluate_by_life(rows: &Rows, member: &Member) -> Evaluation {
    let mut sums = [Sum::default(); 6];
    for row in rows.iter() {
        add(
            &contribution(&row, rows.centre, member),
            row.count,
            &mut sums,
        );
    }
    total(sums)
}

fn add(term: &Term, count: f64, sums: &mut [Sum; 6]) {
    let [value, g0, g1, a, b, d] = sums;
    value.add(count * term.value);
    g0.add(count * term.gradient[0]);
    g1.add(count * term.gradient[1]);
    a.add(count * term.hessian.a);
    b.add(count * term.hessian.b);
    d.add(count * term.hessian.d);
}

fn total(sums: [Sum; 6]) -> Evaluation {
    let [value, g0, g1, a, b, d] = sums.map(|sum| sum.total());
    Evaluation {
        value,
        gradient: [g0, g1],
        hessian: Symmetric { a, b, d },
    }
}

/// What one life adds, on the usage scale.
pub(crate) fn contribution(row: &Row, centre: f64, member: &Member) -> Term {
    let mut term = match row.end {
        End::Survived => Term::default(),
        End::FailedAt(y) => {
            let mut term = log_rate(y, member);
            term.value -= centre + y;
            term
        }
        End::FailedWithin(stretch) => log_failure_within(&gain(&stretch, member)),
    };
    if let Some(stretch) = &row.unfailed {
        let gain = gain(stretch, member);
        let amount = gain.ln.exp();
        term.value -= amount;
        if amount > 0.0 {
            for (sum, part) in term.gradient.iter_mut().zip(gain.gradient) {
                *sum -= amount * part;
            }
            term.hessian.a -= amount * gain.hessian.a;
            term.hessian.b -= amount * gain.hessian.b;
            term.hessian.d -= amount * gain.hessian.d;
        }
    }
    term
}

/// Logarithm of the hazard per unit of log usage.
fn log_rate(y: f64, member: &Member) -> Term {
    let z = member.z(y);
    let jet = member.family.log_hazard(z);
    let dz = member.gradient(z);
    let bend = member.bend(z);
    Term {
        value: jet.value + member.log_shape,
        gradient: [jet.slope * dz[0], jet.slope * dz[1] + 1.0],
        hessian: Symmetric {
            a: jet.curvature * dz[0] * dz[0],
            b: jet.curvature * dz[0] * dz[1] + jet.slope * bend.b,
            d: jet.curvature * dz[1] * dz[1] + jet.slope * bend.d,
        },
    }
}

/// Logarithm of `1 - exp(-gain)`.
fn log_failure_within(gain: &Gain) -> Term {
    let amount = gain.ln.exp();
    let (value, first, second) = if amount < 1e-9 {
        // 1 - exp(-g) = g (1 - g/2 + ..); x = g / (exp(g) - 1) = 1 - g/2 + ..
        (gain.ln - 0.5 * amount, 1.0 - 0.5 * amount, -1.0)
    } else {
        let value = if amount > 0.7 {
            (-(-amount).exp()).ln_1p()
        } else {
            (-(-amount).exp_m1()).ln()
        };
        let first = if amount > 700.0 {
            0.0
        } else {
            amount / amount.exp_m1()
        };
        // -(g^2 e^g) / (e^g - 1)^2 = -x (x + g).
        (value, first, -first * (first + amount))
    };
    if first == 0.0 {
        // Certain failure: no derivative is left, however large the gain's own are.
        return Term {
            value,
            ..Term::default()
        };
    }
    let [u, v] = gain.gradient;
    Term {
        value,
        gradient: [first * u, first * v],
        hessian: Symmetric {
            a: first * gain.hessian.a + second * u * u,
            b: first * gain.hessian.b + second * u * v,
            d: first * gain.hessian.d + second * v * v,
        },
    }
}
