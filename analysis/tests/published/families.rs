//! Gamma, generalised gamma and three-parameter Weibull against published data sets, and what any fit says of a life.

use crate::golden::{Agreement, cases, sample};
use serde_json::Value;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{
    Edge, Fit, FitError, KnownShapeLimits, LifeDistribution, NestedError, ParameterError,
    ThresholdLikelihood, fit, known_shape, nested, threshold_weibull,
};
use wearbook_analysis::intervals::{Level, LimitsError, Method, Quantity, Resampling, limits};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::warning::WarningCode;

fn family(case: &Value) -> Family {
    serde_json::from_value(case["family"].clone()).expect("a known family")
}

fn codes(fit: &Fit) -> Vec<WarningCode> {
    fit.warnings.iter().map(|warning| warning.code).collect()
}

fn exact(usages: &[f64]) -> Sample {
    Sample::new(usages.iter().copied().map(Observation::exact)).expect("valid")
}

#[test]
fn published_data_sets_give_the_published_fits_of_the_further_families() {
    for case in cases(include_str!("../data/families.json")) {
        let name = case["id"].as_str().expect("a name");
        let sample = sample(case["data"].as_str().expect("a data set"));
        let fit = fit(&sample, family(&case)).expect(name);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        for (parameter, value) in want["params"].as_object().expect("parameters") {
            agreement.option("parameters", fit.parameter(parameter), value, 1e-6, 0.0);
        }
        agreement.option(
            "loglik",
            Some(fit.log_likelihood),
            &want["loglik"],
            1e-9,
            0.0,
        );
        agreement.option("criteria", Some(fit.aic), &want["aic"], 1e-9, 0.0);
        agreement.option("criteria", fit.aicc, &want["aicc"], 1e-9, 0.0);
        agreement.option("criteria", Some(fit.bic), &want["bic"], 1e-9, 0.0);
        assert_eq!(Some(fit.lives), want["n"].as_u64());
        assert_eq!(
            serde_json::json!(fit.family.parameter_names()),
            want["param_order"]
        );
        let cells = |i: usize, j: usize| want["cov_natural"][i][j].as_f64().expect("a number");
        for (i, row) in fit
            .covariance
            .as_ref()
            .expect("a covariance")
            .iter()
            .enumerate()
        {
            for (j, cell) in row.iter().enumerate() {
                let floor = (cells(i, i) * cells(j, j)).sqrt();
                agreement.close("covariance", *cell, cells(i, j), 1e-5, floor);
            }
        }
        assert!(fit.still_to_gain.expect("a top") < 1e-12 * (1.0 + fit.log_likelihood.abs()));
        agreement.settle(name);
    }
}

#[test]
fn the_unconstrained_covariance_is_the_natural_one_in_relative_terms() {
    let sample = sample("ball-bearings");
    for family in [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ] {
        let fit = fit(&sample, family).expect("a fit");
        let (natural, logarithmic) = (
            fit.covariance.expect("a covariance"),
            fit.log_covariance.expect("a covariance"),
        );
        let unit = |place: usize| match family.parameter_names()[place] {
            "mu" | "q" | "threshold" => 1.0,
            _ => fit.parameters[place],
        };
        for i in 0..natural.len() {
            for j in 0..natural.len() {
                let got = logarithmic[i][j] * unit(i) * unit(j);
                let size = (natural[i][i] * natural[j][j]).sqrt();
                assert!((got - natural[i][j]).abs() <= 1e-12 * size, "{family:?}");
            }
        }
    }
}

#[test]
fn lives_left_after_an_age_match_the_closed_forms() {
    for case in cases(include_str!("../data/families_conditional.json")) {
        let name = case["id"].as_str().expect("a name");
        let parameters: Vec<f64> =
            serde_json::from_value(case["parameters"].clone()).expect("numbers");
        let life = LifeDistribution::new(family(&case), &parameters).expect(name);
        let mut agreement = Agreement::default();
        for row in case["rows"].as_array().expect("rows") {
            let age = row["t"].as_f64().expect("an age");
            agreement.option("survival", Some(life.survival(age)), &row["R"], 1e-10, 0.0);
            for (span, want) in row["cond_surv"].as_object().expect("spans") {
                let span: f64 = span.parse().expect("a span");
                let got = life.conditional_survival(age, span);
                agreement.option("conditional survival", Some(got), want, 1e-10, 0.0);
            }
            for (risk, want) in row["risk_interval"].as_object().expect("risks") {
                let risk: f64 = risk.parse().expect("a risk");
                agreement.option("span", life.span_for_risk(age, risk), want, 1e-8, 0.0);
            }
            let got = life.mean_residual_life(age);
            agreement.option(
                "mean residual life",
                got,
                &row["mean_residual_life"],
                1e-10,
                0.0,
            );
        }
        agreement.settle(name);
    }
}

