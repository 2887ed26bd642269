//! The Weibull probability plot: on these axes a Weibull distribution is a straight line.
//!
//! Across runs the logarithm of age, up runs ln(-ln(1 - F)) of the share failed F, with the share
//! itself written at the ticks.

use super::axis::{Plot, Scale, round_ratios};
use super::drawing::{Anchor, Caption, Drawing, Place, Trace};
use super::key::{Key, Mark};
use crate::pages::figures::{self, ScaleWords};

/// Shares failed that may carry a tick, in the order of rising share.
const SHARES: [f64; 17] = [
    0.000_1, 0.000_2, 0.000_5, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.7, 0.9,
    0.97, 0.99, 0.999,
];

/// A failure at its plotted height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotPoint {
    /// Age at failure.
    pub age: f64,
    /// Plotted share failed, between 0 and 1 without its ends.
    pub failed: f64,
}

/// The fitted Weibull distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeibullLine {
    /// Slope of the line on these axes.
    pub shape: f64,
    /// Age by which 63.2 in 100 have failed.
    pub scale: f64,
}

impl WeibullLine {
    /// Age by which the share `failed` has failed.
    #[must_use]
    pub fn quantile(&self, failed: f64) -> f64 {
        self.scale * (-(-failed).ln_1p()).powf(self.shape.recip())
    }

    /// Share still working at an age.
    #[must_use]
    pub fn survival(&self, age: f64) -> f64 {
        (-(age / self.scale).powf(self.shape)).exp()
    }
}

/// Limits of one quantile of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuantileBand {
    /// Share failed.
    pub failed: f64,
    /// Lower limit of the age by which that share has failed.
    pub lower: f64,
    /// Upper limit of the age by which that share has failed.
    pub upper: f64,
}

/// What a probability plot is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbabilityChart {
    /// Unique within the page.
    pub id: String,
    /// What the lives belong to.
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Confidence level of the band, between 0 and 1.
    pub level: f64,
    /// By rising age.
    pub points: Vec<PlotPoint>,
    /// The fitted line, drawn dashed.
    pub line: Option<WeibullLine>,
    /// Limits of the line, by rising share; fewer than two draw no band.
    pub band: Vec<QuantileBand>,
    /// Pieces in the sample.
    pub lives: u64,
    /// Failures in the sample.
    pub failures: u64,
}

impl ProbabilityChart {
    /// The chart's name: what it is about and the unit.
    #[must_use]
    pub fn title(&self) -> String {
        format!(
            "{}: Weibull probability plot of age in {}",
            self.subject, self.scale.unit
        )
    }

    /// One sentence that says how to read the plot, with the sample size.
    #[must_use]
    pub fn reading(&self) -> String {
        let sample = format!(
            "{} in {}",
            figures::counted(self.failures, "failure", "failures"),
            figures::counted(self.lives, "piece", "pieces")
        );
        match self.line {
            Some(line) => format!(
                "Points from {sample} that follow the dashed line support a Weibull distribution; \
                 its slope is the shape, {}.",
                figures::estimate(line.shape)
            ),
            None => format!(
                "Points from {sample}; if they lie on a straight line, a Weibull distribution fits."
            ),
        }
    }

    /// Ages and transformed shares that hold all points with some air.
    fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let mut ages = (f64::INFINITY, 0.0_f64);
        let mut shares = (0.05_f64, 0.7_f64);
        for point in self.points.iter().filter(|point| usable(point)) {
            ages = (ages.0.min(point.age), ages.1.max(point.age));
            shares = (shares.0.min(point.failed), shares.1.max(point.failed));
        }
        if let Some(line) = self.line {
            let middle = line.quantile(0.5);
            ages = (ages.0.min(middle), ages.1.max(middle));
        }
        if !ages.0.is_finite() || ages.1 <= 0.0 {
            ages = (1.0, 10.0);
        }
        let air = (ages.1 / ages.0).powf(0.06).max(1.1);
        (
            (ages.0 / air, ages.1 * air),
            (height(shares.0) - 0.4, height(shares.1) + 0.25),
        )
    }
}

