//! Valid and invalid lives drawn from bytes.
#![allow(dead_code, reason = "each target takes what it needs")]

use arbitrary::{Result, Unstructured};
use wearbook_analysis::families::Family;
use wearbook_analysis::observation::Observation;
use wearbook_analysis::regression::{CovariateLife, CovariateSample};
use wearbook_analysis::sample::Sample;

const COUNTS: [u64; 5] = [1, 1, 2, 1_000, 1_000_000_000];
const PARTS: [f64; 5] = [0.0, 0.5, 0.999, 1.0 - 1e-9, 1.0 - 1e-15];

/// A number: mostly of ordinary size, now and then any bits at all.
pub fn number(u: &mut Unstructured<'_>) -> Result<f64> {
    Ok(match u.int_in_range(0..=9_u8)? {
        0 => f64::from_bits(u.arbitrary()?),
        1 => f64::from(u.int_in_range(0..=5_u8)?),
        _ => 10.0_f64.powf(f64::from(u.int_in_range(-600..=900_i32)?) / 100.0),
    })
}

pub fn family(u: &mut Unstructured<'_>) -> Result<Family> {
    Ok(*u.choose(&Family::ALL)?)
}

pub fn life(u: &mut Unstructured<'_>) -> Result<Observation> {
    let usage = number(u)?;
    let part = *u.choose(&PARTS)?;
    let life = match u.int_in_range(0..=4_u8)? {
        0 | 1 => Observation::exact(usage),
        2 => Observation::right_censored(usage),
        3 => Observation::interval(part * usage, usage),
        _ => Observation::left_censored(usage),
    };
    let life = if u.ratio(1_u8, 3)? {
        life.entered_at(part * usage)
    } else {
        life
    };
    let life = life.times(*u.choose(&COUNTS)?);
    Ok(match u.int_in_range(0..=3_u8)? {
        0 => life,
        mode => life.with_cause(mode.to_string()),
    })
}

/// Up to `most` lives that are valid together.
pub fn lives(u: &mut Unstructured<'_>, most: usize) -> Result<Sample> {
    let size = u.int_in_range(0..=most)?;
    let mut kept = Vec::new();
    for _ in 0..size {
        let life = life(u)?;
        if Sample::new([life.clone()]).is_ok() {
            kept.push(life);
        }
    }
    Ok(Sample::new(kept).expect("each life is valid"))
}

/// Up to `most` lives with up to three covariates and strata; none if some value breaks a rule.
pub fn covariate_sample(u: &mut Unstructured<'_>, most: usize) -> Result<Option<CovariateSample>> {
    let names = ["a", "b", "c"];
    let columns = u.int_in_range(0..=3_usize)?;
    let size = u.int_in_range(0..=most)?;
    let mut rows = Vec::new();
    for _ in 0..size {
        let life = life(u)?;
        let values = (0..columns).map(|_| {
            let value = number(u)?;
            Ok(if u.arbitrary()? { -value } else { value })
        });
        let row = CovariateLife::new(life, values.collect::<Result<_>>()?);
        rows.push(if u.arbitrary()? {
            row.in_stratum("other")
        } else {
            row
        });
    }
    Ok(CovariateSample::new(names.into_iter().take(columns), rows).ok())
}