#[test]
fn a_life_without_failures_has_the_scale_of_one_assumed_failure() {
    for case in cases(include_str!("../data/known_shape.json")) {
        let name = case["id"].as_str().expect("a name");
        let shape = case["shape"].as_f64().expect("shape");
        let sample = sample(case["data"].as_str().expect("data"));
        let fit = known_shape(&sample, shape).expect(name);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        agreement.option(
            "one assumed failure",
            fit.scale_assuming_one_failure(),
            &want["scale_one_assumed_failure"],
            1e-8,
            0.0,
        );
        agreement.option(
            "failure truncated",
            fit.scale_lower_failure_truncated(0.9),
            &want["lower_failure_truncated_0.9"],
            1e-8,
            0.0,
        );
        assert_eq!(fit.limits, KnownShapeLimits::ChiSquare);
        agreement.settle(name);
    }
}

#[test]
fn a_known_shape_takes_failures_found_between_looks() {
    // The highest likelihood, and the scales at which it has fallen by half of 1.6449 squared, by brute force.
    let lives = [
        Observation::interval(100.0, 200.0).times(2),
        Observation::left_censored(150.0),
        Observation::exact(120.0),
        Observation::right_censored(400.0).times(9),
        Observation::interval(250.0, 300.0).entered_at(50.0),
    ];
    let shape = 1.7;
    let hazard = |t: f64, scale: f64| (t / scale).powf(shape);
    let value = |scale: f64| {
        let h = |t: f64| hazard(t, scale);
        2.0 * ((-h(100.0)).exp() - (-h(200.0)).exp()).ln()
            + (1.0 - (-h(150.0)).exp()).ln()
            + (shape / 120.0 * h(120.0)).ln()
            - h(120.0)
            - 9.0 * h(400.0)
            + ((-h(250.0)).exp() - (-h(300.0)).exp()).ln()
            + h(50.0)
    };
    let fit = known_shape(&Sample::new(lives).expect("valid"), shape).expect("a fit");
    assert_eq!(fit.limits, KnownShapeLimits::LikelihoodRatio);
    let scale = fit.scale.expect("a scale");
    let top = value(scale);
    assert!((top - fit.log_likelihood.expect("a value")).abs() < 1e-10);
    for step in 1..4000 {
        assert!(value(100.0 + f64::from(step)) <= top + 1e-12);
    }
    let (lower, upper) = fit.scale_limits(0.9);
    assert_eq!(lower, fit.scale_lower(0.95));
    for limit in [lower.expect("lower"), upper.expect("upper")] {
        let fall = 2.0 * (top - value(limit));
        assert!(
            (fall - 1.644_853_626_951_472_2_f64.powi(2)).abs() < 1e-8,
            "{fall}"
        );
    }
    assert!(lower < fit.scale && fit.scale < upper);
    assert!(fit.scale_lower(0.3) > fit.scale);
    assert_eq!(fit.scale_lower_failure_truncated(0.9), None);
}

#[test]
fn a_known_shape_where_nothing_was_seen_to_survive_has_an_upper_limit_only() {
    let sample = Sample::new([Observation::left_censored(10.0).times(3)]).expect("valid");
    let fit = known_shape(&sample, 2.0).expect("a fit");
    assert_eq!((fit.scale, fit.log_likelihood), (None, None));
    let (lower, upper) = fit.scale_limits(0.9);
    assert_eq!(lower, None);
    // 6 ln(1 - exp(-(10/scale)^2)) = -1.6449^2
    let gained = (10.0 / upper.expect("upper")).powi(2);
    let fall = -6.0 * (-(-gained).exp()).ln_1p();
    assert!((fall - 1.644_853_626_951_472_2_f64.powi(2)).abs() < 1e-9);
}

