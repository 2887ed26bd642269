//! The laws that chance follows here.

use chrono::TimeDelta;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, StandardNormal};

/// True with probability `share`.
pub(super) fn chance(random: &mut ChaCha8Rng, share: f64) -> bool {
    random.random::<f64>() < share
}

/// Mean `mean`, in its unit.
pub(super) fn exponential(random: &mut ChaCha8Rng, mean: f64) -> f64 {
    // 1 - u lies in (0, 1], so the logarithm is finite.
    -mean * (1.0 - random.random::<f64>()).ln()
}

/// A life whose 63.2 % point is `life`.
pub(super) fn weibull(random: &mut ChaCha8Rng, shape: f64, life: f64) -> f64 {
    life * exponential(random, 1.0).powf(1.0 / shape)
}

pub(super) fn normal(random: &mut ChaCha8Rng, mean: f64, sd: f64) -> f64 {
    let standard: f64 = StandardNormal.sample(random);
    mean + sd * standard
}

/// A factor around `median` whose logarithm has the standard deviation `log_sd`.
pub(super) fn log_normal(random: &mut ChaCha8Rng, median: f64, log_sd: f64) -> f64 {
    median * normal(random, 0.0, log_sd).exp()
}

/// A count with mean `mean` and variance `mean + mean^2 / dispersion`: a Poisson count of a gamma mean.
pub(super) fn negative_binomial(random: &mut ChaCha8Rng, mean: f64, dispersion: f64) -> u32 {
    let level = Gamma::new(dispersion, mean / dispersion).map_or(0.0, |gamma| gamma.sample(random));
    poisson(random, level)
}

/// Multiplies uniform numbers until they fall below exp(-mean); fit for the small means of a week.
fn poisson(random: &mut ChaCha8Rng, mean: f64) -> u32 {
    let floor = (-mean.min(200.0)).exp();
    let mut product = random.random::<f64>();
    let mut count = 0;
    while product > floor {
        product *= random.random::<f64>();
        count += 1;
    }
    count
}

/// A span of minutes; negative or endless ones count as none.
pub(super) fn minutes(minutes: f64) -> TimeDelta {
    std::time::Duration::try_from_secs_f64((minutes * 60.0).round())
        .ok()
        .and_then(|span| TimeDelta::from_std(span).ok())
        .unwrap_or_default()
}

/// A span of whole minutes between two bounds.
pub(super) fn minutes_between(random: &mut ChaCha8Rng, least: u32, most: u32) -> TimeDelta {
    TimeDelta::minutes(i64::from(random.random_range(least..=most)))
}
