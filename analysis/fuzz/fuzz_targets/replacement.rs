//! Any life and costs: a typed refusal, or decisions whose numbers are finite and whose best is no worse than its
//! neighbours.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use wearbook_analysis::fitting::LifeDistribution;
use wearbook_analysis::replacement::{
    AgeEvidence, AgeReplacement, BestInterval, DelayTime, InspectedComponent, InspectionCosts,
    MinimalRepair, RenewalCosts, age_replacement, age_replacement_with_evidence, minimal_repair,
    minimal_repair_cost_rate, renewal_cost_rate,
};

/// A number of any bits, or one of ordinary size.
fn number(input: &mut Unstructured<'_>) -> arbitrary::Result<f64> {
    if input.ratio(1, 8)? {
        return input.arbitrary();
    }
    let part = f64::from(input.int_in_range(1_u32..=999)?) / 100.0;
    Ok(part * *input.choose(&[1e-6, 0.01, 1.0, 1.0, 1.0, 100.0, 1e6])?)
}

fn life(input: &mut Unstructured<'_>) -> arbitrary::Result<Option<LifeDistribution>> {
    let (one, other) = (number(input)?, number(input)?);
    Ok(match input.int_in_range(0..=3)? {
        0 => LifeDistribution::exponential(one),
        1 => LifeDistribution::weibull(one, other),
        2 => LifeDistribution::loglogistic(one, other),
        _ => LifeDistribution::lognormal(one, other),
    }
    .ok())
}

fn run(data: &[u8]) -> arbitrary::Result<()> {
    let mut input = Unstructured::new(data);
    let (Some(one), Some(other)) = (life(&mut input)?, life(&mut input)?) else {
        return Ok(());
    };
    let (planned, failure, looked) = (
        number(&mut input)?,
        number(&mut input)?,
        number(&mut input)?,
    );
    if let Ok(costs) = RenewalCosts::new(planned, failure) {
        if let Ok(AgeReplacement::At(best)) = age_replacement(one, costs) {
            for value in [
                best.age,
                best.cost_rate,
                best.mean_cycle,
                best.cost_at_half,
                best.cost_at_double,
            ] {
                assert!(value.is_finite() && value > 0.0);
            }
            assert!((0.0..=1.0).contains(&best.reliability));
            assert!((0.0..=1.0).contains(&best.saving));
            let slack = 1.0 - 1e-8;
            assert!(best.cost_at_half >= slack * best.cost_rate);
            assert!(best.cost_at_double >= slack * best.cost_rate);
            if let Ok((first, last)) = best.ages_within(0.05) {
                assert!(first <= best.age && last.is_none_or(|last| last >= best.age));
            }
        }
        if let Ok(rate) = renewal_cost_rate(one, costs, number(&mut input)?) {
            assert!(rate.is_finite() && rate > 0.0);
        }
        let evidence = AgeEvidence {
            shape_upper: Some(number(&mut input)?),
            longest_usage: Some(number(&mut input)?),
        };
        if let Ok(AgeReplacement::At(best)) = age_replacement_with_evidence(one, costs, evidence) {
            assert!(evidence.shape_upper.is_some_and(|upper| upper > 1.0));
            assert!(
                evidence
                    .longest_usage
                    .is_some_and(|longest| best.age <= longest)
            );
        }
        let (shape, scale) = (number(&mut input)?, number(&mut input)?);
        if let Ok(MinimalRepair::At(best)) = minimal_repair(shape, scale, costs) {
            assert!(best.age.is_finite() && best.cost_rate.is_finite());
            if let Ok(rate) = minimal_repair_cost_rate(shape, scale, costs, 2.0 * best.age) {
                assert!(rate >= best.cost_rate * (1.0 - 1e-8));
            }
        }
    }
    let Ok(costs) = InspectionCosts::new(looked, planned, failure) else {
        return Ok(());
    };
    let (rate, downtime, interval) = (
        number(&mut input)?,
        number(&mut input)?,
        number(&mut input)?,
    );
    let chance = *input.choose(&[1.0, 0.9, 0.5, 0.1])?;
    let model =
        DelayTime::new(rate, other, downtime, costs).and_then(|model| model.with_detection(chance));
    if let Ok(model) = model {
        if let Ok(at) = model.at(interval) {
            assert!((0.0..=1.0).contains(&at.failing_share) && at.cost_rate.is_finite());
        }
        if let Ok(BestInterval::Every(best)) = model.best() {
            assert!(best.interval > 0.0 && best.cost_rate.is_finite());
        }
    }
    // The sum over inspections is the slow part: only intervals that are not short beside the life.
    let Ok(component) = InspectedComponent::new(one, other, costs) else {
        return Ok(());
    };
    if one.mean().is_some_and(|mean| interval > 0.01 * mean)
        && let Ok(cycle) = component.at(interval)
    {
        assert!((0.0..=1.0).contains(&cycle.failing_share));
        assert!(cycle.cost_rate.is_finite() && cycle.mean_cycle > 0.0 && cycle.inspections >= 0.0);
    }
    Ok(())
}

fuzz_target!(|data: &[u8]| {
    let _ = run(data);
});
