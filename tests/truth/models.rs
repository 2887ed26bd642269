//! Weibull fits of published lives.

use harness::bench::{Published, enter};
use harness::{Service, TestDatabase};
use serde_json::{Value, json};

use crate::compare::{advice_and_fit, compare, compare_curve};

async fn comes_out_as_published(text: &str) -> (Published, Value, Value) {
    let published = Published::read(text);
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    enter(&service, &published).await;
    let (advice, fit) = advice_and_fit(&service).await;
    let report = &fit["report"];
    let (lives, failures) = published.counts();
    assert_eq!(report["sample"]["lives"], lives);
    assert_eq!(report["sample"]["failures"], failures);
    assert_eq!(report["sample"]["right_censored"], lives - failures);
    assert_eq!(
        (&advice["lives"], &advice["failures"]),
        (&lives.into(), &failures.into())
    );
    assert_eq!(report["sample"]["digest"], fit["head"]["data_digest"]);
    assert_eq!(advice["data_digest"], fit["head"]["data_digest"]);
    compare_weibull(&published.document, report);
    compare_limits(&service, &published).await;
    (published, advice, fit)
}

fn compare_weibull(document: &Value, report: &Value) {
    let name = document["name"].as_str().unwrap_or_default();
    let want = &document["weibull"];
    let models = report["models"].as_array().expect("models");
    let model = models
        .iter()
        .find(|model| model["family"] == "weibull")
        .expect("a Weibull model");
    for parameter in ["shape", "scale"] {
        compare(
            &format!("{name} {parameter}"),
            &model["parameters"][parameter]["value"],
            &want[parameter],
            1e-6,
        );
    }
    compare(
        &format!("{name} log-likelihood"),
        &model["log_likelihood"],
        &want["log_likelihood"],
        1e-6,
    );
    let quantiles = model["quantiles"].as_array().expect("quantiles");
    let tenth = quantiles
        .iter()
        .find(|quantile| quantile["p"] == 0.1)
        .expect("the age by which a tenth has failed");
    compare(
        &format!("{name} t0.10"),
        &tenth["value"],
        &want["t10"],
        1e-6,
    );
    // Published limits are the likelihood ratio's; the service's own are corrected for few failures.
    assert_eq!(tenth["kind"], "modified-root");
}

/// The same lives handed in, with limits by the likelihood ratio.
async fn compare_limits(service: &Service, published: &Published) {
    let name = published.document["name"].as_str().unwrap_or_default();
    let want = &published.document["weibull"];
    let lives: Vec<Value> = published
        .lives
        .iter()
        .map(|(age, failed, count)| {
            json!({"lower": age, "upper": failed.then_some(*age), "count": count})
        })
        .collect();
    let token = service.pilot().await;
    for level in ["0.90", "0.95"] {
        let body = json!({
            "lives": lives,
            "families": ["weibull"],
            "shares": [0.1],
            "limits": "likelihood-ratio",
            "level": level.parse::<f64>().expect("a number"),
        });
        let answer = service
            .post(&token, "/v1/analyses", &body)
            .await
            .expect(200);
        let model = &answer["report"]["models"][0];
        let limits = [
            ("t0.10", &model["quantiles"][0], "t10_limits_"),
            ("shape", &model["parameters"]["shape"], "shape_limits_"),
        ];
        for (what, got, wanted) in limits {
            assert_eq!(got["kind"], "likelihood-ratio");
            for (side, index) in [("lower", 0), ("upper", 1)] {
                compare(
                    &format!("{name} {what} {side} at {level}"),
                    &got[side],
                    &want[&format!("{wanted}{level}")][index],
                    1e-4,
                );
            }
        }
    }
}

#[tokio::test]
async fn twenty_three_ball_bearings_give_the_published_weibull() {
    let (_, advice, _) = comes_out_as_published(include_str!("data/ball_bearings.json")).await;
    assert_ne!(advice["evidence"]["grade"], "practice-only");
    let longest = advice["longest_usage"].as_f64().expect("the longest usage");
    assert_eq!(longest, 173.4);
    let replacement = &advice["replacement"];
    if replacement["basis"] != "common-practice" {
        let renewal = replacement["value"].as_f64().unwrap_or(0.0);
        assert!(
            renewal <= longest,
            "nothing is read from the records beyond what was seen: {replacement}"
        );
    }
}

#[tokio::test]
async fn six_failures_among_1703_cages_give_the_published_weibull() {
    let (published, _, fit) = comes_out_as_published(include_str!("data/bearing_cages.json")).await;
    assert_eq!(published.counts(), (1703, 6));
    compare_curve(&published.document, &fit["report"]["survival_curve"]);
    // The figures as the handbook prints them.
    let models = fit["report"]["models"].as_array().expect("models");
    let model = models
        .iter()
        .find(|model| model["family"] == "weibull")
        .expect("a Weibull model");
    let parameter = |name: &str| {
        model["parameters"][name]["value"]
            .as_f64()
            .expect("a value")
    };
    assert!((parameter("shape") - 2.035).abs() < 0.0005);
    assert!((parameter("scale") - 11792.0).abs() < 1.0);
}

#[tokio::test]
async fn eleven_failures_among_38_shock_absorbers_give_the_published_weibull() {
    comes_out_as_published(include_str!("data/shock_absorbers.json")).await;
}
