use super::*;
use crate::populations::Withheld;
use crate::vocabulary::{EvidenceGrade, Severity};

fn has(advice: &Advice, code: CautionCode) -> bool {
    advice.cautions.iter().any(|caution| caution.code == code)
}

#[test]
fn parts_that_wear_out_are_renewed_at_the_age_the_targets_give() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let advice = advise(&well_kept("tail-belt", &sample));
    let age = advice.replacement.value.unwrap();
    assert!((60.0..106.4).contains(&age), "{age}");
    assert_eq!(advice.replacement.bound, Some(Bound::Lower));
    assert_eq!(advice.replacement.level, Some(0.90));
    assert_eq!(advice.model.unwrap().method, ModelMethod::MaximumLikelihood);
}

#[test]
fn both_ages_are_shown_and_the_lesser_counts() {
    let sample = spread(3.2, 360.0, 400, 400.0);
    let renewal = advise(&well_kept("tail-belt", &sample)).replacement;
    let (interval, flight) = (
        renewal.age_at_interval_target.unwrap(),
        renewal.age_at_flight_target.unwrap(),
    );
    assert!(flight < interval);
    assert_eq!(renewal.value, Some(flight));
}

#[test]
fn an_age_shorter_than_common_practice_says_what_practice_is() {
    let sample = unfailed(10, 150.0);
    let why = advise(&input("tail-belt", &sample)).replacement.why;
    assert!(
        why.contains("Commonly such parts are renewed between 150 and 300 flights"),
        "{why}"
    );
}

#[test]
fn constant_risk_gives_no_planned_renewal_but_looks() {
    let sample = spread(1.0, 300.0, 60, 400.0);
    let advice = advise(&well_kept("tail-belt", &sample));
    assert_eq!(
        (advice.replacement.value, advice.replacement.basis),
        (None, ReplacementBasis::None)
    );
    assert!(
        advice.replacement.why.contains("Wear is not shown"),
        "{}",
        advice.replacement.why
    );
    assert_eq!(advice.inspection.verdict, InspectionVerdict::WithinSpan);
}

#[test]
fn early_failures_give_no_planned_renewal_and_say_that_it_would_hurt() {
    let sample = spread(0.5, 300.0, 60, 400.0);
    let advice = advise(&well_kept("tail-case-bolt", &sample));
    assert_eq!(advice.replacement.basis, ReplacementBasis::None);
    assert!(advice.replacement.why.contains("would bring more failures"));
}

#[test]
fn without_failures_a_part_that_may_not_wear_gets_no_planned_renewal() {
    let sample = unfailed(50, 300.0);
    let advice = advise(&input("speed-controller", &sample));
    assert_eq!(advice.replacement.basis, ReplacementBasis::None);
    assert!(advice.replacement.why.contains("include 1 and below"));
}

#[test]
fn nothing_is_suggested_beyond_the_longest_usage_on_record() {
    let sample = unfailed(20_000, 40.0);
    let advice = advise(&AdviceInput {
        age: Some(10.0),
        ..well_kept("head-block", &sample)
    });
    assert_eq!(advice.replacement.value, Some(40.0));
    assert_eq!(
        advice.replacement.basis,
        ReplacementBasis::CappedAtLongestObserved
    );
    assert_eq!(
        (advice.inspection.span, advice.inspection.capped),
        (Some(30.0), true)
    );
    assert!(has(&advice, CautionCode::Extrapolation));
}

#[test]
fn a_component_older_than_all_on_record_is_replaced_or_looked_at_before_every_flight() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let advice = advise(&AdviceInput {
        age: Some(450.0),
        ..input("tail-belt", &sample)
    });
    assert_eq!(
        advice.inspection.verdict,
        InspectionVerdict::BeforeEveryFlight
    );
    assert!(
        advice
            .inspection
            .why
            .contains("was used longer than 400 flights")
    );
    assert!(advice.summary.contains("past it"));
}

#[test]
fn a_target_used_up_within_one_flight_means_a_look_before_every_flight() {
    let sample = spread(3.2, 36.0, 100, 60.0);
    let advice = advise(&AdviceInput {
        age: Some(50.0),
        ..input("tail-belt", &sample)
    });
    assert_eq!(
        advice.inspection.verdict,
        InspectionVerdict::BeforeEveryFlight
    );
    assert!(
        advice.inspection.why.contains("within one flight"),
        "{}",
        advice.inspection.why
    );
}

#[test]
fn no_lives_give_common_practice_and_nothing_else() {
    let sample = Sample::new([]).unwrap();
    let advice = advise(&input("tail-belt", &sample));
    assert_eq!(advice.replacement.basis, ReplacementBasis::CommonPractice);
    assert_eq!(
        (advice.replacement.value, advice.replacement.bound),
        (Some(150.0), None)
    );
    assert_eq!(advice.evidence.grade, EvidenceGrade::PracticeOnly);
    assert_eq!(advice.inspection.verdict, InspectionVerdict::NotStated);
    assert!(advice.life.is_none() && advice.model.is_none() && !advice.common_practice.is_empty());
}

