//! Charts from an analysis.

use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::LifeDistribution;
use wearbook_analysis::report::{
    Comparison, CurvePointReport, Estimator, GroupTest, ModelReport, Report, TestName,
};
use wearbook_analysis::sample::Sample;

use super::{
    AtRisk, CurvePoint, FittedLine, GroupCurve, GroupsChart, Overlay, Paper, PlotPoint,
    ProbabilityChart, QuantileBand, SurvivalChart,
};
use crate::pages::Shown;
use crate::pages::figures::{self, Estimate, ScaleWords};

/// Places at which a fitted curve is drawn.
const PLACES: u32 = 96;

/// The family's name in a sentence.
#[must_use]
pub fn family_name(family: Family) -> &'static str {
    match family {
        Family::Exponential => "exponential",
        Family::Weibull => "Weibull",
        Family::Lognormal => "lognormal",
        Family::Loglogistic => "loglogistic",
        Family::Gamma => "gamma",
        Family::GeneralisedGamma => "generalised gamma",
        Family::ThresholdWeibull => "three-parameter Weibull",
    }
}

/// The fitted distribution of a model; `None` if it was not fitted.
pub(super) fn life_of(model: &ModelReport) -> Option<LifeDistribution> {
    let parameters = model.parameters.as_ref()?;
    let values = model
        .family
        .parameter_names()
        .iter()
        .map(|name| parameters.get(*name).map(|parameter| parameter.value))
        .collect::<Option<Vec<_>>>()?;
    LifeDistribution::new(model.family, &values).ok()
}

/// Ages in equal steps from above zero to the longest.
pub(super) fn ages(longest: f64) -> impl Iterator<Item = f64> {
    (1..=PLACES).map(move |number| longest * f64::from(number) / f64::from(PLACES))
}

/// Share still working at `age` by a fitted model; `None` if the model was not fitted.
#[must_use]
pub fn model_survival(model: &ModelReport, age: f64) -> Option<f64> {
    let life = life_of(model)?;
    if age <= 0.0 {
        return Some(1.0);
    }
    let share = life.survival(age);
    share.is_finite().then_some(share)
}

/// The age by which 10 in 100 have failed by the chosen model, with its limits.
#[must_use]
pub fn decile(report: &Report) -> Option<Estimate> {
    let model = report.model(report.chosen.as_ref()?.family)?;
    let quantile = model.quantiles.iter().find(|q| (q.p - 0.1).abs() < 1e-9)?;
    Some(Estimate {
        value: quantile.value?,
        lower: quantile.lower,
        upper: quantile.upper,
    })
}

impl SurvivalChart {
    /// The survival curve of an analysis with its chosen model laid over it, without a renewal.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no curve worth drawing.
    pub fn from_report(report: &Report, id: &str, subject: &str, scale: ScaleWords) -> Shown<Self> {
        let sample = &report.sample;
        if sample.lives == 0 {
            return Err("no lives have been recorded yet.".to_owned());
        }
        if sample.failures == 0 {
            return Err(format!(
                "nothing has failed yet in {}, so the curve would be a flat line.",
                crate::pages::figures::counted(sample.lives, "piece", "pieces")
            ));
        }
        let curve = &report.survival_curve;
        if curve.points.is_empty() {
            return Err("the survival could not be estimated from these lives.".to_owned());
        }
        let estimator = match curve.estimator {
            Estimator::KaplanMeier => "product-limit estimate",
            Estimator::Turnbull => "interval estimate",
        };
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            level: curve.limits.level,
            estimator: estimator.to_owned(),
            points: curve.points.iter().map(CurvePoint::from).collect(),
            lives: sample.lives,
            failures: sample.failures,
            longest: sample.longest_usage,
            overlay: overlay(report),
            decile: decile(report),
            renew_by: None,
            at_risk: AtRisk::of_report(report),
        })
    }

    /// The same with those at risk counted from the lives behind the report.
    #[must_use]
    pub fn counted_from(self, sample: Sample) -> Self {
        Self {
            at_risk: AtRisk::Lives(sample),
            ..self
        }
    }
}

impl From<&CurvePointReport> for CurvePoint {
    fn from(point: &CurvePointReport) -> Self {
        Self {
            time: point.time,
            at_risk: point.at_risk,
            failed: point.failed,
            censored: point.censored,
            survival: point.survival,
            lower: point.lower,
            upper: point.upper,
        }
    }
}

fn overlay(report: &Report) -> Option<Overlay> {
    let model = report.model(report.chosen.as_ref()?.family)?;
    let places = (0..=PLACES)
        .map(|number| report.sample.longest_usage * f64::from(number) / f64::from(PLACES))
        .map(|age| Some((age, model_survival(model, age)?)))
        .collect::<Option<Vec<_>>>()?;
    Some(Overlay {
        label: format!("{} fit", family_name(model.family)),
        places,
    })
}

