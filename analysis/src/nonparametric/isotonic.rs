//! Weighted least squares on increasing sequences.

/// The increasing sequence nearest to `values` in weighted squares, by pooling adjacent violators (Ayer et al. 1955,
/// Annals of Mathematical Statistics 26). Weights are positive.
pub(crate) fn isotonic(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let mut blocks: Vec<(f64, f64, usize)> = Vec::with_capacity(values.len());
    for (value, weight) in values.iter().zip(weights) {
        let mut block = (*value, *weight, 1);
        while let Some(last) = blocks.pop() {
            if last.0 < block.0 {
                blocks.push(last);
                break;
            }
            let weight = last.1 + block.1;
            block = (
                (last.0 * last.1 + block.0 * block.1) / weight,
                weight,
                last.2 + block.2,
            );
        }
        blocks.push(block);
    }
    blocks
        .iter()
        .flat_map(|block| std::iter::repeat_n(block.0, block.2))
        .collect()
}
