//! Each bound that the description states: just within it is answered, just beyond it is refused with the member.

use harness::{Service, TestDatabase};
use serde_json::{Value, json};
use wearbook_domain::vocabulary::Scope;

const PATH: &str = "/v1/analyses";

struct Asker {
    service: Service,
    token: String,
}

impl Asker {
    async fn of(database: &TestDatabase) -> Self {
        let service = Service::start(database).await;
        let token = service.token(&[Scope::ReadAdvice]).await;
        Self { service, token }
    }

    async fn refused(&self, body: Value, pointers: &[&str]) {
        let reply = self.service.post(&self.token, PATH, &body).await;
        let _ = reply.problem(422, "invalid-record");
        assert_eq!(reply.pointers(), pointers);
    }

    async fn answered(&self, body: Value) {
        let reply = self.service.post(&self.token, PATH, &body).await;
        let _ = reply.expect(200);
    }
}

/// Lives that failed at different ages, with what `more` adds to each.
fn failed(count: u32, more: impl Fn(u32, &mut Value)) -> Vec<Value> {
    (1..=count)
        .map(|number| {
            let age = 100 + number;
            let mut life = json!({"lower": age, "upper": age});
            more(number, &mut life);
            life
        })
        .collect()
}

fn grouped(count: u32, groups: u32, entry: u32) -> Vec<Value> {
    failed(count, |number, life| {
        life["group"] = json!(format!("group {}", number % groups));
        life["entry"] = json!(entry);
    })
}

#[tokio::test]
async fn sizes_and_ranges_have_the_bounds_that_the_schema_states() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let lives = || json!([{"lower": 5, "upper": 5}, {"lower": 7, "upper": 7}]);
    let names = |count: u32| -> Vec<String> { (0..count).map(|name| format!("x{name}")).collect() };
    let shares = |count: u32| -> Vec<f64> { vec![0.5; count.try_into().unwrap()] };
    for (body, pointer) in [
        (json!({"lives": failed(5_001, |_, _| ())}), "/lives"),
        (json!({"lives": lives(), "shares": shares(13)}), "/shares"),
        (
            json!({"lives": lives(), "shares": [0.000_001]}),
            "/shares/0",
        ),
        (
            json!({"lives": lives(), "shares": [0.999_999]}),
            "/shares/0",
        ),
        (json!({"lives": lives(), "level": 0.49}), "/level"),
        (json!({"lives": lives(), "level": 0.9991}), "/level"),
        (json!({"lives": lives(), "families": []}), "/families"),
        (json!({"lives": [{"lower": 1e13}]}), "/lives/0/lower"),
        (
            json!({"lives": [{"entry": -1, "lower": 5}]}),
            "/lives/0/entry",
        ),
        (
            json!({"lives": [{"lower": 5, "count": 1_000_000_001}]}),
            "/lives/0/count",
        ),
        (json!({"lives": grouped(51, 51, 0)}), "/lives/50/group"),
        (
            json!({"lives": lives(), "limits": "bootstrap", "resamples": 99}),
            "/resamples",
        ),
        (
            json!({"lives": lives(), "limits": "bootstrap", "resamples": 5_001}),
            "/resamples",
        ),
        (
            json!({"lives": lives(), "limits": "bootstrap", "seed": -1}),
            "/seed",
        ),
        (
            json!({"lives": lives(), "limits": "delta", "seed": 1}),
            "/seed",
        ),
        (json!({"lives": lives(), "resamples": 200}), "/resamples"),
        (
            json!({"lives": lives(), "cause": "x".repeat(101)}),
            "/cause",
        ),
    ] {
        asker.refused(body, &[pointer]).await;
    }
    let values = vec![1.0; 9];
    let nine =
        json!({"lives": [{"lower": 5, "upper": 5, "covariates": values}], "covariates": names(9)});
    asker
        .refused(nine, &["/covariates", "/lives/0/covariates"])
        .await;
    asker
        .answered(json!({"lives": lives(), "shares": shares(12), "level": 0.999}))
        .await;
    asker
        .answered(json!({"lives": grouped(50, 50, 0), "families": ["exponential"]}))
        .await;
}

#[tokio::test]
async fn families_with_an_integral_take_five_hundred_lives() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    for family in ["gamma", "generalised-gamma", "threshold-weibull"] {
        let body =
            |count| json!({"lives": failed(count, |_, _| ()), "families": ["weibull", family]});
        asker.answered(body(500)).await;
        asker.refused(body(501), &["/families/1"]).await;
    }
}

#[tokio::test]
async fn lives_times_covariates_times_families_are_bounded() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let body = |count| {
        let lives = failed(count, |number, life| {
            life["covariates"] = json!([number % 7, number % 11]);
        });
        json!({"lives": lives, "covariates": ["load", "heat"], "families": ["weibull", "exponential"]})
    };
    asker.answered(body(5_000)).await;
    let mut beyond = body(5_000);
    beyond["families"] = json!(["weibull", "exponential", "lognormal"]);
    asker.refused(beyond, &["/covariates"]).await;
}

#[tokio::test]
async fn lives_times_causes_are_bounded_where_lives_joined_late() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let body = |count| {
        let lives = failed(count, |number, life| {
            life["cause"] = json!(format!("cause {}", number % 11));
            life["entry"] = json!(u32::from(number == 1));
        });
        json!({"lives": lives, "families": ["exponential"], "limits": "delta"})
    };
    asker.answered(body(1_818)).await;
    asker.refused(body(1_819), &["/lives"]).await;
    let mut named = body(1_819);
    named["cause"] = json!("cause 1");
    asker.answered(named).await;
}

