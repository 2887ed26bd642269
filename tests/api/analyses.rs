//! Lives that are handed in are analysed at once, and nothing of them stays.

use harness::{Service, TestDatabase};
use reqwest::Method;
use serde_json::{Value, json};
use wearbook_domain::vocabulary::Scope;

const PATH: &str = "/v1/analyses";

/// Remission durations in weeks under 6-MP and placebo (Freireich et al. 1963, Blood 21, 699-716, as printed in Klein
/// and Moeschberger 1997, section 1.2): durations, and those still in remission.
const TREATED: ([u32; 9], [u32; 12]) = (
    [6, 6, 6, 7, 10, 13, 16, 22, 23],
    [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35],
);
const PLACEBO: [u32; 21] = [
    1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23,
];

fn remission() -> Vec<Value> {
    let ended = |weeks: &u32, group: &str| json!({"lower": weeks, "upper": weeks, "group": group});
    let mut lives: Vec<Value> = PLACEBO
        .iter()
        .map(|weeks| ended(weeks, "placebo"))
        .collect();
    lives.extend(TREATED.0.iter().map(|weeks| ended(weeks, "treated")));
    lives.extend(
        TREATED
            .1
            .iter()
            .map(|weeks| json!({"lower": weeks, "group": "treated"})),
    );
    lives
}

#[track_caller]
fn near(got: &Value, want: f64, tolerance: f64) {
    let found = got.as_f64().unwrap_or(f64::NAN);
    assert!(
        ((found - want) / want).abs() <= tolerance,
        "{got}, published {want}"
    );
}

#[tokio::test]
async fn two_treatments_give_the_published_comparison() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.token(&[Scope::ReadAdvice]).await;
    let body = json!({"lives": remission()});
    let answer = service.post(&token, PATH, &body).await.expect(200);
    assert_eq!(answer["report"]["sample"]["lives"], 42);
    assert_eq!(answer["report"]["sample"]["failures"], 30);
    let names: Vec<&Value> = answer["groups"]
        .as_array()
        .expect("groups")
        .iter()
        .map(|group| &group["group"])
        .collect();
    assert_eq!(names, ["placebo", "treated"]);
    let treated = &answer["groups"][1]["report"];
    assert_eq!(treated["sample"]["failures"], 9);
    let after_ten = treated["survival_curve"]["points"]
        .as_array()
        .expect("points")
        .iter()
        .find(|point| point["time"] == 10.0)
        .expect("a step at ten weeks");
    near(&after_ten["survival"], 0.752_941_176_47, 1e-9);
    let test = &answer["comparison"]["tests"][0];
    assert_eq!(
        (&test["test"], &test["degrees_of_freedom"]),
        (&json!("log-rank"), &json!(1))
    );
    // R survival: survdiff.
    near(&test["chi_square"], 16.792_940_989_2, 1e-9);
    near(&test["p_value"], 4.168_809_109_33e-5, 1e-8);
    near(&test["groups"][0]["expected"], 10.749_499_052, 1e-9);
    near(&test["groups"][1]["expected"], 19.250_500_948, 1e-9);
}

#[tokio::test]
async fn the_order_of_the_lives_does_not_change_a_byte_of_the_answer() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let mut lives = remission();
    let first = service.post(&token, PATH, &json!({"lives": lives})).await;
    let _ = first.expect(200);
    lives.reverse();
    let second = service.post(&token, PATH, &json!({"lives": lives})).await;
    assert!(first.bytes == second.bytes, "{}", second.text());
    assert_eq!(first.header("cache-control"), Some("no-store"));
}

#[tokio::test]
async fn what_was_asked_for_is_what_comes() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let lives = json!([
        {"lower": 61, "upper": 61, "cause": "wear"}, {"lower": 83, "upper": 83, "cause": "wear"},
        {"lower": 97, "upper": 97, "cause": "wear"}, {"lower": 40, "upper": 40, "cause": "split"},
        {"lower": 50, "count": 4}, {"entry": 10, "lower": 120, "upper": null, "count": 6}
    ]);
    let body = json!({
        "lives": lives, "cause": "wear", "families": ["lognormal", "weibull"], "level": 0.9, "shares": [0.2]
    });
    let answer = service.post(&token, PATH, &body).await.expect(200);
    assert_eq!(answer["cause"], "wear");
    assert_eq!(
        (&answer["groups"], &answer["comparison"]),
        (&Value::Null, &Value::Null)
    );
    let sample = &answer["report"]["sample"];
    assert_eq!(
        (&sample["lives"], &sample["failures"]),
        (&json!(14), &json!(3))
    );
    assert_eq!(sample["delayed_entry"], 6);
    let models = answer["report"]["models"].as_array().expect("models");
    let families: Vec<&Value> = models.iter().map(|model| &model["family"]).collect();
    assert_eq!(families, ["lognormal", "weibull"]);
    for model in models {
        let quantiles = model["quantiles"].as_array().expect("quantiles");
        assert_eq!(quantiles.len(), 1, "{model}");
        assert_eq!(
            (&quantiles[0]["p"], &quantiles[0]["level"]),
            (&json!(0.2), &json!(0.9))
        );
    }
}

#[tokio::test]
async fn every_fault_is_named_with_its_place() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({
        "lives": [
            {"lower": -1, "upper": 5}, {"lower": 5, "upper": 5, "count": 0}, {"lower": "x"},
            {"lower": 1, "upper": 1e300}, {"lower": 5, "colour": "red"}, {"lower": 5, "cause": ""}
        ],
        "families": ["gumbel"], "level": 1, "shares": [0, 0.5], "covariates": ["a\nb"], "speed": 9
    });
    let reply = service.post(&token, PATH, &body).await;
    let _ = reply.problem(422, "invalid-record");
    let pointers = reply.pointers();
    for expected in [
        "/lives/0/lower",
        "/lives/1/count",
        "/lives/2/lower",
        "/lives/3/upper",
        "/lives/4/colour",
        "/lives/5/cause",
        "/families/0",
        "/level",
        "/shares/0",
        "/covariates/0",
        "/speed",
    ] {
        assert!(
            pointers.iter().any(|pointer| pointer == expected),
            "{expected} is not among {pointers:?}"
        );
    }
}

