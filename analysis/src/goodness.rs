//! How well a model fits.

use serde::{Deserialize, Serialize};

use crate::fitting::Fit;
use crate::plot::{PlotPoint, probability_plot};
use crate::sample::Sample;
use crate::summation::Sum;

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
    let plot = probability_plot(sample, fit.family);
    Goodness {
        anderson_darling: anderson_darling(sample, fit),
        plot_correlation: correlation(&plot),
        plot,
    }
}

/// `-n - sum (2i - 1)/n (ln F(t_i) + ln S(t_(n+1-i)))` (Anderson and Darling 1954, JASA 49); none for samples that
/// are not complete.
#[must_use]
pub fn anderson_darling(sample: &Sample, fit: &Fit) -> Option<f64> {
    const MOST: u64 = 1_000_000;
    let n = sample.lives();
    if n == 0 || sample.exact_failures() != n || sample.delayed_entry() > 0 || n > MOST {
        return None;
    }
    let total_lives = n as f64;
    let mut sum = Sum::default();
    let mut before = 0.0;
    for row in sample.observations() {
        // Identical lives take ranks before+1 .. before+count; their weights add up to closed forms.
        let count = row.count as f64;
        let hazard = fit.cumulative_hazard(row.lower);
        let ln_failed = if hazard > 0.7 {
            (-(-hazard).exp()).ln_1p()
        } else {
            (-(-hazard).exp_m1()).ln()
        };
        let rising = count * (2.0 * before + count);
        let falling = count * (2.0 * (total_lives - before) - count);
        sum.add(rising * ln_failed - falling * hazard);
        before += count;
    }
    Some(-total_lives - sum.total() / total_lives).filter(|value| value.is_finite())
}

fn correlation(plot: &[PlotPoint]) -> Option<f64> {
    let mut different: Vec<f64> = plot.iter().map(|point| point.x).collect();
    different.dedup();
    if different.len() < 3 {
        return None;
    }
    let n = plot.len() as f64;
    let mean = |read: fn(&PlotPoint) -> f64| plot.iter().map(read).collect::<Sum>().total() / n;
    let (mx, my) = (mean(|point| point.x), mean(|point| point.y));
    let (mut xx, mut yy, mut xy) = (Sum::default(), Sum::default(), Sum::default());
    for point in plot {
        let (dx, dy) = (point.x - mx, point.y - my);
        xx.add(dx * dx);
        yy.add(dy * dy);
        xy.add(dx * dy);
    }
    let r = xy.total() / (xx.total() * yy.total()).sqrt();
    r.is_finite().then(|| r.clamp(-1.0, 1.0))
}
