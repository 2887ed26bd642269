//! Costs of a decision, each with its own name so that none takes the place of another.

use crate::families::Family;

/// Costs of renewing a component. Any unit of money, or points; rates come back in that unit per unit of usage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RenewalCosts {
    planned: f64,
    failure: f64,
}

/// Costs of an inspection scheme.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InspectionCosts {
    inspection: f64,
    repair: f64,
    failure: f64,
}

/// Why a decision is not returned.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum DecisionError {
    /// A value that breaks its rule.
    #[error("the {name} must be {rule} but is {value}")]
    Value {
        /// Which value.
        name: &'static str,
        /// The rule it breaks.
        rule: &'static str,
        /// The value given.
        value: f64,
    },
    /// The method does not serve the family of the life.
    #[error(
        "this decision is worked out for exponential, Weibull, lognormal and loglogistic lives, not for the {} family",
        family.code()
    )]
    Family {
        /// The family given.
        family: Family,
    },
    /// The mean life is infinite or out of range, so a rate per life does not exist.
    #[error(
        "the mean life is infinite or leaves the range of numbers, so a mean cost does not exist"
    )]
    NoMean,
    /// The interval is so short that more inspections fall into one life than are added up.
    #[error(
        "more than {most} inspections fall into one life at this interval; take a longer interval or the model with a constant rate of defects"
    )]
    TooManyInspections {
        /// The most that are added up.
        most: u32,
    },
    /// The best interval lies at the edge of those searched.
    #[error(
        "the cost still falls at the shortest interval searched, {shortest}; inspect as often as can be done"
    )]
    ShorterThanSearched {
        /// The shortest interval searched.
        shortest: f64,
    },
    /// A number left the range of floating point.
    #[error("the answer leaves the range of numbers for this life")]
    OutOfRange,
    /// An integral or a root could not be brought to its accuracy.
    #[error("the computation stopped before it met its accuracy")]
    NotConverged,
}

impl RenewalCosts {
    /// Cost of one planned renewal and of one failure (for minimal repair: of one repair).
    ///
    /// # Errors
    /// For a cost that is not positive and finite.
    pub fn new(planned: f64, failure: f64) -> Result<Self, DecisionError> {
        for (name, value) in [
            ("cost of a planned renewal", planned),
            ("cost of a failure", failure),
        ] {
            positive(name, value)?;
        }
        Ok(Self { planned, failure })
    }

    /// Cost of one planned renewal.
    #[must_use]
    pub fn planned(self) -> f64 {
        self.planned
    }

    /// Cost of one failure.
    #[must_use]
    pub fn failure(self) -> f64 {
        self.failure
    }
}

impl InspectionCosts {
    /// Cost of one inspection, of one repair of a defect found by it, and of one failure.
    ///
    /// # Errors
    /// For a cost that is negative or not finite.
    pub fn new(inspection: f64, repair: f64, failure: f64) -> Result<Self, DecisionError> {
        for (name, value) in [
            ("cost of an inspection", inspection),
            ("cost of a repair", repair),
            ("cost of a failure", failure),
        ] {
            not_negative(name, value)?;
        }
        Ok(Self {
            inspection,
            repair,
            failure,
        })
    }

    /// Cost of one inspection.
    #[must_use]
    pub fn inspection(self) -> f64 {
        self.inspection
    }

    /// Cost of repairing one defect found by inspection.
    #[must_use]
    pub fn repair(self) -> f64 {
        self.repair
    }

    /// Cost of one failure.
    #[must_use]
    pub fn failure(self) -> f64 {
        self.failure
    }
}

pub(super) fn positive(name: &'static str, value: f64) -> Result<(), DecisionError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(DecisionError::Value {
            name,
            rule: "finite and above 0",
            value,
        })
    }
}

pub(super) fn not_negative(name: &'static str, value: f64) -> Result<(), DecisionError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(DecisionError::Value {
            name,
            rule: "finite and at least 0",
            value,
        })
    }
}

/// A number that may be shown.
pub(super) fn finite(value: f64) -> Result<f64, DecisionError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(DecisionError::OutOfRange)
    }
}
