//! Ranks and the lines through them against published data sets.

use crate::golden::{Agreement, cases, sample};
use wearbook_analysis::families::Family;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::plot::{MOST_POINTS, probability_plot};
use wearbook_analysis::ranks::{
    Direction, Positions, RankError, adjusted_ranks, benard, beta_binomial_bounds, median_rank,
    paper, rank_quantile, rank_regression,
};
use wearbook_analysis::sample::Sample;

#[test]
fn ranks_and_lines_match_published_data_sets() {
    for case in cases(include_str!("../data/ranks.json")) {
        let name = case["id"].as_str().expect("a name");
        let tolerance = case["tolerance"].as_f64().expect("a tolerance");
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        let Some(data) = case["data"].as_str() else {
            for (n, table) in want.as_object().expect("a table") {
                let lives: u64 = n.parse().expect("a count");
                for (i, cell) in table["benard"]
                    .as_array()
                    .expect("a column")
                    .iter()
                    .enumerate()
                {
                    let got = benard((i + 1) as f64, lives).expect("a share");
                    agreement.option("benard", Some(got), cell, tolerance, 0.0);
                }
                for (p, key) in [(0.5, "median"), (0.05, "p05"), (0.95, "p95")] {
                    for (i, cell) in table[key].as_array().expect("a column").iter().enumerate() {
                        let got = rank_quantile((i + 1) as f64, lives, p).expect("a share");
                        agreement.option(key, Some(got), cell, tolerance, 0.0);
                    }
                }
            }
            agreement.settle(name);
            continue;
        };
        let sample = sample(data);
        assert_eq!(Some(sample.lives()), want["n"].as_u64());
        let bounds = beta_binomial_bounds(&sample, 0.9).expect("bounds");
        assert_eq!(bounds.len(), want["time"].as_array().expect("times").len());
        for (i, point) in bounds.iter().enumerate() {
            let mut check = |what: &str, got: f64, key: &str| {
                agreement.option(what, Some(got), &want[key][i], tolerance, 0.0);
            };
            check("time", point.time, "time");
            check("rank", point.rank, "adjusted_rank");
            check("median", point.share, "median_rank");
            let benard = benard(point.rank, sample.lives()).expect("a share");
            check("benard", benard, "benard");
            check("bounds", point.lower, "beta_binomial_05");
            check("bounds", point.upper, "beta_binomial_95");
        }
        let family = match case["family"].as_str() {
            Some("weibull") => Family::Weibull,
            Some("lognormal") => Family::Lognormal,
            other => panic!("no family {other:?}"),
        };
        for (positions, key) in [
            (Positions::Exact, "fit_median"),
            (Positions::Benard, "fit_benard"),
        ] {
            for (direction, way) in [(Direction::YOnX, "y-on-x"), (Direction::XOnY, "x-on-y")] {
                let line = rank_regression(&sample, family, positions, direction).expect(name);
                for parameter in family.parameter_names() {
                    agreement.option(
                        &format!("line@{key} {way} {parameter}"),
                        line.parameter(parameter),
                        &want[key][way][parameter],
                        tolerance,
                        0.0,
                    );
                }
                let (r2, r) = (&want[key]["r2"], &want[key]["r"]);
                agreement.option("r squared", Some(line.r_squared()), r2, tolerance, 0.0);
                agreement.option("r", Some(line.correlation), r, tolerance, 0.0);
            }
        }
        agreement.settle(name);
    }
}

/// Usages that lie exactly on a line on the family's paper give that line back.
#[test]
fn a_straight_line_is_found_again_on_every_paper() {
    let lives = 9;
    for family in Family::ALL {
        let usages = (1..=lives).map(|rank| {
            let share = median_rank(rank as f64, lives).expect("a share");
            match family {
                // H = t / mean
                Family::Exponential => 40.0 * -(-share).ln_1p(),
                _ => (2.0 + 0.5 * paper(family, 1.0, share).expect("a place").1).exp(),
            }
        });
        let sample = Sample::new(usages.map(Observation::exact)).expect("valid");
        for direction in [Direction::YOnX, Direction::XOnY] {
            let line =
                rank_regression(&sample, family, Positions::Exact, direction).expect("a line");
            let want = match family {
                Family::Exponential => vec![40.0],
                Family::Lognormal => vec![2.0, 0.5],
                Family::Weibull | Family::Loglogistic => vec![2.0_f64.exp(), 2.0],
                other => panic!("{other:?} has no paper"),
            };
            for (got, want) in line.parameters.iter().zip(&want) {
                assert!((got / want - 1.0).abs() < 1e-12, "{family:?} {got} {want}");
            }
            assert!((line.correlation - 1.0).abs() < 1e-12);
            assert_eq!(line.points, lives);
        }
    }
}

