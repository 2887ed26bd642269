//! Events that recur on units which are repaired and go on, as one document.

use serde::{Deserialize, Serialize};

use super::Estimate;
use crate::intervals::Level;
use crate::recurrent::{
    CramerVonMises, Histories, MeanLimits, PowerLawFit, PowerLawLimitMethod, PowerLawLimits,
    RecurrentError, TrendTest, cramer_von_mises, cramer_von_mises_by_ratio, laplace,
    mean_cumulative_function, mil_hdbk_189, power_law,
};
use crate::warning::{Warning, WarningCode};

/// Events that recur. What cannot be computed is null or empty, with a warning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisRecurrence))]
pub struct RecurrenceReport {
    /// Units watched.
    pub systems: u64,
    /// Events seen.
    pub events: u64,
    /// Longest age watched; 0 without units.
    pub longest_age: f64,
    /// Two-sided confidence level of all limits.
    pub level: f64,
    /// Mean number of events per unit, one step at every age with an event; 0 before the first.
    pub mean_cumulative_function: Vec<MeanPointReport>,
    /// The power-law process.
    pub power_law: Option<PowerLawReport>,
    /// Laplace's test of a trend.
    pub laplace: Option<TrendReport>,
    /// The test of a trend of MIL-HDBK-189.
    pub mil_hdbk_189: Option<TrendReport>,
    /// Whether the power law fits.
    pub cramer_von_mises: Option<CramerVonMisesReport>,
    /// Cautions, and why something is missing.
    pub warnings: Vec<Warning>,
}

/// The mean number of events just after one age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisMeanPoint))]
pub struct MeanPointReport {
    /// Age.
    pub age: f64,
    /// Units watched at this age.
    pub at_risk: u64,
    /// Events at this age.
    pub events: u64,
    /// Mean number of events per unit up to this age.
    pub mean: f64,
    /// Standard error, whatever the dependence of events within a unit; null for a single unit.
    pub std_error: Option<f64>,
    /// Lower limit; null as the standard error.
    pub lower: Option<f64>,
    /// Upper limit; null as the standard error.
    pub upper: Option<f64>,
}

/// Events at the intensity `lambda shape age^(shape - 1)`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisPowerLaw))]
pub struct PowerLawReport {
    /// The shape: below 1 events thin out, above 1 they crowd.
    pub shape: Estimate,
    /// How the limits of the shape were made.
    pub shape_limits: Option<PowerLawLimitsKind>,
    /// Shape corrected for its bias in the mean, where the design allows.
    pub shape_unbiased: Option<f64>,
    /// Expected events of one unit up to age 1.
    pub lambda: Option<f64>,
    /// Age by which one unit expects one event.
    pub scale: Option<f64>,
    /// Log-likelihood at the maximum.
    pub log_likelihood: f64,
    /// Inverse observed information of (ln lambda, ln shape).
    #[cfg_attr(feature = "openapi", schema(value_type = Vec<Vec<f64>>))]
    pub log_covariance: [[f64; 2]; 2],
    /// Mean usage between events of one unit at the longest age watched.
    pub mean_between_events: Estimate,
    /// How the limits of the mean usage between events were made.
    pub mean_limits: Option<PowerLawLimitsKind>,
}

/// How limits of a power law were made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisPowerLawLimits))]
pub enum PowerLawLimitsKind {
    /// From the known distribution of the estimate.
    Exact,
    /// By the profile likelihood.
    LikelihoodRatio,
    /// By the delta method.
    Delta,
}

/// A test of a trend against a constant rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisTrend))]
pub struct TrendReport {
    /// Test statistic.
    pub statistic: f64,
    /// Degrees of freedom; null for a statistic that is about normal.
    pub degrees_of_freedom: Option<f64>,
    /// Events that count: all but those that ended the watching.
    pub events: u64,
    /// Chance, at a constant rate, of a sign of improvement at least as strong.
    pub p_improving: f64,
    /// Chance, at a constant rate, of a sign of deterioration at least as strong.
    pub p_deteriorating: f64,
    /// Twice the smaller of the two, at most 1.
    pub p_two_sided: f64,
}

/// Distance between the events and the power law.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCramerVonMises))]
pub struct CramerVonMisesReport {
    /// The distance.
    pub statistic: f64,
    /// Events that count.
    pub events: u64,
    /// Whether ages were taken as shares of each unit's own end, which asks for one shape but not for one rate.
    pub by_ratio: bool,
    /// The smallest listed significance at which the fit is rejected; null where it is not rejected at any.
    pub rejected_at: Option<f64>,
    /// Critical values, from the largest significance to the smallest.
    pub critical: Vec<CriticalValueReport>,
}

/// A distance and the chance with which it is exceeded when the power law holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisCriticalValue))]
pub struct CriticalValueReport {
    /// The chance.
    pub significance: f64,
    /// The distance.
    pub value: f64,
}

