//! Competing failure modes as a series system: the first mode to strike ends the life (Nelson 1982, chapter 5).

mod comparison;
mod error;
mod mode;
mod plan;
mod series_fit;
mod system;
mod system_limits;

pub use comparison::{Better, SingleFitComparison};
pub use error::CompetingError;
pub use mode::{Mode, ModeOutcome};
pub use plan::{Plan, UnknownMode};
pub use series_fit::series_system;
pub use system::{ModeShare, SeriesSystem};
