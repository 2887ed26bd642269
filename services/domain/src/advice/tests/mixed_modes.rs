//! Failure modes are told apart before anything is judged.

use proptest::prelude::*;
use proptest::test_runner::Config;

use super::*;
use crate::vocabulary::EvidenceGrade;

const WEAR: &str = "tooth-shear";
const EARLY: &str = "mis-seated";

fn mode(key: &str) -> FailureModeKey {
    FailureModeKey::new(key).unwrap()
}

/// Belts whose teeth wear as a Weibull of that shape with scale 360, watched up to 250 flights. One in five was also
/// mis-seated, which ends it by a Weibull of shape 0.6 and scale 12 if the teeth last that long.
pub(super) fn belts(pieces: u32, shape: f64) -> Vec<Observation> {
    let wear = WeibullLife::new(shape, 360.0).unwrap();
    let early = WeibullLife::new(0.6, 12.0).unwrap();
    let at = |life: &WeibullLife, place: u32, of: u32| {
        life.quantile((f64::from(place) + 0.5) / f64::from(of))
            .unwrap()
    };
    (0..pieces)
        .map(|piece| {
            let worn = at(&wear, piece, pieces);
            let loose = if piece % 5 == 0 {
                // Worked through in another order, so that early lives do not go with short wear.
                at(&early, (piece / 5 * 7) % (pieces / 5), pieces / 5)
            } else {
                f64::INFINITY
            };
            if loose < worn.min(250.0) {
                Observation::exact(loose).with_cause(EARLY)
            } else if worn < 250.0 {
                Observation::exact(worn).with_cause(WEAR)
            } else {
                Observation::right_censored(250.0)
            }
        })
        .collect()
}

fn without_causes(rows: &[Observation]) -> Sample {
    Sample::new(rows.iter().cloned().map(|mut row| {
        row.cause = None;
        row
    }))
    .unwrap()
}

pub(super) fn of<'a>(advice: &'a Advice, key: &str) -> &'a ModeAdvice {
    advice
        .by_mode
        .iter()
        .find(|said| said.mode == mode(key))
        .unwrap()
}

fn has(advice: &Advice, code: CautionCode) -> bool {
    advice.cautions.iter().any(|caution| caution.code == code)
}

#[test]
fn a_fit_over_early_and_worn_belts_hides_the_wear_that_the_mode_alone_shows() {
    let rows = belts(200, 3.2);
    let mixed = advise(&well_kept("tail-belt", &without_causes(&rows)));
    assert!(mixed.model.unwrap().shape.value.unwrap() < 1.0);
    assert_eq!(mixed.replacement.value, None);

    let sample = Sample::new(rows).unwrap();
    let advice = advise(&well_kept("tail-belt", &sample));
    // With shape 3.2 and scale 360, 2 in 100 have failed by 106.4 flights.
    let age = advice.replacement.value.unwrap();
    assert!((53.2..106.4).contains(&age), "{age}");
    assert_eq!(advice.replacement.mode, Some(mode(WEAR)));
    assert_eq!(advice.model.as_ref().unwrap().mode, Some(mode(WEAR)));
    assert_eq!(of(&advice, WEAR).verdict, Some(ModeVerdict::WearsOut));
    assert_eq!(of(&advice, WEAR).renewal_age, Some(age));
    assert_eq!(of(&advice, EARLY).verdict, Some(ModeVerdict::Early));
    assert_eq!(of(&advice, EARLY).renewal_age, None);
    assert!(
        advice.summary.contains("decided by “Teeth sheared”"),
        "{}",
        advice.summary
    );
    assert!(has(&advice, CautionCode::ModesApart) && !has(&advice, CautionCode::MixedModes));
}

#[test]
fn early_failures_ask_for_looks_after_fitting_and_set_no_span_until_the_part_has_settled() {
    let sample = Sample::new(belts(200, 3.2)).unwrap();
    let at = |age: f64| {
        advise(&AdviceInput {
            age: Some(age),
            ..well_kept("tail-belt", &sample)
        })
    };
    let new = at(0.0);
    let looks = new.settling_looks.as_ref().unwrap();
    assert_eq!(looks.modes, [mode(EARLY)]);
    assert_eq!(looks.failures, of(&new, EARLY).failures);
    assert!(looks.share_by_20_flights.unwrap() > 0.5, "{looks:?}");
    assert_eq!(looks.source, "common practice, no source");
    assert_eq!(new.inspection.mode, Some(mode(WEAR)));
    assert!(new.inspection.why.contains("apart from failures"));
    assert!(new.summary.contains("after flights 1, 3 to 5, and 10"));

    let settled = at(20.0);
    let spans = [WEAR, EARLY].map(|key| of(&settled, key).span.unwrap_or(0.0));
    assert_eq!(
        settled.inspection.span.unwrap_or(0.0),
        spans[0].min(spans[1])
    );
    assert!(!settled.inspection.why.contains("apart from failures"));
}

