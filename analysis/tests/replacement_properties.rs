//! What must be true of any cost of renewal or inspection.

use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::fitting::LifeDistribution;
use wearbook_analysis::replacement::{
    AgeReplacement, BestInterval, DecisionError, DelayTime, InspectedComponent, InspectionCosts,
    MinimalRepair, RenewalAge, RenewalCosts, age_replacement, minimal_repair,
    minimal_repair_cost_rate, renewal_cost_rate,
};
use wearbook_analysis::special::{gamma::chi_square_lower, normal};

/// A life, and the same with its scale multiplied.
fn life() -> impl Strategy<Value = (LifeDistribution, LifeDistribution, f64)> {
    (0_u8..4, -1.6..3.0_f64, -6.0..9.0_f64, -3.0..3.0_f64).prop_map(
        |(family, ln_shape, lg_scale, lg_factor)| {
            let (shape, scale, factor) = (
                ln_shape.exp(),
                10.0_f64.powf(lg_scale),
                10.0_f64.powf(lg_factor),
            );
            let of = |scale: f64| {
                match family {
                    0 => LifeDistribution::exponential(scale),
                    1 => LifeDistribution::weibull(shape, scale),
                    2 => LifeDistribution::loglogistic(shape, scale),
                    _ => LifeDistribution::lognormal(scale.ln(), 1.0 / shape),
                }
                .expect("valid")
            };
            (of(scale), of(scale * factor), factor)
        },
    )
}

fn best(life: LifeDistribution, costs: RenewalCosts) -> Option<RenewalAge> {
    match age_replacement(life, costs) {
        Ok(AgeReplacement::At(age)) => Some(age),
        Ok(AgeReplacement::NoAgePays { .. }) => None,
        Err(error) => panic!("{error} for {life:?} {costs:?}"),
    }
}

