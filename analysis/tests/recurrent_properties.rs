//! What must be true of any histories of repairable systems.

use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::recurrent::{
    Histories, MeanLimits, PowerLawFit, PowerLawLimitMethod, RecurrentError, System, Truncation,
    cramer_von_mises, cramer_von_mises_by_ratio, laplace, mean_cumulative_difference,
    mean_cumulative_function, mil_hdbk_189, power_law,
};

/// Systems with late starts, ties, repeated systems and ends at events.
fn systems(most: usize) -> impl Strategy<Value = Vec<System>> {
    let system = (
        prop::sample::select(vec![0.0, 0.0, 0.0, 0.3, 0.9]),
        0.2..1.0_f64,
        prop::collection::vec(prop_oneof![0.0..1.0_f64, Just(0.5)], 0..6),
        prop::bool::weighted(0.2),
        1_u64..4,
        0.3..3.0_f64,
    );
    (prop::collection::vec(system, 1..most), -6.0..9.0_f64).prop_map(|(systems, lg_scale)| {
        let scale = 10.0_f64.powf(lg_scale);
        systems
            .into_iter()
            .map(|(start, length, parts, stopped, count, bend)| {
                let start = start * scale;
                let end = start + length * scale;
                let events: Vec<f64> = parts
                    .into_iter()
                    .map(|part| start + part.powf(bend) * (end - start))
                    .filter(|age| *age > start && *age <= end)
                    .collect();
                let last = events.iter().copied().fold(0.0, f64::max);
                let stopped = stopped && last > 0.0;
                System {
                    start,
                    end: if stopped { last } else { end },
                    truncation: if stopped {
                        Truncation::Failure
                    } else {
                        Truncation::Time
                    },
                    events,
                    count,
                }
            })
            .collect()
    })
}

/// Systems made to hurt.
fn nasty() -> impl Strategy<Value = Vec<System>> {
    let system = (
        prop::sample::select(vec![1e-6, 1.0, 1.0, 2.0, 1e9]),
        prop::sample::select(vec![0.0, 0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15]),
        prop::collection::vec(
            prop::sample::select(vec![
                1e-90,
                1e-9,
                0.25,
                0.5,
                0.5,
                1.0 - 1e-9,
                1.0 - 1e-16,
                1.0,
            ]),
            0..5,
        ),
        any::<bool>(),
        prop::sample::select(vec![1, 1, 1, 7, 1_000, 1_000_000_000]),
    );
    prop::collection::vec(system, 0..6).prop_map(|systems| {
        systems
            .into_iter()
            .map(|(end, start, parts, stopped, count)| {
                let start = start * end;
                let events: Vec<f64> = parts
                    .into_iter()
                    .map(|part| start + part * (end - start))
                    .filter(|age| *age > start && *age <= end)
                    .collect();
                let stopped = stopped && events.contains(&end);
                System {
                    start,
                    end,
                    truncation: if stopped {
                        Truncation::Failure
                    } else {
                        Truncation::Time
                    },
                    events,
                    count,
                }
            })
            .filter(|system| system.start < system.end)
            .collect()
    })
}

fn histories(systems: Vec<System>) -> Histories {
    Histories::new(systems).expect("valid systems")
}

fn expanded(systems: &[System]) -> Vec<System> {
    systems
        .iter()
        .flat_map(|system| {
            let copies = usize::try_from(system.count).expect("small");
            std::iter::repeat_n(system.clone().times(1), copies)
        })
        .collect()
}

/// Mean and variances straight from their definitions, over every system and age.
struct Naive {
    mean: f64,
    robust: f64,
    poisson: f64,
    nelson: Option<f64>,
}

