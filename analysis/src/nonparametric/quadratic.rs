//! Quadratic forms in a covariance that may be singular.

/// Variance left below this share of a variance counts as none.
const NO_VARIANCE: f64 = 1e-11;

/// `g' V^- g` and the rank of `V`, by elimination that leaves out directions without variance. What is left of each
/// variance is judged against that variance alone, so a small group beside large ones still counts.
pub(super) fn quadratic(covariance: &[Vec<f64>], gaps: &[f64]) -> (f64, u32) {
    let mut work: Vec<Line> = covariance
        .iter()
        .zip(gaps)
        .enumerate()
        .map(|(place, (cells, gap))| Line {
            place,
            whole: cells.get(place).copied().unwrap_or(0.0),
            cells: cells.clone(),
            gap: *gap,
        })
        .filter(|line| line.whole > 0.0)
        .collect();
    let (mut total, mut rank) = (0.0, 0);
    while let Some(pivot) = take_best(&mut work) {
        let size = pivot.left();
        total += pivot.gap * pivot.gap / size;
        rank += 1;
        for line in &mut work {
            let factor = line.cells.get(pivot.place).copied().unwrap_or(0.0) / size;
            for (cell, part) in line.cells.iter_mut().zip(&pivot.cells) {
                *cell -= factor * part;
            }
            line.gap -= factor * pivot.gap;
        }
    }
    (total, rank)
}

struct Line {
    place: usize,
    /// The variance before any elimination.
    whole: f64,
    cells: Vec<f64>,
    gap: f64,
}

impl Line {
    fn left(&self) -> f64 {
        self.cells.get(self.place).copied().unwrap_or(0.0)
    }
}

fn take_best(work: &mut Vec<Line>) -> Option<Line> {
    let (best, share) = work
        .iter()
        .enumerate()
        .map(|(at, line)| (at, line.left() / line.whole))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (share > NO_VARIANCE).then(|| work.swap_remove(best))
}
