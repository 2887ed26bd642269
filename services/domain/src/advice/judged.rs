//! One group of failures with its model and what that says of wear.

use super::by_mode::ModeVerdict;
use super::curve::Curve;
use super::input::AdviceInput;
use super::model::{Model, Wear};
use super::modes::Group;
use super::replacement::{Proposal, propose};
use super::settling::share_within_settling;
use crate::catalogue::{FailureMode, PartType};
use crate::keys::FailureModeKey;

/// A group of failures, judged by itself.
pub(super) struct Judged<'g> {
    pub(super) mode: Option<&'g FailureModeKey>,
    /// The input with the group's own lives.
    pub(super) input: AdviceInput<'g>,
    pub(super) model: Model,
    pub(super) verdict: ModeVerdict,
    /// The renewal it asks for by itself.
    pub(super) proposal: Proposal,
}

impl<'g> Judged<'g> {
    pub(super) fn new(whole: &AdviceInput<'g>, group: &'g Group<'g>) -> Self {
        let mode = group.mode.as_ref();
        let input = AdviceInput {
            sample: &group.sample,
            ..whole.clone()
        };
        let model = Model::choose(&input);
        let verdict = verdict(&input, &model, mode);
        let curve = model.curve(&input, input.target().level);
        // The longest usage that caps an age is that of all lives.
        let proposal = propose(whole, &model, curve.as_ref());
        drop(curve);
        Self {
            mode,
            input,
            model,
            verdict,
            proposal,
        }
    }

    /// The careful side of the model at the level of the targets.
    pub(super) fn curve(&self) -> Option<Curve<'_>> {
        self.model.curve(&self.input, self.input.target().level)
    }

    pub(super) fn failures(&self) -> u64 {
        self.input.sample.failures()
    }

    /// Whether it counts as early by how it comes about, though its shape alone does not show that.
    pub(super) fn comes_with_fitting(&self) -> bool {
        self.verdict == ModeVerdict::Early && !matches!(self.model.wear(), Wear::FailsEarly)
    }

    /// The mode in words, if it is a mode of its own.
    pub(super) fn name(&self) -> Option<String> {
        self.mode.map(|mode| name_of(self.input.part_type, mode))
    }
}

/// Early too if the shape may include 1 but its best value lies below and the failures come with fitting: the
/// catalogue says so, or half of them came in the first flights.
fn verdict(input: &AdviceInput<'_>, model: &Model, mode: Option<&FailureModeKey>) -> ModeVerdict {
    match model.wear() {
        Wear::Shown => ModeVerdict::WearsOut,
        Wear::FailsEarly => ModeVerdict::Early,
        Wear::NotShown => {
            let below_one = model.fitted_shape().is_some_and(|shape| shape < 1.0);
            let of_assembly = mode
                .and_then(|mode| input.part_type.failure_mode(mode))
                .is_some_and(is_assembly_error);
            let mostly_early = share_within_settling(input).is_some_and(|share| share >= 0.5);
            if below_one && (of_assembly || mostly_early) {
                ModeVerdict::Early
            } else {
                ModeVerdict::NoClearWear
            }
        }
    }
}

/// Whether the catalogue gives putting together as the way this failure comes about.
fn is_assembly_error(mode: &FailureMode) -> bool {
    mode.mechanism.starts_with("Assembly error")
}

/// The mode's name in the catalogue, or its key as words.
pub(super) fn name_of(part_type: &PartType, mode: &FailureModeKey) -> String {
    if *mode == FailureModeKey::not_stated() {
        return "Manner not stated".to_owned();
    }
    part_type.failure_mode(mode).map_or_else(
        || mode.as_str().replace('-', " "),
        |known| known.name.clone(),
    )
}
