//! Cumulative incidence against published data sets.

use crate::golden::{Agreement, cases, sample};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use wearbook_analysis::nonparametric::{
    EstimateError, LimitKind, Limits, LogRankGroup, aalen_johansen, conditional_survival,
    gray_test, gray_test_stratified, kaplan_meier, nelson_aalen, numbers_at_risk,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;
use wearbook_analysis::warning::WarningCode;

const INCIDENCE: &str = include_str!("../data/incidence.json");

/// Lives of the gammopathy data with their causes, of one sex or of both.
fn mgus2(sex: Option<u64>) -> Sample {
    let file: Value = serde_json::from_str(INCIDENCE).expect("the file is JSON");
    let columns = file["mgus2"]["columns"].clone();
    let number = |column: &str, row: usize| columns[column][row].as_u64().expect("a number");
    let rows = columns["lower"].as_array().expect("rows").len();
    Sample::new(
        (0..rows)
            .filter(|row| sex.is_none_or(|sex| number("sex", *row) == sex))
            .map(|row| {
                let month = number("lower", row) as f64;
                match number("cause", row) {
                    0 => Observation::right_censored(month),
                    cause => Observation::exact(month).with_cause(cause.to_string()),
                }
            }),
    )
    .expect("published data are valid")
}

fn named(name: &str) -> Sample {
    match name {
        "mgus2" => mgus2(None),
        name => sample(name),
    }
}

#[test]
fn incidences_and_both_variances_match_published_data_sets() {
    for case in cases(INCIDENCE) {
        let name = case["id"].as_str().expect("a name");
        let tolerance = case["tolerance"].as_f64().expect("a tolerance");
        let want = &case["expected"];
        let got = aalen_johansen(
            &named(case["data"].as_str().expect("data")),
            Limits::default(),
        )
        .expect(name);
        let mut agreement = Agreement::default();
        for (i, time) in want["time"].as_array().expect("times").iter().enumerate() {
            let time = time.as_f64().expect("a time");
            let survival = got.survival.survival_at(time);
            agreement.option("survival", survival, &want["surv"][i], tolerance, 1e-9);
            let step = got
                .survival
                .points()
                .find(|point| point.time == time)
                .expect("a step");
            agreement.option(
                "at risk",
                Some(step.at_risk as f64),
                &want["n_risk"][i],
                0.0,
                0.0,
            );
            for curve in &got.causes {
                let cause = curve.cause.as_deref().expect("a cause");
                let point = curve.point_at(time);
                for (key, value) in [
                    ("cif", got.at(Some(cause), time).expect("within the data")),
                    ("var", point.map_or(0.0, |point| point.variance)),
                    (
                        "counting",
                        point.map_or(0.0, |point| point.variance_counting),
                    ),
                ] {
                    agreement.option(
                        &format!("{key}@{cause} {time}"),
                        Some(value),
                        &want[format!("{key}_{cause}")][i],
                        tolerance,
                        1e-9,
                    );
                }
            }
        }
        agreement.settle(name);
    }
}

#[test]
fn grays_test_matches_published_data_sets() {
    let case = cases(INCIDENCE)
        .into_iter()
        .find(|case| case["data"] == "mgus2")
        .expect("the case");
    let tolerance = case["tolerance"].as_f64().expect("a tolerance");
    let (one, other) = (mgus2(Some(0)), mgus2(Some(1)));
    let mut agreement = Agreement::default();
    for (cause, want) in case["expected"]["gray"].as_object().expect("tests") {
        let got = gray_test(&[&one, &other], Some(cause), 0.0).expect("a test");
        agreement.option(
            &format!("chi-square@{cause}"),
            Some(got.chi_square),
            &want["statistic"],
            tolerance,
            0.0,
        );
        agreement.option(
            &format!("p@{cause}"),
            Some(got.p_value),
            &want["p"],
            tolerance,
            0.0,
        );
        assert_eq!(Some(f64::from(got.freedom)), want["df"].as_f64());
    }
    agreement.settle("gray");
}

#[test]
fn grays_test_refuses_what_it_is_not_derived_for() {
    let plain = Sample::new([Observation::exact(1.0), Observation::right_censored(2.0)]);
    let plain = plain.expect("valid");
    let late = Sample::new([Observation::exact(3.0).entered_at(1.0)]).expect("valid");
    let loose = Sample::new([Observation::interval(1.0, 3.0)]).expect("valid");
    assert_eq!(
        gray_test(&[&plain, &late], None, 0.0).unwrap_err(),
        EstimateError::LateEntries { lives: 1 }
    );
    assert_eq!(
        gray_test(&[&plain, &loose], None, 0.0).unwrap_err(),
        EstimateError::InexactFailures { lives: 1 }
    );
    assert_eq!(
        gray_test(&[&plain], None, 0.0).unwrap_err(),
        EstimateError::Groups { groups: 1 }
    );
    assert_eq!(
        gray_test_stratified(
            &[vec![&plain, &plain], vec![&plain, &plain, &plain]],
            None,
            0.0
        )
        .unwrap_err(),
        EstimateError::UnevenStrata
    );
    assert_eq!(
        gray_test(&[&plain, &plain], Some("wear"), 0.0).unwrap_err(),
        EstimateError::NothingToCompare
    );
    assert!(matches!(
        gray_test(&[&plain, &plain], None, f64::NAN),
        Err(EstimateError::WeightPower { .. })
    ));
    let same = gray_test(&[&plain, &plain], None, 0.5).expect("a test");
    assert!(same.chi_square < 1e-20 && same.freedom == 1);
}

#[test]
fn grays_test_keeps_its_digits_where_one_of_very_many_is_left() {
    let many = 6_755_399_441_055_744;
    let one = Sample::new([
        Observation::exact(1.0).times(3),
        Observation::exact(7.0).with_cause("b"),
    ])
    .expect("valid");
    let other = Sample::new([
        Observation::exact(1.0).times(1 << 50),
        Observation::exact(4.0).times(many),
        Observation::exact(9.0),
    ])
    .expect("valid");
    for cause in [None, Some("b")] {
        let test = gray_test(&[&one, &other], cause, 0.0).expect("a test");
        assert!(test.chi_square.is_finite() && test.chi_square >= 0.0);
        let finite = test
            .covariance
            .iter()
            .flatten()
            .all(|cell| cell.is_finite());
        assert!(finite);
        // Without weights all failures of the cause are expected as often as they were seen.
        let sum = |of: fn(&LogRankGroup) -> f64| test.groups.iter().map(of).sum::<f64>();
        let (seen, expected) = (sum(|g| g.observed), sum(|g| g.expected));
        assert!((seen / expected - 1.0).abs() < 1e-12, "{test:?}");
    }
}

#[test]
fn an_unnamed_cause_is_a_cause_of_its_own() {
    let sample = Sample::new([
        Observation::exact(1.0),
        Observation::exact(2.0).with_cause("crack"),
        Observation::right_censored(3.0),
        Observation::right_censored(3.0),
    ])
    .expect("valid");
    let got = aalen_johansen(&sample, Limits::default()).expect("curves");
    let names: Vec<Option<&str>> = got.causes.iter().map(|c| c.cause.as_deref()).collect();
    assert_eq!(names, [None, Some("crack")]);
    assert_eq!(got.at(None, 2.5), Some(0.25));
    assert_eq!(got.at(Some("crack"), 2.5), Some(0.25));
    assert_eq!(got.at(Some("crack"), 1.5), Some(0.0));
    assert_eq!(got.at(Some("wear"), 1.5), None);
    assert_eq!(got.at(None, 3.5), None);
}

#[test]
fn the_conditional_curve_is_that_of_the_lives_beyond() {
    // Men who reached 68 years: published as a data set of its own.
    let (all, older) = (sample("channing-men"), sample("channing-men-68"));
    let whole = kaplan_meier(&all, Limits::default()).expect("a curve");
    assert!(
        whole
            .warnings
            .iter()
            .any(|warning| warning.code == WarningCode::CurveStopsEarly)
    );
    let stop = whole.stops_early_at().expect("a stop");
    assert!(stop < 816.0);
    for kind in [LimitKind::LogLog, LimitKind::Log, LimitKind::Plain] {
        let limits = Limits { kind, level: 0.95 };
        let given = conditional_survival(&all, 816.0, limits).expect("a curve");
        assert_eq!(given.curve, kaplan_meier(&older, limits).expect("a curve"));
    }
    let after_stop = conditional_survival(&all, stop, Limits::default()).expect("a curve");
    assert_eq!(after_stop.curve.stops_early_at(), None);
    assert!(after_stop.curve.points().all(|point| point.time > stop));
    let further = after_stop
        .restricted_further_usage(1_000.0)
        .expect("a mean");
    assert!(further.value > 0.0 && further.value < 1_000.0 - stop);
    assert_eq!(after_stop.restricted_further_usage(stop - 1.0), None);

    assert_eq!(
        conditional_survival(&all, 1e9, Limits::default()).unwrap_err(),
        EstimateError::NobodyWatched { beyond: 1e9 }
    );
    assert!(matches!(
        conditional_survival(&all, -1.0, Limits::default()),
        Err(EstimateError::Usage { .. })
    ));
}

#[test]
fn numbers_at_risk_agree_with_the_curve() {
    let all = sample("channing-men");
    let curve = kaplan_meier(&all, Limits::default()).expect("a curve");
    let usages: Vec<f64> = curve.points().rev().map(|point| point.time).collect();
    let wanted: Vec<u64> = curve.points().rev().map(|point| point.at_risk).collect();
    assert_eq!(numbers_at_risk(&all, &usages).expect("numbers"), wanted);
    assert_eq!(numbers_at_risk(&all, &[0.0, 1e9]).expect("numbers"), [0, 0]);
    // Seen from new: everybody at 0.
    let fans = sample("diesel-fans");
    assert_eq!(
        numbers_at_risk(&fans, &[0.0, 450.0, 450.5]).expect("numbers"),
        [70, 70, 69]
    );
    assert!(matches!(
        numbers_at_risk(&fans, &[f64::NAN]),
        Err(EstimateError::Usage { .. })
    ));
    assert_eq!(
        numbers_at_risk(&sample("cosmesis-rt"), &[1.0]).unwrap_err(),
        EstimateError::InexactFailures { lives: 21 }
    );
}

#[test]
fn the_tied_variance_of_the_cumulative_hazard_is_its_closed_form() {
    // Two of four fail at once: (4 - 2) 2 / ((4 - 1) 16).
    let sample = Sample::new([
        Observation::exact(1.0).times(2),
        Observation::right_censored(2.0).times(2),
    ])
    .expect("valid");
    let steps = nelson_aalen(&sample).expect("steps");
    assert!((steps[0].value - 0.5).abs() < 1e-15);
    assert!((steps[0].variance - 0.125).abs() < 1e-15);
    assert!((steps[0].variance_tied - 1.0 / 12.0).abs() < 1e-15);
}

#[test]
fn readings_of_a_curve_stay_numbers_at_the_ends_of_the_range() {
    let far = [9.7e99, 9.6e99, 9.75e99, 9.76e99].map(Observation::exact);
    let curve = kaplan_meier(&Sample::new(far).expect("valid"), Limits::default());
    let curve = curve.expect("a curve");
    assert_eq!(curve.median().value, Some(0.5 * 9.7e99 + 0.5 * 9.75e99));
    for horizon in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(curve.restricted_mean(horizon), None);
    }
    assert_eq!(curve.survival_at(f64::NAN), None);
    let mean = curve.restricted_mean(9.75e99).expect("a mean");
    assert!(mean.value < 9.75e99 && mean.std_error.is_finite() && mean.std_error > 0.0);
    assert!(curve.restricted_mean(1.0).is_some());
}

