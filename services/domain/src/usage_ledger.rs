//! One airframe's flights and readings, in order: what its usage was at any moment.
//!
//! A reading states the counter and overrules what was logged before it; flights after it add to it. Where a scale was not
//! kept (a reading without minutes that jumps ahead, a flight without head speed) the ledger remembers the gap: differences
//! across it are unknown, differences on either side of it are not.

use chrono::{DateTime, Utc};

use crate::units::{FlightMinutes, Flights, QuantityError, RotorKiloRevolutions, Rpm, Usage};

/// One record of flights, as it counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoggedFlights {
    /// When they were flown (a batch counts at one moment).
    pub at: DateTime<Utc>,
    /// How many.
    pub flights: Flights,
    /// Minutes of all of them together.
    pub minutes: FlightMinutes,
    /// Mean head speed, if anybody wrote it down.
    pub head_speed: Option<Rpm>,
}

/// A stated counter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// When it was read.
    pub at: DateTime<Utc>,
    /// What it said; absent scales were not kept.
    pub usage: Usage,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    at: DateTime<Utc>,
    flights: f64,
    minutes: f64,
    rotor_krev: f64,
    minutes_gap: bool,
    rotor_gap: bool,
}

/// Usage of one airframe over time.
#[derive(Debug, Clone, Default)]
pub struct UsageLedger {
    steps: Vec<Step>,
}

/// The ledger as seen by one installation: from its fitting to its end.
#[derive(Debug, Clone, Copy)]
pub struct LedgerWindow<'a> {
    ledger: &'a UsageLedger,
    minutes_known: bool,
    rotor_known: bool,
}

enum Entry {
    Flown(LoggedFlights),
    Read(Reading),
}

impl UsageLedger {
    /// Orders the records. At the same moment flights come before the reading, which includes them.
    #[must_use]
    pub fn new(
        flights: Vec<LoggedFlights>,
        readings: Vec<Reading>,
        usual_head_speed: Option<Rpm>,
    ) -> Self {
        let mut entries: Vec<(DateTime<Utc>, u8, Entry)> = flights
            .into_iter()
            .map(|flown| (flown.at, 0, Entry::Flown(flown)))
            .chain(
                readings
                    .into_iter()
                    .map(|reading| (reading.at, 1, Entry::Read(reading))),
            )
            .collect();
        entries.sort_by_key(|(at, order, _)| (*at, *order));
        let mut steps: Vec<Step> = Vec::with_capacity(entries.len());
        for (at, _, entry) in entries {
            let before = steps.last().copied().unwrap_or(Step {
                at,
                flights: 0.0,
                minutes: 0.0,
                rotor_krev: 0.0,
                minutes_gap: false,
                rotor_gap: false,
            });
            steps.push(match entry {
                Entry::Flown(flown) => after_flights(before, &flown, usual_head_speed),
                Entry::Read(reading) => after_reading(before, &reading),
            });
        }
        Self { steps }
    }

    /// The last moment that anything is known of, if anything is.
    #[must_use]
    pub fn last_at(&self) -> Option<DateTime<Utc>> {
        self.steps.last().map(|step| step.at)
    }

    /// The view of one installation, from its fitting to its removal (or to the last record).
    #[must_use]
    pub fn window(&self, from: DateTime<Utc>, to: Option<DateTime<Utc>>) -> LedgerWindow<'_> {
        let first = self.steps.partition_point(|step| step.at <= from);
        let last = to.map_or(self.steps.len(), |to| {
            self.steps.partition_point(|step| step.at <= to)
        });
        let inside = self.steps.get(first..last.max(first)).unwrap_or_default();
        LedgerWindow {
            ledger: self,
            minutes_known: !inside.iter().any(|step| step.minutes_gap),
            rotor_known: !inside.iter().any(|step| step.rotor_gap),
        }
    }
}

impl LedgerWindow<'_> {
    /// Usage at a moment, everything up to and including it counted. Scales with a gap in this window are absent.
    ///
    /// # Errors
    /// When a sum leaves the range of its quantity.
    pub fn at(&self, moment: DateTime<Utc>) -> Result<Usage, QuantityError> {
        let count = self.ledger.steps.partition_point(|step| step.at <= moment);
        let step = count
            .checked_sub(1)
            .and_then(|index| self.ledger.steps.get(index));
        let (flights, minutes, rotor_krev) = step.map_or((0.0, 0.0, 0.0), |step| {
            (step.flights, step.minutes, step.rotor_krev)
        });
        Ok(Usage {
            flights: Flights::new(flights)?,
            flight_minutes: self
                .minutes_known
                .then(|| FlightMinutes::new(minutes))
                .transpose()?,
            rotor_krev: self
                .rotor_known
                .then(|| RotorKiloRevolutions::new(rotor_krev))
                .transpose()?,
        })
    }
}

