//! Accelerated life: finite estimates, limits around them, survival inside 0 to 1.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::regression::{
    AcceleratedLife, CovariatePoint, PerStratum, RegressionLimitMethod, accelerated_life,
};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let choice = |own: bool| {
        if own {
            PerStratum::Own
        } else {
            PerStratum::Shared
        }
    };
    let model = AcceleratedLife {
        family: rows::family(&mut u)?,
        intercepts: choice(u.arbitrary()?),
        shapes: choice(u.arbitrary()?),
    };
    let p = rows::number(&mut u)?;
    let usage = rows::number(&mut u)?;
    let Some(sample) = rows::covariate_sample(&mut u, 12)? else {
        return Ok(());
    };
    let Ok(fit) = accelerated_life(&sample, model) else {
        return Ok(());
    };
    assert!(fit.log_likelihood.is_finite() && fit.aic.is_finite() && fit.bic.is_finite());
    assert!(fit.coefficients.iter().all(|c| c.value.is_finite()));
    assert!(fit.intercepts.iter().all(|value| value.value.is_finite()));
    assert!(fit.sigmas.iter().all(|value| value.value > 0.0));
    assert!(
        fit.covariance
            .iter()
            .flatten()
            .flatten()
            .all(|cell| cell.is_finite())
    );
    let Some(row) = sample.rows().first() else {
        return Ok(());
    };
    let point = CovariatePoint {
        values: row.values.clone(),
        stratum: row.stratum.clone(),
    };
    let level = Level::TWO_SIDED_90;
    for method in [
        RegressionLimitMethod::LikelihoodRatio,
        RegressionLimitMethod::Delta,
    ] {
        let mut all = vec![
            fit.quantile_limits(&sample, &point, p, level, method),
            fit.survival_limits(&sample, &point, usage, level, method),
        ];
        for name in sample.names() {
            all.push(fit.acceleration_factor(&sample, name, level, method));
        }
        for limits in all.into_iter().flatten() {
            let slack = 1e-9 * limits.value.abs();
            assert!(limits.value.is_finite());
            assert!(
                limits
                    .lower
                    .is_none_or(|lower| lower <= limits.value + slack)
            );
            assert!(
                limits
                    .upper
                    .is_none_or(|upper| upper >= limits.value - slack)
            );
        }
    }
    if let Ok(survival) = fit.survival(&point, usage) {
        assert!((0.0..=1.0).contains(&survival));
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
