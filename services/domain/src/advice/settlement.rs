//! Holds a renewal age against common practice: what may lengthen it, and by how much, depends on the evidence.

use super::answer::{Bound, ReplacementAdvice, ReplacementBasis};
use super::input::AdviceInput;
use super::replacement::{Proposal, whole};
use super::wording::plain::number;
use crate::vocabulary::{EvidenceGrade, Severity};

/// Records may always shorten what is commonly done. Strong evidence may lengthen it, fair evidence a little, weaker
/// evidence not at all, and nothing lengthens it for a part whose failure means loss of control.
pub(super) fn settle(
    input: &AdviceInput<'_>,
    proposal: Proposal,
    grade: EvidenceGrade,
) -> ReplacementAdvice {
    let Some((age, [least, usual])) = proposal.age.zip(input.practice_on_scale()) else {
        return unless_unmeasured(input, proposal);
    };
    let catastrophic = input.part_type.criticality == Severity::Catastrophic;
    let most = match grade {
        _ if catastrophic => usual,
        EvidenceGrade::Strong => f64::INFINITY,
        EvidenceGrade::Fair => usual * (1.0 + input.policy.fair_may_lengthen_by),
        _ => usual,
    };
    if age <= most {
        return answer(input, compared(input, proposal, age, [least, usual]));
    }
    let why = if catastrophic {
        "The records would allow more, but for a part whose failure means loss of control data alone never lengthen \
         what is commonly done."
            .to_owned()
    } else {
        format!(
            "The records would allow {} {}, but evidence graded {} lengthens common practice by {}.",
            number(age),
            input.scale.unit(),
            grade.words(),
            if grade == EvidenceGrade::Fair {
                format!(
                    "at most {} in 100",
                    number(input.policy.fair_may_lengthen_by * 100.0)
                )
            } else {
                "nothing".to_owned()
            }
        )
    };
    answer(
        input,
        Proposal {
            age: Some(whole(most)),
            basis: ReplacementBasis::CommonPractice,
            why,
            ..proposal
        },
    )
}

/// A catastrophic part whose common practice cannot be put on this scale gets no age from data alone.
fn unless_unmeasured(input: &AdviceInput<'_>, proposal: Proposal) -> ReplacementAdvice {
    let hidden = input.part_type.criticality == Severity::Catastrophic
        && input.part_type.renewal_in_flights().is_some()
        && input.wear_per_flight().is_none();
    if hidden && proposal.age.is_some() {
        return answer(
            input,
            Proposal::none(
                "Common practice is counted in flights and the wear of one flight is not known here; data alone \
                 must not lengthen it, so no age is given on this scale.",
            ),
        );
    }
    answer(input, proposal)
}

/// Says so where an age from records is shorter than what people commonly do.
fn compared(
    input: &AdviceInput<'_>,
    mut proposal: Proposal,
    age: f64,
    [least, usual]: [f64; 2],
) -> Proposal {
    if age < least && proposal.basis != ReplacementBasis::CommonPractice {
        proposal.why.push_str(&format!(
            " Commonly such parts are renewed between {} and {} {}; on the careful side that does not meet the target.",
            number(least),
            number(usual),
            input.scale.unit()
        ));
    }
    proposal
}

fn answer(input: &AdviceInput<'_>, proposal: Proposal) -> ReplacementAdvice {
    let target = input.target();
    let from_data = proposal.age.is_some() && proposal.basis != ReplacementBasis::CommonPractice;
    ReplacementAdvice {
        value: proposal.age,
        scale: input.scale,
        unit: input.scale.unit().to_owned(),
        bound: from_data.then_some(Bound::Lower),
        level: from_data.then_some(target.level),
        target_per_interval: target.per_interval,
        target_per_flight: target.per_flight,
        age_at_interval_target: proposal.at_interval,
        age_at_flight_target: proposal.at_mean,
        basis: proposal.basis,
        mode: None,
        why: proposal.why,
    }
}
