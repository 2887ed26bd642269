//! Any sample, any shape: limits in order, or a reason.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::fitting::known_shape;
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
    let shape = f64::from_bits(input.arbitrary().unwrap_or(0));
    let level = f64::from_bits(input.arbitrary().unwrap_or(0));
    let rows: Vec<Observation> = (0..number).map_while(|_| life(&mut input).ok()).collect();
    let Ok(sample) = Sample::new(rows) else {
        return;
    };
    let Ok(fit) = known_shape(&sample, shape) else {
        return;
    };
    let (lower, upper) = fit.scale_limits(0.9);
    let named = [lower, fit.scale, upper, fit.log_likelihood, fit.exposure()];
    let free = [
        fit.scale_lower(level),
        fit.scale_lower_failure_truncated(level),
        fit.quantile_lower(0.1, level),
        fit.scale_assuming_one_failure(),
    ];
    assert!(named.into_iter().chain(free).flatten().all(f64::is_finite));
    for pair in [(lower, fit.scale), (fit.scale, upper)] {
        if let (Some(low), Some(high)) = pair {
            assert!(low <= high * (1.0 + 1e-9));
        }
    }
});
