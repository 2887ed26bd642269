//! The careful side of a model: for every chance of failure, the least usage that may already bring it.

use wearbook_analysis::fitting::{Fit, KnownShapeFit};
use wearbook_analysis::intervals::{Level, Method, Quantity, limits};
use wearbook_analysis::replacement::WeibullLife;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::solve::root;

/// Lower limits of usage for a chance of failure. Every decision reads the same curve, so that the limit on the
/// chance per interval and the limit on the mean chance per flight cannot disagree.
pub(super) enum Curve<'a> {
    /// Likelihood-ratio limits of a fitted Weibull.
    Fitted {
        sample: &'a Sample,
        fit: &'a Fit,
        level: Level,
    },
    /// Chi-square limits for each assumed shape; the least of them counts.
    KnownShapes { lower: Vec<WeibullLife> },
}

impl<'a> Curve<'a> {
    pub(super) fn fitted(sample: &'a Sample, fit: &'a Fit, level: f64) -> Option<Self> {
        let level = Level::lower(level).ok()?;
        Some(Self::Fitted { sample, fit, level })
    }

    /// `None` if one of the shapes has no lower limit.
    pub(super) fn known_shapes(fits: &[KnownShapeFit], level: f64) -> Option<Self> {
        let lower = fits
            .iter()
            .map(|fit| WeibullLife::new(fit.shape, fit.scale_lower(level)?).ok())
            .collect::<Option<Vec<_>>>()?;
        (!lower.is_empty()).then_some(Self::KnownShapes { lower })
    }

    /// Lower limit of the further usage after which a component that works at `age` has failed with chance `p`.
    /// Zero where the records set no lower limit; `None` where it could not be computed.
    pub(super) fn span_at(&self, age: f64, p: f64) -> Option<f64> {
        match self {
            Self::Fitted { sample, fit, level } => {
                let limits = if age > 0.0 {
                    limits(
                        sample,
                        fit,
                        Quantity::Span { age, share: p },
                        *level,
                        Method::LikelihoodRatio,
                    )
                } else {
                    limits(
                        sample,
                        fit,
                        Quantity::Quantile(p),
                        *level,
                        Method::LikelihoodRatio,
                    )
                };
                limits.ok().map(|limits| limits.lower.unwrap_or(0.0))
            }
            Self::KnownShapes { lower } => lower
                .iter()
                .map(|life| life.span_for_risk(age, p))
                .collect::<Option<Vec<_>>>()?
                .into_iter()
                .reduce(f64::min),
        }
    }

    /// Lower limit of the age by which a share `p` has failed.
    pub(super) fn age_at(&self, p: f64) -> Option<f64> {
        self.span_at(0.0, p)
    }

    /// The greatest age, up to the one where `most` have failed, at which the share failed over the age is at most
    /// `rate`, on this curve. `None` where even far below `most` the rate is above it.
    ///
    /// On the curve a share `p` goes with the age `age_at(p)`, so the wanted point is where `p / age_at(p)` comes to
    /// `rate`. With wear it grows with `p`.
    pub(super) fn age_for_mean_risk(&self, rate: f64, most: f64) -> Option<f64> {
        let excess = |ln_p: f64| match self.age_at(ln_p.exp()) {
            Some(age) => settled((ln_p - (rate * age).ln()).min(f64::MAX)),
            None => f64::NAN,
        };
        let (low, high) = (most.ln() - SEARCH_DEPTH, most.ln());
        if excess(high) <= 0.0 {
            return self.age_at(most);
        }
        let at = root(excess, low, high)?;
        self.age_at(at.exp())
    }

    /// Upper limit of the chance that a component that works at `age` fails within `span` more usage.
    pub(super) fn risk_upper(&self, age: f64, span: f64) -> Option<f64> {
        let chance = |ln_hazard: f64| -(-ln_hazard.exp()).exp_m1();
        let beyond = |ln_hazard: f64| match self.span_at(age, chance(ln_hazard)) {
            Some(allowed) => settled((allowed / span).ln().max(-f64::MAX)),
            None => f64::NAN,
        };
        let (low, high) = LN_HAZARD;
        if beyond(high) < 0.0 {
            return Some(1.0);
        }
        if beyond(low) > 0.0 {
            return Some(chance(low));
        }
        root(beyond, low, high).map(chance)
    }
}

/// How far below the chance per interval the search begins, as a natural logarithm: a factor of about 160 000.
const SEARCH_DEPTH: f64 = 12.0;
/// Logarithm of the accumulated hazard between which a chance is looked for: from 1 in a million to near certainty.
const LN_HAZARD: (f64, f64) = (-13.8, 1.5);

/// Ends a search once a logarithm is right to seven digits: every step costs a limit.
fn settled(difference: f64) -> f64 {
    if difference.abs() < 1e-7 {
        0.0
    } else {
        difference
    }
}