/// Everything the engine says about recurring events. Never fails: what cannot be computed says why.
#[must_use]
pub fn recurrence(histories: &Histories, level: Level) -> RecurrenceReport {
    let mut warnings = Vec::new();
    let mean = kept(
        mean_cumulative_function(
            histories,
            MeanLimits {
                level: level.level(),
                ..MeanLimits::default()
            },
        ),
        "mean cumulative function",
        &mut warnings,
    );
    let fit = kept(power_law(histories), "power law", &mut warnings);
    let mut points = Vec::new();
    if let Some(mean) = mean {
        points = mean
            .points
            .iter()
            .map(|point| MeanPointReport {
                age: point.age,
                at_risk: point.at_risk,
                events: point.events,
                mean: point.mean,
                std_error: point.variance_robust.map(f64::sqrt),
                lower: point.lower,
                upper: point.upper,
            })
            .collect();
        warnings.extend(mean.warnings);
    }
    RecurrenceReport {
        systems: histories.count(),
        events: histories.events(),
        longest_age: histories.longest_age(),
        level: level.level(),
        mean_cumulative_function: points,
        power_law: fit.map(|fit| described(&fit, level, &mut warnings)),
        laplace: kept(laplace(histories), "Laplace's test", &mut warnings).map(Into::into),
        mil_hdbk_189: kept(
            mil_hdbk_189(histories),
            "test of MIL-HDBK-189",
            &mut warnings,
        )
        .map(Into::into),
        cramer_von_mises: kept(
            distance(histories),
            "distance of Cramer and von Mises",
            &mut warnings,
        ),
        warnings,
    }
}

fn described(fit: &PowerLawFit, level: Level, warnings: &mut Vec<Warning>) -> PowerLawReport {
    let shape = kept(fit.shape_limits(level), "limits of the shape", warnings);
    let end = fit.longest_age;
    let between = kept(
        fit.mtbf_limits(end, level),
        "limits of the mean usage between events",
        warnings,
    );
    let (shape, shape_limits) = estimate(Some(fit.shape), shape);
    let (mean_between_events, mean_limits) = estimate(fit.mtbf(end), between);
    PowerLawReport {
        shape,
        shape_limits,
        shape_unbiased: fit.shape_unbiased,
        lambda: fit.lambda,
        scale: fit.scale,
        log_likelihood: fit.log_likelihood,
        log_covariance: fit.log_covariance,
        mean_between_events,
        mean_limits,
    }
}

fn estimate(
    value: Option<f64>,
    limits: Option<PowerLawLimits>,
) -> (Estimate, Option<PowerLawLimitsKind>) {
    let kind = limits.as_ref().map(|found| match found.method {
        PowerLawLimitMethod::Exact => PowerLawLimitsKind::Exact,
        PowerLawLimitMethod::LikelihoodRatio => PowerLawLimitsKind::LikelihoodRatio,
        PowerLawLimitMethod::Delta => PowerLawLimitsKind::Delta,
    });
    let (lower, upper) = limits.map_or((None, None), |found| {
        (found.limits.lower, found.limits.upper)
    });
    (
        Estimate {
            value,
            lower,
            upper,
        },
        kind,
    )
}

/// By ages where all ends are alike, by shares of the ends elsewhere.
fn distance(histories: &Histories) -> Result<CramerVonMisesReport, RecurrentError> {
    match cramer_von_mises(histories) {
        Ok(found) => Ok(measured(&found, false)),
        Err(RecurrentError::NoCommonEnd { .. }) => {
            cramer_von_mises_by_ratio(histories).map(|found| measured(&found, true))
        }
        Err(error) => Err(error),
    }
}

fn measured(found: &CramerVonMises, by_ratio: bool) -> CramerVonMisesReport {
    CramerVonMisesReport {
        statistic: found.statistic,
        events: found.events,
        by_ratio,
        rejected_at: found.rejected_at(),
        critical: found
            .critical
            .iter()
            .map(|one| CriticalValueReport {
                significance: one.significance,
                value: one.value,
            })
            .collect(),
    }
}

impl From<TrendTest> for TrendReport {
    fn from(test: TrendTest) -> Self {
        Self {
            statistic: test.statistic,
            degrees_of_freedom: test.freedom,
            events: test.events,
            p_improving: test.p_improving,
            p_deteriorating: test.p_deteriorating,
            p_two_sided: test.p_two_sided,
        }
    }
}

/// The value, or a caution that names what is missing and why.
fn kept<T>(found: Result<T, RecurrentError>, what: &str, warnings: &mut Vec<Warning>) -> Option<T> {
    found
        .map_err(|error| {
            warnings.push(Warning::new(
                WarningCode::EstimatorFailed,
                format!("No {what}: {error}."),
            ));
        })
        .ok()
}
