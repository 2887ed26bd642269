//! The migrations are embedded by a macro that does not tell cargo which files it read.
fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
