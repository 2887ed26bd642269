//! Newton's steps where the likelihood is concave, or nearly so.
//!
//! In `a` and `b` of `z = a + b ln t` the likelihood of a lognormal, loglogistic or Weibull life is concave for exact
//! and censored failures alike (Burridge 1981, Biometrika 68; Olsen 1978, Econometrica 46), so full steps climb from
//! almost anywhere and three or four suffice. Late entry takes that promise away; what does not settle here goes to
//! the general search.

use super::likelihood::{Evaluation, Member};
use super::matrix::{Symmetric, dot};
use super::maximise::{Ended, Top};

const MOST_LOOKS: u32 = 25;
/// After a step this short, relative to the shape and in `z`, the next would be lost in rounding, and derivatives
/// before it serve as those after it.
const LAST_STEP: f64 = 1e-10;
/// No step multiplies or divides the shape by more.
const MOST_GROWTH: f64 = 3.0;
const LOG_SHAPE: std::ops::Range<f64> = -4.5..7.0;

/// A step in `z`: `z` grows by `a`, and by `b` times log usage counted from the location, as shares of the shape.
#[derive(Clone, Copy)]
struct Step {
    a: f64,
    growth: f64,
    /// What it promises to add to the likelihood.
    promise: f64,
}

/// The top reached from `start`, if the steps settle.
pub(super) fn top(start: Member, evaluate: impl Fn(&Member) -> Evaluation) -> Option<Top> {
    let mut member = start;
    let mut at = evaluate(&member);
    let mut looks = 1;
    while at.value.is_finite() && LOG_SHAPE.contains(&member.log_shape) {
        let step = Step::from(&at, member.shape())?;
        if step.size() <= LAST_STEP {
            return Some(Top {
                member: step.taken(member, 1.0)?,
                at: Evaluation {
                    value: at.value + step.promise,
                    // Newton's remainder is of the order of the step times what it took away.
                    gradient: at.gradient.map(|part| part * step.size()),
                    hessian: at.hessian,
                },
                iterations: looks,
                ended: Ended::Converged,
            });
        }
        let mut share = step.longest_share();
        loop {
            if looks >= MOST_LOOKS {
                return None;
            }
            let next = step.taken(member, share)?;
            let there = evaluate(&next);
            looks += 1;
            // Rounding may hide a climb near the top.
            if there.value >= at.value - 1e-11 * at.value.abs() {
                (member, at) = (next, there);
                break;
            }
            share *= 0.3;
        }
    }
    None
}

impl Step {
    /// From derivatives in location and log shape to those in `a` and the relative growth of `b`.
    fn from(at: &Evaluation, shape: f64) -> Option<Self> {
        let [g0, g1] = at.gradient;
        let gradient = [-g0 / shape, g1];
        let information = Symmetric {
            a: -at.hessian.a / (shape * shape),
            b: (at.hessian.b - g0) / shape,
            d: g1 - at.hessian.d,
        };
        let [a, growth] = information.inverse_of_positive()?.times(gradient);
        let promise = 0.5 * dot([a, growth], gradient);
        (a.is_finite() && growth.is_finite() && promise.is_finite()).then_some(Self {
            a,
            growth,
            promise,
        })
    }

    fn size(self) -> f64 {
        self.a.abs().max(self.growth.abs())
    }

    /// The share of the step that keeps within the longest.
    fn longest_share(self) -> f64 {
        let bound = if self.growth > 0.0 {
            MOST_GROWTH - 1.0
        } else {
            1.0 - 1.0 / MOST_GROWTH
        };
        (bound / self.growth.abs()).min(1.0)
    }

    fn taken(self, member: Member, share: f64) -> Option<Member> {
        let growth = 1.0 + share * self.growth;
        let shape = member.shape() * growth;
        let next = Member {
            location: member.location - share * self.a / shape,
            log_shape: member.log_shape + growth.ln(),
            ..member
        };
        (next.location.is_finite() && next.log_shape.is_finite()).then_some(next)
    }
}
