use super::*;

#[test]
fn a_failure_in_flight_is_an_exact_failure() {
    let life = life_of(
        vec![removed(new_part(300.0), 40, 243.0, RemovalReason::Failed)],
        vec![said(5, 1, 40, 243.0, Discovery::InFlight)],
    );
    assert_eq!(life.entry, 0.0);
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: 143.0,
            mode: mode()
        }
    );
}

#[test]
fn found_failed_at_a_check_lies_between_the_last_clean_look_and_the_check() {
    let mut found = said(5, 1, 40, 218.0, Discovery::FoundFailedAtCheck);
    found.last_known_good = Some(flown(160.0));
    let life = life_of(
        vec![removed(new_part(300.0), 40, 218.0, RemovalReason::Failed)],
        vec![found],
    );
    assert_eq!(
        life.end,
        LifeEnd::FailedBetween {
            after: 60.0,
            by: 118.0,
            mode: mode()
        }
    );
}

#[test]
fn found_failed_without_any_clean_look_lies_anywhere_since_entry() {
    let used = fitted(1, 0, 100.0, AgeWhenFitted::Known(flown(30.0)), 300.0);
    let life = life_of(
        vec![used],
        vec![said(5, 1, 40, 218.0, Discovery::FoundFailedAtCheck)],
    );
    assert_eq!(life.entry, 30.0);
    assert_eq!(
        life.end,
        LifeEnd::FailedBetween {
            after: 30.0,
            by: 148.0,
            mode: mode()
        }
    );
}

#[test]
fn a_clean_look_before_this_stay_is_not_used_and_said_so() {
    let mut found = said(5, 1, 40, 218.0, Discovery::FoundFailedAtCheck);
    found.last_known_good = Some(flown(90.0));
    let life = life_of(vec![new_part(300.0)], vec![found]);
    assert_eq!(
        life.end,
        LifeEnd::FailedBetween {
            after: 0.0,
            by: 118.0,
            mode: mode()
        }
    );
    assert!(life.remarks[0].contains("before this stay"));
}

#[test]
fn a_defect_found_at_a_check_is_right_censored_there() {
    let life = life_of(
        vec![removed(
            new_part(300.0),
            40,
            218.0,
            RemovalReason::DefectFound,
        )],
        vec![said(5, 1, 40, 218.0, Discovery::DefectFoundAtCheck)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Removed {
            at: 118.0,
            reason: RemovalReason::DefectFound
        }
    );
    assert_eq!(life.end.failed_by(), None);
}

#[test]
fn a_defect_left_in_that_later_fails_in_flight_is_a_failure() {
    let life = life_of(
        vec![new_part(300.0)],
        vec![
            said(5, 1, 40, 218.0, Discovery::DefectFoundAtCheck),
            said(6, 1, 60, 240.0, Discovery::InFlight),
        ],
    );
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: 140.0,
            mode: mode()
        }
    );
}

#[test]
fn a_part_removed_in_good_order_is_right_censored_at_removal() {
    for reason in [
        RemovalReason::PlannedRenewal,
        RemovalReason::Upgrade,
        RemovalReason::Precaution,
        RemovalReason::Sold,
        RemovalReason::NoticeAction,
        RemovalReason::CrashDamage,
        RemovalReason::WriteOff,
        RemovalReason::Unknown,
    ] {
        let life = life_of(vec![removed(new_part(300.0), 40, 250.0, reason)], vec![]);
        assert_eq!(life.end, LifeEnd::Removed { at: 150.0, reason });
    }
}