fn near(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within * b.abs()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: std::env::var("PROPTEST_CASES").ok().and_then(|v| v.parse().ok()).unwrap_or(200), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_age_on_a_grid_costs_less_than_the_best((life, _, _) in life(), ln_ratio in 0.01..14.0_f64) {
        let costs = RenewalCosts::new(1.0, ln_ratio.exp()).unwrap();
        let found = best(life, costs);
        let never = life.mean().map_or(0.0, |mean| costs.failure() / mean);
        let least = found.map_or(never, |age| age.cost_rate);
        prop_assert!(least <= never);
        for step in -60..=60 {
            let centre = found.map_or_else(|| life.mean_up_to(1e300).unwrap_or(1.0), |age| age.age);
            let age = centre * 1.25_f64.powi(step);
            if let Ok(rate) = renewal_cost_rate(life, costs, age) {
                prop_assert!(rate >= least * (1.0 - 2e-10), "{} at {} below {}", rate, age, least);
            }
        }
    }

    #[test]
    fn dearer_failures_mean_earlier_renewal_at_a_higher_cost((life, _, _) in life(), ln_ratio in 0.1..10.0_f64, more in 0.01..2.0_f64) {
        let costs = |ln_ratio: f64| RenewalCosts::new(1.0, ln_ratio.exp()).unwrap();
        if let Some(one) = best(life, costs(ln_ratio)) {
            let dearer = best(life, costs(ln_ratio + more)).expect("an age still pays");
            prop_assert!(dearer.age <= one.age * (1.0 + 1e-9));
            prop_assert!(dearer.cost_rate >= one.cost_rate * (1.0 - 1e-9));
            prop_assert!(dearer.saving >= one.saving - 1e-9);
        }
    }

    #[test]
    fn a_change_of_unit_scales_the_age((life, scaled, factor) in life(), ln_ratio in 0.1..10.0_f64) {
        let costs = RenewalCosts::new(2.0, 2.0 * ln_ratio.exp()).unwrap();
        if let (Some(one), Some(other)) = (best(life, costs), best(scaled, costs)) {
            prop_assert!(near(one.age * factor, other.age, 1e-6), "{} {}", one.age * factor, other.age);
            prop_assert!(near(one.cost_rate / factor, other.cost_rate, 1e-9));
            // A share of the cost of running to failure, so its error is absolute.
            prop_assert!((one.saving - other.saving).abs() < 1e-10);
        }
    }

    #[test]
    fn the_band_about_the_best_age_has_its_cost((life, _, _) in life(), ln_ratio in 0.5..8.0_f64, share in 0.01..0.5_f64) {
        let costs = RenewalCosts::new(1.0, ln_ratio.exp()).unwrap();
        if let Some(age) = best(life, costs) {
            let (first, last) = age.ages_within(share).unwrap();
            prop_assert!(first < age.age);
            let want = age.cost_rate * (1.0 + share);
            prop_assert!(near(renewal_cost_rate(life, costs, first).unwrap(), want, 1e-8));
            if let Some(last) = last {
                prop_assert!(last > age.age);
                prop_assert!(near(renewal_cost_rate(life, costs, last).unwrap(), want, 1e-8));
            }
        }
    }

    #[test]
    fn mean_lives_cut_off_are_the_closed_forms(ln_shape in -1.6..3.0_f64, lg_scale in -6.0..9.0_f64, ln_age in -12.0..4.0_f64) {
        let (shape, scale) = (ln_shape.exp(), 10.0_f64.powf(lg_scale));
        let weibull = LifeDistribution::weibull(shape, scale).unwrap();
        let age = scale * (ln_age / shape.max(0.5)).exp();
        let hazard = (age / scale).powf(shape);
        let want = weibull.mean().unwrap() * chi_square_lower(2.0 * hazard, 2.0 / shape);
        prop_assert!(near(weibull.mean_up_to(age).unwrap(), want, 1e-11));
        let sigma = 1.0 / shape;
        let lognormal = LifeDistribution::lognormal(scale.ln(), sigma).unwrap();
        let z = (age / scale).ln() / sigma;
        let want = age * normal::lower_tail(-z) + lognormal.mean().unwrap() * normal::lower_tail(z - sigma);
        prop_assert!(near(lognormal.mean_up_to(age).unwrap(), want, 1e-9), "{} {}", lognormal.mean_up_to(age).unwrap(), want);
        // What is cut off and what has failed by then make up the whole age.
        for life in [weibull, lognormal] {
            let both = life.mean_up_to(age).unwrap() + life.failed_up_to(age).unwrap();
            prop_assert!(near(both, age, 1e-11));
        }
    }

    #[test]
    fn minimal_repair_is_lowest_at_its_age(shape in 0.5..20.0_f64, lg_scale in -6.0..9.0_f64, ln_ratio in -8.0..8.0_f64) {
        let scale = 10.0_f64.powf(lg_scale);
        let costs = RenewalCosts::new(1.0, ln_ratio.exp()).unwrap();
        match minimal_repair(shape, scale, costs) {
            Ok(MinimalRepair::At(best)) => {
                prop_assert!(shape > 1.0);
                for step in -40..=40 {
                    let rate = minimal_repair_cost_rate(shape, scale, costs, best.age * 1.1_f64.powi(step));
                    prop_assert!(rate.is_ok_and(|rate| rate >= best.cost_rate * (1.0 - 1e-12)));
                }
            }
            Ok(MinimalRepair::NoAgePays) => prop_assert!(shape <= 1.0),
            Err(error) => prop_assert_eq!(error, DecisionError::OutOfRange),
        }
    }

    #[test]
    fn no_interval_on_a_grid_costs_less_than_the_best((delay, scaled, factor) in life(), ln_rate in -5.0..2.0_f64, ln_cost in -6.0..0.0_f64, ratio in 0.0..0.9_f64, detection in prop::sample::select(vec![1.0, 1.0, 0.7, 0.3]), downtime in prop::sample::select(vec![0.0, 0.0, 1e-3])) {
        let costs = InspectionCosts::new(ln_cost.exp(), ratio, 1.0).unwrap();
        let unit = delay.mean_up_to(1e300).unwrap();
        let of = |delay: LifeDistribution, unit: f64| DelayTime::new(ln_rate.exp() / unit, delay, downtime * unit, costs).and_then(|model| model.with_detection(detection)).unwrap();
        let model = of(delay, unit);
        match model.best() {
            Ok(BestInterval::Every(best)) => {
                prop_assert!(best.cost_rate <= model.cost_without_inspection() * (1.0 + 1e-9));
                for step in -30..=30 {
                    let rate = model.at(best.interval * 1.2_f64.powi(step)).unwrap().cost_rate;
                    prop_assert!(rate >= best.cost_rate * (1.0 - 1e-10), "{} {}", rate, best.cost_rate);
                }
                if let Ok(BestInterval::Every(other)) = of(scaled, unit * factor).best() {
                    prop_assert!(near(best.interval * factor, other.interval, 1e-6));
                    prop_assert!(near(best.cost_rate / factor, other.cost_rate, 1e-8));
                }
            }
            Ok(BestInterval::None(_)) => {}
            Err(error) => prop_assert_eq!(error, DecisionError::OutOfRange),
        }
    }

    #[test]
    fn more_detection_fails_less((delay, _, _) in life(), x in 0.05..5.0_f64, detection in 0.1..0.9_f64) {
        let costs = InspectionCosts::new(1.0, 2.0, 9.0).unwrap();
        let unit = delay.mean_up_to(1e300).unwrap();
        let model = DelayTime::new(1.0, delay, 0.0, costs).unwrap();
        let share = |detection: f64| model.with_detection(detection).unwrap().at(x * unit).unwrap().failing_share;
        prop_assert!(share(1.0) <= share(detection) * (1.0 + 1e-9));
        // A sure look every interval: the mean of the share failed over it.
        let want = delay.failed_up_to(x * unit).unwrap() / (x * unit);
        prop_assert!(near(share(1.0), want, 1e-10));
    }

    #[test]
    fn one_component_seldom_inspected_is_run_to_failure(shape in 1.0..5.0_f64, delay_shape in 0.7..4.0_f64, ratio in 0.05..2.0_f64, factor in 1e-3..1e3_f64) {
        let costs = InspectionCosts::new(1.0, 5.0, 60.0).unwrap();
        let of = |unit: f64| InspectedComponent::new(LifeDistribution::weibull(shape, unit).unwrap(), LifeDistribution::weibull(delay_shape, ratio * unit).unwrap(), costs).unwrap();
        let model = of(1.0);
        let rare = model.at(1e4).unwrap();
        prop_assert!(near(rare.failing_share, 1.0, 1e-9));
        prop_assert!(near(rare.cost_rate, model.cost_without_inspection().unwrap(), 1e-8));
        let often = model.at(0.02).unwrap();
        prop_assert!(often.failing_share < rare.failing_share);
        prop_assert!(near(of(factor).at(0.3 * factor).unwrap().cost_rate * factor, model.at(0.3).unwrap().cost_rate, 1e-8));
    }
}

