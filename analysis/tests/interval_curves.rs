//! Survival from intervals: against the product-limit curve, and against other curves on the same lives.

use proptest::prelude::*;
use wearbook_analysis::nonparametric::{
    EstimateError, Limits, TurnbullCurve, kaplan_meier, turnbull,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn cases() -> ProptestConfig {
    ProptestConfig {
        cases: std::env::var("PROPTEST_CASES")
            .ok()
            .and_then(|v| v.parse().ok())
            .unwrap_or(300),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Whole-numbered usages, so that ties, touching intervals and entries at exits happen.
fn lives(exact_only: bool, largest: u64) -> impl Strategy<Value = Vec<Observation>> {
    let life = (
        0u32..12,
        1u32..8,
        1u32..6,
        0u8..4,
        prop::sample::select(vec![1_u64, 1, 2, largest]),
    );
    let life = life.prop_map(move |(entry, after, width, kind, count)| {
        let entry = if entry > 6 { 0.0 } else { f64::from(entry) };
        let (from, to) = (entry + f64::from(after), entry + f64::from(after + width));
        match kind {
            0 | 1 if exact_only => Observation::exact(from),
            2 | 3 if exact_only => Observation::right_censored(from),
            0 => Observation::exact(from),
            1 => Observation::right_censored(from),
            2 => Observation::interval(from, to),
            _ => Observation::left_censored(to),
        }
        .entered_at(entry)
        .times(count)
    });
    prop::collection::vec(life, 1..25)
}

/// Log-likelihood of lives under a curve that puts `mass` at each usage, given survival to entry.
fn log_likelihood(lives: &[Observation], masses: &[(f64, f64)]) -> f64 {
    let within = |from: f64, to: f64| -> f64 {
        masses
            .iter()
            .filter(|(at, _)| *at > from && *at <= to)
            .map(|(_, mass)| mass)
            .sum()
    };
    lives
        .iter()
        .map(|life| {
            let own = if life.lower == life.upper {
                masses
                    .iter()
                    .filter(|(at, _)| *at == life.upper)
                    .map(|(_, mass)| mass)
                    .sum()
            } else {
                within(life.lower, life.upper)
            };
            life.count as f64 * (own / within(life.entry, f64::INFINITY)).ln()
        })
        .sum()
}

/// Every mass at the end of its interval; what is never seen to fail, far out.
fn masses(curve: &TurnbullCurve) -> Vec<(f64, f64)> {
    curve
        .support
        .iter()
        .map(|interval| (interval.by.unwrap_or(1e9), interval.probability))
        .collect()
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn exact_failures_give_the_product_limit(lives in lives(true, 1_000_000_000)) {
        let sample = Sample::new(lives).expect("valid lives");
        let product = kaplan_meier(&sample, Limits::default()).expect("a curve");
        let curve = turnbull(&sample).expect("a curve");
        let mut survival = 1.0;
        for point in product.points().filter(|point| point.failed > 0) {
            if survival <= 0.0 {
                break;
            }
            survival = point.survival;
            let got = curve.support.iter().find(|interval| interval.by == Some(point.time));
            let got = got.map_or(f64::NAN, |interval| interval.survival_after);
            prop_assert!((got - point.survival).abs() <= 1e-7, "{got} {}", point.survival);
        }
    }

    #[test]
    fn no_other_curve_has_a_higher_likelihood(
        lives in lives(false, 50),
        other in prop::collection::vec((0u32..40, 0.001..1.0_f64), 1..20),
        nudge in prop::collection::vec(-0.2..0.2_f64, 60),
    ) {
        let sample = Sample::new(lives.clone()).expect("valid lives");
        let curve = turnbull(&sample).expect("a curve");
        let slack = 1e-6 * (1.0 + curve.log_likelihood.abs());
        prop_assert!(curve.gradient_excess <= 1e-9);
        let total: f64 = curve.support.iter().map(|interval| interval.probability).sum();
        prop_assert!(curve.support.is_empty() || (total - 1.0).abs() < 1e-9);
        let best = log_likelihood(&lives, &masses(&curve));
        if best.is_finite() {
            prop_assert!((best - curve.log_likelihood).abs() <= slack, "{best} {}", curve.log_likelihood);
        } else {
            // Lives that entered after the curve had stopped.
            prop_assert!(!curve.warnings.is_empty());
        }
        // A far-fetched curve, and the best one with its masses nudged.
        let far: Vec<(f64, f64)> = other.iter().map(|(at, mass)| (f64::from(*at) * 0.5, *mass)).chain([(1e9, 0.1)]).collect();
        let near: Vec<(f64, f64)> = masses(&curve).iter().zip(&nudge).map(|((at, mass), nudge)| (*at, mass * (1.0 + nudge))).collect();
        for rival in [far, near] {
            let rival = log_likelihood(&lives, &rival);
            prop_assert!(!rival.is_finite() || rival <= curve.log_likelihood + slack, "{rival} {}", curve.log_likelihood);
        }
    }

    #[test]
    fn counts_far_apart_give_a_falling_curve_or_say_that_the_search_stopped(lives in lives(false, 1_000_000_000)) {
        let curve = match turnbull(&Sample::new(lives).expect("valid lives")) {
            Ok(curve) => curve,
            Err(error) => {
                prop_assert_eq!(error, EstimateError::NotConverged);
                return Ok(());
            }
        };
        let mut before = 1.0;
        for interval in &curve.support {
            prop_assert!(interval.survival_after <= before && interval.survival_after >= 0.0);
            prop_assert!(interval.probability > 0.0 && interval.probability <= 1.0);
            before = interval.survival_after;
        }
    }
}

#[test]
fn a_curve_that_stops_early_under_late_entry_says_so() {
    let sample = Sample::new([
        Observation::interval(1.0, 2.0),
        Observation::interval(5.0, 6.0).entered_at(4.0),
        Observation::right_censored(8.0).entered_at(4.0),
    ])
    .expect("valid lives");
    let curve = turnbull(&sample).expect("a curve");
    assert_eq!(curve.support.len(), 1);
    assert_eq!(curve.support[0].survival_after, 0.0);
    assert_eq!(curve.warnings.len(), 2, "{:?}", curve.warnings);
}

#[test]
fn late_entry_moves_an_interval_curve() {
    // Two looks: of 10 from new 4 fail by 1 and 3 of the rest by 2; 6 enter at 1 and 2 fail by 2. By hand, 1 - 4/10
    // and then 1 - 5/12.
    let sample = Sample::new([
        Observation::left_censored(1.0).times(4),
        Observation::interval(1.0, 2.0).times(3),
        Observation::right_censored(2.0).times(3),
        Observation::left_censored(2.0).entered_at(1.0).times(2),
        Observation::right_censored(2.0).entered_at(1.0).times(4),
    ])
    .expect("valid lives");
    let curve = turnbull(&sample).expect("a curve");
    let survival: Vec<f64> = curve
        .support
        .iter()
        .map(|interval| interval.survival_after)
        .collect();
    for (got, want) in survival.iter().zip([0.6, 0.6 * 7.0 / 12.0, 0.0]) {
        assert!((got - want).abs() < 1e-8, "{survival:?}");
    }
    assert!(curve.warnings.is_empty());
}
