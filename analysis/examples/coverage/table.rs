//! Markdown tables of the results.

use wearbook_analysis::special::normal;

use crate::Plan;
use crate::design::{Design, Watching};
use crate::study::{Counts, LIMITS, METHODS, QUANTITIES};

/// The default method, in the order of the tables.
const DEFAULT: usize = 2;
/// A cell is listed when it is further from nominal than this.
const FAR: f64 = 0.02;

type Results = [(Design, Counts)];

/// One cell: how far from nominal a limit was, and of how many samples.
struct Cell {
    gap: f64,
    nominal: f64,
    asked: u64,
}

impl Cell {
    /// Chance that a limit exactly nominal would be listed.
    fn far_by_chance(&self) -> f64 {
        let error = (self.nominal * (1.0 - self.nominal) / self.asked as f64).sqrt();
        2.0 * normal::ln_upper_tail(FAR / error).exp()
    }
}

/// The summary, the cells of the default method that are far from nominal, and the methods side by side; every cell
/// too if asked for.
pub fn print(all: &Results, plan: &Plan, every_cell: bool) {
    println!(
        "Seed {}, {} samples a design in {} designs, {} with the bootstrap of {} samples.\n",
        plan.seed,
        plan.replicates,
        all.len(),
        plan.bootstrap,
        plan.resamples
    );
    print_summary(all);
    print_errors(all);
    print_far(all);
    print_side_by_side(all);
    if every_cell {
        print_every_cell(all);
    }
}

fn print_summary(all: &Results) {
    println!("### How far from nominal, in points\n");
    println!(
        "| failures | method | cells | worst below | worst above | root mean square | within 2 points | beyond 2 | of them by chance |"
    );
    println!("| ---: | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |");
    for failures in numbers_of_failures(all) {
        for (method, by) in METHODS.iter().enumerate() {
            let cells: Vec<Cell> = of(all, failures)
                .flat_map(|(_, counts)| cells(counts, method))
                .collect();
            if cells.is_empty() {
                continue;
            }
            let number = cells.len() as f64;
            let below = cells.iter().map(|cell| cell.gap).fold(0.0, f64::min);
            let above = cells.iter().map(|cell| cell.gap).fold(0.0, f64::max);
            let squares: f64 = cells.iter().map(|cell| cell.gap * cell.gap).sum();
            let far = cells.iter().filter(|cell| cell.gap.abs() > FAR).count();
            let by_chance: f64 = cells.iter().map(Cell::far_by_chance).sum();
            println!(
                "| {failures} | {by} | {number} | {:+.1} | {:+.1} | {:.2} | {:.1} % | {far} | {by_chance:.2} |",
                100.0 * below,
                100.0 * above,
                100.0 * (squares / number).sqrt(),
                100.0 * (1.0 - far as f64 / number),
            );
        }
    }
    println!();
}

fn print_errors(all: &Results) {
    println!("### Errors\n");
    println!(
        "| failures | method | asked | ended in an error | samples without an estimate | most errors in one design |"
    );
    println!("| ---: | --- | ---: | ---: | ---: | --- |");
    for failures in numbers_of_failures(all) {
        for (method, by) in METHODS.iter().enumerate() {
            let failed = |counts: &Counts| counts.failed[method].iter().sum::<u64>();
            let answered = |counts: &Counts| counts.asked[method].iter().sum::<u64>();
            let errors: u64 = of(all, failures).map(|(_, counts)| failed(counts)).sum();
            let answers: u64 = of(all, failures).map(|(_, counts)| answered(counts)).sum();
            let without: u64 = of(all, failures)
                .map(|(_, counts)| counts.without_estimate)
                .sum();
            if errors + answers == 0 {
                continue;
            }
            let worst = of(all, failures)
                .max_by_key(|(_, counts)| failed(counts))
                .filter(|(_, counts)| failed(counts) > 0)
                .map_or_else(String::new, |(design, counts)| {
                    format!("{} in {}", failed(counts), name(design))
                });
            println!(
                "| {failures} | {by} | {} | {errors} | {without} | {worst} |",
                errors + answers
            );
        }
    }
    println!();
}

