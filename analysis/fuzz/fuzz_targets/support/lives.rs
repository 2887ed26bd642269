//! Lives from bytes, for the targets on curves, comparisons, incidences, ranks and fits.

use arbitrary::{Result, Unstructured};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

/// A usage: small whole numbers, so that ties abound, or any positive finite number.
pub fn usage(u: &mut Unstructured) -> Result<f64> {
    if u.arbitrary()? {
        return Ok(f64::from(u.int_in_range(1..=12_u8)?));
    }
    let number = f64::from_bits(u.arbitrary()?).abs();
    Ok(if number.is_finite() { number } else { 1.0 })
}

/// One life, of any kind if `loose`, else exact or right-censored, and perhaps `late`; it need not be valid.
pub fn life(u: &mut Unstructured, loose: bool, late: bool) -> Result<Observation> {
    let at = usage(u)?;
    let kinds = if loose { 7 } else { 5_u8 };
    let mut life = match u.int_in_range(0..=kinds)? {
        0..=3 => Observation::exact(at),
        4 | 5 => Observation::right_censored(at),
        6 => Observation::interval(at, usage(u)?),
        _ => Observation::left_censored(at),
    };
    if late && u.ratio(1, 4)? {
        let part = *u.choose(&[0.25, 0.5, 0.999, 1.0 - f64::EPSILON])?;
        life = life.entered_at(at * part);
    }
    life.cause = match u.int_in_range(0..=3_u8)? {
        0 => Some("a".to_owned()),
        1 => Some("b".to_owned()),
        _ => None,
    };
    let counts = [1, 1, 1, 2, 3, 1_000, 1_000_000_000, 1 << 50];
    Ok(life.times(*u.choose(&counts)?))
}

/// A sample of at most `most` valid lives; the others are left out.
pub fn sample(u: &mut Unstructured, most: usize) -> Result<Sample> {
    let mut lives = Vec::new();
    let mut total = 0_u64;
    // Many estimators refuse a sample for one inexact failure.
    let (loose, late) = (u.ratio(1, 5)?, u.ratio(1, 2)?);
    for _ in 0..u.int_in_range(0..=most)? {
        let life = life(u, loose, late)?;
        let fits = total
            .checked_add(life.count)
            .is_some_and(|sum| sum <= 1 << 53);
        if fits && Sample::new([life.clone()]).is_ok() {
            total += life.count;
            lives.push(life);
        }
    }
    Ok(Sample::new(lives).expect("each life is valid and the total fits"))
}
