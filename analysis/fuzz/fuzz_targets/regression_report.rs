//! The report of effects of covariates: no panic, and no number that JSON cannot carry.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::regression::RegressionLimitMethod;
use wearbook_analysis::report::{RegressionReport, regress};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let method = *u.choose(&[
        RegressionLimitMethod::LikelihoodRatio,
        RegressionLimitMethod::Delta,
    ])?;
    let Some(sample) = rows::covariate_sample(&mut u, 10)? else {
        return Ok(());
    };
    let report = regress(&sample, &Family::EVERY, Level::TWO_SIDED_90, method);
    let text = serde_json::to_string(&report).expect("a report is JSON");
    let back: RegressionReport = serde_json::from_str(&text).expect("and reads back");
    assert_eq!(back, report);
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
