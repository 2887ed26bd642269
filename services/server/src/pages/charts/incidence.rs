//! Cumulative incidence: the share failed of each cause against age, where a failure of one cause ends the watch for
//! the others.

use super::axis::{Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame};
use super::drawing::Place;
use super::key::{MOST_SERIES, Mark, series_class};
use super::rows::{Written, every};
use super::steps::{StepPoint, stairs, steps_of};
use super::ticks::tick_words;
use crate::pages::Shown;
use crate::pages::figures::{self, ScaleWords};
use wearbook_analysis::report::Report;

/// The course of one cause.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseCurve {
    /// The cause in words.
    pub cause: String,
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
    /// Confidence level of the limits in the table, between 0 and 1; bands of several curves would cover each other.
    pub level: f64,
    /// Most failures first; beyond six they stand in the table only.
    pub causes: Vec<CauseCurve>,
    /// Pieces in the sample.
    pub lives: u64,
    /// The oldest age seen, where the curves end.
    pub longest: f64,
}

impl IncidenceChart {
    /// The share failed of each cause of an analysis.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no chart worth drawing.
    pub fn from_report(report: &Report, id: &str, subject: &str, scale: ScaleWords) -> Shown<Self> {
        let incidence = report
            .incidence
            .as_ref()
            .ok_or_else(|| "it needs failures of at least two causes at known ages.".to_owned())?;
        let mut causes: Vec<_> = incidence
            .causes
            .iter()
            .map(|curve| CauseCurve {
                cause: curve.cause.clone().unwrap_or_else(|| "no cause".to_owned()),
                failures: curve.failures,
                points: curve
                    .points
                    .iter()
                    .map(|point| StepPoint {
                        time: point.time,
                        value: point.incidence,
                        lower: point.lower,
                        upper: point.upper,
                    })
                    .collect(),
            })
            .collect();
        causes.sort_by(|a, b| b.failures.cmp(&a.failures).then(a.cause.cmp(&b.cause)));
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            level: incidence.limits.level,
            causes,
            lives: report.sample.lives,
            longest: report.sample.longest_usage,
        })
    }
}

impl IncidenceChart {
    fn drawn(&self) -> &[CauseCurve] {
        self.causes.get(..MOST_SERIES).unwrap_or(&self.causes)
    }

    fn entries(&self) -> Vec<(Mark, String)> {
        self.drawn()
            .iter()
            .enumerate()
            .map(|(number, curve)| {
                let words = format!("{} ({})", curve.cause, figures::count(curve.failures));
                (Mark::Series(number + 1), words)
            })
            .collect()
    }
}

impl Chart for IncidenceChart {
    fn title(&self) -> String {
        format!(
            "{}: share failed of each cause against {}",
            self.subject, self.scale.unit
        )
    }

    fn reading(&self) -> String {
        let failures: u64 = self.causes.iter().map(|curve| curve.failures).sum();
        let mut words = format!(
            "Share of {} that has failed of each cause by each age, {} in all; a failure of one cause ends the watch for the others.",
            figures::counted(self.lives, "piece", "pieces"),
            figures::counted(failures, "failure", "failures")
        );
        let hidden = self.causes.len() - self.drawn().len();
        if hidden > 0 {
            let more = if hidden == 1 {
                "cause stands"
            } else {
                "causes stand"
            };
            words.push_str(&format!(" {hidden} rarer {more} in the table only."));
        }
        words
    }

    fn table(&self) -> ChartTable {
        let heads = [
            "Cause",
            &self.scale.axis_label(),
            "Share failed",
            "Lower limit",
            "Upper limit",
        ];
        let rows = self.causes.iter().flat_map(|curve| {
            every(&curve.points).map(|point| {
                vec![
                    Written::words(&curve.cause),
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
        let values = self.drawn().iter().flat_map(|curve| &curve.points);
        let highest = values
            .map(|point| point.value)
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
        let heading = "Failed of each cause, in 100";
        let mut drawing = frame.open(heading);
        plot.draw_across(&mut drawing, &across, &ticks, &self.scale.axis_label());
        let words = tick_words(&levels);
        let levels = levels.iter().map(|level| level / 100.0).zip(words);
        plot.draw_up(&mut drawing, &up, levels);
        plot.draw_base(&mut drawing);
        for (number, curve) in self.drawn().iter().enumerate() {
            let steps = steps_of(curve.points.iter().copied(), 0.0, self.longest);
            drawing.path(&series_class(number + 1), &stairs(&steps, &across, &up));
        }
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}