impl GroupsChart {
    /// The survival curves of groups that were analysed apart, each with that from which those at risk are counted, and
    /// with what a comparison says of them.
    #[must_use]
    pub fn of_groups<'a>(
        groups: impl Iterator<Item = (&'a str, &'a Report, AtRisk)>,
        comparison: Option<&Comparison>,
        subject: &str,
        scale: ScaleWords,
    ) -> Self {
        let sentence = |test: &GroupTest| {
            let chance = if test.p_value < 0.0001 {
                "below 0.0001".to_owned()
            } else {
                figures::estimate(test.p_value)
            };
            format!(
                "Log-rank test: chi-square {}, p {chance}; p is the chance of a difference at least this large if all groups lived alike.",
                figures::estimate(test.chi_square)
            )
        };
        Self {
            id: "survival-by-group".to_owned(),
            subject: subject.to_owned(),
            scale,
            groups: groups
                .map(|(group, report, at_risk)| GroupCurve {
                    group: group.to_owned(),
                    points: report
                        .survival_curve
                        .points
                        .iter()
                        .map(CurvePoint::from)
                        .collect(),
                    lives: report.sample.lives,
                    failures: report.sample.failures,
                    longest: report.sample.longest_usage,
                    at_risk,
                })
                .collect(),
            comparison: comparison
                .and_then(|found| {
                    let log_rank = |test: &&GroupTest| test.test == TestName::LogRank;
                    found.tests.iter().find(log_rank)
                })
                .map(sentence),
        }
    }
}

impl ProbabilityChart {
    /// The Weibull probability plot of an analysis.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no plot worth drawing.
    pub fn from_report(report: &Report, id: &str, subject: &str, scale: ScaleWords) -> Shown<Self> {
        Self::of_family(report, Family::Weibull, id, subject, scale)
    }

    /// The probability plot of an analysis on a family's own paper.
    ///
    /// # Errors
    /// The reason, in words for a reader, why there is no plot worth drawing.
    pub fn of_family(
        report: &Report,
        family: Family,
        id: &str,
        subject: &str,
        scale: ScaleWords,
    ) -> Shown<Self> {
        let model = report
            .model(family)
            .filter(|model| model.parameters.is_some())
            .ok_or_else(|| {
                let name = family_name(family);
                format!("no {name} distribution could be fitted to these lives.")
            })?;
        let points: Vec<_> = model
            .goodness
            .iter()
            .flat_map(|goodness| &goodness.plot)
            .map(|point| PlotPoint {
                age: point.time,
                failed: point.failed,
            })
            .collect();
        if points.is_empty() {
            return Err(
                "it needs failures at known ages in pieces that were all watched from new."
                    .to_owned(),
            );
        }
        let level = model.quantiles.first().map(|quantile| quantile.level);
        Ok(Self {
            id: id.to_owned(),
            subject: subject.to_owned(),
            scale,
            paper: Paper::of(family),
            level: level.unwrap_or(report.survival_curve.limits.level),
            line: fitted_line(model, &points),
            points,
            band: model
                .quantiles
                .iter()
                .filter_map(|quantile| {
                    Some(QuantileBand {
                        failed: quantile.p,
                        lower: quantile.lower?,
                        upper: quantile.upper?,
                    })
                })
                .collect(),
            lives: report.sample.lives,
            failures: report.sample.failures,
        })
    }
}

/// The fit at ages from well before the first failure to well after the last, in equal ratios.
fn fitted_line(model: &ModelReport, points: &[PlotPoint]) -> Option<FittedLine> {
    let (first, last) = (points.first()?.age, points.last()?.age);
    let median = model.quantiles.iter().find(|quantile| quantile.p >= 0.5);
    let median = median.and_then(|quantile| quantile.value).unwrap_or(last);
    let (from, to) = (first.min(median) / 10.0, last.max(median) * 10.0);
    let places = (0..=PLACES)
        .map(|number| from * (to / from).powf(f64::from(number) / f64::from(PLACES)))
        .map(|age| Some((age, 1.0 - model_survival(model, age)?)))
        .collect::<Option<Vec<_>>>()?;
    let words = model.parameter_order.iter().filter_map(|name| {
        let parameter = model.parameters.as_ref()?.get(name)?;
        Some(format!("{name} {}", figures::estimate(parameter.value)))
    });
    Some(FittedLine {
        family: family_name(model.family).to_owned(),
        parameters: words.collect::<Vec<_>>().join(", "),
        places,
    })
}