fn naive(systems: &[System], upto: f64) -> Naive {
    let systems = expanded(systems);
    let mut ages: Vec<f64> = systems
        .iter()
        .flat_map(|system| system.events.clone())
        .collect();
    ages.retain(|age| *age <= upto);
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let at_risk = |system: &System, age: f64| system.start < age && age <= system.end;
    let own = |system: &System, age: f64| {
        system.events.iter().filter(|event| **event == age).count() as f64
    };
    let number = |age: f64| systems.iter().filter(|system| at_risk(system, age)).count() as f64;
    let total = |age: f64| systems.iter().map(|system| own(system, age)).sum::<f64>();
    let mean = ages.iter().map(|age| total(*age) / number(*age)).sum();
    let poisson = ages
        .iter()
        .map(|age| total(*age) / number(*age).powi(2))
        .sum();
    let robust = systems
        .iter()
        .map(|system| {
            let excess: f64 = ages
                .iter()
                .filter(|age| at_risk(system, **age))
                .map(|age| (own(system, *age) - total(*age) / number(*age)) / number(*age))
                .sum();
            excess * excess
        })
        .sum();
    let defined = systems.iter().all(|system| system.start == 0.0)
        && ages.iter().all(|age| number(*age) > 1.0);
    let nelson = defined.then(|| {
        let mut variance = 0.0;
        for (place, later) in ages.iter().enumerate() {
            let n = number(*later);
            let watched = || systems.iter().filter(|system| at_risk(system, *later));
            let spread = |of: &dyn Fn(&System) -> f64| -> f64 {
                watched()
                    .map(|system| (own(system, *later) - total(*later) / n) * of(system))
                    .sum::<f64>()
                    / (n - 1.0)
            };
            variance += spread(&|system| own(system, *later)) / n;
            for earlier in ages.iter().take(place) {
                variance += 2.0 * spread(&|system| own(system, *earlier)) / number(*earlier);
            }
        }
        variance
    });
    Naive {
        mean,
        robust,
        poisson,
        nelson,
    }
}

/// Log-likelihood by the densities of age, term by term.
fn log_likelihood(systems: &[System], shape: f64, ln_lambda: f64) -> f64 {
    let mut total = 0.0;
    for system in systems {
        let count = system.count as f64;
        for age in &system.events {
            total += count * (ln_lambda + shape.ln() + (shape - 1.0) * age.ln());
        }
        let up_to = |age: f64| {
            if age > 0.0 {
                (ln_lambda + shape * age.ln()).exp()
            } else {
                0.0
            }
        };
        total -= count * (up_to(system.end) - up_to(system.start));
    }
    total
}

/// Events of one system by a power-law process watched from new to `end`.
fn simulated(rng: &mut ChaCha8Rng, shape: f64, scale: f64, end: f64) -> System {
    let mut events = Vec::new();
    let mut gone = 0.0_f64;
    loop {
        gone -= (1.0 - rng.random::<f64>()).ln();
        let age = scale * gone.powf(1.0 / shape);
        if age > end {
            return System::watched_to(end, events);
        }
        events.push(age);
    }
}

