//! Life as it depends on covariates, as one document.

use serde::{Deserialize, Serialize};

use super::{Estimate, LimitsKind};
use crate::families::Family;
use crate::intervals::{Level, Limits};
use crate::regression::{
    AcceleratedLife, AcceleratedLifeFit, ChiSquareTest, Coefficient, CovariateSample,
    PredictionError, ProportionalHazards, ProportionalHazardsFit, RegressionLimitMethod, Ties,
    accelerated_life, proportional_hazards,
};
use crate::warning::{Warning, WarningCode};

/// With more failures than this the rule of ties no longer matters, and Efron's takes a step for every tie.
const MOST_FAILURES_FOR_EFRON: u64 = 20_000;

/// Life as it depends on covariates. What cannot be computed is null, with a warning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisRegression))]
pub struct RegressionReport {
    /// Covariates multiply age: one entry per family, fitted or not.
    pub accelerated_life: Vec<AcceleratedLifeReport>,
    /// Covariates multiply a hazard of unknown form.
    pub proportional_hazards: ProportionalHazardsReport,
}

/// Log age as a sum of an intercept, the covariates with their coefficients, and sigma times an error of the
/// family's form.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisAcceleratedLife))]
pub struct AcceleratedLifeReport {
    /// The family.
    pub family: Family,
    /// Log age at covariates zero where the error is zero.
    pub intercept: Option<f64>,
    /// Size of the error; 1 for the exponential, where it is not fitted.
    pub sigma: Option<f64>,
    /// Effects on log age. The factor multiplies every age at which a share has failed.
    pub coefficients: Vec<CoefficientReport>,
    /// Names of the rows and columns of the covariance.
    pub parameter_order: Vec<String>,
    /// Inverse observed information.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Log-likelihood at the maximum, by the density of age.
    pub log_likelihood: Option<f64>,
    /// Log-likelihood of the same model without covariates.
    pub log_likelihood_without: Option<f64>,
    /// All covariates at once, by likelihood ratio.
    pub likelihood_ratio: Option<ChiSquareReport>,
    /// All covariates at once, by Wald's test.
    pub wald: Option<ChiSquareReport>,
    /// Akaike's criterion.
    pub aic: Option<f64>,
    /// Akaike's criterion corrected for small samples.
    pub aicc: Option<f64>,
    /// Schwarz's criterion.
    pub bic: Option<f64>,
    /// Cautions, and why it was not fitted.
    pub warnings: Vec<Warning>,
}

/// Proportional hazards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisProportionalHazards))]
pub struct ProportionalHazardsReport {
    /// How failures at the same age enter.
    pub ties: TiesRule,
    /// Effects on the log hazard. The factor multiplies the hazard.
    pub coefficients: Vec<CoefficientReport>,
    /// Inverse observed information, in the order of the coefficients.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Log partial likelihood.
    pub log_likelihood: Option<f64>,
    /// Log partial likelihood with all coefficients zero.
    pub log_likelihood_without: Option<f64>,
    /// All covariates at once, by likelihood ratio.
    pub likelihood_ratio: Option<ChiSquareReport>,
    /// All covariates at once, by Wald's test.
    pub wald: Option<ChiSquareReport>,
    /// All covariates at once, by the score test.
    pub score: Option<ChiSquareReport>,
    /// Cautions, and why it was not fitted.
    pub warnings: Vec<Warning>,
}

/// How failures at the same age enter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisTies))]
pub enum TiesRule {
    /// All against the full risk set; taken with more than 20,000 failures.
    Breslow,
    /// As if in unknown order.
    Efron,
}

/// The effect of one covariate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCoefficient))]
pub struct CoefficientReport {
    /// The covariate.
    pub name: String,
    /// Effect per unit of the covariate.
    pub value: f64,
    /// Its standard error; null without covariance.
    pub std_error: Option<f64>,
    /// The exponential of the effect, with limits: what one more unit of the covariate multiplies.
    pub factor: Estimate,
    /// How the limits were made.
    pub kind: LimitsKind,
    /// Whether there is an effect, by Wald's test.
    pub wald: Option<ChiSquareReport>,
    /// Whether there is an effect, by likelihood ratio.
    pub likelihood_ratio: Option<ChiSquareReport>,
}

/// A test statistic that is chi-square when there is no effect.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisChiSquare))]
pub struct ChiSquareReport {
    /// The statistic.
    pub chi_square: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: u32,
    /// Chance of a statistic at least as large without effect.
    pub p_value: f64,
}

impl From<ChiSquareTest> for ChiSquareReport {
    fn from(test: ChiSquareTest) -> Self {
        Self {
            chi_square: test.chi_square,
            degrees_of_freedom: test.freedom,
            p_value: test.p_value,
        }
    }
}

/// Fits accelerated life of each family, and proportional hazards. Never fails: what cannot be fitted says why.
#[must_use]
pub fn regress(
    sample: &CovariateSample,
    families: &[Family],
    level: Level,
    method: RegressionLimitMethod,
) -> RegressionReport {
    RegressionReport {
        accelerated_life: families
            .iter()
            .map(|family| accelerated(sample, *family, level, method))
            .collect(),
        proportional_hazards: proportional(sample, level, method),
    }
}