#[test]
fn twenty_eight_failures_in_4156_lives_have_a_shape_of_0_200() {
    // Constructed: failures at the Weibull quantiles of shape 0.2, all others running at one usage.
    let share = |i: u32| (f64::from(i) + 0.5) / 28.0 * (28.0 / 4156.0);
    let scale = 30_000.0 / (-(-28.0_f64 / 4156.0).ln_1p()).powf(5.0);
    let failures: Vec<f64> = (0..28)
        .map(|i| scale * (-(-share(i)).ln_1p()).powf(5.0))
        .collect();
    let mut rows: Vec<Observation> = failures.iter().copied().map(Observation::exact).collect();
    rows.push(Observation::right_censored(30_000.0).times(4128));
    let sample = Sample::new(rows).expect("valid");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let shape = fit.parameter("shape").expect("shape");
    // For a given shape the best rate is failures over exposure; then one parameter is left to scan.
    let profile = |shape: f64| {
        let exposure: f64 =
            failures.iter().map(|t| t.powf(shape)).sum::<f64>() + 4128.0 * 30_000.0_f64.powf(shape);
        let logs: f64 = failures.iter().map(|t| t.ln()).sum();
        28.0 * (shape.ln() + (28.0 / exposure).ln()) + (shape - 1.0) * logs - 28.0
    };
    let best = (1..40_000)
        .map(|i| f64::from(i) * 1e-5)
        .max_by(|a, b| profile(*a).total_cmp(&profile(*b)))
        .expect("a best");
    assert!((shape - best).abs() <= 1e-5, "{shape} {best}");
    assert!((profile(shape) / fit.log_likelihood - 1.0).abs() < 1e-12);
    assert!((shape - 0.200).abs() < 0.005, "{shape}");
    let covariance = fit.covariance.expect("a covariance");
    assert!(covariance[0][0] > 0.0 && covariance[1][1] > 0.0);
}

#[test]
fn without_a_hill_the_threshold_stands_below_the_first_failure_by_half_the_precision() {
    // Falling hazard from the first failure on.
    let usages: Vec<f64> = (0..20)
        .map(|i| {
            let share = (f64::from(i) + 0.5) / 20.0;
            (100.0 * (10.0 + 40.0 * (-(-share).ln_1p()).powf(1.6))).round() / 100.0
        })
        .collect();
    let sample = exact(&usages);
    let auto = fit(&sample, Family::ThresholdWeibull).expect("a fit");
    assert!(codes(&auto).contains(&WarningCode::RecordingPrecision));
    assert!(
        auto.warnings[0].message.contains("0.01"),
        "{:?}",
        auto.warnings
    );
    let threshold = auto.parameter("threshold").expect("a threshold");
    assert!(
        (threshold - (usages[0] - 0.005)).abs() < 1e-9,
        "{threshold}"
    );
    assert!(auto.parameter("shape").expect("a shape") < 1.0);
    assert_eq!(auto.covariance, None);
    let declared = ThresholdLikelihood::Recorded { precision: 0.01 };
    assert_eq!(
        threshold_weibull(&sample, declared)
            .expect("a fit")
            .parameters,
        auto.parameters
    );
    assert!(matches!(
        threshold_weibull(&sample, ThresholdLikelihood::Density),
        Err(FitError::NoFiniteMaximum { .. })
    ));
    for precision in [0.0, f64::NAN, 1e3] {
        let asked = ThresholdLikelihood::Recorded { precision };
        assert!(matches!(
            threshold_weibull(&sample, asked),
            Err(FitError::Precision { .. })
        ));
    }
    assert!(matches!(
        nested(&sample, &auto, Family::Weibull),
        Err(NestedError::Recorded)
    ));
}

#[test]
fn recording_at_a_fine_precision_comes_to_the_hill_of_the_density() {
    let sample = sample("ball-bearings");
    let density = fit(&sample, Family::ThresholdWeibull).expect("a fit");
    assert_eq!(codes(&density), [WarningCode::LocalMaximum]);
    let fine = threshold_weibull(&sample, ThresholdLikelihood::Recorded { precision: 1e-3 })
        .expect("a fit");
    for (a, b) in density.parameters.iter().zip(&fine.parameters) {
        assert!((a / b - 1.0).abs() < 1e-5, "{a} {b}");
    }
    assert!((density.log_likelihood - fine.log_likelihood).abs() < 1e-6);
}

#[test]
fn a_threshold_at_zero_is_the_plain_weibull_and_says_so() {
    // Early failures below a Weibull line leave no room for a threshold.
    let sample = exact(&[
        1.0, 30.0, 60.0, 80.0, 100.0, 110.0, 120.0, 130.0, 140.0, 150.0,
    ]);
    let plain = fit(&sample, Family::Weibull).expect("a fit");
    let moved = fit(&sample, Family::ThresholdWeibull).expect("a fit");
    assert!(codes(&moved).contains(&WarningCode::ParameterAtBound));
    assert_eq!(moved.parameter("threshold"), Some(0.0));
    assert!((moved.log_likelihood - plain.log_likelihood).abs() < 1e-9);
    let test = nested(&sample, &moved, Family::Weibull).expect("a test");
    assert_eq!((test.freedom, test.edge), (1, Edge::ThresholdAtZero));
    assert!(test.statistic < 1e-8 && test.p > 0.49);
}

