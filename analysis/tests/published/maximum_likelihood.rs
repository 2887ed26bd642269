//! Fits and their limits against published data sets.

use crate::golden::{Agreement, cases, observations, sample};
use serde_json::Value;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, FitError, fit};
use wearbook_analysis::intervals::{Level, Method, Quantity, Side, limits, ln_quantile_error};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn family(case: &Value) -> Family {
    serde_json::from_value(case["family"].clone()).expect("a known family")
}

fn level(text: &str) -> Level {
    Level::two_sided(text.parse().expect("a number")).expect("a level")
}

fn compare_estimates(fit: &Fit, expected: &Value, agreement: &mut Agreement) {
    for (name, want) in expected["params"].as_object().expect("parameters") {
        agreement.option("parameters", fit.parameter(name), want, 1e-6, 0.0);
    }
    agreement.option(
        "loglik",
        Some(fit.log_likelihood),
        &expected["loglik"],
        1e-6,
        0.0,
    );
    agreement.option("criteria", Some(fit.aic), &expected["aic"], 1e-6, 0.0);
    agreement.option("criteria", fit.aicc, &expected["aicc"], 1e-6, 0.0);
    agreement.option("criteria", Some(fit.bic), &expected["bic"], 1e-6, 0.0);
    assert_eq!(Some(fit.lives), expected["n"].as_u64());
    assert_eq!(
        Some(fit.failures),
        expected["n_not_right_censored"].as_u64()
    );
    for (name, got) in [
        ("cov_natural", &fit.covariance),
        ("cov_log", &fit.log_covariance),
    ] {
        let got = got.as_ref().expect("a covariance");
        let want = |i: usize, j: usize| expected[name][i][j].as_f64().expect("a number");
        for (i, row) in got.iter().enumerate() {
            for (j, cell) in row.iter().enumerate() {
                let floor = (want(i, i) * want(j, j)).sqrt();
                agreement.close("covariance", *cell, want(i, j), 1e-5, floor);
            }
        }
    }
}

fn compare_limits(sample: &Sample, fit: &Fit, expected: &Value, agreement: &mut Agreement) {
    for (confidence, parameters) in expected["param_ci"].as_object().expect("limits") {
        for (name, want) in parameters.as_object().expect("by parameter") {
            let got = limits(
                sample,
                fit,
                Quantity::parameter(fit, name).expect("a parameter"),
                level(confidence),
                Method::Delta,
            )
            .expect("limits");
            agreement.option("wald", got.lower, &want[0], 1e-5, 0.0);
            agreement.option("wald", got.upper, &want[1], 1e-5, 0.0);
        }
    }
    for name in ["shape", "sigma"] {
        let Some(levels) = expected[format!("{name}_lr_ci")].as_object() else {
            continue;
        };
        for (confidence, want) in levels {
            let got = limits(
                sample,
                fit,
                Quantity::parameter(fit, name).expect("a parameter"),
                level(confidence),
                Method::LikelihoodRatio,
            )
            .expect("limits");
            agreement.option(
                &format!("lr shape@{confidence} lower"),
                got.lower,
                &want[0],
                1e-4,
                0.0,
            );
            agreement.option(
                &format!("lr shape@{confidence} upper"),
                got.upper,
                &want[1],
                1e-4,
                0.0,
            );
        }
    }
    for (share, want) in expected["blife"].as_object().expect("quantiles") {
        let p: f64 = share.parse().expect("a share");
        agreement.option("quantile", fit.quantile(p), &want["t"], 1e-6, 0.0);
        let error = ln_quantile_error(fit, p).expect("an error");
        agreement.option("quantile error", Some(error), &want["se_log"], 1e-5, 0.0);
        for (confidence, bounds) in want["delta"].as_object().expect("limits") {
            let got = limits(
                sample,
                fit,
                Quantity::Quantile(p),
                level(confidence),
                Method::Delta,
            )
            .expect("limits");
            agreement.option("wald", got.lower, &bounds[0], 1e-5, 0.0);
            agreement.option("wald", got.upper, &bounds[1], 1e-5, 0.0);
        }
        for (confidence, bounds) in want["lr"].as_object().into_iter().flatten() {
            let got = limits(
                sample,
                fit,
                Quantity::Quantile(p),
                level(confidence),
                Method::LikelihoodRatio,
            )
            .expect("limits");
            agreement.option(
                &format!("lr quantile@{share} {confidence} lower"),
                got.lower,
                &bounds[0],
                1e-4,
                0.0,
            );
            agreement.option(
                &format!("lr quantile@{share} {confidence} upper"),
                got.upper,
                &bounds[1],
                1e-4,
                0.0,
            );
        }
    }
}

#[test]
fn published_data_sets_give_the_published_fits_and_limits() {
    for case in cases(include_str!("../data/maximum_likelihood.json")) {
        let name = case["id"].as_str().expect("a name");
        let sample = sample(case["data"].as_str().expect("a data set"));
        let fit = fit(&sample, family(&case)).expect(name);
        let mut agreement = Agreement::default();
        compare_estimates(&fit, &case["expected"], &mut agreement);
        compare_limits(&sample, &fit, &case["expected"], &mut agreement);
        agreement.settle(name);
    }
}

