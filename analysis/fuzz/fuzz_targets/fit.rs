//! Any sample, any family: an answer made of finite numbers, or a reason.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::{ThresholdLikelihood, fit, threshold_weibull};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn life(input: &mut Unstructured<'_>) -> arbitrary::Result<Observation> {
    let entry = f64::from_bits(input.arbitrary()?);
    let lower = entry + f64::from_bits(input.arbitrary()?);
    let upper = match input.int_in_range(0..=2)? {
        0 => lower,
        1 => f64::INFINITY,
        _ => lower + f64::from_bits(input.arbitrary()?),
    };
    Ok(Observation {
        entry,
        lower,
        upper,
        cause: None,
        count: input.int_in_range(1..=1_000_000_000)?,
    })
}

fuzz_target!(|data: &[u8]| {
    let mut input = Unstructured::new(data);
    let Ok(number) = input.int_in_range(0..=12_u8) else {
        return;
    };
    let rows: Vec<Observation> = (0..number).map_while(|_| life(&mut input).ok()).collect();
    let Ok(sample) = Sample::new(rows) else {
        return;
    };
    let precision = f64::from_bits(input.arbitrary().unwrap_or(0));
    let recorded = threshold_weibull(&sample, ThresholdLikelihood::Recorded { precision });
    let fits = Family::EVERY
        .into_iter()
        .map(|family| fit(&sample, family))
        .chain([recorded]);
    for fit in fits.flatten() {
        assert!(fit.parameters.iter().all(|value| value.is_finite()));
        assert!(fit.log_likelihood.is_finite() && fit.aic.is_finite() && fit.bic.is_finite());
        for matrix in [&fit.covariance, &fit.log_covariance].into_iter().flatten() {
            assert!(matrix.iter().flatten().all(|cell| cell.is_finite()));
        }
        let mut before = 1.0;
        for part in [0.0, 0.1, 0.5, 1.0, 2.0] {
            let age = part * sample.longest_usage();
            if !age.is_finite() {
                continue;
            }
            let survival = fit.survival(age);
            assert!((0.0..=1.0).contains(&survival) && survival <= before + 1e-9);
            before = survival;
            if let Some(mean) = fit.mean_residual_life(age) {
                assert!(mean.is_finite() && mean > 0.0);
            }
        }
        if let (Some(early), Some(late)) = (fit.quantile(0.1), fit.quantile(0.9)) {
            assert!(early.is_finite() && late.is_finite() && early <= late);
        }
    }
});
