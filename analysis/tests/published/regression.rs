//! Regression against published data sets and values.

use crate::golden::{Agreement, cases};
use serde_json::Value;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::FitError;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::regression::{
    AcceleratedLife, CovariateLife, CovariatePoint, CovariateSample, PerStratum, PredictionError,
    ProportionalHazards, RegressionError, RegressionLimitMethod, Ties, accelerated_life,
    proportional_hazards,
};

const FILE: &str = include_str!("../data/regression.json");

fn names(case: &Value) -> Vec<String> {
    let names = case["options"]["covariates"].as_array().expect("names");
    names
        .iter()
        .map(|name| name.as_str().expect("a name").to_owned())
        .collect()
}

/// The lives of a case with the covariates and strata that it names.
fn sample(case: &Value) -> CovariateSample {
    let file: Value = serde_json::from_str(FILE).expect("the file is JSON");
    let columns = &file["sets"][case["data"].as_str().expect("a set")]["columns"];
    let names = names(case);
    let number = |cell: &Value| cell.as_f64();
    let rows = (0..columns["lower"].as_array().expect("rows").len()).map(|row| {
        let lower = number(&columns["lower"][row]).expect("a usage");
        let life = match number(&columns["upper"][row]) {
            Some(_) => Observation::exact(lower),
            None => Observation::right_censored(lower),
        };
        let values = names
            .iter()
            .map(|name| number(&columns["covariates"][name][row]).expect("a value"))
            .collect();
        let life = CovariateLife::new(life, values);
        match case["options"]["strata"].as_str() {
            Some(strata) => life.in_stratum(columns["covariates"][strata][row].to_string()),
            None => life,
        }
    });
    CovariateSample::new(names.clone(), rows).expect("published data are valid")
}

fn case(id: &str) -> Value {
    cases(FILE)
        .into_iter()
        .find(|case| case["id"] == id)
        .expect("a case")
}

fn compare_covariance(got: &[Vec<f64>], want: &Value, agreement: &mut Agreement) {
    let cell = |i: usize, j: usize| want[i][j].as_f64().expect("a number");
    for (i, row) in got.iter().enumerate() {
        for (j, got) in row.iter().enumerate() {
            let floor = (cell(i, i) * cell(j, j)).sqrt();
            agreement.close("covariance", *got, cell(i, j), 1e-5, floor);
        }
    }
}

#[test]
fn accelerated_life_gives_the_published_values() {
    for case in cases(FILE) {
        let id = case["id"].as_str().expect("a name");
        if !id.starts_with("aft-") {
            continue;
        }
        let family = serde_json::from_value(case["options"]["dist"].clone()).expect("a family");
        let fit = accelerated_life(&sample(&case), AcceleratedLife::new(family)).expect(id);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        let mut close = |what: &str, got: f64, want: &Value| {
            agreement.option(what, Some(got), want, 1e-6, 0.0);
        };
        close(
            "intercept",
            fit.intercepts[0].value,
            &want["coef"]["intercept"],
        );
        close("sigma", fit.sigmas[0].value, &want["sigma"]);
        for coefficient in &fit.coefficients {
            let name = coefficient.name.as_str();
            close("coefficient", coefficient.value, &want["coef"][name]);
            close(
                "error",
                coefficient.std_error.expect("an error"),
                &want["se"][name],
            );
        }
        close("loglik", fit.log_likelihood, &want["loglik"]);
        close("loglik", fit.log_likelihood_without, &want["loglik_null"]);
        let overall = fit.likelihood_ratio.expect("a test");
        close("ratio", overall.chi_square, &want["lr"]);
        assert_eq!(Some(u64::from(overall.freedom)), want["df"].as_u64());
        let order: Vec<String> = serde_json::from_value(want["cov_order"].clone()).expect("names");
        assert_eq!(fit.parameter_names, order);
        compare_covariance(
            &fit.covariance.expect("a covariance"),
            &want["cov"],
            &mut agreement,
        );
        agreement.settle(id);
    }
}

