//! Proportional hazards: finite estimates under every rule of ties, hazards that only rise.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::regression::{
    CovariatePoint, ProportionalHazards, RegressionLimitMethod, Ties, proportional_hazards,
};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let model = ProportionalHazards {
        ties: *u.choose(&[Ties::Breslow, Ties::Efron, Ties::Exact])?,
        stratified: u.arbitrary()?,
    };
    let usage = rows::number(&mut u)?;
    let Some(sample) = rows::covariate_sample(&mut u, 12)? else {
        return Ok(());
    };
    let Ok(fit) = proportional_hazards(&sample, model) else {
        return Ok(());
    };
    assert!(fit.log_likelihood.is_finite());
    assert!(
        fit.log_likelihood >= fit.log_likelihood_without - 1e-9 * (1.0 + fit.log_likelihood.abs())
    );
    assert!(fit.coefficients.iter().all(|c| c.value.is_finite()));
    assert!(fit.covariance.iter().flatten().all(|cell| cell.is_finite()));
    for baseline in &fit.baselines {
        for (one, next) in baseline.steps.iter().zip(baseline.steps.iter().skip(1)) {
            assert!(one.usage < next.usage && one.cumulative <= next.cumulative);
        }
    }
    for name in sample.names() {
        for method in [
            RegressionLimitMethod::LikelihoodRatio,
            RegressionLimitMethod::Delta,
        ] {
            if let Ok(limits) = fit.hazard_ratio(&sample, name, Level::TWO_SIDED_90, method) {
                let slack = 1e-9 * limits.value;
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
    }
    if let Some(row) = sample.rows().first() {
        let point = CovariatePoint {
            values: row.values.clone(),
            stratum: row.stratum.clone(),
        };
        if let Ok((hazard, error)) = fit.cumulative_hazard(&point, usage) {
            assert!(hazard >= 0.0 && hazard.is_finite() && error >= 0.0 && error.is_finite());
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
