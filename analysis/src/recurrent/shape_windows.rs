//! What the power law sees of the stretches watched: moments of log age under a power of age.
//!
//! With `y = ln(age / longest age)` the expected events of a system over its window are proportional to the integral
//! of `exp(shape y)` over it. Everything the likelihood needs are the total of these integrals over the systems and
//! the mean and variance of `y` under them.

use super::history::Histories;
use crate::summation::Sum;

/// Windows of watching on the scale of `y`.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Windows {
    rows: Vec<Window>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Window {
    /// `y` at the end; at most 0.
    end: f64,
    /// Width in `y`; infinite if watched from new.
    width: f64,
    count: f64,
}

/// Total and moments at one shape.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Moments {
    /// Logarithm of the total of the integrals.
    pub ln_total: f64,
    pub mean: f64,
    pub variance: f64,
}

impl Windows {
    pub(crate) fn new(histories: &Histories) -> Self {
        let longest = histories.longest_age();
        let mut rows: Vec<Window> = Vec::new();
        for system in histories.systems() {
            let window = Window {
                end: ln_ratio(system.end, longest),
                width: if system.start > 0.0 {
                    ((system.end - system.start) / system.start).ln_1p()
                } else {
                    f64::INFINITY
                },
                count: system.count as f64,
            };
            match rows.last_mut() {
                // The canonical order has equal windows side by side.
                Some(last) if last.end == window.end && last.width == window.width => {
                    last.count += window.count;
                }
                _ => rows.push(window),
            }
        }
        Self { rows }
    }

    /// Whether every system joined late.
    pub(crate) fn all_late(&self) -> bool {
        self.rows.iter().all(|row| row.width.is_finite())
    }

    /// The moments at a shape above 0.
    pub(crate) fn moments(&self, shape: f64) -> Moments {
        let weight = |row: &Window| {
            let share = -(-shape * row.width).exp_m1();
            row.count * (shape * row.end).exp() * share / shape
        };
        let centre = |row: &Window| row.end - mean_before_end(shape, row.width);
        let total = self.rows.iter().map(weight).collect::<Sum>().total();
        let mean = self
            .rows
            .iter()
            .map(|row| weight(row) / total * centre(row))
            .collect::<Sum>()
            .total();
        let variance = self
            .rows
            .iter()
            .map(|row| {
                let within = variance_before_end(shape, row.width);
                weight(row) / total * (within + (centre(row) - mean).powi(2))
            })
            .collect::<Sum>()
            .total();
        Moments {
            ln_total: total.ln(),
            mean,
            variance,
        }
    }
}

/// Mean distance from the end of a window under a density proportional to `exp(-shape distance)`.
fn mean_before_end(shape: f64, width: f64) -> f64 {
    let b = shape * width;
    if b > 700.0 {
        1.0 / shape
    } else if b < 0.05 {
        // 1/b - 1/(exp(b) - 1), by its series.
        width * (0.5 - b / 12.0 + b.powi(3) / 720.0 - b.powi(5) / 30_240.0)
    } else {
        width * (1.0 / b - 1.0 / b.exp_m1())
    }
}

/// Variance of the same.
fn variance_before_end(shape: f64, width: f64) -> f64 {
    let b = shape * width;
    if b > 700.0 {
        1.0 / (shape * shape)
    } else if b < 0.1 {
        let square = b * b;
        width
            * width
            * (1.0 / 12.0 - square / 240.0 + square * square / 6_048.0 - square.powi(3) / 172_800.0)
    } else {
        width * width * (1.0 / (b * b) - 0.25 / (0.5 * b).sinh().powi(2))
    }
}

/// `ln(part / whole)` for `0 < part <= whole`, without loss when they are close.
pub(crate) fn ln_ratio(part: f64, whole: f64) -> f64 {
    if part > 0.5 * whole {
        ((part - whole) / whole).ln_1p()
    } else if part > 1e-290 * whole {
        (part / whole).ln()
    } else {
        // The ratio itself may fall below the smallest number.
        part.ln() - whole.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::{mean_before_end, variance_before_end};
    use crate::quadrature::integral;

    #[test]
    fn moments_agree_with_integration() {
        for width in [1e-6, 0.01, 0.3, 2.0, 30.0] {
            for shape in [1e-4, 0.04, 0.99, 1.0, 4.0, 20.0] {
                let moment = |power: i32| {
                    integral(|v| (-shape * v).exp() * v.powi(power), 0.0, width, 1e-13).unwrap()
                };
                let mean = moment(1) / moment(0);
                let variance = moment(2) / moment(0) - mean * mean;
                assert!((mean_before_end(shape, width) / mean - 1.0).abs() < 1e-12);
                assert!((variance_before_end(shape, width) / variance - 1.0).abs() < 1e-9);
            }
        }
    }
}
