//! The probability plot: failures on the paper on which a family of distributions is a straight line.

use super::axis::{Scale, round_axis, round_ratios};
use super::chart::Frame;
use super::drawing::{Place, Trace};
use super::key::Mark;
use super::paper::Paper;
use crate::pages::figures::{self, ScaleWords};

/// A failure at its plotted height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotPoint {
    /// Age at failure.
    pub age: f64,
    /// Plotted share failed, between 0 and 1 without its ends.
    pub failed: f64,
}

/// The fitted distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedLine {
    /// Its name in a sentence, such as "Weibull".
    pub family: String,
    /// Its parameters in words, such as "shape 2.10, scale 81.9".
    pub parameters: String,
    /// Pairs of age and share failed, by rising age.
    pub places: Vec<(f64, f64)>,
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
    /// The axes.
    pub paper: Paper,
    /// Confidence level of the band, between 0 and 1.
    pub level: f64,
    /// By rising age.
    pub points: Vec<PlotPoint>,
    /// The fitted line, drawn dashed.
    pub line: Option<FittedLine>,
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
            "{}: {} probability plot of age in {}",
            self.subject,
            self.paper.name(),
            self.scale.unit
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
        let named = |family: &str| {
            let article = if family.starts_with('e') { "an" } else { "a" };
            format!("{article} {family} distribution")
        };
        match &self.line {
            Some(line) => format!(
                "Points from {sample} that follow the dashed line support {} ({}).",
                named(&line.family),
                line.parameters
            ),
            None => format!(
                "Points from {sample}; if they lie on a straight line, {} fits.",
                named(self.paper.name())
            ),
        }
    }

    /// Ages and heights that hold all points with some air.
    fn ranges(&self) -> ((f64, f64), (f64, f64)) {
        let mut ages = (f64::INFINITY, 0.0_f64);
        let mut shares = (0.05_f64, 0.7_f64);
        for point in self.points.iter().filter(|point| usable(point)) {
            ages = (ages.0.min(point.age), ages.1.max(point.age));
            shares = (shares.0.min(point.failed), shares.1.max(point.failed));
        }
        let middle = self.line.as_ref().and_then(FittedLine::middle);
        if let Some(middle) = middle {
            ages = (ages.0.min(middle), ages.1.max(middle));
        }
        if !ages.0.is_finite() || ages.1 <= 0.0 {
            ages = (1.0, 10.0);
        }
        let heights = (self.paper.height(shares.0), self.paper.height(shares.1));
        let air = heights.1 - heights.0;
        if self.paper.is_logarithmic() {
            let ratio = (ages.1 / ages.0).powf(0.06).max(1.1);
            let ages = (ages.0 / ratio, ages.1 * ratio);
            (ages, (heights.0 - 0.08 * air, heights.1 + 0.05 * air))
        } else {
            ((0.0, ages.1 * 1.04), (0.0, heights.1 + 0.05 * air))
        }
    }
}

impl FittedLine {
    /// The first age on the line by which half have failed.
    fn middle(&self) -> Option<f64> {
        let half = self.places.iter().find(|(_, failed)| *failed >= 0.5);
        half.map(|(age, _)| *age)
            .filter(|age| *age > 0.0 && age.is_finite())
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

fn usable(point: &PlotPoint) -> bool {
    point.age > 0.0 && point.age.is_finite() && inside(point.failed)
}

fn inside(share: f64) -> bool {
    share > 0.0 && share < 1.0
}

fn draw(chart: &ProbabilityChart, place: Place) -> String {
    let frame = Frame::new(entries(chart), 54.0, place).taller(40.0);
    let plot = &frame.plot;
    let ticks_wanted = match place {
        Place::Narrow => 5,
        Place::Wide | Place::File => 10,
    };
    let paper = chart.paper;
    let (ages, heights) = chart.ranges();
    let (across, ticks, label) = if paper.is_logarithmic() {
        (
            Scale::logarithmic(ages, (plot.left, plot.right)),
            round_ratios(ages.0, ages.1, ticks_wanted),
            format!("{}, log scale", chart.scale.axis_label()),
        )
    } else {
        let (end, ticks) = round_axis(ages.1, frame.ticks);
        (
            Scale::linear((0.0, end), (plot.left, plot.right)),
            ticks,
            chart.scale.axis_label(),
        )
    };
    let up = Scale::linear(heights, (plot.bottom, plot.top));
    let mut drawing = frame.open(&format!("Failed, in 100, on {} paper", paper.name()));
    plot.draw_across(&mut drawing, &across, &ticks, &label);
    let shares = paper.share_ticks(heights, &up);
    plot.draw_up(
        &mut drawing,
        &up,
        shares
            .into_iter()
            .map(|share| (paper.height(share), figures::age(share * 100.0))),
    );
    plot.open_window(&mut drawing);
    drawing.path("band", &band(chart, &across, &up));
    if let Some(line) = &chart.line {
        let within = line.places.iter().filter(|(_, failed)| inside(*failed));
        let trace = Trace::through(within.map(|(age, failed)| {
            (
                across.place_freely(*age),
                up.place_freely(paper.height(*failed)),
            )
        }));
        drawing.path("model", &trace);
    }
    drawing.close_window();
    plot.draw_base(&mut drawing);
    let mut last = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for point in chart.points.iter().filter(|point| usable(point)) {
        let at = (
            across.place(point.age),
            up.place(paper.height(point.failed)),
        );
        if (at.0 - last.0).abs() > 1.0 || (at.1 - last.1).abs() > 1.0 {
            drawing.circle("point", at, 4.0);
            last = at;
        }
    }
    frame.close(drawing, 48.0, &chart.id, &chart.title(), &chart.reading())
}

fn entries(chart: &ProbabilityChart) -> Vec<(Mark, String)> {
    let mut entries = vec![(Mark::Point, "failures".to_owned())];
    if let Some(line) = &chart.line {
        entries.push((Mark::Model, format!("{} fit", line.family)));
    }
    if chart.band.len() > 1 {
        entries.push((
            Mark::Band,
            format!("{} limits of the fit", figures::level(chart.level)),
        ));
    }
    entries
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
    let mut trace = Trace::through(lower.chain(upper).map(|(age, failed)| {
        let height = chart.paper.height(failed);
        (across.place_freely(age), up.place_freely(height))
    }));
    trace.close();
    trace
}
