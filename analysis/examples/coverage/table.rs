//! Markdown tables of the results.

use wearbook_analysis::special::normal;

use crate::Plan;
use crate::design::{Design, Watching};
use crate::study::{Counts, FEWEST, LIMITS, METHODS, QUANTITIES};

/// The default method, in the order of the tables.
const DEFAULT: usize = 2;
/// A cell is listed when it is further from nominal than this.
const FAR: f64 = 0.02;
/// Rows listed of the samples with enough failures seen.
const WORST: usize = 10;

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

/// The summary of all samples and of those with enough failures seen, the cells of the default method that are far
/// from nominal in each, and the methods side by side; every cell too if asked for.
pub fn print(all: &Results, seen: &Results, plan: &Plan, every_cell: bool) {
    println!(
        "Seed {}, {} samples a design in {} designs, {} with the bootstrap of {} samples.\n",
        plan.seed,
        plan.replicates,
        all.len(),
        plan.bootstrap,
        plan.resamples
    );
    println!("### How far from nominal, in points\n");
    print_summary(all);
    let by = METHODS[DEFAULT];
    println!(
        "### The {by}, where the number of failures is given and where it is left to chance\n"
    );
    print_by_number(all);
    println!("### The {by}, by what is limited\n");
    print_by_quantity(all);
    println!("### Given that at least {FEWEST} failures were seen: all methods\n");
    print_summary(seen);
    println!("### Given that at least {FEWEST} failures were seen: the {by}, by what is limited\n");
    print_by_quantity(seen);
    print_errors(all);
    println!("### Where the {by} is more than 2 points from nominal, worst first\n");
    print_far(all, usize::MAX);
    println!("### The {WORST} worst given that at least {FEWEST} failures were seen\n");
    print_far(seen, WORST);
    print_side_by_side(all);
    if every_cell {
        print_every_cell(all);
    }
}

fn print_summary(all: &Results) {
    print_head("method");
    for failures in numbers_of_failures(all) {
        for (method, by) in METHODS.iter().enumerate() {
            let cells = of(all, failures).flat_map(|(_, counts)| cells(counts, method));
            print_gaps(failures, by, &cells.collect::<Vec<_>>());
        }
    }
    println!();
}

/// The default method by whether the number of failures is given, where every sample has as many as stated.
fn print_by_number(all: &Results) {
    print_head("number of failures");
    for failures in numbers_of_failures(all) {
        for (given, what) in [(true, "given"), (false, "left to chance")] {
            let cells = of(all, failures)
                .filter(|(design, _)| design.given_number() == given)
                .flat_map(|(_, counts)| cells(counts, DEFAULT));
            print_gaps(failures, what, &cells.collect::<Vec<_>>());
        }
    }
    println!();
}

/// The default method by what is limited.
fn print_by_quantity(all: &Results) {
    print_head("limited");
    for failures in numbers_of_failures(all) {
        for (quantity, what) in QUANTITIES.iter().enumerate() {
            let cells = of(all, failures).flat_map(|(_, counts)| row(counts, DEFAULT, quantity));
            print_gaps(failures, what, &cells.collect::<Vec<_>>());
        }
    }
    println!();
}

fn print_head(by: &str) {
    println!(
        "| failures | {by} | cells | worst below | worst above | root mean square | within 2 points | beyond 2 | of them by chance |"
    );
    println!("| ---: | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |");
}

fn print_gaps(failures: u64, what: &str, cells: &[Cell]) {
    if cells.is_empty() {
        return;
    }
    let number = cells.len() as f64;
    let below = cells.iter().map(|cell| cell.gap).fold(0.0, f64::min);
    let above = cells.iter().map(|cell| cell.gap).fold(0.0, f64::max);
    let squares: f64 = cells.iter().map(|cell| cell.gap * cell.gap).sum();
    let far = cells.iter().filter(|cell| cell.gap.abs() > FAR).count();
    let by_chance: f64 = cells.iter().map(Cell::far_by_chance).sum();
    println!(
        "| {failures} | {what} | {number} | {:+.1} | {:+.1} | {:.2} | {:.1} % | {far} | {by_chance:.2} |",
        100.0 * below,
        100.0 * above,
        100.0 * (squares / number).sqrt(),
        100.0 * (1.0 - far as f64 / number),
    );
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

fn print_far(all: &Results, most: usize) {
    println!(
        "| failures, design, shape | limited | samples | no estimate % | {} |",
        sides()
    );
    println!("| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |");
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
    for (_, (design, counts), quantity) in rows.into_iter().take(most) {
        println!(
            "| {} | {} | {} | {} | {} |",
            name(design),
            QUANTITIES[quantity],
            counts.drawn,
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
        Watching::Count => format!("stopped {:.0} %", 100.0 * design.censored),
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