#[tokio::test]
async fn rules_between_the_members_are_checked_all_at_once() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({
        "lives": [
            {"lower": 9, "upper": 5, "group": "a", "covariates": [1, 2]},
            {"entry": 9, "lower": 5, "group": "a", "covariates": [1, 2]},
            {"entry": 5, "lower": 5, "upper": 5, "group": "a", "covariates": [1, 2]},
            {"lower": 5, "covariates": [1, 2]},
            {"lower": 5, "group": "b", "covariates": [1]}
        ],
        "covariates": ["rpm", "rpm"], "families": ["weibull", "weibull"]
    });
    let reply = service.post(&token, PATH, &body).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(
        reply.pointers(),
        [
            "/covariates/1",
            "/families/1",
            "/lives/0/upper",
            "/lives/1/lower",
            "/lives/2/upper",
            "/lives/3/group",
            "/lives/4/covariates"
        ]
    );
    let body = json!({"lives": [{"lower": 5, "upper": 5, "cause": "wear"}], "cause": "rust"});
    let reply = service.post(&token, PATH, &body).await;
    let problem = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/cause"]);
    assert!(
        problem["detail"]
            .as_str()
            .unwrap_or_default()
            .contains("wear")
    );
}

#[tokio::test]
async fn more_than_the_limits_allow_is_refused() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let reply = service.post(&token, PATH, &json!({"lives": []})).await;
    let _ = reply.problem(422, "invalid-record");
    let many: Vec<Value> = (0..5_001).map(|age| json!({"lower": age})).collect();
    let reply = service.post(&token, PATH, &json!({"lives": many})).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/lives"]);
    let groups: Vec<Value> = (0..51)
        .map(|group| json!({"lower": 5, "upper": 5, "group": format!("group {group}")}))
        .collect();
    let reply = service.post(&token, PATH, &json!({"lives": groups})).await;
    let _ = reply.problem(422, "invalid-record");
    assert_eq!(reply.pointers(), ["/lives/50/group"]);
    let long = json!({"lives": [{"lower": 5}], "cause": "x".repeat(1 << 20)});
    let reply = service.post(&token, PATH, &long).await;
    let _ = reply.problem(413, "too-large");
}

#[tokio::test]
async fn lives_that_no_model_fits_are_answered_with_reasons() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let body = json!({"lives": [
        {"lower": 5, "upper": 9, "group": "a"}, {"lower": 6, "group": "b"}, {"lower": 7, "upper": 12, "group": "b"}
    ]});
    let answer = service.post(&token, PATH, &body).await.expect(200);
    assert_eq!(answer["comparison"]["tests"], json!([]));
    let said = &answer["comparison"]["warnings"][0];
    assert_eq!(said["code"], "estimator-failed");
    let nobody = json!({"lives": [{"lower": 5, "count": 3}]});
    let answer = service.post(&token, PATH, &nobody).await.expect(200);
    assert_eq!(answer["report"]["chosen"], Value::Null);
    assert_eq!(answer["report"]["warnings"][0]["code"], "no-failures");
}

/// Rows of every table of the service.
async fn rows(database: &TestDatabase) -> Vec<(String, i64)> {
    let (client, connection) = tokio_postgres::connect(&database.url, tokio_postgres::NoTls)
        .await
        .expect("the test's database");
    let running = tokio::spawn(connection);
    let tables = client
        .query(
            "SELECT table_name::text FROM information_schema.tables
             WHERE table_schema = 'public' AND table_type = 'BASE TABLE' ORDER BY 1",
            &[],
        )
        .await
        .expect("the tables");
    let mut counts = Vec::new();
    for row in tables {
        let table: String = row.get(0);
        let count = client
            .query_one(&format!("SELECT count(*) FROM \"{table}\""), &[])
            .await
            .expect("a count");
        counts.push((table, count.get(0)));
    }
    drop(client);
    running.abort();
    counts
}

#[tokio::test]
async fn nothing_is_stored_whatever_is_sent_along() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let token = service.pilot().await;
    let before = rows(&database).await;
    assert!(before.len() > 10, "{before:?}");
    let body = json!({"lives": remission()});
    for key in ["a", "a", "b"] {
        let _ = service
            .post_once(&token, PATH, key, &body)
            .await
            .expect(200);
    }
    service.settle().await;
    assert_eq!(rows(&database).await, before);
}

#[tokio::test]
async fn only_a_token_that_may_read_advice_gets_an_answer() {
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    let body = json!({"lives": [{"lower": 5}]});
    let stranger = service.request(Method::POST, PATH).json(&body);
    let _ = service.send(stranger).await.problem(401, "token-missing");
    let keeper = service.token(&[Scope::ReadOwn, Scope::WriteRecords]).await;
    let _ = service
        .post(&keeper, PATH, &body)
        .await
        .problem(403, "scope-missing");
    let reader = service.token(&[Scope::ReadAdvice]).await;
    let _ = service.post(&reader, PATH, &body).await.expect(200);
    let _ = service
        .post(&reader, "/v1/analyses?dry_run=true", &body)
        .await
        .problem(400, "unknown-parameter");
    let _ = service
        .get(&reader, PATH)
        .await
        .problem(405, "method-not-allowed");
}
