//! Sentences a person reads. Nothing here promises anything: the words are "suggested", "on record", "careful side".

use super::answer::{
    Advice, Caution, CautionCode, EstimateWithLimits, InspectionVerdict, LifeSummary,
    ReplacementBasis,
};
use super::input::AdviceInput;
use super::judged::name_of;
use super::modes::Sorted;
use super::settling::SettlingLooks;
use crate::vocabulary::Severity;

pub mod plain;

/// The short text that stands under every answer.
pub const STATISTICS_CAUTION: &str = "Statistics of reported cases, not an inspection of your aircraft. The maker's \
     instructions, your club's rules and the law go first. If in doubt, do not fly.";

/// The advice in a few sentences: what is suggested, on what records, how sure, and what goes first.
#[must_use]
pub fn summary(advice: &Advice) -> String {
    let mut sentences = vec![suggestion(advice)];
    sentences.extend(advice.settling_looks.as_ref().map(settling_sentence));
    if let Some(note) = &advice.withheld_reason {
        sentences.push(format!("Figures are not shown: {}.", note.why));
    }
    sentences.extend(records(advice));
    sentences.extend(
        advice
            .life
            .as_ref()
            .and_then(|life| life_sentence(life, &advice.unit)),
    );
    sentences
        .push("Where the design's manual gives a shorter limit, the manual goes first.".to_owned());
    sentences.join(" ")
}

fn suggestion(advice: &Advice) -> String {
    let unit = &advice.unit;
    let age_now = advice.inspection.age;
    let reaches = |renewal: f64| {
        age_now < renewal && renewal <= age_now + advice.inspection.span.unwrap_or(0.0)
    };
    let look = match (advice.inspection.verdict, advice.inspection.span) {
        (InspectionVerdict::WithinSpan, _) if advice.replacement.value.is_some_and(reaches) => {
            "that comes before the next look".to_owned()
        }
        (InspectionVerdict::WithinSpan, Some(span)) => {
            format!("look again within {} {unit}", plain::number(span))
        }
        (InspectionVerdict::BeforeEveryFlight, _) => {
            "replace, or look before every flight".to_owned()
        }
        _ => "look as the manual and common practice say".to_owned(),
    };
    let Some(age) = advice.replacement.value else {
        return format!("No renewal by age is suggested; {look}.");
    };
    let source = match advice.replacement.basis {
        ReplacementBasis::CommonPractice => " (common practice)",
        ReplacementBasis::CappedAtLongestObserved => " (the longest usage on record)",
        _ => "",
    };
    let past = if age_now >= age && age_now > 0.0 {
        format!(
            " At {} {unit} this component is past it.",
            plain::number(age_now)
        )
    } else {
        String::new()
    };
    let decided = decided_by(advice);
    format!(
        "Suggested: renew by {} {unit}{source}{decided}; {look}.{past}",
        plain::number(age)
    )
}

/// Names the failure mode that decides the renewal, where modes were told apart.
fn decided_by(advice: &Advice) -> String {
    let deciding = advice
        .by_mode
        .iter()
        .find(|said| Some(&said.mode) == advice.replacement.mode.as_ref());
    deciding.map_or_else(String::new, |said| format!(", decided by “{}”", said.name))
}

fn settling_sentence(settling: &SettlingLooks) -> String {
    format!("Look {} ({}).", settling.looks, settling.source)
}

fn records(advice: &Advice) -> Option<String> {
    let (lives, failures) = (advice.lives?, advice.failures?);
    if lives == 0 {
        return Some(format!(
            "No lives are on record up to {}.",
            advice.data_as_of.date_naive()
        ));
    }
    let owners = match advice.contributors? {
        0 => String::new(),
        n => format!(" of {}", plain::count(n, "owner")),
    };
    Some(format!(
        "Based on {} among {}{owners}, records up to {}. Evidence: {}.",
        plain::count(failures, "failure"),
        if lives == 1 {
            "1 life".to_owned()
        } else {
            format!("{lives} lives")
        },
        advice.data_as_of.date_naive(),
        advice.evidence.grade.words(),
    ))
}

fn life_sentence(life: &LifeSummary, unit: &str) -> Option<String> {
    let EstimateWithLimits {
        value,
        lower,
        upper,
        beyond_records,
    } = life.ten_in_hundred_failed;
    let percent = plain::number(life.level * 100.0);
    let limits = match (lower, upper) {
        (Some(low), Some(high)) => {
            format!(
                "{percent} % limits {} to {}",
                plain::number(low),
                plain::number(high)
            )
        }
        (Some(low), None) => format!(
            "{percent} % lower limit {}, no upper one",
            plain::number(low)
        ),
        _ => return None,
    };
    let beyond = if beyond_records {
        ", beyond the longest usage on record"
    } else {
        ""
    };
    Some(match value {
        Some(age) => format!(
            "10 in 100 have failed by about {} {unit} ({limits}){beyond}.",
            plain::number(age)
        ),
        None => format!(
            "Age by which 10 in 100 have failed, in {unit}: no best value without failures ({limits})."
        ),
    })
}

