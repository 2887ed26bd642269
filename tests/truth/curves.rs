//! Survival curves of published lives.

use harness::bench::{Published, enter};
use harness::records::PART_TYPE;
use harness::{Service, TestDatabase};
use reqwest::Method;

use crate::compare::{advice_and_fit, compare_curve};

#[tokio::test]
async fn remission_under_6mp_gives_the_published_curve_in_every_form() {
    let published = Published::read(include_str!("data/remission_6mp.json"));
    let database = TestDatabase::create().await;
    let service = Service::start(&database).await;
    enter(&service, &published).await;
    let (_, fit) = advice_and_fit(&service).await;
    assert_eq!(
        (
            fit["report"]["sample"]["lives"].as_u64(),
            fit["report"]["sample"]["failures"].as_u64()
        ),
        (Some(21), Some(9))
    );
    compare_curve(&published.document, &fit["report"]["survival_curve"]);

    let token = service.pilot().await;
    let path = format!("/v1/part-types/{PART_TYPE}/survival-curve?scale=flight-minutes");
    let curve = service.get(&token, &path).await.expect(200);
    assert_eq!(curve["curve"], fit["report"]["survival_curve"]);
    assert_eq!(curve["fit_id"], fit["head"]["id"]);

    let request = service
        .request(Method::GET, &path)
        .bearer_auth(&token)
        .header("accept", "text/csv");
    let table = service.send(request).await;
    assert_eq!(
        (table.status, table.header("content-type")),
        (200, Some("text/csv; charset=utf-8"))
    );
    let text = table.text();
    let points = curve["curve"]["points"].as_array().expect("points").len();
    assert_eq!(text.lines().count(), points + 1);
    assert!(
        text.starts_with("time,at_risk,failed,censored,survival,std_error,lower,upper"),
        "{text}"
    );
}