#[test]
fn an_estimate_exists_exactly_where_the_likelihood_has_a_top() {
    for case in cases(include_str!("../data/existence.json")) {
        let name = case["id"].as_str().expect("a name");
        let sample = sample(case["data"].as_str().expect("a data set"));
        let fitted = fit(&sample, family(&case));
        if case["expected"]["status"] == "no_mle" {
            let error = fitted.expect_err(name);
            assert!(
                matches!(
                    error,
                    FitError::NoFailures | FitError::NoFiniteMaximum { .. }
                ),
                "{name}: {error}"
            );
        } else {
            let fit = fitted.expect(name);
            let mut agreement = Agreement::default();
            compare_estimates(&fit, &case["expected"], &mut agreement);
            compare_limits(&sample, &fit, &case["expected"], &mut agreement);
            agreement.settle(name);
        }
    }
}

#[test]
fn worked_handbook_samples_give_their_printed_values() {
    for case in cases(include_str!("../data/worked.json")) {
        let name = case["id"].as_str().expect("a name");
        let rows = |kind: &str, build: fn(f64) -> Observation| -> Vec<Observation> {
            case[kind]
                .as_array()
                .expect("rows")
                .iter()
                .map(|row| {
                    build(row[0].as_f64().expect("age")).times(row[1].as_u64().expect("count"))
                })
                .collect()
        };
        let lives = [
            rows("failed", Observation::exact),
            rows("running", Observation::right_censored),
        ]
        .concat();
        let fit = fit(&Sample::new(lives).expect("valid"), Family::Weibull).expect(name);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        agreement.option("shape", fit.parameter("shape"), &want["shape"], 1e-4, 0.0);
        agreement.option("scale", fit.parameter("scale"), &want["scale"], 1e-5, 0.0);
        agreement.option(
            "loglik",
            Some(fit.log_likelihood),
            &want["log_likelihood"],
            1e-6,
            0.0,
        );
        agreement.option("B10", fit.quantile(0.1), &want["t10"], 2e-4, 0.0);
        agreement.settle(name);
    }
}

#[test]
fn six_failures_in_1703_bearing_cages_reach_the_printed_lopsided_limits() {
    // Meeker and Escobar 1998, example 8.16: B10 3903, likelihood-ratio 95 % limits 2093 to 22144.
    let sample = sample("bearing-cage");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let ratio = limits(
        &sample,
        &fit,
        Quantity::Quantile(0.1),
        Level::TWO_SIDED_95,
        Method::LikelihoodRatio,
    )
    .expect("limits");
    assert!((ratio.value - 3903.0).abs() < 1.0);
    assert!((ratio.lower.expect("lower") - 2094.0).abs() < 1.5);
    assert!((ratio.upper.expect("upper") - 22144.0).abs() < 5.0);
    let wald = limits(
        &sample,
        &fit,
        Quantity::Quantile(0.1),
        Level::TWO_SIDED_95,
        Method::Delta,
    )
    .expect("limits");
    assert!((wald.lower.expect("lower") - 1489.0).abs() < 1.0);
    assert!((wald.upper.expect("upper") - 10235.0).abs() < 2.0);
}

#[test]
fn two_modes_of_shock_absorbers_combine_as_a_series_system() {
    // O'Connor 1985: each mode alone, the other as right-censored.
    let rows = observations("shock-absorbers");
    let whole = Sample::new(rows).expect("valid");
    let parts = whole.by_cause();
    assert_eq!(parts.len(), 2);
    for ((cause, part), name) in parts.iter().zip(["shock-mode1", "shock-mode2"]) {
        let want = fit(&sample(name), Family::Weibull).expect("a fit");
        let got = fit(part, Family::Weibull).expect("a fit");
        assert_eq!(got.parameters, want.parameters, "{cause:?}");
    }
    // The sum of the two likelihoods is that of the series system; separate shapes describe these lives better.
    let separate: f64 = parts
        .iter()
        .map(|(_, part)| fit(part, Family::Weibull).expect("a fit").log_likelihood)
        .sum();
    assert!(separate.is_finite());
}

#[test]
fn twenty_eight_failures_in_4156_lives_keep_a_positive_variance() {
    let mut rows: Vec<Observation> = (0..28)
        .map(|i| Observation::exact(1.0 + 40.0 * f64::from(i * i)))
        .collect();
    rows.push(Observation::right_censored(30_000.0).times(4128));
    let sample = Sample::new(rows).expect("valid");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    assert!(fit.parameter("shape").expect("shape") < 0.7);
    let covariance = fit.covariance.expect("a covariance");
    assert!(covariance[0][0] > 0.0 && covariance[1][1] > 0.0);
}

#[test]
fn one_sided_limits_at_95_are_the_sides_of_two_sided_limits_at_90() {
    let sample = sample("ball-bearings");
    let fit = fit(&sample, Family::Weibull).expect("a fit");
    let both = limits(
        &sample,
        &fit,
        Quantity::Quantile(0.1),
        Level::TWO_SIDED_90,
        Method::LikelihoodRatio,
    )
    .expect("limits");
    for (side, want) in [(Side::Lower, both.lower), (Side::Upper, both.upper)] {
        let one = Level::new(0.95, side).expect("a level");
        let got = limits(
            &sample,
            &fit,
            Quantity::Quantile(0.1),
            one,
            Method::LikelihoodRatio,
        )
        .expect("limits");
        let got = got.lower.or(got.upper).expect("one side");
        assert!((got / want.expect("that side") - 1.0).abs() < 1e-9);
    }
}