#[tokio::test]
async fn limits_that_are_searched_for_are_bounded() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    // (1 + 50) times 4 families times 12 limits is 2 448; with 13 it is 2 652.
    let running = |shares: usize| {
        let mut lives = grouped(100, 50, 0);
        lives[0]["upper"] = Value::Null;
        json!({"lives": lives, "shares": vec![0.1; shares]})
    };
    asker.answered(running(10)).await;
    asker.refused(running(11), &["/limits"]).await;
    // (2 times 16 and 100 lives twice over 80) times 14 limits for one family, for each further group 224 more.
    let late = |groups: u32, limits: &str| {
        json!({
            "lives": grouped(100, groups, 2), "families": ["weibull"], "shares": vec![0.1; 12], "limits": limits
        })
    };
    for limits in ["modified-root", "likelihood-ratio"] {
        asker.answered(late(10, limits)).await;
        asker.refused(late(11, limits), &["/limits"]).await;
    }
    asker.answered(late(50, "delta")).await;
}

#[tokio::test]
async fn drawn_samples_are_bounded() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let body = |resamples: u32, entry: u32| {
        let lives = failed(400, |_, life| life["entry"] = json!(entry));
        json!({
            "lives": lives, "families": ["weibull"], "shares": [0.1, 0.5], "limits": "bootstrap", "resamples": resamples
        })
    };
    // 500 times 2 for the Weibull times 5 limits.
    asker.answered(body(3_000, 0)).await;
    asker.refused(body(3_001, 0), &["/resamples"]).await;
    asker.answered(body(300, 1)).await;
    asker.refused(body(301, 1), &["/resamples"]).await;
}

#[tokio::test]
async fn either_lives_or_systems_with_the_members_that_go_with_them() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let systems = || json!([{"events": [3, 5], "watched_to": 9}]);
    let lives = || json!([{"lower": 5, "upper": 5}]);
    asker.refused(json!({}), &["/lives"]).await;
    asker
        .refused(json!({"lives": null, "systems": null}), &["/lives"])
        .await;
    asker
        .refused(
            json!({"lives": lives(), "systems": systems()}),
            &["/systems"],
        )
        .await;
    let reply = asker
        .service
        .post(&asker.token, PATH, &json!({"level": 0.9}))
        .await;
    let problem = reply.problem(422, "invalid-record");
    assert_eq!(problem["errors"][0]["rule"], "lives-or-systems");
    let all = json!({
        "systems": systems(), "covariates": ["load"], "cause": "wear", "families": ["weibull"], "shares": [0.1],
        "limits": "delta", "seed": 1, "resamples": 200
    });
    let members = [
        "/cause",
        "/covariates",
        "/families",
        "/limits",
        "/resamples",
        "/seed",
        "/shares",
    ];
    asker.refused(all, &members).await;
    asker
        .answered(json!({"systems": systems(), "level": 0.8}))
        .await;
}

#[tokio::test]
async fn systems_have_the_bounds_that_the_schema_states() {
    let database = TestDatabase::create().await;
    let asker = Asker::of(&database).await;
    let system = |events: u32| {
        let ages: Vec<u32> = (1..=events).collect();
        json!({"events": ages, "watched_to": 6_000})
    };
    let four = |more: u32| -> Value {
        vec![
            system(5_000),
            system(5_000),
            system(5_000),
            system(5_000),
            system(more),
        ]
        .into()
    };
    asker.answered(json!({"systems": four(0)})).await;
    asker
        .refused(json!({"systems": four(1)}), &["/systems"])
        .await;
    asker
        .refused(json!({"systems": [system(5_001)]}), &["/systems/0/events"])
        .await;
    let many: Vec<Value> = (0..5_001).map(|_| json!({"watched_to": 9})).collect();
    asker.refused(json!({"systems": many}), &["/systems"]).await;
    asker.refused(json!({"systems": []}), &["/systems"]).await;
    for (one, pointers) in [
        (
            json!({"events": [1e13], "watched_to": 9}),
            vec!["/systems/0/events/0"],
        ),
        (
            json!({"events": [5], "watched_to": 4}),
            vec!["/systems/0/events/0"],
        ),
        (
            json!({"events": [5, 2], "watched_from": 3}),
            vec!["/systems/0/events/1"],
        ),
        (
            json!({"watched_from": 9, "watched_to": 9}),
            vec!["/systems/0/watched_to"],
        ),
        (
            json!({"watched_from": -1, "watched_to": 9}),
            vec!["/systems/0/watched_from"],
        ),
        (json!({"events": []}), vec!["/systems/0/watched_to"]),
        (
            json!({"events": [5], "truncation": "time"}),
            vec!["/systems/0/watched_to"],
        ),
        (
            json!({"events": [5], "watched_to": 9, "truncation": "failure"}),
            vec!["/systems/0/truncation"],
        ),
        (
            json!({"watched_to": 9, "truncation": "weather"}),
            vec!["/systems/0/truncation"],
        ),
        (
            json!({"watched_to": 9, "count": 0}),
            vec!["/systems/0/count"],
        ),
        (
            json!({"watched_to": 9, "colour": "red"}),
            vec!["/systems/0/colour"],
        ),
    ] {
        asker.refused(json!({"systems": [one]}), &pointers).await;
    }
    let twice = json!([{"unit": "a", "watched_to": 9}, {"unit": "a", "watched_to": 8}]);
    asker
        .refused(json!({"systems": twice}), &["/systems/1/unit"])
        .await;
}
