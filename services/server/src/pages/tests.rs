use super::figures::{Estimate, ScaleWords};
use super::layout::{SAFETY_NOTE, Shell};
use super::overview::{OverviewView, PartRow, SystemGroup, Totals};
use super::{about, errors, overview};

fn shell(demo: bool) -> Shell {
    Shell {
        path: "/".to_owned(),
        demo,
    }
}

fn belts(name: &str) -> OverviewView {
    let row = PartRow {
        key: "tail-belt".to_owned(),
        name: name.to_owned(),
        severity: "critical".to_owned(),
        scale: ScaleWords::FLIGHTS,
        decile: Ok(Estimate {
            value: 178.2,
            lower: Some(154.0),
            upper: None,
        }),
        look_every: Ok(1.0),
        renew_by: Err("no wear-out shown".to_owned()),
        grade: "fair".to_owned(),
        lives: 212,
        failures: 34,
    };
    OverviewView {
        data_date: None,
        level: 0.9,
        totals: Totals {
            airframes: 84,
            flights: 22_987,
            lives: 212,
            failures: 34,
            owners: 41,
        },
        systems: vec![SystemGroup {
            key: "tail-drive".to_owned(),
            name: "Tail belt drive".to_owned(),
            rows: vec![row],
        }],
    }
}

fn missing() -> errors::ErrorView {
    errors::ErrorView {
        status: 404,
        code: "not-found".to_owned(),
        title: "There is no such page".to_owned(),
        detail: "Nothing is kept there.".to_owned(),
        faults: Vec::new(),
        next_steps: Vec::new(),
        request_id: None,
    }
}

#[test]
fn every_page_has_one_heading_the_safety_note_and_no_style_or_script_of_its_own() {
    let pages = [
        overview::render(&shell(true), &belts("Tail drive belt")),
        about::render(&shell(false), &about::AboutView::default()),
        errors::render(&shell(false), &missing()),
    ];
    for page in pages {
        let page = page.expect("the template is complete");
        assert_eq!(page.matches("<h1").count(), 1);
        assert_eq!(page.matches("<main").count(), 1);
        // An apostrophe is escaped on the page.
        assert!(page.contains(&SAFETY_NOTE.replace('\'', "&#39;")));
        for forbidden in ["style=", "<style", "<script", "https://", "http://"] {
            assert!(!page.contains(forbidden), "found {forbidden}");
        }
    }
}

#[test]
fn a_demo_says_on_every_page_that_its_data_is_invented() {
    for (demo, times) in [(true, 1), (false, 0)] {
        let page = errors::render(&shell(demo), &missing()).expect("the template is complete");
        assert_eq!(page.matches("Invented data.").count(), times);
    }
}

#[test]
fn a_row_of_the_first_page_shows_figures_limits_and_reasons() {
    let page = overview::render(&shell(false), &belts("Tail drive belt")).expect("it renders");
    for words in [
        "<strong>178</strong> flights",
        "at least 154",
        "<strong>1</strong> flight<",
        "no wear-out shown",
        "212 lives of pieces and 34 failures of 84 helicopters",
    ] {
        assert!(page.contains(words), "{words} is missing");
    }
}

#[test]
fn a_name_from_the_records_cannot_become_markup() {
    let page = overview::render(&shell(false), &belts("<b>Belt</b>")).expect("it renders");
    assert!(!page.contains("<b>Belt"));
}

#[test]
fn without_lives_the_first_page_says_what_to_do_next() {
    let empty = OverviewView {
        data_date: None,
        level: 0.9,
        totals: Totals::default(),
        systems: Vec::new(),
    };
    let page = overview::render(&shell(false), &empty).expect("it renders");
    assert!(page.contains("wearbook demo"));
    assert!(!page.contains("<table"));
}
