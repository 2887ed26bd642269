//! Which model to read first.

use super::{Chosen, ModelReport};
use crate::families::Family;
use crate::sample::Sample;

/// Below this many failures the criterion says more about chance than about the family.
const ENOUGH_FAILURES: u64 = 10;

pub(super) fn choose(sample: &Sample, models: &[ModelReport]) -> Option<Chosen> {
    let fitted = || models.iter().filter(|model| model.log_likelihood.is_some());
    let failures = sample.failures();
    let default = || {
        fitted()
            .find(|model| model.family == Family::Weibull)
            .or_else(|| fitted().next())
            .map(|model| model.family)
    };
    if failures < ENOUGH_FAILURES {
        let family = default()?;
        return Some(Chosen {
            family,
            why: format!(
                "With {failures} failures (fewer than {ENOUGH_FAILURES}) the data cannot tell families apart, so the {} model is taken by default.",
                family.code()
            ),
        });
    }
    let mut ranked: Vec<(f64, Family)> = fitted()
        .filter_map(|model| Some((model.aicc?, model.family)))
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((best, family)) = ranked.first().copied() else {
        let family = default()?;
        return Some(Chosen {
            family,
            why: format!(
                "Taken by default: the {} model could be fitted.",
                family.code()
            ),
        });
    };
    let why = match ranked.get(1) {
        None => "The only model that could be fitted.".to_owned(),
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
