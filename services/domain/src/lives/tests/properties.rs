use proptest::prelude::*;

use super::*;

fn reasons() -> impl Strategy<Value = RemovalReason> {
    proptest::sample::select(RemovalReason::ALL)
}

fn ages() -> impl Strategy<Value = AgeWhenFitted> {
    prop_oneof![
        Just(AgeWhenFitted::New),
        Just(AgeWhenFitted::Unknown),
        Just(AgeWhenFitted::CarriedOn),
        (0.0..400.0f64).prop_map(|age| AgeWhenFitted::Known(flown(age))),
    ]
}

prop_compose! {
    fn stays()(number in 1..4u128, from in -5..60i64, start in 0.0..300.0f64, age in ages(), run in -20.0..200.0f64,
               end in proptest::option::of((0..40i64, reasons()))) -> Fitting {
        let stay = fitted(number, from, start, age, (start + run).max(0.0));
        match end {
            Some((days, reason)) => removed(stay, from + days - 2, (start + run).max(0.0), reason),
            None => stay,
        }
    }
}

prop_compose! {
    fn reports()(number in 1..9u128, stay in 1..4u128, on in -5..90i64, usage in 0.0..500.0f64,
                 good in proptest::option::of(0.0..500.0f64), discovery in proptest::sample::select(Discovery::ALL),
                 role in proptest::sample::select(FailureRole::ALL)) -> FailureEvent {
        let mut event = said(number, stay, on, usage, discovery);
        event.last_known_good = good.map(flown);
        event.role = role;
        event
    }
}

/// Stays in a row without contradiction, each with a length, and reports at shares of them.
fn sound_histories() -> impl Strategy<Value = ComponentHistory> {
    let stay = (0.0..150.0f64, reasons(), 0.0..500.0f64);
    let event = (
        0..4usize,
        0.0..=1.0f64,
        proptest::sample::select(Discovery::ALL),
        proptest::option::of(0.0..=1.0f64),
    );
    (
        prop::collection::vec(stay, 1..5),
        prop::collection::vec(event, 0..4),
        any::<bool>(),
    )
        .prop_map(|(stays, events, open)| {
            let last = stays.len() - 1;
            let mut fittings = Vec::new();
            for (index, (length, reason, start)) in stays.iter().enumerate() {
                let age = if index == 0 {
                    AgeWhenFitted::New
                } else {
                    AgeWhenFitted::CarriedOn
                };
                let number = index as u128 + 1;
                let from = index as i64 * 10;
                let stay = fitted(number, from, *start, age, start + length);
                let ended = index < last || !open;
                fittings.push(if ended {
                    removed(stay, from + 5, start + length, *reason)
                } else {
                    stay
                });
            }
            let failures = events
                .iter()
                .enumerate()
                .filter_map(|(number, (stay, share, discovery, good))| {
                    let (length, _, start) = stays.get(*stay)?;
                    let index = *stay as i64;
                    let mut event = said(
                        number as u128 + 1,
                        *stay as u128 + 1,
                        index * 10 + 4,
                        start + share * length,
                        *discovery,
                    );
                    event.last_known_good = good.map(|g| flown(start + g * share * length));
                    Some(event)
                })
                .collect();
            history(fittings, failures)
        })
}

proptest! {
    #[test]
    fn any_history_gives_exactly_a_life_or_an_exclusion(
        fittings in prop::collection::vec(stays(), 0..4),
        failures in prop::collection::vec(reports(), 0..4),
    ) {
        let history = history(fittings, failures);
        for scale in WearScale::ALL {
            let derivation = derive(&history, scale);
            prop_assert_eq!(derivation.life.is_some(), derivation.exclusion.is_none());
            if let Some(life) = derivation.life {
                prop_assert!(life.entry >= 0.0 && life.entry <= life.end.last_sound());
                prop_assert!(life.end.last_sound() <= life.end.last_age());
                prop_assert!(to_sample(&[life]).is_ok());
            }
        }
    }

    #[test]
    fn a_sound_history_always_gives_a_life(history in sound_histories()) {
        let derivation = derive(&history, WearScale::Flights);
        prop_assert!(derivation.exclusion.is_none(), "{:?}", derivation.exclusion);
    }

    #[test]
    fn the_order_of_the_rows_does_not_matter(history in sound_histories()) {
        let mut turned = history.clone();
        turned.fittings.reverse();
        turned.failures.reverse();
        prop_assert_eq!(derive(&history, WearScale::Flights), derive(&turned, WearScale::Flights));
    }

    #[test]
    fn more_flying_never_makes_a_running_part_younger(more in 0.0..200.0f64, age in 0.0..200.0f64) {
        let before = life_of(vec![new_part(100.0 + age)], vec![]);
        let after = life_of(vec![new_part(100.0 + age + more)], vec![]);
        prop_assert!(after.end.last_age() >= before.end.last_age());
    }
}
