//! The families whose standard curve has a free form: gamma and generalised gamma.
//!
//! For a fixed form either is log-location-scale and has exact derivatives. Derivatives along the form are central
//! differences of those, of fourth order.

use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};

use super::fitted::{Fit, Found};
use super::life_distribution::LifeDistribution;
use super::likelihood::{Evaluation, Member, evaluate};
use super::maximise::{Ended, Free, maximise};
use super::newton::{Peak, Surface, climb};
use super::rows::Rows;
use super::start::{spreads, start};
use super::{FitError, existence};
use crate::families::{Curve, Family, GeneralisedGamma};
use crate::sample::Sample;

/// Forms tried first; a best value at either end counts as run off.
const FORMS: [f64; 25] = [
    -12.0, -9.0, -7.0, -5.5, -4.5, -3.5, -2.8, -2.2, -1.6, -1.2, -0.8, -0.4, 0.0, 0.4, 0.8, 1.0,
    1.4, 1.8, 2.4, 3.2, 4.2, 5.5, 7.0, 9.0, 12.0,
];
/// Where 0 stands among the forms.
const NORMAL_PLACE: usize = 12;
/// Bounds of the logarithm of a gamma shape that is believed.
const LN_GAMMA_SHAPES: std::ops::Range<f64> = -6.5..40.0;
const LN_SHAPES: std::ops::Range<f64> = -8.0..23.0;

fn form_member(form: f64, location: f64, log_shape: f64, anchor: f64) -> Member {
    Member {
        family: Curve::GeneralisedGamma(GeneralisedGamma::new(form)),
        location,
        log_shape,
        anchor,
    }
}

/// The gamma of mean `exp(location)` and shape `exp(ln_shape)`: `Q` and `sigma` are both its coefficient of variation.
fn gamma_member(location: f64, ln_shape: f64) -> Member {
    form_member((-0.5 * ln_shape).exp(), location, 0.5 * ln_shape, 0.0)
}

/// An evaluation with what differences along a further parameter add.
struct Along {
    at: Evaluation,
    first: f64,
    second: f64,
    mixed: [f64; 2],
}

fn along(look: impl Fn(f64) -> Evaluation, place: f64, step: f64) -> Along {
    let at = look(place);
    let [back2, back1, on1, on2] =
        [-2.0, -1.0, 1.0, 2.0].map(|steps: f64| look(place + steps * step));
    let first = |read: &dyn Fn(&Evaluation) -> f64| {
        (8.0 * (read(&on1) - read(&back1)) - (read(&on2) - read(&back2))) / (12.0 * step)
    };
    let second = (16.0 * ((on1.value - at.value) + (back1.value - at.value))
        - ((on2.value - at.value) + (back2.value - at.value)))
        / (12.0 * step * step);
    Along {
        at,
        first: first(&|eval| eval.value),
        second,
        mixed: [
            first(&|eval| eval.gradient[0]),
            first(&|eval| eval.gradient[1]),
        ],
    }
}

fn gamma_surface(rows: &Rows, at: &Vector2<f64>) -> Option<Surface<2>> {
    if !LN_GAMMA_SHAPES.contains(&at.y) {
        return None;
    }
    let along = along(
        |ln_shape| evaluate(rows, &gamma_member(at.x, ln_shape)),
        at.y,
        0.01,
    );
    Some(Surface {
        value: along.at.value,
        gradient: Vector2::new(along.at.gradient[0], along.first),
        hessian: Matrix2::new(
            along.at.hessian.a,
            along.mixed[0],
            along.mixed[0],
            along.second,
        ),
    })
}

fn form_surface(rows: &Rows, at: &Vector3<f64>) -> Option<Surface<3>> {
    if at.z.abs() > 12.0 || !LN_SHAPES.contains(&at.y) {
        return None;
    }
    let along = along(
        |form| evaluate(rows, &form_member(form, at.x, at.y, 0.0)),
        at.z,
        0.01 * at.z.abs().max(1.0),
    );
    let h = along.at.hessian;
    Some(Surface {
        value: along.at.value,
        gradient: Vector3::new(along.at.gradient[0], along.at.gradient[1], along.first),
        hessian: Matrix3::new(
            h.a,
            h.b,
            along.mixed[0],
            h.b,
            h.d,
            along.mixed[1],
            along.mixed[0],
            along.mixed[1],
            along.second,
        ),
    })
}

