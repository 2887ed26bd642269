//! What an analysis can be asked for, against published values.

use harness::{Service, TestDatabase};
use serde_json::{Value, json};
use wearbook_domain::vocabulary::Scope;

const PATH: &str = "/v1/analyses";

fn file(text: &str) -> Value {
    serde_json::from_str(text).expect("the file is JSON")
}

fn lives_file() -> Value {
    file(include_str!("../../analysis/tests/data/lives.json"))
}

/// The rows of a published set.
fn lives(set: &Value) -> Vec<Value> {
    let columns = &set["columns"];
    let lower = columns["lower"].as_array().expect("a column");
    let upper = columns["upper"].as_array().expect("a column");
    lower
        .iter()
        .zip(upper)
        .map(|(lower, upper)| json!({"lower": lower, "upper": upper}))
        .collect()
}

fn published(name: &str) -> Vec<Value> {
    lives(&lives_file()[name])
}

/// The case of a file that has this name.
fn case(file: &Value, id: &str) -> Value {
    let cases = file["cases"].as_array().expect("cases");
    let found = cases.iter().find(|case| case["id"] == id);
    found.expect("a case of that name").clone()
}

#[track_caller]
fn near(got: &Value, want: &Value, tolerance: f64) {
    let number = |value: &Value| value.as_f64().unwrap_or(f64::NAN);
    let (found, wanted) = (number(got), number(want));
    assert!(
        ((found - wanted) / wanted).abs() <= tolerance,
        "{got}, published {want}"
    );
}

async fn ask(service: &Service, body: &Value) -> Value {
    let token = service.token(&[Scope::ReadAdvice]).await;
    service.post(&token, PATH, body).await.expect(200)
}

#[tokio::test]
async fn limits_are_those_of_the_method_asked_for() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let body = |limits: &str| {
        json!({
            "lives": published("ball-bearings"), "families": ["weibull"], "shares": [0.1], "level": 0.9, "limits": limits
        })
    };
    let likelihood = file(include_str!(
        "../../analysis/tests/data/maximum_likelihood.json"
    ));
    let case = case(&likelihood, "mle-ball-bearings-weibull");
    let want = &case["expected"]["blife"]["0.1"];
    let mut found = Vec::new();
    for (word, kind) in [
        ("likelihood-ratio", Some(&want["lr"]["0.90"])),
        ("delta", Some(&want["delta"]["0.90"])),
        ("modified-root", None),
        ("bootstrap", None),
    ] {
        let answer = ask(&service, &body(word)).await;
        let model = &answer["report"]["models"][0];
        let age = &model["quantiles"][0];
        assert_eq!(age["kind"], word);
        assert_eq!(model["parameters"]["shape"]["kind"], word);
        near(&age["value"], &want["t"], 1e-6);
        if let Some(limits) = kind {
            near(&age["lower"], &limits[0], 1e-6);
            near(&age["upper"], &limits[1], 1e-6);
        }
        found.push((age["lower"].to_string(), age["upper"].to_string()));
    }
    let shape = &case["expected"]["shape_lr_ci"]["0.90"];
    let answer = ask(&service, &body("likelihood-ratio")).await;
    let got = &answer["report"]["models"][0]["parameters"]["shape"];
    near(&got["lower"], &shape[0], 1e-6);
    near(&got["upper"], &shape[1], 1e-6);
    found.sort();
    found.dedup();
    assert_eq!(found.len(), 4, "four methods, four answers");
    let mut unsaid = body("delta");
    unsaid.as_object_mut().expect("a body").remove("limits");
    let answer = ask(&service, &unsaid).await;
    let age = &answer["report"]["models"][0]["quantiles"][0];
    assert_eq!(age["kind"], "modified-root");
}

#[tokio::test]
async fn the_same_seed_draws_the_same_samples() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.token(&[Scope::ReadAdvice]).await;
    let body = |seed: u64| {
        json!({
            "lives": published("ball-bearings"), "families": ["weibull"], "shares": [0.1],
            "limits": "bootstrap", "seed": seed, "resamples": 200
        })
    };
    let first = service.post(&token, PATH, &body(7)).await;
    let _ = first.expect(200);
    let again = service.post(&token, PATH, &body(7)).await;
    assert!(first.bytes == again.bytes);
    let other = service.post(&token, PATH, &body(8)).await;
    let _ = other.expect(200);
    assert!(first.bytes != other.bytes);
    let unsaid = json!({
        "lives": published("ball-bearings"), "families": ["weibull"], "shares": [0.1], "limits": "bootstrap", "resamples": 200
    });
    let unsaid = service.post(&token, PATH, &unsaid).await;
    let one = service.post(&token, PATH, &body(1)).await;
    assert!(
        unsaid.bytes == one.bytes,
        "the seed is 1 where none is said"
    );
}

