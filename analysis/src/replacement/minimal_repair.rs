//! Renewal at a fixed age, with failures before it repaired just enough to go on (Barlow and Hunter 1960, Operations
//! Research 8, policy II).

use super::costs::{finite, positive};
use super::{DecisionError, RenewalCosts};

/// The age of renewal that costs least, or that none does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MinimalRepair {
    /// Renew at this age.
    At(MinimalRepairAge),
    /// The shape does not exceed 1: failures do not become more frequent, so renewal is wasted.
    NoAgePays,
}

/// The best age and its cost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MinimalRepairAge {
    /// The age.
    pub age: f64,
    /// Mean cost per unit of usage.
    pub cost_rate: f64,
    /// Repairs expected before each renewal.
    pub repairs: f64,
}

/// Mean cost per unit of usage when renewed at `age` and repaired `(age / scale)^shape` times on average before:
/// `(planned + failure (age / scale)^shape) / age`. The cost of a failure is paid for each repair, that of a planned
/// renewal once per cycle.
///
/// # Errors
/// For a value that is not finite and above 0, or a rate out of range.
pub fn minimal_repair_cost_rate(
    shape: f64,
    scale: f64,
    costs: RenewalCosts,
    age: f64,
) -> Result<f64, DecisionError> {
    for (name, value) in [("shape", shape), ("scale", scale), ("age", age)] {
        positive(name, value)?;
    }
    let repairs = (shape * (age / scale).ln()).exp();
    finite((costs.planned() + costs.failure() * repairs) / age)
}

/// The age of renewal that costs least: `scale (planned / (failure (shape - 1)))^(1 / shape)`. Shape and scale are
/// those of a power-law process, or of a Weibull life whose hazard a repair leaves as it was.
///
/// # Errors
/// For a shape or scale that is not finite and above 0, or an answer out of range.
pub fn minimal_repair(
    shape: f64,
    scale: f64,
    costs: RenewalCosts,
) -> Result<MinimalRepair, DecisionError> {
    for (name, value) in [("shape", shape), ("scale", scale)] {
        positive(name, value)?;
    }
    if shape <= 1.0 {
        return Ok(MinimalRepair::NoAgePays);
    }
    let ln_repairs = costs.planned().ln() - costs.failure().ln() - (shape - 1.0).ln();
    let age = finite((scale.ln() + ln_repairs / shape).exp())?;
    let repairs = finite(ln_repairs.exp())?;
    // Costs this far apart leave no digits to compare.
    if age <= 0.0 || repairs < 1e-290 {
        return Err(DecisionError::OutOfRange);
    }
    Ok(MinimalRepair::At(MinimalRepairAge {
        age,
        cost_rate: finite(costs.planned() * shape / (shape - 1.0) / age)?,
        repairs,
    }))
}
