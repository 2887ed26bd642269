//! Groups of one family of parts: log scale and log shape of each are drawn from one normal distribution, whose mean
//! and covariance come from all groups together (empirical Bayes; Efron and Morris 1975, JASA 70; Gelman et al. 2013,
//! chapter 5).

use nalgebra::{DMatrix, DVector};

use super::PoolingError;
use super::posterior::{GroupLives, Peak, Setting, Work};
use super::spread::{Fitted, best_spread};
use crate::families::Family;
use crate::fitting::rows::Row;
use crate::fitting::{Fit, FitError, fit};
use crate::intervals::{Level, Limits, LimitsError};
use crate::observation::Observation;
use crate::regression::ChiSquareTest;
use crate::regression::newton::table;
use crate::sample::Sample;
use crate::summation::Sum;
use crate::warning::{Warning, WarningCode};

/// Fewest groups with failures that can show how groups differ.
const FEWEST: usize = 3;

/// The most terms of the likelihood that a search may take: for each row, about twenty times what ordinary groups need.
const MOST_WORK_PER_ROW: u64 = 40_000;
/// And for all rows, at least and at most.
const MOST_WORK: (u64, u64) = (1_000_000, 500_000_000);

/// The lives of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Its name.
    pub name: String,
    /// Its lives; may be without failures, or empty.
    pub lives: Sample,
}

/// A parameter of one group after pooling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ParameterEstimate {
    /// Posterior mean.
    pub mean: f64,
    /// Posterior standard deviation, that of the common mean included.
    pub deviation: f64,
    /// How far what the group's own lives say was drawn to the common mean: 0 not at all, 1 wholly.
    pub shrinkage: f64,
}

/// One group after pooling.
#[derive(Clone, Debug)]
pub struct GroupEstimate {
    /// Its name.
    pub name: String,
    /// Its failures.
    pub failures: u64,
    /// Its lives.
    pub lives: u64,
    /// Its own fit by maximum likelihood, or why there is none.
    pub own: Result<Fit, FitError>,
    /// Logarithm of the scale (of the mean for the exponential, mu for the lognormal).
    pub log_scale: ParameterEstimate,
    /// Logarithm of the shape (minus the logarithm of sigma for the lognormal); none for the exponential.
    pub log_shape: Option<ParameterEstimate>,
    peak: Peak,
}

/// Whether groups differ at all: separate fits against one, over the groups that have a fit of their own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heterogeneity {
    /// Groups with a fit of their own.
    pub groups: usize,
    /// Likelihood-ratio test of one fit for all of them.
    pub test: ChiSquareTest,
}

/// Groups pooled.
#[derive(Clone, Debug)]
pub struct Pooled {
    /// The family of every group.
    pub family: Family,
    /// The groups by name.
    pub groups: Vec<GroupEstimate>,
    /// Common mean of log scale and log shape (log mean alone for the exponential).
    pub mean: Vec<f64>,
    /// Covariance of that mean as an estimate.
    pub mean_covariance: Vec<Vec<f64>>,
    /// Covariance of log scale and log shape between groups.
    pub between: Vec<Vec<f64>>,
    /// Log marginal likelihood with the mean integrated out (Laplace), up to a constant that does not depend on the
    /// spread, less its value without spread: at least 0.
    pub gain_over_no_spread: f64,
    /// Whether groups differ; none where fewer than two have a fit of their own.
    pub heterogeneity: Option<Heterogeneity>,
    /// What to know before use.
    pub warnings: Vec<Warning>,
    setting: Setting,
    lives: Vec<GroupLives>,
    fitted: Fitted,
}

