//! When to look next: the usage within which a component that works now may fail with at most the target's chance.

use super::answer::{InspectionAdvice, InspectionVerdict, SpanAtAge};
use super::by_mode::ModeVerdict;
use super::curve::Curve;
use super::input::AdviceInput;
use super::judged::Judged;
use super::replacement::whole;
use super::settling::settled_at;
use super::wording::plain::{chance, number};

#[derive(Clone, Copy)]
struct Span {
    verdict: InspectionVerdict,
    span: Option<f64>,
    capped: bool,
}

const NOT_STATED: Span = Span {
    verdict: InspectionVerdict::NotStated,
    span: None,
    capped: false,
};
const EVERY_FLIGHT: Span = Span {
    verdict: InspectionVerdict::BeforeEveryFlight,
    span: None,
    capped: false,
};

/// The span at the component's own age, with a table over the ages on record; the shortest that any group of
/// failures gives.
///
/// Failures that come early are met by looks after fitting, so until a part has settled their span does not count
/// beside those of other modes. From then on it does.
pub(super) fn inspect(input: &AdviceInput<'_>, judged: &[Judged<'_>]) -> InspectionAdvice {
    let target = input.target();
    let age = input
        .age
        .filter(|age| age.is_finite() && *age >= 0.0)
        .unwrap_or(0.0);
    let curves: Vec<Option<Curve<'_>>> = judged.iter().map(Judged::curve).collect();
    let at = |age: f64| {
        judged
            .iter()
            .zip(&curves)
            .filter(|(group, _)| counts_at(input, judged, group, age))
            .map(|(group, curve)| (span(input, curve.as_ref(), age), Some(group)))
            .min_by(|(a, _), (b, _)| length(a).total_cmp(&length(b)))
            .unwrap_or((NOT_STATED, None))
    };
    let (now, decides) = at(age);
    let left_out = judged
        .iter()
        .any(|group| !counts_at(input, judged, group, age));
    let table = table_ages(input)
        .into_iter()
        .filter(|_| now.verdict != InspectionVerdict::NotStated)
        .map(|age| SpanAtAge {
            age,
            span: at(age).0.span,
        })
        .collect();
    InspectionAdvice {
        verdict: now.verdict,
        age,
        span: now.span,
        target: target.per_interval,
        level: target.level,
        capped: now.capped,
        mode: decides
            .filter(|_| now.verdict != InspectionVerdict::NotStated)
            .and_then(|group| group.mode)
            .filter(|_| judged.len() > 1)
            .cloned(),
        why: why(input, &now, age, left_out),
        table,
    }
}

/// Whether the span of a group of failures counts for a part of that age.
fn counts_at(input: &AdviceInput<'_>, all: &[Judged<'_>], group: &Judged<'_>, age: f64) -> bool {
    group.verdict != ModeVerdict::Early
        || age >= settled_at(input)
        || all.iter().all(|group| group.verdict == ModeVerdict::Early)
}

/// What orders spans, the most careful first. Where one mode's span is not known, no other may stand for it.
fn length(span: &Span) -> f64 {
    match span.verdict {
        InspectionVerdict::BeforeEveryFlight => -2.0,
        InspectionVerdict::NotStated => -1.0,
        InspectionVerdict::WithinSpan => span.span.unwrap_or(f64::INFINITY),
    }
}

/// What one curve alone asks of the next look, with its span if it gives one.
pub(super) fn look_of(
    input: &AdviceInput<'_>,
    curve: Option<&Curve<'_>>,
    age: f64,
) -> (InspectionVerdict, Option<f64>) {
    let found = span(input, curve, age);
    (found.verdict, found.span)
}

fn span(input: &AdviceInput<'_>, curve: Option<&Curve<'_>>, age: f64) -> Span {
    let (Some(curve), Some(p)) = (curve, input.target().per_interval) else {
        return NOT_STATED;
    };
    let left = input.sample.longest_usage() - age;
    if left <= 0.0 {
        return EVERY_FLIGHT;
    }
    let Some(allowed) = curve.span_at(age, p) else {
        return NOT_STATED;
    };
    let span = whole(allowed.min(left));
    if span < input.wear_per_flight().unwrap_or(1.0) {
        return EVERY_FLIGHT;
    }
    Span {
        verdict: InspectionVerdict::WithinSpan,
        span: Some(span),
        capped: allowed > left,
    }
}

/// New, then quarters of the longest usage, then nine tenths of it; whole units, none twice.
fn table_ages(input: &AdviceInput<'_>) -> Vec<f64> {
    let longest = input.sample.longest_usage();
    let mut ages: Vec<f64> = [0.0, 0.25, 0.5, 0.75, 0.9]
        .iter()
        .map(|share| (share * longest).floor())
        .collect();
    ages.dedup();
    ages
}

fn why(input: &AdviceInput<'_>, span: &Span, age: f64, left_out: bool) -> String {
    let target = input.target();
    let unit = input.scale.unit();
    let Some(p) = target.per_interval else {
        return "There is no target for parts whose failure costs only looks or comfort; they are renewed when a \
                defect is found."
            .to_owned();
    };
    let longest = input.sample.longest_usage();
    let works = if age > 0.0 {
        format!("A part that works at {} {unit}", number(age))
    } else {
        "A new part".to_owned()
    };
    let careful = format!(
        "on the careful side (one-sided {} %)",
        number(target.level * 100.0)
    );
    match span.verdict {
        InspectionVerdict::NotStated => {
            "The records give no span; look as the manual and common practice say.".to_owned()
        }
        InspectionVerdict::BeforeEveryFlight if age >= longest => format!(
            "No component on record was used longer than {} {unit}: replace, or look before every flight.",
            number(longest)
        ),
        InspectionVerdict::BeforeEveryFlight => format!(
            "{works} reaches a chance of failure of {} within one flight {careful}: replace, or look before every \
             flight.",
            chance(p)
        ),
        InspectionVerdict::WithinSpan if span.capped => format!(
            "The target would allow more, but no component on record was used longer than {} {unit}.",
            number(longest)
        ),
        InspectionVerdict::WithinSpan if left_out => format!(
            "{works} fails within this span with a chance of {} {careful}, apart from failures that come early: for \
             those look after each fitting.",
            chance(p)
        ),
        InspectionVerdict::WithinSpan => {
            format!(
                "{works} fails within this span with a chance of {} {careful}.",
                chance(p)
            )
        }
    }
}
