//! Published values through `wearbook analyse`: limits, causes, covariates, recurring events.
//!
//! Data sets and expected values stand with their sources in the data files of the engine's tests.

#![expect(
    clippy::indexing_slicing,
    reason = "a test that panics has done its work"
)]

use serde_json::Value;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Output, Stdio};

const INCIDENCE: &str = include_str!("../../../analysis/tests/data/incidence.json");
const LIVES: &str = include_str!("../../../analysis/tests/data/lives.json");
const MODES: &str = include_str!("../../../analysis/tests/data/competing_modes.json");
const RECURRENT: &str = include_str!("../../../analysis/tests/data/recurrent.json");
const REGRESSION: &str = include_str!("../../../analysis/tests/data/regression.json");

fn analyse(arguments: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_wearbook"))
        .args(["analyse", "-"])
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program that was just built");
    let mut stdin = child.stdin.take().expect("a pipe was asked for");
    // A program that refuses its options ends without reading.
    let _ = stdin.write_all(input.as_bytes());
    drop(stdin);
    child.wait_with_output().expect("the program ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn json(arguments: &[&str], input: &str) -> Value {
    let output = analyse(&[arguments, &["--json"]].concat(), input);
    assert!(output.status.success(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("standard output is JSON")
}

fn refused(arguments: &[&str], input: &str) -> String {
    let output = analyse(arguments, input);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(output.stdout.is_empty());
    text(&output.stderr)
}

fn data(text: &str) -> Value {
    serde_json::from_str(text).expect("a data file of ours")
}

fn case(file: &Value, list: &str, id: &str) -> Value {
    let cases = file[list].as_array().expect("cases");
    let found = cases.iter().find(|case| case["id"] == id);
    found.expect("a case of this name")["expected"].clone()
}

fn near(got: &Value, want: &Value, tolerance: f64) {
    let (got, want) = (got.as_f64(), want.as_f64().expect("a number"));
    let got = got.expect("a number where one is published");
    let size = want.abs().max(1e-12);
    assert!(
        (got - want).abs() <= tolerance * size,
        "{got} is not {want}"
    );
}

/// Lives as CSV, with the covariates as columns of their own.
fn csv(columns: &Value, covariates: &[(&str, Vec<f64>)]) -> String {
    let mut text = "lower,upper,cause".to_owned();
    for (name, _) in covariates {
        let _ = write!(text, ",{name}");
    }
    text.push('\n');
    let lower = columns["lower"].as_array().expect("a column");
    for row in 0..lower.len() {
        let upper = &columns["upper"][row];
        let failed = !upper.is_null();
        let upper = upper
            .as_f64()
            .map_or_else(String::new, |age| age.to_string());
        let cause = &columns["cause"][row];
        let cause = if failed && !cause.is_null() {
            cause.to_string()
        } else {
            String::new()
        };
        let _ = write!(text, "{},{upper},{cause}", lower[row]);
        for (_, values) in covariates {
            let _ = write!(text, ",{}", values[row]);
        }
        text.push('\n');
    }
    text
}

fn shock_absorbers() -> String {
    csv(&data(LIVES)["shock-absorbers"]["columns"], &[])
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().filter_map(Value::as_f64).collect()
}

fn capacitors() -> String {
    let columns = data(REGRESSION)["sets"]["capacitor"]["columns"].clone();
    let covariates = &columns["covariates"];
    let named: Vec<(&str, Vec<f64>)> = ["log_volt", "temp"]
        .into_iter()
        .map(|name| (name, numbers(&covariates[name])))
        .collect();
    csv(&columns, &named)
}

fn systems(name: &str, with_end: bool) -> String {
    let mut text = "unit,age,event\n".to_owned();
    let file = data(RECURRENT);
    let systems = file["data"][name]["systems"].as_array().expect("systems");
    for (unit, system) in systems.iter().enumerate() {
        for age in numbers(&system[1]) {
            let _ = writeln!(text, "{unit},{age},1");
        }
        if with_end {
            let _ = writeln!(text, "{unit},{},0", system[0]);
        }
    }
    text
}

#[test]
fn each_method_of_limits_is_named_in_the_answer_and_bounds_the_estimate() {
    let lives = shock_absorbers();
    for method in ["modified-root", "likelihood-ratio", "delta", "bootstrap"] {
        let options = ["--limits", method, "--family", "weibull"];
        let report = json(&options, &lives);
        let quantile = &report["models"][0]["quantiles"][2];
        assert_eq!(quantile["kind"], method, "{quantile}");
        let [lower, value, upper] = ["lower", "value", "upper"].map(|one| quantile[one].as_f64());
        assert!(lower < value && value < upper, "{method}: {quantile}");
    }
}

#[test]
fn the_same_seed_gives_the_same_limits_and_another_does_not() {
    let lives = shock_absorbers();
    let run = |seed| {
        let options = [
            "--limits",
            "bootstrap",
            "--seed",
            seed,
            "--resamples",
            "200",
            "--family",
            "weibull",
        ];
        text(&analyse(&options, &lives).stdout)
    };
    assert_eq!(run("7"), run("7"));
    assert_ne!(run("7"), run("8"));
}

#[test]
fn limits_that_make_no_sense_are_refused() {
    let lives = shock_absorbers();
    let said = refused(&["--limits", "delta", "--seed", "3"], &lives);
    assert!(said.contains("only with --limits bootstrap"), "{said}");
    let said = refused(&["--limits", "guess"], &lives);
    assert!(said.contains("modified-root"), "{said}");
    refused(&["--limits", "bootstrap", "--resamples", "5"], &lives);
}

#[test]
fn the_shock_absorbers_give_the_published_incidence_of_each_mode() {
    let report = json(&["--family", "weibull"], &shock_absorbers());
    let expected = case(&data(INCIDENCE), "cases", "shock-absorbers");
    let times = numbers(&expected["time"]);
    let causes = report["incidence"]["causes"].as_array().expect("causes");
    assert_eq!(causes.len(), 2);
    for curve in causes {
        let cause = curve["cause"].as_str().expect("a cause");
        let want = &expected[format!("cif_{cause}")];
        let points = curve["points"].as_array().expect("points");
        assert!(!points.is_empty());
        for point in points {
            let time = point["time"].as_f64().expect("an age");
            let place = times.iter().position(|one| (one - time).abs() < 1e-9);
            let place = place.expect("a published age");
            near(&point["incidence"], &want[place], 1e-9);
        }
    }
}

#[test]
fn the_shock_absorbers_give_the_published_fits_of_each_mode() {
    let modes = json(&[], &shock_absorbers())["modes"].clone();
    let expected = data(MODES);
    assert_eq!(modes["family"], "weibull");
    let apart = modes["modes"].as_array().expect("modes");
    assert_eq!(apart.len(), 2);
    for mode in apart {
        let want = &expected["modes"][mode["cause"].as_str().expect("a cause")];
        assert_eq!(mode["failures"], want["failures"]);
        for name in ["scale", "shape"] {
            let fitted = &mode["model"]["parameters"][name]["value"];
            near(fitted, &want["params"][name], 1e-7);
        }
    }
    assert_eq!(modes["quantiles"].as_array().map(Vec::len), Some(4));
    assert!(modes["comparison"]["statement"].is_string());
}

#[test]
fn one_cause_alone_is_not_told_apart() {
    let report = json(&["--cause", "1"], &shock_absorbers());
    assert!(report.get("modes").is_none() && report.get("incidence").is_none());
}

#[test]
fn groups_with_causes_are_compared_by_cause_as_well() {
    let lives = "lower,upper,cause,lot\n5,5,wear,a\n6,6,split,a\n9,9,wear,a\n12,,,a\n7,7,wear,b\n8,8,split,b\n\
        14,14,split,b\n15,,,b\n";
    let report = json(&["--by", "lot"], lives);
    let tests = report["comparison"]["tests"].as_array().expect("tests");
    let named: Vec<_> = tests
        .iter()
        .map(|test| (test["test"].as_str(), test["cause"].as_str()))
        .collect();
    let wanted = [
        (Some("log-rank"), None),
        (Some("gray"), Some("split")),
        (Some("gray"), Some("wear")),
    ];
    assert_eq!(named, wanted);
    assert!(text(&analyse(&["--by", "lot"], lives).stdout).contains("Gray's test of cause wear"));
}

#[test]
fn the_capacitors_give_the_published_regression_by_each_family() {
    let options = [
        "--covariates",
        "log_volt,temp",
        "--family",
        "weibull",
        "--family",
        "lognormal",
    ];
    let regression = json(&options, &capacitors())["regression"].clone();
    let expected = data(REGRESSION);
    let models = regression["accelerated_life"].as_array().expect("models");
    assert_eq!(models.len(), 2);
    for model in models {
        let family = model["family"].as_str().expect("a family");
        let want = case(&expected, "cases", &format!("aft-capacitor-{family}"));
        near(&model["intercept"], &want["coef"]["intercept"], 1e-6);
        near(&model["sigma"], &want["sigma"], 1e-6);
        near(&model["log_likelihood"], &want["loglik"], 1e-8);
        near(&model["likelihood_ratio"]["chi_square"], &want["lr"], 1e-6);
        for one in model["coefficients"].as_array().expect("coefficients") {
            let name = one["name"].as_str().expect("a name");
            near(&one["value"], &want["coef"][name], 1e-6);
            near(&one["std_error"], &want["se"][name], 1e-6);
            let factor = &one["factor"];
            let [lower, value, upper] = ["lower", "value", "upper"].map(|at| factor[at].as_f64());
            assert!(lower < value && value < upper, "{factor}");
        }
    }
}

#[test]
fn the_remissions_give_the_published_proportional_hazards() {
    let file = data(REGRESSION);
    let columns = &file["sets"]["leukemia"]["columns"];
    let drug = numbers(&columns["covariates"]["drug6mp"]);
    let lives = csv(columns, &[("drug6mp", drug)]);
    let regression = json(&["--covariates", "drug6mp"], &lives)["regression"].clone();
    let found = &regression["proportional_hazards"];
    let want = case(&file, "cases", "cox-leukemia")["efron"].clone();
    assert_eq!(found["ties"], "efron");
    near(
        &found["coefficients"][0]["value"],
        &want["coef"]["drug6mp"],
        1e-7,
    );
    near(
        &found["coefficients"][0]["std_error"],
        &want["se"]["drug6mp"],
        1e-7,
    );
    near(&found["score"]["chi_square"], &want["score"], 1e-7);
    let families = regression["accelerated_life"].as_array().expect("models");
    assert_eq!(families.len(), 1, "the Weibull alone unless more are named");
}

#[test]
fn a_covariate_that_never_varies_is_answered_with_the_reason() {
    let lives = "lower,load\n5,1\n7,1\n9,1\n12,1\n";
    let output = analyse(&["--covariates", "load"], lives);
    assert!(output.status.success());
    let said = text(&output.stdout);
    assert!(said.contains("has the same value in every life"), "{said}");
}

#[test]
fn a_family_without_covariates_says_so() {
    let options = ["--covariates", "log_volt,temp", "--family", "gamma"];
    let regression = json(&options, &capacitors())["regression"].clone();
    let model = &regression["accelerated_life"][0];
    let why = model["warnings"][0]["message"].as_str().expect("a reason");
    assert!(why.contains("gamma"), "{why}");
    assert!(model["log_likelihood"].is_null());
}

#[test]
fn the_valve_seats_give_the_published_mean_cumulative_function() {
    let report = json(&["--recurrent"], &systems("valve-seats", true));
    let file = data(RECURRENT);
    let want = case(&file, "mean_cumulative_function", "mcf-valve-seats");
    let points = report["mean_cumulative_function"]
        .as_array()
        .expect("steps");
    let means = want["mcf"].as_array().expect("means");
    assert_eq!(points.len(), means.len());
    let (point, mean) = (points.last().expect("one"), means.last().expect("one"));
    near(&point["mean"], mean, 1e-9);
    let variance = want["var_robust"].as_array().and_then(|all| all.last());
    let variance = variance.and_then(Value::as_f64).expect("a variance");
    near(&point["std_error"], &variance.sqrt().into(), 1e-8);
    let law = case(&file, "power_law", "plp-valve-seats");
    near(&report["power_law"]["shape"]["value"], &law["beta"], 1e-7);
    near(
        &report["laplace"]["statistic"],
        &law["trend"]["laplace_U"],
        1e-7,
    );
    near(
        &report["mil_hdbk_189"]["statistic"],
        &law["trend"]["mil_hdbk_189_chi2"],
        1e-7,
    );
    assert_eq!(report["cramer_von_mises"]["by_ratio"], true);
}

#[test]
fn a_unit_without_an_end_was_watched_to_its_last_event() {
    let report = json(&["--recurrent"], &systems("halfbeak", false));
    let law = case(&data(RECURRENT), "power_law", "plp-halfbeak");
    near(&report["power_law"]["shape"]["value"], &law["beta"], 1e-7);
    near(
        &report["power_law"]["shape_unbiased"],
        &law["beta_bar"],
        1e-7,
    );
    assert_eq!(report["power_law"]["shape_limits"], "exact");
    assert_eq!(report["cramer_von_mises"]["by_ratio"], false);
}

#[test]
fn recurring_events_in_words_name_every_test_or_why_it_is_missing() {
    let said = text(&analyse(&["--recurrent"], &systems("crow-three-systems", true)).stdout);
    for words in [
        "Mean number of events",
        "Power law",
        "Laplace",
        "MIL-HDBK-189",
        "Cramér",
    ] {
        assert!(said.contains(words), "{words} is missing:\n{said}");
    }
    let said = text(&analyse(&["--recurrent"], "unit,age,event\na,9,0\nb,7,0\n").stdout);
    assert!(said.contains("no system had an event"), "{said}");
    let said = refused(&["--recurrent", "--limits", "delta"], "");
    assert!(said.contains("cannot be used with"), "{said}");
}

#[test]
fn all_seven_families_can_be_asked_for() {
    let families = [
        "weibull",
        "exponential",
        "lognormal",
        "loglogistic",
        "gamma",
        "generalised-gamma",
        "threshold-weibull",
    ];
    let options: Vec<&str> = families
        .iter()
        .flat_map(|family| ["--family", family])
        .chain(["--limits", "likelihood-ratio"])
        .collect();
    let report = json(&options, &shock_absorbers());
    let models = report["models"].as_array().expect("models");
    let found: Vec<_> = models
        .iter()
        .filter_map(|one| one["family"].as_str())
        .collect();
    assert_eq!(found, families);
    let said = refused(&["--family", "gompertz"], &shock_absorbers());
    assert!(said.contains("threshold-weibull"), "{said}");
}

#[test]
fn every_plot_that_the_lives_allow_is_written() {
    let folder = std::env::temp_dir().join(format!("wearbook-methods-{}", std::process::id()));
    let place = folder.to_string_lossy().into_owned();
    let lives = analyse(&["--svg", &place], &shock_absorbers());
    assert!(lives.status.success(), "{}", text(&lives.stderr));
    let events = systems("valve-seats", true);
    let events = analyse(&["--recurrent", "--svg", &place], &events);
    assert!(events.status.success(), "{}", text(&events.stderr));
    for name in ["hazard", "incidence", "mean-cumulative-function"] {
        let svg = std::fs::read_to_string(folder.join(format!("{name}.svg"))).expect(name);
        assert!(svg.starts_with("<svg") && !svg.contains("NaN"), "{name}");
    }
    std::fs::remove_dir_all(&folder).expect("a folder of ours");
}
