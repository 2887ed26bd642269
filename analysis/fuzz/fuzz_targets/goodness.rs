//! Measures of fit: finite, and chances inside 0 to 1.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{fit, nested};
use wearbook_analysis::goodness::{
    anderson_darling_adjusted, distances, goodness, mann_test, plot_correlation_test,
};
use wearbook_analysis::ranks::Positions;

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let family = *u.choose(&Family::ALL)?;
    let positions = *u.choose(&[Positions::Exact, Positions::Benard])?;
    let seed = u.arbitrary()?;
    let sample = lives::sample(&mut u, 24)?;
    if let Ok(test) = mann_test(&sample) {
        assert!(test.statistic.is_finite() && (0.0..=1.0).contains(&test.p_value));
    }
    if sample.failures() < 1_000 {
        if let Ok(test) = plot_correlation_test(&sample, family, positions, 0.1, 99, seed) {
            assert!((-1.0..=1.0).contains(&test.correlation));
            assert!((-1.0..=1.0).contains(&test.critical));
            assert!(test.p_value > 0.0 && test.p_value <= 1.0);
        }
    }
    let Ok(model) = fit(&sample, family) else {
        return Ok(());
    };
    if let Ok(got) = distances(&sample, &model) {
        for distance in [got.anderson_darling, got.cramer_von_mises, got.kolmogorov] {
            assert!(distance.value.is_finite());
            assert!(distance.starred.is_none_or(f64::is_finite));
            if let Some((low, high)) = distance.chance() {
                assert!(0.0 <= low && low < high && high <= 1.0);
            }
        }
    }
    if let Ok(value) = anderson_darling_adjusted(&sample, &model, positions) {
        assert!(value.is_finite());
    }
    let report = goodness(&sample, &model);
    assert!(report.plot_correlation.is_none_or(f64::is_finite));
    if let Ok(full) = fit(&sample, Family::Weibull) {
        if let Ok(test) = nested(&sample, &full, Family::Exponential) {
            assert!(test.statistic >= 0.0 && (0.0..=1.0).contains(&test.p));
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
