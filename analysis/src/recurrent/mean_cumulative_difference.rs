//! Two mean cumulative functions compared (Nelson 2003, Recurrent Events Data Analysis, chapter 5).

use super::RecurrentError;
use super::history::Histories;
use super::mean_cumulative_function::{
    MeanCumulativeFunction, MeanLimits, mean_cumulative_function,
};
use crate::special::normal;
use crate::warning::Warning;

/// The difference of two mean cumulative functions at every age at which either has an event.
#[derive(Clone, Debug, PartialEq)]
pub struct MeanCumulativeDifference {
    /// Two-sided confidence level of the limits.
    pub level: f64,
    /// In order of age, up to the age to which both groups were watched.
    pub points: Vec<DifferencePoint>,
    /// Cautions about either curve.
    pub warnings: Vec<Warning>,
}

/// The difference just after one age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferencePoint {
    /// Age.
    pub age: f64,
    /// Mean of the first group less mean of the second.
    pub difference: f64,
    /// Sum of the two robust variances.
    pub variance: f64,
    /// Lower limit, normal on the difference itself.
    pub lower: f64,
    /// Upper limit. The groups differ at this age, at the level asked for, where the limits leave out 0.
    pub upper: f64,
}

/// Difference of the mean cumulative functions of two independent groups, with the robust variance.
///
/// The limits hold at each age by itself; over all ages together they miss more often than the level says.
///
/// # Errors
/// As [`mean_cumulative_function`] for either group; when a group has a single system, which has no spread; or when no
/// event falls on an age to which both were watched.
pub fn mean_cumulative_difference(
    one: &Histories,
    other: &Histories,
    level: f64,
) -> Result<MeanCumulativeDifference, RecurrentError> {
    let limits = MeanLimits {
        level,
        ..MeanLimits::default()
    };
    let first = mean_cumulative_function(one, limits)?;
    let second = mean_cumulative_function(other, limits)?;
    let z = normal::upper_quantile((0.5 * (1.0 - level)).ln());
    let horizon = first.longest_age.min(second.longest_age);
    let mut ages: Vec<f64> = first
        .points
        .iter()
        .chain(&second.points)
        .map(|point| point.age)
        .filter(|age| *age <= horizon)
        .collect();
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let points: Option<Vec<DifferencePoint>> = ages
        .into_iter()
        .map(|age| {
            let (mean_one, variance_one) = read(&first, age)?;
            let (mean_other, variance_other) = read(&second, age)?;
            let difference = mean_one - mean_other;
            let variance = variance_one + variance_other;
            Some(DifferencePoint {
                age,
                difference,
                variance,
                lower: difference - z * variance.sqrt(),
                upper: difference + z * variance.sqrt(),
            })
        })
        .collect();
    let points = points
        .filter(|points| !points.is_empty() && one.count() > 1 && other.count() > 1)
        .ok_or(RecurrentError::NothingToCompare)?;
    let mut warnings = first.warnings;
    warnings.extend(second.warnings);
    Ok(MeanCumulativeDifference {
        level,
        points,
        warnings,
    })
}

/// Mean and robust variance just after an age; none where the variance does not exist.
fn read(curve: &MeanCumulativeFunction, age: f64) -> Option<(f64, f64)> {
    match curve.point_at(age) {
        Some(point) => Some((point.mean, point.variance_robust?)),
        None => Some((0.0, 0.0)),
    }
}
