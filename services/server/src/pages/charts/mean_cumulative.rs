//! The mean cumulative function: how many events one unit has had on the average by each age.

use super::axis::{Plot, Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame};
use super::drawing::{Drawing, Place, Trace};
use super::from_report::ages;
use super::key::Mark;
use super::rows::{Written, every};
use super::steps::{StepPoint, bands, stairs, steps_of};
use super::survival::Overlay;
use super::ticks::tick_words;
use crate::pages::Shown;
use crate::pages::figures::{self, ScaleWords};
use wearbook_analysis::report::RecurrenceReport;

/// What a plot of the mean cumulative function is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct MeanCumulativeChart {
    /// Unique within the page.
    pub id: String,
    /// What the units are.
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Confidence level of the limits, between 0 and 1.
    pub level: f64,
    /// Mean number of events per unit after each step, by rising age.
    pub points: Vec<StepPoint>,
    /// A fitted curve of age and mean number of events, drawn dashed.
    pub model: Option<Overlay>,
    /// Units watched.
    pub units: u64,
    /// Events seen.
    pub events: u64,
    /// The longest age to which a unit was watched.
    pub longest: f64,
}

/// Both axes with their ticks.
struct Axes {
    across: Scale,
    across_ticks: Vec<f64>,
    up: Scale,
    up_ticks: Vec<f64>,
}

impl MeanCumulativeChart {
    /// The mean number of events per unit, with the power law laid over it where one was fitted.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no chart worth drawing.
    pub fn from_report(
        report: &RecurrenceReport,
        id: &str,
        subject: &str,
        scale: ScaleWords,
    ) -> Shown<Self> {
        if report.mean_cumulative_function.is_empty() {
            return Err("no event was seen.".to_owned());
        }
        let model = report.power_law.as_ref().and_then(|law| {
            let (shape, scale) = (law.shape.value?, law.scale?);
            let places = ages(report.longest_age)
                .map(|age| (age, (age / scale).powf(shape)))
                .filter(|(_, mean)| mean.is_finite());
            Some(Overlay {
                label: "power law".to_owned(),
                places: places.collect(),
            })
        });
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            level: report.level,
            points: report
                .mean_cumulative_function
                .iter()
                .map(|point| StepPoint {
                    time: point.age,
                    value: point.mean,
                    lower: point.lower,
                    upper: point.upper,
                })
                .collect(),
            model,
            units: report.systems,
            events: report.events,
            longest: report.longest_age,
        })
    }
}

impl MeanCumulativeChart {
    fn usable(&self) -> impl Iterator<Item = StepPoint> {
        self.points
            .iter()
            .copied()
            .filter(|point| point.time > 0.0 && point.time.is_finite() && point.value > 0.0)
    }

    fn axes(&self, plot: &Plot, wanted: f64) -> Option<Axes> {
        // Nothing to draw without a step.
        self.usable().next()?;
        let highest = self
            .usable()
            .map(|point| point.upper.unwrap_or(point.value).max(point.value))
            .filter(|value| value.is_finite())
            .fold(0.0, f64::max);
        let oldest = self
            .usable()
            .map(|point| point.time)
            .fold(self.longest, f64::max);
        let (end, across_ticks) = round_axis(oldest, wanted);
        let (height, up_ticks) = round_axis(highest, 4.0);
        Some(Axes {
            across: Scale::linear((0.0, end), (plot.left, plot.right)),
            across_ticks,
            up: Scale::linear((0.0, height), (plot.bottom, plot.top)),
            up_ticks,
        })
    }

    fn entries(&self) -> Vec<(Mark, String)> {
        let mut entries = vec![(Mark::Estimate, "mean cumulative function".to_owned())];
        if self.points.iter().any(|point| point.lower.is_some()) {
            let words = format!("{} limits", figures::level(self.level));
            entries.push((Mark::Band, words));
        }
        if let Some(model) = &self.model {
            entries.push((Mark::Model, model.label.clone()));
        }
        entries
    }

    fn draw_steps(&self, drawing: &mut Drawing, axes: &Axes) {
        let oldest = self
            .usable()
            .map(|point| point.time)
            .fold(self.longest, f64::max);
        let steps = steps_of(self.usable(), 0.0, oldest);
        for band in bands(&steps, &axes.across, &axes.up) {
            drawing.path("band", &band);
        }
        self.draw_model(drawing, axes);
        drawing.path("estimate", &stairs(&steps, &axes.across, &axes.up));
    }

    fn draw_model(&self, drawing: &mut Drawing, axes: &Axes) {
        if let Some(model) = &self.model {
            let trace =
                Trace::through(model.places.iter().map(|(age, mean)| {
                    (axes.across.place_freely(*age), axes.up.place_freely(*mean))
                }));
            drawing.path("model", &trace);
        }
    }
}

impl Chart for MeanCumulativeChart {
    fn title(&self) -> String {
        format!(
            "{}: mean number of events per unit against {}",
            self.subject, self.scale.unit
        )
    }

    fn reading(&self) -> String {
        format!(
            "Mean number of events that one unit has had by each age, from {} of {}. Where the curve bends upwards events come faster with age; where it runs straight, at a steady rate.",
            figures::counted(self.events, "event", "events"),
            figures::counted(self.units, "unit", "units")
        )
    }

    fn table(&self) -> ChartTable {
        let heads = [
            self.scale.axis_label(),
            "Mean events per unit".to_owned(),
            "Lower limit".to_owned(),
            "Upper limit".to_owned(),
        ];
        let rows = every(&self.points).map(|point| {
            vec![
                Written::of(Some(point.time), figures::age),
                Written::of(Some(point.value), figures::estimate),
                Written::of(point.lower, figures::estimate),
                Written::of(point.upper, figures::estimate),
            ]
        });
        ChartTable {
            heads: heads.to_vec(),
            rows: rows.collect(),
        }
    }

    fn draw(&self, place: Place) -> Option<String> {
        let frame = Frame::new(self.entries(), 60.0, place);
        let (plot, wanted) = (&frame.plot, frame.ticks);
        let axes = self.axes(plot, wanted)?;
        let label = self.scale.axis_label();
        let mut drawing = frame.open("Events per unit");
        plot.draw_across(&mut drawing, &axes.across, &axes.across_ticks, &label);
        let words = tick_words(&axes.up_ticks);
        plot.draw_up(
            &mut drawing,
            &axes.up,
            axes.up_ticks.iter().copied().zip(words),
        );
        plot.open_window(&mut drawing);
        self.draw_steps(&mut drawing, &axes);
        drawing.close_window();
        plot.draw_base(&mut drawing);
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}
