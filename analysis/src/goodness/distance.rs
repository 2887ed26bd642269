//! Distances between the share failed and the model, for complete samples.

use super::GoodnessError;
use super::stephens::{Statistic, starred, upper_points};
use crate::families::Family;
use crate::fitting::Fit;
use crate::sample::Sample;
use crate::summation::Sum;

/// The most lives for which the sums keep enough digits.
const MOST: u64 = 100_000_000;

/// Distances of a model fitted to the same complete sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distances {
    /// The family fitted.
    pub family: Family,
    /// All lives.
    pub lives: u64,
    /// Squares weighted by the inverse variance, so that the tails count (Anderson and Darling 1954, JASA 49).
    pub anderson_darling: Distance,
    /// Mean square (Cramer 1928; von Mises 1931), times the number of lives.
    pub cramer_von_mises: Distance,
    /// Largest gap (Kolmogorov 1933).
    pub kolmogorov: Distance,
}

/// One distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distance {
    /// The distance itself.
    pub value: f64,
    /// Stephens' form, whose distribution hardly depends on the number of lives; none where none was published.
    pub starred: Option<f64>,
    /// Shares of samples from the family, and the starred values that they exceed; largest share first.
    upper_points: &'static [(f64, f64)],
}

impl Distance {
    fn new(family: Family, statistic: Statistic, value: f64, lives: u64) -> Self {
        Self {
            value,
            starred: starred(family, statistic, value, lives as f64),
            upper_points: upper_points(family, statistic),
        }
    }

    /// Shares of samples from the family, and the starred values that they exceed; largest share first. Empty where
    /// no table was published.
    #[must_use]
    pub fn upper_points(&self) -> &'static [(f64, f64)] {
        self.upper_points
    }

    /// Bounds of the chance of a distance at least as large if the family is right, read off the table; none without
    /// one. The table holds for parameters fitted to the same sample.
    #[must_use]
    pub fn chance(&self) -> Option<(f64, f64)> {
        let value = self.starred?;
        let passed = self
            .upper_points
            .iter()
            .take_while(|(_, point)| value > *point)
            .count();
        self.upper_points.first()?;
        let at = |place: Option<usize>| place.and_then(|place| self.upper_points.get(place));
        let upper = at(passed.checked_sub(1)).map_or(1.0, |(share, _)| *share);
        let lower = at(Some(passed)).map_or(0.0, |(share, _)| *share);
        Some((lower, upper))
    }
}

/// Three distances between the share failed and the model.
///
/// # Errors
/// For samples that are not complete, too many lives, or a model under which a life seen cannot happen.
pub fn distances(sample: &Sample, fit: &Fit) -> Result<Distances, GoodnessError> {
    let lives = sample.lives();
    if lives == 0 || sample.exact_failures() != lives || sample.delayed_entry() > 0 {
        return Err(GoodnessError::NotComplete);
    }
    if lives > MOST {
        return Err(GoodnessError::TooManyLives { lives, most: MOST });
    }
    let n = lives as f64;
    let (mut weighted, mut squares) = (Sum::default(), Sum::default());
    let mut largest = 0.0_f64;
    let mut before = 0.0;
    for tied in Ties::of(sample) {
        // Tied lives take ranks before + 1 .. before + count; sums over them have closed forms.
        let count = tied.count as f64;
        let hazard = fit.cumulative_hazard(tied.time);
        let failed = -(-hazard).exp_m1();
        let ln_failed = if hazard > 0.7 {
            (-(-hazard).exp()).ln_1p()
        } else {
            failed.ln()
        };
        // -n - sum (2i - 1)/n (ln F(t_i) + ln S(t_(n+1-i)))
        let rising = count * (2.0 * before + count);
        let falling = count * (2.0 * (n - before) - count);
        weighted.add(rising * ln_failed - falling * hazard);
        // 1/(12 n) + sum (F(t_i) - (2i - 1)/(2n))^2
        let middle = (2.0 * before + count) / (2.0 * n);
        squares.add(count * (failed - middle) * (failed - middle));
        squares.add(count * (count - 1.0) / n * (count + 1.0) / n / 12.0);
        largest = largest
            .max((before + count) / n - failed)
            .max(failed - before / n);
        before += count;
    }
    let anderson_darling = -n - weighted.total() / n;
    let cramer_von_mises = squares.total() + 1.0 / (12.0 * n);
    if !(anderson_darling.is_finite() && cramer_von_mises.is_finite() && largest.is_finite()) {
        return Err(GoodnessError::OutOfRange);
    }
    let distance = |statistic, value| Distance::new(fit.family, statistic, value, lives);
    Ok(Distances {
        family: fit.family,
        lives,
        anderson_darling: distance(Statistic::AndersonDarling, anderson_darling),
        cramer_von_mises: distance(Statistic::CramerVonMises, cramer_von_mises),
        kolmogorov: distance(Statistic::Kolmogorov, largest),
    })
}

/// The Anderson-Darling distance alone, without correction; none where [`distances`] is an error.
#[must_use]
pub fn anderson_darling(sample: &Sample, fit: &Fit) -> Option<f64> {
    distances(sample, fit)
        .ok()
        .map(|distances| distances.anderson_darling.value)
}

/// Failures at one usage, whatever their causes.
struct Ties {
    time: f64,
    count: u64,
}

impl Ties {
    fn of(sample: &Sample) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        for row in sample.observations() {
            match all.last_mut().filter(|last| last.time >= row.lower) {
                Some(last) => last.count += row.count,
                None => all.push(Self {
                    time: row.lower,
                    count: row.count,
                }),
            }
        }
        all
    }
}
