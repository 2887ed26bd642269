//! The flight log a pilot keeps: every flight, one rounded number a week, or with gaps.

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use crate::ids::{AirframeId, FlightsId};
use crate::units::{FlightMinutes, Rpm, Share};

use super::draw::{chance, minutes};
use super::fitting::Setting;
use super::flying::round_to;
use super::log::Flight;
use super::mint::bits;
use super::records::{DemoFlights, DurationBasis};

/// Turns flights into records as they come; a weekly batch waits until its week is over.
pub(super) struct Logbook<'s> {
    setting: &'s Setting<'s>,
    airframe: AirframeId,
    missing: f64,
    rounded_to: Option<u32>,
    gaps: Vec<(NaiveDate, NaiveDate)>,
    waiting: Vec<Flight>,
    /// Flights flown less flights written down, left over from rounding.
    owed: i64,
    pub rows: Vec<DemoFlights>,
}

impl<'s> Logbook<'s> {
    pub(super) fn open(
        setting: &'s Setting<'s>,
        airframe: AirframeId,
        joined: NaiveDate,
        random: &mut ChaCha8Rng,
    ) -> Self {
        let habits = setting
            .scenario
            .reporting
            .classes
            .get(&setting.pilot.reporting);
        let missing = habits.map_or(0.0, |habits| habits.flights_missing);
        let weeks = habits.and_then(|habits| habits.gap_weeks);
        let end = setting.scenario.period.end;
        Self {
            setting,
            airframe,
            missing: if weeks.is_some() { 0.0 } else { missing },
            rounded_to: habits.and_then(|habits| habits.rounded_to),
            gaps: weeks.map_or_else(Vec::new, |weeks| {
                draw_gaps(joined, end, weeks, missing, random)
            }),
            waiting: Vec::new(),
            owed: 0,
            rows: Vec::new(),
        }
    }

    /// Takes one flight; `told` flights are written down whatever the habits, since a report speaks of them.
    pub(super) fn take(&mut self, flight: &Flight, told: bool, random: &mut ChaCha8Rng) {
        let date = flight.at.date_naive();
        let in_gap = self
            .gaps
            .iter()
            .any(|(from, to)| (*from..*to).contains(&date));
        if !told && (in_gap || chance(random, self.missing)) {
            return;
        }
        if self.rounded_to.is_none() {
            self.write(std::slice::from_ref(flight), 1, flight.at, random);
            return;
        }
        let same_week = self
            .waiting
            .last()
            .is_none_or(|last| last.at.date_naive().iso_week() == date.iso_week());
        if !same_week {
            self.close_week(random);
        }
        self.waiting.push(flight.clone());
    }

    /// Writes the week's batch, rounded; what rounding left over is carried to the next.
    pub(super) fn close_week(&mut self, random: &mut ChaCha8Rng) {
        let step = i64::from(self.rounded_to.unwrap_or(1).max(1));
        self.write_batch(|flown| (flown + step / 2).div_euclid(step) * step, random);
    }

    /// A report asks how much the aircraft has flown by now, so the log is brought up to date to the flight.
    pub(super) fn bring_up_to_date(&mut self, random: &mut ChaCha8Rng) {
        self.write_batch(|flown| flown, random);
    }

    fn write_batch(&mut self, round: impl Fn(i64) -> i64, random: &mut ChaCha8Rng) {
        let waiting = std::mem::take(&mut self.waiting);
        // Not the landing: a failure in the last flight must find that flight written down.
        let Some(taken_off) = waiting.last().map(|flight| flight.at) else {
            return;
        };
        let flown = self.owed + i64::try_from(waiting.len()).unwrap_or(0);
        let written = u32::try_from(round(flown)).unwrap_or(0);
        self.owed = flown - i64::from(written);
        if written > 0 {
            self.write(&waiting, written, taken_off, random);
        }
    }

    fn write(
        &mut self,
        flights: &[Flight],
        count: u32,
        at: DateTime<Utc>,
        random: &mut ChaCha8Rng,
    ) {
        let reporting = &self.setting.scenario.reporting;
        let mean = |of: fn(&Flight) -> f64| {
            let (sum, number) = flights
                .iter()
                .fold((0.0, 0.0), |(sum, n), flight| (sum + of(flight), n + 1.0));
            sum / f64::max(number, 1.0)
        };
        let (each, duration_basis) = if chance(random, reporting.minutes_recorded) {
            (mean(|flight| flight.minutes), DurationBasis::Logged)
        } else {
            (self.setting.style.minutes_mean, DurationBasis::Estimated)
        };
        let head_speed = chance(random, reporting.head_speed_recorded)
            .then(|| round_to(mean(|flight| flight.head_speed_rpm), 10.0));
        let duration = FlightMinutes::new(round_to(each * f64::from(count), 0.1));
        let hard_share = Share::new(round_to(mean(|flight| flight.hard_share), 0.05));
        // Both lie well inside their ranges, by the way flights are drawn.
        let (Ok(duration_minutes), Ok(hard_share)) = (duration, hard_share) else {
            return;
        };
        self.rows.push(DemoFlights {
            id: FlightsId::from_parts(at, bits(random)),
            airframe: self.airframe,
            flown_at: at,
            count,
            duration_minutes,
            duration_basis,
            head_speed_rpm: head_speed.and_then(|rpm| Rpm::new(rpm).ok()),
            hard_share,
        });
    }
}

/// Spells without records, so long and so often that the stated share of flights is missing.
fn draw_gaps(
    from: NaiveDate,
    end: NaiveDate,
    (least, most): (u32, u32),
    missing: f64,
    random: &mut ChaCha8Rng,
) -> Vec<(NaiveDate, NaiveDate)> {
    let mean_gap_days = f64::from(7 * (least + most)) / 2.0;
    let mean_kept_days = mean_gap_days * (1.0 - missing) / missing.max(0.01);
    let mut gaps = Vec::new();
    let mut day = from;
    while day <= end {
        let kept_days = mean_kept_days * random.random_range(0.5..1.5);
        let begin = day + minutes(kept_days * 24.0 * 60.0);
        let until = begin + Days::new(u64::from(7 * random.random_range(least..=most)));
        gaps.push((begin, until));
        day = until;
    }
    gaps
}
