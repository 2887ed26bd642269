//! Recurring events on repairable systems.

use crate::golden::Agreement;
use serde_json::Value;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::recurrent::{
    Histories, MeanLimitKind, MeanLimits, MeanVariance, PowerLawFit, PowerLawLimitMethod,
    RecurrentError, System, Truncation, cramer_von_mises, cramer_von_mises_by_ratio, laplace,
    mean_cumulative_difference, mean_cumulative_function, mil_hdbk_189, power_law,
};
use wearbook_analysis::warning::WarningCode;

fn file() -> Value {
    serde_json::from_str(include_str!("../data/recurrent.json")).expect("the file is JSON")
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array()
        .expect("a list")
        .iter()
        .map(|number| number.as_f64().expect("a number"))
        .collect()
}

/// Systems of a published data set; one without an end was watched to its last event.
fn histories(file: &Value, name: &str) -> Histories {
    let systems = file["data"][name]["systems"].as_array().expect("systems");
    Histories::new(systems.iter().map(|system| {
        let events = numbers(&system[1]);
        match system[0].as_f64() {
            Some(end) => System::watched_to(end, events),
            None => System::until_last_event(events),
        }
    }))
    .expect("published data are valid")
}

fn one(system: System) -> Histories {
    Histories::new([system]).expect("valid")
}

#[test]
fn mean_cumulative_functions_match_the_published_sets() {
    let file = file();
    for case in file["mean_cumulative_function"].as_array().expect("cases") {
        let name = case["id"].as_str().expect("a name");
        let data = histories(&file, case["data"].as_str().expect("data"));
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        for (kind, key) in [
            (MeanLimitKind::Log, "ci_log_robust_0_95"),
            (MeanLimitKind::Plain, "ci_plain_robust_0_95"),
        ] {
            let limits = MeanLimits {
                kind,
                ..MeanLimits::default()
            };
            let curve = mean_cumulative_function(&data, limits).expect("a curve");
            assert_eq!(curve.points.len(), numbers(&want["time"]).len(), "{name}");
            assert!(curve.warnings.is_empty());
            for (place, point) in curve.points.iter().enumerate() {
                let at = |what: &Value| what[place].as_f64().expect("a number");
                assert_eq!(point.age, at(&want["time"]), "{name}");
                assert_eq!(point.at_risk as f64, at(&want["n_at_risk"]), "{name}");
                assert_eq!(point.events as f64, at(&want["n_events"]), "{name}");
                let robust = point.variance_robust.expect("several systems");
                agreement.close("mean", point.mean, at(&want["mcf"]), 1e-8, 0.0);
                agreement.close("robust", robust, at(&want["var_robust"]), 1e-8, 0.0);
                agreement.close(
                    "poisson",
                    point.variance_poisson,
                    at(&want["var_poisson"]),
                    1e-8,
                    0.0,
                );
                for (got, side) in [(point.lower, "lower"), (point.upper, "upper")] {
                    agreement.option(
                        &format!("{kind:?} {side}"),
                        got,
                        &want[key][side][place],
                        1e-8,
                        0.0,
                    );
                }
            }
        }
        agreement.settle(name);
    }
}

fn both(agreement: &mut Agreement, what: &str, got: (Option<f64>, Option<f64>), want: &Value) {
    agreement.option(&format!("{what} lower"), got.0, &want[0], 1e-7, 0.0);
    agreement.option(&format!("{what} upper"), got.1, &want[1], 1e-7, 0.0);
}

