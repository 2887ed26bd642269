//! A prior under which posterior limits of one quantity are confidence limits to second order, whatever the windows
//! of watching.
//!
//! With `i` the expected information and `v = 1 / (g' i^-1 g)` that of a quantity with gradient `g`, such a prior
//! `p` solves `div(p X / sqrt v) = 0` along the flow `X = v i^-1 g`, which moves the quantity and leaves the parameter
//! orthogonal to it (Welch and Peers 1963 and Peers 1965, Journal of the Royal Statistical Society B 25 and 27;
//! Tibshirani 1989, Biometrika 76). On the curve on which the quantity has its estimate the prior is taken flat in
//! location and log shape. For lives watched until they fail the solution is that flat prior everywhere, and limits
//! under it are exact in any log-location-scale family (Lawless 2003, appendix E).

use super::path::Path;
use super::plan::{Window, first_look, windows};
use crate::families::Family;
use crate::fitting::likelihood::Member;
use crate::sample::Sample;
use crate::special::normal;

/// A place: location and log shape on the centred log scale.
type Place = [f64; 2];

/// Expected information of location and log shape.
#[derive(Clone, Debug)]
pub(crate) struct MatchingPrior {
    family: Family,
    path: Path,
    centre: f64,
    windows: Vec<Window>,
    first_look: Option<f64>,
}

/// Steps of the flow between the estimate and a place on the profile whose log shape is `steeper` higher: more where
/// the shape changes by a large factor.
fn steps(steeper: f64) -> u32 {
    let twice = (2.0 * steeper.abs()).ceil();
    (4..MOST_STEPS)
        .find(|steps| f64::from(*steps) >= twice)
        .unwrap_or(MOST_STEPS)
}

const MOST_STEPS: u32 = 64;

/// A window with less chance of a failure tells nothing, and its points would underflow.
const LEAST: f64 = 1e-250;

/// Gauss-Legendre rule with eight points on (0, 1): points and weights (Abramowitz and Stegun 1964, table 25.4).
const RULE: [(f64, f64); 8] = [
    (0.019_855_071_751_231_86, 0.050_614_268_145_188_13),
    (0.101_666_761_293_186_6, 0.111_190_517_226_687_2),
    (0.237_233_795_041_835_5, 0.156_853_322_938_943_6),
    (0.408_282_678_752_175_1, 0.181_341_891_689_181),
    (0.591_717_321_247_825, 0.181_341_891_689_181),
    (0.762_766_204_958_164_5, 0.156_853_322_938_943_6),
    (0.898_333_238_706_813_4, 0.111_190_517_226_687_2),
    (0.980_144_928_248_768_1, 0.050_614_268_145_188_13),
];

impl MatchingPrior {
    pub(crate) fn new(sample: &Sample, family: Family, path: Path, centre: f64) -> Self {
        Self {
            family,
            path,
            centre,
            windows: windows(sample, centre),
            first_look: first_look(sample, centre),
        }
    }

    /// Logarithm of the prior at a member, less that at the estimate, whose quantity is `estimate`; none where the
    /// information cannot be followed.
    pub(crate) fn ln_ratio(
        &self,
        member: &Member,
        target: f64,
        estimate: f64,
        top: &Member,
    ) -> Option<f64> {
        if self.family == Family::Exponential {
            let (here, there) = (self.expected(member), self.expected(top));
            return Some(0.5 * (here / there).ln()).filter(|ratio| ratio.is_finite());
        }
        if self.is_flat() {
            return Some(0.0);
        }
        let at = member.anchored_at(0.0);
        let mut place = [at.location, at.log_shape];
        let ln_here = self.ln_information(place)?;
        let steps = steps(at.log_shape - top.log_shape);
        let step = (estimate - target) / f64::from(steps);
        let mut spread = 0.0;
        for _ in 0..steps {
            let first = self.flow(place)?;
            let middle = turned(place, first, 0.5 * step);
            let second = self.flow(middle)?;
            spread += step * self.divergence(middle)?;
            place = turned(place, second, step);
        }
        let ratio =
            0.5 * (ln_here - self.ln_information(place)?) + spread + self.base(place, top)?;
        ratio.is_finite().then_some(ratio)
    }

    /// Logarithm of the prior on the curve of the estimate: the one that matches the shape, less that at the top.
    fn base(&self, place: Place, top: &Member) -> Option<f64> {
        let at = top.anchored_at(0.0);
        let top = [at.location, at.log_shape];
        let steeper = place[1] - top[1];
        let middle = [0.5 * (place[0] + top[0]), top[1] + 0.5 * steeper];
        let unit = 1e-3 * (-middle[1]).exp();
        let lean = |by: f64| {
            let [a, b, _] = self.information([middle[0] + by, middle[1]]);
            b / a
        };
        // Along the curves on which the parameter orthogonal to the shape stays, locations spread by this much.
        let spread = (lean(unit) - lean(-unit)) / (2.0 * unit);
        let member = |place: Place| Member {
            family: self.family.curve(),
            location: place[0],
            log_shape: place[1],
            anchor: 0.0,
        };
        let failures = (self.expected(&member(place)) / self.expected(&member(top))).ln();
        let base = 0.5 * failures + steeper * spread;
        base.is_finite().then_some(base)
    }

