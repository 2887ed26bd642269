//! The program.

use std::process::ExitCode;

fn main() -> ExitCode {
    wearbook::commands::run().into()
}