/// Gamma by maximum likelihood: the best of a few shapes, each with its best mean, then both together.
pub(super) fn gamma(sample: &Sample) -> Result<Fit, FitError> {
    let family = Family::Gamma;
    existence::check(sample, family)?;
    let rows = Rows::new(sample);
    let spreads = spreads(&rows);
    let mut ln_shapes = vec![0.0];
    for spread in [spreads.failed, spreads.all] {
        // A small coefficient of variation is the spread of the logarithm; a large spread is the reciprocal shape.
        let ln_shape = -2.0 * spread.ln() + (1.0 + spread).ln();
        ln_shapes.extend([-1.5, 0.0, 1.5].map(|away| ln_shape + away));
    }
    let best = ln_shapes
        .into_iter()
        .filter(|ln_shape| LN_GAMMA_SHAPES.contains(ln_shape))
        .map(|ln_shape| {
            let first = gamma_member(spreads.last, ln_shape);
            (ln_shape, maximise(&rows, first, Free::Location))
        })
        .filter(|(_, top)| top.at.value.is_finite())
        .max_by(|a, b| a.1.at.value.total_cmp(&b.1.at.value));
    let Some((ln_shape, top)) = best else {
        return Err(FitError::NotConverged { family });
    };
    let peak = climb(
        |at| gamma_surface(&rows, at),
        Vector2::new(top.member.location, ln_shape),
        Vector2::new(8.0, 1.5),
    );
    let Some(peak) = peak else {
        return Err(FitError::NotConverged { family });
    };
    let edge = 0.5;
    if peak.at.y < LN_GAMMA_SHAPES.start + edge || peak.at.y > LN_GAMMA_SHAPES.end - edge {
        return Err(ran_off(
            family,
            "the likelihood keeps growing while the shape runs to the end of its range",
        ));
    }
    if !peak.converged {
        return Err(FitError::NotConverged { family });
    }
    gamma_fit(sample, &rows, &peak)
}

fn gamma_fit(sample: &Sample, rows: &Rows, peak: &Peak<2>) -> Result<Fit, FitError> {
    let location = peak.at.x + rows.centre;
    let ln_scale = location - peak.at.y;
    let logarithmic = peak.surface.covariance().map(|cov| {
        let carry = Matrix2::new(0.0, 1.0, 1.0, -1.0);
        carry * cov * carry.transpose()
    });
    let parameters = vec![peak.at.y.exp(), ln_scale.exp()];
    let natural = logarithmic.map(|cov| {
        let carry = Matrix2::from_diagonal(&Vector2::from_column_slice(&parameters));
        carry * cov * carry
    });
    let member = gamma_member(location, peak.at.y);
    Fit::assembled(
        sample,
        Found {
            life: LifeDistribution::of_member(Family::Gamma, &member, 0.0),
            parameters,
            covariance: natural.and_then(|cov| table(cov.row_iter())),
            log_covariance: logarithmic.and_then(|cov| table(cov.row_iter())),
            location_covariance: None,
            log_likelihood: peak.surface.value,
            iterations: peak.iterations,
            still_to_gain: peak.surface.still_to_gain(),
            warnings: Vec::new(),
        },
    )
}

/// Generalised gamma by maximum likelihood: the best of a row of forms, each with its best location and shape, then
/// all three together.
pub(super) fn generalised_gamma(sample: &Sample) -> Result<Fit, FitError> {
    let family = Family::GeneralisedGamma;
    existence::check(sample, family)?;
    let rows = Rows::new(sample);
    let tops = profile(&rows);
    let best = tops
        .iter()
        .filter(|(_, member, value)| value.is_finite() && LN_SHAPES.contains(&member.log_shape))
        .max_by(|a, b| a.2.total_cmp(&b.2));
    let Some((form, member, value)) = best else {
        return Err(FitError::NotConverged { family });
    };
    let base = member.anchored_at(0.0);
    let peak = climb(
        |at| form_surface(&rows, at),
        Vector3::new(base.location, base.log_shape, *form),
        Vector3::new(8.0, 1.0, 0.5 * form.abs().max(1.0)),
    );
    let edge = FORMS.last().copied().unwrap_or_default();
    let reached = peak.map_or(*form, |peak| peak.at.z);
    if form.abs() >= edge || reached.abs() >= 0.95 * edge {
        return Err(ran_off(
            family,
            "the likelihood keeps growing while q runs to the end of its range, so a model with two parameters or a bound of life describes these data",
        ));
    }
    match peak {
        Some(peak) if peak.converged && peak.surface.value >= *value - 1e-9 * value.abs() => {
            form_fit(sample, &rows, &peak)
        }
        Some(peak) if peak.surface.covariance().is_none() => Err(FitError::NotIdentifiable {
            family,
            reason: "the likelihood is a ridge along which mu, sigma and q change together; more failures, or a model with two parameters, help",
        }),
        _ => Err(FitError::NotConverged { family }),
    }
}

