//! Curves without a family against published data sets.

use crate::golden::{Agreement, cases, sample};
use wearbook_analysis::nonparametric::{LimitKind, Limits, kaplan_meier, nelson_aalen, turnbull};

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
                curve.len(),
                want["time"].as_array().expect("times").len(),
                "{name}"
            );
            for (i, point) in curve.points().enumerate() {
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