fn ordered(fit: &PowerLawFit, age: f64) -> Result<(), TestCaseError> {
    let level = Level::TWO_SIDED_90;
    for limits in [
        fit.shape_limits(level),
        fit.shape_limits_by(level, PowerLawLimitMethod::LikelihoodRatio),
        fit.intensity_limits(age, level),
        fit.intensity_limits_by(age, level, PowerLawLimitMethod::LikelihoodRatio),
        fit.mtbf_limits(age, level),
    ] {
        match limits {
            Ok(found) => {
                let limits = found.limits;
                prop_assert!(limits.value.is_finite());
                prop_assert!(limits.lower.is_none_or(|lower| lower <= limits.value));
                prop_assert!(limits.upper.is_none_or(|upper| upper >= limits.value));
            }
            Err(error) => prop_assert_eq!(error, RecurrentError::OutOfRange),
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(200), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_mean_and_its_variances_are_their_definitions(systems in systems(6)) {
        let data = histories(systems.clone());
        if let Ok(curve) = mean_cumulative_function(&data, MeanLimits::default()) {
            for point in &curve.points {
                let want = naive(&systems, point.age);
                let want_size = want.poisson;
                // A robust variance of 0 is reached as a sum of terms of the size of the Poisson one.
                let close = |got: f64, want: f64| {
                    (got - want).abs() <= 1e-11 * want.abs() + 1e-13 * (1.0 + want_size)
                };
                prop_assert!(close(point.mean, want.mean));
                prop_assert!(close(point.variance_poisson, want.poisson));
                if let Some(robust) = point.variance_robust {
                    prop_assert!(close(robust, want.robust), "{} {}", robust, want.robust);
                }
                match (point.variance_nelson, want.nelson) {
                    (Some(got), Some(want)) => prop_assert!(close(got, want), "{} {}", got, want),
                    (None, Some(want)) => prop_assert!(want <= 1e-11),
                    (None, None) => {}
                    (got, want) => prop_assert!(false, "{:?} {:?}", got, want),
                }
            }
        } else {
            prop_assert_eq!(data.events(), 0);
        }
    }

    #[test]
    fn with_one_common_end_nelson_and_robust_differ_by_the_usual_factor(parts in prop::collection::vec(prop::collection::vec(0.01..1.0_f64, 0..5), 2..8)) {
        let n = parts.len() as f64;
        let data = histories(parts.into_iter().map(|events| System::watched_to(1.0, events)).collect());
        if let Ok(curve) = mean_cumulative_function(&data, MeanLimits::default()) {
            let last = curve.points.last().unwrap();
            let (robust, nelson) = (last.variance_robust.unwrap(), last.variance_nelson.unwrap_or(0.0));
            prop_assert!((nelson - robust * n / (n - 1.0)).abs() < 1e-12 * (1.0 + robust));
        }
    }

    #[test]
    fn order_and_grouping_of_systems_change_no_bit(systems in systems(6), turn in 0_usize..6) {
        let mut other = expanded(&systems);
        let by = turn % other.len();
        other.rotate_left(by);
        other.reverse();
        for system in &mut other {
            system.events.reverse();
        }
        let (one, other) = (histories(systems), histories(other));
        prop_assert_eq!(&one, &other);
        let limits = MeanLimits::default();
        prop_assert_eq!(mean_cumulative_function(&one, limits), mean_cumulative_function(&other, limits));
        prop_assert_eq!(power_law(&one), power_law(&other));
        prop_assert_eq!(laplace(&one), laplace(&other));
        prop_assert_eq!(mil_hdbk_189(&one), mil_hdbk_189(&other));
        prop_assert_eq!(cramer_von_mises_by_ratio(&one), cramer_von_mises_by_ratio(&other));
    }

    #[test]
    fn a_change_of_unit_scales_the_answers(systems in systems(6), factor in 1e-3..1e3_f64) {
        let scaled = systems.iter().map(|system| System {
            start: system.start * factor,
            end: system.end * factor,
            events: system.events.iter().map(|age| age * factor).collect(),
            ..system.clone()
        });
        // Rounding may push an event past an end or down to a start.
        let Ok(other) = Histories::new(scaled.collect::<Vec<_>>()) else { return Ok(()) };
        let one = histories(systems);
        let near = |a: f64, b: f64, within: f64| (a - b).abs() <= within * b.abs();
        if let (Ok(a), Ok(b)) = (power_law(&one), power_law(&other)) {
            prop_assert!(near(a.shape, b.shape, 1e-7), "{} {}", a.shape, b.shape);
            let age = a.longest_age;
            let (x, y) = (a.mtbf(age), b.mtbf(age * factor));
            if let (Some(x), Some(y)) = (x, y) {
                prop_assert!(near(x * factor, y, 1e-7));
            }
            let level = Level::TWO_SIDED_90;
            if let (Ok(x), Ok(y)) = (a.shape_limits(level), b.shape_limits(level))
                && let (Some(x), Some(y)) = (x.limits.upper, y.limits.upper)
            {
                prop_assert!(near(x, y, 1e-5), "{} {}", x, y);
            }
        }
        if let (Ok(a), Ok(b)) = (laplace(&one), laplace(&other)) {
            prop_assert!((a.statistic - b.statistic).abs() < 1e-9 * (1.0 + b.statistic.abs()));
        }
    }

    #[test]
    fn the_fit_is_the_top_of_the_likelihood(systems in systems(6), tilt in -0.1..0.1_f64, shift in -0.1..0.1_f64) {
        let data = histories(systems);
        let Ok(fit) = power_law(&data) else { return Ok(()) };
        let Some(lambda) = fit.lambda else { return Ok(()) };
        if !(0.05..20.0).contains(&fit.shape) { return Ok(()) }
        let value = |a: f64, b: f64| log_likelihood(data.systems(), fit.shape * b.exp(), lambda.ln() + a);
        let top = value(0.0, 0.0);
        let slack = 1e-9 * (1.0 + top.abs());
        prop_assert!((top - fit.log_likelihood).abs() <= slack);
        // Along the ridge too, where lambda makes up for the shape.
        let ridge = fit.log_covariance[0][1] / fit.log_covariance[1][1];
        prop_assert!(value(shift, tilt) <= top + slack);
        prop_assert!(value(ridge * tilt, tilt) <= top + slack);
        // The profile of the log shape bends by one over its variance.
        let variance = fit.log_covariance[1][1];
        let h = 1e-3 * variance.sqrt().min(1.0);
        let profile = |b: f64| {
            let shape = fit.shape * b.exp();
            let exposure: f64 = data.systems().iter().map(|s| s.count as f64 * (
                (shape * (s.end / fit.longest_age).ln()).exp() - if s.start > 0.0 { (shape * (s.start / fit.longest_age).ln()).exp() } else { 0.0 })).sum();
            let n = fit.events as f64;
            log_likelihood(data.systems(), shape, (n / exposure).ln() - shape * fit.longest_age.ln())
        };
        let bend = (profile(h) + profile(-h) - 2.0 * profile(0.0)) / (h * h);
        if variance < 10.0 && fit.events < 100 && top.abs() < 1e3 {
            prop_assert!((-bend * variance - 1.0).abs() < 0.02, "{} {}", -bend * variance, variance);
        }
    }

    #[test]
    fn likelihood_limits_lie_where_the_likelihood_has_fallen_far_enough(systems in systems(6), part in 0.2..1.5_f64) {
        let data = histories(systems);
        let Ok(fit) = power_law(&data) else { return Ok(()) };
        if !(0.1..15.0).contains(&fit.shape) { return Ok(()) }
        let age = part * fit.longest_age;
        let level = Level::TWO_SIDED_90;
        let limits = fit.intensity_limits_by(age, level, PowerLawLimitMethod::LikelihoodRatio).unwrap().limits;
        // Best value with ln(intensity at the age) held, by a fine search over the shape.
        let best = |intensity: f64| {
            let at = |b: f64| {
                let shape = b.exp();
                log_likelihood(data.systems(), shape, intensity.ln() - b - (shape - 1.0) * age.ln())
            };
            let (mut low, mut high) = (-16.0_f64, 6.0_f64);
            for _ in 0..200 {
                let (x, y) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                let (at_x, at_y) = (at(x), at(y));
                if at_x < at_y || at_x.is_nan() { low = x } else { high = y }
            }
            at(0.5 * (low + high))
        };
        let fall = 0.5 * 1.644_853_626_951_472_7_f64.powi(2);
        for limit in [limits.lower, limits.upper].into_iter().flatten() {
            let gap = fit.log_likelihood - best(limit) - fall;
            prop_assert!(gap.abs() < 1e-6 * (1.0 + fit.log_likelihood.abs()), "{} {:?}", gap, limits);
        }
        prop_assert!(limits.upper.is_some());
    }

    #[test]
    fn nothing_panics_and_nothing_shown_is_infinite(systems in nasty(), age in prop::sample::select(vec![1e-9, 0.5, 1.0, 3.0, 1e9, 1e12])) {
        let data = histories(systems);
        if let Ok(curve) = mean_cumulative_function(&data, MeanLimits::default()) {
            for point in &curve.points {
                prop_assert!(point.mean.is_finite() && point.mean > 0.0);
                prop_assert!(point.variance_robust.is_none_or(|v| v.is_finite() && v >= 0.0));
                prop_assert!(point.variance_nelson.is_none_or(|v| v.is_finite() && v >= 0.0));
                prop_assert!(point.lower.is_none_or(|lower| lower <= point.mean && lower >= 0.0));
                prop_assert!(point.upper.is_none_or(|upper| upper >= point.mean && upper.is_finite()));
            }
        }
        match power_law(&data) {
            Ok(fit) => {
                prop_assert!(fit.shape > 0.0 && fit.shape.is_finite() && fit.log_likelihood.is_finite());
                prop_assert!(fit.log_covariance.iter().flatten().all(|cell| cell.is_finite()));
                ordered(&fit, fit.longest_age)?;
                ordered(&fit, age)?;
            }
            Err(error) => prop_assert!(error != RecurrentError::NotConverged),
        }
        for test in [laplace(&data), mil_hdbk_189(&data)].into_iter().flatten() {
            prop_assert!(test.statistic.is_finite());
            prop_assert!((0.0..=1.0).contains(&test.p_two_sided));
        }
        for fit in [cramer_von_mises(&data), cramer_von_mises_by_ratio(&data)].into_iter().flatten() {
            prop_assert!(fit.statistic.is_finite() && fit.statistic > 0.0);
            prop_assert_eq!(fit.critical.len(), 5);
        }
        let _ = mean_cumulative_difference(&data, &data, 0.9);
    }

    #[test]
    fn counted_events_have_the_distance_of_the_same_events_one_by_one(ages in prop::collection::vec(0.01..0.99_f64, 1..5), count in 1_u64..6) {
        let tied = histories(vec![System::watched_to(1.0, ages.clone()).times(count)]);
        let Ok(got) = cramer_von_mises(&tied) else { return Ok(()) };
        let mut all: Vec<f64> = ages.iter().flat_map(|age| std::iter::repeat_n(*age, usize::try_from(count).unwrap())).collect();
        all.sort_by(f64::total_cmp);
        let m = all.len() as f64;
        let shape = (m - 1.0) / all.iter().map(|age| -age.ln()).sum::<f64>();
        let want: f64 = 1.0 / (12.0 * m) + all.iter().enumerate().map(|(i, age)| (age.powf(shape) - (2.0 * i as f64 + 1.0) / (2.0 * m)).powi(2)).sum::<f64>();
        prop_assert!((got.statistic - want).abs() < 1e-11);
    }
}

#[test]
fn a_simulated_process_is_recovered() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_240_611);
    for (shape, scale) in [(0.6, 30.0), (1.0, 50.0), (2.3, 120.0)] {
        let systems: Vec<System> = (0..200)
            .map(|k| {
                let whole = simulated(&mut rng, shape, scale, 150.0 + f64::from(k));
                let start = if k % 3 == 0 { 40.0 } else { 0.0 };
                let kept: Vec<f64> = whole
                    .events
                    .iter()
                    .copied()
                    .filter(|age| *age > start)
                    .collect();
                System::watched_to(whole.end, kept).from_age(start)
            })
            .collect();
        let fit = power_law(&histories(systems)).expect("a fit");
        let error = fit.log_covariance[1][1].sqrt();
        assert!((fit.shape / shape).ln().abs() < 4.0 * error, "{fit:?}");
        let limits = fit
            .shape_limits(Level::two_sided(0.9999).expect("a level"))
            .expect("limits");
        assert!(limits.limits.lower.expect("a limit") < shape);
        assert!(limits.limits.upper.expect("a limit") > shape);
    }
}

