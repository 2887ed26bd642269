//! Curves without a family against published data sets.

use crate::golden::{Agreement, cases, columns, observations, sample};
use serde_json::Value;
use wearbook_analysis::nonparametric::{
    LimitKind, Limits, kaplan_meier, log_rank, log_rank_stratified, nelson_aalen, turnbull,
};
use wearbook_analysis::plot::{adjusted_ranks, median_rank, rank_quantile};
use wearbook_analysis::sample::Sample;

#[test]
fn survival_and_cumulative_hazard_match_published_data_sets() {
    for case in cases(include_str!("../data/kaplan_meier.json")) {
        let name = case["id"].as_str().expect("a name");
        let sample = sample(case["data"].as_str().expect("a data set"));
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        let tolerance = 1e-8;
        for (kind, key) in [
            (LimitKind::LogLog, "loglog"),
            (LimitKind::Log, "log"),
            (LimitKind::Plain, "plain"),
        ] {
            let limits = Limits {
                kind,
                level: case["level"].as_f64().expect("a level"),
            };
            let curve = kaplan_meier(&sample, limits).expect(name);
            assert_eq!(
                curve.points.len(),
                want["time"].as_array().expect("times").len(),
                "{name}"
            );
            for (i, point) in curve.points.iter().enumerate() {
                agreement.option("counts", Some(point.time), &want["time"][i], 0.0, 0.0);
                agreement.option(
                    "counts",
                    Some(point.at_risk as f64),
                    &want["n_risk"][i],
                    0.0,
                    0.0,
                );
                agreement.option(
                    "counts",
                    Some(point.failed as f64),
                    &want["n_event"][i],
                    0.0,
                    0.0,
                );
                agreement.option(
                    "counts",
                    Some(point.censored as f64),
                    &want["n_censor"][i],
                    0.0,
                    0.0,
                );
                agreement.option(
                    "survival",
                    Some(point.survival),
                    &want["surv"][i],
                    tolerance,
                    1e-9,
                );
                let variance = point.std_error.map(|error| error * error);
                agreement.option(
                    "greenwood",
                    variance,
                    &want["var_greenwood"][i],
                    tolerance,
                    1e-9,
                );
                agreement.option(
                    &format!("limits@{key} {i} lower"),
                    point.lower,
                    &want["ci"][key]["lower"][i],
                    tolerance,
                    1e-9,
                );
                agreement.option(
                    &format!("limits@{key} {i} upper"),
                    point.upper,
                    &want["ci"][key]["upper"][i],
                    tolerance,
                    1e-9,
                );
            }
            for (p, want) in want["quantiles"][key].as_object().expect("quantiles") {
                let got = curve.quantile(p.parse().expect("a share"));
                agreement.option(
                    &format!("quantile@{key} {p}"),
                    got.value,
                    &want["estimate"],
                    tolerance,
                    0.0,
                );
                agreement.option(
                    &format!("quantile@{key} {p} lower"),
                    got.lower,
                    &want["lower"],
                    tolerance,
                    0.0,
                );
                agreement.option(
                    &format!("quantile@{key} {p} upper"),
                    got.upper,
                    &want["upper"],
                    tolerance,
                    0.0,
                );
            }
            if let Some(horizon) = want["rmst"]["tau"].as_f64() {
                let mean = curve.restricted_mean(horizon).expect("a mean");
                agreement.option(
                    "restricted mean",
                    Some(mean.value),
                    &want["rmst"]["value"],
                    tolerance,
                    0.0,
                );
                agreement.option(
                    "restricted mean",
                    Some(mean.std_error),
                    &want["rmst"]["se"],
                    tolerance,
                    0.0,
                );
            }
        }
        for (i, step) in nelson_aalen(&sample).expect(name).iter().enumerate() {
            agreement.option(
                "cumulative hazard",
                Some(step.value),
                &want["cumhaz"][i],
                tolerance,
                1e-9,
            );
            agreement.option(
                "cumulative hazard",
                Some(step.variance),
                &want["cumhaz_var"][i],
                tolerance,
                1e-9,
            );
        }
        agreement.settle(name);
    }
}

