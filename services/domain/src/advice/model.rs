//! Which model the records allow, and what it says of the life.

use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{Fit, KnownShapeFit, fit, known_shape};
use wearbook_analysis::intervals::{Level, Limits, Method, Quantity, limits};
use wearbook_analysis::replacement::WeibullLife;
use wearbook_analysis::sample::Sample;

use super::answer::{
    EstimateWithLimits, KnownShapeResult, LifeSummary, LimitsKind, ModelMethod, ModelSummary,
};
use super::curve::Curve;
use super::exact_ages::at_last_clean_look;
use super::input::AdviceInput;
use super::wording::plain;
use crate::catalogue::PartType;
use crate::keys::FailureModeKey;

/// The model behind one answer.
pub(super) enum Model {
    /// Both numbers of a Weibull, with two-sided limits of the shape.
    Fitted {
        fit: Box<Fit>,
        shape: Option<Limits>,
    },
    /// The least, middle and greatest plausible shape.
    Known {
        fits: Vec<KnownShapeFit>,
        why: String,
    },
    /// No usable records.
    Nothing { why: String },
}

/// Whether parts wear out, as far as the records show.
pub(super) enum Wear {
    /// Older parts fail more: renewal by age can help.
    Shown,
    /// The records, or the assumed shapes, also fit parts that do not wear.
    NotShown,
    /// Young parts fail more: renewal by age makes things worse.
    FailsEarly,
}

impl Model {
    pub(super) fn choose(input: &AdviceInput<'_>) -> Self {
        let failures = input.sample.failures();
        if failures < input.policy.fewest_failures_for_a_fit {
            let why = format!(
                "With {} a Weibull cannot be fitted with both its numbers; its shape is assumed from like parts.",
                plain::count(failures, "failure")
            );
            return Self::known(input, why);
        }
        match fit(input.sample, Family::Weibull) {
            Ok(fit) => {
                let shape = level(input).and_then(|level| {
                    limits(
                        input.sample,
                        &fit,
                        Quantity::Parameter("shape"),
                        level,
                        Method::LikelihoodRatio,
                    )
                    .ok()
                });
                Self::Fitted {
                    fit: Box::new(fit),
                    shape,
                }
            }
            Err(error) => Self::known(
                input,
                format!(
                    "A Weibull could not be fitted with both its numbers ({error}); its shape is assumed from like parts."
                ),
            ),
        }
    }

    fn known(input: &AdviceInput<'_>, why: String) -> Self {
        match known_fits(input.sample, input.part_type) {
            Ok(fits) => Self::Known { fits, why },
            Err(why) => Self::Nothing { why },
        }
    }

    /// The careful side at a one-sided confidence.
    pub(super) fn curve<'a>(&'a self, input: &AdviceInput<'a>, level: f64) -> Option<Curve<'a>> {
        match self {
            Self::Fitted { fit, .. } => Curve::fitted(input.sample, fit, level),
            Self::Known { fits, .. } => Curve::known_shapes(fits, level),
            Self::Nothing { .. } => None,
        }
    }

    pub(super) fn wear(&self) -> Wear {
        match self {
            Self::Fitted {
                shape: Some(Limits {
                    lower: Some(lower), ..
                }),
                ..
            } if *lower > 1.0 => Wear::Shown,
            Self::Fitted {
                shape: Some(Limits {
                    upper: Some(upper), ..
                }),
                ..
            } if *upper < 1.0 => Wear::FailsEarly,
            Self::Known { fits, .. } if fits.iter().all(|fit| fit.shape > 1.0) => Wear::Shown,
            Self::Known { fits, .. } if fits.iter().all(|fit| fit.shape < 1.0) => Wear::FailsEarly,
            _ => Wear::NotShown,
        }
    }

    /// Best value of the chance that a component that works at `age` fails within `span`; `None` without failures.
    pub(super) fn chance_ahead(&self, age: f64, span: f64) -> Option<f64> {
        match self {
            Self::Fitted { fit, .. } => Some(fit.conditional_failure(age, span)),
            Self::Known { fits, .. } => {
                let (_, middle, _) = ends(fits)?;
                let life = WeibullLife::new(middle.shape, middle.scale?).ok()?;
                Some(life.conditional_failure(age, span))
            }
            Self::Nothing { .. } => None,
        }
    }

    /// Best value of the age by which a share `p` has failed; `None` without failures.
    pub(super) fn quantile(&self, p: f64) -> Option<f64> {
        match self {
            Self::Fitted { fit, .. } => fit.quantile(p),
            Self::Known { fits, .. } => {
                let (_, middle, _) = ends(fits)?;
                WeibullLife::new(middle.shape, middle.scale?)
                    .ok()?
                    .quantile(p)
            }
            Self::Nothing { .. } => None,
        }
    }

    /// Best value of the shape, where it was fitted.
    pub(super) fn fitted_shape(&self) -> Option<f64> {
        match self {
            Self::Fitted { fit, .. } => fit.parameter("shape"),
            _ => None,
        }
    }

    /// The shape with its two-sided limits, where it was fitted.
    pub(super) fn shape(&self) -> Option<EstimateWithLimits> {
        match self {
            Self::Fitted { fit, shape } => Some(with_limits(
                fit.parameter("shape"),
                shape.as_ref(),
                f64::INFINITY,
            )),
            _ => None,
        }
    }

