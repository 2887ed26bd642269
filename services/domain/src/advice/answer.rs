//! The answer as the API gives it. Ages, spans and limits are in the unit of `scale` throughout.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::by_mode::ModeAdvice;
use super::input::ModeCount;
use super::settling::SettlingLooks;
use crate::ids::FitId;
use crate::keys::{FailureModeKey, PartTypeKey};
use crate::populations::Withheld;
use crate::units::WearScale;
use crate::vocabulary::{EvidenceGrade, Severity};

/// What the records suggest for one part type, and how far they carry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Advice {
    /// The part type.
    pub part_type: PartTypeKey,
    /// The worst it can do when it fails; sets the target.
    pub severity: Severity,
    /// The clock of every age here.
    pub scale: WearScale,
    /// That clock's unit in words.
    pub unit: String,
    /// The whole advice in a few sentences.
    pub summary: String,
    /// When to renew.
    pub replacement: ReplacementAdvice,
    /// When to look next.
    pub inspection: InspectionAdvice,
    /// What each failure mode on record says by itself, most failures first; empty without failures or if withheld.
    #[serde(default)]
    #[schema(required)]
    pub by_mode: Vec<ModeAdvice>,
    /// Looks after fitting; absent where no failure mode comes early.
    pub settling_looks: Option<SettlingLooks>,
    /// The chance of failure by whatever mode over the next flights from the inspection's age on; empty where the
    /// records do not reach. With several modes the upper limit is the sum of theirs.
    pub risk_ahead: Vec<RiskAhead>,
    /// How long such parts last; absent where nothing can be said.
    pub life: Option<LifeSummary>,
    /// Whose records these are, in words.
    pub population: String,
    /// Lives behind the answer, failures at first use apart; this and the counts below are absent if withheld.
    pub lives: Option<u64>,
    /// How many of them failed.
    pub failures: Option<u64>,
    /// How many failed before any use; they enter no model.
    pub dead_on_arrival: Option<u64>,
    /// Owners whose records these are.
    pub contributors: Option<u64>,
    /// Longest usage of any component on record; nothing is suggested beyond it.
    pub longest_usage: Option<f64>,
    /// Usage of all components together.
    pub total_usage: Option<f64>,
    /// How the components failed.
    pub modes: Vec<ModeCount>,
    /// The model behind the answer, that of the mode which decides; absent for common practice only.
    pub model: Option<ModelSummary>,
    /// What each assumed shape would give; filled when failures are few.
    pub known_shape_range: Vec<KnownShapeResult>,
    /// How much the records carry.
    pub evidence: Evidence,
    /// What people commonly do.
    pub common_practice: Vec<PracticeShown>,
    /// What to bear in mind; never empty.
    pub cautions: Vec<Caution>,
    /// The stored fit, if there is one.
    pub fit_id: Option<FitId>,
    /// Lower-case hexadecimal SHA-256 of the lives; absent if withheld.
    pub data_digest: Option<String>,
    /// The moment up to which records were read.
    pub data_as_of: DateTime<Utc>,
    /// Ask again after this.
    pub valid_until: DateTime<Utc>,
    /// Version of the policy whose targets were used.
    pub policy_version: u32,
    /// Why figures are not shown, if they are not.
    pub withheld_reason: Option<WithheldNote>,
}

/// Why figures are not shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WithheldNote {
    /// The rule as a word.
    pub code: Withheld,
    /// The rule as a sentence.
    pub why: String,
}

/// The side on which a number errs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// The true value is thought to lie above.
    Lower,
}

/// What decided the renewal age.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ReplacementBasis {
    /// The most chance of failure before renewal.
    RiskPerInterval,
    /// The most mean chance of failure per flight.
    MeanRiskPerFlight,
    /// The target would allow more, but nothing on record lasted longer.
    CappedAtLongestObserved,
    /// What people commonly do: the records cannot shorten it, or must not lengthen it.
    CommonPractice,
    /// Renewal by age is not suggested.
    None,
}

/// When to renew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReplacementAdvice {
    /// The age by which to renew, rounded down to whole units; absent where none is suggested.
    pub value: Option<f64>,
    /// The clock.
    pub scale: WearScale,
    /// Its unit in words.
    pub unit: String,
    /// On which side of the truth the value errs; absent where it is common practice or absent.
    pub bound: Option<Bound>,
    /// One-sided confidence of the value, between 0 and 1; absent where it is common practice or absent.
    pub level: Option<f64>,
    /// Most chance of failure before renewal.
    pub target_per_interval: Option<f64>,
    /// Most mean chance of failure per flight.
    pub target_per_flight: Option<f64>,
    /// The age the target per interval alone would give, on the careful side.
    pub age_at_interval_target: Option<f64>,
    /// The age the target per flight alone would give, on the careful side; absent where it does not bind first.
    pub age_at_flight_target: Option<f64>,
    /// What decided it.
    pub basis: ReplacementBasis,
    /// The failure mode that decided it, where modes were told apart.
    pub mode: Option<FailureModeKey>,
    /// The same in a sentence.
    pub why: String,
}

/// What to do about the next look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum InspectionVerdict {
    /// Look again within the span.
    WithinSpan,
    /// Replace, or look before every flight: the target is used up within one flight, or nothing on record is as old.
    BeforeEveryFlight,
    /// There is no target, or no records to say.
    NotStated,
}

