//! An analysis in plain text, for a person at a terminal.

use std::fmt::Write;
use wearbook_analysis::report::{Estimate, ModelReport, Report};

fn figure(value: Option<f64>) -> String {
    match value {
        None => "-".to_owned(),
        Some(value) if value == 0.0 || (1e-3..1e7).contains(&value.abs()) => {
            let digits = (5.0 - value.abs().max(1e-12).log10().floor()).clamp(0.0, 6.0);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "between 0 and 6"
            )]
            let digits = digits as usize;
            format!("{value:.digits$}")
        }
        Some(value) => format!("{value:.4e}"),
    }
}

fn limits(lower: Option<f64>, upper: Option<f64>) -> String {
    if lower.is_none() && upper.is_none() {
        String::new()
    } else {
        format!("({} to {})", figure(lower), figure(upper))
    }
}

/// The report in words and columns.
pub fn summary(report: &Report, level: f64) -> String {
    let mut text = String::new();
    let percent = level * 100.0;
    write_sample(&mut text, report);
    let Estimate {
        value,
        lower,
        upper,
    } = report.survival_curve.median;
    let _ = writeln!(
        text,
        "\nhalf have failed by {} {}",
        figure(value),
        limits(lower, upper)
    );
    let _ = writeln!(text, "\nsurvival without a model, {percent} % limits");
    let _ = writeln!(
        text,
        "{:>12} {:>8} {:>7} {:>9} {:>19}",
        "age", "at risk", "failed", "survival", "limits"
    );
    for point in report
        .survival_curve
        .points
        .iter()
        .filter(|point| point.failed != Some(0))
    {
        let count =
            |value: Option<u64>| value.map_or_else(|| "-".to_owned(), |value| value.to_string());
        let _ = writeln!(
            text,
            "{:>12} {:>8} {:>7} {:>9.4} {:>19}",
            figure(Some(point.time)),
            count(point.at_risk),
            count(point.failed),
            point.survival,
            limits(point.lower, point.upper)
        );
    }
    for model in &report.models {
        write_model(&mut text, model, percent);
    }
    if let Some(chosen) = &report.chosen {
        let _ = writeln!(
            text,
            "\nread first: {}. {}",
            chosen.family.code(),
            chosen.why
        );
    }
    for warning in &report.warnings {
        let _ = writeln!(text, "caution: {}", warning.message);
    }
    text
}

fn write_sample(text: &mut String, report: &Report) {
    let sample = &report.sample;
    let _ = writeln!(
        text,
        "{} lives: {} failed ({} of them within an interval, {} before the first look), {} right-censored, {} entered late",
        sample.lives,
        sample.failures,
        sample.interval_censored,
        sample.left_censored,
        sample.right_censored,
        sample.delayed_entry
    );
    let _ = writeln!(
        text,
        "total usage {}, longest {}, digest {}",
        figure(Some(sample.total_usage)),
        figure(Some(sample.longest_usage)),
        sample.digest.get(..12).unwrap_or(&sample.digest)
    );
    for cause in report.causes.iter().filter(|cause| cause.cause.is_some()) {
        let _ = writeln!(
            text,
            "  cause {}: {}",
            cause.cause.as_deref().unwrap_or_default(),
            cause.failures
        );
    }
}

fn write_model(text: &mut String, model: &ModelReport, percent: f64) {
    let _ = writeln!(text, "\n{}", model.family.code());
    match &model.parameters {
        None => {}
        Some(parameters) => {
            for (name, parameter) in parameters {
                let _ = writeln!(
                    text,
                    "  {name:<10} {:>12}  se {:>12}  {}",
                    figure(Some(parameter.value)),
                    figure(parameter.std_error),
                    limits(parameter.lower, parameter.upper)
                );
            }
            let _ = writeln!(
                text,
                "  log-likelihood {}, AICc {}",
                figure(model.log_likelihood),
                figure(model.aicc)
            );
            for quantile in &model.quantiles {
                let _ = writeln!(
                    text,
                    "  age by which {:>4} in 100 have failed {:>12}  {} % limits {}",
                    quantile.p * 100.0,
                    figure(quantile.value),
                    percent,
                    limits(quantile.lower, quantile.upper)
                );
            }
        }
    }
    for warning in &model.warnings {
        let _ = writeln!(text, "  caution: {}", warning.message);
    }
}
