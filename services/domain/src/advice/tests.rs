//! Worked figures, the rules one by one, then what must hold whatever the records say.

mod grades;
mod mixed_modes;
mod properties;
mod rules;
mod series;
mod worked;

use chrono::{DateTime, TimeZone, Utc};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::replacement::WeibullLife;
use wearbook_analysis::sample::Sample;

use super::*;
use crate::catalogue::{PartType, catalogue};
use crate::keys::{FailureModeKey, PartTypeKey};
use crate::units::{Share, WearScale};

fn part(key: &str) -> &'static PartType {
    catalogue()
        .part_type(&PartTypeKey::new(key).unwrap())
        .unwrap()
}

fn today() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 1, 31, 0, 0, 0).unwrap()
}

/// `pieces` lives spread evenly over a Weibull and watched up to `until`: the plainest sample of that life.
fn spread(shape: f64, scale: f64, pieces: u32, until: f64) -> Sample {
    let life = WeibullLife::new(shape, scale).unwrap();
    Sample::new((0..pieces).map(|piece| {
        let p = (f64::from(piece) + 0.5) / f64::from(pieces);
        match life.quantile(p) {
            Some(age) if age < until => Observation::exact(age).with_cause("tooth-shear"),
            _ => Observation::right_censored(until),
        }
    }))
    .unwrap()
}

/// Pieces that all ran to `until` without failing.
fn unfailed(pieces: u64, until: f64) -> Sample {
    Sample::new([Observation::right_censored(until).times(pieces)]).unwrap()
}

fn input<'a>(key: &str, sample: &'a Sample) -> AdviceInput<'a> {
    AdviceInput::new(part(key), WearScale::Flights, sample, today())
}

/// Owners, ages and completeness good enough for the best grade.
fn well_kept<'a>(key: &str, sample: &'a Sample) -> AdviceInput<'a> {
    AdviceInput {
        lives_per_contributor: &[10; 12],
        ages_known: Share::new(0.95).ok(),
        records_complete: Share::new(0.95).ok(),
        ..input(key, sample)
    }
}

fn assert_near(got: f64, wanted: f64, within: f64) {
    assert!(
        (got - wanted).abs() <= within,
        "{got} is not within {within} of {wanted}"
    );
}
