//! Limits of the share that has failed by given ages, from a stored fit's own lives.

use super::inputs::FitInputs;
use super::store::FitRow;
use crate::platform::http::problem::Problem;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::intervals::likelihood_ratio::survival_limits;

/// Lower and upper limit of the share failed by each age; absent where they cannot be computed.
///
/// # Errors
/// When the stored lives cannot be read, which is our fault.
pub fn failed_by(
    row: &FitRow,
    family: Family,
    level: f64,
    ages: &[f64],
) -> Result<Vec<(Option<f64>, Option<f64>)>, Problem> {
    let inputs: FitInputs = serde_json::from_str(&row.inputs).map_err(Problem::internal)?;
    let sample = inputs.sample()?;
    let (Ok(fit), Ok(level)) = (fit(&sample, family), Level::two_sided(level)) else {
        return Ok(vec![(None, None); ages.len()]);
    };
    Ok(ages
        .iter()
        .map(|age| match survival_limits(&sample, &fit, *age, level) {
            Ok(limits) if *age > 0.0 => (limits.upper.map(|share| 1.0 - share), limits.lower.map(|share| 1.0 - share)),
            _ => (None, None),
        })
        .collect())
}
