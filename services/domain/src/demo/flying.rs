//! When one aircraft is flown: weeks that cluster, weekends, winters and a holiday.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeDelta, Utc, Weekday};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::draw::{chance, negative_binomial, normal};
use super::fitting::Setting;
use super::log::Flight;

/// The flights of one aircraft on one day, in order; never empty.
#[derive(Debug, Clone)]
pub(super) struct FlyingDay {
    pub date: NaiveDate,
    pub flights: Vec<Flight>,
}

/// Every day on which the aircraft would be flown, if it were never broken, after the day it joins.
pub(super) fn days(
    setting: &Setting<'_>,
    joined: NaiveDate,
    random: &mut ChaCha8Rng,
) -> Vec<FlyingDay> {
    let end = setting.scenario.period.end;
    let mut days = Vec::new();
    let mut monday = joined.week(Weekday::Mon).first_day();
    let mut holiday = Holiday::draw(setting, monday.year(), random);
    while monday <= end {
        if monday.year() != holiday.year {
            holiday = Holiday::draw(setting, monday.year(), random);
        }
        let count = if holiday.covers(monday) {
            0
        } else {
            flights_in_week(setting, monday, random)
        };
        let mut per_day = [0_u32; 7];
        for _ in 0..count {
            let day = day_of_week(setting, random);
            if let Some(flights) = per_day.get_mut(day) {
                *flights += 1;
            }
        }
        for (offset, flights) in (0_u64..).zip(per_day) {
            let date = monday + Days::new(offset);
            if flights > 0 && date > joined && date <= end {
                days.push(flying_day(setting, date, flights, random));
            }
        }
        monday = monday + Days::new(7);
    }
    days
}

/// One to three weeks a year away from the field.
struct Holiday {
    year: i32,
    first_week: u32,
    weeks: u32,
}

impl Holiday {
    fn draw(setting: &Setting<'_>, year: i32, random: &mut ChaCha8Rng) -> Self {
        let (least, most) = setting.scenario.usage.holiday_gap_weeks;
        Self {
            year,
            first_week: random.random_range(18..=38),
            weeks: random.random_range(least..=most),
        }
    }

    fn covers(&self, monday: NaiveDate) -> bool {
        (self.first_week..self.first_week + self.weeks).contains(&monday.iso_week().week())
    }

    /// Mean share of the year that holidays take.
    fn share_of_year(setting: &Setting<'_>) -> f64 {
        let (least, most) = setting.scenario.usage.holiday_gap_weeks;
        f64::from(least + most) / 2.0 / 52.0
    }
}

fn flights_in_week(setting: &Setting<'_>, monday: NaiveDate, random: &mut ChaCha8Rng) -> u32 {
    let usage = &setting.scenario.usage;
    // The stated share of empty weeks holds the holiday, which is drawn apart.
    if chance(
        random,
        usage.zero_week_share - Holiday::share_of_year(setting),
    ) {
        return 0;
    }
    let month = usize::try_from(monday.month0()).unwrap_or(0);
    let activity = setting
        .scenario
        .region
        .month_activity
        .get(month)
        .copied()
        .unwrap_or(1.0);
    let mean = setting.pilot.flights_per_week * setting.plan.flight_share * activity;
    negative_binomial(random, mean, usage.dispersion)
}

/// Monday is 0.
fn day_of_week(setting: &Setting<'_>, random: &mut ChaCha8Rng) -> usize {
    if chance(random, setting.scenario.usage.weekend_share) {
        random.random_range(5..7)
    } else {
        random.random_range(0..5)
    }
}

fn flying_day(
    setting: &Setting<'_>,
    date: NaiveDate,
    count: u32,
    random: &mut ChaCha8Rng,
) -> FlyingDay {
    let style = setting.style;
    // From nine in the morning, local time; a busy day has shorter breaks, but never shorter than a flight.
    let begin = local_clock(setting, date, 9) + TimeDelta::minutes(random.random_range(0..200));
    let gap = TimeDelta::minutes(i64::from((330 / count).clamp(14, 26)));
    let mut at = begin;
    let flights = (0..count)
        .map(|_| {
            let minutes = normal(random, style.minutes_mean, style.minutes_sd);
            let flight = Flight {
                at,
                minutes: round_to(minutes.clamp(style.shortest_minutes, 13.0), 0.1),
                head_speed_rpm: round_to(normal(random, setting.plan.head_speed_rpm, 25.0), 10.0),
                hard_share: round_to(
                    normal(random, style.hard_share_mean, style.hard_share_sd).clamp(0.0, 1.0),
                    0.05,
                )
                .min(1.0),
            };
            at += gap;
            flight
        })
        .collect();
    FlyingDay { date, flights }
}

/// An instant on that day by the clock of the place.
pub(super) fn local_clock(setting: &Setting<'_>, date: NaiveDate, hour: u32) -> DateTime<Utc> {
    let offset = TimeDelta::hours(i64::from(setting.scenario.region.utc_offset_hours));
    date.and_time(NaiveTime::MIN).and_utc() + TimeDelta::hours(i64::from(hour)) - offset
}

/// The nearest multiple of `step`, free of the dust of binary fractions where the step is a decimal one.
pub(super) fn round_to(value: f64, step: f64) -> f64 {
    let per_unit = (1.0 / step).round();
    if per_unit >= 1.0 {
        (value * per_unit).round() / per_unit
    } else {
        (value / step).round() * step
    }
}