/// The best member of every form, followed outward from the normal.
fn profile(rows: &Rows) -> Vec<(f64, Member, f64)> {
    let first = start(rows, Curve::GeneralisedGamma(GeneralisedGamma::new(0.0)));
    let hazard = first.family.cumulative_hazard(first.anchor);
    let mut tops = Vec::with_capacity(FORMS.len());
    let upward = FORMS.iter().skip(NORMAL_PLACE);
    let downward = FORMS.iter().take(NORMAL_PLACE).rev();
    let mut middle = first;
    for (place, form) in upward.enumerate() {
        let top = follow(rows, &mut middle, *form, hazard);
        tops.push(top);
        if place > 0 && hopeless(&tops) {
            break;
        }
    }
    middle = tops.first().map_or(first, |top| top.1);
    let from = tops.len();
    for form in downward {
        let top = follow(rows, &mut middle, *form, hazard);
        tops.push(top);
        if tops.get(from..).is_some_and(hopeless) {
            break;
        }
    }
    tops
}

/// Falling for two forms on end by more than any later rise could mend.
fn hopeless(tops: &[(f64, Member, f64)]) -> bool {
    let best = tops
        .iter()
        .map(|top| top.2)
        .fold(f64::NEG_INFINITY, f64::max);
    match tops {
        [.., before, last] => {
            last.2 < before.2 && last.2 < best - 25.0 - 1e-3 * best.abs().min(1e5)
        }
        _ => false,
    }
}

fn follow(rows: &Rows, middle: &mut Member, form: f64, hazard: f64) -> (f64, Member, f64) {
    let curve = Curve::GeneralisedGamma(GeneralisedGamma::new(form));
    let first = Member {
        family: curve,
        anchor: curve.standard_quantile(hazard),
        ..*middle
    };
    let top = maximise(rows, first, Free::Both);
    if top.ended == Ended::Converged && LN_SHAPES.contains(&top.member.log_shape) {
        *middle = top.member;
        (form, top.member, top.at.value)
    } else {
        (form, first, f64::NEG_INFINITY)
    }
}

fn form_fit(sample: &Sample, rows: &Rows, peak: &Peak<3>) -> Result<Fit, FitError> {
    let location = peak.at.x + rows.centre;
    let (sigma, form) = ((-peak.at.y).exp(), peak.at.z);
    let carried = |carry: Vector3<f64>| {
        let carry = Matrix3::from_diagonal(&carry);
        peak.surface.covariance().map(|cov| carry * cov * carry)
    };
    let natural = carried(Vector3::new(1.0, -sigma, 1.0));
    let logarithmic = carried(Vector3::new(1.0, -1.0, 1.0));
    let member = form_member(form, location, peak.at.y, 0.0);
    Fit::assembled(
        sample,
        Found {
            life: LifeDistribution::of_member(Family::GeneralisedGamma, &member, 0.0),
            parameters: vec![location, sigma, form],
            covariance: natural.and_then(|cov| table(cov.row_iter())),
            log_covariance: logarithmic.and_then(|cov| table(cov.row_iter())),
            location_covariance: None,
            log_likelihood: peak.surface.value,
            iterations: peak.iterations,
            still_to_gain: peak.surface.still_to_gain(),
            warnings: Vec::new(),
        },
    )
}

fn ran_off(family: Family, reason: &'static str) -> FitError {
    FitError::NoFiniteMaximum { family, reason }
}

/// Rows of a covariance; none if a number overflowed or a variance underflowed.
pub(super) fn table<'a, R, C, S>(
    rows: impl Iterator<Item = nalgebra::Matrix<f64, R, C, S>>,
) -> Option<Vec<Vec<f64>>>
where
    R: nalgebra::Dim,
    C: nalgebra::Dim,
    S: nalgebra::RawStorage<f64, R, C> + 'a,
{
    let rows: Vec<Vec<f64>> = rows.map(|row| row.iter().copied().collect()).collect();
    let finite = rows.iter().flatten().all(|cell| cell.is_finite());
    let positive = rows
        .iter()
        .enumerate()
        .all(|(place, row)| row.get(place).is_some_and(|variance| *variance > 0.0));
    (finite && positive).then_some(rows)
}
