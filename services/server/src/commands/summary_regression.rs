//! Life as it depends on covariates, in plain text.

use super::summary_figures::{
    chance, columns, counted, figure, limits, made, percent, write_cautions,
};
use std::fmt::Write;
use wearbook_analysis::report::{ChiSquareReport, CoefficientReport, RegressionReport, TiesRule};

/// Each model with its coefficients, factors and tests.
pub fn write_regression(text: &mut String, found: &RegressionReport, level: f64) {
    for model in &found.accelerated_life {
        let _ = writeln!(
            text,
            "\nAccelerated life by the {} ({} limits{}): each factor multiplies age\n",
            model.family.code(),
            percent(level),
            made_of(&model.coefficients)
        );
        write_coefficients(text, &model.coefficients);
        if let (Some(intercept), Some(sigma)) = (model.intercept, model.sigma) {
            let _ = writeln!(
                text,
                "\nintercept {}, sigma {}, log-likelihood {}",
                figure(Some(intercept)),
                figure(Some(sigma)),
                figure(model.log_likelihood)
            );
        }
        write_tests(
            text,
            &[
                ("likelihood ratio", model.likelihood_ratio),
                ("Wald", model.wald),
            ],
        );
        write_cautions(text, model.family.code(), &model.warnings);
    }
    let model = &found.proportional_hazards;
    let ties = match model.ties {
        TiesRule::Breslow => "Breslow's",
        TiesRule::Efron => "Efron's",
    };
    let _ = writeln!(
        text,
        "\nProportional hazards ({} limits{}, {ties} rule of ties): each factor multiplies the hazard\n",
        percent(level),
        made_of(&model.coefficients)
    );
    write_coefficients(text, &model.coefficients);
    write_tests(
        text,
        &[
            ("likelihood ratio", model.likelihood_ratio),
            ("Wald", model.wald),
            ("score", model.score),
        ],
    );
    write_cautions(text, "proportional hazards", &model.warnings);
}

fn made_of(coefficients: &[CoefficientReport]) -> String {
    let limited = coefficients
        .iter()
        .filter(|one| one.factor.lower.or(one.factor.upper).is_some());
    made(limited.map(|one| one.kind))
}

fn write_coefficients(text: &mut String, coefficients: &[CoefficientReport]) {
    if coefficients.is_empty() {
        return;
    }
    let heads = [
        "covariate",
        "effect",
        "standard error",
        "factor",
        "limits",
        "p Wald",
        "p likelihood ratio",
    ];
    let p = |test: Option<ChiSquareReport>| {
        test.map_or_else(|| "-".to_owned(), |test| chance(test.p_value))
    };
    let mut rows = vec![heads.map(str::to_owned).to_vec()];
    rows.extend(coefficients.iter().map(|one| {
        vec![
            one.name.clone(),
            figure(Some(one.value)),
            figure(one.std_error),
            figure(one.factor.value),
            limits(one.factor.lower, one.factor.upper),
            p(one.wald),
            p(one.likelihood_ratio),
        ]
    }));
    text.push_str(&columns(&rows));
}

fn write_tests(text: &mut String, tests: &[(&str, Option<ChiSquareReport>)]) {
    for (name, test) in tests {
        let Some(test) = test else { continue };
        let freedom = counted(
            u64::from(test.degrees_of_freedom),
            "degree of freedom",
            "degrees of freedom",
        );
        let _ = writeln!(
            text,
            "all covariates, {name}: chi-square {}, {freedom}, p {}",
            figure(Some(test.chi_square)),
            chance(test.p_value)
        );
    }
}
