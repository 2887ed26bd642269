//! Weights of a comparison of groups: which part of life counts most.

use serde::{Deserialize, Serialize};

use super::EstimateError;

/// Weight of a failure usage in a comparison (Klein and Moeschberger 2003, section 7.3).
///
/// Weights come from the pooled lives, within each stratum.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weights {
    /// 1 throughout: the log-rank test, best for proportional hazards (Mantel 1966).
    LogRank,
    /// Lives at risk: early usages count most, and the pattern of censoring sways them (Gehan 1965).
    Gehan,
    /// Square root of the lives at risk (Tarone and Ware 1977).
    TaroneWare,
    /// The survival estimate `product of (n + 1 - d) / (n + 1)` up to and including the usage (Peto and Peto 1972).
    ///
    /// Not the same as Fleming-Harrington with `rho = 1, gamma = 0`.
    PetoPeto,
    /// `S^rho (1 - S)^gamma` with the product-limit survival just before the usage (Fleming and Harrington 1991,
    /// section 7.2). `gamma` above 0 favours late usages.
    FlemingHarrington {
        /// Power of survival, at least 0.
        rho: f64,
        /// Power of its complement, at least 0.
        gamma: f64,
    },
}

impl Weights {
    pub(super) fn check(self) -> Result<(), EstimateError> {
        if let Self::FlemingHarrington { rho, gamma } = self {
            for value in [rho, gamma] {
                check_power(value)?;
            }
        }
        Ok(())
    }
}

pub(super) fn check_power(value: f64) -> Result<(), EstimateError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(EstimateError::WeightPower { value })
    }
}

/// Weights of one stratum, usage by usage.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weigher {
    weights: Weights,
    /// Product-limit survival just before the next usage.
    survival: f64,
    /// Peto and Peto's survival.
    smoothed: f64,
}

impl Weigher {
    pub(super) fn new(weights: Weights) -> Self {
        Self {
            weights,
            survival: 1.0,
            smoothed: 1.0,
        }
    }

    /// The weight at the next usage, with `at_risk > 0` lives of which `failed` fail.
    pub(super) fn next(&mut self, at_risk: f64, failed: f64) -> f64 {
        let before = self.survival;
        self.survival *= (at_risk - failed) / at_risk;
        self.smoothed *= (at_risk + 1.0 - failed) / (at_risk + 1.0);
        match self.weights {
            Weights::LogRank => 1.0,
            Weights::Gehan => at_risk,
            Weights::TaroneWare => at_risk.sqrt(),
            Weights::PetoPeto => self.smoothed,
            Weights::FlemingHarrington { rho, gamma } => {
                before.powf(rho) * (1.0 - before).powf(gamma)
            }
        }
    }
}