#[test]
fn proportional_hazards_give_the_published_values_under_each_rule_of_ties() {
    for case in cases(FILE) {
        let id = case["id"].as_str().expect("a name");
        if !id.starts_with("cox-") {
            continue;
        }
        for (rule, want) in case["expected"].as_object().expect("by rule of ties") {
            let ties = match rule.as_str() {
                "breslow" => Ties::Breslow,
                "efron" => Ties::Efron,
                _ => Ties::Exact,
            };
            let model = ProportionalHazards {
                ties,
                stratified: case["options"]["strata"].is_string(),
            };
            let fit = proportional_hazards(&sample(&case), model).expect(id);
            let mut agreement = Agreement::default();
            let mut close = |what: &str, got: f64, want: &Value| {
                agreement.option(what, Some(got), want, 1e-6, 0.0);
            };
            for coefficient in &fit.coefficients {
                let name = coefficient.name.as_str();
                close("coefficient", coefficient.value, &want["coef"][name]);
                close(
                    "error",
                    coefficient.std_error.expect("an error"),
                    &want["se"][name],
                );
            }
            close("loglik", fit.log_likelihood, &want["loglik"]);
            close("loglik", fit.log_likelihood_without, &want["loglik_null"]);
            close("ratio", fit.tests.likelihood_ratio.chi_square, &want["lr"]);
            close("wald", fit.tests.wald.chi_square, &want["wald"]);
            close("score", fit.tests.score.chi_square, &want["score"]);
            assert_eq!(
                Some(u64::from(fit.tests.score.freedom)),
                want["df"].as_u64()
            );
            compare_covariance(&fit.covariance, &want["cov"], &mut agreement);
            agreement.settle(&format!("{id} {rule}"));
        }
    }
}

#[test]
fn limits_of_the_capacitors_enclose_their_estimates_and_the_methods_agree_roughly() {
    let case = case("aft-capacitor-weibull");
    let sample = sample(&case);
    let fit = accelerated_life(&sample, AcceleratedLife::new(Family::Weibull)).expect("a fit");
    let point = CovariatePoint::new(vec![250.0_f64.ln(), 175.0]);
    let level = Level::TWO_SIDED_95;
    let both = |method| {
        [
            fit.quantile_limits(&sample, &point, 0.1, level, method),
            fit.survival_limits(&sample, &point, 500.0, level, method),
            fit.acceleration_factor(&sample, "log_volt", level, method),
            fit.acceleration_factor(&sample, "temp", level, method),
        ]
    };
    let pairs = both(RegressionLimitMethod::LikelihoodRatio)
        .into_iter()
        .zip(both(RegressionLimitMethod::Delta));
    for (ratio, delta) in pairs {
        let (ratio, delta) = (ratio.expect("limits"), delta.expect("limits"));
        assert_eq!(ratio.value, delta.value);
        for (one, other) in [(ratio.lower, delta.lower), (ratio.upper, delta.upper)] {
            let (one, other) = (one.expect("a limit"), other.expect("a limit"));
            assert!((one / other).ln().abs() < 0.25, "{one} {other}");
        }
        assert!(ratio.lower < Some(ratio.value) && ratio.upper > Some(ratio.value));
        assert!(ratio.warnings.is_empty());
    }
    // Beyond the tested voltages the answer carries a caution.
    let far = CovariatePoint::new(vec![100.0_f64.ln(), 175.0]);
    let limits = fit
        .quantile_limits(&sample, &far, 0.1, level, RegressionLimitMethod::default())
        .expect("limits");
    assert!(!limits.warnings.is_empty());
}

#[test]
fn the_hazard_ratio_of_the_drug_has_limits_around_it() {
    let case = case("cox-leukemia");
    let sample = sample(&case);
    let fit = proportional_hazards(&sample, ProportionalHazards::default()).expect("a fit");
    let level = Level::TWO_SIDED_95;
    let delta = fit
        .hazard_ratio(&sample, "drug6mp", level, RegressionLimitMethod::Delta)
        .expect("limits");
    let ratio = fit
        .hazard_ratio(
            &sample,
            "drug6mp",
            level,
            RegressionLimitMethod::LikelihoodRatio,
        )
        .expect("limits");
    assert!((delta.value - (-1.57212514883_f64).exp()).abs() < 1e-9);
    let reach = 1.959963984540054 * 0.412396717709;
    assert!((delta.upper.expect("upper") - (-1.57212514883_f64 + reach).exp()).abs() < 1e-9);
    assert!(
        ratio.lower < delta.lower,
        "the profile leans to small ratios"
    );
    assert!(ratio.upper.expect("upper") < 1.0);
}

