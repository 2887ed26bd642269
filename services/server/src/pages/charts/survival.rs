//! The survival curve: the share still working against age.

use super::at_risk::AtRisk;
use super::axis::{Plot, Scale, round_axis};
use super::chart::{Frame, sample_words};
use super::drawing::{Anchor, Drawing, Place, Trace};
use super::key::Mark;
use super::steps::{FINEST, Step, StepPoint, bands, stairs, steps_of};
use crate::pages::figures::{self, Estimate, ScaleWords};

/// One age at which pieces failed or were last seen working.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// The age, on the chart's scale.
    pub time: f64,
    /// Pieces under observation just before this age; `None` where the estimator counts none.
    pub at_risk: Option<u64>,
    /// Pieces that failed at this age; `None` where the estimator counts none.
    pub failed: Option<u64>,
    /// Pieces last seen working at this age; `None` where the estimator counts none.
    pub censored: Option<u64>,
    /// Estimated share still working after this age.
    pub survival: f64,
    /// Lower limit of that share, where there is one.
    pub lower: Option<f64>,
    /// Upper limit of that share, where there is one.
    pub upper: Option<f64>,
}

impl CurvePoint {
    /// Whether the curve falls here; points of an estimator without counts always do.
    pub(super) fn is_step(&self) -> bool {
        self.failed != Some(0)
    }

    pub(super) fn is_last_sight(&self) -> bool {
        self.censored.is_some_and(|censored| censored > 0)
    }
}

/// A fitted curve laid over the estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    /// Words for the key, such as "Weibull fit".
    pub label: String,
    /// Pairs of age and share still working, by rising age.
    pub places: Vec<(f64, f64)>,
}

/// What a survival curve is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct SurvivalChart {
    /// Unique within the page.
    pub id: String,
    /// What the lives belong to, such as "Tail drive belt".
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Confidence level of the band, between 0 and 1.
    pub level: f64,
    /// The estimator in words, such as "product-limit estimate".
    pub estimator: String,
    /// By rising age.
    pub points: Vec<CurvePoint>,
    /// Pieces in the sample.
    pub lives: u64,
    /// Failures in the sample.
    pub failures: u64,
    /// The oldest age seen, where the curve ends.
    pub longest: f64,
    /// A fitted curve, drawn dashed.
    pub overlay: Option<Overlay>,
    /// The age by which 10 in 100 have failed.
    pub decile: Option<Estimate>,
    /// The suggested renewal.
    pub renew_by: Option<f64>,
    /// From what those at risk are counted.
    pub at_risk: AtRisk,
}

impl SurvivalChart {
    /// The chart's name: what it is about and the unit.
    #[must_use]
    pub fn title(&self) -> String {
        format!(
            "{}: share still working against {}",
            self.subject, self.scale.unit
        )
    }

    /// One sentence that says what the curve shows, with the sample size.
    #[must_use]
    pub fn reading(&self) -> String {
        let sample = sample_words(self.lives, self.failures);
        let level = figures::level(self.level);
        let mut words = match &self.decile {
            Some(decile) => format!(
                "Of {sample}, 10 in 100 are estimated to have failed by {} {} ({level} limits {}).",
                decile.value_text(),
                self.scale.unit,
                decile.limits_text()
            ),
            None => format!(
                "Share of {sample} still working at each age, with {level} limits; \
                 the oldest has reached {} {}.",
                figures::age(self.longest),
                self.scale.unit
            ),
        };
        if self.points.iter().all(|point| point.lower.is_none()) {
            words.push_str(
                " Some failures were found at checks, so the curve is an estimate from intervals, \
                 which has no limits of its own.",
            );
        }
        if let Some(why) = self.at_risk.reason(&self.points) {
            words.push(' ');
            words.push_str(why);
        }
        words
    }

    /// Pieces under observation just before each age, at age 0 those watched from new. `None` where the estimator
    /// counts none, or where they cannot be told.
    #[must_use]
    pub fn numbers_at_risk(&self, ages: &[f64]) -> Option<Vec<u64>> {
        self.at_risk.numbers(&self.points, ages)
    }

    fn steps(&self) -> Vec<Step> {
        steps_of(falls(&self.points), 1.0, self.longest)
    }
}

/// The points at which a curve falls.
pub(super) fn falls(points: &[CurvePoint]) -> impl Iterator<Item = StepPoint> {
    points
        .iter()
        .filter(|point| point.is_step())
        .map(|point| StepPoint {
            time: point.time,
            value: point.survival,
            lower: point.lower,
            upper: point.upper,
        })
}

/// Draws the curve for wide and for narrow screens, the style sheet shows one of them.
#[must_use]
pub fn survival_curve(chart: &SurvivalChart) -> String {
    draw(chart, Place::Wide) + &draw(chart, Place::Narrow)
}

/// Draws the curve as a file that stands alone.
#[must_use]
pub fn survival_curve_file(chart: &SurvivalChart) -> String {
    draw(chart, Place::File)
}

