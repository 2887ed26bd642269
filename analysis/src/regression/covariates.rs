//! Lives with covariates, validated and in one canonical order.

use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::observation::{Ending, Observation};
use crate::sample::{ObservationFault, Sample, SampleError};

/// One life with its covariates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CovariateLife {
    /// The life itself.
    pub life: Observation,
    /// One finite value per covariate, in the order of the names of the sample.
    pub values: Vec<f64>,
    /// Stratum it belongs to; none is a stratum of its own.
    pub stratum: Option<String>,
}

impl CovariateLife {
    /// A life without stratum.
    #[must_use]
    pub fn new(life: Observation, values: Vec<f64>) -> Self {
        Self {
            life,
            values,
            stratum: None,
        }
    }

    /// The same life in a stratum.
    #[must_use]
    pub fn in_stratum(mut self, stratum: impl Into<String>) -> Self {
        self.stratum = Some(stratum.into());
        self
    }
}

/// Values at which a model is asked.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CovariatePoint {
    /// One finite value per covariate, in the order of the names of the sample.
    pub values: Vec<f64>,
    /// Stratum asked about; matters only where the model has something of its own per stratum.
    pub stratum: Option<String>,
}

impl CovariatePoint {
    /// A point without stratum.
    #[must_use]
    pub fn new(values: Vec<f64>) -> Self {
        Self {
            values,
            stratum: None,
        }
    }

    /// The same point in a stratum.
    #[must_use]
    pub fn in_stratum(mut self, stratum: impl Into<String>) -> Self {
        self.stratum = Some(stratum.into());
        self
    }
}

/// One covariate value that cannot be used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CovariateFault {
    /// Position of the row as given, from 0.
    pub row: usize,
    /// Name of the covariate; none where the row has the wrong number of values.
    pub covariate: Option<String>,
    /// The rule it breaks.
    pub rule: &'static str,
    /// The value, or the number of values, as given.
    pub value: String,
}

/// Every fault found in the rows given.
#[derive(Clone, Debug, Default, PartialEq, thiserror::Error)]
pub struct CovariateSampleError {
    /// Names that are empty or stand twice.
    pub names: Vec<String>,
    /// Faults of the lives.
    pub lives: Vec<ObservationFault>,
    /// Faults of the covariates.
    pub values: Vec<CovariateFault>,
}

impl fmt::Display for CovariateSampleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let faults = self.names.len() + self.lives.len() + self.values.len();
        write!(f, "{faults} faults in the lives with covariates")?;
        if let Some(name) = self.names.first() {
            write!(
                f,
                "; the covariate name \"{name}\" is empty or stands twice"
            )?;
        }
        if let Some(fault) = self.values.first() {
            let name = fault.covariate.as_deref().unwrap_or("covariates");
            write!(
                f,
                "; row {}, {name} {} but is {}",
                fault.row, fault.rule, fault.value
            )?;
        }
        if let Some(fault) = self.lives.first() {
            write!(
                f,
                "; row {}, {} {} but is {}",
                fault.row, fault.field, fault.rule, fault.value
            )?;
        }
        Ok(())
    }
}

/// Lives with covariates in canonical order, identical rows merged.
///
/// Any order and any grouping of the same lives gives the same sample, and so bit-identical results. Failures at
/// usage zero are counted apart and enter no model.
#[derive(Clone, Debug, PartialEq)]
pub struct CovariateSample {
    names: Vec<String>,
    rows: Vec<CovariateLife>,
    strata: Vec<Option<String>>,
    sample: Sample,
}

