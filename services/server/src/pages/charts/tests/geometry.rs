//! Points land inside their drawings, ticks are few and round, and nothing to draw is no drawing.

use super::super::axis::{round_axis, round_ratios};
use super::super::ticks::tick_words;
use super::super::*;
use crate::pages::figures::ScaleWords;

fn points(scale: f64) -> Vec<StepPoint> {
    [(1.0, 0.02), (2.5, 0.1), (4.0, 0.3), (9.0, 0.45)]
        .into_iter()
        .map(|(time, value)| StepPoint {
            time: time * scale,
            value,
            lower: Some(value * 0.6),
            upper: Some(value * 1.5),
        })
        .collect()
}

fn hazard(scale: f64) -> HazardChart {
    let places = (1_u32..=20)
        .map(|number| {
            let age = f64::from(number) * scale;
            let hazard = 0.2 * f64::from(number) / (20.0 * scale);
            HazardPlace {
                age,
                hazard,
                lower: Some(hazard * 0.7),
                upper: Some(hazard * 1.4),
            }
        })
        .collect();
    HazardChart {
        id: "h".to_owned(),
        subject: "Belt".to_owned(),
        scale: ScaleWords::FLIGHTS,
        level: 0.9,
        model: "Weibull fit".to_owned(),
        places,
        lives: 40,
        failures: 12,
        no_limits: None,
    }
}

fn incidence(causes: usize, scale: f64) -> IncidenceChart {
    IncidenceChart {
        id: "i".to_owned(),
        subject: "Belt".to_owned(),
        scale: ScaleWords::FLIGHTS,
        level: 0.9,
        causes: (0..causes)
            .map(|number| CauseCurve {
                cause: format!("cause {number}"),
                failures: 4,
                points: points(scale),
            })
            .collect(),
        lives: 40,
        longest: 10.0 * scale,
    }
}

fn mean(scale: f64) -> MeanCumulativeChart {
    MeanCumulativeChart {
        id: "m".to_owned(),
        subject: "Servo".to_owned(),
        scale: ScaleWords::FLIGHTS,
        level: 0.9,
        points: points(scale),
        model: Some(Overlay {
            label: "power law".to_owned(),
            places: vec![(0.0, 0.0), (scale, 0.03), (10.0 * scale, 0.5)],
        }),
        units: 9,
        events: 20,
        longest: 10.0 * scale,
    }
}

fn groups(scale: f64) -> GroupsChart {
    let curve = |name: &str, drop: f64| GroupCurve {
        group: name.to_owned(),
        points: (1_u64..=5)
            .map(|number| CurvePoint {
                time: f64::from(u32::try_from(number).unwrap()) * scale,
                at_risk: Some(6 - number),
                failed: Some(u64::from(number != 3)),
                censored: Some(u64::from(number == 3)),
                survival: 1.0 - drop * f64::from(u32::try_from(number).unwrap()),
                lower: None,
                upper: None,
            })
            .collect(),
        lives: 5,
        failures: 4,
        longest: 5.0 * scale,
        at_risk: AtRisk::Steps,
    };
    GroupsChart {
        id: "g".to_owned(),
        subject: "Belt".to_owned(),
        scale: ScaleWords::FLIGHTS,
        groups: vec![curve("old lot", 0.15), curve("new lot", 0.05)],
        comparison: None,
    }
}

/// All numbers of the path data and of circles, as places.
fn places(svg: &str) -> Vec<(f64, f64)> {
    let mut found = Vec::new();
    for piece in svg.split("<circle ").skip(1) {
        let read = |name: &str| -> f64 {
            let from = piece.split(&format!("{name}=\"")).nth(1).unwrap();
            from.split('"').next().unwrap().parse().unwrap()
        };
        found.push((read("cx"), read("cy")));
    }
    for piece in svg.split(" d=\"").skip(1) {
        let data = piece.split('"').next().unwrap();
        let mut at = (0.0, 0.0);
        let commands = data.replace(['M', 'L', 'H', 'V', 'Z'], "|");
        for (command, text) in data
            .chars()
            .filter(char::is_ascii_uppercase)
            .zip(commands.split('|').skip(1))
        {
            let numbers: Vec<f64> = text
                .split_whitespace()
                .map(|number| number.parse().unwrap())
                .collect();
            match (command, numbers.as_slice()) {
                ('M' | 'L', [x, y]) => at = (*x, *y),
                ('H', [x]) => at.0 = *x,
                ('V', [y]) => at.1 = *y,
                ('Z', []) => continue,
                other => panic!("{other:?} in {data}"),
            }
            found.push(at);
        }
    }
    found
}

