//! Modes fitted apart against one fit for all, by likelihood on the same data.
//!
//! Both models are taken as models of age and mode together. The single fit has a mode whose share does not depend on
//! age, so its best shares are the shares seen; that costs one parameter less than there are modes.

use super::mode::{Mode, ModeCurve};
use super::system::incidence;
use crate::families::Family;
use crate::fitting::fit;
use crate::observation::Ending;
use crate::sample::Sample;
use crate::summation::Sum;

/// Which description the data favour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Modes fitted apart.
    Series,
    /// One fit for all.
    Single,
    /// The criteria lie within 2 of each other.
    Undecided,
}

/// Modes fitted apart against one fit for all.
#[derive(Clone, Debug, PartialEq)]
pub struct SingleFitComparison {
    /// Family of the single fit.
    pub single_family: Family,
    /// Log-likelihood of ages and modes, modes fitted apart.
    pub series_log_likelihood: f64,
    /// Log-likelihood of ages and modes, one fit with shares of the modes that do not depend on age.
    pub single_log_likelihood: f64,
    /// Log-likelihood of the ages alone under the modes fitted apart (which do not maximise it).
    pub series_log_likelihood_of_ages: f64,
    /// Log-likelihood of the ages alone under the single fit.
    pub single_log_likelihood_of_ages: f64,
    /// Free parameters of the modes fitted apart.
    pub series_parameters: u32,
    /// Free parameters of the single fit and the shares.
    pub single_parameters: u32,
    /// Akaike's criterion, modes fitted apart.
    pub series_aic: f64,
    /// Akaike's criterion of the single fit.
    pub single_aic: f64,
    /// Which is better by at least 2.
    pub better: Better,
    /// The same in a sentence.
    pub statement: String,
}

/// None where the single fit or a likelihood does not exist.
pub(super) fn compare(
    sample: &Sample,
    family: Family,
    modes: &[Mode],
    curves: &[ModeCurve],
) -> Option<SingleFitComparison> {
    let single = fit(sample, family).ok()?;
    let failures = sample.failures() as f64;
    let seen = modes.iter().filter(|mode| mode.failures > 0);
    let shares: f64 = seen
        .clone()
        .map(|mode| mode.failures as f64 * (mode.failures as f64 / failures).ln())
        .collect::<Sum>()
        .total();
    let (ages_and_modes, ages) = series_log_likelihood(sample, modes, curves)?;
    let series_parameters = modes.iter().map(Mode::parameters).sum();
    let free_shares = u32::try_from(seen.count().saturating_sub(1)).ok()?;
    let single_parameters = family.parameters() + free_shares;
    let single_log_likelihood = single.log_likelihood + shares;
    let aic = |value: f64, parameters: u32| 2.0 * f64::from(parameters) - 2.0 * value;
    let series_aic = aic(ages_and_modes, series_parameters);
    let single_aic = aic(single_log_likelihood, single_parameters);
    let gap = series_aic - single_aic;
    let better = if gap <= -2.0 {
        Better::Series
    } else if gap >= 2.0 {
        Better::Single
    } else {
        Better::Undecided
    };
    let statement = match better {
        Better::Series => format!(
            "The causes fitted apart describe these lives better: Akaike's criterion is lower by {:.1}.",
            -gap
        ),
        Better::Single => format!(
            "One fit for all causes describes these lives better: Akaike's criterion is lower by {gap:.1}."
        ),
        Better::Undecided => format!(
            "The data do not settle whether the causes differ: Akaike's criteria lie {:.1} apart.",
            gap.abs()
        ),
    };
    Some(SingleFitComparison {
        single_family: family,
        series_log_likelihood: ages_and_modes,
        single_log_likelihood,
        series_log_likelihood_of_ages: ages,
        single_log_likelihood_of_ages: single.log_likelihood,
        series_parameters,
        single_parameters,
        series_aic,
        single_aic,
        better,
        statement,
    })
}

/// Log-likelihood of ages with modes, and of ages alone, of the whole system; exact failures by density, others by
/// the integral between their bounds.
fn series_log_likelihood(
    sample: &Sample,
    modes: &[Mode],
    curves: &[ModeCurve],
) -> Option<(f64, f64)> {
    let (mut joint, mut ages) = (Sum::default(), Sum::default());
    for row in sample.observations() {
        let count = row.count as f64;
        let unfailed: f64 = curves
            .iter()
            .map(|curve| curve.gained(row.entry, row.lower))
            .sum();
        joint.add(-count * unfailed);
        ages.add(-count * unfailed);
        let ending = row.ending();
        if ending == Ending::RightCensored {
            continue;
        }
        let cause = row.cause;
        let place = modes
            .iter()
            .position(|mode| mode.cause.as_deref() == cause)?;
        let mine = curves.get(place)?;
        if ending == Ending::Exact {
            let y = row.upper.ln();
            let rates: Vec<f64> = curves.iter().map(|curve| curve.ln_rate(y)).collect();
            let most = rates.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let sum: f64 = rates.iter().map(|rate| (rate - most).exp()).sum();
            joint.add(count * (mine.ln_rate(y) - y));
            ages.add(count * (most + sum.ln() - y));
        } else {
            joint.add(count * incidence(curves, mine, row.lower, row.upper)?.ln());
            let gained: f64 = curves
                .iter()
                .map(|curve| curve.gained(row.lower, row.upper))
                .sum();
            ages.add(count * (-(-gained).exp_m1()).ln());
        }
    }
    let pair = (joint.total(), ages.total());
    (pair.0.is_finite() && pair.1.is_finite()).then_some(pair)
}
