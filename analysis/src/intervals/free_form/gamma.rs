//! The gamma of one shape: only the location is left.

use super::reading::read;
use super::slice::Slice;
use crate::families::Family;
use crate::fitting::LifeDistribution;
use crate::fitting::likelihood::{Member, evaluate};
use crate::intervals::{LimitsError, Quantity};
use crate::solve::root;

/// Log usage beyond this, either way, is out of the range of numbers.
const LARGEST: f64 = 690.0;

/// As [`Slice::reach`]: every quantity moves one way with the location.
pub(super) fn reach(
    slice: &Slice<'_>,
    quantity: Quantity,
    up: bool,
    distance: f64,
) -> Result<Option<f64>, LimitsError> {
    let centre = slice.rows.centre;
    let top = slice.fit.member(centre);
    let grows = !matches!(quantity, Quantity::Hazard(_));
    let sign = if up == grows { 1.0 } else { -1.0 };
    let at = |location: f64| {
        read(
            &LifeDistribution::of_member(
                Family::Gamma,
                &Member {
                    location: location + centre,
                    ..top
                },
                0.0,
            ),
            quantity,
        )
    };
    if distance < 1e-7 {
        return Ok(at(top.location));
    }
    let fall = |location: f64| {
        let value = evaluate(&slice.rows, &Member { location, ..top }).value;
        (2.0 * (slice.top - value)).max(0.0).sqrt() - distance
    };
    let bend = -evaluate(&slice.rows, &top).hessian.a;
    let mut step = if bend > 0.0 {
        distance / bend.sqrt()
    } else {
        0.3
    };
    let (mut near, mut far) = (top.location, top.location + sign * step);
    while fall(far) < 0.0 {
        if (far + centre).abs() > LARGEST {
            return Ok(None);
        }
        near = far;
        step *= 1.6;
        far = near + sign * step;
    }
    let location = root(fall, near, far).ok_or(LimitsError::NotConverged)?;
    Ok(at(location))
}
