//! The mean cumulative function: how many events one unit has had on the average by each age.

use super::axis::{Plot, Scale, round_axis, round_ratios};
use super::chart::{Chart, ChartTable, Frame};
use super::drawing::{Drawing, Place, Trace};
use super::key::Mark;
use super::rows::{Written, every};
use super::steps::{StepPoint, bands, stairs, steps_of};
use super::survival::Overlay;
use super::ticks::tick_words;
use crate::pages::figures::{self, ScaleWords};

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
    /// Both axes in equal ratios, on which a power law is straight; else both from zero in equal steps.
    pub logarithmic: bool,
}

/// Both axes with their ticks.
struct Axes {
    across: Scale,
    across_ticks: Vec<f64>,
    up: Scale,
    up_ticks: Vec<f64>,
}

impl MeanCumulativeChart {
    fn usable(&self) -> impl Iterator<Item = StepPoint> {
        self.points
            .iter()
            .copied()
            .filter(|point| point.time > 0.0 && point.time.is_finite() && point.value > 0.0)
    }

    fn axes(&self, plot: &Plot, wanted: f64) -> Option<Axes> {
        let first = self.usable().next()?;
        let highest = self
            .usable()
            .map(|point| point.upper.unwrap_or(point.value).max(point.value))
            .filter(|value| value.is_finite())
            .fold(0.0, f64::max);
        let oldest = self
            .usable()
            .map(|point| point.time)
            .fold(self.longest, f64::max);
        let (level, upright) = ((plot.left, plot.right), (plot.bottom, plot.top));
        if !self.logarithmic {
            let (end, across_ticks) = round_axis(oldest, wanted);
            let (height, up_ticks) = round_axis(highest, 4.0);
            return Some(Axes {
                across: Scale::linear((0.0, end), level),
                across_ticks,
                up: Scale::linear((0.0, height), upright),
                up_ticks,
            });
        }
        let lowest = first.lower.filter(|lower| *lower > first.value / 10.0);
        let ages = (first.time / 1.15, oldest * 1.1);
        let means = (lowest.unwrap_or(first.value) / 1.2, highest * 1.15);
        let most = if wanted > 5.0 { 10 } else { 5 };
        Some(Axes {
            across: Scale::logarithmic(ages, level),
            across_ticks: round_ratios(ages.0, ages.1, most),
            up: Scale::logarithmic(means, upright),
            up_ticks: round_ratios(means.0, means.1, 8),
        })
    }

    fn entries(&self) -> Vec<(Mark, String)> {
        let estimate = "mean cumulative function".to_owned();
        let mut entries = vec![if self.logarithmic {
            (Mark::Point, estimate)
        } else {
            (Mark::Estimate, estimate)
        }];
        if self.points.iter().any(|point| point.lower.is_some()) {
            let mark = if self.logarithmic {
                Mark::Whisker
            } else {
                Mark::Band
            };
            entries.push((mark, format!("{} limits", figures::level(self.level))));
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

    fn draw_points(&self, drawing: &mut Drawing, axes: &Axes) {
        for point in self.usable() {
            if let Some((lower, upper)) = point.lower.zip(point.upper)
                && lower > 0.0
            {
                let x = axes.across.place_freely(point.time);
                let ends = [lower, upper].map(|value| axes.up.place_freely(value));
                drawing.line("axis", (x, ends[0]), (x, ends[1]));
            }
        }
        self.draw_model(drawing, axes);
        for point in self.usable() {
            let place = (
                axes.across.place_freely(point.time),
                axes.up.place_freely(point.value),
            );
            drawing.circle("point", place, 3.5);
        }
    }

    fn draw_model(&self, drawing: &mut Drawing, axes: &Axes) {
        if let Some(model) = &self.model {
            let places = model
                .places
                .iter()
                .filter(|(age, mean)| !self.logarithmic || (*age > 0.0 && *mean > 0.0));
            let trace =
                Trace::through(places.map(|(age, mean)| {
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
            "Mean number of events that one unit has had by each age, from {} on {}. Where the curve bends upwards events come faster with age; where it runs straight, at a steady rate.",
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
        let (heading, label) = if self.logarithmic {
            (
                "Events per unit, log scale",
                format!("{}, log scale", self.scale.axis_label()),
            )
        } else {
            ("Events per unit", self.scale.axis_label())
        };
        let mut drawing = frame.open(heading);
        plot.draw_across(&mut drawing, &axes.across, &axes.across_ticks, &label);
        let words = tick_words(&axes.up_ticks);
        plot.draw_up(
            &mut drawing,
            &axes.up,
            axes.up_ticks.iter().copied().zip(words),
        );
        plot.open_window(&mut drawing);
        if self.logarithmic {
            self.draw_points(&mut drawing, &axes);
        } else {
            self.draw_steps(&mut drawing, &axes);
        }
        drawing.close_window();
        plot.draw_base(&mut drawing);
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}
