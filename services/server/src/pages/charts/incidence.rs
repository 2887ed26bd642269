//! Cumulative incidence: the share failed of each mode against age, where a failure of one mode prevents the others.

use super::axis::{Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame};
use super::drawing::Place;
use super::key::{MOST_SERIES, Mark, series_class};
use super::rows::{Written, every};
use super::steps::{StepPoint, bands, stairs, steps_of};
use super::ticks::tick_words;
use crate::pages::figures::{self, ScaleWords};

/// The course of one mode.
#[derive(Debug, Clone, PartialEq)]
pub struct ModeCurve {
    /// The mode in words.
    pub mode: String,
    /// Failures of it.
    pub failures: u64,
    /// Share failed of it after each step, by rising age.
    pub points: Vec<StepPoint>,
}

/// What an incidence plot is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct IncidenceChart {
    /// Unique within the page.
    pub id: String,
    /// What the lives belong to.
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Confidence level of the limits, between 0 and 1.
    pub level: f64,
    /// Most failures first; beyond six they stand in the table only.
    pub modes: Vec<ModeCurve>,
    /// Pieces in the sample.
    pub lives: u64,
    /// The oldest age seen, where the curves end.
    pub longest: f64,
}

impl IncidenceChart {
    fn drawn(&self) -> &[ModeCurve] {
        self.modes.get(..MOST_SERIES).unwrap_or(&self.modes)
    }

    /// Bands of more than one curve cover each other.
    fn shows_band(&self) -> bool {
        let only = self.modes.first().filter(|_| self.modes.len() == 1);
        only.is_some_and(|mode| mode.points.iter().any(|point| point.lower.is_some()))
    }

    fn entries(&self) -> Vec<(Mark, String)> {
        let mut entries: Vec<_> = self
            .drawn()
            .iter()
            .enumerate()
            .map(|(number, mode)| {
                let words = format!("{} ({})", mode.mode, figures::count(mode.failures));
                (Mark::Series(number + 1), words)
            })
            .collect();
        if self.shows_band() {
            let words = format!("{} limits", figures::level(self.level));
            entries.push((Mark::Band, words));
        }
        entries
    }
}

impl Chart for IncidenceChart {
    fn title(&self) -> String {
        format!(
            "{}: share failed of each mode against {}",
            self.subject, self.scale.unit
        )
    }

    fn reading(&self) -> String {
        let failures: u64 = self.modes.iter().map(|mode| mode.failures).sum();
        let mut words = format!(
            "Share of {} that has failed of each mode by each age, {} in all; a failure of one mode ends the watch for the others.",
            figures::counted(self.lives, "piece", "pieces"),
            figures::counted(failures, "failure", "failures")
        );
        let hidden = self.modes.len() - self.drawn().len();
        if hidden > 0 {
            let more = if hidden == 1 {
                "mode stands"
            } else {
                "modes stand"
            };
            words.push_str(&format!(" {hidden} rarer {more} in the table only."));
        }
        words
    }

    fn table(&self) -> ChartTable {
        let heads = [
            "Mode",
            &self.scale.axis_label(),
            "Share failed",
            "Lower limit",
            "Upper limit",
        ];
        let rows = self.modes.iter().flat_map(|mode| {
            every(&mode.points).map(|point| {
                vec![
                    Written::words(&mode.mode),
                    Written::of(Some(point.time), figures::age),
                    Written::of(Some(point.value), figures::fraction),
                    Written::of(point.lower, figures::fraction),
                    Written::of(point.upper, figures::fraction),
                ]
            })
        });
        ChartTable {
            heads: heads.map(str::to_owned).to_vec(),
            rows: rows.collect(),
        }
    }

    fn draw(&self, place: Place) -> Option<String> {
        let values = self.drawn().iter().flat_map(|mode| &mode.points);
        let highest = values
            .map(|point| match point.upper {
                Some(upper) if self.shows_band() => upper,
                _ => point.value,
            })
            .filter(|value| value.is_finite())
            .fold(0.0, f64::max);
        if highest <= 0.0 || !self.longest.is_finite() || self.longest <= 0.0 {
            return None;
        }
        let frame = Frame::new(self.entries(), 54.0, place);
        let (plot, wanted) = (&frame.plot, frame.ticks);
        let (end, ticks) = round_axis(self.longest, wanted);
        let (height, levels) = round_axis((highest * 100.0).min(100.0), 4.0);
        let across = Scale::linear((0.0, end), (plot.left, plot.right));
        let up = Scale::linear((0.0, height / 100.0), (plot.bottom, plot.top));
        let heading = "Failed of each mode, in 100";
        let mut drawing = frame.open(heading);
        plot.draw_across(&mut drawing, &across, &ticks, &self.scale.axis_label());
        let words = tick_words(&levels);
        let levels = levels.iter().map(|level| level / 100.0).zip(words);
        plot.draw_up(&mut drawing, &up, levels);
        plot.draw_base(&mut drawing);
        for (number, mode) in self.drawn().iter().enumerate() {
            let steps = steps_of(mode.points.iter().copied(), 0.0, self.longest);
            if self.shows_band() {
                for band in bands(&steps, &across, &up) {
                    drawing.path("band", &band);
                }
            }
            drawing.path(&series_class(number + 1), &stairs(&steps, &across, &up));
        }
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}
