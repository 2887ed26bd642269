//! d
use wearbook_analysis::{families::Family, fitting::fit, intervals::*, observation::Observation, sample::Sample};
fn main() {
    let s = Sample::new([
        Observation::exact(0.09451461652455176).entered_at(0.06588222450175095),
        Observation::exact(13.815510557964274).entered_at(12.871604646153592),
    ]).unwrap();
    let f = fit(&s, Family::Weibull).unwrap();
    println!("{f:?}");
    let m = f.quantile(0.5).unwrap();
    for l in [Level::TWO_SIDED_90, Level::TWO_SIDED_95] {
        println!("{:?}", likelihood_ratio::quantile_limits(&s, &f, 0.001, l));
        println!("{:?}", likelihood_ratio::parameter_limits(&s, &f, "shape", l));
        println!("{:?}", likelihood_ratio::parameter_limits(&s, &f, "scale", l));
        println!("{:?}", likelihood_ratio::survival_limits(&s, &f, m, l));
        println!("{:?}", likelihood_ratio::span_limits(&s, &f, m * 1.1154, 0.001, l));
    }
}