impl CovariateSample {
    /// Checks every row, then sorts and merges them. `names` are the covariates in the order of the values.
    ///
    /// # Errors
    /// All faults of names and rows at once.
    pub fn new(
        names: impl IntoIterator<Item = impl Into<String>>,
        lives: impl IntoIterator<Item = CovariateLife>,
    ) -> Result<Self, CovariateSampleError> {
        let names: Vec<String> = names.into_iter().map(Into::into).collect();
        let mut error = CovariateSampleError::default();
        for (place, name) in names.iter().enumerate() {
            if name.is_empty() || names.iter().take(place).any(|earlier| earlier == name) {
                error.names.push(name.clone());
            }
        }
        let mut rows: Vec<CovariateLife> = lives.into_iter().collect();
        for (row, life) in rows.iter().enumerate() {
            check(row, &life.values, &names, &mut error.values);
        }
        let sample = match Sample::new(rows.iter().map(|row| row.life.clone())) {
            Ok(sample) => Some(sample),
            Err(SampleError { faults }) => {
                error.lives = faults;
                None
            }
        };
        let faultless = error.names.is_empty() && error.values.is_empty();
        let (Some(sample), true) = (sample, faultless) else {
            return Err(error);
        };
        rows.retain(|row| !(row.life.ending() == Ending::Exact && row.life.upper <= 0.0));
        for row in &mut rows {
            // -0 and 0 are the same value and must have the same bits.
            for value in &mut row.values {
                *value += 0.0;
            }
            row.life.entry += 0.0;
            row.life.lower += 0.0;
            row.life.upper += 0.0;
        }
        rows.sort_by(canonical_order);
        let mut merged: Vec<CovariateLife> = Vec::with_capacity(rows.len());
        for row in rows {
            match merged.last_mut() {
                Some(last) if canonical_order(last, &row) == Ordering::Equal => {
                    last.life.count += row.life.count;
                }
                _ => merged.push(row),
            }
        }
        let mut strata: Vec<Option<String>> =
            merged.iter().map(|row| row.stratum.clone()).collect();
        strata.sort();
        strata.dedup();
        Ok(Self {
            names,
            rows: merged,
            strata,
            sample,
        })
    }

    /// Names of the covariates.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The rows in canonical order, without those dead on arrival.
    #[must_use]
    pub fn rows(&self) -> &[CovariateLife] {
        &self.rows
    }

    /// Strata among the rows, in order of name; lives without one first.
    #[must_use]
    pub fn strata(&self) -> &[Option<String>] {
        &self.strata
    }

    /// The same lives without their covariates.
    #[must_use]
    pub fn lives(&self) -> &Sample {
        &self.sample
    }

    /// Lower-case hexadecimal SHA-256 of the names, the canonical rows and the number dead on arrival.
    #[must_use]
    pub fn digest(&self) -> String {
        let mut hasher = Sha256::new();
        let mut text = |part: Option<&str>| {
            let bytes = part.unwrap_or_default().as_bytes();
            hasher.update([u8::from(part.is_some())]);
            hasher.update((bytes.len() as u64).to_be_bytes());
            hasher.update(bytes);
        };
        text(Some(&self.sample.digest()));
        for name in &self.names {
            text(Some(name));
        }
        for row in &self.rows {
            text(row.stratum.as_deref());
        }
        for row in &self.rows {
            let life = &row.life;
            for number in row
                .values
                .iter()
                .chain([&life.entry, &life.lower, &life.upper])
            {
                hasher.update(number.to_bits().to_be_bytes());
            }
            hasher.update(life.count.to_be_bytes());
        }
        hasher
            .finalize()
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }

    /// The same lives with only the covariates named, in the order asked; none if a name is unknown.
    #[must_use]
    pub fn with_covariates(&self, names: &[&str]) -> Option<Self> {
        let places: Vec<usize> = names
            .iter()
            .map(|name| self.names.iter().position(|known| known == name))
            .collect::<Option<_>>()?;
        let rows = self.rows.iter().map(|row| CovariateLife {
            values: places
                .iter()
                .filter_map(|place| row.values.get(*place).copied())
                .collect(),
            ..row.clone()
        });
        let mut kept = Self::new(names.iter().copied(), rows).ok()?;
        kept.sample = self.sample.clone();
        Some(kept)
    }
}

fn check(row: usize, values: &[f64], names: &[String], faults: &mut Vec<CovariateFault>) {
    if values.len() != names.len() {
        faults.push(CovariateFault {
            row,
            covariate: None,
            rule: "must be as many as there are names",
            value: values.len().to_string(),
        });
    }
    for (value, name) in values.iter().zip(names) {
        if !value.is_finite() {
            faults.push(CovariateFault {
                row,
                covariate: Some(name.clone()),
                rule: "must be finite",
                value: value.to_string(),
            });
        }
    }
}

fn canonical_order(a: &CovariateLife, b: &CovariateLife) -> Ordering {
    let (x, y) = (&a.life, &b.life);
    let values = || {
        a.values
            .iter()
            .zip(&b.values)
            .map(|(one, other)| one.total_cmp(other))
            .find(|order| *order != Ordering::Equal)
            .unwrap_or(Ordering::Equal)
    };
    x.lower
        .total_cmp(&y.lower)
        .then(x.upper.total_cmp(&y.upper))
        .then(x.entry.total_cmp(&y.entry))
        .then_with(|| a.stratum.cmp(&b.stratum))
        .then_with(values)
        .then_with(|| x.cause.cmp(&y.cause))
}
