//! One life on one usage scale.

use serde::{Deserialize, Serialize};

/// One life, or several identical ones, on one usage scale.
///
/// Exact failure: `lower == upper`. Right-censored: `upper` infinite. Left-censored: `lower == entry` with finite
/// `upper`. Interval-censored: `lower < upper`, both finite. The likelihood is conditional on survival to `entry`.
/// Values are checked when a [`Sample`](crate::sample::Sample) is built, not here.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Usage already accumulated when observation began; 0 if seen from new.
    pub entry: f64,
    /// Last usage at which it was known to be unfailed.
    pub lower: f64,
    /// Usage at which it was known to have failed; infinite if never seen to fail.
    pub upper: f64,
    /// Mode of the failure, if it failed and the mode is known.
    pub cause: Option<String>,
    /// How many identical lives this row stands for.
    pub count: u64,
}

impl Observation {
    fn between(lower: f64, upper: f64) -> Self {
        Self {
            entry: 0.0,
            lower,
            upper,
            cause: None,
            count: 1,
        }
    }

    /// A failure at usage `at`.
    #[must_use]
    pub fn exact(at: f64) -> Self {
        Self::between(at, at)
    }

    /// Still unfailed at usage `at`, then no longer watched.
    #[must_use]
    pub fn right_censored(at: f64) -> Self {
        Self::between(at, f64::INFINITY)
    }

    /// Unfailed at `after`, found failed at `by`.
    #[must_use]
    pub fn interval(after: f64, by: f64) -> Self {
        Self::between(after, by)
    }

    /// Found failed at `by`, never seen unfailed since observation began.
    #[must_use]
    pub fn left_censored(by: f64) -> Self {
        Self::between(0.0, by)
    }

    /// The same life, watched only from usage `entry` on. A left-censored life then failed after `entry`.
    #[must_use]
    pub fn entered_at(mut self, entry: f64) -> Self {
        let begins_at_entry =
            self.lower == self.entry && self.upper.is_finite() && self.upper > self.lower;
        if begins_at_entry {
            self.lower = entry;
        }
        self.entry = entry;
        self
    }

    /// The same life with its mode of failure.
    #[must_use]
    pub fn with_cause(mut self, cause: impl Into<String>) -> Self {
        self.cause = Some(cause.into());
        self
    }

    /// The same life, standing for `count` identical ones.
    #[must_use]
    pub fn times(mut self, count: u64) -> Self {
        self.count = count;
        self
    }

    /// How this life ended, read from its bounds.
    #[must_use]
    pub fn ending(&self) -> Ending {
        self.life().ending()
    }

    /// The same row as a view.
    #[must_use]
    pub fn life(&self) -> Life<'_> {
        Life {
            entry: self.entry,
            lower: self.lower,
            upper: self.upper,
            cause: self.cause.as_deref(),
            count: self.count,
        }
    }
}

/// A row of a [`Sample`](crate::sample::Sample), read in place; the fields are those of [`Observation`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Life<'a> {
    /// Usage already accumulated when observation began; 0 if seen from new.
    pub entry: f64,
    /// Last usage at which it was known to be unfailed.
    pub lower: f64,
    /// Usage at which it was known to have failed; infinite if never seen to fail.
    pub upper: f64,
    /// Mode of the failure, if it failed and the mode is known.
    pub cause: Option<&'a str>,
    /// How many identical lives this row stands for.
    pub count: u64,
}

impl Life<'_> {
    /// How this life ended, read from its bounds.
    #[must_use]
    #[inline]
    pub fn ending(&self) -> Ending {
        if self.upper.is_infinite() {
            Ending::RightCensored
        } else if self.lower >= self.upper {
            Ending::Exact
        } else if self.lower <= self.entry {
            Ending::LeftCensored
        } else {
            Ending::IntervalCensored
        }
    }
}

impl From<Life<'_>> for Observation {
    fn from(life: Life<'_>) -> Self {
        Self {
            entry: life.entry,
            lower: life.lower,
            upper: life.upper,
            cause: life.cause.map(str::to_owned),
            count: life.count,
        }
    }
}

/// What is known about the end of a life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Failed at a known usage.
    Exact,
    /// Not seen to fail.
    RightCensored,
    /// Failed some time between the start of observation and a known usage.
    LeftCensored,
    /// Failed between two known usages.
    IntervalCensored,
}
