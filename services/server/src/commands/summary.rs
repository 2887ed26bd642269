//! An analysis in plain text, for a person at a terminal.

use super::summary_causes::{write_incidence, write_modes};
use super::summary_figures::{
    age, chance, columns, counted, figure, limits, made, percent, share_limits, write_cautions,
};
use super::summary_regression::write_regression;
use crate::analyses::{Analysis, Lives};
use std::collections::BTreeMap;
use std::fmt::Write;
use wearbook_analysis::nonparametric::LimitKind;
use wearbook_analysis::report::{
    Comparison, CurvePointReport, Estimator, LimitsKind, ModelReport, Report, TestName,
};

/// More steps than this are thinned evenly; `--json` and the plots have all of them.
const MOST_STEPS: usize = 40;

/// The whole analysis in words and columns.
pub fn summary(analysis: &Analysis, lives: &Lives, level: f64) -> String {
    let mut text = String::new();
    if let Some(cause) = &analysis.cause {
        let _ = writeln!(
            text,
            "Failures of cause {cause} only; a failure of another cause ends its life unfailed.\n"
        );
    }
    write_report(&mut text, &analysis.report, level);
    write_covariates(&mut text, lives);
    if let Some(regression) = &analysis.regression {
        write_regression(&mut text, regression, level);
    }
    for group in analysis.groups.iter().flatten() {
        let _ = writeln!(text, "\nGroup {}\n", group.group);
        write_report(&mut text, &group.report, level);
    }
    if let Some(comparison) = &analysis.comparison {
        write_comparison(&mut text, comparison);
    }
    text
}

fn write_report(text: &mut String, report: &Report, level: f64) {
    write_sample(text, report);
    write_curve(text, report, level);
    write_models(text, report, level);
    if let Some(chosen) = &report.chosen {
        let _ = writeln!(
            text,
            "\nRead first: {}. {}",
            chosen.family.code(),
            chosen.why
        );
    }
    if let Some(incidence) = &report.incidence {
        write_incidence(text, incidence);
    }
    if let Some(modes) = &report.modes {
        write_modes(text, modes, level);
    }
    for warning in &report.warnings {
        let _ = writeln!(text, "caution: {}", warning.message);
    }
}

fn write_sample(text: &mut String, report: &Report) {
    let sample = &report.sample;
    let inexact = [
        (sample.interval_censored, "between two looks"),
        (sample.left_censored, "before the first look"),
    ];
    let inexact = inexact.into_iter().filter(|(count, _)| *count > 0);
    let inexact: Vec<String> = inexact
        .map(|(count, words)| format!("{count} {words}"))
        .collect();
    let _ = write!(
        text,
        "{}, {} failed",
        counted(sample.lives, "life", "lives"),
        sample.failures
    );
    if !inexact.is_empty() {
        let _ = write!(text, " ({})", inexact.join(", "));
    }
    let _ = write!(text, ", {} not seen to fail", sample.right_censored);
    if sample.delayed_entry > 0 {
        let count = sample.delayed_entry;
        let _ = write!(text, "; {count} watched from a later age on");
    }
    let _ = writeln!(
        text,
        ".\nUsage watched {}, longest {}. Digest of the lives {}.",
        age(sample.total_usage),
        age(sample.longest_usage),
        sample.digest.get(..12).unwrap_or(&sample.digest)
    );
    let named = report.causes.iter().filter_map(|cause| {
        let name = cause.cause.as_deref()?;
        Some(format!("{name} ({})", cause.failures))
    });
    let named: Vec<String> = named.collect();
    if !named.is_empty() {
        let _ = writeln!(text, "Failures by cause: {}.", named.join(", "));
    }
}

