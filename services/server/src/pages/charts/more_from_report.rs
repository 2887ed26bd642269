//! Charts of the hazard, of causes and of recurring events, from an analysis.

use wearbook_analysis::fitting::{LifeDistribution, fit};
use wearbook_analysis::intervals::{Level, Quantity, limits};
use wearbook_analysis::report::{ModelReport, Options, RecurrenceReport, Report};
use wearbook_analysis::sample::Sample;

use super::{
    HazardChart, HazardLine, HazardPlace, IncidenceChart, MeanCumulativeChart, ModeCurve, Overlay,
    StepPoint, family_name,
};
use crate::pages::Shown;
use crate::pages::figures::ScaleWords;

/// Places at which a fitted curve is drawn.
const PLACES: u32 = 96;

fn life_of(model: &ModelReport) -> Option<LifeDistribution> {
    let parameters = model.parameters.as_ref()?;
    let values = model
        .family
        .parameter_names()
        .iter()
        .map(|name| parameters.get(*name).map(|parameter| parameter.value))
        .collect::<Option<Vec<_>>>()?;
    LifeDistribution::new(model.family, &values).ok()
}

fn ages(longest: f64) -> impl Iterator<Item = f64> {
    (1..=PLACES).map(move |number| longest * f64::from(number) / f64::from(PLACES))
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
            lines: vec![HazardLine {
                label: format!("{} fit", family_name(model.family)),
                places,
            }],
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
            let limited = |line: &HazardLine| line.places.iter().any(|place| place.lower.is_some());
            let ages = if self.lines.iter().any(limited) {
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
        let places = self.lines.first_mut().map(|line| &mut line.places);
        for place in places.into_iter().flatten() {
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
        let mut modes: Vec<_> = incidence
            .causes
            .iter()
            .map(|curve| ModeCurve {
                mode: curve.cause.clone().unwrap_or_else(|| "no cause".to_owned()),
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
        modes.sort_by(|a, b| b.failures.cmp(&a.failures).then(a.mode.cmp(&b.mode)));
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            level: incidence.limits.level,
            modes,
            lives: report.sample.lives,
            longest: report.sample.longest_usage,
        })
    }
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
            logarithmic: false,
        })
    }
}
