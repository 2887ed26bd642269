//! Any systems at all: refused with faults, or a mean cumulative function and trend tests that are numbers.

#![no_main]

#[path = "support/systems.rs"]
mod systems;

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::recurrent::{
    Histories, MeanLimitKind, MeanLimits, MeanVariance, cramer_von_mises,
    cramer_von_mises_by_ratio, laplace, mean_cumulative_difference, mean_cumulative_function,
    mil_hdbk_189,
};

fn run(data: &[u8]) -> arbitrary::Result<()> {
    let mut input = Unstructured::new(data);
    let limits = MeanLimits {
        kind: *input.choose(&[MeanLimitKind::Log, MeanLimitKind::Plain])?,
        variance: *input.choose(&[
            MeanVariance::Robust,
            MeanVariance::Nelson,
            MeanVariance::Poisson,
        ])?,
        level: systems::number(&mut input)?,
    };
    let histories = match Histories::new(systems::systems(&mut input)?) {
        Ok(histories) => histories,
        Err(error) => {
            assert!(!error.faults.is_empty());
            return Ok(());
        }
    };
    if let Ok(curve) = mean_cumulative_function(&histories, limits) {
        let mut before = 0.0;
        for point in &curve.points {
            assert!(point.mean.is_finite() && point.mean >= before);
            assert!(point.at_risk > 0 && point.events > 0);
            assert!(point.variance_poisson.is_finite());
            for variance in [point.variance_robust, point.variance_nelson] {
                assert!(variance.is_none_or(|v| v.is_finite() && v >= 0.0));
            }
            assert!(point.lower.is_none_or(|lower| lower <= point.mean));
            assert!(
                point
                    .upper
                    .is_none_or(|upper| upper >= point.mean && upper.is_finite())
            );
            before = point.mean;
        }
    }
    for test in [laplace(&histories), mil_hdbk_189(&histories)]
        .into_iter()
        .flatten()
    {
        assert!(test.statistic.is_finite());
        for p in [test.p_improving, test.p_deteriorating, test.p_two_sided] {
            assert!((0.0..=1.0).contains(&p));
        }
    }
    for fit in [
        cramer_von_mises(&histories),
        cramer_von_mises_by_ratio(&histories),
    ]
    .into_iter()
    .flatten()
    {
        assert!(fit.statistic.is_finite() && fit.shape > 0.0);
    }
    if let Ok(compared) = mean_cumulative_difference(&histories, &histories, 0.9) {
        for point in compared.points {
            assert!(point.lower <= point.difference && point.difference <= point.upper);
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
