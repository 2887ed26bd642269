//! Measures of fit against published data sets.

use crate::golden::{Agreement, cases, sample};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, fit, nested};
use wearbook_analysis::goodness::{
    CUT_OFF, Distances, GoodnessError, anderson_darling_adjusted, distances, goodness, mann_test,
    plot_correlation, plot_correlation_test,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::ranks::{Positions, RankError};
use wearbook_analysis::sample::Sample;

fn fitted(sample: &Sample, family: Family) -> Fit {
    fit(sample, family).expect("a fit")
}

#[test]
fn measures_of_fit_match_published_data_sets() {
    for case in cases(include_str!("../data/goodness.json")) {
        let name = case["id"].as_str().expect("a name");
        let tolerance = case["tolerance"].as_f64().expect("a tolerance");
        let want = &case["expected"];
        let family = match case["family"].as_str() {
            Some("weibull") => Family::Weibull,
            Some("lognormal") => Family::Lognormal,
            other => panic!("no family {other:?}"),
        };
        let sample = sample(case["data"].as_str().expect("a data set"));
        let model = fitted(&sample, family);
        let mut agreement = Agreement::default();
        let mut check = |what: &str, got: Option<f64>, want: &serde_json::Value| {
            agreement.option(what, got, want, tolerance, 0.0);
        };
        let got = distances(&sample, &model).ok();
        let of = |read: fn(&Distances) -> Option<f64>| got.as_ref().and_then(read);
        check(
            "A squared",
            of(|d| Some(d.anderson_darling.value)),
            &want["anderson_darling"]["A2"],
        );
        check(
            "A squared starred",
            of(|d| d.anderson_darling.starred),
            &want["anderson_darling"]["A2_star"],
        );
        check(
            "W squared",
            of(|d| Some(d.cramer_von_mises.value)),
            &want["cramer_von_mises"],
        );
        check("D", of(|d| Some(d.kolmogorov.value)), &want["kolmogorov"]);
        let adjusted = anderson_darling_adjusted(&sample, &model, Positions::Benard);
        check(
            "A squared adjusted",
            adjusted.ok(),
            &want["anderson_darling_adjusted"]["value"],
        );
        assert_eq!(
            want["anderson_darling_adjusted"]["upper_cutoff"].as_f64(),
            Some(CUT_OFF)
        );
        let r = plot_correlation(&sample, family, Positions::Benard).expect("a plot");
        check(
            "r squared",
            Some(r * r),
            &want["probability_plot_r2_benard"],
        );
        if want["mann"].is_object() {
            let got = mann_test(&sample).expect("a test");
            check("Mann", Some(got.statistic), &want["mann"]["M"]);
            check("Mann p", Some(got.p_value), &want["mann"]["p_upper"]);
            assert_eq!(Some(got.early), want["mann"]["k1"].as_u64());
            assert_eq!(Some(got.late), want["mann"]["k2"].as_u64());
        }
        if want["lr_weibull_vs_exponential"].is_object() {
            let want = &want["lr_weibull_vs_exponential"];
            let got = nested(&sample, &model, Family::Exponential).expect("a test");
            check("ratio", Some(got.statistic), &want["statistic"]);
            check("ratio p", Some(got.p), &want["p"]);
            assert_eq!(Some(u64::from(got.freedom)), want["df"].as_u64());
        }
        agreement.settle(name);
    }
}

/// A complete sample of a family with parameters that should not matter.
fn draw(random: &mut ChaCha8Rng, family: Family, lives: usize) -> Sample {
    let drawn = (0..lives).map(|_| {
        let u: f64 = random.random::<f64>() + 1e-17;
        let z = match family {
            Family::Lognormal => {
                let v: f64 = random.random();
                (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
            }
            Family::Loglogistic => (u / (1.0 - u)).ln(),
            Family::Exponential | Family::Weibull => (-u.ln()).ln(),
            other => panic!("{other:?} is not drawn here"),
        };
        let spread = if family == Family::Exponential {
            1.0
        } else {
            0.4
        };
        Observation::exact((3.0 + spread * z).exp())
    });
    Sample::new(drawn.collect::<Vec<_>>()).expect("valid")
}

#[test]
fn upper_points_of_the_distances_hold_in_simulated_samples() {
    let rounds = 4_000;
    let mut random = ChaCha8Rng::seed_from_u64(20);
    for family in Family::ALL {
        let mut exceeded: Vec<(&str, f64, u32)> = Vec::new();
        for _ in 0..rounds {
            let sample = draw(&mut random, family, 30);
            let got = distances(&sample, &fitted(&sample, family)).expect("distances");
            for (name, distance) in [
                ("A", got.anderson_darling),
                ("W", got.cramer_von_mises),
                ("D", got.kolmogorov),
            ] {
                for (share, point) in distance.upper_points() {
                    let over = u32::from(distance.starred.expect("a form") > *point);
                    match exceeded.iter_mut().find(|e| (e.0, e.1) == (name, *share)) {
                        Some(entry) => entry.2 += over,
                        None => exceeded.push((name, *share, over)),
                    }
                }
            }
        }
        assert!(exceeded.len() >= 8, "{family:?}");
        for (name, share, over) in exceeded {
            let found = f64::from(over) / f64::from(rounds);
            // Four standard errors, and what three printed digits leave open.
            let slack = 4.0 * (share * (1.0 - share) / f64::from(rounds)).sqrt() + 0.05 * share;
            assert!(
                (found - share).abs() < slack,
                "{family:?} {name}: {found} instead of {share}"
            );
        }
    }
}

#[test]
fn the_chance_of_a_distance_is_read_off_the_table() {
    let sample = sample("ball-bearings");
    let weibull = distances(&sample, &fitted(&sample, Family::Weibull)).expect("distances");
    assert_eq!(weibull.anderson_darling.chance(), Some((0.25, 1.0)));
    assert_eq!(weibull.kolmogorov.chance(), None);
    let exponential = distances(&sample, &fitted(&sample, Family::Exponential)).expect("distances");
    assert_eq!(exponential.anderson_darling.chance(), Some((0.0, 0.01)));
    assert_eq!(exponential.kolmogorov.chance(), Some((0.0, 0.01)));
}

#[test]
fn the_critical_correlation_is_that_of_samples_of_the_family() {
    let mut random = ChaCha8Rng::seed_from_u64(9);
    for family in Family::ALL {
        let model = draw(&mut random, family, 20);
        let test =
            plot_correlation_test(&model, family, Positions::Exact, 0.1, 4_000, 1).expect("a test");
        // Independent samples, and other parameters than the simulation's own.
        let rounds = 4_000;
        let below = (0..rounds)
            .filter(|_| {
                let sample = draw(&mut random, family, 20);
                plot_correlation(&sample, family, Positions::Exact).expect("a plot") < test.critical
            })
            .count();
        let found = below as f64 / f64::from(rounds);
        // Four standard errors of two simulations.
        assert!((found - 0.1).abs() < 0.027, "{family:?}: {found}");
        let again = plot_correlation_test(&model, family, Positions::Exact, 0.1, 4_000, 1);
        assert_eq!(again, Ok(test));
    }
}

#[test]
fn the_critical_correlation_follows_the_censoring() {
    let fans = sample("diesel-fans");
    let test = |sample: &Sample, family| {
        plot_correlation_test(sample, family, Positions::Exact, 0.05, 999, 7).expect("a test")
    };
    let weibull = test(&fans, Family::Weibull);
    assert!(weibull.critical > 0.8 && weibull.critical < 1.0);
    assert!((0.0..=1.0).contains(&weibull.p_value));
    assert!((weibull.p_value <= 0.05) == (weibull.correlation <= weibull.critical));
    // A sample that is no Weibull at all: half the lives a thousand times shorter.
    let split = (1..=20).map(|i| {
        let scale = if i <= 10 { 1.0 } else { 1_000.0 };
        Observation::exact(scale * (1.0 + 0.01 * f64::from(i)))
    });
    let split = Sample::new(split).expect("valid");
    let poor = test(&split, Family::Weibull);
    assert!(poor.correlation < poor.critical && poor.p_value < 0.01);
}

#[test]
fn measures_that_do_not_exist_are_errors() {
    let of = |rows: &[Observation]| Sample::new(rows.to_vec()).expect("valid");
    let fans = sample("diesel-fans");
    let bearings = sample("ball-bearings");
    let weibull = fitted(&bearings, Family::Weibull);
    assert_eq!(
        distances(&fans, &fitted(&fans, Family::Weibull)).unwrap_err(),
        GoodnessError::NotComplete
    );
    let many = of(&[
        Observation::exact(1.0).times(100_000_000),
        Observation::exact(2.0),
    ]);
    assert!(matches!(
        distances(&many, &weibull),
        Err(GoodnessError::TooManyLives { .. })
    ));
    let steep = fitted(
        &of(&[99.0, 100.0, 101.0].map(Observation::exact)),
        Family::Weibull,
    );
    // A share failed of zero to the last digit.
    assert_eq!(
        distances(&of(&[Observation::exact(1e-100)]), &steep).unwrap_err(),
        GoodnessError::OutOfRange
    );
    let late = of(&[Observation::exact(3.0).entered_at(1.0)]);
    let loose = of(&[Observation::interval(1.0, 3.0)]);
    for (sample, error) in [
        (&late, RankError::LateEntries { lives: 1 }),
        (&loose, RankError::InexactFailures { lives: 1 }),
        (
            &of(&[Observation::right_censored(1.0)]),
            RankError::NoFailures,
        ),
    ] {
        let error = GoodnessError::Ranks(error);
        let plain = Positions::Exact;
        assert_eq!(
            plot_correlation(sample, Family::Weibull, plain),
            Err(error.clone())
        );
        assert_eq!(
            anderson_darling_adjusted(sample, &weibull, plain),
            Err(error)
        );
    }
    let two = of(&[Observation::exact(1.0).times(4), Observation::exact(2.0)]);
    assert_eq!(
        plot_correlation(&two, Family::Weibull, Positions::Exact).unwrap_err(),
        GoodnessError::TooFewFailures {
            found: 2,
            needed: 3
        }
    );
    let test = |significance, replicates| {
        plot_correlation_test(
            &bearings,
            Family::Weibull,
            Positions::Exact,
            significance,
            replicates,
            1,
        )
    };
    assert!(matches!(
        test(1.0, 999),
        Err(GoodnessError::Significance { .. })
    ));
    assert!(matches!(
        test(0.05, 10),
        Err(GoodnessError::Replicates { .. })
    ));

    assert_eq!(
        mann_test(&fans).unwrap_err(),
        GoodnessError::CensoredBetween
    );
    assert_eq!(mann_test(&late).unwrap_err(), GoodnessError::NotComplete);
    assert!(matches!(
        mann_test(&of(&[Observation::exact(1.0), Observation::exact(2.0)])),
        Err(GoodnessError::TooFewFailures { .. })
    ));
    assert_eq!(
        mann_test(&two).unwrap_err(),
        GoodnessError::TiedEarlyFailures
    );
    // Censored at the last failure and beyond is allowed.
    let stopped = of(&[
        Observation::exact(1.0),
        Observation::exact(2.0),
        Observation::exact(4.0),
        Observation::right_censored(4.0).times(3),
    ]);
    assert!(mann_test(&stopped).is_ok());
}

#[test]
fn manns_test_stays_a_chance_among_very_many_lives() {
    let of = |rows: Vec<Observation>| Sample::new(rows).expect("valid");
    let many = 1 << 50;
    for rows in [
        vec![
            Observation::exact(1.0).times(many + 1),
            Observation::exact(2.0).times(2),
            Observation::exact(4.0).times(many + 2),
        ],
        vec![
            Observation::exact(1.0).times(7),
            Observation::exact(2.0).times(3),
            Observation::exact(4.0).times(5),
            Observation::right_censored(4.0).times(many),
        ],
    ] {
        let test = mann_test(&of(rows)).expect("a test");
        assert!(test.statistic.is_finite() && test.statistic > 0.0);
        assert!((0.0..=1.0).contains(&test.p_value), "{test:?}");
    }
    // Among endless survivors the hazard expected at an order is in proportion to the order less one half.
    let test = mann_test(&of(vec![
        Observation::exact(1.0).times(3),
        Observation::exact(2.0).times(3),
        Observation::exact(4.0).times(2),
        Observation::right_censored(4.0).times(1 << 52),
    ]))
    .expect("a test");
    let leap = |order: f64| ((order + 0.5) / (order - 0.5)).ln();
    let want = 4.0 / 3.0 * leap(3.0) / leap(6.0);
    assert!(
        (test.statistic / want - 1.0).abs() < 1e-12,
        "{} {want}",
        test.statistic
    );
}

#[test]
fn the_report_measures_what_the_functions_measure() {
    let sample = sample("ball-bearings");
    let model = fitted(&sample, Family::Lognormal);
    let got = goodness(&sample, &model);
    let direct = distances(&sample, &model).expect("distances");
    assert_eq!(got.anderson_darling, Some(direct.anderson_darling.value));
    assert_eq!(
        got.plot_correlation,
        plot_correlation(&sample, Family::Lognormal, Positions::Exact).ok()
    );
    assert_eq!(got.plot.len(), 23);
}

#[test]
fn critical_correlations_of_the_normal_are_the_published_ones() {
    // Filliben 1975, Technometrics 17, table 1 (from memory): 5 % points, three digits.
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for (lives, critical) in [(10, 0.917), (20, 0.950), (50, 0.977)] {
        let sample = draw(&mut random, Family::Lognormal, lives);
        let exact = Positions::Exact;
        let test = plot_correlation_test(&sample, Family::Lognormal, exact, 0.05, 8_000, 2);
        let got = test.expect("a test").critical;
        assert!((got - critical).abs() < 0.003, "{lives}: {got}");
    }
}
