//! Sums over long columns: eight lanes in a fixed order within blocks, and the blocks compensated.
//!
//! The order depends on the column alone, so a sum has the same bits on every processor.

use crate::summation::{LANES, Sum};

/// `K` sums at once.
#[derive(Clone, Copy)]
pub(crate) struct Lanes<const K: usize>([[f64; LANES]; K]);

impl<const K: usize> Lanes<K> {
    #[inline(always)]
    pub(crate) fn new() -> Self {
        Self([[0.0; LANES]; K])
    }

    /// Adds the terms of one lane.
    #[inline(always)]
    pub(crate) fn each(&mut self) -> &mut [[f64; LANES]; K] {
        &mut self.0
    }

    /// Adds the lanes to running sums.
    #[inline(always)]
    pub(crate) fn settle(self, sums: &mut [Sum; K]) {
        for (sum, lanes) in sums.iter_mut().zip(self.0) {
            let [a, b, c, d, e, f, g, h] = lanes;
            sum.add(((a + b) + (c + d)) + ((e + f) + (g + h)));
        }
    }
}

/// `sum w y^k m` for `k = 0..4`, with `m` given beside `y`; both at most a block long.
#[inline(always)]
pub(crate) fn add_powers(ys: &[f64], masses: &[f64], sums: &mut [Sum; 4]) {
    let mut lanes = Lanes::<4>::new();
    let [s0, s1, s2, s3] = lanes.each();
    let (y_chunks, m_chunks) = (ys.chunks_exact(LANES), masses.chunks_exact(LANES));
    let (y_rest, m_rest) = (y_chunks.remainder(), m_chunks.remainder());
    for (ys, masses) in y_chunks.zip(m_chunks) {
        let lane = s0
            .iter_mut()
            .zip(s1.iter_mut())
            .zip(s2.iter_mut())
            .zip(s3.iter_mut());
        for ((((s0, s1), s2), s3), (y, m)) in lane.zip(ys.iter().zip(masses)) {
            let square = y * y;
            let first = m * y;
            *s0 += m;
            *s1 += first;
            *s2 = f64::mul_add(*m, square, *s2);
            *s3 = f64::mul_add(first, square, *s3);
        }
    }
    for (y, m) in y_rest.iter().zip(m_rest) {
        let square = y * y;
        let first = m * y;
        for (sum, term) in [&mut *s0, &mut *s1, &mut *s2, &mut *s3].into_iter().zip([
            *m,
            first,
            m * square,
            first * square,
        ]) {
            if let Some(lane) = sum.first_mut() {
                *lane += term;
            }
        }
    }
    lanes.settle(sums);
}
