//! Covariate columns, centred and scaled, and checked for columns that say the same.

#![expect(
    clippy::indexing_slicing,
    reason = "places in vectors and matrices stay below the sizes these are built with"
)]

use nalgebra::{DMatrix, DVector};

use super::covariates::CovariateSample;
use super::error::{PredictionError, RegressionError};

/// A column counts as following from others when less than this share of its length is its own.
const OWN_SHARE: f64 = 1e-7;
/// A column counts as constant when it spreads less than this share of its size.
const SPREAD_SHARE: f64 = 1e-12;

/// One column: `scaled = (raw - centre) / scale`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Column {
    pub centre: f64,
    pub scale: f64,
    pub least: f64,
    pub most: f64,
}

impl Column {
    pub(crate) fn scaled(&self, raw: f64) -> f64 {
        raw / self.scale - self.centre / self.scale
    }
}

/// The values of a covariate point, scaled.
pub(super) fn scaled(
    columns: &[Column],
    names: &[String],
    values: &[f64],
) -> Result<DVector<f64>, PredictionError> {
    if values.len() != columns.len() {
        return Err(PredictionError::Length {
            expected: columns.len(),
            given: values.len(),
        });
    }
    for (value, name) in values.iter().zip(names) {
        if !value.is_finite() {
            return Err(PredictionError::NotFinite {
                covariate: name.clone(),
                value: *value,
            });
        }
    }
    let scaled = columns.iter().zip(values);
    Ok(DVector::from_iterator(
        columns.len(),
        scaled.map(|(column, value)| column.scaled(*value)),
    ))
}

/// Place and column of a covariate by its name.
pub(super) fn find<'a>(
    columns: &'a [Column],
    names: &[String],
    covariate: &str,
) -> Result<(usize, &'a Column), PredictionError> {
    let mut named = names.iter().zip(columns).enumerate();
    named
        .find(|(_, (name, _))| *name == covariate)
        .map(|(place, (_, column))| (place, column))
        .ok_or_else(|| PredictionError::Covariate {
            name: covariate.to_owned(),
        })
}

/// The covariates of a sample, one column each.
#[derive(Clone, Debug)]
pub(crate) struct Design {
    pub columns: Vec<Column>,
    /// Scaled values, one row per life.
    pub scaled: DMatrix<f64>,
}

impl Design {
    /// Columns have mean 0 and mean square 1 over the distinct rows. With `within`, one number per row, columns must
    /// vary inside these groups.
    pub(crate) fn new(
        sample: &CovariateSample,
        within: Option<&[usize]>,
    ) -> Result<Self, RegressionError> {
        let rows = sample.rows().len();
        let mut scaled = DMatrix::zeros(rows, sample.names().len());
        let mut columns = Vec::new();
        for (place, name) in sample.names().iter().enumerate() {
            let raw = sample
                .rows()
                .iter()
                .filter_map(|row| row.values.get(place).copied());
            let raw = DVector::from_iterator(rows, raw);
            let column = column(&raw).ok_or_else(|| RegressionError::Constant {
                covariate: name.clone(),
            })?;
            scaled.set_column(place, &raw.map(|value| column.scaled(value)));
            columns.push(column);
        }
        let design = Self { columns, scaled };
        design.check(sample.names(), within)?;
        Ok(design)
    }

    /// Modified Gram-Schmidt, one column after the other, after taking group means off.
    fn check(&self, names: &[String], within: Option<&[usize]>) -> Result<(), RegressionError> {
        let mut own = self.scaled.clone();
        if let Some(groups) = within {
            take_means_off(&mut own, groups);
        }
        let size = own.ncols();
        let full = (own.nrows() as f64).sqrt();
        let lengths: Vec<f64> = own.column_iter().map(|column| column.norm()).collect();
        for (length, name) in lengths.iter().zip(names) {
            if *length <= OWN_SHARE * full {
                return Err(RegressionError::ConstantWithinStrata {
                    covariate: name.clone(),
                });
            }
        }
        let mut triangle = DMatrix::<f64>::identity(size, size);
        for (j, (name, length)) in names.iter().zip(lengths).enumerate() {
            for i in 0..j {
                let unit = own.column(i).clone_owned();
                let part = unit.dot(&own.column(j));
                triangle[(i, j)] = part;
                own.column_mut(j).axpy(-part, &unit, 1.0);
            }
            let rest = own.column(j).norm();
            if rest <= OWN_SHARE * length {
                return Err(RegressionError::Collinear {
                    covariate: name.clone(),
                    others: followed(&triangle, j, names),
                });
            }
            triangle[(j, j)] = rest;
            own.column_mut(j).scale_mut(1.0 / rest);
        }
        Ok(())
    }
}

/// Names of the earlier columns in the combination that gives column `j`.
fn followed(triangle: &DMatrix<f64>, j: usize, names: &[String]) -> Vec<String> {
    let earlier = triangle.view((0, 0), (j, j)).clone_owned();
    let parts = triangle.view((0, j), (j, 1)).clone_owned();
    let weights = earlier.solve_upper_triangular(&parts).unwrap_or(parts);
    names
        .iter()
        .zip(weights.iter())
        .filter(|(_, weight)| weight.abs() > 1e-5)
        .map(|(name, _)| name.clone())
        .collect()
}

fn column(raw: &DVector<f64>) -> Option<Column> {
    let (least, most) = (raw.min(), raw.max());
    let size = least.abs().max(most.abs());
    if raw.is_empty() || least >= most {
        return None;
    }
    // Dividing first keeps the largest numbers from overflowing.
    let centre = (raw / size).mean();
    let spread = (raw / size)
        .map(|value| (value - centre) * (value - centre))
        .mean()
        .sqrt();
    let scale = spread * size;
    (spread > SPREAD_SHARE && scale > 0.0 && scale.is_finite()).then_some(Column {
        centre: centre * size,
        scale,
        least,
        most,
    })
}

fn take_means_off(matrix: &mut DMatrix<f64>, groups: &[usize]) {
    let most = groups.iter().max().map_or(0, |most| most + 1);
    for mut column in matrix.column_iter_mut() {
        let mut sums = DVector::<f64>::zeros(most);
        let mut sizes = DVector::<f64>::zeros(most);
        for (value, group) in column.iter().zip(groups) {
            sums[*group] += value;
            sizes[*group] += 1.0;
        }
        for (value, group) in column.iter_mut().zip(groups) {
            *value -= sums[*group] / sizes[*group];
        }
    }
}
