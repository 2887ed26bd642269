//! Gamma, generalised gamma and three-parameter Weibull against slow implementations.

use proptest::prelude::*;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{
    Edge, Fit, LifeDistribution, NestedError, ThresholdLikelihood, fit, known_shape, nested,
    threshold_weibull,
};
use wearbook_analysis::observation::{Ending, Observation};
use wearbook_analysis::sample::Sample;
use wearbook_analysis::warning::WarningCode;

const FURTHER: [Family; 3] = [
    Family::Gamma,
    Family::GeneralisedGamma,
    Family::ThresholdWeibull,
];

/// Lives of a Weibull with a threshold, under every kind of censoring.
fn lives(most: usize) -> impl Strategy<Value = Vec<Observation>> {
    let life = (1e-6..1.0_f64, 0.3..3.0_f64, 0u8..9, 0.0..0.95_f64, 1u64..4);
    (
        prop::collection::vec(life, 4..most),
        -1.6..3.0_f64,
        -6.0..9.0_f64,
        prop::sample::select(vec![0.0, 0.5, 3.0]),
    )
        .prop_map(|(lives, ln_shape, lg_scale, threshold)| {
            let (shape, scale) = (ln_shape.exp(), 10.0_f64.powf(lg_scale));
            lives
                .into_iter()
                .map(|(u, stop, kind, part, count)| {
                    let t = scale * (threshold + (-u.ln()).max(1e-12).powf(1.0 / shape));
                    let stop = scale * (threshold + stop.powf(1.0 / shape));
                    match kind {
                        0..=2 if t <= stop => Observation::exact(t),
                        0..=2 => Observation::right_censored(stop),
                        3 => Observation::right_censored(t),
                        4 => Observation::exact(t).entered_at(part * t),
                        5 => Observation::interval(part * t, t),
                        6 => Observation::right_censored(t).entered_at(part * t),
                        7 => Observation::left_censored(t).entered_at(part * t),
                        _ => Observation::exact(t),
                    }
                    .times(count)
                })
                .collect()
        })
}

/// Samples made to hurt.
fn nasty_lives() -> impl Strategy<Value = Vec<Observation>> {
    let usage = prop_oneof![
        (-6.0..9.0_f64).prop_map(|lg| 10.0_f64.powf(lg)),
        prop::sample::select(vec![1e-6, 1.0, 2.0, 3.0, 100.0, 1e9]),
    ];
    let entry = prop::sample::select(vec![0.0, 0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15]);
    let count = prop::sample::select(vec![1, 1, 1, 2, 7, 1_000, 1_000_000_000]);
    let life = (usage, 0u8..5, entry, count).prop_map(|(t, kind, entry, count)| {
        let mut life = match kind {
            0 | 1 => Observation::exact(t),
            2 => Observation::right_censored(t),
            3 => Observation::interval(0.9 * t, t),
            _ => Observation::left_censored(t),
        };
        if kind != 3 {
            life = life.entered_at(entry * t);
        }
        life.times(count)
    });
    prop::collection::vec(life, 0..10)
}

/// The log-likelihood from what a life says of itself; the probability within a stretch is given its chance to be
/// small.
fn slow_likelihood(sample: &Sample, life: &LifeDistribution) -> f64 {
    let mut total = 0.0;
    for row in sample.observations() {
        let h = |t: f64| life.cumulative_hazard(t);
        let mut term = h(row.entry) - h(row.lower);
        match row.ending() {
            Ending::RightCensored => {}
            Ending::Exact => term += life.hazard(row.lower).unwrap_or(0.0).ln(),
            _ => {
                term += life
                    .conditional_failure(row.lower, row.upper - row.lower)
                    .ln()
            }
        }
        total += row.count as f64 * term;
    }
    total
}

fn recorded(fit: &Fit) -> bool {
    fit.warnings
        .iter()
        .any(|warning| warning.code == WarningCode::RecordingPrecision)
}

fn fitted(lives: Vec<Observation>, family: Family) -> Option<(Sample, Fit)> {
    let sample = Sample::new(lives).expect("valid lives");
    let fit = fit(&sample, family).ok()?;
    Some((sample, fit))
}

/// Density by the definition of Prentice 1974, without logarithms of tails.
fn density(w: f64, q: f64) -> f64 {
    if q == 0.0 {
        return (-0.5 * w * w).exp() / (2.0 * std::f64::consts::PI).sqrt();
    }
    let a = 1.0 / (q * q);
    (q.abs().ln() + a * a.ln() - libm::lgamma(a) + a * (q * w - (q * w).exp())).exp()
}

