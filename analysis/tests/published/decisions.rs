//! Known shape and the arithmetic of decisions.

use crate::golden::{Agreement, cases, sample};
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{fit, known_shape};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::replacement::{MeanRiskAge, WeibullLife};
use wearbook_analysis::sample::Sample;

fn near(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

#[test]
fn a_known_shape_gives_the_chi_square_limits() {
    for case in cases(include_str!("../data/known_shape.json")) {
        let name = case["id"].as_str().expect("a name");
        let fit = known_shape(
            &sample(case["data"].as_str().expect("data")),
            case["shape"].as_f64().expect("shape"),
        )
        .expect(name);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        assert_eq!(Some(fit.failures), want["r"].as_u64());
        agreement.option(
            "exposure",
            fit.exposure(),
            &want["total_transformed_time"],
            1e-8,
            0.0,
        );
        agreement.option("scale", fit.scale, &want["scale_mle"], 1e-8, 0.0);
        for (level, limits) in want["lower"].as_object().expect("limits") {
            // 0.632121 stands for 1 - 1/e, the level at which no failures count as one.
            let level = if level == "0.632121" {
                1.0 - (-1.0_f64).exp()
            } else {
                level.parse().expect("a level")
            };
            agreement.option(
                "scale limit",
                fit.scale_lower(level),
                &limits["scale"],
                1e-8,
                0.0,
            );
            agreement.option(
                "B1 limit",
                fit.quantile_lower(0.01, level),
                &limits["B1"],
                1e-8,
                0.0,
            );
            agreement.option(
                "B10 limit",
                fit.quantile_lower(0.1, level),
                &limits["B10"],
                1e-8,
                0.0,
            );
        }
        if let Some(both) = want["two_sided_time_truncated_0.90"].as_array() {
            let (lower, upper) = fit.scale_limits(0.9);
            agreement.option("two-sided", lower, &both[0], 1e-8, 0.0);
            agreement.option("two-sided", upper, &both[1], 1e-8, 0.0);
        }
        agreement.settle(name);
    }
}

#[test]
fn ten_unfailed_lives_give_the_worked_zero_failure_limits() {
    let sample = Sample::new([Observation::right_censored(150.0).times(10)]).expect("valid");
    let fit = known_shape(&sample, 3.2).expect("a fit");
    for (level, scale, b1) in [
        (0.5, 345.4, 82.0),
        (1.0 - (-1.0_f64).exp(), 308.0, 73.0),
        (0.9, 237.4, 56.0),
        (0.95, 218.6, 52.0),
    ] {
        near(fit.scale_lower(level).expect("a limit"), scale, 0.05);
        near(fit.quantile_lower(0.01, level).expect("a limit"), b1, 0.5);
    }
}

#[test]
fn an_exponential_life_has_the_chi_square_limits_of_its_mean() {
    // 800 h, 2 failures: 127 and 2251 h (NIST/SEMATECH e-Handbook 8.4.5.1, from memory).
    let sample = Sample::new([
        Observation::exact(100.0).times(2),
        Observation::right_censored(600.0),
    ])
    .expect("valid");
    let (lower, upper) = known_shape(&sample, 1.0).expect("a fit").scale_limits(0.9);
    near(lower.expect("lower"), 127.07, 0.01);
    near(upper.expect("upper"), 2251.2, 0.1);
}

#[test]
fn risk_limited_ages_match_the_worked_figures() {
    let life = WeibullLife::new(3.2, 360.0).expect("valid");
    for (p, age) in [
        (0.001, 41.6),
        (0.01, 85.5),
        (0.02, 106.4),
        (0.05, 142.3),
        (0.1, 178.2),
    ] {
        near(life.quantile(p).expect("an age"), age, 0.05);
    }
    let MeanRiskAge::At(age) = life.age_for_mean_risk(2e-4) else {
        panic!("an age exists")
    };
    // The closed form for small F, (p scale^shape)^(1/(shape-1)), gives 108.9; the exact root is a little later.
    near(age, 108.9, 0.6);
    near((2e-4 * 360.0_f64.powf(3.2)).powf(1.0 / 2.2), 108.9, 0.05);
    near(life.failure(108.9), 0.0215, 1e-4);
    near(life.failure(age) / age, 2e-4, 1e-15);
    near(life.conditional_failure(150.0, 50.0), 0.088, 5e-4);
    let spindle = WeibullLife::new(2.8, 820.0).expect("valid");
    near(spindle.quantile(0.001).expect("an age"), 69.6, 0.05);
    let MeanRiskAge::At(age) = spindle.age_for_mean_risk(1e-5) else {
        panic!("an age exists")
    };
    near(age, 56.9, 0.05);
}

#[test]
fn the_further_span_carries_exactly_the_risk_asked_for() {
    let life = WeibullLife::new(3.2, 360.0).expect("valid");
    for age in [0.0, 1e-6, 10.0, 150.0, 3000.0] {
        for p in [1e-9, 1e-3, 0.5, 0.99] {
            let span = life.span_for_risk(age, p).expect("a span");
            near(life.conditional_failure(age, span) / p, 1.0, 1e-9);
        }
    }
}

#[test]
fn a_mean_risk_cap_knows_when_renewal_does_not_help() {
    let early = WeibullLife::new(0.7, 100.0).expect("valid");
    assert_eq!(early.age_for_mean_risk(0.5), MeanRiskAge::AboveFromStart);
    let wear = WeibullLife::new(3.0, 100.0).expect("valid");
    assert_eq!(wear.age_for_mean_risk(0.5), MeanRiskAge::NeverReached);
}

#[test]
fn the_cage_fleet_expects_about_five_failures_in_its_next_300_hours() {
    let sample = sample("bearing-cage");
    let life =
        WeibullLife::from_fit(&fit(&sample, Family::Weibull).expect("a fit")).expect("a life");
    let ages = sample
        .observations()
        .filter(|row| row.upper.is_infinite())
        .flat_map(|row| std::iter::repeat_n(row.lower, usize::try_from(row.count).expect("small")));
    near(life.expected_failures(ages, 300.0), 5.06, 0.01);
}

#[test]
fn an_assumed_shape_is_the_answer_when_failures_are_few() {
    // The cage data with the shape held: B10 6465, 3999, 2555.
    let sample = sample("bearing-cage");
    for (shape, b10) in [(1.5, 6465.0), (2.0, 3999.0), (3.0, 2555.0)] {
        let scale = known_shape(&sample, shape)
            .expect("a fit")
            .scale
            .expect("a scale");
        near(
            WeibullLife::new(shape, scale)
                .expect("valid")
                .quantile(0.1)
                .expect("B10"),
            b10,
            1.0,
        );
    }
}