/// What to bear in mind; the short text always comes first.
pub(super) fn cautions(
    input: &AdviceInput<'_>,
    sorted: &Sorted<'_>,
    shape_assumed: bool,
    beyond: bool,
) -> Vec<Caution> {
    let mut all = vec![caution(
        CautionCode::Statistics,
        STATISTICS_CAUTION.to_owned(),
    )];
    all.extend(cannot_be_shown(input).map(|text| caution(CautionCode::CannotBeShown, text)));
    if beyond {
        all.push(caution(
            CautionCode::Extrapolation,
            format!(
                "No component on record was used longer than {} {}; the answer stops there.",
                plain::number(input.sample.longest_usage()),
                input.scale.unit()
            ),
        ));
    }
    if shape_assumed {
        all.push(caution(
            CautionCode::AssumedShape,
            "With few failures the assumed shape is the answer: compare the three shapes shown."
                .to_owned(),
        ));
    }
    all.extend(on_modes(input, sorted));
    let dead = input.sample.dead_on_arrival();
    if dead > 0 {
        all.push(caution(
            CautionCode::DeadOnArrival,
            format!(
                "{} failed before any use; these enter no figure here.",
                plain::count(dead, "component")
            ),
        ));
    }
    if input.sample.interval_censored() + input.sample.left_censored() > 0 {
        all.push(caution(
            CautionCode::FoundAtChecks,
            "Some failures were found at checks, so their age is known between two looks only."
                .to_owned(),
        ));
    }
    if input.wear_per_flight().is_none() {
        all.push(caution(
            CautionCode::NoConversion,
            "The wear of one flight is not known here, so the target per flight and common practice were not compared."
                .to_owned(),
        ));
    }
    all
}

fn caution(code: CautionCode, text: String) -> Caution {
    Caution { code, text }
}

/// What to bear in mind about failure modes.
fn on_modes(input: &AdviceInput<'_>, sorted: &Sorted<'_>) -> Vec<Caution> {
    let mut all = Vec::new();
    if sorted.mixed(input) {
        all.push(caution(
            CautionCode::MixedModes,
            "Several failure modes are taken together here; a mode of its own may wear faster."
                .to_owned(),
        ));
    }
    if sorted.groups.len() > 1 {
        all.push(caution(
            CautionCode::ModesApart,
            "Each failure mode is held to the target by itself, so the chance that any of them comes is higher; the \
             chances ahead count all."
                .to_owned(),
        ));
    }
    let least = input.policy.fewest_failures_for_a_fit;
    let rare: Vec<String> = sorted
        .counts
        .iter()
        .filter(|count| sorted.apart && count.failures < least)
        .map(|count| {
            let name = name_of(input.part_type, &count.mode);
            format!("“{name}” ({})", count.failures)
        })
        .collect();
    if !rare.is_empty() {
        all.push(caution(
            CautionCode::RareModes,
            format!(
                "Failure modes seen fewer than {least} times do not decide renewal or looks: {}. The chances ahead count \
                 them at a constant rate.",
                rare.join(", ")
            ),
        ));
    }
    if let (1.., Some(leading)) = (sorted.not_stated, sorted.counts.first()) {
        all.push(caution(
            CautionCode::ModeNotStated,
            format!(
                "{} of unstated manner {} counted to “{}”, the mode seen most, and may be of another.",
                plain::count(sorted.not_stated, "failure"),
                if sorted.not_stated == 1 { "is" } else { "are" },
                name_of(input.part_type, &leading.mode)
            ),
        ));
    }
    all
}

/// What is said where figures are not shown: nothing that counts.
pub(super) fn withheld_cautions() -> Vec<Caution> {
    vec![Caution {
        code: CautionCode::Statistics,
        text: STATISTICS_CAUTION.to_owned(),
    }]
}

/// Says how far a target for loss of control lies beyond what any hobby fleet can show.
///
/// Flights without failure needed for a chance p at 95 % confidence: 3 / p (NIST/SEMATECH e-Handbook 8.4.5.1, the
/// chi-square limit for no failures, rounded).
fn cannot_be_shown(input: &AdviceInput<'_>) -> Option<String> {
    let per_flight = input.target().per_flight?;
    if input.part_type.criticality != Severity::Catastrophic {
        return None;
    }
    let needed = 3.0 / per_flight;
    let flown = input
        .wear_per_flight()
        .map(|wear| input.sample.total_usage() / wear);
    if input.sample.failures() == 0 && flown.is_some_and(|flights| flights >= needed) {
        return None;
    }
    let on_record = flown
        .map(|flights| format!("; {} are on record", plain::number(flights.floor())))
        .unwrap_or_default();
    Some(format!(
        "A chance of {} per flight cannot be shown by this fleet: it would take about {} flights without a \
         failure{on_record}.",
        plain::chance(per_flight),
        plain::number(needed),
    ))
}
