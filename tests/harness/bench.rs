//! Puts lives that were published through the service: one invented airframe per age.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use crate::Service;
use crate::records::{MODE, PART_TYPE, at, enter_design, fresh};

/// A data set with the values that were published for it, or follow from it by published formulas.
#[derive(Debug, Clone)]
pub struct Published {
    /// Its document: title, source, note, lives as `[age, failed, count]`, and expected values.
    pub document: Value,
    /// Age, whether it failed, how many alike.
    pub lives: Vec<(f64, bool, usize)>,
}

impl Published {
    /// Reads the text of a data file.
    ///
    /// # Panics
    /// If it is not of that form.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let document: Value = serde_json::from_str(text).expect("a file of ours is JSON");
        let lives = document["lives"].as_array().expect("a list of lives");
        let lives = lives
            .iter()
            .map(|life| {
                let count = life[2]
                    .as_u64()
                    .and_then(|count| usize::try_from(count).ok());
                (
                    life[0].as_f64().expect("an age"),
                    life[1].as_bool().expect("failed or not"),
                    count.expect("a count"),
                )
            })
            .collect();
        Self { document, lives }
    }

    /// How many lives, and how many failures among them.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        let lives = self.lives.iter().map(|(_, _, count)| count).sum();
        let failures = self
            .lives
            .iter()
            .filter(|(_, failed, _)| *failed)
            .map(|(_, _, count)| count)
            .sum();
        (lives, failures)
    }

    /// The document for `/v1/imports`: an airframe per age, flown once for as many minutes, with a component in each
    /// of its places. What failed is removed after the flight with a report, what did not stays fitted.
    #[must_use]
    pub fn import(&self, design: &str, places: usize) -> Value {
        let mut by_age: BTreeMap<u64, Vec<bool>> = BTreeMap::new();
        for (age, failed, count) in &self.lives {
            by_age
                .entry(age.to_bits())
                .or_default()
                .extend(std::iter::repeat_n(*failed, *count));
        }
        let mut records = Records::default();
        for (age, ends) in by_age {
            for ends in ends.chunks(places) {
                records.enter(design, f64::from_bits(age), ends);
            }
        }
        records.document()
    }
}

#[derive(Default)]
struct Records {
    airframes: Vec<Value>,
    components: Vec<Value>,
    flights: Vec<Value>,
    installations: Vec<Value>,
    removals: Vec<Value>,
    reports: Vec<Value>,
}

impl Records {
    fn enter(&mut self, design: &str, age: f64, ends: &[bool]) {
        let airframe = fresh("air");
        self.airframes.push(
            json!({"id": airframe, "design": design, "name": format!("Bench at {age} (invented)")}),
        );
        self.flights.push(json!({"id": fresh("flt"), "airframe_id": airframe, "flown_at": at(10), "duration_minutes": age}));
        for (index, failed) in ends.iter().enumerate() {
            let (component, stay) = (fresh("cmp"), fresh("ins"));
            self.components
                .push(json!({"id": component, "part_type": PART_TYPE}));
            self.installations.push(json!({"id": stay, "component_id": component, "airframe_id": airframe,
                "position": format!("place-{}", index + 1), "fitted_at": at(0), "age_basis": "new"}));
            if *failed {
                self.removals.push(json!({"id": fresh("rem"), "installation_id": stay, "removed_at": at(30), "reason": "failed"}));
                self.reports.push(
                    json!({"id": fresh("fail"), "installation_id": stay, "occurred_at": at(20),
                    "discovery": "in-flight", "mode": MODE}),
                );
            }
        }
    }

    fn document(self) -> Value {
        json!({"airframes": self.airframes, "components": self.components, "flights": self.flights,
            "installations": self.installations, "removals": self.removals, "failure_reports": self.reports})
    }
}

/// Imports a data set for a new owner and does the work that follows.
pub async fn enter(service: &Service, published: &Published) {
    let token = service.pilot().await;
    let most = published
        .lives
        .iter()
        .map(|(_, _, count)| *count)
        .max()
        .unwrap_or(1);
    // Two lives of one age may stand in two rows.
    let places = (most + 5).min(300);
    let design = enter_design(service, PART_TYPE, places).await;
    let _ = service
        .create(&token, "/v1/imports", &published.import(&design, places))
        .await;
    service.settle().await;
}
