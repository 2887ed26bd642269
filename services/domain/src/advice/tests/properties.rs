use proptest::prelude::*;
use proptest::test_runner::Config;

use super::*;

fn fewer() -> Config {
    Config::with_cases(24)
}

fn keys() -> impl Strategy<Value = &'static str> {
    let keys: Vec<&'static str> = catalogue()
        .part_types
        .iter()
        .map(|part| part.key.as_str())
        .collect();
    proptest::sample::select(keys)
}

fn samples() -> impl Strategy<Value = Sample> {
    let cause = proptest::sample::select(vec!["", "tooth-shear", "mis-seated", "not-stated"]);
    let row = (0.0..300.0f64, 0.0..100.0f64, 0..4u8, 1..4u64, cause);
    prop::collection::vec(row, 0..20).prop_map(|rows| {
        Sample::new(rows.into_iter().map(|(at, more, kind, times, cause)| {
            let row = match kind {
                0 => Observation::exact(at),
                1 => Observation::interval(at, at + more),
                _ => Observation::right_censored(at + more),
            };
            let row = row.times(times);
            if kind < 2 && !cause.is_empty() {
                row.with_cause(cause)
            } else {
                row
            }
        }))
        .unwrap()
    })
}

/// Every sentence a person may read.
fn sentences(advice: &Advice) -> Vec<&str> {
    let mut all = vec![
        advice.summary.as_str(),
        advice.replacement.why.as_str(),
        advice.inspection.why.as_str(),
    ];
    all.extend(advice.evidence.reasons.iter().map(String::as_str));
    all.extend(advice.cautions.iter().map(|caution| caution.text.as_str()));
    all.extend(
        advice
            .by_mode
            .iter()
            .flat_map(|said| [said.why.as_str(), said.name.as_str()]),
    );
    all.extend(advice.settling_looks.iter().map(|looks| looks.why.as_str()));
    all.extend(advice.model.iter().map(|model| model.why_chosen.as_str()));
    all
}

proptest! {
    #![proptest_config(fewer())]

    #[test]
    fn a_laxer_target_never_shortens_the_renewal_age_or_the_span(
        p in 0.005..0.2f64, factor in 1.0..5.0f64, shape in 2.0..5.0f64,
    ) {
        let sample = spread(shape, 300.0, 60, 350.0);
        let at = |p: f64| {
            let mut input = AdviceInput { age: Some(50.0), ..well_kept("tail-belt", &sample) };
            input.policy.critical.per_interval = Some(p);
            let advice = advise(&input);
            (advice.replacement.value.unwrap_or(0.0), advice.inspection.span.unwrap_or(0.0))
        };
        let (strict, lax) = (at(p), at((p * factor).min(0.9)));
        prop_assert!(lax.0 >= strict.0 && lax.1 >= strict.1, "{strict:?} {lax:?}");
    }

    #[test]
    fn an_older_part_is_never_given_a_longer_span_where_wear_is_shown(
        age in 0.0..300.0f64, more in 0.0..100.0f64, shape in 2.5..5.0f64,
    ) {
        let sample = spread(shape, 300.0, 60, 350.0);
        let span = |age| {
            let advice = advise(&AdviceInput { age: Some(age), ..input("tail-belt", &sample) });
            assert_ne!(advice.inspection.verdict, InspectionVerdict::NotStated);
            advice.inspection.span.unwrap_or(0.0)
        };
        prop_assert!(span(age + more) <= span(age));
    }

    #[test]
    fn more_failure_free_usage_never_shortens_the_answer_without_failures(
        pieces in 1..200u64, until in 10.0..150.0f64, more in 0.0..150.0f64,
    ) {
        let (short, long) = (unfailed(pieces, until), unfailed(pieces, until + more));
        let span = |sample| advise(&input("tail-belt", sample)).inspection.span.unwrap_or(0.0);
        prop_assert!(span(&long) >= span(&short));
    }

    #[test]
    fn any_records_of_any_part_give_an_answer_that_keeps_its_promises(
        key in keys(), sample in samples(), age in proptest::option::of(0.0..500.0f64),
    ) {
        let advice = advise(&AdviceInput { age, ..well_kept(key, &sample) });
        let longest = sample.longest_usage();
        if let (Some(value), true) =
            (advice.replacement.value, advice.replacement.basis != ReplacementBasis::CommonPractice)
        {
            prop_assert!(value > 0.0 && value <= longest);
        }
        if let Some(span) = advice.inspection.span {
            prop_assert!(span > 0.0 && advice.inspection.age + span <= longest);
        }
        prop_assert_eq!(advice.cautions.first().map(|caution| caution.code), Some(CautionCode::Statistics));
        for sentence in sentences(&advice) {
            let lower = sentence.to_lowercase();
            for word in ["safe", "airworthy", "guarantee", "approved", "nan", "inf "] {
                let whole = lower.split(|c: char| !c.is_alphabetic()).any(|w| w == word.trim());
                prop_assert!(!whole, "{word} in {sentence}");
            }
        }
        let json = serde_json::to_string(&advice).unwrap();
        prop_assert_eq!(serde_json::from_str::<Advice>(&json).unwrap(), advice);
    }

    #[test]
    fn the_same_input_gives_the_same_bytes(key in keys(), sample in samples()) {
        let once = serde_json::to_string(&advise(&input(key, &sample))).unwrap();
        let again = serde_json::to_string(&advise(&input(key, &sample))).unwrap();
        prop_assert_eq!(once, again);
    }
}
