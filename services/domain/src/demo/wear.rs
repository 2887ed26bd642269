//! One physical item: what it has run, and what will end it.

use crate::keys::FailureModeKey;
use crate::units::{FlightMinutes, Flights, RotorKiloRevolutions, Usage};
use crate::vocabulary::FailureCause;

use super::scenario::{Outcome, PartScale};

/// Usage in plain numbers, as it truly was.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Worn {
    pub flights: f64,
    pub minutes: f64,
    pub krev: f64,
}

impl Worn {
    pub(super) fn of_flights(flights: f64, minutes_each: f64, head_speed_rpm: f64) -> Self {
        let minutes = flights * minutes_each;
        Self {
            flights,
            minutes,
            krev: minutes * head_speed_rpm / 1000.0,
        }
    }

    pub(super) fn add(&mut self, more: Self) {
        self.flights += more.flights;
        self.minutes += more.minutes;
        self.krev += more.krev;
    }

    /// The same as a recorded usage, in whole flights and minutes.
    pub(super) fn to_usage(self) -> Option<Usage> {
        Some(Usage {
            flights: Flights::new(self.flights.floor()).ok()?,
            flight_minutes: Some(FlightMinutes::new(self.minutes.floor()).ok()?),
            rotor_krev: Some(RotorKiloRevolutions::new(self.krev.floor()).ok()?),
        })
    }

    pub(super) fn on(&self, scale: PartScale) -> f64 {
        match scale {
            PartScale::Flights | PartScale::ChargeCycles => self.flights,
            PartScale::FlightMinutes => self.minutes,
            PartScale::RotorKrev => self.krev,
        }
    }
}

/// One way this item will fail if it is left in, at a usage of the item on its scale.
#[derive(Debug, Clone)]
pub(super) struct Threat {
    pub at: f64,
    pub visible_from: f64,
    pub mode: FailureModeKey,
    pub cause: FailureCause,
    pub outcome: Outcome,
    /// Came in with the fit; a settling check can catch it.
    pub from_assembly: bool,
}

/// A physical item in its position.
#[derive(Debug, Clone)]
pub(super) struct Item {
    pub scale: PartScale,
    pub worn: Worn,
    /// The failures that wait for it, in no order; never empty.
    pub threats: Vec<Threat>,
    pub renew_at_flights: Option<f64>,
    pub settling_check_at_flights: Option<f64>,
    pub lot: Option<String>,
    /// It failed and the flight went on; nobody has seen it yet.
    pub failed_unseen: Option<Threat>,
}

impl Item {
    /// The first failure that is due by now.
    pub(super) fn due(&self) -> Option<&Threat> {
        if self.failed_unseen.is_some() {
            return None;
        }
        self.nearest()
            .filter(|threat| threat.at <= self.worn.on(self.scale))
    }

    /// The first failure whose signs can be seen by now.
    pub(super) fn visible(&self) -> Option<&Threat> {
        let now = self.worn.on(self.scale);
        self.threats
            .iter()
            .filter(|threat| threat.visible_from <= now)
            .min_by(|a, b| a.at.total_cmp(&b.at))
    }

    pub(super) fn nearest(&self) -> Option<&Threat> {
        self.threats.iter().min_by(|a, b| a.at.total_cmp(&b.at))
    }

    /// Shortens what is left of its life, as a crash does that leaves no mark.
    pub(super) fn weaken(&mut self, factor: f64) {
        let now = self.worn.on(self.scale);
        for threat in &mut self.threats {
            threat.at = now + (threat.at - now).max(0.0) * factor;
            threat.visible_from = threat.visible_from.min(threat.at);
            threat.cause = FailureCause::Crash;
        }
    }
}