#[test]
fn a_crash_caused_by_this_part_is_an_exact_failure() {
    let life = life_of(
        vec![removed(
            new_part(300.0),
            40,
            243.0,
            RemovalReason::CrashDamage,
        )],
        vec![said(5, 1, 40, 243.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: 143.0,
            mode: mode()
        }
    );
}

#[test]
fn damage_by_another_failure_is_right_censored() {
    let mut hit = said(5, 1, 40, 243.0, Discovery::InFlight);
    hit.role = FailureRole::Secondary;
    let reported = life_of(
        vec![removed(new_part(300.0), 40, 243.0, RemovalReason::Failed)],
        vec![hit],
    );
    let removed_so = life_of(
        vec![removed(
            new_part(300.0),
            40,
            243.0,
            RemovalReason::SecondaryDamage,
        )],
        vec![],
    );
    assert_eq!(reported.end, LifeEnd::SecondaryDamage { at: 143.0 });
    assert_eq!(removed_so.end, LifeEnd::SecondaryDamage { at: 143.0 });
}

#[test]
fn a_move_to_another_airframe_ends_nothing_and_the_age_carries_on() {
    let life = life_of(
        vec![
            removed(new_part(300.0), 40, 150.0, RemovalReason::Moved),
            fitted(2, 41, 700.0, AgeWhenFitted::CarriedOn, 730.0),
        ],
        vec![],
    );
    assert_eq!(life.end, LifeEnd::StillFitted { at: 80.0 });
    assert_eq!(
        life.sources,
        [
            LifeSource::Installation(installation(1)),
            LifeSource::Removal(removal(1)),
            LifeSource::Installation(installation(2)),
        ]
    );
}

#[test]
fn a_part_still_fitted_is_right_censored_at_the_airframes_usage_now() {
    assert_eq!(
        life_of(vec![new_part(163.0)], vec![]).end,
        LifeEnd::StillFitted { at: 63.0 }
    );
}

#[test]
fn a_part_on_the_shelf_is_right_censored_at_its_accumulated_age() {
    let life = life_of(
        vec![removed(new_part(300.0), 40, 150.0, RemovalReason::Moved)],
        vec![],
    );
    assert_eq!(life.end, LifeEnd::OnShelf { at: 50.0 });
}

#[test]
fn a_second_hand_part_of_known_age_enters_the_risk_set_at_that_age() {
    let used = fitted(1, 0, 100.0, AgeWhenFitted::Known(flown(150.0)), 170.0);
    let life = life_of(vec![used], vec![]);
    assert_eq!(life.entry, 150.0);
    assert_eq!(life.end, LifeEnd::StillFitted { at: 220.0 });
}

#[test]
fn a_second_hand_part_of_unknown_age_is_excluded_with_the_reason() {
    let reason = exclusion_of(
        vec![fitted(1, 0, 100.0, AgeWhenFitted::Unknown, 170.0)],
        vec![],
    );
    assert_eq!(
        reason,
        ExclusionReason::UnknownAge {
            event: HistoryEvent::Fitted(installation(1))
        }
    );
}

#[test]
fn a_scale_that_was_not_kept_excludes_the_part_from_that_scale_only() {
    let history = history(vec![new_part(163.0)], vec![]);
    assert!(derive(&history, WearScale::FlightMinutes).life.is_some());
    let exclusion = derive(&history, WearScale::RotorKrev).exclusion.unwrap();
    assert_eq!(
        exclusion.reason,
        ExclusionReason::UnknownUsage {
            event: HistoryEvent::Fitted(installation(1))
        }
    );
    assert!(exclusion.to_string().contains("rotor-krev"));
}

#[test]
fn a_failure_on_the_first_flight_counts_as_half_a_flight() {
    let life = life_of(
        vec![new_part(100.0)],
        vec![said(5, 1, 0, 100.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: HALF_A_FLIGHT,
            mode: mode()
        }
    );
    assert!(life.remarks[0].contains("half a flight"));
}

#[test]
fn a_part_found_failed_before_any_use_is_kept_apart_as_dead_on_arrival() {
    let life = life_of(
        vec![new_part(100.0)],
        vec![said(5, 1, 0, 100.0, Discovery::FoundFailedAtCheck)],
    );
    let sample = to_sample(&[life]).unwrap();
    assert_eq!((sample.dead_on_arrival(), sample.failures()), (1, 0));
}

#[test]
fn only_the_first_primary_failure_ends_the_life() {
    let mut later = said(6, 1, 60, 240.0, Discovery::InFlight);
    later.mode = FailureModeKey::new("edge-fray").unwrap();
    let life = life_of(
        vec![new_part(300.0)],
        vec![later, said(5, 1, 40, 218.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Failed {
            at: 118.0,
            mode: mode()
        }
    );
    assert_eq!(
        life.sources,
        [
            LifeSource::Installation(installation(1)),
            LifeSource::FailureReport(report(5))
        ]
    );
}

#[test]
fn a_part_renewed_as_a_precaution_and_fitted_again_keeps_its_age() {
    let life = life_of(
        vec![
            removed(new_part(300.0), 40, 150.0, RemovalReason::Precaution),
            fitted(2, 50, 10.0, AgeWhenFitted::CarriedOn, 20.0),
        ],
        vec![],
    );
    assert_eq!(life.end, LifeEnd::StillFitted { at: 60.0 });
}

#[test]
fn crash_damage_ends_the_watch_even_if_the_part_is_fitted_again() {
    let life = life_of(
        vec![
            removed(new_part(300.0), 40, 150.0, RemovalReason::CrashDamage),
            fitted(2, 50, 10.0, AgeWhenFitted::CarriedOn, 20.0),
        ],
        vec![said(5, 2, 55, 15.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Removed {
            at: 50.0,
            reason: RemovalReason::CrashDamage
        }
    );
}

#[test]
fn removed_as_failed_without_a_report_is_a_failure_of_unstated_mode_anywhere_before() {
    let life = life_of(
        vec![removed(new_part(300.0), 40, 150.0, RemovalReason::Failed)],
        vec![],
    );
    assert_eq!(
        life.end,
        LifeEnd::FailedBetween {
            after: 0.0,
            by: 50.0,
            mode: FailureModeKey::not_stated()
        }
    );
    assert_eq!(life.remarks.len(), 1);
}

#[test]
fn a_part_used_elsewhere_and_fitted_again_is_watched_from_its_recorded_age() {
    let life = life_of(
        vec![
            removed(new_part(300.0), 40, 150.0, RemovalReason::Sold),
            fitted(2, 90, 0.0, AgeWhenFitted::Known(flown(80.0)), 25.0),
        ],
        vec![],
    );
    assert_eq!(
        (life.entry, life.end),
        (80.0, LifeEnd::StillFitted { at: 105.0 })
    );
}

#[test]
fn a_part_whose_age_was_lost_later_is_watched_up_to_the_removal_before() {
    let life = life_of(
        vec![
            removed(new_part(300.0), 40, 150.0, RemovalReason::Sold),
            fitted(2, 90, 0.0, AgeWhenFitted::Unknown, 25.0),
        ],
        vec![said(5, 2, 95, 20.0, Discovery::InFlight)],
    );
    assert_eq!(
        life.end,
        LifeEnd::Removed {
            at: 50.0,
            reason: RemovalReason::Sold
        }
    );
    assert!(life.remarks[0].contains("age was lost"));
}

#[test]
fn the_sample_receives_every_kind_of_end_as_what_it_is() {
    let mut found = said(5, 1, 40, 218.0, Discovery::FoundFailedAtCheck);
    found.last_known_good = Some(flown(160.0));
    let lives = [
        life_of(
            vec![new_part(300.0)],
            vec![said(5, 1, 40, 243.0, Discovery::InFlight)],
        ),
        life_of(vec![new_part(300.0)], vec![found]),
        life_of(vec![new_part(163.0)], vec![]),
        life_of(
            vec![fitted(
                1,
                0,
                100.0,
                AgeWhenFitted::Known(flown(50.0)),
                170.0,
            )],
            vec![],
        ),
    ];
    let sample = to_sample(&lives).unwrap();
    assert_eq!((sample.lives(), sample.failures()), (4, 2));
    assert_eq!(
        (sample.interval_censored(), sample.right_censored()),
        (1, 2)
    );
    assert_eq!(sample.delayed_entry(), 1);
    assert_eq!(sample.longest_usage(), 143.0);
}
