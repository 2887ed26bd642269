//! Any rows make a sample or name their faults, and the same sample in any order.
#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

fn rows(data: &mut Unstructured<'_>) -> arbitrary::Result<Vec<Observation>> {
    let mut rows = Vec::new();
    while !data.is_empty() && rows.len() < 200 {
        rows.push(Observation {
            entry: data.arbitrary()?,
            lower: data.arbitrary()?,
            upper: data.arbitrary()?,
            cause: data.arbitrary()?,
            count: data.arbitrary()?,
        });
    }
    Ok(rows)
}

fuzz_target!(|data: &[u8]| {
    let Ok(mut rows) = rows(&mut Unstructured::new(data)) else {
        return;
    };
    let ages = rows.iter().map(|row| (row.lower, row.count % 2 == 0));
    if let Ok(sample) = Sample::from_ages(ages.collect::<Vec<_>>()) {
        assert!(sample.total_usage() >= 0.0 && sample.longest_usage().is_finite());
    }
    match Sample::new(rows.clone()) {
        Ok(sample) => {
            assert!(sample.longest_usage().is_finite());
            rows.reverse();
            assert_eq!(
                Sample::new(rows).expect("the same rows").digest(),
                sample.digest()
            );
            let lives: u64 = sample.observations().map(|life| life.count).sum();
            assert_eq!(lives, sample.lives());
        }
        Err(error) => assert!(!error.faults.is_empty()),
    }
});
