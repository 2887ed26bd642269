//! Writes lives as CSV files and fits them, so that other programs can fit the same files.
//!
//! `cargo run --release -p wearbook-analysis --example peers -- FOLDER` writes `FOLDER/*.csv` (columns `entry, lower,
//! upper, count, group`; an empty `upper` was not seen to fail) and `FOLDER/results/wearbook.jsonl`, a line per fit with
//! its values and the wall-clock time of one fit. `tests/peers` does the rest.

#![expect(
    clippy::indexing_slicing,
    reason = "the published data are part of the source; a fault in them must stop the program"
)]

use std::fs::{self, File};
use std::hint::black_box;
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::time::Instant;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha12Rng;
use serde_json::{Value, json};
use wearbook_analysis::families::Family;
use wearbook_analysis::fitting::fit;
use wearbook_analysis::nonparametric::{Limits, kaplan_meier, turnbull};
use wearbook_analysis::observation::Observation;
use wearbook_analysis::sample::Sample;

const FAMILIES: [Family; 4] = [
    Family::Weibull,
    Family::Exponential,
    Family::Lognormal,
    Family::Loglogistic,
];

/// Published data sets that are compared; the others of the file are parts or edges of these.
const PUBLISHED: [&str; 15] = [
    "ball-bearings",
    "diesel-fans",
    "bearing-cage",
    "shock-absorbers",
    "turbine-wheels",
    "bofors-steel",
    "aircond-8044",
    "loco-controls",
    "lung-ncctg",
    "channing-men",
    "cosmesis-rt",
    "cosmesis-rct",
    "mixed-bearings",
    "edge-single-failure-middle",
    "edge-steep-shape",
];

fn main() -> io::Result<()> {
    let Some(folder) = std::env::args().nth(1) else {
        eprintln!("usage: peers FOLDER");
        std::process::exit(2);
    };
    let folder = Path::new(&folder);
    fs::create_dir_all(folder.join("results"))?;
    let mut results = BufWriter::new(File::create(folder.join("results/wearbook.jsonl"))?);
    for name in PUBLISHED {
        compare(folder, name, &published(name), &mut results)?;
    }
    for (name, lives) in simulated() {
        compare(folder, &name, &lives, &mut results)?;
    }
    groups(folder, &mut results)?;
    results.flush()
}

fn published(name: &str) -> Vec<Observation> {
    let all: Value = serde_json::from_str(include_str!("../tests/data/lives.json"))
        .expect("the published data are JSON");
    let columns = &all[name]["columns"];
    let number = |column: &str, row: usize| columns[column][row].as_f64();
    let rows = columns["lower"].as_array().map_or(0, Vec::len);
    (0..rows)
        .map(|row| {
            let entry = number("entry", row).unwrap_or(0.0);
            let lower = number("lower", row).unwrap_or(0.0).max(entry);
            Observation {
                entry,
                lower,
                upper: number("upper", row).unwrap_or(f64::INFINITY),
                cause: None,
                count: columns["count"][row].as_u64().unwrap_or(1),
            }
        })
        .collect()
}

/// A Weibull life.
fn life(random: &mut ChaCha12Rng, shape: f64, scale: f64) -> f64 {
    let u: f64 = random.random();
    scale * (-(-u).ln_1p()).max(1e-300).powf(1.0 / shape)
}

/// Weibull lives, each censored with chance `censored` at an age before its failure.
fn censored(seed: u64, n: usize, shape: f64, scale: f64, censored: f64) -> Vec<Observation> {
    let mut random = ChaCha12Rng::seed_from_u64(seed);
    (0..n)
        .map(|_| {
            let t = life(&mut random, shape, scale);
            if random.random::<f64>() < censored {
                Observation::right_censored(t * random.random_range(0.05..1.0))
            } else {
                Observation::exact(t)
            }
        })
        .collect()
}

/// Weibull lives stopped at one age, chosen so that about `failures` of `n` fail.
fn stopped(seed: u64, n: usize, failures: f64, shape: f64, scale: f64) -> Vec<Observation> {
    let mut random = ChaCha12Rng::seed_from_u64(seed);
    let age = scale * (-(-failures / n as f64).ln_1p()).powf(1.0 / shape);
    (0..n)
        .map(|_| {
            let t = life(&mut random, shape, scale);
            if t < age {
                Observation::exact(t)
            } else {
                Observation::right_censored(age)
            }
        })
        .collect()
}

/// Weibull lives found failed at looks a tenth of the scale apart.
fn inspected(seed: u64, n: usize, shape: f64, scale: f64) -> Vec<Observation> {
    let mut random = ChaCha12Rng::seed_from_u64(seed);
    let step = 0.1 * scale;
    (0..n)
        .map(|_| {
            let t = life(&mut random, shape, scale);
            let end = 1.5 * scale * random.random_range(0.2..1.0);
            let before = step * (t / step).floor();
            if before + step > end {
                Observation::right_censored((step * (end / step).floor()).max(step))
            } else if before > 0.0 {
                Observation::interval(before, before + step)
            } else {
                Observation::left_censored(step)
            }
        })
        .collect()
}

