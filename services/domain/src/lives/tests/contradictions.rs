use super::*;

#[test]
fn no_fitting_gives_no_life() {
    assert_eq!(exclusion_of(vec![], vec![]), ExclusionReason::NeverFitted);
}

#[test]
fn a_failure_after_the_removal_names_both_records() {
    let off = removed(new_part(300.0), 40, 200.0, RemovalReason::PlannedRenewal);
    let expected = ExclusionReason::FailedAfterRemoval {
        removal: HistoryEvent::Removed(removal(1)),
        report: HistoryEvent::Reported(report(5)),
    };
    for late in [
        said(5, 1, 40, 210.0, Discovery::InFlight),
        said(5, 1, 45, 200.0, Discovery::InFlight),
    ] {
        assert_eq!(exclusion_of(vec![off.clone()], vec![late]), expected);
    }
}

#[test]
fn a_part_found_failed_on_the_bench_days_after_removal_is_no_contradiction() {
    let life = life_of(
        vec![removed(
            new_part(300.0),
            40,
            200.0,
            RemovalReason::Precaution,
        )],
        vec![said(5, 1, 47, 200.0, Discovery::FoundFailedAtCheck)],
    );
    assert_eq!(
        life.end,
        LifeEnd::FailedBetween {
            after: 0.0,
            by: 100.0,
            mode: mode()
        }
    );
}

#[test]
fn a_failure_before_the_fitting_names_both_records() {
    let expected = ExclusionReason::FailedBeforeFitting {
        fitting: HistoryEvent::Fitted(installation(1)),
        report: HistoryEvent::Reported(report(5)),
    };
    for early in [
        said(5, 1, 3, 90.0, Discovery::InFlight),
        said(5, 1, -3, 120.0, Discovery::InFlight),
    ] {
        assert_eq!(exclusion_of(vec![new_part(300.0)], vec![early]), expected);
    }
}

#[test]
fn a_removal_dated_before_its_fitting_names_both_records() {
    let reason = exclusion_of(
        vec![removed(new_part(300.0), -2, 150.0, RemovalReason::Upgrade)],
        vec![],
    );
    assert_eq!(
        reason,
        ExclusionReason::RemovedBeforeFitting {
            fitting: HistoryEvent::Fitted(installation(1)),
            removal: HistoryEvent::Removed(removal(1)),
        }
    );
}

#[test]
fn usage_smaller_at_removal_than_at_fitting_names_both_records() {
    let reason = exclusion_of(
        vec![removed(new_part(300.0), 10, 60.0, RemovalReason::Upgrade)],
        vec![],
    );
    assert_eq!(
        reason,
        ExclusionReason::UsageBackwards {
            earlier: HistoryEvent::Fitted(installation(1)),
            later: HistoryEvent::Removed(removal(1)),
            before: 100.0,
            after: 60.0,
        }
    );
}

#[test]
fn a_latest_reading_below_the_fitting_runs_backwards() {
    assert!(matches!(
        exclusion_of(vec![new_part(40.0)], vec![]),
        ExclusionReason::UsageBackwards {
            later: HistoryEvent::LatestReading(_),
            ..
        }
    ));
}

#[test]
fn a_clean_look_after_the_finding_runs_backwards() {
    let mut found = said(5, 1, 40, 218.0, Discovery::FoundFailedAtCheck);
    found.last_known_good = Some(flown(230.0));
    assert_eq!(
        exclusion_of(vec![new_part(300.0)], vec![found]),
        ExclusionReason::UsageBackwards {
            earlier: HistoryEvent::LastLookBefore(report(5)),
            later: HistoryEvent::Reported(report(5)),
            before: 230.0,
            after: 218.0,
        }
    );
}

#[test]
fn a_component_in_two_airframes_at_once_names_both_fittings() {
    let expected = ExclusionReason::OverlappingFittings {
        earlier: HistoryEvent::Fitted(installation(1)),
        later: HistoryEvent::Fitted(installation(2)),
    };
    let second = fitted(2, 20, 0.0, AgeWhenFitted::CarriedOn, 10.0);
    let late_off = removed(new_part(300.0), 40, 150.0, RemovalReason::Moved);
    assert_eq!(
        exclusion_of(vec![second.clone(), new_part(300.0)], vec![]),
        expected
    );
    assert_eq!(exclusion_of(vec![late_off, second], vec![]), expected);
}

#[test]
fn a_later_fitting_cannot_be_new_again_nor_younger() {
    let off = removed(new_part(300.0), 40, 150.0, RemovalReason::Moved);
    let new = fitted(2, 50, 0.0, AgeWhenFitted::New, 10.0);
    let younger = fitted(2, 50, 0.0, AgeWhenFitted::Known(flown(20.0)), 10.0);
    assert!(matches!(
        exclusion_of(vec![off.clone(), new], vec![]),
        ExclusionReason::NewAgain { .. }
    ));
    assert!(matches!(
        exclusion_of(vec![off, younger], vec![]),
        ExclusionReason::UsageBackwards { before, after, .. } if before == 50.0 && after == 20.0
    ));
}

#[test]
fn an_age_carried_on_from_nowhere_is_refused() {
    assert!(matches!(
        exclusion_of(
            vec![fitted(1, 0, 0.0, AgeWhenFitted::CarriedOn, 10.0)],
            vec![]
        ),
        ExclusionReason::NothingToCarryOn { .. }
    ));
}

#[test]
fn a_report_about_a_stay_of_another_component_is_refused() {
    assert!(matches!(
        exclusion_of(
            vec![new_part(300.0)],
            vec![said(5, 77, 40, 200.0, Discovery::InFlight)]
        ),
        ExclusionReason::ReportElsewhere { .. }
    ));
}

#[test]
fn a_used_part_failing_at_its_entry_counts_half_a_flight_or_is_refused_where_it_was_only_found() {
    let used = fitted(1, 0, 100.0, AgeWhenFitted::Known(flown(30.0)), 100.0);
    let life = life_of(
        vec![used.clone()],
        vec![said(5, 1, 0, 100.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: 30.5,
            mode: mode()
        }
    );
    assert!(matches!(
        exclusion_of(
            vec![used],
            vec![said(5, 1, 0, 100.0, Discovery::FoundFailedAtCheck)]
        ),
        ExclusionReason::FailedAtEntry { .. }
    ));
}
