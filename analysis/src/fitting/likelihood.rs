//! The likelihood, written once for all families, all censoring and delayed entry.
//!
//! Every life contributes the hazard at its failure, if that is exact, and the cumulative hazard over stretches of
//! usage: minus the hazard gained while known unfailed, and for a failure within a stretch the logarithm of
//! `1 - exp(-gain)`. Gains are handled by their logarithm and their relative derivatives, so that neither tail
//! underflows, and over short stretches by quadrature, so that nothing cancels.

use super::column::{Column, Curve, Line};
use super::matrix::Symmetric;
use super::rows::{End, Row, Rows, Stretch};
use crate::families::Family;
use crate::summation::Sum;

/// A member of a family on the centred log scale, by one of its quantiles:
/// `z(y) = (y - location) * exp(log_shape) + anchor`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Member {
    pub family: Family,
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
struct Term {
    value: f64,
    gradient: [f64; 2],
    hessian: Symmetric,
}

/// Cumulative hazard gained over a stretch: its logarithm, and derivatives divided by the gain itself.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gain {
    pub ln: f64,
    pub gradient: [f64; 2],
    pub hessian: Symmetric,
}

/// Log-likelihood of the lives, on the usage scale (density of usage, not of its logarithm).
pub(crate) fn evaluate(rows: &Rows, member: &Member) -> Evaluation {
    let mut sums = [Sum::default(); 6];
    if !by_columns(rows, member, &mut sums) {
        for row in &rows.others.rows {
            add(
                &contribution(row, rows.centre, member),
                row.count,
                &mut sums,
            );
        }
    }
    total(sums)
}

/// The same life by life: the plain way, against which the sums over columns are checked.
#[cfg(test)]
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

/// Adds the lives kept as columns; true where those were all lives there are.
fn by_columns(rows: &Rows, member: &Member, sums: &mut [Sum; 6]) -> bool {
    let line = Line {
        b: member.shape(),
        location: member.location,
        anchor: member.anchor,
    };
    let (curve, all) = match member.family {
        Family::Exponential | Family::Weibull => (Curve::Exponential, true),
        Family::Loglogistic => (Curve::Logistic, rows.others.rows.is_empty()),
        Family::Lognormal => (Curve::Normal, rows.others.rows.is_empty()),
    };
    add_failed(&rows.failed, rows.centre, member, sums);
    add(&hazards(&rows.running, curve, line), -1.0, sums);
    match curve {
        Curve::Exponential => {
            add(&hazards(&rows.failed, curve, line), -1.0, sums);
            if !rows.others.rows.is_empty() {
                add_weibull_others(rows, member, line, sums);
            }
        }
        // ln h = z - H for the logistic; for the normal ln h - H is the logarithm of the density.
        Curve::Logistic => add(&hazards(&rows.failed, curve, line), -2.0, sums),
        Curve::Normal => {}
    }
    all
}

/// Cumulative hazards over a column, in location and log shape.
fn hazards(column: &Column, curve: Curve, line: Line) -> Term {
    in_parameters(column.hazards(curve, line), line.b)
}

/// From derivatives in `z` to derivatives in location and log shape: `z` moves by `-b` and by `u`.
fn in_parameters(sums: [f64; 6], b: f64) -> Term {
    let [value, first, first_u, second, second_u, second_uu] = sums;
    Term {
        value,
        gradient: [-b * first, first_u],
        hessian: Symmetric {
            a: b * b * second,
            b: -b * (second_u + first),
            d: second_uu + first_u,
        },
    }
}

/// What exact failures add beside their hazards: `ln b - ln t`, and `z`, or for the lognormal the logarithm of the
/// normal density.
fn add_failed(column: &Column, centre: f64, member: &Member, sums: &mut [Sum; 6]) {
    let Column {
        total,
        mean,
        squares,
        ..
    } = *column;
    if total <= 0.0 {
        return;
    }
    let b = member.shape();
    let u = b * (mean - member.location);
    let term = if member.family == Family::Lognormal {
        // Sums of z^2, z u and u^2 about the means, so that nothing cancels.
        let (z, spread) = (u + member.anchor, b * b * squares / total);
        in_parameters(
            [
                -0.5 * (z * z + spread) - LN_SQRT_2_PI,
                -z,
                -(z * u + spread),
                -1.0,
                -u,
                -(u * u + spread),
            ],
            b,
        )
    } else {
        in_parameters([u + member.anchor, 1.0, u, 0.0, 0.0, 0.0], b)
    };
    let term = Term {
        value: term.value + member.log_shape - centre - mean,
        gradient: [term.gradient[0], term.gradient[1] + 1.0],
        ..term
    };
    add(&term, total, sums);
}

