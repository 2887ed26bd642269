//! Comparisons of groups against published data sets.

use crate::golden::{Agreement, cases, columns, observations, sample};
use serde_json::Value;
use wearbook_analysis::nonparametric::{
    EstimateError, Weights, log_rank, log_rank_stratified, weighted_log_rank,
};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// The column of covariates by which a case groups or stratifies, as whole numbers.
fn labels(data: &str, column: &Value) -> Vec<f64> {
    match column.as_str() {
        None => vec![0.0; observations(data).len()],
        Some(name) => columns(data)["covariates"][name]
            .as_array()
            .expect("a column")
            .iter()
            .map(|label| label.as_f64().expect("a label"))
            .collect(),
    }
}

/// One sample per stratum and group, groups in the order wanted.
fn strata(case: &Value) -> Vec<Vec<Sample>> {
    let data = case["data"].as_str().expect("a data set");
    let lives = observations(data);
    let (groups, strata) = (labels(data, &case["group"]), labels(data, &case["strata"]));
    let wanted: Vec<f64> = case["expected"]["logrank"]["groups"]
        .as_array()
        .expect("groups")
        .iter()
        .map(|g| g.as_f64().expect("a label"))
        .collect();
    let mut every = strata.clone();
    every.sort_by(f64::total_cmp);
    every.dedup();
    every
        .iter()
        .map(|stratum| {
            wanted
                .iter()
                .map(|group| {
                    let own = lives
                        .iter()
                        .zip(groups.iter().zip(&strata))
                        .filter(|(_, (g, s))| *g == group && *s == stratum);
                    Sample::new(own.map(|(life, _)| life.clone())).expect("valid")
                })
                .collect()
        })
        .collect()
}

fn borrowed(strata: &[Vec<Sample>]) -> Vec<Vec<&Sample>> {
    strata.iter().map(|row| row.iter().collect()).collect()
}

fn weights(key: &str) -> Weights {
    match key {
        "logrank" => Weights::LogRank,
        "gehan" => Weights::Gehan,
        "tarone_ware" => Weights::TaroneWare,
        "peto_peto" => Weights::PetoPeto,
        _ => {
            let mut powers = key
                .strip_prefix("fleming_harrington_")
                .expect("a known test")
                .split('_')
                .map(|power| power.parse().expect("a power"));
            Weights::FlemingHarrington {
                rho: powers.next().expect("rho"),
                gamma: powers.next().expect("gamma"),
            }
        }
    }
}

#[test]
fn every_weighted_comparison_matches_published_data_sets() {
    let mut compared = 0;
    for case in cases(include_str!("../data/comparisons.json")) {
        let name = case["id"].as_str().expect("a name");
        let tolerance = case["tolerance"].as_f64().expect("a tolerance");
        let samples = strata(&case);
        let mut agreement = Agreement::default();
        for (key, want) in case["expected"].as_object().expect("tests") {
            let got = weighted_log_rank(&borrowed(&samples), weights(key)).expect(name);
            for (i, group) in got.groups.iter().enumerate() {
                let what = |part: &str| format!("{part}@{key} {i}");
                agreement.option(
                    &what("observed"),
                    Some(group.observed),
                    &want["observed"][i],
                    tolerance,
                    0.0,
                );
                agreement.option(
                    &what("expected"),
                    Some(group.expected),
                    &want["expected"][i],
                    tolerance,
                    0.0,
                );
                if want["var"].is_array() {
                    for (j, cell) in got.covariance[i].iter().enumerate() {
                        agreement.option(
                            "variance",
                            Some(*cell),
                            &want["var"][i][j],
                            tolerance,
                            0.0,
                        );
                    }
                }
            }
            agreement.option(
                &format!("chi-square@{key}"),
                Some(got.chi_square),
                &want["chisq"],
                tolerance,
                0.0,
            );
            agreement.option(
                &format!("p@{key}"),
                Some(got.p_value),
                &want["p"],
                tolerance,
                0.0,
            );
            assert_eq!(u64::from(got.freedom), want["df"].as_u64().expect("df"));
            compared += 1;
        }
        agreement.settle(name);
    }
    assert!(compared > 50, "only {compared} tests");
}

