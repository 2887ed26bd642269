//! `wearbook analyse` as a person at a terminal or a script meets it.

use serde_json::Value;
use std::collections::BTreeSet;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

/// Millions of revolutions to failure of 23 deep-groove ball bearings (Lieblein and Zelen 1956, Journal of Research of
/// the National Bureau of Standards 57, 273-315, as commonly printed).
const BALL_BEARINGS: &str = "lower\n17.88\n28.92\n33.00\n41.52\n42.12\n45.60\n48.40\n51.84\n51.96\n54.12\n55.56\n67.80\n\
    68.64\n68.64\n68.88\n84.12\n93.12\n98.64\n105.12\n105.84\n127.92\n128.04\n173.40\n";

/// A folder of its own for one test, removed with this value.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("wearbook-analyse-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder below the temporary one");
        Self(path)
    }

    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, text).expect("a file in a folder of ours");
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left behind lies in the temporary folder.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn analyse(arguments: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_wearbook"))
        .arg("analyse")
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program that was just built");
    let mut stdin = child.stdin.take().expect("a pipe was asked for");
    stdin
        .write_all(input.as_bytes())
        .or_else(|error| {
            // A program that refuses its options ends without reading.
            if error.kind() == std::io::ErrorKind::BrokenPipe {
                Ok(())
            } else {
                Err(error)
            }
        })
        .expect("the program reads, or has ended");
    drop(stdin);
    child.wait_with_output().expect("the program ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn json(output: &Output) -> Value {
    assert!(output.status.success(), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("standard output is JSON")
}

/// Names of an object's members.
fn members(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .into_iter()
        .flatten()
        .map(|(name, _)| name.as_str())
        .collect()
}

fn weibull(report: &Value) -> &Value {
    let models = report["models"].as_array().expect("models");
    models
        .iter()
        .find(|model| model["family"] == "weibull")
        .expect("a Weibull model")
}

#[test]
fn the_ball_bearings_give_the_published_weibull_as_json() {
    let folder = Folder::new("json");
    let file = folder.write("lives.csv", BALL_BEARINGS);
    let report = json(&analyse(&[&file.to_string_lossy(), "--json"], ""));
    assert_eq!(
        (&report["sample"]["lives"], &report["sample"]["failures"]),
        (&23.into(), &23.into())
    );
    for (name, published) in [("shape", 2.101_846_863_76), ("scale", 81.874_558_724_1)] {
        let value = weibull(&report)["parameters"][name]["value"]
            .as_f64()
            .expect("a value");
        assert!((value / published - 1.0).abs() < 1e-6, "{name}: {value}");
    }
}

#[test]
fn the_json_has_the_members_that_scripts_rely_on() {
    let report = json(&analyse(&["-", "--json"], BALL_BEARINGS));
    let needed = [
        (
            &report,
            &[
                "sample",
                "survival_curve",
                "cumulative_hazard",
                "models",
                "chosen",
                "warnings",
            ][..],
        ),
        (
            &report["sample"],
            &[
                "lives",
                "failures",
                "right_censored",
                "left_censored",
                "interval_censored",
                "delayed_entry",
                "dead_on_arrival",
                "total_usage",
                "longest_usage",
                "digest",
            ],
        ),
        (
            &report["survival_curve"],
            &["estimator", "limits", "points", "median"],
        ),
        (&report["survival_curve"]["limits"], &["kind", "level"]),
        (
            &report["survival_curve"]["points"][0],
            &[
                "time",
                "at_risk",
                "failed",
                "censored",
                "survival",
                "std_error",
                "lower",
                "upper",
            ],
        ),
        (
            &report["survival_curve"]["median"],
            &["value", "lower", "upper"],
        ),
        (
            &report["cumulative_hazard"][0],
            &["time", "value", "std_error"],
        ),
        (
            weibull(&report),
            &[
                "family",
                "parameters",
                "log_likelihood",
                "aic",
                "aicc",
                "bic",
                "covariance",
                "quantiles",
                "goodness",
            ],
        ),
        (
            &weibull(&report)["parameters"]["shape"],
            &["value", "std_error", "lower", "upper"],
        ),
        (
            &weibull(&report)["quantiles"][0],
            &["p", "value", "lower", "upper", "kind", "level"],
        ),
        (&report["chosen"], &["family", "why"]),
    ];
    for (value, names) in needed {
        let found = members(value);
        for name in names {
            assert!(found.contains(name), "{name} is missing in {value}");
        }
    }
    let models = report["models"].as_array().expect("models").iter();
    let families: BTreeSet<&str> = models
        .filter_map(|model| model["family"].as_str())
        .collect();
    assert_eq!(
        families,
        BTreeSet::from(["exponential", "weibull", "lognormal", "loglogistic"])
    );
}

#[test]
fn the_level_that_was_asked_for_stands_at_every_limit() {
    let report = json(&analyse(&["-", "--json", "--level", "0.9"], BALL_BEARINGS));
    assert_eq!(report["survival_curve"]["limits"]["level"], 0.9);
    for quantile in weibull(&report)["quantiles"].as_array().expect("quantiles") {
        assert_eq!(quantile["level"], 0.9);
    }
    for level in ["0", "1", "1.5", "x"] {
        assert_eq!(
            analyse(&["-", "--level", level], BALL_BEARINGS)
                .status
                .code(),
            Some(2)
        );
    }
}

#[test]
fn what_cannot_be_computed_is_null_and_never_not_a_number() {
    let hopeless = [
        "lower,upper\n5,\n7,\n",
        "lower,upper\n5,5\n",
        "lower,upper\n5,5\n5,5\n5,5\n",
        "lower,upper\n0,0\n0,0\n",
        "lower,upper\n0,9\n0,9\n",
        "entry,lower,upper\n5,5,\n",
        "lower,upper\n1e99,1e99\n2e-99,2e-99\n",
        "lower,upper,count\n1,1,1000000000\n2,,1\n",
    ];
    for lives in hopeless {
        let output = analyse(&["-", "--json"], lives);
        let report = json(&output);
        let text = text(&output.stdout);
        for word in ["NaN", "nan", "inf", "Infinity"] {
            assert!(
                !text
                    .split(|c: char| !c.is_alphanumeric())
                    .any(|piece| piece == word),
                "{lives}: {text}"
            );
        }
        assert!(report["sample"].is_object());
    }
}

#[test]
fn a_person_gets_words_and_columns() {
    let output = analyse(&["-"], BALL_BEARINGS);
    assert!(output.status.success());
    let text = text(&output.stdout);
    for part in [
        "23 lives",
        "weibull",
        "2.10",
        "81.87",
        "Read first",
        "limits by the modified root",
    ] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
}

#[test]
fn a_bad_file_lists_every_fault_with_its_line() {
    let output = analyse(
        &["-", "--json"],
        "lower,upper,count\n1,1,1\nx,2,1\n3,2,1\n4,4,0\n5,5\n",
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let text = text(&output.stderr);
    for line in [3, 4, 5, 6] {
        assert!(
            text.contains(&format!("line {line}")),
            "line {line} is missing in\n{text}"
        );
    }
    assert_eq!(text.lines().count(), 4, "{text}");
}

#[test]
fn an_empty_input_and_a_missing_file_are_said_in_words() {
    for lives in ["", "\n\n"] {
        let output = analyse(&["-"], lives);
        assert_eq!(
            output.status.code(),
            Some(2),
            "{lives:?}: {}",
            text(&output.stdout)
        );
        assert!(!output.stderr.is_empty());
    }
    let headed = analyse(&["-"], "lower\n");
    assert!(text(&headed.stdout).contains("no lives"));
    let output = analyse(&["/nowhere/lives.csv"], "");
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("/nowhere/lives.csv"));
}

#[test]
fn the_plots_are_written_as_files_of_their_own() {
    let folder = Folder::new("svg");
    let plots = folder.0.join("plots");
    let output = analyse(&["-", "--svg", &plots.to_string_lossy()], BALL_BEARINGS);
    assert!(output.status.success(), "{}", text(&output.stderr));
    for name in [
        "survival-curve.svg",
        "probability-plot-weibull.svg",
        "probability-plot-lognormal.svg",
        "probability-plot-loglogistic.svg",
        "probability-plot-exponential.svg",
    ] {
        let svg = std::fs::read_to_string(plots.join(name)).expect("a plot");
        assert!(
            svg.contains("<svg") && svg.contains("xmlns=\"http://www.w3.org/2000/svg\""),
            "{name}"
        );
        assert!(svg.trim_end().ends_with("</svg>"), "{name}");
        assert!(!svg.contains("NaN") && !svg.contains("<script"), "{name}");
    }
}

/// Invented lives of two lots, with a cause, a lot and a head speed.
const TWO_LOTS: &str = "lower,upper,cause,lot,rpm\n61,61,wear,old,1900\n83,83,wear,new,1950\n97,97,wear,new,2100\n\
    52,52,split,old,1850\n104,104,wear,new,2000\n40,,,old,2050\n33,33,wear,old,1900\n120,,,new,1950\n";

#[test]
fn groups_of_a_column_are_analysed_apart_and_compared() {
    let report = json(&analyse(
        &["-", "--json", "--by", "lot", "--covariates", "rpm"],
        TWO_LOTS,
    ));
    assert_eq!(report["sample"]["lives"], 8);
    let names: Vec<&Value> = report["groups"]
        .as_array()
        .expect("groups")
        .iter()
        .map(|group| &group["group"])
        .collect();
    assert_eq!(names, ["new", "old"]);
    assert_eq!(report["groups"][0]["report"]["sample"]["lives"], 4);
    assert_eq!(report["comparison"]["tests"][0]["test"], "log-rank");
    let told = text(&analyse(&["-", "--by", "lot", "--covariates", "rpm"], TWO_LOTS).stdout);
    for part in ["Group new", "Group old", "Log-rank test", "rpm"] {
        assert!(told.contains(part), "{part} is missing in\n{told}");
    }
}

#[test]
fn a_column_that_no_option_names_is_refused_as_before() {
    let output = analyse(&["-", "--by", "lot"], TWO_LOTS);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("rpm"));
    let output = analyse(&["-", "--by", "maker", "--covariates", "lot,rpm"], TWO_LOTS);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2));
    assert!(said.contains("maker"), "{said}");
}