/// When to look next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct InspectionAdvice {
    /// What to do.
    pub verdict: InspectionVerdict,
    /// The age the span counts from: the component's own, or 0 for the part type in general.
    pub age: f64,
    /// Usage within which to look again, rounded down to whole units; absent unless the verdict is a span.
    pub span: Option<f64>,
    /// Most chance of failure before the next look, for a component that works now.
    pub target: Option<f64>,
    /// One-sided confidence with which the target is met.
    pub level: f64,
    /// Whether the span was cut because nothing on record lasted longer.
    pub capped: bool,
    /// The failure mode that decided it, where modes were told apart.
    pub mode: Option<FailureModeKey>,
    /// The same in a sentence.
    pub why: String,
    /// The span at a few ages.
    pub table: Vec<SpanAtAge>,
}

/// A line of the table of spans.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SpanAtAge {
    /// Age of a component that works.
    pub age: f64,
    /// Usage within which to look again; absent where that is before every flight.
    pub span: Option<f64>,
}

/// The chance of failure over the next flights, for a component that works now.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct RiskAhead {
    /// How many flights ahead.
    pub flights: f64,
    /// The same as usage on the scale.
    pub span: f64,
    /// The best value; absent without failures.
    pub chance: Option<f64>,
    /// The one-sided upper limit.
    pub upper: f64,
    /// The confidence of that limit.
    pub level: f64,
}

/// An estimate with limits on both sides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct EstimateWithLimits {
    /// The best value; absent without failures.
    pub value: Option<f64>,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit; absent where the records set none.
    pub upper: Option<f64>,
    /// Whether the best value lies beyond the longest usage on record.
    pub beyond_records: bool,
}

/// How long such parts last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LifeSummary {
    /// Age by which 10 in 100 have failed (t0.10).
    pub ten_in_hundred_failed: EstimateWithLimits,
    /// Age by which half have failed.
    pub half_failed: EstimateWithLimits,
    /// Confidence that the true value lies between the limits (each side misses it with half the rest).
    pub level: f64,
    /// How the limits were made.
    pub limits: LimitsKind,
}

/// How limits were made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LimitsKind {
    /// From the ratio of likelihoods.
    LikelihoodRatio,
    /// From the chi-square distribution, with the shape taken as known.
    ChiSquare,
    /// Read off the product-limit curve of all failures with log-log limits, where each failure mode has a model of
    /// its own. Failures found at checks count at the last clean look for the lower limit, when found for the upper.
    ProductLimit,
}

/// How the model was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ModelMethod {
    /// Both numbers fitted to the records.
    MaximumLikelihood,
    /// The shape assumed from parts that wear alike, the scale from the records.
    KnownShape,
}

/// The model behind the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ModelSummary {
    /// The family: weibull.
    pub family: String,
    /// The failure mode it is of; absent where several are taken together or none is named.
    pub mode: Option<FailureModeKey>,
    /// How it was made.
    pub method: ModelMethod,
    /// The Weibull shape: above 1 parts wear out, below 1 they fail early.
    pub shape: EstimateWithLimits,
    /// The Weibull scale: the age by which 63 in 100 have failed.
    pub scale: EstimateWithLimits,
    /// Confidence that the true value lies between the limits.
    pub level: f64,
    /// Why this model.
    pub why_chosen: String,
}

/// What one assumed shape gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct KnownShapeResult {
    /// The assumed shape.
    pub shape: f64,
    /// Lower limit of the scale.
    pub scale_lower: Option<f64>,
    /// Lower limit of the age by which 10 in 100 have failed.
    pub ten_in_hundred_failed_lower: Option<f64>,
    /// Lower limit of the age at which the target per interval is used up.
    pub age_at_target_lower: Option<f64>,
    /// One-sided confidence of these limits.
    pub level: f64,
}

/// How much the records carry, and why no more.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Evidence {
    /// The grade: the weakest that any column of the rule gives.
    pub grade: EvidenceGrade,
    /// What each column found, in sentences.
    pub reasons: Vec<String>,
}

/// What people commonly do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PracticeShown {
    /// The job.
    pub task: String,
    /// Least and greatest of what is commonly done, in `unit`.
    pub interval: Option<[f64; 2]>,
    /// Unit of the interval.
    pub unit: String,
    /// The event that asks for the job.
    pub trigger: Option<String>,
    /// Where this comes from.
    pub source: String,
}

/// What kind of warning a caution is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CautionCode {
    /// The short text that stands under every answer.
    Statistics,
    /// The target is stricter than these records can show.
    CannotBeShown,
    /// The answer stops at the longest usage on record.
    Extrapolation,
    /// The answer rests on an assumed shape.
    AssumedShape,
    /// Several failure modes were fitted as one.
    MixedModes,
    /// Each failure mode is held to the target by itself.
    ModesApart,
    /// Failure modes with too few failures do not decide.
    RareModes,
    /// Failures of unstated manner were counted to the mode seen most.
    ModeNotStated,
    /// Parts failed before any use.
    DeadOnArrival,
    /// Failures found at checks are known between two looks only.
    FoundAtChecks,
    /// The scale is not flights and no wear per flight is known.
    NoConversion,
}

/// Something to bear in mind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Caution {
    /// What kind it is.
    pub code: CautionCode,
    /// The sentence to show.
    pub text: String,
}
