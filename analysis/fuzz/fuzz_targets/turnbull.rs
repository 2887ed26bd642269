//! Interval curves of any lives fall from 1 and stay inside 0 to 1.
#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::nonparametric::turnbull;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn rows(data: &mut Unstructured<'_>) -> arbitrary::Result<Vec<Observation>> {
    let mut rows = Vec::new();
    while !data.is_empty() && rows.len() < 60 {
        let entry = f64::from(data.int_in_range(0..=20_u8)?);
        let lower = entry + f64::from(data.int_in_range(0..=20_u8)?);
        let upper = match data.int_in_range(0..=2_u8)? {
            0 => lower.max(entry + 1.0),
            1 => lower + f64::from(data.int_in_range(1..=20_u8)?),
            _ => f64::INFINITY,
        };
        let lower = if upper <= lower { upper } else { lower };
        rows.push(Observation {
            entry,
            lower,
            upper,
            cause: None,
            count: data.int_in_range(1..=1_000_u64)?,
        });
    }
    Ok(rows)
}

fuzz_target!(|data: &[u8]| {
    let Ok(rows) = rows(&mut Unstructured::new(data)) else {
        return;
    };
    let Ok(sample) = Sample::new(rows) else {
        return;
    };
    let Ok(curve) = turnbull(&sample) else { return };
    assert!(curve.log_likelihood.is_finite() && curve.gradient_excess.is_finite());
    let mut before = 1.0;
    for interval in &curve.support {
        assert!(interval.survival_after >= 0.0 && interval.survival_after <= before);
        assert!(interval.probability > 0.0 && interval.probability <= 1.0);
        before = interval.survival_after;
    }
});