/// Simpson's rule.
fn integral(f: impl Fn(f64) -> f64, from: f64, to: f64, pieces: u32) -> f64 {
    let step = (to - from) / f64::from(pieces);
    let mut total = f(from) + f(to);
    for i in 1..pieces {
        total += f(from + step * f64::from(i)) * if i % 2 == 1 { 4.0 } else { 2.0 };
    }
    total * step / 3.0
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(100), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn survival_is_the_integral_of_the_density(q in -3.0..3.0_f64, w in -3.0..3.0_f64) {
        let life = LifeDistribution::new(Family::GeneralisedGamma, &[0.0, 1.0, q]).unwrap();
        // Beyond this the density is nothing, or its power tail is added.
        let end = if q >= 0.3 { w.max((60.0 * q * q).ln() / q) + 1.0 } else { w + 45.0 * q.abs().max(1.0) };
        let want = integral(|w| density(w, q), w, end, 40_000);
        let got = life.survival(w.exp());
        prop_assert!((got - want).abs() <= 1e-9 * want.max(1e-3), "{got} {want}");
        prop_assume!(got > 1e-100);
        let by_hazard = density(w, q) / got / w.exp();
        prop_assert!((life.hazard(w.exp()).unwrap() / by_hazard - 1.0).abs() < 1e-9);
    }

    #[test]
    fn quantiles_turn_survival_back(q in -6.0..6.0_f64, sigma in 0.05..5.0_f64, lg_p in -9.0..-1e-6_f64) {
        let life = LifeDistribution::new(Family::GeneralisedGamma, &[2.0, sigma, q]).unwrap();
        let p = 10.0_f64.powf(lg_p);
        if let Some(t) = life.quantile(p) {
            let h = life.cumulative_hazard(t);
            let want = -(-p).ln_1p();
            // A quantile is known to the last bit of its logarithm only.
            prop_assert!((h / want - 1.0).abs() < 1e-9 + 1e-14 * life.hazard(t).unwrap_or(0.0) * t / h, "{h} {want}");
        }
    }

    #[test]
    fn special_forms_are_the_families_they_name(
        sigma in 0.1..3.0_f64, t in 0.01..30.0_f64, span in 0.001..5.0_f64,
    ) {
        let make = |family, parameters: &[f64]| LifeDistribution::new(family, parameters).unwrap();
        let form = |q| make(Family::GeneralisedGamma, &[1.0, sigma, q]);
        let pairs = [
            (form(1.0), make(Family::Weibull, &[1.0_f64.exp(), 1.0 / sigma])),
            (form(0.0), make(Family::Lognormal, &[1.0, sigma])),
            (form(1e-13), make(Family::Lognormal, &[1.0, sigma])),
            (form(sigma), make(Family::Gamma, &[1.0 / (sigma * sigma), 1.0_f64.exp() * sigma * sigma])),
            (make(Family::Weibull, &[2.0, 1.0 / sigma]), make(Family::ThresholdWeibull, &[2.0, 1.0 / sigma, 0.0])),
            (make(Family::Gamma, &[1.0, 3.0]), make(Family::Exponential, &[3.0])),
        ];
        for (one, other) in pairs {
            let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
                (Some(a), Some(b)) => (a - b).abs() <= 2e-7 * b.abs(),
                (a, b) => a.is_none() && b.is_none(),
            };
            // A small form moves small hazards by a multiple of its own size and the cube of z.
            if other.cumulative_hazard(t) < 30.0 {
                prop_assert!(near(Some(one.cumulative_hazard(t)), Some(other.cumulative_hazard(t))), "{one:?} {other:?}");
                prop_assert!(near(one.hazard(t), other.hazard(t)), "{one:?} {other:?}");
                prop_assert!(near(Some(one.conditional_failure(t, span)), Some(other.conditional_failure(t, span))));
                prop_assert!(near(one.mean_residual_life(t), other.mean_residual_life(t)), "{one:?} {other:?} {:?} {:?}", one.mean_residual_life(t), other.mean_residual_life(t));
            }
            prop_assert!(near(one.mean(), other.mean()));
        }
    }

    #[test]
    fn mean_residual_life_is_the_integral_of_survival(
        place in 0usize..7, a in 0.3..4.0_f64, b in 0.3..4.0_f64, q in -1.5..2.5_f64, age in 0.0..6.0_f64,
    ) {
        let family = Family::EVERY[place];
        let parameters = match family {
            Family::Exponential => vec![a],
            Family::GeneralisedGamma => vec![a, 0.25 * b, q],
            Family::Lognormal => vec![a, 0.5 * b],
            Family::ThresholdWeibull => vec![a, b, 1.5],
            _ => vec![a, b],
        };
        let life = LifeDistribution::new(family, &parameters).unwrap();
        // Before the threshold the integrand has a corner, which Simpson's rule does not take.
        let age = if family == Family::ThresholdWeibull { age + 1.5 } else { age };
        if let Some(got) = life.mean_residual_life(age) {
            // In the logarithm of the span, far into both ends.
            let want = integral(|y: f64| life.conditional_survival(age, y.exp()) * y.exp(), -30.0, 60.0, 40_000);
            let tail = life.conditional_survival(age, 60.0_f64.exp()) * 60.0_f64.exp();
            prop_assume!(tail < 1e-9 * want);
            prop_assert!((got / want - 1.0).abs() < 1e-7, "{family:?} {got} {want}");
        }
        if let (Some(whole), Some(mean)) = (life.mean_residual_life(0.0), life.mean()) {
            prop_assert!((whole / mean - 1.0).abs() < 1e-8);
        }
        if let (Some(cut), Some(mean), Some(rest)) = (life.mean_up_to(age), life.mean(), life.mean_residual_life(age)) {
            // A mean is what is lived up to an age, and beyond it by those who get there.
            prop_assert!(((cut + life.survival(age) * rest) / mean - 1.0).abs() < 1e-8, "{family:?} {cut} {mean} {rest}");
        }
        let both = life.mean_up_to(age).unwrap() + life.failed_up_to(age).unwrap();
        prop_assert!((both - age).abs() <= 1e-9 * age, "{family:?} {both} {age}");
    }

    #[test]
    fn the_likelihood_is_what_the_life_says(lives in lives(16), place in 0usize..3) {
        let Some((sample, fit)) = fitted(lives, FURTHER[place]) else { return Ok(()) };
        prop_assume!(!recorded(&fit));
        let slow = slow_likelihood(&sample, &fit.life());
        prop_assert!((slow - fit.log_likelihood).abs() <= 1e-8 * (1.0 + slow.abs()), "{slow} {}", fit.log_likelihood);
    }

    #[test]
    fn every_estimate_is_a_top(lives in lives(16), place in 0usize..3, tilt in prop::collection::vec(-1.0..1.0_f64, 3)) {
        let family = FURTHER[place];
        let Some((sample, fit)) = fitted(lives, family) else { return Ok(()) };
        prop_assume!(!recorded(&fit) && fit.still_to_gain.is_some());
        let moved = |size: f64| {
            let parameters: Vec<f64> = fit
                .parameters
                .iter()
                .zip(family.parameter_names())
                .zip(&tilt)
                .map(|((value, name), tilt)| match *name {
                    "mu" | "q" => value + size * tilt,
                    "threshold" => (value * (1.0 - size * tilt.abs())).max(0.0),
                    _ => value * (size * tilt).exp(),
                })
                .collect();
            LifeDistribution::new(family, &parameters).map(|life| slow_likelihood(&sample, &life))
        };
        let slack = 1e-9 * (1.0 + fit.log_likelihood.abs());
        // The top of a hill beside a spike is the best in its neighbourhood only.
        let sizes: &[f64] = if family == Family::ThresholdWeibull { &[1e-3] } else { &[1e-3, 0.1, 0.5] };
        for size in sizes {
            if let Ok(other) = moved(*size) && other.is_finite() {
                prop_assert!(other <= fit.log_likelihood + slack, "{family:?} {other} {}", fit.log_likelihood);
            }
        }
    }

    #[test]
    fn nested_families_never_beat_the_family_they_nest_in(lives in lives(16)) {
        for full in [Family::GeneralisedGamma, Family::Gamma, Family::ThresholdWeibull] {
            let Some((sample, fit)) = fitted(lives.clone(), full) else { continue };
            let inner: &[Family] = match full {
                Family::GeneralisedGamma => &[Family::Weibull, Family::Lognormal, Family::Gamma, Family::Exponential],
                Family::Gamma => &[Family::Exponential],
                _ => &[],
            };
            for family in inner {
                match nested(&sample, &fit, *family) {
                    Ok(test) => {
                        prop_assert!(test.statistic >= 0.0 && (0.0..=1.0).contains(&test.p));
                        prop_assert_eq!(test.edge, Edge::Inside);
                    }
                    Err(NestedError::Fit(_)) => {}
                    Err(error) => prop_assert!(false, "{full:?} {family:?}: {error}"),
                }
            }
        }
    }

    #[test]
    fn no_sample_panics_or_gives_a_number_that_is_none(lives in nasty_lives(), shape in 0.2..20.0_f64) {
        let sample = Sample::new(lives).expect("valid lives");
        for family in FURTHER {
            let Ok(fit) = fit(&sample, family) else { continue };
            prop_assert!(fit.parameters.iter().all(|value| value.is_finite()));
            prop_assert!(fit.log_likelihood.is_finite());
            for matrix in [&fit.covariance, &fit.log_covariance].into_iter().flatten() {
                prop_assert!(matrix.iter().flatten().all(|cell| cell.is_finite()));
                prop_assert!((0..matrix.len()).all(|i| matrix[i][i] > 0.0));
            }
            let longest = sample.longest_usage();
            let mut before = 1.0;
            for part in [0.0, 0.1, 0.5, 0.9, 1.0, 2.0, 10.0] {
                let survival = fit.survival(part * longest);
                prop_assert!((0.0..=1.0).contains(&survival) && survival <= before + 1e-12);
                before = survival;
                let failed = fit.conditional_failure(part * longest, 0.1 * longest);
                prop_assert!((0.0..=1.0).contains(&failed), "{family:?} {failed}");
                if let Some(mean) = fit.mean_residual_life(part * longest) {
                    prop_assert!(mean.is_finite() && mean > 0.0);
                }
            }
            if let Some(first) = fit.parameter("threshold") {
                for row in sample.observations() {
                    prop_assert!(row.upper > first && first >= 0.0);
                }
            }
        }
        if let Ok(fit) = known_shape(&sample, shape) {
            let (lower, upper) = fit.scale_limits(0.9);
            for value in [lower, fit.scale, upper, fit.log_likelihood, fit.exposure()].into_iter().flatten() {
                prop_assert!(value.is_finite());
            }
            for pair in [(lower, fit.scale), (fit.scale, upper), (lower, upper)] {
                if let (Some(low), Some(high)) = pair {
                    prop_assert!(low <= high * (1.0 + 1e-9), "{low} {high}");
                }
            }
        }
    }

    #[test]
    fn a_change_of_unit_scales_the_answers(lives in lives(14), place in 0usize..3, factor in 1e-3..1e3_f64) {
        let family = FURTHER[place];
        let scaled: Vec<Observation> = lives
            .iter()
            .map(|life| Observation {
                entry: life.entry * factor,
                lower: life.lower * factor,
                upper: life.upper * factor,
                ..life.clone()
            })
            .collect();
        let (Some((_, one)), Some((_, other))) = (fitted(lives, family), fitted(scaled, family)) else { return Ok(()) };
        prop_assume!(!recorded(&one) && !recorded(&other));
        for p in [0.1, 0.5, 0.9] {
            if let (Some(a), Some(b)) = (one.quantile(p), other.quantile(p)) {
                prop_assert!((b / a / factor - 1.0).abs() < 1e-5, "{family:?} {a} {b} {factor}");
            }
        }
    }

    #[test]
    fn a_recorded_threshold_is_the_best_of_a_grid(lives in lives(14), lg in -3.0..-1.0_f64) {
        let sample = Sample::new(lives).expect("valid lives");
        let precision = 10.0_f64.powf(lg) * sample.longest_usage();
        let asked = ThresholdLikelihood::Recorded { precision };
        let Ok(fit) = threshold_weibull(&sample, asked) else { return Ok(()) };
        let half = 0.5 * precision;
        let mut first = f64::INFINITY;
        for row in sample.observations() {
            let recorded = row.ending() == Ending::Exact;
            first = first.min(if recorded { (row.lower - half).max(row.entry) } else { row.upper });
        }
        let value = |parameters: &[f64]| {
            let life = LifeDistribution::new(Family::ThresholdWeibull, parameters).ok()?;
            let mut total = 0.0;
            for row in sample.observations() {
                let count = row.count as f64;
                let h = |t: f64| life.cumulative_hazard(t);
                let term = match row.ending() {
                    Ending::RightCensored => h(row.entry) - h(row.lower),
                    Ending::Exact => {
                        let (low, high) = ((row.lower - half).max(row.entry), row.lower + half);
                        h(row.entry) - h(low) + life.conditional_failure(low, high - low).ln() - (high - low).ln()
                    }
                    _ => h(row.entry) - h(row.lower) + life.conditional_failure(row.lower, row.upper - row.lower).ln(),
                };
                total += count * term;
            }
            Some(total).filter(|total| total.is_finite())
        };
        let at_fit = value(&fit.parameters).expect("a likelihood");
        prop_assert!((at_fit - fit.log_likelihood).abs() < 1e-7 * (1.0 + at_fit.abs()), "{at_fit} {}", fit.log_likelihood);
        for part in [0.0, 0.2, 0.5, 0.8, 0.95, 1.0 - 1e-9] {
            for ratio in [0.5, 0.8, 1.0, 1.25, 2.0] {
                for shape in [0.3, 0.6, 0.9, 1.0, 1.1, 1.6, 3.0] {
                    let parameters = [fit.parameters[0] * ratio, fit.parameters[1] * shape, first * part];
                    if let Some(other) = value(&parameters) {
                        prop_assert!(other <= at_fit + 1e-7 * (1.0 + at_fit.abs()), "{parameters:?} {other} {at_fit} {fit:?}");
                    }
                }
            }
        }
    }
}
