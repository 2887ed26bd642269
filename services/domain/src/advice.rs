//! Advice: when to renew, when to look next, how long such parts last, and how far the records carry.
//!
//! What may be risked is in [`Policy`], one readable table; how records turn into an answer is in [`advise`].

mod advise;
mod answer;
mod curve;
mod grade;
mod input;
mod inspection;
mod model;
mod outlook;
mod policy;
mod replacement;
mod settlement;
pub mod wording;

pub use advise::advise;
pub use answer::{
    Advice, Bound, Caution, CautionCode, EstimateWithLimits, Evidence, InspectionAdvice,
    InspectionVerdict, KnownShapeResult, LifeSummary, LimitsKind, ModelMethod, ModelSummary,
    PracticeShown, ReplacementAdvice, ReplacementBasis, RiskAhead, SpanAtAge, WithheldNote,
};
pub use grade::{EvidenceColumns, grade};
pub use input::{AdviceInput, ModeCount};
pub use policy::{Policy, Target, policy};

#[cfg(test)]
mod tests;
