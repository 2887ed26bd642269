//! Which usage scale explains wear best.

mod compare;
mod error;
mod lives;
mod mixture;

pub use compare::{ScaleChoice, ScaleComparison, ScaleResult, compare_scales};
pub use error::{ScaleError, ScaleFault};
pub use lives::{ScaledLife, ScaledLives};
pub use mixture::{MixedScale, mixed_scale};
