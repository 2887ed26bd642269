use super::slices::Slices;
use super::{Level, Method, Quantity};
use crate::families::Family;
use crate::fitting::fit;
use crate::fitting::rows::Rows;
use crate::intervals::limits;
use crate::observation::Observation;
use crate::sample::Sample;

/// The slice that is a family of its own has the limits of that family.
#[test]
fn slices_are_the_families_within() {
    let sample = Sample::new([
        Observation::exact(17.88),
        Observation::exact(28.92).entered_at(10.0),
        Observation::exact(33.0).entered_at(5.0),
        Observation::interval(40.0, 46.0).times(3),
        Observation::exact(51.84).times(2),
        Observation::exact(54.12),
        Observation::exact(68.64).times(4),
        Observation::right_censored(70.0).times(2),
        Observation::exact(93.12).entered_at(50.0),
        Observation::exact(105.84).times(3),
        Observation::exact(127.92).times(2),
        Observation::exact(173.4),
    ])
    .expect("valid lives");
    let rows = Rows::new(&sample);
    let level = Level::TWO_SIDED_90;
    for (whole, third, part) in [
        (Family::Gamma, 0.0, Family::Exponential),
        (Family::GeneralisedGamma, 1.0, Family::Weibull),
        (Family::GeneralisedGamma, 0.0, Family::Lognormal),
        (Family::ThresholdWeibull, 0.0, Family::Weibull),
    ] {
        let whole = fit(&sample, whole).expect("a fit");
        let part = fit(&sample, part).expect("a fit");
        let mut slices = Slices::new(&sample, &rows, &whole).expect("slices");
        let slice = slices.at(third).expect("a slice");
        if whole.recorded.is_none() {
            let (a, b) = (slice.fit.log_likelihood, part.log_likelihood);
            assert!((a - b).abs() < 1e-9 * b.abs(), "{a} {b}");
        } else {
            // By recording the likelihood is another one.
            continue;
        }
        for quantity in [
            Quantity::Quantile(0.1),
            Quantity::Survival(80.0),
            Quantity::Hazard(80.0),
            Quantity::ConditionalSurvival {
                age: 60.0,
                span: 40.0,
            },
            Quantity::Span {
                age: 60.0,
                share: 0.1,
            },
        ] {
            let want =
                limits(&sample, &part, quantity, level, Method::LikelihoodRatio).expect("limits");
            for (up, want) in [(false, want.lower), (true, want.upper)] {
                let found = slice
                    .reach(quantity, up, level.distance())
                    .expect("a limit");
                let (found, want) = (found.expect("a side"), want.expect("a side"));
                assert!(
                    (found / want - 1.0).abs() < 1e-7,
                    "{:?} {quantity:?} {found} {want}",
                    whole.family
                );
            }
        }
    }
}
