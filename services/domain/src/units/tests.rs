use proptest::prelude::*;

use super::*;

fn usage(flights: f64, minutes: Option<f64>) -> Usage {
    Usage {
        flights: Flights::new(flights).unwrap(),
        flight_minutes: minutes.map(|m| FlightMinutes::new(m).unwrap()),
        rotor_krev: None,
    }
}

#[test]
fn a_quantity_outside_its_range_names_the_rule_and_the_value() {
    assert_eq!(
        Share::new(1.5).unwrap_err().to_string(),
        "Share must lie between 0 and 1, got 1.5"
    );
    assert!(matches!(
        Flights::new(f64::NAN),
        Err(QuantityError::NotFinite { .. })
    ));
    assert!(Flights::new(2e9).is_err());
    assert!(serde_json::from_str::<Flights>("-1").is_err());
}

#[test]
fn turns_are_minutes_times_head_speed_over_a_thousand() {
    let turns =
        RotorKiloRevolutions::turned(FlightMinutes::new(5.0).unwrap(), Rpm::new(2000.0).unwrap());
    assert!((turns.unwrap().get() - 10.0).abs() < 1e-12);
}

#[test]
fn a_scale_that_was_never_kept_stays_unknown_in_a_difference() {
    let spent = usage(120.0, None).since(&usage(20.0, Some(100.0))).unwrap();
    assert_eq!(spent, usage(100.0, None));
    assert_eq!(spent.on(WearScale::FlightMinutes), None);
}

#[test]
fn usage_that_runs_backwards_is_refused_with_both_numbers() {
    let error = usage(20.0, None).since(&usage(21.0, None)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "usage on flights runs backwards: 20 after 21"
    );
}

#[test]
fn a_scale_code_reads_back() {
    for scale in WearScale::ALL {
        assert_eq!(scale.code().parse::<WearScale>().unwrap(), scale);
        assert_eq!(serde_json::to_value(scale).unwrap(), scale.code());
    }
    assert!("hours".parse::<WearScale>().is_err());
}

proptest! {
    #[test]
    fn adding_then_subtracting_comes_back(a in 0.0..1e6f64, b in 0.0..1e6f64) {
        let sum = usage(a, Some(a)).plus(&usage(b, Some(b))).unwrap();
        let back = sum.since(&usage(a, Some(a))).unwrap();
        prop_assert!((back.flights.get() - b).abs() <= 1e-9 * (a + b + 1.0));
    }
}