    /// The model for the answer, as the one of `mode`, or of all failures.
    pub(super) fn summary(
        &self,
        input: &AdviceInput<'_>,
        mode: Option<&FailureModeKey>,
    ) -> Option<ModelSummary> {
        let shown = input.policy.shown_level;
        match self {
            Self::Fitted { fit, shape } => Some(ModelSummary {
                family: "weibull".to_owned(),
                mode: mode.cloned(),
                method: ModelMethod::MaximumLikelihood,
                shape: with_limits(fit.parameter("shape"), shape.as_ref(), f64::INFINITY),
                scale: with_limits(
                    fit.parameter("scale"),
                    level(input)
                        .and_then(|level| {
                            limits(input.sample, fit, Quantity::Parameter("scale"), level, Method::LikelihoodRatio).ok()
                        })
                        .as_ref(),
                    input.sample.longest_usage(),
                ),
                level: shown,
                why_chosen: "A Weibull with both numbers fitted, the family in which wear and early failure are told \
                             apart by one number, the shape."
                    .to_owned(),
            }),
            Self::Known { fits, why } => {
                let (low, middle, high) = ends(fits)?;
                let (lower, upper) = middle.scale_limits(shown);
                Some(ModelSummary {
                    family: "weibull".to_owned(),
                    mode: mode.cloned(),
                    method: ModelMethod::KnownShape,
                    shape: EstimateWithLimits {
                        value: Some(middle.shape),
                        lower: Some(low.shape),
                        upper: Some(high.shape),
                        beyond_records: false,
                    },
                    scale: EstimateWithLimits {
                        value: middle.scale,
                        lower,
                        upper,
                        beyond_records: middle.scale.is_none_or(|s| s > input.sample.longest_usage()),
                    },
                    level: shown,
                    why_chosen: format!(
                        "{why} The shape's limits are the range thought plausible ({}).",
                        input.part_type.shape_source
                    ),
                })
            }
            Self::Nothing { .. } => None,
        }
    }

    pub(super) fn life(&self, input: &AdviceInput<'_>) -> Option<LifeSummary> {
        let longest = input.sample.longest_usage();
        let shown = input.policy.shown_level;
        let (at, limits): (Box<dyn Fn(f64) -> EstimateWithLimits>, _) = match self {
            Self::Fitted { fit, .. } => {
                let level = level(input)?;
                let at = move |p| {
                    let limits = limits(
                        input.sample,
                        fit,
                        Quantity::Quantile(p),
                        level,
                        Method::LikelihoodRatio,
                    )
                    .ok();
                    with_limits(fit.quantile(p), limits.as_ref(), longest)
                };
                (Box::new(at), LimitsKind::LikelihoodRatio)
            }
            Self::Known { fits, .. } => {
                let at = move |p| known_quantile(fits, p, shown, longest);
                (Box::new(at), LimitsKind::ChiSquare)
            }
            Self::Nothing { .. } => return None,
        };
        Some(LifeSummary {
            ten_in_hundred_failed: at(0.10),
            half_failed: at(0.50),
            level: shown,
            limits,
        })
    }
}

/// What each of the three shapes gives, when failures are too few for the shape to come from the records alone.
pub(super) fn known_shape_range(input: &AdviceInput<'_>) -> Vec<KnownShapeResult> {
    if input.sample.failures() >= input.policy.few_failures {
        return Vec::new();
    }
    let target = input.target();
    known_fits(input.sample, input.part_type)
        .unwrap_or_default()
        .iter()
        .map(|fit| KnownShapeResult {
            shape: fit.shape,
            scale_lower: fit.scale_lower(target.level),
            ten_in_hundred_failed_lower: fit.quantile_lower(0.10, target.level),
            age_at_target_lower: target
                .per_interval
                .and_then(|p| fit.quantile_lower(p, target.level)),
            level: target.level,
        })
        .collect()
}

fn known_fits(sample: &Sample, part_type: &PartType) -> Result<Vec<KnownShapeFit>, String> {
    if sample.lives() == 0 {
        return Err("There are no lives on record.".to_owned());
    }
    let careful = at_last_clean_look(sample).ok_or("The lives on record could not be read.")?;
    let [low, high] = part_type.plausible_shape;
    [low, 0.5 * (low + high), high]
        .into_iter()
        .map(|shape| known_shape(&careful, shape))
        .collect::<Result<_, _>>()
        .map_err(|error| format!("The records allow no estimate: {error}."))
}

/// The least, middle and greatest shape.
fn ends(fits: &[KnownShapeFit]) -> Option<(&KnownShapeFit, &KnownShapeFit, &KnownShapeFit)> {
    Some((fits.first()?, fits.get(1)?, fits.last()?))
}

/// Best value from the middle shape, limits from the shapes that push them furthest out.
fn known_quantile(fits: &[KnownShapeFit], p: f64, level: f64, longest: f64) -> EstimateWithLimits {
    let factor = |fit: &KnownShapeFit| (-(-p).ln_1p()).powf(1.0 / fit.shape);
    let value = fits
        .get(1)
        .and_then(|fit| fit.scale.map(|scale| scale * factor(fit)));
    let side = |upper: bool| {
        let ages: Option<Vec<f64>> = fits
            .iter()
            .map(|fit| {
                let (low, high) = fit.scale_limits(level);
                let scale = if upper { high } else { low };
                scale.map(|scale| scale * factor(fit))
            })
            .collect();
        ages?
            .into_iter()
            .reduce(if upper { f64::max } else { f64::min })
    };
    EstimateWithLimits {
        value,
        lower: side(false),
        upper: side(true),
        beyond_records: value.is_none_or(|age| age > longest),
    }
}

fn level(input: &AdviceInput<'_>) -> Option<Level> {
    Level::two_sided(input.policy.shown_level).ok()
}

fn with_limits(value: Option<f64>, limits: Option<&Limits>, longest: f64) -> EstimateWithLimits {
    EstimateWithLimits {
        value,
        lower: limits.and_then(|l| l.lower),
        upper: limits.and_then(|l| l.upper),
        beyond_records: value.is_none_or(|age| age > longest),
    }
}
