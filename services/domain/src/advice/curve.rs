//! The careful side of a model: for every chance of failure, the least usage that may already bring it.

use wearbook_analysis::fitting::{Fit, KnownShapeFit};
use wearbook_analysis::intervals::{Level, likelihood_ratio};
use wearbook_analysis::replacement::WeibullLife;
use wearbook_analysis::sample::Sample;

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
                    likelihood_ratio::span_limits(sample, fit, age, p, *level)
                } else {
                    likelihood_ratio::quantile_limits(sample, fit, p, *level)
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
    /// `rate`. With wear it grows with `p`; it is found by halving on the logarithm of `p`, keeping the careful end.
    pub(super) fn age_for_mean_risk(&self, rate: f64, most: f64) -> Option<f64> {
        let within = |ln_p: f64| {
            let p = ln_p.exp();
            self.age_at(p).filter(|age| p <= rate * age)
        };
        if let Some(age) = within(most.ln()) {
            return Some(age);
        }
        let (mut low, mut high) = (most.ln() - SEARCH_DEPTH, most.ln());
        let mut best = within(low)?;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            match within(middle) {
                Some(age) => (low, best) = (middle, age),
                None => high = middle,
            }
        }
        Some(best)
    }
}

/// How far below the chance per interval the search begins, as a natural logarithm: a factor of about 160 000.
const SEARCH_DEPTH: f64 = 12.0;
/// Enough halvings to fix the logarithm of the chance to one part in ten million.
const HALVINGS: u32 = 24;