#[test]
fn interval_curves_meet_the_gradient_condition_at_the_published_masses() {
    for case in cases(include_str!("../data/turnbull.json")) {
        let name = case["id"].as_str().expect("a name");
        let curve = turnbull(&sample(case["data"].as_str().expect("a data set"))).expect(name);
        let want = &case["expected"];
        let support = want["support"].as_array().expect("support");
        let mut agreement = Agreement::default();
        assert_eq!(
            curve.support.len(),
            support.len(),
            "{name}: {:?}",
            curve.support
        );
        for (got, want) in curve.support.iter().zip(support) {
            agreement.option("bounds", Some(got.after), &want["left"], 0.0, 0.0);
            agreement.option("bounds", got.by, &want["right"], 0.0, 0.0);
            agreement.option(
                "probability",
                Some(got.probability),
                &want["prob"],
                1e-6,
                1e-9,
            );
            agreement.option(
                "survival",
                Some(got.survival_after),
                &want["surv_after"],
                1e-6,
                1e-9,
            );
        }
        agreement.option(
            "loglik",
            Some(curve.log_likelihood),
            &want["loglik"],
            1e-6,
            0.0,
        );
        agreement.settle(name);
    }
}

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

#[test]
fn group_comparisons_match_published_data_sets() {
    for case in cases(include_str!("../data/log_rank.json")) {
        let name = case["id"].as_str().expect("a name");
        let data = case["data"].as_str().expect("a data set");
        let lives = observations(data);
        let (groups, strata) = (labels(data, &case["group"]), labels(data, &case["strata"]));
        let wanted: Vec<f64> = case["expected"]["groups"]
            .as_array()
            .expect("groups")
            .iter()
            .map(|g| g.as_f64().expect("a label"))
            .collect();
        let mut every = strata.clone();
        every.sort_by(f64::total_cmp);
        every.dedup();
        let samples: Vec<Vec<Sample>> = every
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
            .collect();
        let borrowed: Vec<Vec<&Sample>> = samples.iter().map(|row| row.iter().collect()).collect();
        let got = log_rank_stratified(&borrowed).expect(name);
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        for (i, group) in got.groups.iter().enumerate() {
            agreement.option(
                "observed",
                Some(group.observed),
                &want["observed"][i],
                0.0,
                0.0,
            );
            agreement.option(
                "expected",
                Some(group.expected),
                &want["expected"][i],
                1e-7,
                0.0,
            );
            for (j, cell) in got.covariance[i].iter().enumerate() {
                agreement.option("variance", Some(*cell), &want["var"][i][j], 1e-7, 0.0);
            }
        }
        agreement.option(
            "chi-square",
            Some(got.chi_square),
            &want["chisq"],
            1e-7,
            0.0,
        );
        agreement.option("p", Some(got.p_value), &want["p"], 1e-7, 0.0);
        assert_eq!(u64::from(got.freedom), want["df"].as_u64().expect("df"));
        agreement.settle(name);
    }
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
fn median_ranks_are_exact() {
    for case in cases(include_str!("../data/ranks.json")) {
        let name = case["id"].as_str().expect("a name");
        let want = &case["expected"];
        let mut agreement = Agreement::default();
        if let Some(data) = case["data"].as_str() {
            let sample = sample(data);
            let ranks = adjusted_ranks(&sample);
            for (i, (time, rank)) in ranks.iter().enumerate() {
                agreement.option("time", Some(*time), &want["time"][i], 0.0, 0.0);
                agreement.option("rank", Some(*rank), &want["adjusted_rank"][i], 1e-8, 0.0);
                agreement.option(
                    "median",
                    Some(median_rank(*rank, sample.lives())),
                    &want["median_rank"][i],
                    1e-8,
                    0.0,
                );
                for (p, key) in [(0.05, "beta_binomial_05"), (0.95, "beta_binomial_95")] {
                    agreement.option(
                        "limits",
                        Some(rank_quantile(*rank, sample.lives(), p)),
                        &want[key][i],
                        1e-8,
                        0.0,
                    );
                }
            }
        } else {
            for (n, table) in want.as_object().expect("a table") {
                let lives: u64 = n.parse().expect("a count");
                for (p, key) in [(0.5, "median"), (0.05, "p05"), (0.95, "p95")] {
                    for (i, cell) in table[key].as_array().expect("a column").iter().enumerate() {
                        agreement.option(
                            key,
                            Some(rank_quantile((i + 1) as f64, lives, p)),
                            cell,
                            1e-9,
                            0.0,
                        );
                    }
                }
            }
        }
        agreement.settle(name);
    }
}