fn life(usage: f64, failed: bool, values: &[f64]) -> CovariateLife {
    let life = if failed {
        Observation::exact(usage)
    } else {
        Observation::right_censored(usage)
    };
    CovariateLife::new(life, values.to_vec())
}

fn build(names: &[&str], rows: &[(f64, bool, &[f64])]) -> CovariateSample {
    let rows = rows
        .iter()
        .map(|(usage, failed, values)| life(*usage, *failed, values));
    CovariateSample::new(names.iter().copied(), rows).expect("valid")
}

fn weibull(sample: &CovariateSample) -> RegressionError {
    accelerated_life(sample, AcceleratedLife::new(Family::Weibull)).expect_err("no fit")
}

fn hazards(sample: &CovariateSample) -> RegressionError {
    proportional_hazards(sample, ProportionalHazards::default()).expect_err("no fit")
}

#[test]
fn faulty_rows_are_named_by_row_and_covariate() {
    let rows = [
        life(10.0, true, &[1.0, 2.0]),
        life(12.0, true, &[f64::NAN, 2.0]),
        life(-1.0, true, &[1.0, 2.0]),
        life(12.0, true, &[1.0]),
    ];
    let error = CovariateSample::new(["load", "heat"], rows).expect_err("faults");
    assert_eq!(error.values[0].row, 1);
    assert_eq!(error.values[0].covariate.as_deref(), Some("load"));
    assert_eq!(error.values[1].row, 3);
    assert_eq!(error.values[1].covariate, None);
    assert_eq!(error.lives[0].row, 2);
    assert!(error.to_string().contains("row 1, load must be finite"));
    let error = CovariateSample::new(["load", "load"], []).expect_err("a name twice");
    assert_eq!(error.names, ["load"]);
}

#[test]
fn columns_that_say_nothing_new_are_named() {
    let rows: Vec<(f64, bool, Vec<f64>)> = (0..12)
        .map(|i| {
            let x = f64::from(i % 4);
            let y = f64::from(i % 3);
            (
                10.0 + f64::from(i * i),
                true,
                vec![x, y, 2.0 * x - y + 7.0, 5.0],
            )
        })
        .collect();
    let rows: Vec<(f64, bool, &[f64])> = rows.iter().map(|r| (r.0, r.1, r.2.as_slice())).collect();
    let all = build(&["load", "heat", "mixed", "fixed"], &rows);
    for refused in [weibull, hazards] {
        assert_eq!(
            refused(&all),
            RegressionError::Constant {
                covariate: "fixed".into()
            }
        );
        let three = all
            .with_covariates(&["load", "heat", "mixed"])
            .expect("names");
        assert_eq!(
            refused(&three),
            RegressionError::Collinear {
                covariate: "mixed".into(),
                others: vec!["load".into(), "heat".into()]
            }
        );
    }
    let strata = (0..12).map(|i| {
        let part = f64::from(i % 2);
        life(10.0 + f64::from(i * i), true, &[part]).in_stratum(part.to_string())
    });
    let strata = CovariateSample::new(["part"], strata).expect("valid");
    let own = AcceleratedLife {
        intercepts: PerStratum::Own,
        ..AcceleratedLife::new(Family::Weibull)
    };
    assert!(matches!(
        accelerated_life(&strata, own),
        Err(RegressionError::ConstantWithinStrata { .. })
    ));
}

