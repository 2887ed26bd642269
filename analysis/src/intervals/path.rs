//! Ways through the two parameters: a quantity held at a target, and one nuisance that is free.

use super::derived::{Derived, far};
use crate::families::{Curve, ln_exp_m1};
use crate::fitting::likelihood::{Member, evaluate, gain};
use crate::fitting::rows::{Rows, Stretch};
use crate::solve::root;

/// Which quantity is held at the target.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Path {
    /// Target: centred log usage at which the standard variable is `z`. Nuisance: log shape.
    Quantile { z: f64 },
    /// Target: standard variable at the centred log usage `y`. Nuisance: log shape.
    Standard { y: f64 },
    /// Target: log shape. Nuisance: standard variable at the centre of the log usages.
    Shape,
    /// Target: log of the further usage over which a life of age `age` gains the cumulative hazard `hazard`.
    /// Nuisance: log shape.
    Span { age: f64, hazard: f64 },
    /// Target: logarithm of a quantity that moves one way with the location. Nuisance: log shape.
    Derived(Derived),
}

/// Log-likelihood at one target and nuisance, with what a search needs.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    pub value: f64,
    /// Derivative along the nuisance.
    pub first: f64,
    /// Second derivative along the nuisance.
    pub second: f64,
    /// Derivative along the target.
    pub target: f64,
    /// Mixed second derivative; 0 where it is not worth its price.
    pub mixed: f64,
    /// Logarithm of the area of location and log shape that a unit of target and nuisance covers.
    pub ln_area: f64,
    /// The member of the family there.
    pub member: Member,
}

impl Path {
    /// Log-likelihood there; none where no member of the family meets the target.
    pub(crate) fn point(
        &self,
        rows: &Rows,
        family: Curve,
        target: f64,
        nuisance: f64,
    ) -> Option<Point> {
        let point = match *self {
            Self::Quantile { z } => {
                let member = member(family, target, nuisance, z);
                let at = evaluate(rows, &member);
                Point {
                    value: at.value,
                    first: at.gradient[1],
                    second: at.hessian.d,
                    target: at.gradient[0],
                    mixed: at.hessian.b,
                    ln_area: 0.0,
                    member,
                }
            }
            Self::Standard { y } => {
                let member = member(family, y, nuisance, target);
                let at = evaluate(rows, &member);
                let unit = (-nuisance).exp();
                Point {
                    value: at.value,
                    first: at.gradient[1],
                    second: at.hessian.d,
                    target: -at.gradient[0] * unit,
                    mixed: (at.gradient[0] - at.hessian.b) * unit,
                    ln_area: -nuisance,
                    member,
                }
            }
            Self::Shape => {
                let member = member(family, 0.0, target, nuisance);
                let at = evaluate(rows, &member);
                let unit = (-target).exp();
                Point {
                    value: at.value,
                    first: -at.gradient[0] * unit,
                    second: at.hessian.a * unit * unit,
                    target: at.gradient[1],
                    mixed: (at.gradient[0] - at.hessian.b) * unit,
                    ln_area: -target,
                    member,
                }
            }
            Self::Span { age, hazard } => bent(nuisance, |nuisance| {
                span_slopes(rows, family, age, hazard, target, nuisance)
            })?,
            Self::Derived(curve) => bent(nuisance, |nuisance| {
                curve_slopes(rows, family, &curve, target, nuisance)
            })?,
        };
        (point.value.is_finite() && point.first.is_finite() && point.target.is_finite())
            .then_some(point)
    }

    /// Gradient of the target in location and log shape, at a place on the log scale about `centre`.
    pub(crate) fn gradient(
        &self,
        family: impl Into<Curve>,
        centre: f64,
        place: [f64; 2],
    ) -> Option<[f64; 2]> {
        let family = family.into();
        let [location, log_shape] = place;
        let shape = log_shape.exp();
        match *self {
            Self::Quantile { z } => Some([1.0, -z / shape]),
            Self::Standard { y } => Some([-shape, (y - location) * shape]),
            Self::Shape => Some([0.0, 1.0]),
            Self::Span { age, hazard } => {
                let at = member(family, location + centre, log_shape, 0.0);
                span_gradient(&at, age, hazard)
            }
            Self::Derived(curve) => curve.gradient(family, location, log_shape),
        }
    }
}

fn member(family: Curve, location: f64, log_shape: f64, anchor: f64) -> Member {
    Member {
        family,
        location,
        log_shape,
        anchor,
    }
}

/// Log-likelihood on a path without a short formula for its bend.
struct Slopes {
    value: f64,
    /// Derivative along the log shape.
    first: f64,
    /// Derivative along the target.
    target: f64,
    /// Logarithm of the derivative of the location along the target, whatever its sign.
    ln_area: f64,
    member: Member,
}