fn draw(chart: &SurvivalChart, place: Place) -> String {
    let frame = Frame::new(entries(chart), 76.0, place);
    let plot = &frame.plot;
    let (end, ticks) = round_axis(chart.longest, frame.ticks);
    let across = Scale::linear((0.0, end), (plot.left, plot.right));
    let up = Scale::linear((0.0, 1.0), (plot.bottom, plot.top));
    let mut drawing = frame.open("Still working, in 100");
    plot.draw_across(&mut drawing, &across, &ticks, &chart.scale.axis_label());
    let shares = [0.0, 0.25, 0.5, 0.75, 1.0];
    plot.draw_up(
        &mut drawing,
        &up,
        shares.map(|share| (share, figures::age(share * 100.0))),
    );
    let steps = chart.steps();
    for band in bands(&steps, &across, &up) {
        drawing.path("band", &band);
    }
    plot.draw_base(&mut drawing);
    if let Some(overlay) = &chart.overlay {
        let within = overlay.places.iter().filter(|(age, _)| *age <= end);
        let trace =
            Trace::through(within.map(|(age, share)| (across.place(*age), up.place(*share))));
        drawing.path("model", &trace);
    }
    drawing.path("estimate", &stairs(&steps, &across, &up));
    draw_ticks(chart, &mut drawing, &across, &up);
    if let Some(decile) = &chart.decile {
        draw_decile(decile, &mut drawing, &across, &up);
    }
    if let Some(renewal) = chart.renew_by.filter(|age| *age > 0.0 && *age <= end) {
        draw_renewal(renewal, &mut drawing, &across, plot);
    }
    draw_at_risk(chart, &mut drawing, &across, plot, &ticks);
    frame.close(drawing, 68.0, &chart.id, &chart.title(), &chart.reading())
}

fn entries(chart: &SurvivalChart) -> Vec<(Mark, String)> {
    let mut entries = vec![(Mark::Estimate, chart.estimator.clone())];
    if chart.points.iter().any(|point| point.lower.is_some()) {
        entries.push((
            Mark::Band,
            format!("{} limits", figures::level(chart.level)),
        ));
    }
    if let Some(overlay) = &chart.overlay {
        entries.push((Mark::Model, overlay.label.clone()));
    }
    if chart.points.iter().any(CurvePoint::is_last_sight) {
        entries.push((Mark::Tick, "last seen working".to_owned()));
    }
    if chart.decile.is_some() {
        entries.push((Mark::Decile, "10 in 100 failed, with limits".to_owned()));
    }
    entries
}

/// Upright strokes where pieces were last seen working.
fn draw_ticks(chart: &SurvivalChart, drawing: &mut Drawing, across: &Scale, up: &Scale) {
    let mut trace = Trace::default();
    let mut last = f64::NEG_INFINITY;
    for point in chart.points.iter().filter(|point| point.is_last_sight()) {
        let (x, y) = (across.place(point.time), up.place(point.survival));
        if x - last > FINEST * 2.0 {
            trace.move_to((x, y - 5.0));
            trace.down_to(y + 5.0);
            last = x;
        }
    }
    drawing.path("tick", &trace);
}

fn draw_decile(decile: &Estimate, drawing: &mut Drawing, across: &Scale, up: &Scale) {
    let y = up.place(0.9);
    if let (Some(lower), Some(upper)) = (decile.lower, decile.upper) {
        let (from, to) = (across.place(lower), across.place(upper));
        drawing.line("whisker", (from, y), (to, y));
        drawing.line("whisker", (from, y - 5.0), (from, y + 5.0));
        drawing.line("whisker", (to, y - 5.0), (to, y + 5.0));
    }
    drawing.diamond("diamond", (across.place(decile.value), y), 5.5);
}

fn draw_renewal(renewal: f64, drawing: &mut Drawing, across: &Scale, plot: &Plot) {
    let x = across.place(renewal);
    drawing.line("mark", (x, plot.top), (x, plot.bottom));
    let words = format!("renewal by {}", figures::suggestion(renewal));
    let (at, anchor) = if x - plot.left > 130.0 {
        (x - 7.0, Anchor::End)
    } else {
        (x + 7.0, Anchor::Start)
    };
    drawing.text("", (at, plot.bottom - 10.0), anchor, &words);
}

fn draw_at_risk(
    chart: &SurvivalChart,
    drawing: &mut Drawing,
    across: &Scale,
    plot: &Plot,
    ticks: &[f64],
) {
    let Some(numbers) = chart.numbers_at_risk(ticks) else {
        return;
    };
    let y = plot.bottom + 60.0;
    drawing.text("soft", (4.0, y), Anchor::Start, "At risk");
    for (tick, number) in ticks.iter().zip(numbers) {
        let at = (across.place(*tick), y);
        drawing.text("", at, Anchor::Middle, &figures::count(number));
    }
}
