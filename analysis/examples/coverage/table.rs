//! Markdown tables of the results.

use crate::Plan;
use crate::design::{Design, Watching};
use crate::study::{Counts, LIMITS, METHODS, QUANTITIES};

fn name(design: &Design) -> String {
    let watching = match design.watching {
        Watching::ToFailure => "to failure".to_owned(),
        Watching::Random => format!("random {:.0} %", 100.0 * design.censored),
        Watching::FixedUsage => format!("fixed {:.0} %", 100.0 * design.censored),
    };
    let extra = match (design.late, design.looks) {
        (false, false) => "",
        (true, false) => ", late entry",
        (false, true) => ", looks",
        (true, true) => ", late entry, looks",
    };
    format!(
        "{}, {watching}{extra}, shape {}",
        design.failures, design.shape
    )
}

/// Every design with the coverage of every limit, then a summary.
pub fn print(all: &[(Design, Counts)], plan: &Plan) {
    println!(
        "seed {}, {} samples a design, {} with the bootstrap of {} samples\n",
        plan.seed, plan.replicates, plan.bootstrap, plan.resamples
    );
    for (quantity, what) in QUANTITIES.iter().enumerate() {
        println!("### {what}\n");
        println!(
            "| failures, censoring, shape | no estimate % | method | {} |",
            LIMITS
                .map(|(side, level)| format!("{side} {:.0}", 100.0 * level))
                .join(" | ")
        );
        println!("| --- | ---: | --- | ---: | ---: | ---: | ---: |");
        for (design, counts) in all {
            for (method, by) in METHODS.iter().enumerate() {
                let cells: Vec<String> = (0..4)
                    .filter_map(|limit| counts.coverage(method, quantity, limit))
                    .map(|share| format!("{:.1}", 100.0 * share))
                    .collect();
                if !cells.is_empty() {
                    println!(
                        "| {} | {:.1} | {by} {} | {} |",
                        name(design),
                        100.0 * counts.without_estimate as f64 / counts.drawn as f64,
                        counts.failed[method][quantity],
                        cells.join(" | ")
                    );
                }
            }
        }
        println!();
    }
}