#[test]
fn only_failures_of_the_named_cause_count() {
    let columns = ["-", "--json", "--by", "lot", "--covariates", "rpm"];
    let with = |cause: &'static str| {
        let mut arguments = columns.to_vec();
        arguments.extend(["--cause", cause]);
        analyse(&arguments, TWO_LOTS)
    };
    let report = json(&with("wear"));
    assert_eq!(
        (&report["sample"]["failures"], &report["cause"]),
        (&5.into(), &"wear".into())
    );
    let refused = with("rust");
    assert_eq!(refused.status.code(), Some(2));
    assert!(text(&refused.stderr).contains("split, wear"));
}

#[test]
fn families_come_as_they_were_named() {
    let report = json(&analyse(
        &[
            "-",
            "--json",
            "--family",
            "lognormal",
            "--family",
            "weibull",
            "--family",
            "lognormal",
        ],
        BALL_BEARINGS,
    ));
    let families: Vec<&Value> = report["models"]
        .as_array()
        .expect("models")
        .iter()
        .map(|model| &model["family"])
        .collect();
    assert_eq!(families, ["lognormal", "weibull"]);
    let unknown = analyse(&["-", "--family", "gumbel"], BALL_BEARINGS);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(text(&unknown.stderr).contains("lognormal"));
}