fn power_law_agrees(fit: &PowerLawFit, want: &Value, agreement: &mut Agreement) {
    let mut close = |what: &str, got: Option<f64>, floor: f64| {
        agreement.option(what, got, &want[what], 1e-7, floor);
    };
    let [[aa, ab], [ba, bb]] = fit.log_covariance;
    assert_eq!(Some(fit.events), want["n_events"].as_u64());
    assert_eq!(Some(fit.systems), want["n_systems"].as_u64());
    close("beta", Some(fit.shape), 0.0);
    close("lam", fit.lambda, 0.0);
    close("theta", fit.scale, 0.0);
    close("loglik", Some(fit.log_likelihood), 0.0);
    close("se_log_lambda", Some(aa.sqrt()), 0.0);
    close("se_log_beta", Some(bb.sqrt()), 0.0);
    close("beta_bar", fit.shape_unbiased, 0.0);
    close("lambda_bar", fit.lambda_unbiased, 0.0);
    let cov = &want["cov_log_lambda_log_beta"];
    for (got, want) in [
        (aa, &cov[0][0]),
        (ab, &cov[0][1]),
        (ba, &cov[1][0]),
        (bb, &cov[1][1]),
    ] {
        agreement.option("covariance", Some(got), want, 1e-7, 0.0);
    }
}

#[test]
fn power_laws_match_the_published_sets() {
    let file = file();
    for case in file["power_law"].as_array().expect("cases") {
        let name = case["id"].as_str().expect("a name");
        let data = histories(&file, case["data"].as_str().expect("data"));
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        let fit = power_law(&data).expect("a fit");
        power_law_agrees(&fit, want, &mut agreement);
        let end = fit.longest_age;
        if want["intensity_at_end"].is_number() {
            agreement.option(
                "intensity",
                fit.intensity(end),
                &want["intensity_at_end"],
                1e-7,
                0.0,
            );
            agreement.option("mtbf", fit.mtbf(end), &want["mtbf_at_end"], 1e-7, 0.0);
            let freed = fit.shape_unbiased.expect("a common end") * fit.events as f64
                / (fit.systems as f64 * end);
            agreement.option(
                "freed",
                Some(freed),
                &want["intensity_at_end_bar"],
                1e-7,
                0.0,
            );
        }
        for (level, key) in [(0.9, "0.90"), (0.95, "0.95")] {
            let level = Level::two_sided(level).expect("a level");
            let limits = fit.shape_limits(level).expect("limits");
            let expected = &want["beta_ci"][key];
            if expected.is_array() {
                assert_eq!(limits.method, PowerLawLimitMethod::Exact);
                let got = (limits.limits.lower, limits.limits.upper);
                both(&mut agreement, "shape", got, expected);
            } else {
                assert_eq!(limits.method, PowerLawLimitMethod::LikelihoodRatio);
                assert!(
                    fit.shape_limits_by(level, PowerLawLimitMethod::Exact)
                        .is_err()
                );
            }
        }
        let level = Level::TWO_SIDED_90;
        for (method, key) in [
            (PowerLawLimitMethod::Exact, "mtbf_at_end_crow_ci_0.90"),
            (PowerLawLimitMethod::Delta, "mtbf_at_end_fisher_ci_0.90"),
        ] {
            if want[key].is_array() {
                let limits = fit
                    .mtbf_limits_by(end, level, method)
                    .expect("limits")
                    .limits;
                both(
                    &mut agreement,
                    &format!("mtbf {method:?}"),
                    (limits.lower, limits.upper),
                    &want[key],
                );
            }
        }
        let trend = &want["trend"];
        let centroid = laplace(&data).expect("a test");
        agreement.option(
            "laplace",
            Some(centroid.statistic),
            &trend["laplace_U"],
            1e-7,
            0.0,
        );
        agreement.option(
            "laplace p",
            Some(centroid.p_two_sided),
            &trend["laplace_p_two_sided"],
            1e-7,
            0.0,
        );
        let handbook = mil_hdbk_189(&data).expect("a test");
        assert_eq!(Some(handbook.events), trend["M"].as_u64());
        for (got, key) in [
            (Some(handbook.statistic), "mil_hdbk_189_chi2"),
            (handbook.freedom, "mil_hdbk_189_df"),
            (Some(handbook.p_deteriorating), "mil_hdbk_189_p_lower"),
            (Some(handbook.p_improving), "mil_hdbk_189_p_upper"),
            (Some(handbook.p_two_sided), "mil_hdbk_189_p_two_sided"),
        ] {
            agreement.option(key, got, &trend[key], 1e-7, 0.0);
        }
        if want["cramer_von_mises"].is_null() {
            assert!(matches!(
                cramer_von_mises(&data),
                Err(RecurrentError::NoCommonEnd { .. })
            ));
            assert!(cramer_von_mises_by_ratio(&data).is_ok());
        } else {
            let fit = cramer_von_mises(&data).expect("a distance");
            let want = &want["cramer_von_mises"];
            assert_eq!(Some(fit.events), want["M"].as_u64());
            agreement.option("distance", Some(fit.statistic), &want["C2"], 1e-7, 0.0);
        }
        agreement.settle(name);
    }
}

