//! Pooling: finite posteriors, shrinkage inside 0 to 1.
#![no_main]

#[path = "support/rows.rs"]
mod rows;

use arbitrary::{Result, Unstructured};
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::intervals::Level;
use wearbook_analysis::pooling::{Between, Group, pool, pool_normal};

fn run(data: &[u8]) -> Result<()> {
    let mut u = Unstructured::new(data);
    let family = rows::family(&mut u)?;
    let p = rows::number(&mut u)?;
    let between = match u.int_in_range(0..=3_u8)? {
        0 => Between::Restricted,
        1 => Between::Moments,
        2 => Between::EfronMorris,
        _ => Between::Known(rows::number(&mut u)?),
    };
    let size = u.int_in_range(0..=8_usize)?;
    let mut estimates = Vec::new();
    for _ in 0..size {
        estimates.push((rows::number(&mut u)?, rows::number(&mut u)?));
    }
    if let Ok(pooled) = pool_normal(&estimates, between) {
        assert!(pooled.mean.is_finite() && pooled.between >= 0.0);
        for effect in &pooled.effects {
            assert!(effect.mean.is_finite() && effect.deviation.is_finite());
            assert!((0.0..=1.0).contains(&effect.shrinkage));
        }
    }
    let mut groups = Vec::new();
    for place in 0..u.int_in_range(0..=5_usize)? {
        groups.push(Group {
            name: place.to_string(),
            lives: rows::lives(&mut u, 5)?,
        });
    }
    if let Ok(pooled) = pool(groups, family) {
        for group in &pooled.groups {
            for parameter in [Some(group.log_scale), group.log_shape]
                .into_iter()
                .flatten()
            {
                assert!(parameter.mean.is_finite() && parameter.deviation.is_finite());
                assert!((0.0..=1.0).contains(&parameter.shrinkage));
            }
            if let Ok(Some(limits)) = pooled.quantile(&group.name, p, Level::TWO_SIDED_90) {
                assert!(limits.lower <= Some(limits.value) && limits.upper >= Some(limits.value));
            }
        }
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