/// Pools groups. Groups with few failures or none enter by their likelihood.
///
/// # Errors
/// For a family with more than location and shape, names that stand twice, fewer than 3 groups with failures, no estimate for all lives taken as one, or a search
/// that fails.
pub fn pool(
    groups: impl IntoIterator<Item = Group>,
    family: Family,
) -> Result<Pooled, PoolingError> {
    if !family.is_log_location_scale() {
        return Err(PoolingError::Family { family });
    }
    let mut groups: Vec<Group> = groups.into_iter().collect();
    groups.sort_by(|a, b| a.name.cmp(&b.name));
    for (one, next) in groups.iter().zip(groups.iter().skip(1)) {
        if one.name == next.name {
            return Err(PoolingError::Twice {
                name: one.name.clone(),
            });
        }
    }
    let telling = groups
        .iter()
        .filter(|group| group.lives.failures() > 0)
        .count();
    if telling < FEWEST {
        return Err(PoolingError::TooFewGroups {
            groups: telling,
            least: FEWEST,
        });
    }
    let common = fit(&joined(groups.iter().map(|group| &group.lives))?, family)?;
    let start = location_and_shape(&common);
    let centre = start.get(0).copied().unwrap_or(0.0);
    let size = start.len();
    let setting = Setting {
        family,
        centre,
        size,
    };
    let lives: Vec<GroupLives> = groups
        .iter()
        .map(|group| GroupLives {
            lives: rows(&group.lives)
                .iter()
                .map(|row| Row::new(row, centre))
                .collect(),
        })
        .collect();
    let mut origin = start;
    if let Some(first) = origin.get_mut(0) {
        *first -= centre;
    }
    let terms: u64 = lives.iter().map(|group| group.lives.len() as u64).sum();
    let terms = terms.saturating_mul(MOST_WORK_PER_ROW);
    let work = Work::new(terms.clamp(MOST_WORK.0, MOST_WORK.1));
    let fitted = best_spread(&setting, &lives, &origin, &work).ok_or(PoolingError::NotConverged)?;
    // After a search that used up its work this fails too, so such a search is never taken for a finished one.
    let still = vec![DVector::zeros(size); lives.len()];
    let none = super::spread::at_spread(
        &setting,
        &lives,
        DMatrix::zeros(size, size),
        &origin,
        &still,
        &work,
    )
    .ok_or(PoolingError::NotConverged)?;
    let own: Vec<Result<Fit, FitError>> = groups
        .iter()
        .map(|group| fit(&group.lives, family))
        .collect();
    let heterogeneity = heterogeneity(&groups, &own, family);
    let estimates = groups
        .into_iter()
        .zip(own)
        .zip(lives.iter().zip(&fitted.peaks))
        .map(|((group, own), (lives, peak))| estimate(&setting, &fitted, group, own, lives, peak))
        .collect::<Option<Vec<_>>>()
        .ok_or(PoolingError::NotConverged)?;
    let mut mean: Vec<f64> = fitted.mean.iter().copied().collect();
    if let Some(first) = mean.first_mut() {
        *first += centre;
    }
    let between = &fitted.root * fitted.root.transpose();
    Ok(Pooled {
        family,
        groups: estimates,
        mean,
        mean_covariance: table(&fitted.mean_covariance),
        between: table(&between),
        gain_over_no_spread: (fitted.restricted - none.restricted).max(0.0),
        heterogeneity,
        warnings: cautions(&between),
        setting,
        lives,
        fitted,
    })
}

fn cautions(between: &DMatrix<f64>) -> Vec<Warning> {
    if between.diagonal().amax() > 1e-8 {
        return Vec::new();
    }
    vec![Warning::new(
        WarningCode::TooFewFailures,
        "The data show no spread between groups beyond chance, so every group is drawn wholly to the common values; with few groups a spread may still exist.",
    )]
}

fn rows(sample: &Sample) -> Vec<Observation> {
    let mut rows = Vec::new();
    for row in sample.observations() {
        rows.push(Observation {
            entry: row.entry,
            lower: row.lower,
            upper: row.upper,
            count: row.count,
            cause: None,
        });
    }
    rows
}

fn joined<'a>(samples: impl Iterator<Item = &'a Sample>) -> Result<Sample, FitError> {
    Sample::new(samples.flat_map(rows)).map_err(|_| FitError::NoLives)
}

fn location_and_shape(fit: &Fit) -> DVector<f64> {
    DVector::from_vec(match fit.family {
        Family::Exponential => vec![fit.location],
        _ => vec![fit.location, fit.log_shape],
    })
}

fn heterogeneity(
    groups: &[Group],
    own: &[Result<Fit, FitError>],
    family: Family,
) -> Option<Heterogeneity> {
    let telling = || {
        groups
            .iter()
            .zip(own)
            .filter_map(|(group, own)| Some((group, own.as_ref().ok()?)))
    };
    let separate = telling()
        .map(|(_, own)| own.log_likelihood)
        .collect::<Sum>()
        .total();
    let together = fit(
        &joined(telling().map(|(group, _)| &group.lives)).ok()?,
        family,
    )
    .ok()?;
    let number = telling().count();
    let freedom = number.checked_sub(1)? * family.parameters() as usize;
    Some(Heterogeneity {
        groups: number,
        test: ChiSquareTest::new(2.0 * (separate - together.log_likelihood), freedom)?,
    })
}