#[tokio::test]
async fn covariates_give_the_published_accelerated_life() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let regression = file(include_str!("../../analysis/tests/data/regression.json"));
    let set = &regression["sets"]["capacitor"];
    let names = ["log_volt", "temp"];
    let mut rows = lives(set);
    for (place, row) in rows.iter_mut().enumerate() {
        let values = names.map(|name| set["columns"]["covariates"][name][place].clone());
        row["covariates"] = json!(values);
    }
    let body = json!({"lives": rows, "covariates": names, "families": ["weibull", "lognormal"]});
    let answer = ask(&service, &body).await;
    let models = answer["regression"]["accelerated_life"]
        .as_array()
        .expect("models");
    assert_eq!(models.len(), 2);
    for model in models {
        let family = model["family"].as_str().expect("a family");
        let case = case(&regression, &format!("aft-capacitor-{family}"));
        let want = &case["expected"];
        near(&model["intercept"], &want["coef"]["intercept"], 1e-6);
        near(&model["sigma"], &want["sigma"], 1e-6);
        near(&model["log_likelihood"], &want["loglik"], 1e-9);
        let whole = &model["likelihood_ratio"];
        near(&whole["chi_square"], &want["lr"], 1e-6);
        assert_eq!(whole["degrees_of_freedom"], want["df"]);
        for (place, name) in names.iter().enumerate() {
            let coefficient = &model["coefficients"][place];
            assert_eq!(coefficient["name"], *name);
            near(&coefficient["value"], &want["coef"][name], 1e-6);
            near(&coefficient["std_error"], &want["se"][name], 1e-5);
            let factor = &coefficient["factor"];
            let lower = factor["lower"].as_f64().expect("a limit");
            let upper = factor["upper"].as_f64().expect("a limit");
            let value = factor["value"].as_f64().expect("a factor");
            assert!(lower < value && value < upper, "{factor}");
        }
    }
    let hazards = &answer["regression"]["proportional_hazards"];
    assert_eq!(hazards["coefficients"].as_array().map(Vec::len), Some(2));
}

/// The shock absorbers with the mode of each failure.
fn shock_absorbers() -> Vec<Value> {
    let mut rows = published("shock-absorbers");
    for mode in ["1", "2"] {
        let of_mode = published(&format!("shock-mode{mode}"));
        for (row, one) in rows.iter_mut().zip(&of_mode) {
            if !one["upper"].is_null() {
                row["cause"] = json!(format!("mode {mode}"));
            }
        }
    }
    rows
}

#[tokio::test]
async fn two_modes_give_the_published_shares_and_fits() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let answer = ask(&service, &json!({"lives": shock_absorbers()})).await;
    let incidence = file(include_str!("../../analysis/tests/data/incidence.json"));
    let case = case(&incidence, "shock-absorbers");
    let curves = answer["report"]["incidence"]["causes"]
        .as_array()
        .expect("curves");
    assert_eq!(curves.len(), 2);
    for (curve, column) in curves.iter().zip(["cif_1", "cif_2"]) {
        let last = curve["points"].as_array().and_then(|all| all.last());
        let want = case["expected"][column]
            .as_array()
            .and_then(|all| all.last());
        near(
            &last.expect("a step")["incidence"],
            want.expect("a value"),
            1e-9,
        );
    }
    let fits = file(include_str!(
        "../../analysis/tests/data/competing_modes.json"
    ));
    let modes = &answer["report"]["modes"];
    for (place, mode) in ["1", "2"].into_iter().enumerate() {
        let (got, want) = (&modes["modes"][place], &fits["modes"][mode]);
        assert_eq!(got["cause"], format!("mode {mode}"));
        assert_eq!(got["failures"], want["failures"]);
        for parameter in ["scale", "shape"] {
            let value = &got["model"]["parameters"][parameter]["value"];
            near(value, &want["params"][parameter], 1e-6);
        }
        near(&got["model"]["log_likelihood"], &want["loglik"], 1e-9);
    }
    near(
        &answer["report"]["models"][0]["log_likelihood"],
        &fits["single"]["loglik"],
        1e-9,
    );
    // One fit says which mode struck by the shares of the failures alone, 7 and 4 of 11.
    let told = 7.0 * (7.0_f64 / 11.0).ln() + 4.0 * (4.0_f64 / 11.0).ln();
    let single = fits["single"]["loglik"].as_f64().expect("a value") + told;
    near(
        &modes["comparison"]["single_log_likelihood"],
        &json!(single),
        1e-9,
    );
    let named = ask(
        &service,
        &json!({"lives": shock_absorbers(), "cause": "mode 1"}),
    )
    .await;
    assert_eq!(named["report"]["modes"], Value::Null);
    let weibull = &named["report"]["models"][0]["parameters"];
    near(
        &weibull["scale"]["value"],
        &fits["modes"]["1"]["params"]["scale"],
        1e-6,
    );
}

