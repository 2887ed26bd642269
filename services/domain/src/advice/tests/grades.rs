use super::*;
use crate::vocabulary::EvidenceGrade;

fn strong() -> EvidenceColumns {
    EvidenceColumns {
        failures: 30,
        of_mode: None,
        lives_past: Some(20),
        limit_ratio: Some(2.0),
        owners: 10,
        largest_share: 0.25,
        ages_known: Some(0.80),
        records_complete: Some(0.85),
        caps: vec![],
    }
}

#[test]
fn records_that_just_meet_every_column_are_strong() {
    assert_eq!(grade(&strong()).grade, EvidenceGrade::Strong);
}

#[test]
fn each_column_alone_can_pull_the_grade_down_to_fair() {
    let fair: [fn(&mut EvidenceColumns); 7] = [
        |c| c.failures = 10,
        |c| c.lives_past = Some(10),
        |c| c.limit_ratio = Some(3.5),
        |c| c.owners = 5,
        |c| c.largest_share = 0.40,
        |c| c.ages_known = Some(0.70),
        |c| c.records_complete = Some(0.70),
    ];
    for change in fair {
        let mut columns = strong();
        change(&mut columns);
        assert_eq!(grade(&columns).grade, EvidenceGrade::Fair, "{columns:?}");
    }
}

#[test]
fn each_column_alone_can_pull_the_grade_down_to_weak() {
    let weak: [fn(&mut EvidenceColumns); 8] = [
        |c| c.failures = 9,
        |c| c.lives_past = Some(5),
        |c| c.limit_ratio = Some(7.0),
        |c| c.owners = 3,
        |c| c.largest_share = 0.60,
        |c| c.ages_known = Some(0.50),
        |c| c.records_complete = Some(0.1),
        |c| c.caps = vec!["A test rejected the model".to_owned()],
    ];
    for change in weak {
        let mut columns = strong();
        change(&mut columns);
        assert_eq!(grade(&columns).grade, EvidenceGrade::Weak, "{columns:?}");
    }
}

#[test]
fn below_the_last_row_the_grade_is_pooled() {
    let pooled: [fn(&mut EvidenceColumns); 5] = [
        |c| c.failures = 3,
        |c| c.lives_past = Some(4),
        |c| c.limit_ratio = None,
        |c| c.owners = 1,
        |c| c.largest_share = 0.61,
    ];
    for change in pooled {
        let mut columns = strong();
        change(&mut columns);
        assert_eq!(grade(&columns).grade, EvidenceGrade::Pooled, "{columns:?}");
    }
}

#[test]
fn what_nobody_measured_counts_as_weak_and_says_so() {
    let evidence = grade(&EvidenceColumns {
        records_complete: None,
        ..strong()
    });
    assert_eq!(evidence.grade, EvidenceGrade::Weak);
    assert!(
        evidence
            .reasons
            .iter()
            .any(|why| why.starts_with("Nobody measured"))
    );
}

#[test]
fn every_column_gives_its_reason() {
    assert_eq!(grade(&strong()).reasons.len(), 6);
}
