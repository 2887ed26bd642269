//! Which model to read first.

use super::{Chosen, ModelReport};
use crate::families::Family;
use crate::sample::Sample;

/// Below this many failures the criterion says more about chance than about the family.
const ENOUGH_FAILURES: u64 = 10;

pub(super) fn choose(sample: &Sample, models: &[ModelReport]) -> Option<Chosen> {
    let fitted = || models.iter().filter(|model| model.log_likelihood.is_some());
    let failures = sample.failures();
    let first = fitted().next()?.family;
    if fitted().count() == 1 {
        let why = match models.len() {
            1 => "The only family that was asked for.".to_owned(),
            asked => format!("The only one of {asked} families that could be fitted."),
        };
        return Some(Chosen { family: first, why });
    }
    let usual = fitted().find(|model| model.family == Family::Weibull);
    let default = usual.map_or(first, |model| model.family);
    if failures < ENOUGH_FAILURES {
        let noun = if failures == 1 { "failure" } else { "failures" };
        let rule = if usual.is_some() {
            "by default"
        } else {
            "as the first that was asked for and could be fitted"
        };
        return Some(Chosen {
            family: default,
            why: format!(
                "With {failures} {noun} (fewer than {ENOUGH_FAILURES}) the data cannot tell families apart; the {} model is taken {rule}.",
                default.code()
            ),
        });
    }
    let mut ranked: Vec<(f64, Family)> = fitted()
        .filter_map(|model| Some((model.aicc?, model.family)))
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((best, family)) = ranked.first().copied() else {
        return Some(Chosen {
            family: default,
            why: format!(
                "No model has a corrected Akaike criterion; the {} model is taken by default.",
                default.code()
            ),
        });
    };
    let why = match ranked.get(1) {
        None => "The only model that has a corrected Akaike criterion.".to_owned(),
        Some((next, other)) if next - best < 2.0 => format!(
            "Lowest corrected Akaike criterion ({best:.2}), but the {} model is close ({next:.2}); {failures} failures do not settle it.",
            other.code()
        ),
        Some((next, other)) => format!(
            "Lowest corrected Akaike criterion ({best:.2}); next is the {} model ({next:.2}).",
            other.code()
        ),
    };
    Some(Chosen { family, why })
}