#[test]
fn the_handbook_example_of_an_improving_system_is_met() {
    // NIST/SEMATECH e-Handbook 8.4.5.2, data from memory.
    let times = [
        5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0,
    ];
    let data = one(System::watched_to(1500.0, times));
    let fit = power_law(&data).expect("a fit");
    let near = |got: f64, want: f64, within: f64| {
        assert!((got - want).abs() <= within, "got {got}, want {want}");
    };
    near(fit.shape, 0.5372, 5e-5);
    let freed = fit.shape_unbiased.expect("one common end");
    near(freed, 0.4835, 5e-5);
    near(1500.0 / (10.0 * freed), 310.2, 0.05);
    near(mil_hdbk_189(&data).expect("a test").statistic, 37.23, 0.005);
    near(
        mil_hdbk_189(&data).expect("a test").p_two_sided,
        0.02,
        0.003,
    );
    near(laplace(&data).expect("a test").statistic, -1.327, 5e-4);
}

#[test]
fn crow_factors_for_mean_usage_between_events_are_met() {
    // Factors of the mean usage between events at the end, stopped by time, two-sided 80 % (Crow 1982; MIL-HDBK-189,
    // from memory), and the same by sums of the modified Bessel function.
    for (n, low, high) in [
        (2, 0.261, 18.66),
        (3, 0.333, 6.326),
        (4, 0.385, 4.243),
        (5, 0.426, 3.386),
    ] {
        let events: Vec<f64> = (1..=n).map(|k| f64::from(k) * 10.0).collect();
        let fit = power_law(&one(System::watched_to(100.0, events))).expect("a fit");
        let level = Level::two_sided(0.8).expect("a level");
        let limits = fit.mtbf_limits(100.0, level).expect("limits");
        assert_eq!(limits.method, PowerLawLimitMethod::Exact);
        let limits = limits.limits;
        let factor = |limit: Option<f64>| limit.expect("a limit") / limits.value;
        assert!((factor(limits.lower) - low).abs() < 6e-4, "{n} {limits:?}");
        assert!(
            (factor(limits.upper) / high - 1.0).abs() < 1e-3,
            "{n} {limits:?}"
        );
    }
}

#[test]
fn two_groups_are_compared_where_both_are_watched() {
    let busy = Histories::new((0..20_u32).map(|k| {
        let shift = f64::from(k);
        System::watched_to(
            100.0,
            [10.0 + shift, 30.0 + shift, 60.0 + shift, 75.0 + shift],
        )
    }))
    .expect("valid");
    let calm = Histories::new((0..20_u32).map(|k| {
        let own = if k % 2 == 0 {
            vec![50.0 + f64::from(k)]
        } else {
            Vec::new()
        };
        System::watched_to(80.0, own)
    }))
    .expect("valid");
    let compared = mean_cumulative_difference(&busy, &calm, 0.95).expect("a difference");
    let last = compared.points.last().expect("points");
    assert!(last.age <= 80.0);
    assert!(last.lower > 0.0, "{last:?}");
    let mirrored = mean_cumulative_difference(&calm, &busy, 0.95).expect("a difference");
    assert_eq!(mirrored.points.last().expect("points").upper, -last.lower);
    let alone = one(System::watched_to(80.0, [5.0]));
    assert_eq!(
        mean_cumulative_difference(&busy, &alone, 0.95),
        Err(RecurrentError::NothingToCompare)
    );
}

