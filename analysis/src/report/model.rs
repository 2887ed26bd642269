//! One family's entry in a report.

use std::collections::BTreeMap;

use super::analyse::Options;
use super::{ModelReport, ParameterReport, QuantileLimits, QuantileReport};
use crate::families::Family;
use crate::fitting::{Fit, fit};
use crate::goodness::goodness;
use crate::intervals::{Limits, LimitsError, likelihood_ratio};
use crate::sample::Sample;
use crate::warning::{Warning, WarningCode};

pub(super) fn model(sample: &Sample, family: Family, options: &Options) -> ModelReport {
    let mut report = ModelReport {
        family,
        parameters: None,
        parameter_order: family
            .parameter_names()
            .iter()
            .map(|name| (*name).to_owned())
            .collect(),
        log_likelihood: None,
        aic: None,
        aicc: None,
        bic: None,
        covariance: None,
        quantiles: Vec::new(),
        goodness: None,
        mean_life: None,
        warnings: Vec::new(),
    };
    match fit(sample, family) {
        Ok(fitted) => describe(sample, &fitted, options, &mut report),
        Err(error) => report.warnings.push(error.warning()),
    }
    report
}

fn describe(sample: &Sample, fitted: &Fit, options: &Options, report: &mut ModelReport) {
    report.log_likelihood = Some(fitted.log_likelihood);
    report.aic = Some(fitted.aic);
    report.aicc = fitted.aicc;
    report.bic = Some(fitted.bic);
    report.covariance = fitted.covariance.clone();
    if fitted.covariance.is_none() {
        report.warnings.push(Warning::new(
            WarningCode::NoCovariance,
            "The likelihood is too flat at its top for a covariance.",
        ));
    }
    report.warnings.extend(fitted.warnings.iter().cloned());
    report.mean_life = fitted.mean();
    report.goodness = Some(goodness(sample, fitted));
    let mut parameters = BTreeMap::new();
    let extra = if fitted.family == Family::Exponential {
        &["rate"][..]
    } else {
        &[]
    };
    for name in fitted.family.parameter_names().iter().chain(extra) {
        let Some(value) = fitted.parameter(name) else {
            continue;
        };
        let limits = likelihood_ratio::parameter_limits(sample, fitted, name, options.level);
        let (lower, upper) = keep(limits, name, &mut report.warnings);
        parameters.insert(
            (*name).to_owned(),
            ParameterReport {
                value,
                std_error: std_error(fitted, name, value),
                lower,
                upper,
            },
        );
    }
    report.parameters = Some(parameters);
    report.quantiles = options
        .shares
        .iter()
        .map(|p| quantile(sample, fitted, *p, options, &mut report.warnings))
        .collect();
}

fn quantile(
    sample: &Sample,
    fitted: &Fit,
    p: f64,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> QuantileReport {
    let value = fitted.quantile(p);
    let limits = likelihood_ratio::quantile_limits(sample, fitted, p, options.level);
    let (lower, upper) = keep(
        limits,
        &format!("usage by which a share {p} has failed"),
        warnings,
    );
    let longest = sample.longest_usage();
    if value.is_some_and(|value| value > longest) {
        warnings.push(Warning::new(
            WarningCode::Extrapolation,
            format!("The usage by which a share {p} has failed lies beyond the longest usage seen, {longest}."),
        ));
    }
    QuantileReport {
        p,
        value,
        lower,
        upper,
        kind: QuantileLimits::LikelihoodRatio,
        level: options.level.level(),
    }
}

/// Takes the limits, and passes their cautions on with the name of what they limit.
fn keep(
    limits: Result<Limits, LimitsError>,
    what: &str,
    warnings: &mut Vec<Warning>,
) -> (Option<f64>, Option<f64>) {
    match limits {
        Ok(limits) => {
            warnings.extend(
                limits.warnings.into_iter().map(|warning| {
                    Warning::new(warning.code, format!("{what}: {}", warning.message))
                }),
            );
            (limits.lower, limits.upper)
        }
        Err(error) => {
            warnings.push(Warning::new(
                WarningCode::LimitFailed,
                format!("{what}: {error}"),
            ));
            (None, None)
        }
    }
}

fn std_error(fitted: &Fit, name: &str, value: f64) -> Option<f64> {
    let known = if name == "rate" { "mean" } else { name };
    let place = fitted
        .family
        .parameter_names()
        .iter()
        .position(|other| *other == known)?;
    let variance = *fitted.covariance.as_ref()?.get(place)?.get(place)?;
    let error = variance.sqrt();
    // The rate is the reciprocal of the mean: equal relative errors.
    Some(if name == "rate" {
        error * value * value
    } else {
        error
    })
    .filter(|error| error.is_finite())
}
