//! How sure, and on which side.

use serde::{Deserialize, Serialize};

use crate::special::normal;

/// A confidence level and the side or sides it speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Level {
    level: f64,
    side: Side,
}

/// Which limits are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "openapi", schema(as = AnalysisSide))]
pub enum Side {
    /// Both, each missing the truth with half the remaining chance.
    TwoSided,
    /// The lower one only.
    Lower,
    /// The upper one only.
    Upper,
}

/// A confidence level outside (0, 1), or a one-sided one below one half.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "the confidence level must lie between 0 and 1, and at 0.5 or above for one side, but is {value}"
)]
pub struct LevelError {
    /// The value given.
    pub value: f64,
}

impl Level {
    /// Both limits at 95 %.
    pub const TWO_SIDED_95: Self = Self {
        level: 0.95,
        side: Side::TwoSided,
    };
    /// Both limits at 90 %.
    pub const TWO_SIDED_90: Self = Self {
        level: 0.9,
        side: Side::TwoSided,
    };
    /// The lower limit at 90 %.
    pub const LOWER_90: Self = Self {
        level: 0.9,
        side: Side::Lower,
    };

    /// Both limits at `level` in (0, 1).
    ///
    /// # Errors
    /// For a level outside (0, 1).
    pub fn two_sided(level: f64) -> Result<Self, LevelError> {
        Self::new(level, Side::TwoSided)
    }

    /// The lower limit at `level` in [0.5, 1).
    ///
    /// # Errors
    /// For a level outside [0.5, 1).
    pub fn lower(level: f64) -> Result<Self, LevelError> {
        Self::new(level, Side::Lower)
    }

    /// The upper limit at `level` in [0.5, 1).
    ///
    /// # Errors
    /// For a level outside [0.5, 1).
    pub fn upper(level: f64) -> Result<Self, LevelError> {
        Self::new(level, Side::Upper)
    }

    /// Any side at `level`.
    ///
    /// # Errors
    /// For a level outside (0, 1), or below one half for one side.
    pub fn new(level: f64, side: Side) -> Result<Self, LevelError> {
        let floor = if side == Side::TwoSided { 0.0 } else { 0.5 };
        if level > 0.0 && level >= floor && level < 1.0 {
            Ok(Self { level, side })
        } else {
            Err(LevelError { value: level })
        }
    }

    /// The confidence, in (0, 1).
    #[must_use]
    pub fn level(self) -> f64 {
        self.level
    }

    /// The side or sides.
    #[must_use]
    pub fn side(self) -> Side {
        self.side
    }

    /// The same confidence on the other side; a two-sided level stays as it is.
    pub(crate) fn opposite(self) -> Self {
        let side = match self.side {
            Side::TwoSided => Side::TwoSided,
            Side::Lower => Side::Upper,
            Side::Upper => Side::Lower,
        };
        Self { side, ..self }
    }

    pub(crate) fn wants_lower(self) -> bool {
        self.side != Side::Upper
    }

    pub(crate) fn wants_upper(self) -> bool {
        self.side != Side::Lower
    }

    /// Chance that one limit misses the truth.
    pub(crate) fn tail(self) -> f64 {
        match self.side {
            Side::TwoSided => 0.5 * (1.0 - self.level),
            Side::Lower | Side::Upper => 1.0 - self.level,
        }
    }

    /// Normal distance of one limit from the estimate.
    pub(crate) fn distance(self) -> f64 {
        normal::upper_quantile(self.tail().ln())
    }
}