#[test]
fn nested_families_are_compared_with_their_degrees_of_freedom() {
    let sample = sample("ball-bearings");
    let full = fit(&sample, Family::GeneralisedGamma).expect("a fit");
    for (family, freedom) in [
        (Family::Weibull, 1),
        (Family::Lognormal, 1),
        (Family::Gamma, 1),
        (Family::Exponential, 2),
    ] {
        let test = nested(&sample, &full, family).expect("a test");
        assert_eq!((test.freedom, test.edge), (freedom, Edge::Inside));
        let want =
            2.0 * (full.log_likelihood - fit(&sample, family).expect("a fit").log_likelihood);
        assert!((test.statistic - want).abs() < 1e-12);
        assert!(test.p > 0.0 && test.p < 1.0);
    }
    // Weibull: 2 (113.691959088 - 112.96924625), upper tail of one degree by the normal.
    let test = nested(&sample, &full, Family::Weibull).expect("a test");
    assert!((test.statistic - 1.445_425_676).abs() < 1e-7);
    let tail = libm::erfc((0.5 * test.statistic).sqrt());
    assert!((test.p / tail - 1.0).abs() < 1e-10);
    let gamma = fit(&sample, Family::Gamma).expect("a fit");
    let test = nested(&sample, &gamma, Family::Exponential).expect("a test");
    assert_eq!(test.freedom, 1);
    assert!(matches!(
        nested(&sample, &gamma, Family::Weibull),
        Err(NestedError::NotNested { .. })
    ));
    let unlike = exact(&[1.0, 2.0]);
    assert!(matches!(
        nested(
            &Sample::new([]).expect("valid"),
            &gamma,
            Family::Exponential
        ),
        Err(NestedError::Fit(FitError::NoLives))
    ));
    assert!(matches!(
        nested(&unlike, &full, Family::Weibull),
        Err(NestedError::MissedTop)
    ));
}

#[test]
fn no_estimate_where_none_exists() {
    let further = [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ];
    for family in further {
        let refused = |sample: &Sample| fit(sample, family).expect_err(family.code());
        assert_eq!(refused(&Sample::new([]).expect("valid")), FitError::NoLives);
        assert_eq!(refused(&sample("edge-zero-failures")), FitError::NoFailures);
        for name in [
            "edge-single-failure-largest",
            "edge-all-equal",
            "edge-all-left-censored",
        ] {
            let error = refused(&sample(name));
            assert!(
                matches!(error, FitError::NoFiniteMaximum { .. }),
                "{name} {error}"
            );
        }
    }
    let two_looks = Sample::new([
        Observation::left_censored(10.0).times(4),
        Observation::interval(10.0, 20.0).times(3),
        Observation::right_censored(20.0).times(2),
    ])
    .expect("valid");
    for family in [Family::GeneralisedGamma, Family::ThresholdWeibull] {
        assert!(matches!(
            fit(&two_looks, family),
            Err(FitError::NotIdentifiable { .. })
        ));
    }
    assert!(fit(&two_looks, Family::Gamma).is_ok());
    assert!(matches!(
        fit(&exact(&[3.0, 5.0]), Family::ThresholdWeibull),
        Err(FitError::NotIdentifiable { .. })
    ));
    // Evenly spread lives with a hard end: a power law with a bound is the limit of q without end.
    let even: Vec<f64> = (1..60).map(f64::from).collect();
    assert!(matches!(
        fit(&exact(&even), Family::GeneralisedGamma),
        Err(FitError::NoFiniteMaximum { .. })
    ));
}

#[test]
fn an_estimate_where_one_exists() {
    // A single failure in the middle of survivors.
    let sample = sample("edge-single-failure-middle");
    let gamma = fit(&sample, Family::Gamma).expect("a fit");
    assert!(gamma.covariance.is_some());
    // The threshold needs different failures, and the generalised gamma more than one.
    assert!(matches!(
        fit(&sample, Family::ThresholdWeibull),
        Err(FitError::NotIdentifiable { .. })
    ));
    match fit(&sample, Family::GeneralisedGamma) {
        Ok(full) => assert!(full.log_likelihood >= gamma.log_likelihood - 1e-9),
        Err(error) => assert!(
            matches!(
                error,
                FitError::NoFiniteMaximum { .. } | FitError::NotIdentifiable { .. }
            ),
            "{error}"
        ),
    }
}

