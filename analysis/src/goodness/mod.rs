//! How well a model fits.

mod adjusted;
mod distance;
mod mann;
mod plot_correlation;
mod stephens;

pub use adjusted::{CUT_OFF, anderson_darling_adjusted};
pub use distance::{Distance, Distances, anderson_darling, distances};
pub use mann::{MannTest, mann_test};
pub use plot_correlation::{PlotCorrelation, plot_correlation, plot_correlation_test};

use serde::{Deserialize, Serialize};

use crate::fitting::Fit;
use crate::plot::{MOST_POINTS, PlotPoint, probability_plot};
use crate::ranks::{Positions, RankError};
use crate::sample::Sample;

/// Measures of fit and the points of the probability plot.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisGoodness))]
pub struct Goodness {
    /// Anderson-Darling distance, without correction; only when every life failed at a known usage.
    pub anderson_darling: Option<f64>,
    /// Correlation of the points of the probability plot; only with three or more different usages.
    pub plot_correlation: Option<f64>,
    /// Points of the probability plot; empty with delayed entry or failures not known exactly.
    pub plot: Vec<PlotPoint>,
}

/// Measures the fit of one model.
#[must_use]
pub fn goodness(sample: &Sample, fit: &Fit) -> Goodness {
    let shown = sample.failures() <= MOST_POINTS;
    Goodness {
        anderson_darling: anderson_darling(sample, fit),
        // Points left out of a plot would be missing from their correlation.
        plot_correlation: shown
            .then(|| plot_correlation(sample, fit.family, Positions::Exact).ok())
            .flatten(),
        plot: probability_plot(sample, fit.family),
    }
}

/// Why a measure of fit is not returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GoodnessError {
    /// The measure compares with the share failed, which censoring hides.
    #[error(
        "this measure needs every life to have failed at a known usage, watched from new; with censoring use the plot correlation"
    )]
    NotComplete,
    /// The test needs all failures before all censorings.
    #[error("this test allows lives still unfailed only from the last failure on")]
    CensoredBetween,
    /// More lives than the sums stay exact for.
    #[error("{lives} lives are more than the {most} up to which this distance keeps its digits")]
    TooManyLives {
        /// Lives in the sample.
        lives: u64,
        /// The most that are taken.
        most: u64,
    },
    /// Too few different usages at failure.
    #[error("this needs failures at {needed} different usages or more but there are {found}")]
    TooFewFailures {
        /// Different usages at failure in the sample.
        found: usize,
        /// The fewest needed.
        needed: usize,
    },
    /// All early failures happened at one usage.
    #[error(
        "all failures of the early half happened at one usage, so there is nothing to compare the late half with"
    )]
    TiedEarlyFailures,
    /// No ranks exist for the sample.
    #[error(transparent)]
    Ranks(#[from] RankError),
    /// A number of simulated samples that is too small or too large.
    #[error("simulate between 99 and 100000 samples, not {replicates}")]
    Replicates {
        /// The number asked for.
        replicates: u32,
    },
    /// A significance level outside (0, 1).
    #[error("the significance level must lie between 0 and 1 but is {value}")]
    Significance {
        /// The level asked for.
        value: f64,
    },
    /// Numbers left the range of floating point.
    #[error(
        "the measure leaves the range of numbers: the model says that a life seen here cannot happen"
    )]
    OutOfRange,
}
