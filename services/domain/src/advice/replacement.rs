//! The renewal age that targets and records give, before it is held against common practice.

use super::answer::ReplacementBasis;
use super::curve::Curve;
use super::input::AdviceInput;
use super::model::{Model, Wear};
use super::wording::plain::{chance, number};

/// A renewal age before the evidence has been graded.
#[derive(Clone)]
pub(super) struct Proposal {
    pub(super) age: Option<f64>,
    pub(super) basis: ReplacementBasis,
    pub(super) why: String,
    /// Age by the target per interval alone.
    pub(super) at_interval: Option<f64>,
    /// Age by the target per flight alone, where it binds first.
    pub(super) at_mean: Option<f64>,
}

impl Proposal {
    pub(super) fn none(why: impl Into<String>) -> Self {
        Self {
            age: None,
            basis: ReplacementBasis::None,
            why: why.into(),
            at_interval: None,
            at_mean: None,
        }
    }

    /// Whether the age stops at the longest usage on record.
    pub(super) fn is_capped(&self) -> bool {
        self.basis == ReplacementBasis::CappedAtLongestObserved
    }
}

/// The age the targets give, at most the longest usage on record.
///
/// The chance per interval gives one age, the mean chance per flight another, both on the careful curve; the lesser
/// counts. Without wear no age is suggested at all, because a new part is then no better than an old one.
pub(super) fn propose(
    input: &AdviceInput<'_>,
    model: &Model,
    curve: Option<&Curve<'_>>,
) -> Proposal {
    let target = input.target();
    let Some(most) = target.per_interval else {
        return Proposal::none(
            "Parts whose failure costs only looks or comfort are renewed when a defect is found.",
        );
    };
    let curve = match (model, curve) {
        (Model::Nothing { why }, _) => return practice(input, why),
        (_, Some(curve)) => curve,
        (_, None) => {
            return practice_if_sane(
                input,
                model,
                "No lower limit of the life could be computed.",
            );
        }
    };
    match model.wear() {
        Wear::Shown => {}
        Wear::NotShown => return Proposal::none(no_wear(model)),
        Wear::FailsEarly => {
            return Proposal::none(
                "New parts fail more often than used ones here, so renewal by age would bring more failures; look \
                 after every fitting instead.",
            );
        }
    }
    let Some(at_interval) = curve.age_at(most) else {
        return practice_if_sane(
            input,
            model,
            "The lower limit of the life could not be computed.",
        );
    };
    let careful = format!(
        "on the careful side (one-sided {} %)",
        number(target.level * 100.0)
    );
    let wear = input.wear_per_flight();
    if at_interval < wear.unwrap_or(1.0) {
        return cannot_be_shown(input, model);
    }
    if let (Model::Known { why, .. }, Some(_)) = (model, input.practice_on_scale()) {
        return Proposal {
            at_interval: Some(whole(at_interval)),
            ..practice(
                input,
                &format!(
                    "{why} With an assumed shape the records bound a life, they do not give one."
                ),
            )
        };
    }
    let by_flight = match target.per_flight.zip(wear) {
        Some((per_flight, wear)) => curve.age_for_mean_risk(per_flight / wear, most),
        None => Some(f64::INFINITY),
    };
    let keepable = input.policy.least_share_of_interval_age * at_interval;
    let (at_mean, short_of_flight_target) = match by_flight {
        Some(age) if age >= keepable => (age, false),
        _ => (f64::INFINITY, true),
    };
    let (age, basis, why) = if at_mean < at_interval {
        let per_flight = target.per_flight.unwrap_or(most);
        (
            at_mean,
            ReplacementBasis::MeanRiskPerFlight,
            format!(
                "Up to this age the mean chance of failure per flight stays at {} {careful}.",
                chance(per_flight)
            ),
        )
    } else {
        (
            at_interval,
            ReplacementBasis::RiskPerInterval,
            format!(
                "By this age the chance of failure since new reaches {} {careful}.{}",
                chance(most),
                if short_of_flight_target {
                    " The target per flight would ask for renewals too short to keep; looks in between have to carry it."
                } else {
                    ""
                }
            ),
        )
    };
    let at_mean = (at_mean < at_interval).then(|| whole(at_mean));
    let longest = input.sample.longest_usage();
    if age > longest {
        return Proposal {
            age: Some(whole(longest)),
            basis: ReplacementBasis::CappedAtLongestObserved,
            at_interval: Some(whole(at_interval)),
            at_mean,
            why: format!(
                "The target would allow more, but no component on record was used longer than {} {}.",
                number(longest),
                input.scale.unit()
            ),
        };
    }
    Proposal {
        age: Some(whole(age)),
        basis,
        why,
        at_interval: Some(whole(at_interval)),
        at_mean,
    }
}

fn no_wear(model: &Model) -> String {
    match model {
        Model::Fitted { shape, .. } => {
            let lower = shape.as_ref().and_then(|limits| limits.lower);
            let read = lower.map_or_else(
                || "has no lower limit".to_owned(),
                |lower| format!("may be as low as {}", number(lower)),
            );
            format!(
                "Wear is not shown: the shape {read}, and at 1 or below an old part is no worse than a new one. Look \
                 instead of renewing by age."
            )
        }
        _ => "The shapes thought plausible for such parts include 1 and below, where an old part is no worse than a \
              new one. Look instead of renewing by age."
            .to_owned(),
    }
}

fn cannot_be_shown(input: &AdviceInput<'_>, model: &Model) -> Proposal {
    practice_if_sane(
        input,
        model,
        "These records cannot show that any renewal age meets the target.",
    )
}

/// Common practice, unless the records say that most parts would have failed by then.
fn practice_if_sane(input: &AdviceInput<'_>, model: &Model, because: &str) -> Proposal {
    if let (Model::Fitted { fit, .. }, Some([low, _])) = (model, input.practice_on_scale())
        && fit.survival(low) < 0.5
    {
        return Proposal::none(format!(
            "{because} Common practice would renew at {} {}, by when most parts on record had failed, so it is not \
             given either; look before every flight.",
            number(low),
            input.scale.unit()
        ));
    }
    practice(input, because)
}

/// The careful end of what is commonly done, or nothing where practice names no number of flights.
pub(super) fn practice(input: &AdviceInput<'_>, because: &str) -> Proposal {
    match input.practice_on_scale() {
        Some([low, high]) => Proposal {
            age: Some(whole(low)),
            basis: ReplacementBasis::CommonPractice,
            at_interval: None,
            at_mean: None,
            why: format!(
                "{because} Commonly such parts are renewed between {} and {} {} (common practice, no source); the \
                 lower end is given.",
                number(low),
                number(high),
                input.scale.unit()
            ),
        },
        None => Proposal::none(format!("{because} Common practice names no age either.")),
    }
}

/// Whole units, never more than the number.
pub(super) fn whole(age: f64) -> f64 {
    if age >= 1.0 { age.floor() } else { age }
}
