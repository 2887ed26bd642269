//! Competing failure modes as a series system: the first mode to strike ends the life (Nelson 1982, chapter 5).

mod comparison;
mod error;
mod mode;
mod quadrature;
mod system;

pub use comparison::{Better, SingleFitComparison};
pub use error::CompetingError;
pub use mode::{Mode, ModeOutcome};
pub use system::{ModeShare, Plan, SeriesSystem, UnknownMode, series_system};