#[test]
fn all_faults_are_told_at_once_with_system_and_event() {
    let error = Histories::new([
        System::watched_to(100.0, [5.0, 120.0, f64::NAN]),
        System::watched_to(100.0, [5.0]),
        System::watched_to(50.0, [20.0]).from_age(30.0),
        System::watched_to(-1.0, []),
        System::until_last_event([]),
        System {
            truncation: Truncation::Failure,
            ..System::watched_to(10.0, [9.0])
        },
        System::watched_to(10.0, []).from_age(10.0).times(0),
        System::watched_to(10.0, [1.0]).times(u64::MAX),
    ])
    .expect_err("faults");
    let found: Vec<_> = error
        .faults
        .iter()
        .map(|fault| (fault.system, fault.event, fault.field))
        .collect();
    assert_eq!(
        found,
        [
            (0, Some(1), "events"),
            (0, Some(2), "events"),
            (2, Some(0), "events"),
            (3, None, "end"),
            (4, None, "end"),
            (4, None, "truncation"),
            (5, None, "truncation"),
            (6, None, "count"),
            (6, None, "end"),
            (7, None, "count"),
        ]
    );
    assert_eq!(
        error.to_string(),
        "10 faults in the histories; first: system 0, event 1, events must not lie after the end of watching but is 120"
    );
}

#[test]
fn every_refusal_says_why() {
    let empty = Histories::new([]).expect("valid");
    let quiet = one(System::watched_to(10.0, []));
    let stopped_at_once = one(System::until_last_event([7.0]));
    let tied_at_the_end = one(System::watched_to(10.0, [10.0, 10.0]));
    let level = MeanLimits {
        level: 1.0,
        ..MeanLimits::default()
    };
    assert_eq!(
        mean_cumulative_function(&quiet, level),
        Err(RecurrentError::Level { value: 1.0 })
    );
    for (data, error) in [
        (&empty, RecurrentError::NoSystems),
        (&quiet, RecurrentError::NoEvents),
    ] {
        assert_eq!(
            mean_cumulative_function(data, MeanLimits::default()),
            Err(error.clone())
        );
        assert_eq!(power_law(data), Err(error.clone()));
        assert_eq!(laplace(data), Err(error.clone()));
        assert_eq!(mil_hdbk_189(data), Err(error.clone()));
        assert_eq!(cramer_von_mises(data), Err(error));
    }
    assert_eq!(
        power_law(&stopped_at_once),
        Err(RecurrentError::AllAtTheEnd)
    );
    assert_eq!(
        power_law(&tied_at_the_end),
        Err(RecurrentError::AllAtTheEnd)
    );
    assert_eq!(
        cramer_von_mises(&tied_at_the_end),
        Err(RecurrentError::AllAtTheEnd)
    );
    assert_eq!(
        laplace(&stopped_at_once),
        Err(RecurrentError::OnlyTruncatingEvents)
    );
    assert_eq!(
        mil_hdbk_189(&stopped_at_once),
        Err(RecurrentError::OnlyTruncatingEvents)
    );
    let two = one(System::until_last_event([3.0, 7.0]));
    assert_eq!(
        cramer_von_mises(&two),
        Err(RecurrentError::TooFewEvents {
            events: 1,
            needed: 2
        })
    );
    let late = one(System::watched_to(100.0, [51.0, 51.5, 52.0, 53.0]).from_age(50.0));
    assert_eq!(power_law(&late), Err(RecurrentError::ThinsOutTooFast));
    assert!(matches!(
        cramer_von_mises_by_ratio(&late),
        Err(RecurrentError::NoCommonEnd { .. })
    ));
    let fit = power_law(&two).expect("a fit");
    assert_eq!(fit.shape_unbiased, None);
    assert!(matches!(
        fit.intensity_limits(f64::NAN, Level::TWO_SIDED_90),
        Err(RecurrentError::Age { .. })
    ));
    assert!(matches!(
        fit.intensity_limits_by(3.0, Level::TWO_SIDED_90, PowerLawLimitMethod::Exact),
        Err(RecurrentError::NoExactLimits { .. })
    ));
    let huge = one(System::watched_to(1e9, [1e9 * (1.0 - 1e-15)]));
    assert_eq!(power_law(&huge), Err(RecurrentError::OutOfRange));
}