#[test]
fn exact_limits_cover_as_often_as_they_say() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let (shape, scale, end) = (0.7_f64, 10.0_f64, 100.0_f64);
    let truth = shape / scale * (end / scale).powf(shape - 1.0);
    let level = Level::TWO_SIDED_90;
    let (mut runs, mut shapes, mut by_time, mut by_failure) = (0, 0, 0, 0);
    for _ in 0..1_500 {
        let system = simulated(&mut rng, shape, scale, end);
        let Ok(fit) = power_law(&histories(vec![system.clone()])) else {
            continue;
        };
        let inside = |limits: wearbook_analysis::intervals::Limits, truth: f64| {
            u32::from(
                limits.lower.is_none_or(|lower| lower <= truth) && truth <= limits.upper.unwrap(),
            )
        };
        runs += 1;
        shapes += inside(fit.shape_limits(level).expect("limits").limits, shape);
        by_time += inside(
            fit.intensity_limits(end, level).expect("limits").limits,
            truth,
        );
        // The same process stopped at its fifth event.
        let mut longer = simulated(&mut rng, shape, scale, 1e4).events;
        longer.truncate(5);
        let stopped = System::until_last_event(longer);
        let end = stopped.end;
        let truth = shape / scale * (end / scale).powf(shape - 1.0);
        let fit = power_law(&histories(vec![stopped])).expect("a fit");
        let found = fit.intensity_limits(end, level).expect("limits");
        assert_eq!(found.method, PowerLawLimitMethod::Exact);
        by_failure += inside(found.limits, truth);
    }
    let share = |hits: u32| f64::from(hits) / f64::from(runs);
    // Standard error of a share of 0.9 is below 0.009. Counts make the limits by time cover a little more.
    assert!((share(shapes) - 0.9).abs() < 0.03, "{}", share(shapes));
    assert!(
        (share(by_failure) - 0.9).abs() < 0.03,
        "{}",
        share(by_failure)
    );
    assert!((0.88..0.98).contains(&share(by_time)), "{}", share(by_time));
}

