//! What one request may ask of the processor: about two seconds of one core at the most.

use super::lives::Lives;
use super::question::Question;
use crate::platform::http::problem::FieldFault;
use wearbook_analysis::families::Family;
use wearbook_analysis::intervals::Method;

/// Rows for the families whose likelihood is an integral or has a bend.
const MOST_ROWS_OF_HEAVY_FAMILIES: usize = 500;

/// Rows times covariates times families.
const MOST_REGRESSION: usize = 20_000;

/// Rows times causes, where failures are not known exactly.
const MOST_BY_CAUSE: usize = 20_000;

/// How many rows one row counts for in drawn samples where lives are not all exact and seen from new.
const INEXACT: usize = 10;

/// Rows, each sample with its own cost, times samples times families times limits.
const MOST_DRAWN: usize = 4_000_000;

/// What is not allowed of these lives, with the member to change.
pub(super) fn too_much(lives: &Lives, question: &Question) -> Vec<FieldFault> {
    let rows = lives.rows().len();
    let mut faults = Vec::new();
    let heavy = question
        .families
        .iter()
        .position(|family| !Family::ALL.contains(family));
    if let Some(place) = heavy.filter(|_| rows > MOST_ROWS_OF_HEAVY_FAMILIES) {
        let family = question.families.get(place).copied();
        faults.push(FieldFault::new(
            format!("/families/{place}"),
            "work",
            format!("this family for at most {MOST_ROWS_OF_HEAVY_FAMILIES} lives"),
            family.map_or("", Family::code),
        ));
    }
    let regression = rows
        .saturating_mul(lives.covariates().len())
        .saturating_mul(question.regression.len());
    if regression > MOST_REGRESSION {
        faults.push(FieldFault::new(
            "/covariates",
            "work",
            format!("at most {MOST_REGRESSION} lives times covariates times families"),
            regression,
        ));
    }
    let inexact = lives.rows().iter().any(|row| {
        let life = &row.observation;
        life.entry > 0.0 || (life.upper.is_finite() && life.lower < life.upper)
    });
    let causes = lives.causes().len();
    if inexact && question.cause.is_none() && causes > 1 && rows * causes > MOST_BY_CAUSE {
        faults.push(FieldFault::new(
            "/lives",
            "work",
            format!("at most {MOST_BY_CAUSE} lives times causes unless all are exact and seen from new, or one cause named"),
            rows * causes,
        ));
    }
    if let Method::Bootstrap(resampling) = question.method {
        let grouped = lives.rows().iter().any(|row| row.group.is_some());
        let causes = if question.cause.is_some() { 0 } else { causes };
        let fits = question.families.len() * (1 + usize::from(grouped)) + causes;
        let heavy = if heavy.is_some() { 10 } else { 1 };
        let drawn = [
            usize::try_from(resampling.resamples).unwrap_or(usize::MAX),
            fits,
            question.shares.len() + 3,
            heavy,
            if inexact { INEXACT } else { 1 },
        ]
        .into_iter()
        .fold(rows + 100, usize::saturating_mul);
        if drawn > MOST_DRAWN {
            faults.push(FieldFault::new(
                "/resamples",
                "work",
                format!("at most {MOST_DRAWN} lives times samples times families times limits"),
                drawn,
            ));
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyses::LifeRow;
    use wearbook_analysis::intervals::Resampling;
    use wearbook_analysis::observation::Observation;

    fn lives(rows: u32, covariates: usize) -> Lives {
        let rows = (1..=rows).map(|age| LifeRow {
            observation: Observation::exact(f64::from(age)),
            group: None,
            covariates: vec![f64::from(age % 3); covariates],
        });
        let names = (0..covariates).map(|place| format!("x{place}"));
        Lives::new(rows.collect(), names.collect()).unwrap()
    }

    fn places(lives: &Lives, question: &Question) -> Vec<String> {
        let faults = too_much(lives, question);
        faults.into_iter().map(|fault| fault.pointer).collect()
    }

    #[test]
    fn usual_questions_are_allowed_up_to_the_most_lives() {
        assert!(places(&lives(5_000, 4), &Question::default()).is_empty());
    }

    #[test]
    fn each_kind_of_work_has_its_bound() {
        let heavy = Question::default().of_families(vec![Family::Weibull, Family::Gamma]);
        assert!(places(&lives(500, 0), &heavy).is_empty());
        assert_eq!(places(&lives(501, 0), &heavy), ["/families/1"]);
        let four = Question::default().of_families(Family::ALL.to_vec());
        assert_eq!(places(&lives(5_000, 2), &four), ["/covariates"]);
        let drawn = Question {
            method: Method::Bootstrap(Resampling {
                seed: 1,
                resamples: 999,
            }),
            ..Question::default()
        };
        assert!(places(&lives(40, 0), &drawn).is_empty());
        let looked_at = |causes: u32, rows: u32| {
            let rows = (1..=rows).map(|age| LifeRow {
                observation: Observation::interval(f64::from(age), f64::from(age) + 1.0)
                    .with_cause(format!("cause {}", age % causes)),
                group: None,
                covariates: Vec::new(),
            });
            Lives::new(rows.collect(), Vec::new()).unwrap()
        };
        assert_eq!(places(&looked_at(1, 40), &drawn), ["/resamples"]);
        assert_eq!(
            places(&looked_at(12, 5_000), &Question::default()),
            ["/lives"]
        );
        assert_eq!(places(&lives(1_000, 0), &drawn), ["/resamples"]);
    }
}
