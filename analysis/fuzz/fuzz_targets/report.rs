//! The report of any sample: no panic, and no number that JSON cannot carry.

#![no_main]

use arbitrary::{Arbitrary, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::report::{Options, Report, analyse};
use wearbook_analysis::sample::Sample;

#[derive(Debug, Arbitrary)]
struct Life {
    entry: f64,
    lower: f64,
    upper: f64,
    cause: Option<u8>,
    count: u64,
}

fuzz_target!(|bytes: &[u8]| {
    let Ok(lives) = Vec::<Life>::arbitrary(&mut Unstructured::new(bytes)) else {
        return;
    };
    let rows = lives.into_iter().take(40).map(|life| Observation {
        entry: life.entry,
        lower: life.lower,
        upper: life.upper,
        cause: life.cause.map(|cause| cause.to_string()),
        count: life.count,
    });
    let Ok(sample) = Sample::new(rows) else {
        return;
    };
    let report = analyse(&sample, &Options::default());
    let text = serde_json::to_string(&report).expect("a report is JSON");
    let back: Report = serde_json::from_str(&text).expect("and reads back");
    assert_eq!(back, report);
});
