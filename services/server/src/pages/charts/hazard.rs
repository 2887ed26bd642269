//! The hazard: how fast those still working fail at each age.

use super::axis::{Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame, sample_words};
use super::drawing::{Place, Trace};
use super::key::{MOST_SERIES, Mark, series_class};
use super::rows::{Written, every};
use super::ticks::tick_words;
use crate::pages::figures::{self, ScaleWords};

/// The hazard at one age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HazardPlace {
    /// The age.
    pub age: f64,
    /// Failures per unit of age among those still working.
    pub hazard: f64,
    /// Lower limit, where there is one.
    pub lower: Option<f64>,
    /// Upper limit, where there is one.
    pub upper: Option<f64>,
}

/// The hazard of one model.
#[derive(Debug, Clone, PartialEq)]
pub struct HazardLine {
    /// Words for the key, such as "Weibull fit".
    pub label: String,
    /// By rising age.
    pub places: Vec<HazardPlace>,
}

/// What a hazard plot is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct HazardChart {
    /// Unique within the page.
    pub id: String,
    /// What the lives belong to.
    pub subject: String,
    /// The unit of age.
    pub scale: ScaleWords,
    /// Confidence level of the band, between 0 and 1.
    pub level: f64,
    /// The first is the one to read, and the only one with a band; beyond six they stand in the table only.
    pub lines: Vec<HazardLine>,
    /// Pieces in the sample.
    pub lives: u64,
    /// Failures in the sample.
    pub failures: u64,
    /// Why there is no band, or none at some ages, as a sentence.
    pub no_limits: Option<String>,
}

impl HazardChart {
    fn drawn(&self) -> &[HazardLine] {
        self.lines.get(..MOST_SERIES).unwrap_or(&self.lines)
    }

    fn usable(line: &HazardLine) -> impl Iterator<Item = &HazardPlace> {
        line.places.iter().filter(|place| {
            place.age.is_finite() && place.hazard.is_finite() && place.hazard >= 0.0
        })
    }

    /// The highest hazard to show. A curve that shoots up at either end is cut where the rest can still be read.
    fn top(&self) -> Option<f64> {
        let mut all: Vec<f64> = self
            .drawn()
            .iter()
            .flat_map(Self::usable)
            .map(|place| place.hazard)
            .collect();
        all.sort_by(f64::total_cmp);
        let middle = *all.get(all.len() / 2)?;
        let limits = self.drawn().first().into_iter().flat_map(Self::usable);
        let most = limits
            .filter_map(|place| place.upper.filter(|upper| upper.is_finite()))
            .fold(*all.last()?, f64::max);
        let top = if middle > 0.0 {
            most.min(6.0 * middle)
        } else {
            most
        };
        (top > 0.0).then_some(top)
    }

    /// How many units of age a rate is told for, so that its figures are neither tiny nor long.
    fn per(top: f64) -> f64 {
        let mut per = 1.0;
        while per < 1e12 && top * per < 1.0 {
            per *= 10.0;
        }
        per
    }
}

impl Chart for HazardChart {
    fn title(&self) -> String {
        format!("{}: hazard against {}", self.subject, self.scale.unit)
    }

    fn reading(&self) -> String {
        let sample = sample_words(self.lives, self.failures);
        let course = self.lines.first().and_then(|line| {
            let first = Self::usable(line).next()?.hazard;
            let last = Self::usable(line).last()?.hazard;
            Some(if last > first * 1.05 {
                "rises: wear"
            } else if last < first * 0.95 {
                "falls: early failures"
            } else {
                "stays about level: chance"
            })
        });
        let mut words = format!("How fast those still working fail at each age, from {sample}.");
        if let Some(course) = course {
            words.push_str(&format!(" Over the ages shown it {course}."));
        }
        if let Some(why) = &self.no_limits {
            words.push(' ');
            words.push_str(why);
        }
        words
    }

    fn table(&self) -> ChartTable {
        let mut heads = vec!["Model".to_owned(), self.scale.axis_label()];
        heads.extend([
            format!("Failures per {} still working", self.scale.unit_of_one),
            "Lower limit".to_owned(),
            "Upper limit".to_owned(),
        ]);
        let rows = self.lines.iter().flat_map(|line| {
            every(&line.places).map(|place| {
                vec![
                    Written::words(&line.label),
                    Written::of(Some(place.age), figures::age),
                    Written::of(Some(place.hazard), figures::estimate),
                    Written::of(place.lower, figures::estimate),
                    Written::of(place.upper, figures::estimate),
                ]
            })
        });
        ChartTable {
            heads,
            rows: rows.collect(),
        }
    }

    fn draw(&self, place: Place) -> Option<String> {
        let top = self.top()?;
        let ages = self.drawn().iter().flat_map(Self::usable);
        let oldest = ages.map(|place| place.age).fold(0.0, f64::max);
        if oldest <= 0.0 {
            return None;
        }
        let per = Self::per(top);
        let frame = Frame::new(self.entries(), 60.0, place);
        let (plot, wanted) = (&frame.plot, frame.ticks);
        let (end, ticks) = round_axis(oldest, wanted);
        let (height, levels) = round_axis(top * per, 4.0);
        let across = Scale::linear((0.0, end), (plot.left, plot.right));
        let up = Scale::linear((0.0, height), (plot.bottom, plot.top));
        let unit = format!(
            "{} {}",
            figures::age(per),
            self.scale.after(&figures::age(per))
        );
        let heading = format!("Failures per {unit}");
        let mut drawing = frame.open(&heading);
        plot.draw_across(&mut drawing, &across, &ticks, &self.scale.axis_label());
        let words = tick_words(&levels);
        plot.draw_up(&mut drawing, &up, levels.iter().copied().zip(words));
        plot.open_window(&mut drawing);
        if let Some(line) = self.drawn().first() {
            for band in bands(line, per, &across, &up) {
                drawing.path("band", &band);
            }
        }
        for (number, line) in self.drawn().iter().enumerate() {
            let trace = Trace::through(Self::usable(line).map(|place| {
                (
                    across.place_freely(place.age),
                    up.place_freely(place.hazard * per),
                )
            }));
            drawing.path(&series_class(number + 1), &trace);
        }
        drawing.close_window();
        plot.draw_base(&mut drawing);
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}

impl HazardChart {
    fn entries(&self) -> Vec<(Mark, String)> {
        let mut entries: Vec<_> = self
            .drawn()
            .iter()
            .enumerate()
            .map(|(number, line)| (Mark::Series(number + 1), line.label.clone()))
            .collect();
        let banded = |line: &HazardLine| line.places.iter().any(|place| place.lower.is_some());
        if self.lines.first().is_some_and(banded) {
            let words = format!("{} limits", figures::level(self.level));
            entries.push((Mark::Band, words));
        }
        entries
    }
}

/// One closed outline for each run of ages that have both limits.
fn bands(line: &HazardLine, per: f64, across: &Scale, up: &Scale) -> Vec<Trace> {
    let limits = |place: &HazardPlace| Some((place.age, place.lower?, place.upper?));
    line.places
        .split(|place| limits(place).is_none())
        .map(|run| run.iter().filter_map(limits).collect::<Vec<_>>())
        .filter(|run| run.len() > 1)
        .map(|run| {
            let upper = run.iter().map(|(age, _, upper)| (*age, *upper));
            let lower = run.iter().rev().map(|(age, lower, _)| (*age, *lower));
            let mut trace =
                Trace::through(upper.chain(lower).map(|(age, hazard)| {
                    (across.place_freely(age), up.place_freely(hazard * per))
                }));
            trace.close();
            trace
        })
        .collect()
}