    fn is_flat(&self) -> bool {
        self.windows
            .iter()
            .all(|window| window.from == f64::NEG_INFINITY && window.to == f64::INFINITY)
            && self.first_look.is_none()
    }

    /// Failures expected of a member.
    fn expected(&self, member: &Member) -> f64 {
        self.windows
            .iter()
            .map(|window| window.lives * self.span(window, member).1)
            .sum()
    }

    /// Cumulative hazard at entry, and the chance to fail within the window.
    fn span(&self, window: &Window, member: &Member) -> (f64, f64) {
        let hazard = |y: f64| {
            if y == f64::NEG_INFINITY {
                0.0
            } else if y == f64::INFINITY {
                f64::INFINITY
            } else {
                self.family.cumulative_hazard(member.z(y))
            }
        };
        let spent = hazard(window.from);
        (spent, -(spent - hazard(window.to)).exp_m1())
    }

    /// Expected information: the mean of the square of the derivative of the log hazard at the failures.
    fn information(&self, place: Place) -> [f64; 3] {
        let member = Member {
            family: self.family.curve(),
            location: place[0],
            log_shape: place[1],
            anchor: 0.0,
        };
        let shape = member.shape();
        let mut sums = [0.0; 3];
        for window in &self.windows {
            let (spent, chance) = self.span(window, &member);
            let early = match self.first_look {
                Some(look) if window.from == f64::NEG_INFINITY => {
                    let z = member.z(look.min(window.to));
                    let hazard = self.family.cumulative_hazard(z);
                    // Of these failures only their number is known.
                    let by_z = (self.family.log_hazard(z).value - hazard).exp();
                    let early = -(-hazard).exp_m1();
                    if early > 0.0 {
                        let mass = window.lives * by_z * by_z / early;
                        let (u, v) = (-shape, z);
                        sums[0] += mass * u * u;
                        sums[1] += mass * u * v;
                        sums[2] += mass * v * v;
                    }
                    early
                }
                _ => 0.0,
            };
            let late = chance - early;
            if late < LEAST {
                continue;
            }
            for (point, weight) in RULE {
                // Squaring the points softens the logarithm at the beginning.
                let gained = -(-early - late * point * point).ln_1p();
                let z = standard(self.family, spent + gained);
                let slope = self.family.log_hazard(z).slope;
                let mass = window.lives * late * 2.0 * point * weight;
                let (u, v) = (-shape * slope, slope * z + 1.0);
                sums[0] += mass * u * u;
                sums[1] += mass * u * v;
                sums[2] += mass * v * v;
            }
        }
        sums
    }

    /// The natural gradient of the quantity, and its information.
    fn natural(&self, place: Place) -> Option<(Place, f64)> {
        let [u, v] = self.path.gradient(self.family, self.centre, place)?;
        let [a, b, d] = self.information(place);
        let determinant = a * d - b * b;
        let raised = [(d * u - b * v) / determinant, (a * v - b * u) / determinant];
        let information = 1.0 / (u * raised[0] + v * raised[1]);
        (determinant > 0.0 && information > 0.0 && information.is_finite())
            .then_some((raised, information))
    }

    fn ln_information(&self, place: Place) -> Option<f64> {
        Some(self.natural(place)?.1.ln())
    }

    fn flow(&self, place: Place) -> Option<Place> {
        let (raised, information) = self.natural(place)?;
        Some(raised.map(|part| part * information))
    }

    fn divergence(&self, place: Place) -> Option<f64> {
        let step = 1e-3;
        let unit = step * (-place[1]).exp();
        let [x, y] = place;
        let across = self.flow([x + unit, y])?[0] - self.flow([x - unit, y])?[0];
        let along = self.flow([x, y + step])?[1] - self.flow([x, y - step])?[1];
        Some(across / (2.0 * unit) + along / (2.0 * step))
    }
}

/// A step along the flow. Members on one flow line cross near one usage, so the step turns about it: exact where the
/// usage stays, also for steps in which the shape changes by a large factor.
fn turned(place: Place, flow: Place, step: f64) -> Place {
    let steeper = step * flow[1];
    let shrunk = if steeper.abs() < 1e-8 {
        1.0
    } else {
        -(-steeper).exp_m1() / steeper
    };
    [place[0] + step * flow[0] * shrunk, place[1] + steeper]
}

/// The standard variable at a cumulative hazard, good to nine digits, which is ample for a correction.
fn standard(family: Family, hazard: f64) -> f64 {
    if family != Family::Lognormal {
        return family.standard_quantile(hazard);
    }
    let lower = -(-hazard).exp_m1();
    if lower < 0.5 {
        normal_quantile(lower.ln())
    } else {
        -normal_quantile(-hazard)
    }
}

/// Quantile of the standard normal at a probability up to one half, by its logarithm: starting value by the
/// approximation of Abramowitz and Stegun (1964, 26.2.23), then one step of third order.
fn normal_quantile(ln_p: f64) -> f64 {
    let t = (-2.0 * ln_p).sqrt();
    let top = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let bottom = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    let z = t - top / bottom;
    let gap = normal::ln_upper_tail(z) - ln_p;
    let hazard = normal::hazard(z);
    let step = gap / hazard;
    -(z + step + 0.5 * step * step * (z - hazard))
}