#[test]
fn ranks_that_do_not_exist_are_errors() {
    let of = |rows: &[Observation]| Sample::new(rows.to_vec()).expect("valid");
    let line = |sample: &Sample| {
        rank_regression(sample, Family::Weibull, Positions::Exact, Direction::YOnX)
    };
    let fan = Observation::exact(2.0);
    assert_eq!(
        adjusted_ranks(&of(&[Observation::right_censored(1.0)])).unwrap_err(),
        RankError::NoFailures
    );
    assert_eq!(
        adjusted_ranks(&of(&[fan.clone(), Observation::interval(1.0, 2.0)])).unwrap_err(),
        RankError::InexactFailures { lives: 1 }
    );
    assert_eq!(
        adjusted_ranks(&of(&[fan.clone().entered_at(1.0)])).unwrap_err(),
        RankError::LateEntries { lives: 1 }
    );
    assert_eq!(
        line(&of(&[fan.clone().times(3)])).unwrap_err(),
        RankError::OneUsage
    );
    let many = of(&[fan.clone().times(1_000_000), Observation::exact(3.0)]);
    assert!(matches!(
        line(&many),
        Err(RankError::TooManyFailures {
            failures: 1_000_001,
            ..
        })
    ));
    assert!(matches!(
        beta_binomial_bounds(&many, 0.9),
        Err(RankError::TooManyFailures { .. })
    ));
    assert!(matches!(
        beta_binomial_bounds(&of(&[fan]), 1.0),
        Err(RankError::Level { .. })
    ));
    // Two early failures of very many lives: the usage by which 63 % fail is no number.
    let far = of(&[
        Observation::exact(1.0),
        Observation::exact(1e100),
        Observation::right_censored(1e100).times(1_000_000_000_000),
    ]);
    assert_eq!(
        line(&far).unwrap_err(),
        RankError::OutOfRange {
            family: Family::Weibull
        }
    );
}

#[test]
fn a_plot_of_very_many_failures_shows_an_even_choice() {
    let sample = Sample::new([
        Observation::exact(1.0),
        Observation::exact(2.0).times(2_000_000_000),
        Observation::exact(3.0).times(2_000_000_000),
        Observation::right_censored(4.0).times(5),
    ])
    .expect("valid");
    let plot = probability_plot(&sample, Family::Weibull);
    assert_eq!(plot.len() as u64, MOST_POINTS);
    assert_eq!(plot[0].time, 1.0);
    assert_eq!(plot[0].adjusted_rank, 1.0);
    let last = plot.last().expect("points");
    assert_eq!(last.time, 3.0);
    assert!((last.adjusted_rank - 4e9 - 1.0).abs() < 1e-3);
    assert!(
        plot.windows(2)
            .all(|pair| pair[0].adjusted_rank < pair[1].adjusted_rank && pair[0].y < pair[1].y)
    );
    let at_two = plot.iter().filter(|point| point.time == 2.0).count();
    assert!((2_498..=2_502).contains(&at_two), "{at_two}");
}

#[test]
fn families_without_a_paper_have_no_line() {
    let sample = Sample::new([1.0, 2.0, 5.0].map(Observation::exact)).expect("valid");
    for family in [
        Family::Gamma,
        Family::GeneralisedGamma,
        Family::ThresholdWeibull,
    ] {
        assert_eq!(
            rank_regression(&sample, family, Positions::Exact, Direction::YOnX).unwrap_err(),
            RankError::NoPaper { family }
        );
    }
}

#[test]
fn a_rank_beyond_the_lives_and_a_place_off_the_paper_are_refused() {
    for rank in [0.0, 0.99, 5.01, -1.0, f64::NAN, f64::INFINITY] {
        let refused =
            |got: Result<f64, RankError>| matches!(got, Err(RankError::Rank { lives: 5, .. }));
        assert!(refused(median_rank(rank, 5)), "{rank}");
        assert!(refused(benard(rank, 5)), "{rank}");
        assert!(refused(rank_quantile(rank, 5, 0.9)), "{rank}");
    }
    for probability in [0.0, 1.0, f64::NAN] {
        let got = rank_quantile(2.0, 5, probability);
        assert!(matches!(got, Err(RankError::Level { .. })), "{got:?}");
    }
    for (time, share) in [
        (0.0, 0.5),
        (-1.0, 0.5),
        (1.0, 0.0),
        (1.0, 1.0),
        (f64::NAN, 0.5),
        (1.0, f64::NAN),
    ] {
        let got = paper(Family::Weibull, time, share);
        assert!(matches!(got, Err(RankError::OffPaper { .. })), "{got:?}");
    }
}

#[test]
fn the_last_of_very_many_lives_has_a_place_on_every_paper() {
    let lives = 1_u64 << 52;
    let sample = Sample::new([
        Observation::right_censored(1.0).times(lives),
        Observation::exact(2.0).times(lives),
    ])
    .expect("valid");
    for family in Family::ALL {
        let points = probability_plot(&sample, family);
        assert_eq!(points.len() as u64, MOST_POINTS);
        assert!(points.iter().all(|point| point.y.is_finite()), "{family:?}");
    }
    // Median of the largest of n uniform numbers: 0.5^(1/n), so the hazard is ln n - ln ln 2 for many.
    let complete = Sample::new([Observation::exact(2.0).times(lives)]).expect("valid");
    let points = probability_plot(&complete, Family::Exponential);
    let want = (lives as f64).ln() - 2.0_f64.ln().ln();
    let got = points.last().expect("a point");
    assert!((got.y.exp() / want - 1.0).abs() < 1e-9, "{got:?} {want}");
}