/// Draws the plot for wide and for narrow screens, the style sheet shows one of them.
#[must_use]
pub fn probability_plot(chart: &ProbabilityChart) -> String {
    draw(chart, Place::Wide) + &draw(chart, Place::Narrow)
}

/// Draws the plot as a file that stands alone.
#[must_use]
pub fn probability_plot_file(chart: &ProbabilityChart) -> String {
    draw(chart, Place::File)
}

fn height(failed: f64) -> f64 {
    (-(-failed).ln_1p()).ln()
}

fn usable(point: &PlotPoint) -> bool {
    point.age > 0.0 && point.age.is_finite() && point.failed > 0.0 && point.failed < 1.0
}

fn draw(chart: &ProbabilityChart, place: Place) -> String {
    let (width, rise, ticks_wanted) = match place {
        Place::Narrow => (358.0, 290.0, 5),
        Place::Wide | Place::File => (720.0, 340.0, 10),
    };
    let key = Key::lay_out(entries(chart), 4.0, width);
    let plot = Plot {
        left: 48.0,
        right: width - 16.0,
        top: key.height + 34.0,
        bottom: key.height + 34.0 + rise,
    };
    let (ages, heights) = chart.ranges();
    let across = Scale::logarithmic(ages, (plot.left, plot.right));
    let up = Scale::linear(heights, (plot.bottom, plot.top));
    let mut drawing = Drawing::default();
    key.draw(&mut drawing);
    drawing.text(
        "soft",
        (4.0, plot.top - 14.0),
        Anchor::Start,
        "Failed, in 100",
    );
    let ticks = round_ratios(ages.0, ages.1, ticks_wanted);
    let label = format!("{}, log scale", chart.scale.axis_label());
    plot.draw_across(&mut drawing, &across, &ticks, &label);
    let within = SHARES
        .into_iter()
        .filter(|share| (heights.0..=heights.1).contains(&height(*share)))
        .map(|share| (height(share), figures::age(share * 100.0)));
    plot.draw_up(&mut drawing, &up, within);
    plot.open_window(&mut drawing);
    drawing.path("band", &band(chart, &across, &up));
    if let Some(line) = chart.line {
        drawing.path("model", &straight(line, ages, &across, &up));
    }
    drawing.close_window();
    plot.draw_base(&mut drawing);
    let mut last = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for point in chart.points.iter().filter(|point| usable(point)) {
        let at = (across.place(point.age), up.place(height(point.failed)));
        if (at.0 - last.0).abs() > 1.0 || (at.1 - last.1).abs() > 1.0 {
            drawing.circle("point", at, 4.0);
            last = at;
        }
    }
    drawing.finish(
        &Caption {
            id: &chart.id,
            class: "chart",
            title: &chart.title(),
            description: &chart.reading(),
            size: (width, plot.bottom + 48.0),
        },
        place,
    )
}

fn entries(chart: &ProbabilityChart) -> Vec<(Mark, String)> {
    let mut entries = vec![(Mark::Point, "failures".to_owned())];
    if chart.line.is_some() {
        entries.push((Mark::Model, "Weibull fit".to_owned()));
    }
    if chart.band.len() > 1 {
        entries.push((
            Mark::Band,
            format!("{} limits of the fit", figures::level(chart.level)),
        ));
    }
    entries
}

/// The line from one end of the ages to the other, to be drawn inside a window.
fn straight(line: WeibullLine, ages: (f64, f64), across: &Scale, up: &Scale) -> Trace {
    Trace::through([ages.0, ages.1].map(|age| {
        let rise = line.shape * (age / line.scale).ln();
        (across.place_freely(age), up.place_freely(rise))
    }))
}

fn band(chart: &ProbabilityChart, across: &Scale, up: &Scale) -> Trace {
    if chart.band.len() < 2 {
        return Trace::default();
    }
    let lower = chart
        .band
        .iter()
        .map(|limits| (limits.lower, limits.failed));
    let upper = chart.band.iter().rev();
    let upper = upper.map(|limits| (limits.upper, limits.failed));
    let mut trace = Trace::through(
        lower
            .chain(upper)
            .map(|(age, failed)| (across.place_freely(age), up.place_freely(height(failed)))),
    );
    trace.close();
    trace
}
