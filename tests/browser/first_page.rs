//! From the list of parts to the advice for one of them.

use fantoccini::Locator;
use harness::bench::{Published, enter};
use harness::records::PART_TYPE;
use harness::{Service, TestDatabase};
use wearbook_domain::catalogue;

use crate::chromium::{Chromium, PHONE_WIDTH, Screen};

/// Addresses of everything the page loaded or links to load, from elsewhere than the page itself.
const FOREIGN: &str = "const own = new URL(location.href).origin; \
    const loaded = performance.getEntriesByType('resource').map(one => one.name); \
    const named = [...document.querySelectorAll('script[src], link[href], img[src], iframe[src], use[href]')] \
        .map(one => one.src || one.href.baseVal || one.href); \
    return [...loaded, ...named].filter(one => new URL(one, own).origin !== own && !one.startsWith('data:'));";

async fn with_ball_bearings(database: &TestDatabase) -> Service {
    let service = Service::start(database).await;
    enter(
        &service,
        &Published::read(include_str!("../truth/data/ball_bearings.json")),
    )
    .await;
    service
}

async fn text(browser: &Chromium, selector: &str) -> String {
    let found = browser.client.find(Locator::Css(selector)).await;
    let element = found.unwrap_or_else(|error| panic!("{selector} is missing: {error}"));
    element
        .text()
        .await
        .expect("an element has a text, if only an empty one")
}

async fn count(browser: &Chromium, selector: &str) -> usize {
    browser
        .client
        .find_all(Locator::Css(selector))
        .await
        .expect("a selector of ours")
        .len()
}

fn part_name() -> &'static str {
    let key = PART_TYPE.parse().expect("a key");
    &catalogue()
        .part_type(&key)
        .expect("a part type of the catalogue")
        .name
}

#[tokio::test]
async fn the_list_leads_to_the_advice_with_its_curve_and_its_cautions() {
    let database = TestDatabase::create().await;
    let service = with_ball_bearings(&database).await;
    let browser = Chromium::start(Screen::Desk).await;
    browser
        .client
        .goto(&format!("{}/", service.base))
        .await
        .expect("the first page");
    assert!(!text(&browser, "h1").await.is_empty());
    assert_eq!(browser.run(FOREIGN).await, serde_json::json!([]));
    let styled = browser
        .run("return [...document.styleSheets].some(sheet => sheet.cssRules.length > 10);")
        .await;
    assert_eq!(styled, true, "the style sheet is used");

    let link = format!("a[href='/part-types/{PART_TYPE}']");
    assert_eq!(text(&browser, &link).await, part_name());
    browser
        .client
        .find(Locator::Css(&link))
        .await
        .expect("a link")
        .click()
        .await
        .expect("the next page");

    assert_eq!(text(&browser, "h1").await, part_name());
    assert_eq!(count(&browser, "h1").await, 1);
    assert!(
        count(&browser, "svg[role=img]").await >= 2,
        "curve and probability plot"
    );
    assert!(count(&browser, "table").await >= 2);
    let advice = text(&browser, "section.answer p").await;
    assert!(advice.contains("Grade:"), "{advice}");
    assert!(
        text(&browser, "section.answer")
            .await
            .contains("Not a substitute for the maker's limits")
    );
    assert!(
        !text(&browser, "section[aria-labelledby=cautions] li")
            .await
            .is_empty()
    );
    assert!(
        browser
            .client
            .source()
            .await
            .expect("the page")
            .contains("23"),
        "the count of lives"
    );
    assert_eq!(browser.run(FOREIGN).await, serde_json::json!([]));
    browser.close().await;
}

#[tokio::test]
async fn every_drawing_has_a_name_and_a_table_beside_it() {
    let database = TestDatabase::create().await;
    let service = with_ball_bearings(&database).await;
    let browser = Chromium::start(Screen::Desk).await;
    browser
        .client
        .goto(&format!("{}/part-types/{PART_TYPE}", service.base))
        .await
        .expect("the page");
    let nameless = browser
        .run(
            "return [...document.querySelectorAll('svg[role=img]')].filter(svg => { \
                const ids = (svg.getAttribute('aria-labelledby') || '').split(' ').filter(Boolean); \
                const name = svg.getAttribute('aria-label') || ids.map(id => document.getElementById(id)?.textContent || '').join(' '); \
                return name.trim() === ''; }).length;",
        )
        .await;
    assert_eq!(nameless, 0);
    let lonely = browser
        .run("return [...document.querySelectorAll('figure')].filter(one => !one.parentElement.querySelector('table')).length;")
        .await;
    assert_eq!(lonely, 0);
    let repeated = browser
        .run("const ids = [...document.querySelectorAll('[id]')].map(one => one.id); return ids.length - new Set(ids).size;")
        .await;
    assert_eq!(repeated, 0, "an id stands once in a page");
    browser.close().await;
}

#[tokio::test]
async fn no_page_is_wider_than_a_phone() {
    let database = TestDatabase::create().await;
    let service = with_ball_bearings(&database).await;
    let browser = Chromium::start(Screen::Phone).await;
    for path in [
        "/",
        &format!("/part-types/{PART_TYPE}"),
        "/part-types/tail-belt",
        "/about",
        "/errors/overlap",
        "/nowhere",
    ] {
        browser
            .client
            .goto(&format!("{}{path}", service.base))
            .await
            .expect("a page");
        assert!(!text(&browser, "h1").await.is_empty(), "{path}");
        let widths = browser
            .run("return [innerWidth, document.documentElement.scrollWidth];")
            .await;
        assert_eq!(
            widths,
            serde_json::json!([PHONE_WIDTH, PHONE_WIDTH]),
            "{path}"
        );
    }
    browser.close().await;
}