#[test]
fn every_further_family_takes_every_mixture_of_censoring() {
    for name in [
        "mixed-bearings",
        "late-left-bearings",
        "cosmesis-rt",
        "channing-men",
    ] {
        let sample = sample(name);
        for family in [
            Family::Gamma,
            Family::GeneralisedGamma,
            Family::ThresholdWeibull,
        ] {
            match fit(&sample, family) {
                Ok(fit) => println!(
                    "{name} {}: {:?} {}",
                    family.code(),
                    fit.parameters,
                    fit.log_likelihood
                ),
                Err(error) => println!("{name} {}: {error}", family.code()),
            }
        }
        fit(&sample, Family::Gamma).expect(name);
    }
}

#[test]
fn limits_without_a_method_for_the_family_are_refused() {
    let sample = sample("ball-bearings");
    let fit = fit(&sample, Family::Gamma).expect("a fit");
    let drawn = Method::Bootstrap(Resampling {
        seed: 1,
        resamples: 199,
    });
    for method in [Method::ModifiedRoot, drawn] {
        for quantity in [Quantity::Quantile(0.1), Quantity::Parameter("shape")] {
            let got = limits(&sample, &fit, quantity, Level::TWO_SIDED_95, method);
            assert!(matches!(got, Err(LimitsError::Family { .. })), "{got:?}");
        }
    }
}

#[test]
fn parameters_outside_their_range_make_no_life() {
    assert!(matches!(
        LifeDistribution::new(Family::Weibull, &[1.0]),
        Err(ParameterError::Number {
            wanted: 2,
            given: 1,
            ..
        })
    ));
    for (family, parameters) in [
        (Family::Weibull, vec![0.0, 1.0]),
        (Family::Gamma, vec![1.0, f64::INFINITY]),
        (Family::GeneralisedGamma, vec![1.0, 1.0, 51.0]),
        (Family::Lognormal, vec![f64::NAN, 1.0]),
        (Family::ThresholdWeibull, vec![1.0, 1.0, -1.0]),
    ] {
        assert!(matches!(
            LifeDistribution::new(family, &parameters),
            Err(ParameterError::Range { .. })
        ));
    }
}

#[test]
fn a_mean_that_is_infinite_is_not_given() {
    for (family, parameters) in [
        (Family::Loglogistic, vec![100.0, 1.0]),
        (Family::GeneralisedGamma, vec![3.0, 2.0, -0.5]),
    ] {
        let life = LifeDistribution::new(family, &parameters).expect("a life");
        assert_eq!(life.mean(), None);
        assert_eq!(life.mean_residual_life(50.0), None);
    }
}

#[test]
fn a_precision_that_cannot_be_read_is_asked_for() {
    // One exact failure with no short decimal form has neither digits nor gaps to read.
    let sample = Sample::new([
        Observation::exact(std::f64::consts::PI),
        Observation::interval(3.5, 4.0).times(3),
        Observation::interval(4.0, 9.0).times(2),
        Observation::interval(20.0, 90.0).times(2),
        Observation::right_censored(300.0).times(2),
    ])
    .expect("valid");
    assert_eq!(
        fit(&sample, Family::ThresholdWeibull).expect_err("no precision"),
        FitError::UnknownPrecision
    );
    let declared = ThresholdLikelihood::Recorded { precision: 0.1 };
    let fit = threshold_weibull(&sample, declared).expect("a fit");
    assert!(fit.parameter("threshold").expect("a threshold") <= std::f64::consts::PI - 0.05);
}

#[test]
fn a_known_shape_beyond_its_range_is_refused() {
    let sample = Sample::new([
        Observation::exact(2.0),
        Observation::exact(3.0).times(1_000_000_000),
        Observation::right_censored(3.0),
    ])
    .expect("valid");
    for shape in [1e-3, 300.0, 1e6] {
        let fit = known_shape(&sample, shape).expect("a fit");
        assert!(fit.log_likelihood.is_some(), "{fit:?}");
        let (lower, upper) = fit.scale_limits(0.9);
        let numbers = [
            fit.log_likelihood,
            lower,
            fit.scale,
            upper,
            fit.quantile_lower(0.1, 0.9),
        ];
        assert!(numbers.into_iter().flatten().all(f64::is_finite), "{fit:?}");
    }
    for value in [
        4e-312,
        9.99e-4,
        1.001e6,
        1e290,
        1.7e308,
        f64::INFINITY,
        0.0,
        -1.0,
    ] {
        let error = known_shape(&sample, value).expect_err("a refusal");
        assert_eq!(error, FitError::Shape { value });
        let rule = "must be between 0.001 and 1,000,000";
        assert!(error.to_string().contains(rule), "{error}");
    }
    assert!(matches!(
        known_shape(&sample, f64::NAN),
        Err(FitError::Shape { .. })
    ));
}