#[test]
fn one_component_agrees_with_simulation() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let draw = |rng: &mut ChaCha8Rng, shape: f64, scale: f64| {
        scale * (-(1.0 - rng.random::<f64>()).ln()).powf(1.0 / shape)
    };
    for (shape, delay_shape, delay_scale, interval) in
        [(3.0, 1.0, 40.0, 30.0), (0.8, 2.0, 25.0, 50.0)]
    {
        let costs = InspectionCosts::new(2.0, 30.0, 200.0).expect("valid");
        let model = InspectedComponent::new(
            LifeDistribution::weibull(shape, 100.0).expect("valid"),
            LifeDistribution::weibull(delay_shape, delay_scale).expect("valid"),
            costs,
        )
        .expect("valid");
        const RUNS: u32 = 200_000;
        let (mut cost, mut usage, mut failed, mut looks) = (0.0, 0.0, 0.0, 0.0);
        for _ in 0..RUNS {
            let defect = draw(&mut rng, shape, 100.0);
            let fails = defect + draw(&mut rng, delay_shape, delay_scale);
            let next = (defect / interval).floor() + 1.0;
            if fails < next * interval {
                (cost, usage, failed, looks) = (
                    cost + 200.0 + 2.0 * (next - 1.0),
                    usage + fails,
                    failed + 1.0,
                    looks + next - 1.0,
                );
            } else {
                (cost, usage, looks) = (
                    cost + 30.0 + 2.0 * next,
                    usage + next * interval,
                    looks + next,
                );
            }
        }
        let runs = f64::from(RUNS);
        let got = model.at(interval).expect("a cycle");
        assert!(near(got.failing_share, failed / runs, 0.01), "{got:?}");
        assert!(near(got.mean_cycle, usage / runs, 0.01), "{got:?}");
        assert!(near(got.inspections, looks / runs, 0.01), "{got:?}");
        assert!(near(got.cost_rate, cost / usage, 0.01), "{got:?}");
    }
}

#[test]
fn age_replacement_agrees_with_simulation() {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let (mut cost, mut usage) = (0.0, 0.0);
    for _ in 0..200_000 {
        let fails = 500.0 * (-(1.0 - rng.random::<f64>()).ln()).powf(1.0 / 3.0);
        cost += if fails <= 191.2 { 10.0 } else { 1.0 };
        usage += fails.min(191.2);
    }
    let life = LifeDistribution::weibull(3.0, 500.0).expect("valid");
    let costs = RenewalCosts::new(1.0, 10.0).expect("valid");
    assert!(near(
        renewal_cost_rate(life, costs, 191.2).expect("a rate"),
        cost / usage,
        0.01
    ));
}
