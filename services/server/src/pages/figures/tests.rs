use super::*;

#[test]
fn an_estimate_keeps_three_significant_digits_whatever_its_size() {
    let cases = [
        (352.4, "352"),
        (0.004_567, "0.00457"),
        (12_345.0, "12\u{202f}300"),
        (999.6, "1\u{202f}000"),
        (85.46, "85.5"),
        (1.0, "1.00"),
        (-3.217, "\u{2212}3.22"),
        (0.0, "0"),
        (1.234e-9, "1.23 × 10⁻⁹"),
    ];
    for (value, text) in cases {
        assert_eq!(estimate(value), text, "for {value}");
    }
}

#[test]
fn a_suggestion_is_never_written_longer_than_it_was_computed() {
    let cases = [
        (106.97, "106"),
        (1_239.0, "1\u{202f}230"),
        (20.0, "20"),
        (8.76, "8.76"),
        (3.0, "3"),
        (41.999, "41"),
    ];
    for (value, text) in cases {
        assert_eq!(suggestion(value), text, "for {value}");
    }
}

#[test]
fn a_suggestion_without_a_usable_value_is_not_a_number() {
    for value in [f64::NAN, f64::INFINITY, 0.0, -4.0] {
        assert_eq!(suggestion(value), "not known");
    }
}

#[test]
fn counts_part_their_thousands_and_agree_with_their_noun() {
    assert_eq!(count(999), "999");
    assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
    assert_eq!(counted(1, "failure", "failures"), "1 failure");
    assert_eq!(counted(0, "failure", "failures"), "0 failures");
}

#[test]
fn percentages_keep_three_significant_digits() {
    let cases = [
        (0.1, "10.0\u{202f}%"),
        (0.021_5, "2.15\u{202f}%"),
        (0.000_56, "0.0560\u{202f}%"),
        (0.000_000_1, "under 0.001\u{202f}%"),
        (0.4275, "42.8\u{202f}%"),
        (1.0, "100\u{202f}%"),
        (0.0, "0\u{202f}%"),
    ];
    for (share, text) in cases {
        assert_eq!(percent(share), text, "for {share}");
    }
}

#[test]
fn a_missing_limit_is_said_in_words() {
    assert_eq!(limits(Some(36.31), Some(62.0)), "36.3 to 62.0");
    assert_eq!(limits(Some(36.31), None), "at least 36.3");
    assert_eq!(limits(None, Some(62.04)), "at most 62.0");
    assert_eq!(limits(None, None), "no limits found");
}

#[test]
fn limits_of_a_share_name_the_percent_sign_once() {
    let risk = Estimate {
        value: 0.02,
        lower: Some(0.012),
        upper: Some(0.045),
    };
    assert_eq!(risk.percent_limits_text(), "1.20 to 4.50\u{202f}%");
}

#[test]
fn observed_ages_keep_their_own_digits() {
    assert_eq!(age(41.0), "41");
    assert_eq!(age(12_880.0), "12\u{202f}880");
    assert_eq!(age(41.25), "41.25");
}

#[test]
fn scores_use_a_true_minus_and_never_a_negative_zero() {
    assert_eq!(score(-142.337), "\u{2212}142.34");
    assert_eq!(score(-0.001), "0.00");
}

#[test]
fn every_scale_is_found_by_its_code() {
    for words in [
        ScaleWords::FLIGHTS,
        ScaleWords::FLIGHT_MINUTES,
        ScaleWords::ROTOR_KREV,
    ] {
        assert_eq!(ScaleWords::for_code(words.code), Some(words));
    }
    assert_eq!(ScaleWords::for_code("moons"), None);
}

#[test]
fn the_unit_of_a_single_flight_is_singular() {
    assert_eq!(ScaleWords::FLIGHTS.suggested(1.0), "1 flight");
    assert_eq!(ScaleWords::FLIGHTS.suggested(1.5), "1.5 flights");
}

#[test]
fn a_day_is_written_out() {
    let date = NaiveDate::from_ymd_opt(2026, 1, 31).expect("a real day");
    assert_eq!(day(date), "31 January 2026");
}