#[test]
fn the_grade_counts_the_failures_of_the_mode_that_decides_and_modes_told_apart_are_no_cap() {
    let sample = Sample::new(belts(400, 3.2)).unwrap();
    let modes = [WEAR, EARLY].map(|key| ModeCount {
        mode: mode(key),
        failures: 40,
    });
    let advice = advise(&AdviceInput {
        modes: &modes,
        ..well_kept("tail-belt", &sample)
    });
    let failures = of(&advice, WEAR).failures;
    let said = format!("{failures} failures of “Teeth sheared”, the mode that decides,");
    let reasons = advice.evidence.reasons.join(" ");
    assert!(reasons.contains(&said), "{reasons}");
    assert!(!reasons.contains("not separated"), "{reasons}");
    assert!(advice.evidence.grade < EvidenceGrade::Weak || failures < 10);
}

#[test]
fn failures_of_unstated_manner_count_to_the_mode_seen_most() {
    let mut rows = belts(200, 3.2);
    let stated = advise(&input("tail-belt", &Sample::new(rows.clone()).unwrap()));
    for row in rows
        .iter_mut()
        .filter(|row| row.cause.as_deref() == Some(WEAR))
        .step_by(20)
        .take(2)
    {
        row.cause = Some("not-stated".to_owned());
    }
    let sample = Sample::new(rows).unwrap();
    let advice = advise(&input("tail-belt", &sample));
    assert_eq!(advice.by_mode, stated.by_mode);
    assert_eq!(advice.replacement, stated.replacement);
    let caution = advice
        .cautions
        .iter()
        .find(|caution| caution.code == CautionCode::ModeNotStated)
        .unwrap();
    assert!(
        caution
            .text
            .contains("of unstated manner are counted to “Teeth sheared”"),
        "{}",
        caution.text
    );
}

#[test]
fn one_mode_with_failures_of_unstated_manner_is_one_mode() {
    let mut rows = spread(3.2, 360.0, 100, 400.0)
        .observations()
        .map(Observation::from)
        .collect::<Vec<_>>();
    rows[0].cause = Some("not-stated".to_owned());
    let sample = Sample::new(rows).unwrap();
    let whole = advise(&well_kept("tail-belt", &spread(3.2, 360.0, 100, 400.0)));
    let advice = advise(&well_kept("tail-belt", &sample));
    assert_eq!(advice.replacement, whole.replacement);
    assert_eq!(advice.evidence, whole.evidence);
    assert!(!has(&advice, CautionCode::MixedModes) && has(&advice, CautionCode::ModeNotStated));
}

#[test]
fn one_mode_gives_the_same_answer_as_the_same_lives_without_a_mode() {
    let named = spread(3.2, 360.0, 100, 400.0);
    let unnamed = without_causes(
        &named
            .observations()
            .map(Observation::from)
            .collect::<Vec<_>>(),
    );
    let (a, b) = (
        advise(&well_kept("tail-belt", &named)),
        advise(&well_kept("tail-belt", &unnamed)),
    );
    assert_eq!(a.replacement, b.replacement);
    assert_eq!(a.inspection, b.inspection);
    assert_eq!(a.risk_ahead, b.risk_ahead);
    assert_eq!(
        (a.life, a.evidence, a.summary),
        (b.life, b.evidence, b.summary)
    );
    assert_eq!(a.by_mode.len(), 1);
    assert_eq!(a.by_mode[0].shape, Some(a.model.unwrap().shape));
}