fn accelerated(
    sample: &CovariateSample,
    family: Family,
    level: Level,
    method: RegressionLimitMethod,
) -> AcceleratedLifeReport {
    let mut report = AcceleratedLifeReport {
        family,
        intercept: None,
        sigma: None,
        coefficients: Vec::new(),
        parameter_order: Vec::new(),
        covariance: None,
        log_likelihood: None,
        log_likelihood_without: None,
        likelihood_ratio: None,
        wald: None,
        aic: None,
        aicc: None,
        bic: None,
        warnings: Vec::new(),
    };
    if !Family::ALL.contains(&family) {
        report.warnings.push(Warning::new(
            WarningCode::EstimatorFailed,
            format!(
                "Life with covariates is fitted by {}, not by {}.",
                Family::ALL.map(Family::code).join(", "),
                family.code()
            ),
        ));
        return report;
    }
    match accelerated_life(sample, AcceleratedLife::new(family)) {
        Ok(fit) => describe_accelerated(sample, fit, level, method, &mut report),
        Err(error) => report.warnings.push(refused(&error)),
    }
    report
}

fn describe_accelerated(
    sample: &CovariateSample,
    fit: AcceleratedLifeFit,
    level: Level,
    method: RegressionLimitMethod,
    report: &mut AcceleratedLifeReport,
) {
    report.intercept = fit.intercepts.first().map(|found| found.value);
    report.sigma = fit.sigmas.first().map(|found| found.value);
    report.coefficients = fit
        .coefficients
        .iter()
        .map(|coefficient| {
            let limits = fit.acceleration_factor(sample, &coefficient.name, level, method);
            described(coefficient, limits, method, &mut report.warnings)
        })
        .collect();
    if fit.covariance.is_none() {
        report.warnings.push(Warning::new(
            WarningCode::NoCovariance,
            "The likelihood is too flat at its top for a covariance.",
        ));
    }
    report.log_likelihood = Some(fit.log_likelihood);
    report.log_likelihood_without = Some(fit.log_likelihood_without);
    report.likelihood_ratio = fit.likelihood_ratio.map(Into::into);
    report.wald = fit.wald.map(Into::into);
    report.aic = Some(fit.aic);
    report.aicc = fit.aicc;
    report.bic = Some(fit.bic);
    report.parameter_order = fit.parameter_names;
    report.covariance = fit.covariance;
}

fn proportional(
    sample: &CovariateSample,
    level: Level,
    method: RegressionLimitMethod,
) -> ProportionalHazardsReport {
    let (rule, ties) = if sample.lives().failures() > MOST_FAILURES_FOR_EFRON {
        (TiesRule::Breslow, Ties::Breslow)
    } else {
        (TiesRule::Efron, Ties::Efron)
    };
    let mut report = ProportionalHazardsReport {
        ties: rule,
        coefficients: Vec::new(),
        covariance: None,
        log_likelihood: None,
        log_likelihood_without: None,
        likelihood_ratio: None,
        wald: None,
        score: None,
        warnings: Vec::new(),
    };
    let model = ProportionalHazards {
        ties,
        stratified: false,
    };
    match proportional_hazards(sample, model) {
        Ok(fit) => describe_proportional(sample, fit, level, method, &mut report),
        Err(error) => report.warnings.push(refused(&error)),
    }
    report
}

fn describe_proportional(
    sample: &CovariateSample,
    fit: ProportionalHazardsFit,
    level: Level,
    method: RegressionLimitMethod,
    report: &mut ProportionalHazardsReport,
) {
    report.coefficients = fit
        .coefficients
        .iter()
        .map(|coefficient| {
            let limits = fit.hazard_ratio(sample, &coefficient.name, level, method);
            described(coefficient, limits, method, &mut report.warnings)
        })
        .collect();
    report.log_likelihood = Some(fit.log_likelihood);
    report.log_likelihood_without = Some(fit.log_likelihood_without);
    report.likelihood_ratio = Some(fit.tests.likelihood_ratio.into());
    report.wald = Some(fit.tests.wald.into());
    report.score = Some(fit.tests.score.into());
    report.covariance = Some(fit.covariance);
}

fn described(
    coefficient: &Coefficient,
    limits: Result<Limits, PredictionError>,
    method: RegressionLimitMethod,
    warnings: &mut Vec<Warning>,
) -> CoefficientReport {
    let factor = match limits {
        Ok(limits) => {
            warnings.extend(limits.warnings.into_iter().map(|warning| {
                Warning::new(
                    warning.code,
                    format!("{}: {}", coefficient.name, warning.message),
                )
            }));
            Estimate {
                value: Some(limits.value),
                lower: limits.lower,
                upper: limits.upper,
            }
        }
        Err(error) => {
            warnings.push(Warning::new(
                WarningCode::LimitFailed,
                format!("{}: {error}", coefficient.name),
            ));
            Estimate {
                value: Some(coefficient.value.exp()).filter(|value| value.is_finite()),
                ..Estimate::default()
            }
        }
    };
    CoefficientReport {
        name: coefficient.name.clone(),
        value: coefficient.value,
        std_error: coefficient.std_error,
        factor,
        kind: match method {
            RegressionLimitMethod::LikelihoodRatio => LimitsKind::LikelihoodRatio,
            RegressionLimitMethod::Delta => LimitsKind::Delta,
        },
        wald: coefficient.wald.map(Into::into),
        likelihood_ratio: coefficient.likelihood_ratio.map(Into::into),
    }
}

fn refused(error: &impl std::fmt::Display) -> Warning {
    Warning::new(WarningCode::EstimatorFailed, error.to_string())
}