fn after_flights(before: Step, flown: &LoggedFlights, usual_head_speed: Option<Rpm>) -> Step {
    let head_speed = flown.head_speed.or(usual_head_speed);
    let turns = head_speed.map_or(0.0, |rpm| flown.minutes.get() * rpm.get() / 1000.0);
    Step {
        at: flown.at,
        flights: before.flights + flown.flights.get(),
        minutes: before.minutes + flown.minutes.get(),
        rotor_krev: before.rotor_krev + turns,
        minutes_gap: false,
        rotor_gap: head_speed.is_none(),
    }
}

fn after_reading(before: Step, reading: &Reading) -> Step {
    let flights = reading.usage.flights.get();
    let jumped = flights > before.flights;
    let minutes = reading.usage.flight_minutes.map(FlightMinutes::get);
    let rotor = reading.usage.rotor_krev.map(RotorKiloRevolutions::get);
    Step {
        at: reading.at,
        flights,
        minutes: minutes.unwrap_or(before.minutes),
        rotor_krev: rotor.unwrap_or(before.rotor_krev),
        minutes_gap: minutes.is_none() && jumped,
        rotor_gap: rotor.is_none() && jumped,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeZone;

    fn day(day: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2025, 6, day, 12, 0, 0).unwrap()
    }

    fn flown(on: u32, flights: f64, minutes: f64, rpm: Option<f64>) -> LoggedFlights {
        LoggedFlights {
            at: day(on),
            flights: Flights::new(flights).unwrap(),
            minutes: FlightMinutes::new(minutes).unwrap(),
            head_speed: rpm.map(|rpm| Rpm::new(rpm).unwrap()),
        }
    }

    fn read(on: u32, flights: f64, minutes: Option<f64>) -> Reading {
        Reading {
            at: day(on),
            usage: Usage {
                flights: Flights::new(flights).unwrap(),
                flight_minutes: minutes.map(|minutes| FlightMinutes::new(minutes).unwrap()),
                rotor_krev: None,
            },
        }
    }

    #[test]
    fn usage_is_the_sum_of_the_flights_up_to_a_moment() {
        let ledger = UsageLedger::new(
            vec![
                flown(3, 1.0, 5.0, Some(2000.0)),
                flown(1, 2.0, 10.0, Some(1800.0)),
            ],
            vec![],
            None,
        );
        let usage = ledger.window(day(1), None).at(day(2)).unwrap();
        assert_eq!(usage.flights.get(), 2.0);
        let usage = ledger.window(day(1), None).at(day(3)).unwrap();
        assert_eq!(
            (usage.flights.get(), usage.flight_minutes.unwrap().get()),
            (3.0, 15.0)
        );
        assert_eq!(usage.rotor_krev.unwrap().get(), 28.0);
    }

    #[test]
    fn a_reading_overrules_the_log_and_later_flights_add_to_it() {
        let ledger = UsageLedger::new(
            vec![flown(1, 2.0, 10.0, None), flown(5, 1.0, 6.0, None)],
            vec![read(4, 100.0, Some(520.0))],
            Some(Rpm::new(2000.0).unwrap()),
        );
        let usage = ledger.window(day(1), None).at(day(6)).unwrap();
        assert_eq!(
            (usage.flights.get(), usage.flight_minutes.unwrap().get()),
            (101.0, 526.0)
        );
        assert_eq!(
            usage.rotor_krev, None,
            "the reading jumped ahead without saying how many turns"
        );
    }

    #[test]
    fn a_gap_before_the_fitting_does_not_hide_what_came_after_it() {
        let ledger = UsageLedger::new(
            vec![flown(5, 1.0, 6.0, Some(1900.0))],
            vec![read(2, 150.0, None)],
            None,
        );
        let window = ledger.window(day(2), None);
        let gained = window
            .at(day(6))
            .unwrap()
            .since(&window.at(day(2)).unwrap())
            .unwrap();
        assert_eq!(
            (gained.flights.get(), gained.flight_minutes.unwrap().get()),
            (1.0, 6.0)
        );
        assert_eq!(
            ledger
                .window(day(1), None)
                .at(day(6))
                .unwrap()
                .flight_minutes,
            None
        );
    }

    #[test]
    fn a_flight_without_any_head_speed_leaves_only_the_turns_unknown() {
        let ledger = UsageLedger::new(vec![flown(1, 1.0, 6.0, None)], vec![], None);
        let usage = ledger
            .window(day(1) - chrono::Duration::days(1), None)
            .at(day(2))
            .unwrap();
        assert_eq!(usage.flight_minutes.unwrap().get(), 6.0);
        assert_eq!(usage.rotor_krev, None);
    }

    #[test]
    fn an_empty_ledger_knows_zero() {
        let usage = UsageLedger::default()
            .window(day(1), None)
            .at(day(2))
            .unwrap();
        assert_eq!(usage.flights.get(), 0.0);
    }
}