#[test]
fn an_age_beyond_the_data_carries_a_warning() {
    let fit = power_law(&one(System::watched_to(100.0, [20.0, 55.0, 90.0]))).expect("a fit");
    let code = |age: f64| -> Vec<WarningCode> {
        let limits = fit.mtbf_limits(age, Level::TWO_SIDED_90).expect("limits");
        limits
            .limits
            .warnings
            .iter()
            .map(|warning| warning.code)
            .collect()
    };
    assert_eq!(code(100.0), []);
    assert_eq!(code(100.5), [WarningCode::Extrapolation]);
}

#[test]
fn one_event_bounds_the_mean_usage_between_events_from_below_only() {
    let fit = power_law(&one(System::watched_to(100.0, [40.0]))).expect("a fit");
    let limits = fit
        .mtbf_limits(100.0, Level::TWO_SIDED_90)
        .expect("limits")
        .limits;
    assert!(limits.lower.is_some());
    assert_eq!(limits.upper, None);
    assert_eq!(limits.warnings[0].code, WarningCode::UnboundedLimit);
    assert_eq!(fit.shape_unbiased, None);
    let shape = fit
        .shape_limits(Level::TWO_SIDED_90)
        .expect("limits")
        .limits;
    assert!(shape.lower.is_some() && shape.upper.is_some());
}

#[test]
fn late_starts_and_lone_systems_are_told() {
    let gap = Histories::new([
        System::watched_to(10.0, [5.0, 8.0]),
        System::watched_to(10.0, [6.0]),
        System::watched_to(30.0, [25.0]).from_age(20.0),
    ])
    .expect("valid");
    let limits = MeanLimits {
        variance: MeanVariance::Nelson,
        ..MeanLimits::default()
    };
    let curve = mean_cumulative_function(&gap, limits).expect("a curve");
    assert_eq!(curve.warnings.len(), 2);
    assert!(
        curve.warnings[0]
            .message
            .starts_with("Between ages 10 and 20")
    );
    assert!(curve.warnings[1].message.starts_with("From age 25"));
    // Nelson's variance is not defined with late starts, and so are its limits.
    assert!(
        curve
            .points
            .iter()
            .all(|point| point.variance_nelson.is_none())
    );
    assert!(curve.points.iter().all(|point| point.lower.is_none()));
    assert_eq!(curve.mean_at(7.0), Some(1.0));
    assert_eq!(curve.mean_at(31.0), None);
    let lone = mean_cumulative_function(&one(System::watched_to(9.0, [4.0])), limits);
    assert_eq!(lone.expect("a curve").points[0].variance_robust, None);
}

#[test]
fn ages_out_of_reach_are_refused() {
    let faults = Histories::new([
        System::watched_to(1e101, [1.0]),
        System::watched_to(1.0, [1e-101, 0.5]),
        System::watched_to(1.0, [0.5]).from_age(1e-300),
        System::watched_to(1e100, [1e-100]),
    ])
    .expect_err("faults")
    .faults;
    let found: Vec<_> = faults
        .iter()
        .map(|fault| (fault.system, fault.event, fault.field, fault.value.as_str()))
        .collect();
    assert_eq!(
        found,
        [
            (0, None, "end", "1e101"),
            (1, Some(0), "events", "1e-101"),
            (2, None, "start", "1e-300"),
        ]
    );
    assert!(faults.iter().all(|fault| fault.rule.contains("1e-100")));
}
