//! Points of a long product-limit curve are the same to the last bit however they are read.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

use wearbook_analysis::nonparametric::{
    CurvePoint, LimitKind, Limits, SurvivalCurve, conditional_survival, kaplan_meier,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::summation::Sum;

/// Lives at usages that repeat now and then, each as usage and whether it failed.
fn lives(number: u32, repeat: u32) -> Vec<(f64, bool)> {
    (0..number)
        .map(|place| {
            let usage = 1.0 + f64::from(place.wrapping_mul(7919) % number / repeat);
            (usage, place % 7 != 0)
        })
        .collect()
}

/// The recurrence in one plain loop: usage, at risk, failed, survival, standard error.
fn plain(lives: &[(f64, bool)]) -> Vec<(f64, u64, u64, f64, f64)> {
    let mut sorted = lives.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut survival, mut relative, mut at_risk) = (1.0, Sum::default(), sorted.len() as u64);
    sorted
        .chunk_by(|a, b| a.0 == b.0)
        .map(|tied| {
            let failed = tied.iter().filter(|life| life.1).count() as u64;
            let (n, d) = (at_risk as f64, failed as f64);
            let before = at_risk;
            if failed > 0 {
                survival *= (n - d) / n;
                if failed < at_risk {
                    relative.add(d / (n * (n - d)));
                }
            }
            at_risk -= tied.len() as u64;
            let error = survival * relative.total().sqrt();
            (tied[0].0, before, failed, survival, error)
        })
        .collect()
}

fn check(curve: &SurvivalCurve) {
    let points: Vec<CurvePoint> = curve.points().collect();
    assert_eq!(points.len(), curve.len());
    assert_eq!(curve.is_empty(), points.is_empty());
    assert_eq!(curve.last(), points.last().copied());
    assert!(curve.points().rev().eq(points.iter().rev().copied()));
    for point in &points {
        assert_eq!(curve.survival_at(point.time), Some(point.survival));
    }
}

#[test]
fn long_curves_follow_the_plain_recurrence() {
    for number in [1, 2, 255, 256, 257, 511, 512, 513, 2_001] {
        for repeat in [1, 2, 5] {
            let lives = lives(number, repeat);
            let sample = Sample::from_ages(lives.iter().copied()).unwrap();
            let wanted = plain(&lives);
            for kind in [LimitKind::Plain, LimitKind::Log, LimitKind::LogLog] {
                let limits = Limits { kind, level: 0.9 };
                let curve = kaplan_meier(&sample, limits).unwrap();
                check(&curve);
                assert_eq!(curve.len(), wanted.len());
                for (point, (time, at_risk, failed, survival, error)) in curve.points().zip(&wanted)
                {
                    assert_eq!(
                        (point.time, point.at_risk, point.failed, point.survival),
                        (*time, *at_risk, *failed, *survival)
                    );
                    assert_eq!(
                        point.std_error,
                        (*survival > 0.0).then_some(*error),
                        "{number} {repeat}"
                    );
                }
            }
        }
    }
}

#[test]
fn late_entries_read_the_same_way() {
    let rows: Vec<Observation> = lives(1_500, 2)
        .into_iter()
        .enumerate()
        .map(|(place, (usage, failed))| {
            let row = if failed {
                Observation::exact(usage)
            } else {
                Observation::right_censored(usage)
            };
            row.entered_at(if place % 3 == 0 { 0.5 * usage } else { 0.0 })
        })
        .collect();
    let sample = Sample::new(rows).unwrap();
    check(&kaplan_meier(&sample, Limits::default()).unwrap());
    let later = conditional_survival(&sample, 100.0, Limits::default()).unwrap();
    check(&later.curve);
    assert!(later.curve.points().all(|point| point.time > 100.0));
}

#[test]
fn a_curve_outlives_its_sample_and_survival_is_1_before_it() {
    let curve = {
        let sample = Sample::from_ages(lives(600, 1)).unwrap();
        kaplan_meier(&sample, Limits::default()).unwrap()
    };
    assert_eq!(curve.survival_at(0.5), Some(1.0));
    assert_eq!(curve.len(), 600);
    assert_eq!(curve, curve.clone());
}
