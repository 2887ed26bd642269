//! Symmetric two by two matrices.

/// `[[a, b], [b, d]]`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Symmetric {
    pub a: f64,
    pub b: f64,
    pub d: f64,
}

impl Symmetric {
    pub(crate) fn determinant(self) -> f64 {
        self.a * self.d - self.b * self.b
    }

    /// The inverse of a positive definite matrix; none otherwise.
    pub(crate) fn inverse_of_positive(self) -> Option<Self> {
        let det = self.determinant();
        let good = self.a > 0.0 && self.d > 0.0 && det > 1e-15 * self.a * self.d;
        let inverse = Self {
            a: self.d / det,
            b: -self.b / det,
            d: self.a / det,
        };
        (good && inverse.a.is_finite() && inverse.d.is_finite()).then_some(inverse)
    }

    pub(crate) fn times(self, v: [f64; 2]) -> [f64; 2] {
        [self.a * v[0] + self.b * v[1], self.b * v[0] + self.d * v[1]]
    }

    /// `v' M v`.
    pub(crate) fn form(self, v: [f64; 2]) -> f64 {
        dot(v, self.times(v))
    }

    /// `J M J'` for `J` given by its rows.
    pub(crate) fn carried(self, row0: [f64; 2], row1: [f64; 2]) -> Self {
        Self {
            a: self.form(row0),
            b: dot(row0, self.times(row1)),
            d: self.form(row1),
        }
    }
}

pub(crate) fn dot(u: [f64; 2], v: [f64; 2]) -> f64 {
    u[0] * v[0] + u[1] * v[1]
}