#[test]
fn the_two_arms_of_the_leukaemia_trial_differ() {
    // Freireich et al. 1963; chi-square 16.79 on one degree of freedom.
    let (drug, placebo) = (sample("leukemia-6mp-drug"), sample("leukemia-6mp-placebo"));
    let test = log_rank(&[&drug, &placebo]).expect("a comparison");
    assert!((test.chi_square - 16.7929).abs() < 1e-4);
    let expected: f64 = test.rows.iter().map(|row| row.expected[0]).sum();
    assert!((expected - test.groups[0].expected).abs() < 1e-12);
}

#[test]
fn peto_and_peto_is_not_fleming_and_harrington() {
    let (drug, placebo) = (sample("leukemia-6mp-drug"), sample("leukemia-6mp-placebo"));
    let chi_square = |weights| {
        weighted_log_rank(&[vec![&drug, &placebo]], weights)
            .expect("a comparison")
            .chi_square
    };
    let ratio = chi_square(Weights::FlemingHarrington {
        rho: 1.0,
        gamma: 0.0,
    }) / chi_square(Weights::PetoPeto);
    assert!((ratio - 1.0).abs() > 0.02, "{ratio}");
}

#[test]
fn what_cannot_be_compared_is_an_error() {
    let early = Sample::new([Observation::exact(1.0), Observation::exact(2.0)]).expect("valid");
    let late = Sample::new([Observation::exact(9.0).entered_at(5.0)]).expect("valid");
    let alive = Sample::new([Observation::right_censored(9.0)]).expect("valid");
    let loose = Sample::new([Observation::interval(1.0, 2.0)]).expect("valid");
    let none = Sample::new([]).expect("valid");
    assert_eq!(
        log_rank(&[&early]).unwrap_err(),
        EstimateError::Groups { groups: 1 }
    );
    assert_eq!(
        log_rank_stratified(&[]).unwrap_err(),
        EstimateError::Groups { groups: 0 }
    );
    assert_eq!(
        log_rank_stratified(&[vec![&early, &late], vec![&early, &late, &alive]]).unwrap_err(),
        EstimateError::UnevenStrata
    );
    // Never at risk together, nobody failed, nobody there.
    for pair in [[&early, &late], [&alive, &alive], [&none, &none]] {
        assert_eq!(
            log_rank(&pair).unwrap_err(),
            EstimateError::NothingToCompare
        );
    }
    assert_eq!(
        log_rank(&[&early, &loose]).unwrap_err(),
        EstimateError::InexactFailures { lives: 1 }
    );
    for bad in [f64::NAN, -1.0, f64::INFINITY] {
        let weights = Weights::FlemingHarrington {
            rho: 0.0,
            gamma: bad,
        };
        assert!(matches!(
            weighted_log_rank(&[vec![&early, &alive]], weights),
            Err(EstimateError::WeightPower { .. })
        ));
    }
    // The only failure comes first, where late weights are 0.
    let one = Sample::new([Observation::exact(1.0), Observation::right_censored(2.0)]);
    let weights = Weights::FlemingHarrington {
        rho: 0.0,
        gamma: 1.0,
    };
    assert_eq!(
        weighted_log_rank(&[vec![&one.expect("valid"), &alive]], weights).unwrap_err(),
        EstimateError::NothingToCompare
    );
}

#[test]
fn a_tiny_group_beside_huge_ones_keeps_its_degree_of_freedom() {
    let huge = |at: f64| {
        Sample::new([
            Observation::exact(at).times(1_000_000_000_000),
            Observation::right_censored(9.0).times(1_000_000_000_000),
        ])
        .expect("valid")
    };
    let tiny =
        Sample::new([Observation::exact(1.5), Observation::right_censored(9.0)]).expect("valid");
    let test = log_rank(&[&huge(1.0), &huge(1.0), &tiny]).expect("a comparison");
    assert_eq!(test.freedom, 2);
    assert!(test.chi_square.is_finite());
}