#[test]
fn a_simultaneous_band_holds_the_whole_curve() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let rounds = 1_500;
    let (mut held, mut pointwise) = (0, 0);
    for _ in 0..rounds {
        let lives = (0..100).map(|_| {
            let mut draw = || -(1.0 - random.random::<f64>()).ln();
            let (life, stop) = (draw(), 3.0 * draw());
            if life <= stop {
                Observation::exact(life)
            } else {
                Observation::right_censored(stop)
            }
        });
        let sample = Sample::new(lives.collect::<Vec<_>>()).expect("valid");
        let curve = kaplan_meier(&sample, Limits::default()).expect("a curve");
        let band = curve
            .simultaneous_band(0.1, 1.5, 0.95, LimitKind::LogLog)
            .expect("a band");
        // The truth falls on, so it is tried at both ends of every step.
        let ends = band.points.iter().skip(1).map(|point| point.time);
        let holds = band.points.iter().zip(ends).all(|(point, end)| {
            let inside = |t: f64| point.lower <= (-t).exp() && (-t).exp() <= point.upper;
            inside(point.time) && inside(end)
        });
        held += u32::from(holds);
        let within = curve.points().filter(|p| (0.1..=1.5).contains(&p.time));
        pointwise += u32::from(within.clone().all(|point| {
            let truth = (-point.time).exp();
            point.lower.is_none_or(|l| l <= truth) && point.upper.is_none_or(|u| truth <= u)
        }));
    }
    let share = |count: u32| f64::from(count) / f64::from(rounds);
    assert!((0.93..0.985).contains(&share(held)), "{}", share(held));
    assert!(share(pointwise) < 0.9, "{}", share(pointwise));
}