#[test]
fn effects_without_bound_are_refused_by_name() {
    // Nobody with the covariate failed.
    let rows: [(f64, bool, &[f64]); 8] = [
        (10.0, true, &[0.0, 1.0]),
        (14.0, true, &[0.0, 2.0]),
        (19.0, true, &[0.0, 1.5]),
        (25.0, false, &[0.0, 1.2]),
        (28.0, true, &[0.0, 0.3]),
        (12.0, false, &[1.0, 1.1]),
        (22.0, false, &[1.0, 2.0]),
        (30.0, false, &[1.0, 0.4]),
    ];
    let sample = build(&["new", "heat"], &rows);
    let wanted = RegressionError::Unbounded {
        covariates: vec!["new".into()],
    };
    assert_eq!(hazards(&sample), wanted);
    for family in Family::ALL {
        let refused = accelerated_life(&sample, AcceleratedLife::new(family));
        assert_eq!(refused.expect_err("no fit"), wanted, "{family:?}");
    }
}

#[test]
fn too_few_failures_inexact_failures_and_crowded_ties_are_refused() {
    let few: [(f64, bool, &[f64]); 4] = [
        (10.0, true, &[0.0, 1.0]),
        (14.0, true, &[1.0, 2.0]),
        (15.0, false, &[1.0, 0.0]),
        (16.0, false, &[0.0, 3.0]),
    ];
    let sample = build(&["new", "heat"], &few);
    assert_eq!(
        weibull(&sample),
        RegressionError::TooFewFailures {
            failures: 2,
            parameters: 4
        }
    );
    let one = build(&["new", "heat"], &[few[0], few[2], few[3]]);
    assert!(matches!(
        hazards(&one),
        RegressionError::TooFewFailures { .. }
    ));
    let none = build(&["new"], &[(14.0, false, &[1.0]), (15.0, false, &[0.0])]);
    for refused in [weibull, hazards] {
        assert_eq!(
            refused(&none),
            RegressionError::WithoutCovariates(FitError::NoFailures)
        );
    }
    let empty = CovariateSample::new(["new"], []).expect("valid");
    assert!(matches!(
        hazards(&empty),
        RegressionError::WithoutCovariates(FitError::NoLives)
    ));

    let bare = sample.with_covariates(&[]).expect("names");
    assert_eq!(hazards(&bare), RegressionError::NoCovariates);

    let inexact = [
        CovariateLife::new(Observation::interval(1.0, 2.0), vec![0.0]),
        CovariateLife::new(Observation::exact(3.0), vec![1.0]),
    ];
    let inexact = CovariateSample::new(["new"], inexact).expect("valid");
    assert_eq!(
        hazards(&inexact),
        RegressionError::InexactFailures { lives: 1 }
    );

    let crowd = [0.0, 1.0, 2.0].map(|x| {
        CovariateLife::new(
            Observation::exact(5.0 + (x - 1.0) * (x - 1.0)).times(500),
            vec![x],
        )
    });
    let crowd = CovariateSample::new(["new"], crowd).expect("valid");
    let exact = ProportionalHazards {
        ties: Ties::Exact,
        stratified: false,
    };
    assert!(matches!(
        proportional_hazards(&crowd, exact),
        Err(RegressionError::TooManyTies {
            ties: 1000,
            most: 300,
            ..
        })
    ));
}

#[test]
fn hazards_that_never_compare_a_covariate_say_so() {
    // The lives that differ in the covariate are gone before the first failure.
    let rows: [(f64, bool, &[f64]); 4] = [
        (1.0, false, &[1.0]),
        (2.0, false, &[2.0]),
        (5.0, true, &[0.0]),
        (6.0, true, &[0.0]),
    ];
    assert_eq!(
        hazards(&build(&["new"], &rows)),
        RegressionError::NotIdentifiable {
            covariates: vec!["new".into()]
        }
    );
}

#[test]
fn a_perfect_line_has_no_finite_maximum() {
    let rows: [(f64, bool, &[f64]); 4] = [
        (1.0, true, &[0.0]),
        (2.0, true, &[1.0]),
        (4.0, true, &[2.0]),
        (8.0, true, &[3.0]),
    ];
    assert_eq!(
        weibull(&build(&["load"], &rows)),
        RegressionError::NoFiniteMaximum
    );
}

