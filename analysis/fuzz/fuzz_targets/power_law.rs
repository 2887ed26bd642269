//! Sound systems of any size and place: a power-law fit whose numbers are finite and whose limits are in order.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::{Level, Side};
use wearbook_analysis::recurrent::{
    Histories, PowerLawLimitMethod, RecurrentError, System, Truncation, power_law,
};

/// A share of 1, often at an end of its range.
fn share(input: &mut Unstructured<'_>) -> arbitrary::Result<f64> {
    if input.ratio(1, 3)? {
        return Ok(*input.choose(&[0.0, 1e-90, 1e-9, 0.5, 1.0 - 1e-9, 1.0 - 1e-16, 1.0])?);
    }
    Ok(f64::from(input.arbitrary::<u32>()?) / f64::from(u32::MAX))
}

fn systems(input: &mut Unstructured<'_>) -> arbitrary::Result<Vec<System>> {
    let mut systems = Vec::new();
    for _ in 0..input.int_in_range(1..=5)? {
        let end = *input.choose(&[1e-6, 1.0, 1.0, 2.0, 700.0, 1e9])?;
        let start = if input.ratio(1, 3)? {
            end * share(input)?
        } else {
            0.0
        };
        let mut events = Vec::new();
        for _ in 0..input.int_in_range(0..=6)? {
            let age = start + share(input)? * (end - start);
            if age > start && age <= end {
                events.push(age);
            }
        }
        if start < end {
            systems.push(System {
                start,
                end,
                truncation: if events.contains(&end) && input.arbitrary()? {
                    Truncation::Failure
                } else {
                    Truncation::Time
                },
                events,
                count: *input.choose(&[1, 1, 1, 3, 1_000, 1_000_000_000])?,
            });
        }
    }
    Ok(systems)
}

fn run(data: &[u8]) -> arbitrary::Result<()> {
    let mut input = Unstructured::new(data);
    let age = share(&mut input)? * *input.choose(&[1.0, 2.0, 1e9, 1e12])?;
    let side = *input.choose(&[Side::TwoSided, Side::Lower, Side::Upper])?;
    let level = *input.choose(&[0.5, 0.9, 0.999_999])?;
    let level = Level::new(level, side).expect("a level");
    let histories = Histories::new(systems(&mut input)?).expect("sound systems");
    let fit = match power_law(&histories) {
        Ok(fit) => fit,
        Err(error) => {
            assert_ne!(error, RecurrentError::NotConverged);
            return Ok(());
        }
    };
    assert!(fit.shape.is_finite() && fit.shape > 0.0);
    assert!(fit.log_likelihood.is_finite());
    assert!(
        fit.log_covariance
            .iter()
            .flatten()
            .all(|cell| cell.is_finite())
    );
    assert!(fit.intensity(age).is_none_or(f64::is_finite));
    assert!(fit.expected_events(0.0, age).is_none_or(f64::is_finite));
    for method in [
        PowerLawLimitMethod::Exact,
        PowerLawLimitMethod::LikelihoodRatio,
        PowerLawLimitMethod::Delta,
    ] {
        for found in [
            fit.shape_limits_by(level, method),
            fit.intensity_limits_by(age, level, method),
            fit.intensity_limits_by(fit.longest_age, level, method),
            fit.mtbf_limits_by(fit.longest_age, level, method),
        ]
        .into_iter()
        .flatten()
        {
            let limits = found.limits;
            assert!(limits.value.is_finite());
            if let (Some(lower), Some(upper)) = (limits.lower, limits.upper) {
                assert!(lower <= upper);
            }
            for limit in [limits.lower, limits.upper].into_iter().flatten() {
                assert!(limit.is_finite() && limit > 0.0);
            }
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
