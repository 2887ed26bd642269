//! Cumulative hazard gained over a stretch, by difference or, over a short one, by quadrature.

use super::{Member, log_rate};
use crate::fitting::matrix::Symmetric;
use crate::fitting::rows::Stretch;

/// Cumulative hazard gained over a stretch: its logarithm, and derivatives divided by the gain itself.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gain {
    pub ln: f64,
    pub gradient: [f64; 2],
    pub hessian: Symmetric,
}

/// Cumulative hazard gained over a stretch.
pub(crate) fn gain(stretch: &Stretch, member: &Member) -> Gain {
    let end = member.z(stretch.to);
    let width = stretch.width * member.shape();
    let steepness = member.family.log_hazard(end).slope.abs() + member.family.roughness();
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
pub(crate) const RULE: [(f64, f64); 6] = [
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