#[test]
fn bands_that_do_not_exist_are_errors() {
    let curve = kaplan_meier(&sample("diesel-fans"), Limits::default()).expect("a curve");
    let band = |from, to, level| curve.simultaneous_band(from, to, level, LimitKind::Plain);
    assert!(band(0.0, 1e9, 0.95).is_ok());
    assert_eq!(
        band(0.0, 400.0, 0.95),
        Err(EstimateError::NothingInStretch {
            from: 0.0,
            to: 400.0
        })
    );
    for level in [0.5, 1.0, f64::NAN] {
        assert!(matches!(
            band(0.0, 1e9, level),
            Err(EstimateError::BandLevel { .. })
        ));
    }
    let (narrow, wide) = (band(0.0, 1e9, 0.8), band(0.0, 1e9, 0.99));
    let (narrow, wide) = (narrow.expect("a band"), wide.expect("a band"));
    assert!(narrow.critical < wide.critical);
    for (inner, outer) in narrow.points.iter().zip(&wide.points) {
        assert!(outer.lower <= inner.lower && inner.upper <= outer.upper);
        assert!(inner.lower <= inner.survival && inner.survival <= inner.upper);
    }
}

#[test]
fn grays_test_gives_the_stated_share_of_false_alarms() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let (rounds, level) = (1_000, 0.05);
    for rho in [0.0, 1.0] {
        let mut alarms = 0;
        for _ in 0..rounds {
            let mut group = |hazard: f64| {
                let lives = (0..40).map(|_| {
                    let mut draw = || -(1.0 - random.random::<f64>()).ln();
                    // Usage to the tenth, for ties.
                    let (wear, other, stop) = (draw() / hazard, 2.0 * draw(), 4.0 * draw());
                    let at = (10.0 * wear.min(other).min(stop)).ceil() / 10.0;
                    if stop < wear.min(other) {
                        Observation::right_censored(at)
                    } else if wear < other {
                        Observation::exact(at).with_cause("wear")
                    } else {
                        Observation::exact(at)
                    }
                });
                Sample::new(lives.collect::<Vec<_>>()).expect("valid")
            };
            // Strata differ, groups within them do not.
            let strata: Vec<Vec<Sample>> = [0.5, 2.0]
                .iter()
                .map(|hazard| (0..3).map(|_| group(*hazard)).collect())
                .collect();
            let borrowed: Vec<Vec<&Sample>> = strata.iter().map(|s| s.iter().collect()).collect();
            let test = gray_test_stratified(&borrowed, Some("wear"), rho).expect("a test");
            assert_eq!(test.freedom, 2);
            alarms += u32::from(test.p_value < level);
        }
        let share = f64::from(alarms) / f64::from(rounds);
        // Four standard errors.
        assert!((share - level).abs() < 0.028, "rho {rho}: {share}");
    }
}
