//! Why a series system could not be built or asked.

use crate::families::Family;
use crate::intervals::LimitsError;

/// Why no series system, or no answer from one, is returned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CompetingError {
    /// The sample is empty.
    #[error("there are no lives to fit")]
    NoLives,
    /// The method does not serve the family.
    #[error(
        "a system of modes serves exponential, Weibull, lognormal and loglogistic lives, not the {} family",
        family.code()
    )]
    Family {
        /// The family asked for.
        family: Family,
    },
    /// No failure has a mode to work with.
    #[error("no failure names its mode, so there are no modes to fit apart")]
    NoModes,
    /// Some failures have no mode, and the plan refuses them.
    #[error(
        "{lives} failures name no mode; find their modes, or say whether they form a mode of their own or join the leading one"
    )]
    UnknownModes {
        /// How many failures name no mode.
        lives: u64,
    },
    /// Some modes could not be fitted, so nothing can be said of the whole.
    #[error(
        "no model for {}: the combined life needs every mode; declare a known shape, or ask without them",
        modes.join(", ")
    )]
    Incomplete {
        /// Modes without a model.
        modes: Vec<String>,
    },
    /// The system has no such mode.
    #[error("the system has no mode {}", cause.as_deref().unwrap_or("without a name"))]
    Mode {
        /// The mode asked for.
        cause: Option<String>,
    },
    /// An integral did not come down to its accuracy.
    #[error(
        "the share that fails by one mode could not be found to its accuracy; ask at another usage"
    )]
    NotSettled,
    /// A limit or value does not exist.
    #[error(transparent)]
    Limits(#[from] LimitsError),
}
