//! The report of recurring events: no panic, and no number that JSON cannot carry.
#![no_main]

#[path = "support/systems.rs"]
mod systems;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::recurrent::Histories;
use wearbook_analysis::report::{RecurrenceReport, recurrence};

fn run(data: &[u8]) -> Result<()> {
    let Ok(histories) = Histories::new(systems::systems(&mut Unstructured::new(data))?) else {
        return Ok(());
    };
    let report = recurrence(&histories, Level::TWO_SIDED_90);
    let text = serde_json::to_string(&report).expect("a report is JSON");
    let back: RecurrenceReport = serde_json::from_str(&text).expect("and reads back");
    assert_eq!(back, report);
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
