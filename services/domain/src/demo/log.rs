//! What truly happened to one airframe, before anybody wrote anything down.

use chrono::{DateTime, Utc};

use crate::keys::FailureModeKey;
use crate::vocabulary::{Discovery, FailureCause, FailureRole, RemovalReason};

use super::wear::Worn;

/// One thing that happened; `slot` counts the positions of the design in their order.
#[derive(Debug, Clone)]
pub(super) enum Happening {
    Flew(Flight),
    Ended(Ended),
    Fitted(Fitted),
    /// Somebody looked and was content.
    FoundSound {
        at: DateTime<Utc>,
        slots: Vec<usize>,
    },
}

impl Happening {
    pub(super) fn at(&self) -> DateTime<Utc> {
        match self {
            Self::Flew(flight) => flight.at,
            Self::Ended(ended) => ended.at,
            Self::Fitted(fitted) => fitted.at,
            Self::FoundSound { at, .. } => *at,
        }
    }
}

/// One flight, from its take-off.
#[derive(Debug, Clone)]
pub(super) struct Flight {
    pub at: DateTime<Utc>,
    pub minutes: f64,
    pub head_speed_rpm: f64,
    pub hard_share: f64,
}

impl Flight {
    pub(super) fn landed(&self) -> DateTime<Utc> {
        self.at + super::draw::minutes(self.minutes)
    }
}

/// A component came out of its position.
#[derive(Debug, Clone)]
pub(super) struct Ended {
    pub at: DateTime<Utc>,
    pub slot: usize,
    pub occasion: Occasion,
    pub reason: RemovalReason,
    pub failure: Option<Failed>,
}

/// What made a pilot or a shop take parts out; whatever comes out on one occasion is reported together or not at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Occasion {
    pub number: u32,
    pub kind: OccasionKind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OccasionKind {
    InFlightFailure,
    Finding,
    PlannedRenewal,
    CrashDamage,
    /// The aircraft is gone, which nobody can fail to notice.
    WriteOff,
}

/// A function was lost or a defect found.
#[derive(Debug, Clone)]
pub(super) struct Failed {
    pub at: DateTime<Utc>,
    pub mode: FailureModeKey,
    pub cause: FailureCause,
    pub role: FailureRole,
    pub discovery: Discovery,
    pub effect: Effect,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Effect {
    Crash,
    ForcedLanding,
    CarriedOn,
    SeenOnTheGround,
}

/// A component went into a position.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    pub at: DateTime<Utc>,
    pub slot: usize,
    pub lot: Option<String>,
    /// What it had already run; nothing for a new one.
    pub worn: Worn,
}
