//! Papers for probability plots: axes on which one family of distributions is a straight line.

use super::axis::Scale;
use wearbook_analysis::families::Family;
use wearbook_analysis::special::normal;

/// Shares failed that may carry a tick: the first that fit are kept.
const SHARES: [f64; 24] = [
    0.01, 0.1, 0.5, 0.9, 0.99, 0.001, 0.999, 0.000_1, 0.02, 0.05, 0.2, 0.3, 0.7, 0.8, 0.95, 0.002,
    0.005, 0.97, 0.000_2, 0.000_5, 0.4, 0.6, 0.000_01, 0.998,
];

/// Ticks closer than this run into each other.
const APART: f64 = 19.0;

/// A paper, named by the family that is straight on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// Logarithm of age against ln(-ln(1 - F)).
    Weibull,
    /// Logarithm of age against the normal quantile of F.
    Lognormal,
    /// Logarithm of age against ln(F / (1 - F)).
    Loglogistic,
    /// Age itself against -ln(1 - F).
    Exponential,
}

impl Paper {
    /// The paper on which a family is straight. Families with a third parameter or a free form are straight on none:
    /// they are drawn bent, on the Weibull's.
    #[must_use]
    pub fn of(family: Family) -> Self {
        match family {
            Family::Weibull
            | Family::Gamma
            | Family::GeneralisedGamma
            | Family::ThresholdWeibull => Self::Weibull,
            Family::Lognormal => Self::Lognormal,
            Family::Loglogistic => Self::Loglogistic,
            Family::Exponential => Self::Exponential,
        }
    }

    /// Its name in a sentence.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Weibull => "Weibull",
            Self::Lognormal => "lognormal",
            Self::Loglogistic => "loglogistic",
            Self::Exponential => "exponential",
        }
    }

    /// How high a share failed, between 0 and 1 without its ends, stands on this paper.
    #[must_use]
    pub fn height(self, failed: f64) -> f64 {
        match self {
            Self::Weibull => (-(-failed).ln_1p()).ln(),
            Self::Lognormal => normal::quantile(failed),
            Self::Loglogistic => failed.ln() - (-failed).ln_1p(),
            Self::Exponential => -(-failed).ln_1p(),
        }
    }

    /// Whether equal ratios of age take equal stretches.
    #[must_use]
    pub fn is_logarithmic(self) -> bool {
        self != Self::Exponential
    }

    /// Shares for the ticks of an upright axis, from low to high, none too close to the next.
    pub(super) fn share_ticks(self, heights: (f64, f64), up: &Scale) -> Vec<f64> {
        let mut kept: Vec<f64> = Vec::new();
        for share in SHARES {
            let height = self.height(share);
            let apart = |other: &f64| {
                (up.place_freely(self.height(*other)) - up.place_freely(height)).abs() >= APART
            };
            if (heights.0..=heights.1).contains(&height) && kept.iter().all(apart) {
                kept.push(share);
            }
        }
        kept.sort_by(f64::total_cmp);
        kept
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On its own paper each family's own curve is straight: three ages give two equal slopes.
    #[test]
    fn each_family_is_straight_on_its_own_paper() {
        type Failed = fn(f64) -> f64;
        let curves: [(Paper, Failed); 4] = [
            (Paper::Weibull, |t| -(-(t / 80.0).powf(2.5)).exp_m1()),
            (Paper::Lognormal, |t| {
                normal::lower_tail((t.ln() - 4.0) / 0.5)
            }),
            (Paper::Loglogistic, |t| 1.0 / (1.0 + (t / 70.0).powf(-3.0))),
            (Paper::Exponential, |t| -(-t / 90.0).exp_m1()),
        ];
        for (paper, failed) in curves {
            let across = |t: f64| if paper.is_logarithmic() { t.ln() } else { t };
            let slope = |a: f64, b: f64| {
                (paper.height(failed(b)) - paper.height(failed(a))) / (across(b) - across(a))
            };
            let (first, second) = (slope(20.0, 60.0), slope(60.0, 150.0));
            assert!(
                (first / second - 1.0).abs() < 1e-9,
                "{paper:?}: {first} {second}"
            );
        }
    }

    #[test]
    fn ticks_keep_their_distance_on_every_paper() {
        for paper in [
            Paper::Weibull,
            Paper::Lognormal,
            Paper::Loglogistic,
            Paper::Exponential,
        ] {
            let heights = (paper.height(0.000_5), paper.height(0.997));
            let up = Scale::linear(heights, (400.0, 60.0));
            let ticks = paper.share_ticks(heights, &up);
            assert!(ticks.len() >= 4, "{paper:?}: {ticks:?}");
            for pair in ticks.windows(2) {
                let gap = up.place(paper.height(pair[0])) - up.place(paper.height(pair[1]));
                assert!(gap >= APART - 1e-9, "{paper:?}: {ticks:?}");
            }
        }
    }
}