/// A point whose second derivative is taken by difference.
fn bent(nuisance: f64, slopes: impl Fn(f64) -> Option<Slopes>) -> Option<Point> {
    let at = slopes(nuisance)?;
    let step = 1e-5;
    let second = match (slopes(nuisance + step), slopes(nuisance - step)) {
        (Some(ahead), Some(behind)) => (ahead.first - behind.first) / (2.0 * step),
        (Some(ahead), None) => (ahead.first - at.first) / step,
        (None, Some(behind)) => (at.first - behind.first) / step,
        (None, None) => -1.0,
    };
    Some(Point {
        value: at.value,
        first: at.first,
        second,
        target: at.target,
        mixed: 0.0,
        ln_area: at.ln_area,
        member: at.member,
    })
}

fn span_slopes(
    rows: &Rows,
    family: Curve,
    age: f64,
    hazard: f64,
    target: f64,
    nuisance: f64,
) -> Option<Slopes> {
    let shape = nuisance.exp();
    let ln_ratio = target - age.ln();
    let width = shape * ln_growth(ln_ratio);
    let start = start_of_gain(family, width, hazard)?;
    let member = member(family, age.ln() - rows.centre, nuisance, start);
    let at = evaluate(rows, &member);
    let steeper = if width < 1e-6 {
        // The difference would be lost beside the start.
        family.log_hazard(start).slope * width
    } else {
        family.log_hazard(start + width).value - family.log_hazard(start).value
    };
    // Moving the width moves the start so that the gain stays; moving the anchor is moving the location back.
    let start_by_width = 1.0 / (-steeper).exp_m1();
    let by_start = -at.gradient[0] / shape;
    let growth = 1.0 / (1.0 + (-ln_ratio).exp());
    Some(Slopes {
        value: at.value,
        first: at.gradient[1] + by_start * start_by_width * width,
        target: by_start * start_by_width * shape * growth,
        ln_area: (start_by_width.abs() * growth).ln(),
        member,
    })
}

fn curve_slopes(
    rows: &Rows,
    family: Curve,
    curve: &Derived,
    target: f64,
    nuisance: f64,
) -> Option<Slopes> {
    let location = curve.location(family, nuisance, target)?;
    let [by_location, by_shape] = curve.gradient(family, location, nuisance)?;
    let member = member(family, location, nuisance, 0.0);
    let at = evaluate(rows, &member);
    Some(Slopes {
        value: at.value,
        first: at.gradient[1] - at.gradient[0] * by_shape / by_location,
        target: at.gradient[0] / by_location,
        ln_area: -by_location.abs().ln(),
        member,
    })
}

/// The standard variable from which a further `width` gains `hazard`; none if none does.
fn start_of_gain(family: Curve, width: f64, hazard: f64) -> Option<f64> {
    let start = match family {
        Curve::Exponential | Curve::Weibull => hazard.ln() - ln_exp_m1(width),
        Curve::Loglogistic if width > hazard => {
            ln_exp_m1(hazard) - hazard - ln_exp_m1(width - hazard)
        }
        Curve::Loglogistic => return None,
        _ => {
            let standard = member(family, 0.0, 0.0, 0.0);
            let ln_gain = |from: f64| {
                let stretch = Stretch {
                    from,
                    to: from + width,
                    width,
                };
                gain(&stretch, &standard).ln - hazard.ln()
            };
            let (low, high) = match family {
                Curve::GeneralisedGamma(_) => {
                    let [below, above] = far(family);
                    (-below - width, above)
                }
                // The hazard of the normal at z exceeds z, so the gain is above hazard at this upper end.
                _ => (-60.0 - width, 1.0 + hazard / width),
            };
            root(ln_gain, low, high)?
        }
    };
    start.is_finite().then_some(start)
}

/// `ln(1 + span / age)` from the logarithm of the ratio.
pub(super) fn ln_growth(ln_ratio: f64) -> f64 {
    if ln_ratio > 36.0 {
        ln_ratio
    } else {
        ln_ratio.exp().ln_1p()
    }
}

/// Further usage over which a member gains `hazard` from `age > 0`, in logarithm; none where out of range.
pub(crate) fn ln_span(member: &Member, age: f64, hazard: f64) -> Option<f64> {
    let from = age.ln();
    let ln_gain = |ln_span: f64| {
        let width = ln_growth(ln_span - from);
        let stretch = Stretch {
            from,
            to: from + width,
            width,
        };
        gain(&stretch, member).ln - hazard.ln()
    };
    root(ln_gain, from - 200.0, from + 1_500.0)
}

/// Gradient of [`ln_span`] in location and log shape, by difference.
pub(crate) fn span_gradient(member: &Member, age: f64, hazard: f64) -> Option<[f64; 2]> {
    let at = |by: f64, steeper: f64| {
        let moved = Member {
            location: member.location + by,
            log_shape: member.log_shape + steeper,
            ..*member
        };
        ln_span(&moved, age, hazard)
    };
    let step = 1e-5;
    let unit = step / member.shape().max(1.0);
    Some([
        (at(unit, 0.0)? - at(-unit, 0.0)?) / (2.0 * unit),
        (at(0.0, step)? - at(0.0, -step)?) / (2.0 * step),
    ])
}
