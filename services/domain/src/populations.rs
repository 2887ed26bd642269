//! Whose records may be shown together: a rule of privacy.

use serde::{Deserialize, Serialize};
use thiserror::Error;
use utoipa::ToSchema;

/// Fewest owners whose records may be shown as one figure to others.
pub const FEWEST_CONTRIBUTORS: usize = 5;
/// Fewest lives behind a figure shown to others.
pub const FEWEST_LIVES: u64 = 10;
/// Largest share of the lives that one owner may bring.
pub const LARGEST_SHARE_OF_ONE: f64 = 0.5;
/// Largest share of the lives that two owners may bring together.
pub const LARGEST_SHARE_OF_TWO: f64 = 0.8;

/// Why a pooled figure is not shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema, Error)]
#[serde(rename_all = "kebab-case")]
pub enum Withheld {
    /// Too few owners stand behind it.
    #[error(
        "fewer than {FEWEST_CONTRIBUTORS} owners have records here, so figures could point to one of them"
    )]
    TooFewContributors,
    /// Too few lives stand behind it.
    #[error(
        "fewer than {FEWEST_LIVES} lives are on record here, so figures could point to one of them"
    )]
    TooFewLives,
    /// One or two owners bring nearly all of it.
    #[error("one or two owners bring most of the records here, so figures would show theirs")]
    OneSided,
}

/// Whether figures of a population may be shown to people whose records are not the whole of it.
///
/// The rule follows common statistical disclosure practice (from memory): at least five contributors and ten lives,
/// at most half from one contributor and four fifths from two.
#[must_use]
pub fn withheld(lives_per_contributor: &[u64]) -> Option<Withheld> {
    let mut counts: Vec<u64> = lives_per_contributor
        .iter()
        .copied()
        .filter(|n| *n > 0)
        .collect();
    counts.sort_unstable_by(|a, b| b.cmp(a));
    let total: u64 = counts.iter().sum();
    if counts.len() < FEWEST_CONTRIBUTORS {
        return Some(Withheld::TooFewContributors);
    }
    if total < FEWEST_LIVES {
        return Some(Withheld::TooFewLives);
    }
    let share = |how_many: usize| counts.iter().take(how_many).sum::<u64>() as f64 / total as f64;
    let one_sided = share(1) > LARGEST_SHARE_OF_ONE || share(2) > LARGEST_SHARE_OF_TWO;
    one_sided.then_some(Withheld::OneSided)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_owners_of_even_size_may_be_shown() {
        assert_eq!(withheld(&[3, 3, 2, 2, 2]), None);
    }

    #[test]
    fn four_owners_are_too_few_however_many_lives_they_bring() {
        assert_eq!(
            withheld(&[100, 100, 100, 100, 0]),
            Some(Withheld::TooFewContributors)
        );
    }

    #[test]
    fn nine_lives_are_too_few() {
        assert_eq!(withheld(&[2, 2, 2, 2, 1]), Some(Withheld::TooFewLives));
    }

    #[test]
    fn one_owner_with_more_than_half_or_two_with_more_than_four_fifths_are_too_much() {
        assert_eq!(withheld(&[12, 3, 3, 2, 1]), Some(Withheld::OneSided));
        assert_eq!(withheld(&[45, 45, 4, 3, 3]), Some(Withheld::OneSided));
    }
}
