//! Why scales could not be compared.

use std::fmt;

use serde::Serialize;

use crate::families::Family;
use crate::fitting::FitError;
use crate::sample::ObservationFault;

/// What is wrong with one life on one scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleFault {
    /// Position of the life as given, from 0.
    pub life: usize,
    /// The scale; none where the life has the wrong number of scales.
    pub scale: Option<String>,
    /// The rule it breaks.
    pub rule: &'static str,
}

/// Why no comparison is returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ScaleError {
    /// The method does not serve the family.
    #[error(
        "the comparison of scales serves exponential, Weibull, lognormal and loglogistic lives, not the {} family",
        family.code()
    )]
    Family {
        /// The family asked for.
        family: Family,
    },
    /// A comparison needs two scales.
    #[error("at least two scales are needed but there are {scales}")]
    TooFewScales {
        /// Scales given.
        scales: usize,
    },
    /// A scale has no name, or two have the same.
    #[error("the scale name \"{name}\" is empty or stands twice")]
    Name {
        /// The name.
        name: String,
    },
    /// No scale has that name.
    #[error("there is no scale {name}")]
    Unknown {
        /// The name asked for.
        name: String,
    },
    /// Lives differ between scales, or stand at zero on one.
    #[error("{}", shown(faults))]
    Lives {
        /// Every fault, in the order of the lives.
        faults: Vec<ScaleFault>,
    },
    /// Values on one scale break the rules of a life.
    #[error("on the scale {scale}: {} faults in the lives", faults.len())]
    Observations {
        /// The scale.
        scale: String,
        /// Every fault.
        faults: Vec<ObservationFault>,
    },
    /// The model has no estimate on any scale, or on the mixture asked for.
    #[error("no scale can be fitted: {0}")]
    Fit(#[from] FitError),
}

fn shown(faults: &[ScaleFault]) -> impl fmt::Display {
    match faults.first() {
        Some(first) => format!(
            "{} faults in the lives; first: life {}, scale {}: {}",
            faults.len(),
            first.life,
            first.scale.as_deref().unwrap_or("any"),
            first.rule
        ),
        None => "no faults in the lives".to_owned(),
    }
}