#[test]
fn data_alone_never_lengthen_what_is_commonly_done_for_loss_of_control() {
    let sample = spread(6.0, 9000.0, 400, 8000.0);
    let advice = advise(&well_kept("feathering-spindle", &sample));
    assert_eq!(advice.replacement.value, Some(300.0));
    assert_eq!(advice.replacement.basis, ReplacementBasis::CommonPractice);
}

#[test]
fn weak_evidence_never_lengthens_fair_a_little_and_strong_as_the_records_say() {
    let sample = spread(4.0, 3000.0, 120, 3000.0);
    let renewal = |owners: &[u64], complete: f64| {
        let input = AdviceInput {
            lives_per_contributor: owners,
            records_complete: Share::new(complete).ok(),
            ..well_kept("tail-belt", &sample)
        };
        let advice = advise(&input);
        (advice.evidence.grade, advice.replacement.value.unwrap())
    };
    let (grade, age) = renewal(&[10; 12], 0.5);
    assert_eq!((grade, age), (EvidenceGrade::Weak, 300.0));
    let (grade, age) = renewal(&[20; 6], 0.9);
    assert_eq!((grade, age), (EvidenceGrade::Fair, 345.0));
    let (grade, age) = renewal(&[10; 12], 0.9);
    assert_eq!(grade, EvidenceGrade::Strong);
    assert!(age > 600.0, "{age}");
}

#[test]
fn a_catastrophic_target_is_said_to_be_beyond_what_this_fleet_can_show() {
    let sample = unfailed(100, 200.0);
    let advice = advise(&input("feathering-spindle", &sample));
    let caution = advice
        .cautions
        .iter()
        .find(|c| c.code == CautionCode::CannotBeShown)
        .unwrap();
    assert!(
        caution.text.contains("300\u{202f}000 flights"),
        "{}",
        caution.text
    );
    assert_eq!(advice.replacement.target_per_flight, Some(1e-5));
}

#[test]
fn a_target_no_renewal_age_can_meet_falls_back_to_common_practice() {
    let sample = unfailed(3, 20.0);
    let advice = advise(&input("feathering-spindle", &sample));
    assert_eq!(advice.replacement.basis, ReplacementBasis::CommonPractice);
    assert!(advice.replacement.why.contains("cannot show"));
    assert_eq!(advice.replacement.value, Some(150.0));
}

#[test]
fn negligible_parts_are_renewed_when_a_defect_is_found() {
    let mut canopy = part("canopy").clone();
    canopy.criticality = Severity::Negligible;
    let sample = spread(2.0, 300.0, 50, 400.0);
    let advice = advise(&AdviceInput {
        part_type: &canopy,
        ..input("canopy", &sample)
    });
    assert_eq!(advice.replacement.basis, ReplacementBasis::None);
    assert_eq!(advice.inspection.verdict, InspectionVerdict::NotStated);
}

#[test]
fn the_target_per_flight_is_turned_into_the_scale_by_the_wear_of_one_flight() {
    let flights = spread(3.2, 360.0, 100, 400.0);
    let minutes = spread(3.2, 1800.0, 100, 2000.0);
    let on_minutes = AdviceInput {
        scale: WearScale::FlightMinutes,
        mean_wear_per_flight: Some(5.0),
        ..well_kept("tail-belt", &minutes)
    };
    let by_flights = advise(&well_kept("tail-belt", &flights)).replacement;
    let by_minutes = advise(&on_minutes).replacement;
    assert_eq!(by_minutes.basis, by_flights.basis);
    assert_near(
        by_minutes.value.unwrap(),
        5.0 * by_flights.value.unwrap(),
        5.0,
    );
    assert_eq!(by_minutes.unit, "flight minutes");
}

#[test]
fn without_the_wear_of_one_flight_practice_and_the_target_per_flight_stay_out() {
    let minutes = spread(3.2, 1800.0, 100, 2000.0);
    let advice = advise(&AdviceInput {
        scale: WearScale::FlightMinutes,
        ..well_kept("tail-belt", &minutes)
    });
    assert_eq!(advice.replacement.basis, ReplacementBasis::RiskPerInterval);
    assert!(has(&advice, CautionCode::NoConversion));
}

#[test]
fn few_failures_show_what_every_assumed_shape_would_give() {
    let few = spread(3.2, 360.0, 12, 250.0);
    let many = spread(3.2, 360.0, 60, 400.0);
    assert!((3..10).contains(&few.failures()));
    assert_eq!(advise(&input("tail-belt", &few)).known_shape_range.len(), 3);
    assert!(
        advise(&input("tail-belt", &many))
            .known_shape_range
            .is_empty()
    );
}

