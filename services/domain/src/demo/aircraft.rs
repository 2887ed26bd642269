//! One aircraft as it truly fared, day by day: flights, failures in the air, and the work of the evening.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use rand_chacha::ChaCha8Rng;

use super::draw::chance;
use super::fitting::Setting;
use super::flight::Landing;
use super::flying::FlyingDay;
use super::log::{Fitted, Flight, Happening};
use super::scenario::{CheckGroup, Part};
use super::wear::Item;

/// A position of the design with the item that sits in it.
pub(super) struct Slot<'s> {
    pub part: &'s Part,
    pub item: Item,
}

/// An aircraft in the middle of its story.
pub(super) struct Aircraft<'s> {
    pub(super) setting: &'s Setting<'s>,
    pub(super) slots: Vec<Slot<'s>>,
    pub(super) log: Vec<Happening>,
    pub(super) random: &'s mut ChaCha8Rng,
    pub(super) flights_since_check: BTreeMap<CheckGroup, u32>,
    /// Since it was new here or came back from a crash repair.
    pub(super) fresh_flights: u32,
    /// No flight up to and including this day.
    pub(super) grounded_to: Option<NaiveDate>,
    pub(super) written_off_at: Option<DateTime<Utc>>,
    pub(super) occasions: u32,
    pub(super) crashes: u32,
    /// Flights that could not be flown and will be made up.
    postponed: Vec<Flight>,
    emerging_begun: bool,
}

impl<'s> Aircraft<'s> {
    /// The aircraft on the day it joins; what it brings along has a history if it has flown before.
    pub(super) fn new(
        setting: &'s Setting<'s>,
        parts: &[&'s Part],
        joined_at: DateTime<Utc>,
        flights_before: u32,
        random: &'s mut ChaCha8Rng,
    ) -> Self {
        let day = joined_at.date_naive();
        let mut lots = BTreeMap::new();
        let mut slots = Vec::new();
        for part in parts {
            let item = if flights_before > 0 {
                setting.draw_used_item(part, day, f64::from(flights_before), random)
            } else {
                let lot = lots
                    .entry(&part.part_type)
                    .or_insert_with(|| setting.draw_lot(part, day, random))
                    .clone();
                setting.draw_item(part, day, lot, random)
            };
            slots.push(Slot { part, item });
        }
        let log = (0..)
            .zip(&slots)
            .map(|(slot, Slot { item, .. })| {
                Happening::Fitted(Fitted {
                    at: joined_at,
                    slot,
                    lot: item.lot.clone(),
                    worn: item.worn,
                })
            })
            .collect();
        Self {
            setting,
            slots,
            log,
            random,
            flights_since_check: parts.iter().map(|part| (part.check_group, 0)).collect(),
            fresh_flights: if flights_before > 0 { u32::MAX } else { 0 },
            grounded_to: None,
            written_off_at: None,
            occasions: 0,
            crashes: 0,
            postponed: Vec::new(),
            emerging_begun: day >= setting.scenario.emerging_mode.starts,
        }
    }

    pub(super) fn live_through(&mut self, days: &[FlyingDay]) {
        for day in days {
            if self.written_off_at.is_some() {
                break;
            }
            if self.grounded_to.is_none_or(|last| day.date > last) {
                self.begin_emerging(day.date);
                self.live_day(day);
            } else {
                self.postpone(&day.flights);
            }
        }
        self.log.sort_by_key(Happening::at);
    }

    /// From its first day the emerging mode threatens what already sits in the aircraft.
    fn begin_emerging(&mut self, date: NaiveDate) {
        if self.emerging_begun || date < self.setting.scenario.emerging_mode.starts {
            return;
        }
        self.emerging_begun = true;
        for slot in &mut self.slots {
            self.setting
                .add_emerging(slot.part, &mut slot.item, self.random);
        }
    }

    fn live_day(&mut self, day: &FlyingDay) {
        let flights = self.with_some_postponed(day);
        let mut evening = None;
        let mut jobs = Vec::new();
        for (index, flight) in flights.iter().enumerate() {
            evening = Some(flight.landed() + TimeDelta::minutes(45));
            let rest = flights.get(index + 1..).unwrap_or_default();
            match self.fly(flight) {
                Landing::Fine => {}
                Landing::Broken(broken) => {
                    jobs = broken;
                    self.postpone(rest);
                    break;
                }
                Landing::Crashed => return self.postpone(rest),
            }
        }
        if let Some(mut clock) = evening {
            self.work(jobs, &mut clock);
            self.look_after(&mut clock);
        }
    }

    fn postpone(&mut self, flights: &[Flight]) {
        let made_up = self.setting.scenario.usage.missed_flights_made_up;
        for flight in flights {
            if chance(self.random, made_up) {
                self.postponed.push(flight.clone());
            }
        }
    }

    /// The day's flights, and behind them a few of those that wait.
    fn with_some_postponed(&mut self, day: &FlyingDay) -> Vec<Flight> {
        let mut flights = day.flights.clone();
        for _ in 0..self.setting.scenario.usage.made_up_flights_a_day {
            let Some((last, waiting)) = flights.last().cloned().zip(self.postponed.pop()) else {
                break;
            };
            flights.push(Flight {
                at: last.landed() + TimeDelta::minutes(12),
                ..waiting
            });
        }
        flights
    }
}