/// How the group's posterior mean follows the common mean, to first order: `(1 + L L' D)^-1`. Its diagonal is the
/// amount of shrinkage.
fn follows(fitted: &Fitted, peak: &Peak) -> DMatrix<f64> {
    let size = fitted.mean.len();
    // 1 - L (1 + L'D L)^-1 L'D
    DMatrix::identity(size, size)
        - &fitted.root
            * peak
                .precision
                .solve(&(fitted.root.transpose() * &peak.information))
}

/// Standard deviation of a logarithm beyond which nothing is known: all usages lie within 460 of each other.
const WIDEST: f64 = 460.0;

fn estimate(
    setting: &Setting,
    fitted: &Fitted,
    group: Group,
    own: Result<Fit, FitError>,
    lives: &GroupLives,
    peak: &Peak,
) -> Option<GroupEstimate> {
    let (centre, spread) =
        setting.moments(lives, &fitted.mean, &fitted.root, peak, Clone::clone)?;
    let follows = follows(fitted, peak);
    let spread = spread + &follows * &fitted.mean_covariance * follows.transpose();
    // Where the common values are no top of their likelihood, or a flat one, this is no variance.
    let is_variance = |cell: &f64| (0.0..=WIDEST * WIDEST).contains(cell);
    if !spread.diagonal().iter().all(is_variance) || !follows.iter().all(|cell| cell.is_finite()) {
        return None;
    }
    let parameter = |place: usize| {
        Some(ParameterEstimate {
            mean: centre.get(place)? + if place == 0 { setting.centre } else { 0.0 },
            deviation: spread.get((place, place))?.sqrt(),
            shrinkage: follows.get((place, place))?.clamp(0.0, 1.0),
        })
    };
    Some(GroupEstimate {
        failures: group.lives.failures(),
        lives: group.lives.lives(),
        name: group.name,
        own,
        log_scale: parameter(0)?,
        log_shape: parameter(1),
        peak: peak.clone(),
    })
}

impl Pooled {
    /// Usage by which a share `p` of a group has failed: the exponential of the posterior mean of its logarithm, with
    /// limits normal on that scale. None for an unknown group.
    ///
    /// # Errors
    /// For `p` outside (0, 1), or a usage beyond the range of numbers.
    pub fn quantile(
        &self,
        group: &str,
        p: f64,
        level: Level,
    ) -> Result<Option<Limits>, PoolingError> {
        if !(p > 0.0 && p < 1.0) {
            return Err(LimitsError::Share { value: p }.into());
        }
        let Some(place) = self.groups.iter().position(|known| known.name == group) else {
            return Ok(None);
        };
        let (Some(estimate), Some(lives)) = (self.groups.get(place), self.lives.get(place)) else {
            return Ok(None);
        };
        let z = self.family.standard_quantile(-(-p).ln_1p());
        let cell = |theta: &DVector<f64>, place: usize| theta.get(place).copied().unwrap_or(0.0);
        let ln_quantile = |theta: &DVector<f64>| {
            DVector::from_element(1, cell(theta, 0) + z * (-cell(theta, 1)).exp())
        };
        let fitted = &self.fitted;
        let (mean, variance) = self
            .setting
            .moments(
                lives,
                &fitted.mean,
                &fitted.root,
                &estimate.peak,
                ln_quantile,
            )
            .ok_or(LimitsError::OutOfRange)?;
        // The part that comes from not knowing the common mean, to first order.
        let mut slope = DVector::from_element(self.setting.size, 1.0);
        if let Some(by_shape) = slope.get_mut(1) {
            let theta = &fitted.mean + &fitted.root * &estimate.peak.u;
            *by_shape = -z * (-cell(&theta, 1)).exp();
        }
        let carried = follows(fitted, &estimate.peak).transpose() * slope;
        let common = carried.dot(&(&fitted.mean_covariance * &carried));
        let middle = mean.sum() + self.setting.centre;
        let reach = level.distance() * (variance.sum() + common).sqrt();
        let (value, lower, upper) = (middle.exp(), (middle - reach).exp(), (middle + reach).exp());
        if !(lower > 0.0 && upper.is_finite()) {
            return Err(LimitsError::OutOfRange.into());
        }
        Ok(Some(Limits {
            value,
            lower: level.wants_lower().then_some(lower),
            upper: level.wants_upper().then_some(upper),
            warnings: Vec::new(),
        }))
    }
}