fn size(svg: &str) -> (f64, f64) {
    let view = svg.split("viewBox=\"0 0 ").nth(1).unwrap();
    let mut ends = view.split('"').next().unwrap().split(' ');
    let mut next = || ends.next().unwrap().parse().unwrap();
    (next(), next())
}

#[track_caller]
fn all_inside(svg: &str) {
    let (width, height) = size(svg);
    let places = places(svg);
    assert!(places.len() > 10, "{svg}");
    for (x, y) in places {
        assert!((0.0..=width).contains(&x), "{x} of {width} in {svg}");
        assert!((0.0..=height).contains(&y), "{y} of {height} in {svg}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf\""));
}

#[test]
fn every_point_lands_inside_its_drawing_whatever_the_size_of_the_ages() {
    for scale in [1e-6, 1e-3, 1.0, 137.0, 1e4, 1e9] {
        for place in [Place::Wide, Place::Narrow, Place::File] {
            all_inside(&hazard(scale).draw(place).unwrap());
            all_inside(&incidence(3, scale).draw(place).unwrap());
            all_inside(&incidence(1, scale).draw(place).unwrap());
            all_inside(&mean(scale).draw(place).unwrap());
            all_inside(&groups(scale).draw(place).unwrap());
        }
    }
}

/// Whatever lands outside is held at the edge, so being inside says little: here the places themselves are held to the
/// figures.
#[test]
fn steps_stand_where_their_ages_and_values_say() {
    for scale in [1e-6, 1.0, 1e9] {
        let svg = incidence(1, scale).draw(Place::File).unwrap();
        // The sample in the key comes first, then the curve.
        let paths = svg.split("<path ").skip(1);
        let of_curve: Vec<_> = paths.filter(|path| path.contains("series-1\"")).collect();
        let places = places(of_curve.last().unwrap());
        let (first, last) = (places[0], *places.last().unwrap());
        let share = |(x, y): (f64, f64)| {
            (
                (x - first.0) / (last.0 - first.0),
                (first.1 - y) / (first.1 - last.1),
            )
        };
        let corners: Vec<_> = places.into_iter().map(share).collect();
        for (age, value) in [(1.0, 0.02), (2.5, 0.1), (4.0, 0.3), (9.0, 0.45)] {
            let near = |(x, y): &(f64, f64)| {
                (x - age / 10.0).abs() < 2e-3 && (y - value / 0.45).abs() < 2e-3
            };
            assert!(corners.iter().any(near), "{age}, {value}: {corners:?}");
        }
    }
}

#[test]
fn the_hazard_is_told_by_the_whole_of_its_course() {
    let told = |hazards: &[f64]| {
        let mut chart = hazard(1.0);
        chart.places = hazards
            .iter()
            .zip(1_u32..)
            .map(|(hazard, age)| HazardPlace {
                age: f64::from(age),
                hazard: *hazard,
                lower: None,
                upper: None,
            })
            .collect();
        chart.reading()
    };
    for (hazards, words) in [
        (&[1.0, 2.0, 3.0][..], "it rises."),
        (&[3.0, 2.0, 1.0], "it falls."),
        (&[2.0, 2.05, 2.0], "it stays about level."),
        // A lognormal whose end is as high as its start.
        (&[1.0, 5.0, 1.0], "it rises, then falls."),
        (&[1.0, 5.0, 3.0], "it rises, then falls."),
        (&[4.0, 1.0, 3.0], "it falls, then rises."),
    ] {
        let reading = told(hazards);
        assert!(reading.contains(words), "{hazards:?}: {reading}");
    }
}

