//! How to fit the modes of a series system.

use std::collections::BTreeMap;

use crate::families::Family;

/// How failures that name no mode enter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UnknownMode {
    /// Not at all: they are refused.
    #[default]
    Refuse,
    /// As a mode of their own.
    OwnMode,
    /// With the mode of most failures; of equals, the first by name.
    Leading,
}

/// How to fit the modes.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Family of every mode not named below, and of the single fit compared with.
    pub family: Family,
    /// Family by mode.
    pub families: BTreeMap<String, Family>,
    /// Weibull shape by mode, in 0.001 to 1,000,000, used where a free fit does not exist. A mode without failures in the sample enters
    /// only if it stands here, at the lower limit of its scale.
    pub known_shapes: BTreeMap<String, f64>,
    /// One-sided confidence of that lower limit, in (0, 1).
    pub bound_level: f64,
    /// How failures that name no mode enter.
    pub unknown: UnknownMode,
}

impl Plan {
    /// Every mode of one family, nothing declared, bounds at 90 %, unknown modes refused.
    #[must_use]
    pub fn new(family: Family) -> Self {
        Self {
            family,
            families: BTreeMap::new(),
            known_shapes: BTreeMap::new(),
            bound_level: 0.9,
            unknown: UnknownMode::Refuse,
        }
    }
}
