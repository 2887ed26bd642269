//! The hazard: how fast those still working fail at each age.

use super::axis::{Scale, round_axis};
use super::chart::{Chart, ChartTable, Frame, sample_words};
use super::drawing::{Place, Trace};
use super::from_report::{ages, family_name, life_of};
use super::key::{Mark, series_class};
use super::rows::{Written, every};
use super::ticks::tick_words;
use crate::pages::Shown;
use crate::pages::figures::{self, ScaleWords};
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::{Level, Quantity, limits};
use wearbook_analysis::report::{Options, Report};
use wearbook_analysis::sample::Sample;

/// Hazards within this ratio are alike to the eye.
const ALIKE: f64 = 1.05;

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
    /// The model in words for the key, such as "Weibull fit".
    pub model: String,
    /// By rising age.
    pub places: Vec<HazardPlace>,
    /// Pieces in the sample.
    pub lives: u64,
    /// Failures in the sample.
    pub failures: u64,
    /// Why there is no band, or none at some ages, as a sentence.
    pub no_limits: Option<String>,
}

impl HazardChart {
    /// The hazard of the chosen model of an analysis, up to the longest age seen.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no chart worth drawing.
    pub fn from_report(report: &Report, id: &str, subject: &str, scale: ScaleWords) -> Shown<Self> {
        let chosen = report.chosen.as_ref();
        let life = chosen
            .and_then(|chosen| report.model(chosen.family))
            .and_then(|model| Some((model, life_of(model)?)));
        let Some((model, life)) = life else {
            return Err("no model could be fitted to these lives.".to_owned());
        };
        let places: Vec<_> = ages(report.sample.longest_usage)
            .filter_map(|age| {
                Some(HazardPlace {
                    age,
                    hazard: life.hazard(age).filter(|hazard| hazard.is_finite())?,
                    lower: None,
                    upper: None,
                })
            })
            .collect();
        if places.is_empty() {
            return Err("the hazard leaves the range of numbers.".to_owned());
        }
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            level: report.survival_curve.limits.level,
            model: format!("{} fit", family_name(model.family)),
            places,
            lives: report.sample.lives,
            failures: report.sample.failures,
            no_limits: Some("Limits are left out: they need the lives themselves.".to_owned()),
        })
    }

    /// The same with the limits of the usual method, from the lives behind the report. Where there are none, the chart
    /// says why.
    #[must_use]
    pub fn with_limits(mut self, report: &Report, sample: &Sample, level: Level) -> Self {
        self.level = level.level();
        self.no_limits = self.limit(report, sample, level).err().map(|why| {
            let ages = if self.places.iter().any(|place| place.lower.is_some()) {
                " at some ages"
            } else {
                ""
            };
            format!("Limits are left out{ages}: {why}.")
        });
        self
    }

    /// Fails with the last reason met, after all ages were tried.
    fn limit(&mut self, report: &Report, sample: &Sample, level: Level) -> Result<(), String> {
        let no_model = || "no model could be fitted to these lives".to_owned();
        let chosen = report.chosen.as_ref().ok_or_else(no_model)?;
        let fitted = fit(sample, chosen.family).map_err(|error| error.to_string())?;
        let method = Options::default().method;
        let mut outcome = Ok(());
        for place in &mut self.places {
            match limits(sample, &fitted, Quantity::Hazard(place.age), level, method) {
                Ok(found) if found.lower.is_some() && found.upper.is_some() => {
                    (place.lower, place.upper) = (found.lower, found.upper);
                }
                Ok(_) => outcome = Err("these data do not bound it".to_owned()),
                Err(error) => outcome = Err(error.to_string()),
            }
        }
        outcome
    }
}

impl HazardChart {
    fn usable(&self) -> impl Iterator<Item = &HazardPlace> {
        self.places.iter().filter(|place| {
            place.age.is_finite() && place.hazard.is_finite() && place.hazard >= 0.0
        })
    }

    /// The highest hazard to show. A curve that shoots up at either end is cut where the rest can still be read.
    fn top(&self) -> Option<f64> {
        let mut all: Vec<f64> = self.usable().map(|place| place.hazard).collect();
        all.sort_by(f64::total_cmp);
        let middle = *all.get(all.len() / 2)?;
        let most = self
            .usable()
            .filter_map(|place| place.upper.filter(|upper| upper.is_finite()))
            .fold(*all.last()?, f64::max);
        let top = if middle > 0.0 {
            most.min(6.0 * middle)
        } else {
            most
        };
        (top > 0.0).then_some(top)
    }

    /// Which way the whole curve goes, in words; none where there is no curve.
    fn course(&self) -> Option<&'static str> {
        let first = self.usable().next()?.hazard;
        let last = self.usable().last()?.hazard;
        let hazards = || self.usable().map(|place| place.hazard);
        let (peak, valley) = (
            hazards().fold(f64::NEG_INFINITY, f64::max),
            hazards().fold(f64::INFINITY, f64::min),
        );
        let above = |one: f64, other: f64| one > other * ALIKE;
        if !above(peak, valley) {
            return Some("stays about level");
        }
        let hill = above(peak, first) && above(peak, last);
        let hollow = above(first, valley) && above(last, valley);
        Some(match (hill, hollow) {
            (true, false) => "rises, then falls",
            (false, true) => "falls, then rises",
            (true, true) => "rises and falls more than once",
            (false, false) if last > first => "rises",
            (false, false) => "falls",
        })
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
        let mut words = format!("How fast those still working fail at each age, from {sample}.");
        if let Some(course) = self.course() {
            words.push_str(&format!(" Over the ages shown it {course}."));
        }
        if let Some(why) = &self.no_limits {
            words.push(' ');
            words.push_str(why);
        }
        words
    }

    fn table(&self) -> ChartTable {
        let heads = [
            "Model".to_owned(),
            self.scale.axis_label(),
            format!("Failures per {} still working", self.scale.unit_of_one),
            "Lower limit".to_owned(),
            "Upper limit".to_owned(),
        ];
        let rows = every(&self.places).map(|place| {
            vec![
                Written::words(&self.model),
                Written::of(Some(place.age), figures::age),
                Written::of(Some(place.hazard), figures::estimate),
                Written::of(place.lower, figures::estimate),
                Written::of(place.upper, figures::estimate),
            ]
        });
        ChartTable {
            heads: heads.to_vec(),
            rows: rows.collect(),
        }
    }

    fn draw(&self, place: Place) -> Option<String> {
        let top = self.top()?;
        let ages = self.usable().map(|place| place.age);
        let oldest = ages.fold(0.0, f64::max);
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
        for band in bands(&self.places, per, &across, &up) {
            drawing.path("band", &band);
        }
        let trace = Trace::through(self.usable().map(|place| {
            (
                across.place_freely(place.age),
                up.place_freely(place.hazard * per),
            )
        }));
        drawing.path(&series_class(1), &trace);
        drawing.close_window();
        plot.draw_base(&mut drawing);
        Some(frame.close(drawing, 48.0, &self.id, &self.title(), &self.reading()))
    }
}

impl HazardChart {
    fn entries(&self) -> Vec<(Mark, String)> {
        let mut entries = vec![(Mark::Series(1), self.model.clone())];
        if self.places.iter().any(|place| place.lower.is_some()) {
            let words = format!("{} limits", figures::level(self.level));
            entries.push((Mark::Band, words));
        }
        entries
    }
}

/// One closed outline for each run of ages that have both limits.
fn bands(places: &[HazardPlace], per: f64, across: &Scale, up: &Scale) -> Vec<Trace> {
    let limits = |place: &HazardPlace| Some((place.age, place.lower?, place.upper?));
    places
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