#[test]
fn nothing_to_draw_is_no_drawing() {
    let mut empty = hazard(1.0);
    empty.places.clear();
    assert_eq!(for_page(&empty), None);
    assert_eq!(for_page(&incidence(0, 1.0)), None);
    let mut empty = mean(1.0);
    empty.points.clear();
    assert_eq!(for_file(&empty), None);
    let mut empty = groups(1.0);
    empty.groups.clear();
    assert_eq!(for_file(&empty), None);
}

#[test]
fn figures_that_are_no_numbers_do_not_reach_a_drawing() {
    let mut odd = hazard(1.0);
    odd.places[3].hazard = f64::NAN;
    odd.places[4].hazard = f64::INFINITY;
    let mut of_cause = incidence(2, 1.0);
    of_cause.causes[0].points[1].value = f64::NAN;
    let mut cumulative = mean(1.0);
    cumulative.points[0].value = f64::NAN;
    cumulative.points[1].time = f64::INFINITY;
    for svg in [for_file(&odd), for_file(&of_cause), for_file(&cumulative)] {
        let svg = svg.unwrap();
        assert!(!svg.contains("NaN") && !svg.contains("=\"inf"), "{svg}");
    }
}

#[test]
fn each_curve_has_a_dash_of_its_own_and_the_rest_is_said() {
    let chart = incidence(8, 1.0);
    let svg = for_file(&chart).unwrap();
    for number in 1..=6 {
        assert!(
            svg.contains(&format!("series series-{number}\"")),
            "{number}"
        );
    }
    assert!(!svg.contains("cause 6"));
    assert!(
        chart
            .reading()
            .contains("2 rarer causes stand in the table only")
    );
    assert!(
        chart
            .table()
            .rows
            .iter()
            .any(|row| row[0].text == "cause 7")
    );
}

#[test]
fn a_table_has_a_cell_under_every_head_and_the_exact_figures() {
    let tables = [
        hazard(1.0).table(),
        incidence(2, 1.0).table(),
        mean(1.0).table(),
        groups(1.0).table(),
    ];
    for table in tables {
        assert!(!table.rows.is_empty());
        for row in &table.rows {
            assert_eq!(row.len(), table.heads.len());
        }
    }
    let row = &mean(1.0).table().rows[2];
    assert_eq!(
        (row[0].exact.parse(), row[1].exact.parse()),
        (Ok(4.0), Ok(0.3))
    );
}

#[test]
fn the_table_below_the_groups_has_a_row_for_each_and_those_at_risk() {
    let svg = for_file(&groups(1.0)).unwrap();
    assert!(svg.contains(">At risk</text>"));
    assert_eq!(svg.matches(">old lot</text>").count(), 1);
    assert!(
        svg.matches(">5</text>").count() >= 2,
        "one in the row of each group"
    );
}

#[test]
fn ticks_are_few_round_and_different_over_all_sizes() {
    let mut top = 1e-6;
    while top < 2e9 {
        for lead in [1.0, 1.37, 2.2, 4.9, 9.99] {
            let (end, ticks) = round_axis(top * lead, 8.0);
            assert!(
                end >= top * lead && (4..=12).contains(&ticks.len()),
                "{ticks:?}"
            );
            assert_different(&tick_words(&ticks));
            for ratio in [1.05, 1.4, 3.0, 40.0, 1e4, 1e12] {
                let (from, to) = (top * lead, top * lead * ratio);
                let ticks = round_ratios(from, to, 10);
                assert!((2..=15).contains(&ticks.len()), "{from} to {to}: {ticks:?}");
                let inside = |tick: &f64| (from * 0.999..=to * 1.001).contains(tick);
                assert!(ticks.iter().all(inside), "{from} to {to}: {ticks:?}");
                assert_different(&tick_words(&ticks));
            }
        }
        top *= 10.0;
    }
}

fn assert_different(words: &[String]) {
    let all: std::collections::BTreeSet<_> = words.iter().collect();
    assert_eq!(all.len(), words.len(), "{words:?}");
}
