//! Lives as they are handed in: each with the group it belongs to and its covariates.

use std::collections::BTreeMap;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::regression::{CovariateLife, CovariateSample};
use wearbook_analysis::sample::Sample;

/// One row of lives.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeRow {
    /// Entry, bounds, cause and count.
    pub observation: Observation,
    /// The group it belongs to, where lives are compared.
    pub group: Option<String>,
    /// One number for each named covariate, in their order.
    pub covariates: Vec<f64>,
}

/// One value that breaks a rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LifeFault {
    /// Which row, from 0.
    pub row: usize,
    /// Which member of it.
    pub field: &'static str,
    /// What is expected.
    pub rule: String,
    /// What was found.
    pub value: String,
}

/// Checked lives.
#[derive(Debug, Clone, PartialEq)]
pub struct Lives {
    rows: Vec<LifeRow>,
    covariates: Vec<String>,
}

impl Lives {
    /// Checks every row. The names in `covariates` are those of the numbers in each row.
    ///
    /// # Errors
    /// All faults of all rows, in the order of the rows.
    pub fn new(rows: Vec<LifeRow>, covariates: Vec<String>) -> Result<Self, Vec<LifeFault>> {
        let mut faults = sample_faults(&rows);
        let grouped = rows.iter().any(|row| row.group.is_some());
        for (place, row) in rows.iter().enumerate() {
            if grouped && row.group.is_none() {
                faults.push(LifeFault {
                    row: place,
                    field: "group",
                    rule: "a group for every life, or for none".to_owned(),
                    value: String::new(),
                });
            }
            if let Some(value) = row.covariates.iter().find(|value| !value.is_finite()) {
                faults.push(LifeFault {
                    row: place,
                    field: "covariates",
                    rule: "finite numbers".to_owned(),
                    value: value.to_string(),
                });
            }
            if row.covariates.len() != covariates.len() {
                faults.push(LifeFault {
                    row: place,
                    field: "covariates",
                    rule: format!(
                        "as many numbers as there are named covariates, {}",
                        covariates.len()
                    ),
                    value: format!("{} numbers", row.covariates.len()),
                });
            }
        }
        if faults.is_empty() {
            Ok(Self { rows, covariates })
        } else {
            faults.sort_by_key(|fault| fault.row);
            Err(faults)
        }
    }

    /// Names of the covariates.
    #[must_use]
    pub fn covariates(&self) -> &[String] {
        &self.covariates
    }

    /// The rows as they were given.
    #[must_use]
    pub fn rows(&self) -> &[LifeRow] {
        &self.rows
    }

    /// Causes of the failures, in order of name.
    #[must_use]
    pub fn causes(&self) -> Vec<&str> {
        let mut causes: Vec<&str> = self
            .rows
            .iter()
            .filter(|row| row.observation.upper.is_finite())
            .filter_map(|row| row.observation.cause.as_deref())
            .collect();
        causes.sort_unstable();
        causes.dedup();
        causes
    }

    /// All lives as one sample; of one cause only, if one is named.
    #[must_use]
    pub fn sample(&self, cause: Option<&str>) -> Sample {
        sample_of(self.rows.iter(), cause)
    }

    /// One sample a group, in order of name; none where lives have no groups.
    #[must_use]
    pub fn groups(&self, cause: Option<&str>) -> Vec<(String, Sample)> {
        let mut groups: BTreeMap<&str, Vec<&LifeRow>> = BTreeMap::new();
        for row in &self.rows {
            if let Some(group) = &row.group {
                groups.entry(group).or_default().push(row);
            }
        }
        groups
            .into_iter()
            .map(|(name, rows)| (name.to_owned(), sample_of(rows.into_iter(), cause)))
            .collect()
    }
}

impl Lives {
    /// All lives with their covariates; none where they have no covariates.
    pub(super) fn with_covariates(&self, cause: Option<&str>) -> Option<CovariateSample> {
        if self.covariates.is_empty() {
            return None;
        }
        let lives = self
            .rows
            .iter()
            .map(|row| CovariateLife::new(life_of(row, cause), row.covariates.clone()));
        let sample = CovariateSample::new(self.covariates.clone(), lives);
        Some(sample.expect("every row and every number of it was checked"))
    }
}

fn sample_faults(rows: &[LifeRow]) -> Vec<LifeFault> {
    let checked = Sample::new(rows.iter().map(|row| row.observation.clone()));
    let faults = checked.err().map(|error| error.faults).unwrap_or_default();
    faults
        .into_iter()
        .map(|fault| LifeFault {
            row: fault.row,
            field: fault.field,
            rule: fault.rule.to_owned(),
            value: fault.value,
        })
        .collect()
}

fn sample_of<'a>(rows: impl Iterator<Item = &'a LifeRow>, cause: Option<&str>) -> Sample {
    let lives = rows.map(|row| life_of(row, cause));
    Sample::new(lives).expect("every row was checked, and a part of the rows has no fault either")
}

fn life_of(row: &LifeRow, cause: Option<&str>) -> Observation {
    let life = row.observation.clone();
    match cause {
        None => life,
        Some(cause) => of_cause(life, cause),
    }
}

/// A failure of another cause becomes a life that was last seen unfailed where its failure began.
fn of_cause(mut life: Observation, cause: &str) -> Observation {
    if life.upper.is_finite() && life.cause.as_deref() != Some(cause) {
        life.upper = f64::INFINITY;
        life.cause = None;
    }
    life
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(observation: Observation, group: Option<&str>) -> LifeRow {
        LifeRow {
            observation,
            group: group.map(str::to_owned),
            covariates: Vec::new(),
        }
    }

    #[test]
    fn failures_of_other_causes_become_lives_last_seen_unfailed() {
        let rows = vec![
            row(Observation::exact(5.0).with_cause("wear"), None),
            row(Observation::exact(7.0).with_cause("split"), None),
            row(Observation::interval(3.0, 9.0), None),
            row(Observation::right_censored(4.0), None),
        ];
        let lives = Lives::new(rows, Vec::new()).unwrap();
        assert_eq!(lives.causes(), ["split", "wear"]);
        let sample = lives.sample(Some("wear"));
        assert_eq!(
            (sample.lives(), sample.failures(), sample.right_censored()),
            (4, 1, 3)
        );
    }

    #[test]
    fn groups_come_in_order_of_name_and_hold_all_lives_together() {
        let rows = vec![
            row(Observation::exact(5.0), Some("north")),
            row(Observation::exact(7.0), Some("east")),
            row(Observation::right_censored(3.0), Some("north")),
        ];
        let lives = Lives::new(rows, Vec::new()).unwrap();
        let groups = lives.groups(None);
        let found: Vec<_> = groups
            .iter()
            .map(|(name, sample)| (name.as_str(), sample.lives()))
            .collect();
        assert_eq!(found, [("east", 1), ("north", 2)]);
    }

    #[test]
    fn every_fault_is_found_whatever_its_kind() {
        let rows = vec![
            row(Observation::exact(-1.0), Some("a")),
            row(Observation::exact(1.0), None),
            LifeRow {
                covariates: vec![1.0],
                ..row(Observation::exact(1.0).times(0), Some("a"))
            },
        ];
        let faults = Lives::new(rows, Vec::new()).unwrap_err();
        let places: Vec<_> = faults.iter().map(|one| (one.row, one.field)).collect();
        assert_eq!(
            places,
            [(0, "lower"), (1, "group"), (2, "count"), (2, "covariates")]
        );
    }
}