#[test]
fn two_failures_of_a_rare_mode_do_not_shorten_the_renewal() {
    let rows = spread(3.2, 360.0, 100, 400.0)
        .observations()
        .map(Observation::from)
        .collect::<Vec<_>>();
    let before = advise(&well_kept("tail-belt", &Sample::new(rows.clone()).unwrap()));
    let mut with = rows;
    for at in [30.0, 60.0] {
        with.push(Observation::exact(at).with_cause("cord-break"));
    }
    let sample = Sample::new(with).unwrap();
    let after = advise(&well_kept("tail-belt", &sample));
    assert!(after.replacement.value >= before.replacement.value);
    assert!(after.inspection.span >= before.inspection.span);
    let rare = of(&after, "cord-break");
    assert_eq!((rare.judged, rare.failures), (false, 2));
    assert!(has(&after, CautionCode::RareModes));
    // They are part of the whole all the same.
    assert!(after.risk_ahead[0].chance > before.risk_ahead[0].chance);
    assert!(
        !after
            .evidence
            .reasons
            .join(" ")
            .contains("modes were not separated")
    );
}

#[test]
fn modes_that_are_all_rare_are_taken_together_and_cap_the_grade() {
    let rows = [(150.0, WEAR), (170.0, WEAR), (190.0, "cord-break")]
        .map(|(at, cause)| Observation::exact(at).with_cause(cause));
    let running = Observation::right_censored(200.0).times(20);
    let sample = Sample::new(rows.into_iter().chain([running])).unwrap();
    let advice = advise(&well_kept("tail-belt", &sample));
    assert!(advice.by_mode.iter().all(|said| !said.judged));
    assert!(has(&advice, CautionCode::MixedModes));
    assert!(
        advice
            .evidence
            .reasons
            .join(" ")
            .contains("modes were not separated")
    );
    assert_eq!(advice.replacement.mode, None);
    assert_eq!(advice.model.unwrap().mode, None);
}

#[test]
fn of_two_modes_that_wear_the_one_due_first_decides() {
    let slow = spread(4.0, 500.0, 80, 450.0);
    let fast = spread(4.0, 250.0, 80, 300.0);
    let rows = slow
        .observations()
        .map(Observation::from)
        .chain(fast.observations().map(Observation::from))
        .enumerate()
        .map(|(place, row)| {
            if row.upper.is_finite() && place >= slow.observations().len() {
                row.with_cause("cord-break")
            } else {
                row
            }
        });
    let sample = Sample::new(rows).unwrap();
    let advice = advise(&well_kept("tail-belt", &sample));
    let ages = [WEAR, "cord-break"].map(|key| of(&advice, key).renewal_age.unwrap());
    assert_eq!(advice.replacement.value, Some(ages[0].min(ages[1])));
    assert_eq!(advice.replacement.mode, Some(mode("cord-break")));
    assert!(
        advice.settling_looks.is_none(),
        "{:?}",
        advice.settling_looks
    );
}

#[test]
fn where_every_mode_is_early_their_spans_count_from_the_start() {
    let rows = [("mis-seated", 12.0), ("slack", 15.0)]
        .into_iter()
        .flat_map(|(cause, scale)| {
            let early = spread(0.6, scale, 20, 100.0);
            early
                .observations()
                .map(Observation::from)
                .map(|row| {
                    if row.upper.is_finite() {
                        row.with_cause(cause)
                    } else {
                        row
                    }
                })
                .collect::<Vec<_>>()
        });
    let sample = Sample::new(rows).unwrap();
    let advice = advise(&well_kept("tail-belt", &sample));
    assert_eq!(advice.replacement.value, None);
    assert_eq!(
        advice.inspection.verdict,
        InspectionVerdict::BeforeEveryFlight
    );
    assert_eq!(advice.settling_looks.unwrap().modes.len(), 2);
}

proptest! {
    #![proptest_config(Config::with_cases(24))]

    #[test]
    fn with_two_modes_a_laxer_target_never_shortens_the_renewal_age_or_the_span(
        p in 0.005..0.2f64, factor in 1.0..5.0f64, shape in 2.5..5.0f64,
    ) {
        let sample = Sample::new(belts(150, shape)).unwrap();
        let at = |p: f64| {
            let mut input = AdviceInput { age: Some(50.0), ..well_kept("tail-belt", &sample) };
            input.policy.critical.per_interval = Some(p);
            let advice = advise(&input);
            (advice.replacement.value.unwrap_or(0.0), advice.inspection.span.unwrap_or(0.0))
        };
        let (strict, lax) = (at(p), at((p * factor).min(0.9)));
        prop_assert!(lax.0 >= strict.0 && lax.1 >= strict.1, "{strict:?} {lax:?}");
    }
}