#[test]
fn critical_distances_are_exceeded_as_often_as_they_say() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    for m in [3_usize, 11, 45] {
        const RUNS: u32 = 20_000;
        let mut beyond = [0_u32; 5];
        for _ in 0..RUNS {
            let ages: Vec<f64> = (0..m).map(|_| 1.0 - rng.random::<f64>()).collect();
            let fit = cramer_von_mises(&histories(vec![System::watched_to(1.0, ages)]))
                .expect("a distance");
            for (count, critical) in beyond.iter_mut().zip(&fit.critical) {
                *count += u32::from(fit.statistic > critical.value);
            }
        }
        for (count, significance) in beyond.iter().zip([0.2, 0.15, 0.1, 0.05, 0.01_f64]) {
            let share = f64::from(*count) / f64::from(RUNS);
            let error = (significance * (1.0 - significance) / f64::from(RUNS)).sqrt();
            assert!(
                (share - significance).abs() < 4.5 * error,
                "{m}: {share} for {significance}"
            );
        }
    }
}

#[test]
fn trend_tests_reject_a_constant_rate_as_often_as_they_say() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let (mut runs, mut handbook, mut centroid) = (0, 0, 0);
    for _ in 0..4_000 {
        // Different rates, ends and late starts.
        let systems: Vec<System> = [(3.0, 0.0, 10.0), (9.0, 4.0, 20.0), (2.0, 0.0, 15.0)]
            .into_iter()
            .map(|(mean, start, end)| {
                let whole = simulated(&mut rng, 1.0, mean, end);
                let kept: Vec<f64> = whole
                    .events
                    .into_iter()
                    .filter(|age| *age > start)
                    .collect();
                System::watched_to(end, kept).from_age(start)
            })
            .collect();
        let data = histories(systems);
        if let (Ok(one), Ok(other)) = (mil_hdbk_189(&data), laplace(&data)) {
            runs += 1;
            handbook += u32::from(one.p_two_sided < 0.1);
            centroid += u32::from(other.p_two_sided < 0.1);
        }
    }
    for count in [handbook, centroid] {
        let share = f64::from(count) / f64::from(runs);
        assert!((share - 0.1).abs() < 0.02, "{share}");
    }
}