fn write_curve(text: &mut String, report: &Report, level: f64) {
    let curve = &report.survival_curve;
    let steps: Vec<&CurvePointReport> = curve
        .points
        .iter()
        .filter(|point| point.failed != Some(0))
        .collect();
    if steps.is_empty() {
        return;
    }
    let name = match curve.estimator {
        Estimator::KaplanMeier => {
            let scale = match curve.limits.kind {
                LimitKind::LogLog => "log-log",
                LimitKind::Log => "log",
                LimitKind::Plain => "plain",
            };
            format!("product-limit estimate, {} {scale} limits", percent(level))
        }
        Estimator::Turnbull => "interval estimate, no limits".to_owned(),
    };
    let _ = writeln!(text, "\nSurvival without a model ({name})\n");
    let count =
        |value: Option<u64>| value.map_or_else(|| "-".to_owned(), |value| value.to_string());
    let stride = steps.len().div_ceil(MOST_STEPS).max(1);
    let mut rows = vec![
        ["age", "at risk", "failed", "surviving", "limits"]
            .map(str::to_owned)
            .to_vec(),
    ];
    rows.extend(steps.iter().step_by(stride).map(|point| {
        vec![
            age(point.time),
            count(point.at_risk),
            count(point.failed),
            format!("{:.3}", point.survival),
            share_limits(point.lower, point.upper),
        ]
    }));
    text.push_str(&columns(&rows));
    if stride > 1 {
        let _ = writeln!(
            text,
            "\nOne in {stride} of {} steps is shown; --json has all.",
            steps.len()
        );
    }
    write_median(text, report);
}

/// The age by which half have failed, or why there is none.
fn write_median(text: &mut String, report: &Report) {
    let median = report.survival_curve.median;
    let line = match (median.value, median.lower.or(median.upper)) {
        (Some(value), Some(_)) => format!(
            "Half have failed by {} ({}).",
            age(value),
            limits(median.lower, median.upper)
        ),
        (Some(value), None) => format!("Half have failed by {}.", age(value)),
        (None, Some(_)) => format!(
            "Half have not failed by the longest age seen; the age by which half fail is {}.",
            limits(median.lower, median.upper)
        ),
        (None, None) => "Half have not failed by the longest age seen.".to_owned(),
    };
    let _ = writeln!(text, "\n{line}");
}

fn write_models(text: &mut String, report: &Report, level: f64) {
    if report.models.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "\nModels ({} limits{})\n",
        percent(level),
        made(report.models.iter().flat_map(kinds))
    );
    let mut rows = Vec::new();
    for model in &report.models {
        for (place, (name, parameter)) in model.parameters.iter().flatten().enumerate() {
            let family = if place == 0 { model.family.code() } else { "" };
            let error = parameter.std_error;
            rows.push(vec![
                family.to_owned(),
                name.clone(),
                figure(Some(parameter.value)),
                limits(parameter.lower, parameter.upper),
                error.map_or_else(String::new, |error| {
                    format!("standard error {}", figure(Some(error)))
                }),
            ]);
        }
    }
    text.push_str(&columns(&rows));
    write_fits(text, &report.models);
    write_ages(text, &report.models);
    if report.models.iter().any(|model| !model.warnings.is_empty()) {
        text.push('\n');
    }
    for model in &report.models {
        write_cautions(text, model.family.code(), &model.warnings);
    }
}

/// How the limits of a model that has some were made.
fn kinds(model: &ModelReport) -> impl Iterator<Item = LimitsKind> {
    let parameters = model.parameters.iter().flat_map(BTreeMap::values);
    let parameters = parameters.map(|one| (one.lower.or(one.upper), one.kind));
    let ages = model.quantiles.iter();
    let ages = ages.map(|one| (one.lower.or(one.upper), one.kind));
    parameters
        .chain(ages)
        .filter_map(|(limit, kind)| limit.map(|_| kind))
}

