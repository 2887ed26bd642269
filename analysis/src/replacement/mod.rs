//! Arithmetic of decisions: how long until a stated risk, and what renewal or inspection costs.

mod age_replacement;
mod costs;
mod delay_time;
mod delay_time_single;
mod minimal_repair;
mod smooth_life;
mod weibull_life;

pub use age_replacement::{
    AgeEvidence, AgeReplacement, NoAge, RenewalAge, age_replacement, age_replacement_with_evidence,
    renewal_cost_rate,
};
pub use costs::{DecisionError, InspectionCosts, RenewalCosts};
pub use delay_time::{BestInterval, DelayTime, InspectionInterval, NoInterval};
pub use delay_time_single::{InspectedComponent, InspectionCycle};
pub use minimal_repair::{
    MinimalRepair, MinimalRepairAge, minimal_repair, minimal_repair_cost_rate,
};
pub use weibull_life::{LifeError, MeanRiskAge, WeibullLife};
