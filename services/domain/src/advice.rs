//! Advice: when to renew, when to look next, how long such parts last, and how far the records carry.
//!
//! What may be risked is in [`Policy`], one readable table; how records turn into an answer is in [`advise`]. Each
//! failure mode is judged by itself where its failures are enough ([`ModeAdvice`]).

mod advise;
mod answer;
mod by_mode;
mod curve;
mod evidence;
mod exact_ages;
mod grade;
mod input;
mod inspection;
mod judged;
mod model;
mod modes;
mod outlook;
mod policy;
mod replacement;
mod series;
mod settlement;
mod settling;
pub mod wording;

pub use advise::advise;
pub use answer::{
    Advice, Bound, Caution, CautionCode, EstimateWithLimits, Evidence, InspectionAdvice,
    InspectionVerdict, KnownShapeResult, LifeSummary, LimitsKind, ModelMethod, ModelSummary,
    PracticeShown, ReplacementAdvice, ReplacementBasis, RiskAhead, SpanAtAge, WithheldNote,
};
pub use by_mode::{ModeAdvice, ModeVerdict};
pub use grade::{EvidenceColumns, grade};
pub use input::{AdviceInput, ModeCount};
pub use policy::{Policy, Target, policy};
pub use settling::SettlingLooks;

#[cfg(test)]
mod tests;