/// How well each family fits.
fn write_fits(text: &mut String, models: &[ModelReport]) {
    let fitted: Vec<_> = models
        .iter()
        .filter(|model| model.log_likelihood.is_some())
        .collect();
    if fitted.is_empty() {
        return;
    }
    let heads = [
        "how well",
        "log-likelihood",
        "AICc",
        "BIC",
        "plot correlation",
    ];
    let mut rows = vec![heads.map(str::to_owned).to_vec()];
    for model in fitted {
        let two = |value: Option<f64>| {
            value.map_or_else(|| "-".to_owned(), |value| format!("{value:.2}"))
        };
        let correlation = model.goodness.as_ref().and_then(|one| one.plot_correlation);
        rows.push(vec![
            model.family.code().to_owned(),
            two(model.log_likelihood),
            two(model.aicc),
            two(model.bic),
            correlation.map_or_else(|| "-".to_owned(), |value| format!("{value:.4}")),
        ]);
    }
    text.push('\n');
    text.push_str(&columns(&rows));
}

/// The age by which stated shares have failed, a line for each family and share.
fn write_ages(text: &mut String, models: &[ModelReport]) {
    let mut rows = Vec::new();
    for model in models {
        for (place, quantile) in model.quantiles.iter().enumerate() {
            let family = if place == 0 { model.family.code() } else { "" };
            rows.push(vec![
                family.to_owned(),
                age(quantile.p * 100.0),
                figure(quantile.value),
                limits(quantile.lower, quantile.upper),
            ]);
        }
    }
    if rows.is_empty() {
        return;
    }
    let heads = ["", "failed, in 100", "by age", "limits"];
    rows.insert(0, heads.map(str::to_owned).to_vec());
    text.push('\n');
    text.push_str(&columns(&rows));
}

fn write_covariates(text: &mut String, lives: &Lives) {
    if lives.covariates().is_empty() {
        return;
    }
    let mut rows = vec![
        ["covariate", "least", "mean", "most"]
            .map(str::to_owned)
            .to_vec(),
    ];
    for (place, name) in lives.covariates().iter().enumerate() {
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        let (mut sum, mut weight) = (0.0, 0.0);
        for row in lives.rows() {
            let Some(value) = row.covariates.get(place) else {
                continue;
            };
            #[expect(clippy::cast_precision_loss, reason = "a mean for the eye")]
            let count = row.observation.count as f64;
            least = least.min(*value);
            most = most.max(*value);
            sum += value * count;
            weight += count;
        }
        if weight > 0.0 {
            rows.push(vec![
                name.clone(),
                age(least),
                figure(Some(sum / weight)),
                age(most),
            ]);
        }
    }
    text.push('\n');
    text.push_str(&columns(&rows));
}

fn write_comparison(text: &mut String, comparison: &Comparison) {
    let _ = writeln!(text, "\nDo the groups live alike?\n");
    for test in &comparison.tests {
        let mut rows = vec![
            ["group", "failed", "expected if alike"]
                .map(str::to_owned)
                .to_vec(),
        ];
        rows.extend(test.groups.iter().map(|group| {
            vec![
                group.group.clone(),
                age(group.observed),
                figure(Some(group.expected)),
            ]
        }));
        text.push_str(&columns(&rows));
        let name = match (test.test, &test.cause) {
            (TestName::LogRank, _) => "Log-rank test".to_owned(),
            (TestName::Gray, Some(cause)) => format!("Gray's test of cause {cause}"),
            (TestName::Gray, None) => "Gray's test of failures without a cause".to_owned(),
        };
        let _ = writeln!(
            text,
            "\n{name}: chi-square {}, {}, p {}.\n",
            figure(Some(test.chi_square)),
            counted(
                u64::from(test.degrees_of_freedom),
                "degree of freedom",
                "degrees of freedom"
            ),
            chance(test.p_value)
        );
    }
    if !comparison.tests.is_empty() {
        let _ = writeln!(
            text,
            "p is the chance of a difference at least this large if all groups lived alike."
        );
    }
    for warning in &comparison.warnings {
        let _ = writeln!(text, "caution: {}", warning.message);
    }
}