fn valve_seats(recurrent: &Value) -> Vec<Value> {
    let systems = recurrent["data"]["valve-seats"]["systems"].as_array();
    let systems = systems.expect("systems").iter().enumerate();
    systems
        .map(|(place, system)| {
            json!({"unit": format!("engine {place}"), "events": system[1], "watched_to": system[0]})
        })
        .collect()
}

#[tokio::test]
async fn valve_seats_give_the_published_mean_number_of_replacements() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let recurrent = file(include_str!("../../analysis/tests/data/recurrent.json"));
    let mut systems = valve_seats(&recurrent);
    let answer = ask(&service, &json!({"systems": systems, "level": 0.95})).await;
    assert_eq!(answer["report"], Value::Null);
    let found = &answer["recurrence"];
    assert_eq!(
        (&found["systems"], &found["events"]),
        (&json!(41), &json!(48))
    );
    let want = &recurrent["mean_cumulative_function"][0]["expected"];
    let limits = &want["ci_log_robust_0_95"];
    let points = found["mean_cumulative_function"].as_array().expect("steps");
    assert_eq!(points.len(), want["time"].as_array().expect("ages").len());
    for (place, point) in points.iter().enumerate() {
        assert_eq!(point["age"], want["time"][place]);
        assert_eq!(point["at_risk"].as_f64(), want["n_at_risk"][place].as_f64());
        near(&point["mean"], &want["mcf"][place], 1e-8);
        near(&point["lower"], &limits["lower"][place], 1e-8);
        near(&point["upper"], &limits["upper"][place], 1e-8);
    }
    let law = recurrent["power_law"].as_array().expect("cases").iter();
    let law = law.clone().find(|case| case["id"] == "plp-valve-seats");
    let want = &law.expect("a case")["expected"];
    near(&found["power_law"]["shape"]["value"], &want["beta"], 1e-7);
    near(&found["power_law"]["scale"], &want["theta"], 1e-7);
    near(&found["power_law"]["log_likelihood"], &want["loglik"], 1e-7);
    let trend = &want["trend"];
    near(&found["laplace"]["statistic"], &trend["laplace_U"], 1e-7);
    near(
        &found["mil_hdbk_189"]["statistic"],
        &trend["mil_hdbk_189_chi2"],
        1e-7,
    );
    assert_eq!(found["cramer_von_mises"]["by_ratio"], json!(true));
    systems.reverse();
    let again = ask(&service, &json!({"systems": systems})).await;
    assert_eq!(again, answer, "whatever the order, and 0.95 unless said");
}

#[tokio::test]
async fn watching_may_end_with_an_event_and_units_may_share_a_row() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let recurrent = file(include_str!("../../analysis/tests/data/recurrent.json"));
    // Mean usage between failures of one plane, watched to its last failure.
    let events = &recurrent["data"]["aircond-8044"]["systems"][0][1];
    let answer = ask(&service, &json!({"systems": [{"events": events}]})).await;
    let laws = recurrent["power_law"].as_array().expect("cases");
    let case = laws.iter().find(|case| case["id"] == "plp-aircond-8044");
    let want = &case.expect("a case")["expected"];
    let law = &answer["recurrence"]["power_law"];
    near(&law["shape"]["value"], &want["beta"], 1e-7);
    near(&law["shape_unbiased"], &want["beta_bar"], 1e-7);
    near(
        &law["mean_between_events"]["value"],
        &want["mtbf_at_end"],
        1e-7,
    );
    let last = &events[11];
    let said =
        json!({"systems": [{"events": events, "watched_to": last, "truncation": "failure"}]});
    assert_eq!(ask(&service, &said).await, answer);
    let twice = json!({"systems": [
        {"events": [3, 9], "watched_from": 1, "watched_to": 10}, {"events": [9, 3], "watched_from": 1, "watched_to": 10},
        {"watched_to": 12}
    ]});
    let shared = json!({"systems": [{"watched_to": 12}, {"events": [3, 9], "watched_from": 1, "watched_to": 10, "count": 2}]});
    assert_eq!(ask(&service, &twice).await, ask(&service, &shared).await);
}

#[tokio::test]
async fn events_that_no_model_fits_are_answered_with_reasons() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let answer = ask(&service, &json!({"systems": [{"watched_to": 12}]})).await;
    let found = &answer["recurrence"];
    assert_eq!(found["power_law"], Value::Null);
    assert_eq!(found["mean_cumulative_function"], json!([]));
    assert_eq!(found["warnings"][0]["code"], "estimator-failed");
}
