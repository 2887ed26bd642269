//! Samples by column: the same sample whichever way its lives are given.

use proptest::prelude::*;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

proptest! {
    #[test]
    fn ages_make_the_same_sample_as_observations(
        lives in prop::collection::vec((prop_oneof![0u32..6, 0u32..100_000], any::<bool>()), 0..60),
    ) {
        let ages = || lives.iter().map(|(age, failed)| (f64::from(*age) * 0.37, *failed));
        let rows = ages().map(|(age, failed)| if failed { Observation::exact(age) } else { Observation::right_censored(age) });
        let one = Sample::new(rows).expect("valid lives");
        let other = Sample::from_ages(ages()).expect("valid lives");
        prop_assert_eq!(one.digest(), other.digest());
        prop_assert_eq!(one, other);
    }

    #[test]
    fn the_rows_of_a_sample_make_it_again(
        lives in prop::collection::vec((0u32..9, 0u32..4, 0u8..4, prop::option::of("[ab]"), 1u64..4), 0..40),
    ) {
        let rows = lives.iter().map(|(usage, entry, kind, cause, count)| {
            let (entry, t) = (f64::from(*entry), f64::from(*usage + entry) + 1.0);
            let mut row = match kind {
                0 => Observation::exact(t),
                1 => Observation::right_censored(t),
                2 => Observation::left_censored(t),
                _ => Observation::interval(t, t + 1.0),
            }
            .entered_at(entry)
            .times(*count);
            row.cause.clone_from(cause);
            row
        });
        let sample = Sample::new(rows).expect("valid lives");
        let again = Sample::new(sample.observations().map(Into::into)).expect("valid lives");
        prop_assert_eq!(again.digest(), sample.digest());
        prop_assert_eq!(&again, &sample);
        let by_cause: u64 = sample.by_cause().iter().map(|(_, part)| part.failures()).sum();
        prop_assert_eq!(by_cause, sample.failures());
    }
}

#[test]
fn faulty_ages_are_named_with_their_rows() {
    let faults = Sample::from_ages([
        (1.0, true),
        (f64::NAN, false),
        (-2.0, true),
        (f64::INFINITY, true),
    ])
    .expect_err("faults")
    .faults;
    let rows: Vec<usize> = faults.iter().map(|fault| fault.row).collect();
    assert_eq!(rows, [1, 2, 3]);
    assert!(faults.iter().all(|fault| fault.field == "lower"));
}

#[test]
fn the_digest_is_that_of_the_canonical_rows() {
    // A change of this value changes what stored digests mean.
    let sample = Sample::new([
        Observation::interval(2.0, 3.0).with_cause("b"),
        Observation::exact(1.0).with_cause("a").times(2),
        Observation::right_censored(4.0).entered_at(1.5),
        Observation::exact(0.0),
    ])
    .expect("valid lives");
    assert_eq!(
        sample.digest(),
        "25b19804ae8015329e9f7806f4d4d81975271601bb053177b8ea1fc0ff07dff5"
    );
    assert_eq!(sample.dead_on_arrival(), 1);
}

#[test]
fn faults_show_long_numbers_with_a_power_of_ten() {
    let shown = |row| {
        let error = Sample::new([row]).expect_err("a fault");
        error.faults[0].value.clone()
    };
    for (usage, text) in [
        (1e300, "1e300"),
        (1.5e120, "1.5e120"),
        (1e-200, "1e-200"),
        (-1e15, "-1e15"),
        (-2e-6, "-2e-6"),
        (-123.25, "-123.25"),
        (-0.00001, "-0.00001"),
        (-999_999_999_999_999.0, "-999999999999999"),
        (f64::NAN, "NaN"),
        (f64::INFINITY, "inf"),
    ] {
        assert_eq!(shown(Observation::exact(usage)), text);
    }
    assert_eq!(
        shown(Observation::exact(1.0).entered_at(f64::INFINITY)),
        "inf"
    );
}
