//! The report of groups compared: no panic, and no number that JSON cannot carry.
#![no_main]

#[path = "support/lives.rs"]
mod lives;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::report::{Comparison, compare};
use wearbook_analysis::sample::Sample;

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let mut samples: Vec<Sample> = Vec::new();
    for _ in 0..u.int_in_range(0..=4_usize)? {
        samples.push(lives::sample(&mut u, 8)?);
    }
    let named: Vec<(String, &Sample)> = samples
        .iter()
        .enumerate()
        .map(|(place, sample)| (place.to_string(), sample))
        .collect();
    let report = compare(&named);
    let text = serde_json::to_string(&report).expect("a report is JSON");
    let back: Comparison = serde_json::from_str(&text).expect("and reads back");
    assert_eq!(back, report);
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
