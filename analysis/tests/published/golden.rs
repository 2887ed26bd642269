//! Published data sets and the values expected of them.

use serde_json::Value;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// The cases of one file under `tests/data`.
pub fn cases(text: &str) -> Vec<Value> {
    let file: Value = serde_json::from_str(text).expect("the file is JSON");
    file["cases"].as_array().expect("it lists cases").clone()
}

/// The columns of a data set by name.
pub fn columns(name: &str) -> Value {
    let all: Value =
        serde_json::from_str(include_str!("../data/lives.json")).expect("the file is JSON");
    let found = all[name]["columns"].clone();
    assert!(found.is_object(), "no data set {name}");
    found
}

/// The lives of a data set, in the order of its rows.
pub fn observations(name: &str) -> Vec<Observation> {
    let columns = columns(name);
    let number = |column: &str, row: usize| columns[column][row].as_f64();
    (0..columns["lower"].as_array().expect("rows").len())
        .map(|row| {
            let lower = number("lower", row).unwrap_or(0.0);
            let upper = number("upper", row).unwrap_or(f64::INFINITY);
            let entry = number("entry", row).unwrap_or(0.0);
            let lower = if columns["status"][row] == 2 {
                entry
            } else {
                lower
            };
            Observation {
                entry,
                lower,
                upper,
                cause: columns["cause"][row]
                    .as_u64()
                    .filter(|cause| *cause > 0)
                    .map(|cause| cause.to_string()),
                count: columns["count"][row].as_u64().unwrap_or(1),
            }
        })
        .collect()
}

/// The lives of a data set as a sample.
pub fn sample(name: &str) -> Sample {
    Sample::new(observations(name)).expect("published data are valid")
}

/// Collects the largest relative difference and fails on the first beyond its tolerance.
#[derive(Default)]
pub struct Agreement {
    worst: Vec<(String, f64)>,
    faults: Vec<String>,
}

impl Agreement {
    /// Compares with `|got - want| <= tolerance * max(|want|, floor)`.
    pub fn close(&mut self, what: &str, got: f64, want: f64, tolerance: f64, floor: f64) {
        let scale = want.abs().max(floor);
        let gap = if got == want {
            0.0
        } else {
            (got - want).abs() / scale
        };
        let kind = what.split('@').next().unwrap_or(what).to_owned();
        match self.worst.iter_mut().find(|entry| entry.0 == kind) {
            Some(entry) => entry.1 = entry.1.max(gap),
            None => self.worst.push((kind, gap)),
        }
        if gap.is_nan() || gap > tolerance {
            self.faults.push(format!(
                "{what}: got {got:e}, want {want:e}, off by {gap:.2e} > {tolerance:.0e}"
            ));
        }
    }

    /// As [`Self::close`], where null and none must agree.
    pub fn option(
        &mut self,
        what: &str,
        got: Option<f64>,
        want: &Value,
        tolerance: f64,
        floor: f64,
    ) {
        match (got, want.as_f64()) {
            (Some(got), Some(want)) => self.close(what, got, want, tolerance, floor),
            (None, None) => {}
            (got, want) => self
                .faults
                .push(format!("{what}: got {got:?}, want {want:?}")),
        }
    }

    /// Shows the largest differences and fails if any was too large.
    pub fn settle(self, case: &str) {
        let shown: Vec<String> = self
            .worst
            .iter()
            .map(|(kind, gap)| format!("{kind} {gap:.1e}"))
            .collect();
        println!("{case}: {}", shown.join(", "));
        assert!(
            self.faults.is_empty(),
            "{case}:\n{}",
            self.faults.join("\n")
        );
    }
}