/// Late entries and failures not known exactly, for the Weibull.
fn add_weibull_others(rows: &Rows, member: &Member, line: Line, sums: &mut [Sum; 6]) {
    let others = &rows.others;
    let b = line.b;
    add_failed(&others.failed, rows.centre, member, sums);
    add(
        &hazards(&others.from_new, Curve::Exponential, line),
        -1.0,
        sums,
    );
    if !others.late.is_empty() {
        let [s0, s1, s2] = others.late.gains(line);
        add(&in_parameters([s0, s0, s1, s0, s1, s2], b), -1.0, sums);
    }
    if !others.within.is_empty() {
        // The derivatives of a gain g in z and u, divided by g, are 1, g1 and g2.
        let [value, x, x1, x2, q, q1, q11] = others.within.within(line);
        add(
            &in_parameters([value, x, x1, x - q, x1 - q1, x2 - q11], b),
            1.0,
            sums,
        );
    }
}

const LN_SQRT_2_PI: f64 = 0.918_938_533_204_672_7;

fn contribution(row: &Row, centre: f64, member: &Member) -> Term {
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

/// Cumulative hazard gained over a stretch.
pub(crate) fn gain(stretch: &Stretch, member: &Member) -> Gain {
    let end = member.z(stretch.to);
    let width = stretch.width * member.shape();
    let steepness = member.family.log_hazard(end).slope.abs() + 1.0;
    if width * steepness < 0.5 {
        gain_by_quadrature(stretch, member)
    } else {
        gain_by_difference(stretch, member, width)
    }
}

fn gain_by_difference(stretch: &Stretch, member: &Member, width: f64) -> Gain {
    let end = member.z(stretch.to);
    let start = if stretch.from == f64::NEG_INFINITY {
        f64::NEG_INFINITY
    } else {
        end - width
    };
    let ln = member.family.log_hazard_between(start, end, width);
    let mut gradient = [0.0; 2];
    let mut hessian = Symmetric::default();
    for (z, sign) in [(end, 1.0), (start, -1.0)] {
        if z == f64::NEG_INFINITY {
            continue;
        }
        let jet = member.family.log_hazard(z);
        let rate = sign * (jet.value - ln).exp();
        if rate == 0.0 || !rate.is_finite() {
            continue;
        }
        let dz = member.gradient(z);
        let bend = member.bend(z);
        gradient[0] += rate * dz[0];
        gradient[1] += rate * dz[1];
        hessian.a += rate * jet.slope * dz[0] * dz[0];
        hessian.b += rate * (jet.slope * dz[0] * dz[1] + bend.b);
        hessian.d += rate * (jet.slope * dz[1] * dz[1] + bend.d);
    }
    Gain {
        ln,
        gradient,
        hessian,
    }
}

/// Six-point Gauss-Legendre rule on (0, 1): points and weights (Abramowitz and Stegun 1964, table 25.4).
const RULE: [(f64, f64); 6] = [
    (0.033_765_242_898_423_99, 0.085_662_246_189_585_18),
    (0.169_395_306_766_867_74, 0.180_380_786_524_069_3),
    (0.380_690_406_958_401_55, 0.233_956_967_286_345_52),
    (0.619_309_593_041_598_4, 0.233_956_967_286_345_52),
    (0.830_604_693_233_132_3, 0.180_380_786_524_069_3),
    (0.966_234_757_101_576, 0.085_662_246_189_585_18),
];

/// The gain is the integral of the hazard, and its derivatives are integrals too: means of the derivatives of the
/// log hazard under weights proportional to the hazard.
fn gain_by_quadrature(stretch: &Stretch, member: &Member) -> Gain {
    let reference = member.family.log_hazard(member.z(stretch.to)).value + member.log_shape;
    let mut total = 0.0;
    let mut gradient = [0.0; 2];
    let mut hessian = Symmetric::default();
    for (point, weight) in RULE {
        let rate = log_rate(stretch.to - (1.0 - point) * stretch.width, member);
        let mass = weight * (rate.value - reference).exp();
        let [u, v] = rate.gradient;
        total += mass;
        gradient[0] += mass * u;
        gradient[1] += mass * v;
        hessian.a += mass * (rate.hessian.a + u * u);
        hessian.b += mass * (rate.hessian.b + u * v);
        hessian.d += mass * (rate.hessian.d + v * v);
    }
    Gain {
        ln: reference + total.ln() + stretch.width.ln(),
        gradient: gradient.map(|part| part / total),
        hessian: Symmetric {
            a: hessian.a / total,
            b: hessian.b / total,
            d: hessian.d / total,
        },
    }
}

#[cfg(test)]
mod tests;