#[test]
fn questions_that_do_not_fit_the_model_are_refused() {
    let case = case("aft-capacitor-weibull");
    let sample = sample(&case);
    let fit = accelerated_life(&sample, AcceleratedLife::new(Family::Weibull)).expect("a fit");
    let point = CovariatePoint::new(vec![5.5, 175.0]);
    let level = Level::TWO_SIDED_95;
    let refused = |point: &CovariatePoint, p| fit.quantile(point, p).expect_err("no answer");
    assert!(matches!(
        refused(&CovariatePoint::new(vec![1.0]), 0.1),
        PredictionError::Length {
            expected: 2,
            given: 1
        }
    ));
    assert!(matches!(
        refused(&CovariatePoint::new(vec![f64::NAN, 1.0]), 0.1),
        PredictionError::NotFinite { .. }
    ));
    assert!(matches!(refused(&point, 1.0), PredictionError::Limits(_)));
    assert!(matches!(
        fit.survival(&point, -1.0),
        Err(PredictionError::Limits(_))
    ));
    let ratio = RegressionLimitMethod::LikelihoodRatio;
    assert!(matches!(
        fit.acceleration_factor(&sample, "nothing", level, ratio),
        Err(PredictionError::Covariate { .. })
    ));
    let other = sample
        .with_covariates(&["temp", "log_volt"])
        .expect("names");
    assert_eq!(
        fit.quantile_limits(&other, &point, 0.1, level, ratio),
        Err(PredictionError::OtherSample)
    );
    let strata = CovariateSample::new(
        ["temp"],
        sample.rows().iter().map(|row| CovariateLife {
            values: vec![row.values[1]],
            stratum: Some(row.values[0].to_string()),
            ..row.clone()
        }),
    )
    .expect("valid");
    let own = AcceleratedLife {
        intercepts: PerStratum::Own,
        ..AcceleratedLife::new(Family::Weibull)
    };
    let fit = accelerated_life(&strata, own).expect("a fit");
    assert!(matches!(
        fit.quantile(&CovariatePoint::new(vec![175.0]), 0.1),
        Err(PredictionError::Stratum { stratum: None })
    ));
    let hazards = proportional_hazards(
        &strata,
        ProportionalHazards {
            ties: Ties::Efron,
            stratified: true,
        },
    )
    .expect("a fit");
    assert!(matches!(
        hazards.survival(
            &CovariatePoint::new(vec![175.0]).in_stratum("none such"),
            10.0
        ),
        Err(PredictionError::Stratum { .. })
    ));
}

#[test]
fn families_with_more_than_location_and_shape_are_refused() {
    let rows: [(f64, bool, &[f64]); 5] = [
        (10.0, true, &[0.0]),
        (14.0, true, &[1.0]),
        (19.0, true, &[0.0]),
        (25.0, false, &[1.0]),
        (28.0, true, &[1.0]),
    ];
    let sample = build(&["new"], &rows);
    for family in [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ] {
        assert_eq!(
            accelerated_life(&sample, AcceleratedLife::new(family)).expect_err("no fit"),
            RegressionError::Family { family }
        );
    }
}

#[test]
fn effects_per_unit_that_are_no_numbers_are_refused() {
    let rows = |unit: f64| {
        [
            (10.0, true, 0.0),
            (14.0, true, 1.0),
            (19.0, true, 0.3),
            (25.0, false, 0.7),
            (28.0, true, 0.9),
            (30.0, true, 0.2),
        ]
        .map(|(usage, failed, value)| (usage, failed, vec![value * unit]))
    };
    let fitted = |unit: f64| {
        let rows = rows(unit);
        let rows: Vec<(f64, bool, &[f64])> = rows
            .iter()
            .map(|(usage, failed, values)| (*usage, *failed, values.as_slice()))
            .collect();
        let sample = build(&["heat"], &rows);
        proportional_hazards(&sample, ProportionalHazards::default())
    };
    let plain = fitted(1.0).expect("a fit");
    let small = fitted(1e-100).expect("a fit");
    let ratio = small.coefficients[0].value / plain.coefficients[0].value;
    assert!((ratio / 1e100 - 1.0).abs() < 1e-9);
    // The variance goes with the square of the unit.
    assert_eq!(
        fitted(1e-200).expect_err("no fit"),
        RegressionError::OutOfRange {
            covariates: vec!["heat".into()]
        }
    );
}