#[test]
fn recurring_events_are_read_and_every_fault_of_them_is_listed() {
    let output = analyse(
        &["-", "--recurrent"],
        "unit,age,event\na,5,1\na,9,0\nb,4,1\nb,7,1\n",
    );
    assert!(output.status.success(), "{}", text(&output.stderr));
    let told = text(&output.stdout);
    assert!(told.contains("2 units with 3 events"), "{told}");
    let faulty = analyse(
        &["-", "--recurrent"],
        "unit,age,event\na,x,1\n,9,0\nb,4,7\n",
    );
    assert_eq!(faulty.status.code(), Some(2));
    assert_eq!(text(&faulty.stderr).lines().count(), 3);
    let mixed = analyse(
        &["-", "--recurrent", "--by", "lot"],
        "unit,age,event\na,5,1\n",
    );
    assert_eq!(mixed.status.code(), Some(2));
}

#[test]
fn groups_are_drawn_together_with_those_at_risk() {
    let folder = Folder::new("groups");
    let plots = folder.0.to_string_lossy();
    let arguments = ["-", "--by", "lot", "--covariates", "rpm", "--svg", &*plots];
    let output = analyse(&arguments, TWO_LOTS);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let svg = std::fs::read_to_string(folder.0.join("survival-by-group.svg")).expect("a plot");
    for part in ["At risk", "old", "new", "Log-rank test"] {
        assert!(svg.contains(part), "{part} is missing in {svg}");
    }
}
