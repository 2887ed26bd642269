//! Cumulative incidence and its comparison: shares that add up with survival, finite variances and statistics.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::nonparametric::{LimitKind, Limits, aalen_johansen, gray_test};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let kind = *u.choose(&[LimitKind::LogLog, LimitKind::Log, LimitKind::Plain])?;
    let rho = *u.choose(&[0.0, 1.0, 2.5, f64::NAN])?;
    let (one, other) = (lives::sample(&mut u, 16)?, lives::sample(&mut u, 16)?);
    if let Ok(got) = aalen_johansen(&one, Limits { kind, level: 0.9 }) {
        for curve in &got.causes {
            let mut before = 0.0;
            for point in &curve.points {
                assert!(point.incidence >= before && point.incidence <= 1.0);
                before = point.incidence;
                for variance in [point.variance, point.variance_counting] {
                    assert!(variance.is_finite() && variance >= 0.0);
                }
                for limit in [point.lower, point.upper].into_iter().flatten() {
                    assert!((0.0..=1.0).contains(&limit));
                }
            }
        }
        for step in got.survival.points() {
            let shares = got.causes.iter().map(|curve| {
                got.at(curve.cause.as_deref(), step.time)
                    .expect("within the data")
            });
            assert!((shares.sum::<f64>() + step.survival - 1.0).abs() < 1e-9);
        }
    }
    for cause in [None, Some("a"), Some("b")] {
        if let Ok(test) = gray_test(&[&one, &other], cause, rho) {
            assert!(test.chi_square.is_finite() && test.chi_square >= 0.0);
            assert!((0.0..=1.0).contains(&test.p_value));
            assert!(
                test.covariance
                    .iter()
                    .flatten()
                    .all(|cell| cell.is_finite())
            );
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
