//! What one life adds to the log-likelihood, with derivatives in its location and log shape.
//!
//! The same terms as for a sample without covariates, but each life has a location of its own.

use crate::families::Family;
use crate::fitting::likelihood::{Gain, Member, gain};
use crate::fitting::rows::Stretch;
use crate::observation::{Ending, Observation};

/// A life on the log scale about a centre.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LogLife {
    pub count: f64,
    unfailed: Option<Stretch>,
    end: End,
}

#[derive(Clone, Copy, Debug)]
enum End {
    Survived,
    FailedAt(f64),
    FailedWithin(Stretch),
}

/// Value, derivatives in (location, log shape), second derivatives (aa, ab, bb).
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Term {
    pub value: f64,
    pub gradient: [f64; 2],
    pub hessian: [f64; 3],
}

impl LogLife {
    pub(crate) fn new(row: &Observation, centre: f64) -> Self {
        let failed_at = End::FailedAt(row.upper.ln() - centre);
        Self {
            count: row.count as f64,
            unfailed: Stretch::new(row.entry, row.lower, centre),
            end: match row.ending() {
                Ending::RightCensored => End::Survived,
                Ending::Exact => failed_at,
                Ending::LeftCensored | Ending::IntervalCensored => {
                    Stretch::new(row.lower, row.upper, centre).map_or(failed_at, End::FailedWithin)
                }
            },
        }
    }

    /// Log-likelihood on the usage scale, for a life with the standard variable
    /// `z(y) = (y - location) * exp(log_shape)`.
    pub(crate) fn term(&self, family: Family, centre: f64, location: f64, log_shape: f64) -> Term {
        let member = Member {
            family: family.curve(),
            location,
            log_shape,
            anchor: 0.0,
        };
        let mut term = match &self.end {
            End::Survived => Term::default(),
            End::FailedAt(y) => log_density_of_hazard(*y, centre, &member),
            End::FailedWithin(stretch) => log_failure_within(&gain(stretch, &member)),
        };
        if let Some(stretch) = &self.unfailed {
            let gain = gain(stretch, &member);
            let amount = gain.ln.exp();
            term.value -= amount;
            if amount > 0.0 {
                let [first, second] = &mut term.gradient;
                let [u, v] = gain.gradient;
                *first -= amount * u;
                *second -= amount * v;
                let [a, b, d] = &mut term.hessian;
                *a -= amount * gain.hessian.a;
                *b -= amount * gain.hessian.b;
                *d -= amount * gain.hessian.d;
            }
        }
        term
    }
}

/// Logarithm of the hazard per unit of usage.
fn log_density_of_hazard(y: f64, centre: f64, member: &Member) -> Term {
    let shape = member.shape();
    let z = member.z(y);
    let jet = member.family.log_hazard(z);
    // z has derivatives (-shape, z) and second derivatives (0, -shape, z).
    Term {
        value: jet.value + member.log_shape - (centre + y),
        gradient: [-jet.slope * shape, jet.slope * z + 1.0],
        hessian: [
            jet.curvature * shape * shape,
            -jet.curvature * shape * z - jet.slope * shape,
            jet.curvature * z * z + jet.slope * z,
        ],
    }
}

/// Logarithm of `1 - exp(-gain)`.
fn log_failure_within(gain: &Gain) -> Term {
    let amount = gain.ln.exp();
    let (value, first, second) = if amount < 1e-9 {
        (gain.ln - 0.5 * amount, 1.0 - 0.5 * amount, -1.0)
    } else {
        let value = if amount > 0.7 {
            (-(-amount).exp()).ln_1p()
        } else {
            (-(-amount).exp_m1()).ln()
        };
        let first = if amount > 700.0 {
            0.0
        } else {
            amount / amount.exp_m1()
        };
        (value, first, -first * (first + amount))
    };
    if first == 0.0 {
        // Certain failure: no derivative is left, however large the gain's own are.
        return Term {
            value,
            ..Term::default()
        };
    }
    let [u, v] = gain.gradient;
    Term {
        value,
        gradient: [first * u, first * v],
        hessian: [
            first * gain.hessian.a + second * u * u,
            first * gain.hessian.b + second * u * v,
            first * gain.hessian.d + second * v * v,
        ],
    }
}
