//! The same lives on several usage scales.

use super::error::{ScaleError, ScaleFault};
use crate::observation::{Ending, Observation};
use crate::sample::{Sample, SampleError};

/// One life, once per scale.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaledLife {
    /// The life on each scale, in the order of the names: the same ending, cause and count everywhere.
    pub on: Vec<Observation>,
}

/// Lives on several scales, checked, in one canonical order.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaledLives {
    names: Vec<String>,
    lives: Vec<ScaledLife>,
}

impl ScaledLives {
    /// Checks that every life is the same life on every scale.
    ///
    /// # Errors
    /// For fewer than two scales, names that are empty or stand twice, lives that differ between scales in ending,
    /// cause or count, and usages of zero at the end of a life.
    pub fn new(
        names: impl IntoIterator<Item = impl Into<String>>,
        lives: impl IntoIterator<Item = ScaledLife>,
    ) -> Result<Self, ScaleError> {
        let names: Vec<String> = names.into_iter().map(Into::into).collect();
        if names.len() < 2 {
            return Err(ScaleError::TooFewScales {
                scales: names.len(),
            });
        }
        for (place, name) in names.iter().enumerate() {
            if name.is_empty() || names.iter().take(place).any(|earlier| earlier == name) {
                return Err(ScaleError::Name { name: name.clone() });
            }
        }
        let mut lives: Vec<ScaledLife> = lives.into_iter().collect();
        let mut faults = Vec::new();
        for (place, life) in lives.iter().enumerate() {
            check(place, life, &names, &mut faults);
        }
        if !faults.is_empty() {
            return Err(ScaleError::Lives { faults });
        }
        for (place, name) in names.iter().enumerate() {
            on(&lives, place).map_err(|SampleError { faults }| ScaleError::Observations {
                scale: name.clone(),
                faults,
            })?;
        }
        lives.sort_by(canonical_order);
        Ok(Self { names, lives })
    }

    /// Names of the scales.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The lives in canonical order.
    #[must_use]
    pub fn lives(&self) -> &[ScaledLife] {
        &self.lives
    }

    pub(super) fn place(&self, name: &str) -> Result<usize, ScaleError> {
        let found = self.names.iter().position(|known| known == name);
        found.ok_or_else(|| ScaleError::Unknown {
            name: name.to_owned(),
        })
    }

    /// The lives on the scale at that place.
    pub(super) fn sample(&self, place: usize) -> Result<Sample, ScaleError> {
        on(&self.lives, place).map_err(|SampleError { faults }| ScaleError::Observations {
            scale: self.names.get(place).cloned().unwrap_or_default(),
            faults,
        })
    }
}

fn on(lives: &[ScaledLife], place: usize) -> Result<Sample, SampleError> {
    Sample::new(lives.iter().filter_map(|life| life.on.get(place).cloned()))
}

/// Usage at the end of what is known of a life.
pub(super) fn end(life: &Observation) -> f64 {
    if life.upper.is_finite() {
        life.upper
    } else {
        life.lower
    }
}

fn check(place: usize, life: &ScaledLife, names: &[String], faults: &mut Vec<ScaleFault>) {
    let mut fault = |scale: Option<&String>, rule| {
        faults.push(ScaleFault {
            life: place,
            scale: scale.cloned(),
            rule,
        });
    };
    let (Some(first), true) = (life.on.first(), life.on.len() == names.len()) else {
        fault(None, "a life must stand on every scale");
        return;
    };
    for (on, name) in life.on.iter().zip(names) {
        // A life watched from new and found failed at its first look is left-censored on every scale alike.
        if kind(on) != kind(first) {
            fault(Some(name), "must end as on the first scale");
        } else if on.cause != first.cause || on.count != first.count {
            fault(
                Some(name),
                "must have the cause and count of the first scale",
            );
        } else if !(end(on) > 0.0 && end(on).is_finite()) {
            fault(Some(name), "must end above 0, so that rates of use exist");
        }
    }
}

fn kind(life: &Observation) -> u8 {
    match life.ending() {
        Ending::Exact => 0,
        Ending::RightCensored => 1,
        Ending::LeftCensored | Ending::IntervalCensored => 2,
    }
}

fn canonical_order(a: &ScaledLife, b: &ScaledLife) -> std::cmp::Ordering {
    let key = |life: &ScaledLife| -> Vec<u64> {
        // Usages are at least 0, so their bits order as they do.
        let bits = |on: &Observation| [on.lower, on.upper, on.entry].map(|v| (v + 0.0).to_bits());
        life.on
            .iter()
            .flat_map(bits)
            .chain(life.on.first().map(|on| on.count))
            .collect()
    };
    key(a).cmp(&key(b)).then_with(|| {
        let cause = |life: &ScaledLife| life.on.first().and_then(|on| on.cause.clone());
        cause(a).cmp(&cause(b))
    })
}
