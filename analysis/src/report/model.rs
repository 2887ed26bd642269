//! One family's entry in a report.

use std::collections::BTreeMap;

use super::analyse::Options;
use super::{LimitsKind, ModelReport, ParameterReport, QuantileReport};
use crate::families::Family;
use crate::fitting::{Fit, fit};
use crate::goodness::goodness;
use crate::intervals::{Level, LimitsError, Method, Quantity, limits};
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
        let asked = Asked {
            quantity: Quantity::Parameter(name),
            what: format!("Parameter {name}"),
        };
        let (lower, upper, kind) = asked.limits(sample, fitted, options, &mut report.warnings);
        parameters.insert(
            (*name).to_owned(),
            ParameterReport {
                value,
                std_error: std_error(fitted, name, value),
                lower,
                upper,
                kind,
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

/// Usages by which the shares of `options` have failed, by one family on its own; empty where it has no fit.
#[must_use]
pub fn quantiles(sample: &Sample, family: Family, options: &Options) -> Vec<QuantileReport> {
    // A drawing has no place for cautions; a limit that does not exist is none.
    let mut warnings = Vec::new();
    fit(sample, family).map_or_else(
        |_| Vec::new(),
        |fitted| {
            let shares = options.shares.iter();
            shares
                .map(|p| quantile(sample, &fitted, *p, options, &mut warnings))
                .collect()
        },
    )
}

fn quantile(
    sample: &Sample,
    fitted: &Fit,
    p: f64,
    options: &Options,
    warnings: &mut Vec<Warning>,
) -> QuantileReport {
    let value = fitted.quantile(p);
    let asked = Asked {
        quantity: Quantity::Quantile(p),
        what: format!("The age by which {} in 100 have failed", in_100(p)),
    };
    let (lower, upper, kind) = asked.limits(sample, fitted, options, warnings);
    QuantileReport {
        p,
        value,
        lower,
        upper,
        kind,
        level: options.level.level(),
    }
}

/// A share as so many in 100, without the digits that the product adds.
fn in_100(share: f64) -> f64 {
    (share * 1e10).round() / 1e8
}

/// A sentence to go on another's words: "The upper" becomes "the upper".
fn in_sentence(message: &str) -> String {
    let mut letters = message.chars();
    letters
        .next()
        .into_iter()
        .flat_map(char::to_lowercase)
        .chain(letters)
        .collect()
}

/// A quantity with its name in words that begin a sentence.
struct Asked {
    quantity: Quantity,
    what: String,
}

impl Asked {
    /// The limits, and how they were made. Cautions are passed on with the name of what they limit. Where the method
    /// asked for fails, the likelihood ratio is tried, and that is said.
    fn limits(
        &self,
        sample: &Sample,
        fitted: &Fit,
        options: &Options,
        warnings: &mut Vec<Warning>,
    ) -> (Option<f64>, Option<f64>, LimitsKind) {
        let level = options.level;
        match self.by(sample, fitted, level, options.method, warnings) {
            Ok((lower, upper)) => (lower, upper, options.method.into()),
            Err(error) => {
                let why = error.to_string();
                let ratio = Method::LikelihoodRatio;
                let second = if options.method == ratio {
                    Err(error)
                } else {
                    self.by(sample, fitted, level, ratio, warnings)
                };
                match second {
                    Ok((lower, upper)) => {
                        let instead = "Its limits are those of the likelihood ratio instead";
                        self.warn(&format!("{why}. {instead}"), warnings);
                        (lower, upper, ratio.into())
                    }
                    Err(_) => {
                        self.warn(&why, warnings);
                        (None, None, options.method.into())
                    }
                }
            }
        }
    }

    fn by(
        &self,
        sample: &Sample,
        fitted: &Fit,
        level: Level,
        method: Method,
        warnings: &mut Vec<Warning>,
    ) -> Result<(Option<f64>, Option<f64>), LimitsError> {
        let limits = limits(sample, fitted, self.quantity, level, method)?;
        warnings.extend(limits.warnings.into_iter().map(|warning| {
            let message = match warning.code {
                WarningCode::Extrapolation => {
                    let longest = sample.longest_usage();
                    format!("{} lies beyond the longest age seen, {longest}.", self.what)
                }
                _ => format!("{}: {}", self.what, in_sentence(&warning.message)),
            };
            Warning::new(warning.code, message)
        }));
        Ok((limits.lower, limits.upper))
    }

    fn warn(&self, why: &str, warnings: &mut Vec<Warning>) {
        warnings.push(Warning::new(
            WarningCode::LimitFailed,
            format!("{}: {why}.", self.what),
        ));
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