fn simulated() -> Vec<(String, Vec<Observation>)> {
    let mut all = vec![
        (
            "simulated-1000".to_owned(),
            censored(1, 1_000, 2.0, 100.0, 0.3),
        ),
        (
            "simulated-100000".to_owned(),
            censored(2, 100_000, 2.0, 100.0, 0.3),
        ),
        ("inspected-1000".to_owned(), inspected(3, 1_000, 2.0, 100.0)),
        (
            "few-of-31705".to_owned(),
            stopped(4, 31_705, 279.0, 1.7, 5_000.0),
        ),
        ("tiny-scale".to_owned(), censored(5, 200, 3.0, 1e-6, 0.3)),
        ("huge-scale".to_owned(), censored(6, 200, 0.7, 1e9, 0.3)),
        ("shape-0.2".to_owned(), censored(7, 200, 0.2, 100.0, 0.3)),
        ("shape-20".to_owned(), censored(8, 200, 20.0, 100.0, 0.3)),
        ("one-of-a-thousand-fails".to_owned(), {
            let mut lives = stopped(9, 1_000, 1e-9, 2.0, 100.0);
            lives.truncate(999);
            let age = lives.first().map_or(1.0, |life| life.lower);
            lives.push(Observation::exact(0.6 * age));
            lives
        }),
    ];
    for seed in 0..10 {
        all.push((
            format!("five-fail-{seed}"),
            stopped(100 + seed, 50, 5.0, 1.5, 300.0),
        ));
    }
    all
}

/// The wall-clock time of one run: the smallest mean over several batches, since others may use the machine too.
fn seconds_of<T>(mut run: impl FnMut() -> T) -> f64 {
    let started = Instant::now();
    black_box(run());
    let once = started.elapsed().as_secs_f64().max(1e-9);
    let batch = (0.02 / once).clamp(1.0, 2_000.0).round();
    let mut best = f64::INFINITY;
    for _ in 0..7 {
        let started = Instant::now();
        let mut done = 0.0;
        while done < batch {
            black_box(run());
            done += 1.0;
        }
        best = best.min(started.elapsed().as_secs_f64() / batch);
    }
    best
}

fn compare(
    folder: &Path,
    name: &str,
    lives: &[Observation],
    results: &mut impl Write,
) -> io::Result<()> {
    write_csv(folder, name, &[lives])?;
    let sample = Sample::new(lives.iter().cloned()).expect("the lives are valid");
    for family in FAMILIES {
        let line = match fit(&sample, family) {
            Ok(fitted) => json!({
                "case": name, "method": family.code(), "lives": sample.lives(), "failures": sample.failures(),
                "parameters": fitted.parameters, "log_likelihood": fitted.log_likelihood,
                "seconds": seconds_of(|| fit(black_box(&sample), family)),
            }),
            Err(error) => json!({
                "case": name, "method": family.code(), "lives": sample.lives(), "failures": sample.failures(),
                "error": error.to_string(),
            }),
        };
        writeln!(results, "{line}")?;
    }
    let exact = sample.left_censored() + sample.interval_censored() == 0;
    let late = sample.delayed_entry() > 0;
    if exact {
        let curve = kaplan_meier(&sample, Limits::default()).expect("exact failures");
        let line = json!({
            "case": name, "method": "kaplan-meier", "lives": sample.lives(),
            "survival": curve.last().map(|point| point.survival),
            // All points with their limits, which the others give too.
            "seconds": seconds_of(|| {
                let curve = kaplan_meier(black_box(&sample), Limits::default()).expect("a curve");
                curve.points().collect::<Vec<_>>()
            }),
        });
        writeln!(results, "{line}")?;
    } else if !late {
        let curve = turnbull(&sample).expect("intervals without late entry");
        let line = json!({
            "case": name, "method": "turnbull", "lives": sample.lives(),
            "log_likelihood": curve.log_likelihood,
            "seconds": seconds_of(|| turnbull(black_box(&sample))),
        });
        writeln!(results, "{line}")?;
    }
    Ok(())
}

/// A thousand groups of a hundred lives, fitted one by one.
fn groups(folder: &Path, results: &mut impl Write) -> io::Result<()> {
    let groups: Vec<Vec<Observation>> = (0..1_000)
        .map(|seed| censored(10_000 + seed, 100, 2.0, 100.0, 0.3))
        .collect();
    let slices: Vec<&[Observation]> = groups.iter().map(Vec::as_slice).collect();
    write_csv(folder, "groups", &slices)?;
    let samples: Vec<Sample> = groups
        .into_iter()
        .map(|lives| Sample::new(lives).expect("the lives are valid"))
        .collect();
    let total =
        |sample: &Sample| fit(sample, Family::Weibull).map_or(0.0, |fit| fit.log_likelihood);
    let line = json!({
        "case": "groups", "method": "weibull", "lives": 100_000,
        "log_likelihood": samples.iter().map(total).sum::<f64>(),
        "seconds": seconds_of(|| samples.iter().map(total).sum::<f64>()),
    });
    writeln!(results, "{line}")
}

fn write_csv(folder: &Path, name: &str, groups: &[&[Observation]]) -> io::Result<()> {
    let mut file = BufWriter::new(File::create(folder.join(format!("{name}.csv")))?);
    writeln!(file, "entry,lower,upper,count,group")?;
    for (group, lives) in groups.iter().enumerate() {
        for life in *lives {
            let upper = if life.upper.is_finite() {
                format!("{:e}", life.upper)
            } else {
                String::new()
            };
            writeln!(
                file,
                "{:e},{:e},{upper},{},{group}",
                life.entry, life.lower, life.count
            )?;
        }
    }
    file.flush()
}