#[test]
fn failures_found_at_checks_count_at_the_last_clean_look_when_the_shape_is_assumed() {
    let mut rows = vec![Observation::right_censored(150.0).times(10)];
    rows.push(Observation::interval(100.0, 140.0));
    let sample = Sample::new(rows.clone()).unwrap();
    rows.pop();
    rows.push(Observation::exact(100.0));
    let exact = Sample::new(rows).unwrap();
    let between = advise(&input("tail-belt", &sample));
    assert_eq!(
        between.replacement.value,
        advise(&input("tail-belt", &exact)).replacement.value
    );
    assert!(has(&between, CautionCode::FoundAtChecks));
}

#[test]
fn a_withheld_population_shows_practice_and_no_count() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let advice = advise(&AdviceInput {
        withheld: Some(Withheld::TooFewContributors),
        ..well_kept("tail-belt", &sample)
    });
    assert_eq!(
        advice.withheld_reason.unwrap().code,
        Withheld::TooFewContributors
    );
    assert_eq!(
        (advice.lives, advice.failures, advice.contributors),
        (None, None, None)
    );
    assert!(advice.data_digest.is_none() && advice.model.is_none() && advice.life.is_none());
    assert_eq!(advice.replacement.basis, ReplacementBasis::CommonPractice);
    assert!(!advice.summary.contains("failures among"));
}

#[test]
fn the_summary_names_scale_counts_date_and_grade() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let summary = advise(&well_kept("tail-belt", &sample)).summary;
    for part in [
        "flights",
        "failures among 100 lives of 12 owners",
        "2026-01-31",
        "Evidence:",
        "90 % limits",
    ] {
        assert!(summary.contains(part), "{part} is missing: {summary}");
    }
}

#[test]
fn several_failure_modes_keep_the_grade_at_weak() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let modes = ["tooth-shear", "edge-fray"].map(|mode| ModeCount {
        mode: FailureModeKey::new(mode).unwrap(),
        failures: 5,
    });
    let advice = advise(&AdviceInput {
        modes: &modes,
        ..well_kept("tail-belt", &sample)
    });
    assert_eq!(advice.evidence.grade, EvidenceGrade::Weak);
    assert!(has(&advice, CautionCode::MixedModes));
}

#[test]
fn advice_is_good_for_ninety_days() {
    let sample = unfailed(10, 100.0);
    let advice = advise(&input("tail-belt", &sample));
    assert_eq!((advice.valid_until - advice.data_as_of).num_days(), 90);
}

#[test]
fn the_chance_ahead_has_its_upper_limit_above_it_and_stops_where_the_records_stop() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let advice = advise(&AdviceInput {
        age: Some(385.0),
        ..well_kept("tail-belt", &sample)
    });
    let flights: Vec<f64> = advice
        .risk_ahead
        .iter()
        .map(|ahead| ahead.flights)
        .collect();
    assert_eq!(flights, [1.0, 5.0, 10.0]);
    for ahead in &advice.risk_ahead {
        assert!(
            ahead.chance.unwrap() < ahead.upper && ahead.upper < 0.5,
            "{ahead:?}"
        );
    }
}

#[test]
fn the_chance_ahead_at_the_end_of_the_span_is_the_target() {
    let sample = spread(3.2, 360.0, 100, 400.0);
    let advice = advise(&AdviceInput {
        age: Some(100.0),
        ..well_kept("tail-belt", &sample)
    });
    let span = advice.inspection.span.unwrap();
    let at_20 = advice.risk_ahead.last().unwrap();
    assert_eq!(span >= at_20.span, at_20.upper <= 0.02);
}

#[test]
fn every_schema_that_advice_refers_to_is_listed_once() {
    let mut schemas = Vec::new();
    <Advice as utoipa::ToSchema>::schemas(&mut schemas);
    let mut by_name = std::collections::BTreeMap::new();
    for (name, schema) in &schemas {
        let text = serde_json::to_string(schema).unwrap();
        let first = by_name.entry(name.clone()).or_insert_with(|| text.clone());
        assert_eq!(*first, text, "{name} has two meanings");
    }
    let advice = serde_json::to_string(&<Advice as utoipa::PartialSchema>::schema()).unwrap();
    for text in by_name.values().chain([&advice]) {
        for named in text.split("#/components/schemas/").skip(1) {
            let name: String = named.chars().take_while(|c| *c != '"').collect();
            assert!(
                by_name.contains_key(&name),
                "{name} is referred to but not listed"
            );
        }
    }
}

#[test]
fn common_practice_is_not_given_where_most_parts_on_record_failed_before_it() {
    let sample = Sample::new((1..=24).map(|age| Observation::exact(f64::from(age)))).unwrap();
    let advice = advise(&input("tail-belt", &sample));
    assert_eq!(
        advice.replacement.value.filter(|age| *age > 24.0),
        None,
        "{:?}",
        advice.replacement
    );
}
