//! Models chosen for any lives have finite parameters, and limits on either side of their quantiles.
#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::groups::{choose_groups, fit_groups};
use wearbook_analysis::intervals::Level;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn rows(data: &mut Unstructured<'_>) -> arbitrary::Result<Vec<Observation>> {
    let mut rows = Vec::new();
    while !data.is_empty() && rows.len() < 40 {
        let t = (f64::from(data.int_in_range(-6_000..=9_000_i32)?) / 1e3 * std::f64::consts::LN_10)
            .exp();
        let part = f64::from(data.int_in_range(0..=999_u16)?) / 1e3;
        let row = match data.int_in_range(0..=4_u8)? {
            0 => Observation::exact(t),
            1 => Observation::right_censored(t),
            2 => Observation::interval(part * t, t),
            3 => Observation::left_censored(t),
            _ => Observation::exact(t).entered_at(part * t),
        };
        rows.push(row.times(data.int_in_range(1..=1_000_000_000_u64)?));
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
    for family in Family::ALL {
        for fit in fit_groups(&[sample.clone(), sample.clone()], family)
            .iter()
            .flatten()
        {
            assert!(fit.log_likelihood.is_finite());
        }
    }
    for chosen in choose_groups(&[sample], &Family::ALL, &[0.01, 0.5], Level::TWO_SIDED_95) {
        let Ok(chosen) = chosen else { continue };
        assert!(chosen.fit.log_likelihood.is_finite());
        assert!(chosen.fit.parameters.iter().all(|value| value.is_finite()));
        for limits in chosen.quantiles.into_iter().flatten() {
            let slack = 1e-6 * limits.value;
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
});
