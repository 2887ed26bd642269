//! Quantities that follow from a member of a family and move one way with its location.

use super::path::ln_growth;
use crate::families::{Curve, ln_exp_m1};
use crate::fitting::likelihood::{Member, gain};
use crate::fitting::rows::Stretch;
use crate::solve::root;
use crate::special::gamma::pi_over_sine;
use crate::special::normal;

/// A quantity of a member on the centred log scale, known by its logarithm.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Derived {
    /// Hazard per unit of log usage at the centred log usage `y`; falls with the location.
    Hazard { y: f64 },
    /// Cumulative hazard gained over a stretch; falls with the location.
    Gain { stretch: Stretch },
    /// Mean further usage, in units of `exp(centre)`, of a life unfailed at the centred log age; rises with the
    /// location. An age of zero is minus infinity.
    Residual { age: f64 },
}

/// Standard variable beyond which nothing happens in any family.
const FAR: f64 = 650.0;

impl Derived {
    /// Cumulative hazard gained from `age >= 0` over `span > 0`, about a centre; none for an empty stretch.
    pub(crate) fn gain(age: f64, span: f64, centre: f64) -> Option<Self> {
        let mut stretch = Stretch::new(age, age + span, centre)?;
        if age > 0.0 {
            stretch.width = ln_growth((span / age).ln());
        }
        Some(Self::Gain { stretch })
    }

    /// Logarithm of the quantity; none where it leaves the range of numbers.
    pub(crate) fn ln_value(&self, family: Curve, location: f64, log_shape: f64) -> Option<f64> {
        let member = Member {
            family,
            location,
            log_shape,
            anchor: 0.0,
        };
        let ln = match *self {
            Self::Hazard { y } => family.log_hazard(member.z(y)).value + log_shape,
            Self::Gain { stretch } => gain(&stretch, &member).ln,
            Self::Residual { age } => ln_residual(&member, age)?,
        };
        ln.is_finite().then_some(ln)
    }

    /// The location at which the logarithm of the quantity is `target`; none if there is none.
    pub(crate) fn location(&self, family: Curve, log_shape: f64, target: f64) -> Option<f64> {
        let unit = (-log_shape).exp();
        let [below, above] = far(family).map(|z| z * unit);
        let reach = FAR * unit;
        let (low, high) = match *self {
            Self::Hazard { y } => (y - above, y + below),
            Self::Gain { stretch } => (stretch.to - above, stretch.to + below),
            Self::Residual { age } if age == f64::NEG_INFINITY => {
                // The mean life moves with the location.
                return Some(target - self.ln_value(family, 0.0, log_shape)?);
            }
            Self::Residual { age } => {
                let new = Self::Residual {
                    age: f64::NEG_INFINITY,
                };
                // The mean residual life is at least the mean life less the age.
                let unit = new.ln_value(family, 0.0, log_shape)?;
                (age - reach, age.max(target) + 1.0 - unit)
            }
        };
        root(
            |location| {
                self.ln_value(family, location, log_shape)
                    .map_or(f64::NAN, |ln| ln - target)
            },
            low,
            high,
        )
    }

    /// Derivatives of the logarithm in location and log shape.
    pub(crate) fn gradient(
        &self,
        family: Curve,
        location: f64,
        log_shape: f64,
    ) -> Option<[f64; 2]> {
        let shape = log_shape.exp();
        let member = Member {
            family,
            location,
            log_shape,
            anchor: 0.0,
        };
        let gradient = match *self {
            Self::Hazard { y } => {
                let z = member.z(y);
                let slope = family.log_hazard(z).slope;
                [-shape * slope, slope * z + 1.0]
            }
            Self::Gain { stretch } => gain(&stretch, &member).gradient,
            Self::Residual { .. } => {
                let step = 1e-4;
                let unit = step / shape.max(1.0);
                let at = |location, log_shape| self.ln_value(family, location, log_shape);
                [
                    (at(location + unit, log_shape)? - at(location - unit, log_shape)?)
                        / (2.0 * unit),
                    (at(location, log_shape + step)? - at(location, log_shape - step)?)
                        / (2.0 * step),
                ]
            }
        };
        (gradient[0] != 0.0 && gradient.iter().all(|part| part.is_finite())).then_some(gradient)
    }
}

/// How far the standard variable goes below and above zero before nothing happens any more.
pub(super) fn far(curve: Curve) -> [f64; 2] {
    match curve {
        // One tail is a power of usage with exponent 1/q, the other falls as fast as an exponential of q.
        Curve::GeneralisedGamma(curve) => {
            let stretched = curve.form().abs().max(1.0);
            let ends = [FAR * stretched, FAR / stretched];
            if curve.form() >= 0.0 {
                ends
            } else {
                [ends[1], ends[0]]
            }
        }
        _ => [FAR, FAR],
    }
}

/// Logarithm of the mean residual life at a centred log age: the mean, over a unit exponential, of the further usage
/// in which the cumulative hazard grows by it. Trapezoids in the logarithm of the gain, whose ends vanish double
/// exponentially.
fn ln_residual(member: &Member, age: f64) -> Option<f64> {
    let shape = member.shape();
    let family = member.family;
    let new = member.anchored_at(0.0).location + ln_unit_mean(family, shape)?;
    if age == f64::NEG_INFINITY {
        return new.is_finite().then_some(new);
    }
    if family == Curve::Lognormal {
        // E(T; T > age) / P(T > age), less the age.
        let z = member.z(age);
        let ln_reached = new + normal::ln_upper_tail(z - 1.0 / shape) - normal::ln_upper_tail(z);
        // Nearer, the difference would cancel.
        if ln_reached > age + 1e-3 {
            return Some(age + ln_exp_m1(ln_reached - age));
        }
    }
    let spent = family.cumulative_hazard(member.z(age));
    if spent.is_infinite() {
        return None;
    }
    let step = 0.25;
    let mut top = f64::NEG_INFINITY;
    let mut terms = [f64::NEG_INFINITY; 204];
    let mut last = f64::NEG_INFINITY;
    for (place, cell) in terms.iter_mut().enumerate() {
        let ln_gain = -43.0 + step * place as f64;
        let gained = ln_gain.exp();
        if gained > 2_000.0 {
            break;
        }
        let z = family.standard_quantile(spent + gained);
        let usage = member.location + (z - member.anchor) / shape;
        let growth = match family {
            // Next to nothing was spent by then, by a steep shape.
            Curve::Weibull if (gained / spent).is_infinite() => (ln_gain - member.z(age)) / shape,
            // The difference of the quantiles would cancel.
            Curve::Weibull => (gained / spent).ln_1p() / shape,
            _ => usage - age,
        };
        let ln_span = age + ln_exp_m1(growth.max(1e-300));
        last = ln_span - gained + ln_gain;
        *cell = last;
        top = top.max(last);
    }
    // A mean that has not settled by then is infinite or out of reach.
    if !top.is_finite() || last > top - 40.0 {
        return None;
    }
    let total: f64 = terms.iter().map(|term| (term - top).exp()).sum();
    Some(top + (total * step).ln())
}

/// Logarithm of the mean life at location zero; none where it is infinite.
fn ln_unit_mean(curve: Curve, shape: f64) -> Option<f64> {
    match curve {
        Curve::Exponential => Some(0.0),
        Curve::Weibull => Some(libm::lgamma(1.0 + 1.0 / shape)),
        Curve::Lognormal => Some(0.5 / (shape * shape)),
        Curve::Loglogistic => (shape > 1.0).then(|| (pi_over_sine(1.0 / shape) / shape).ln()),
        Curve::GeneralisedGamma(_) => None,
    }
}