fn print_far(all: &Results) {
    println!(
        "### Where the {} is more than 2 points from nominal, worst first\n",
        METHODS[DEFAULT]
    );
    println!(
        "| failures, design, shape | limited | no estimate % | {} |",
        sides()
    );
    println!("| --- | --- | ---: | ---: | ---: | ---: | ---: |");
    let mut rows: Vec<(f64, &(Design, Counts), usize)> = Vec::new();
    for result in all {
        for quantity in 0..QUANTITIES.len() {
            let worst = row(&result.1, DEFAULT, quantity)
                .map(|cell| cell.gap.abs())
                .fold(0.0, f64::max);
            if worst > FAR {
                rows.push((worst, result, quantity));
            }
        }
    }
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (_, (design, counts), quantity) in rows {
        println!(
            "| {} | {} | {} | {} |",
            name(design),
            QUANTITIES[quantity],
            without(counts),
            shares(counts, DEFAULT, quantity)
        );
    }
    println!();
}

fn print_side_by_side(all: &Results) {
    println!(
        "### All methods side by side: few failures, shape 1.5, exact failures seen from new\n"
    );
    println!("| failures, censoring | limited | method | {} |", sides());
    println!("| --- | --- | --- | ---: | ---: | ---: | ---: |");
    for failures in numbers_of_failures(all)
        .into_iter()
        .filter(|few| *few <= 10)
    {
        for quantity in [0, 2] {
            for (design, counts) in of(all, failures)
                .filter(|(design, _)| design.shape == 1.5 && !design.late && !design.looks)
            {
                for (method, by) in METHODS.iter().enumerate() {
                    if counts.asked[method][quantity] > 0 {
                        println!(
                            "| {failures}, {} | {} | {by} | {} |",
                            watching(design),
                            QUANTITIES[quantity],
                            shares(counts, method, quantity)
                        );
                    }
                }
            }
        }
    }
    println!();
}

fn print_every_cell(all: &Results) {
    for (quantity, what) in QUANTITIES.iter().enumerate() {
        println!("### {what}\n");
        println!(
            "| failures, censoring, shape | no estimate % | method | errors | {} |",
            sides()
        );
        println!("| --- | ---: | --- | ---: | ---: | ---: | ---: | ---: |");
        for (design, counts) in all {
            for (method, by) in METHODS.iter().enumerate() {
                if counts.asked[method][quantity] > 0 {
                    println!(
                        "| {} | {} | {by} | {} | {} |",
                        name(design),
                        without(counts),
                        counts.failed[method][quantity],
                        shares(counts, method, quantity)
                    );
                }
            }
        }
        println!();
    }
}

fn numbers_of_failures(all: &Results) -> Vec<u64> {
    let mut numbers: Vec<u64> = all.iter().map(|(design, _)| design.failures).collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers
}

fn of(all: &Results, failures: u64) -> impl Iterator<Item = &(Design, Counts)> {
    all.iter()
        .filter(move |(design, _)| design.failures == failures)
}

/// The cells of one method in one design.
fn cells(counts: &Counts, method: usize) -> impl Iterator<Item = Cell> {
    (0..QUANTITIES.len()).flat_map(move |quantity| row(counts, method, quantity))
}

fn row(counts: &Counts, method: usize, quantity: usize) -> impl Iterator<Item = Cell> {
    LIMITS
        .iter()
        .enumerate()
        .filter_map(move |(limit, (_, nominal))| {
            counts.coverage(method, quantity, limit).map(|share| Cell {
                gap: share - nominal,
                nominal: *nominal,
                asked: counts.asked[method][quantity],
            })
        })
}

/// Coverage of the four limits, in per cent.
fn shares(counts: &Counts, method: usize, quantity: usize) -> String {
    let shares: Vec<String> = (0..LIMITS.len())
        .filter_map(|limit| counts.coverage(method, quantity, limit))
        .map(|share| format!("{:.1}", 100.0 * share))
        .collect();
    shares.join(" | ")
}

fn sides() -> String {
    LIMITS
        .map(|(side, level)| format!("{side} {:.0}", 100.0 * level))
        .join(" | ")
}

fn without(counts: &Counts) -> String {
    format!(
        "{:.1}",
        100.0 * counts.without_estimate as f64 / counts.drawn as f64
    )
}

fn watching(design: &Design) -> String {
    match design.watching {
        Watching::ToFailure => "to failure".to_owned(),
        Watching::Random => format!("random {:.0} %", 100.0 * design.censored),
        Watching::FixedUsage => format!("fixed {:.0} %", 100.0 * design.censored),
    }
}

fn name(design: &Design) -> String {
    let extra = match (design.late, design.looks) {
        (false, false) => "",
        (true, false) => ", late entry",
        (false, true) => ", looks",
        (true, true) => ", late entry, looks",
    };
    format!(
        "{}, {}{extra}, {}",
        design.failures,
        watching(design),
        design.shape
    )
}
