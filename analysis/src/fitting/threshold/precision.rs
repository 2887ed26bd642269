//! To what precision usages were recorded, read from their digits.

use crate::observation::Ending;
use crate::sample::Sample;

/// The largest power of ten of which every exact failure is a whole multiple; failing that, the smallest gap between
/// two different exact failures. None where neither exists.
pub(super) fn recorded(sample: &Sample) -> Option<f64> {
    let mut usages = Vec::new();
    for row in sample.observations() {
        if row.ending() == Ending::Exact {
            usages.push(row.lower);
        }
    }
    usages.sort_by(f64::total_cmp);
    usages.dedup();
    let decimal = (-15..=15)
        .map(|places: i32| (places, 10.0_f64.powi(places)))
        .find(|(_, scale)| usages.iter().all(|usage| is_whole(usage * scale)));
    if let Some((places, _)) = decimal
        && !usages.is_empty()
    {
        return Some(10.0_f64.powi(-places));
    }
    usages
        .iter()
        .zip(usages.iter().skip(1))
        .map(|(earlier, later)| later - earlier)
        .min_by(f64::total_cmp)
}

/// Whether a number is whole to rounding, with digits to spare: most numbers with 14 digits look whole to 15.
fn is_whole(scaled: f64) -> bool {
    (0.5..1e12).contains(&scaled) && (scaled - scaled.round()).abs() <= 8.0 * f64::EPSILON * scaled
}
