//! Holds the order of the slices: each calls only front doors to its left, and never into a sibling's store.

use std::fs;
use std::path::{Path, PathBuf};

const ORDER: [&str; 11] = [
    "access",
    "catalogue",
    "fleet",
    "usage",
    "failures",
    "lives",
    "fits",
    "advice",
    "analyses",
    "exchange",
    "pages",
];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder of the sources") {
        let path = entry.expect("an entry of the folder").path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            files.push(path);
        }
    }
    files
}

fn calls(text: &str, slice: &str) -> bool {
    text.contains(&format!("crate::{slice}::"))
}

#[test]
fn a_slice_calls_only_the_slices_to_its_left() {
    let mut seen = 0;
    for (place, slice) in ORDER.iter().enumerate() {
        for file in rust_files(&source().join(slice)) {
            let text = fs::read_to_string(&file).expect("a source file");
            for later in &ORDER[place + 1..] {
                assert!(
                    !calls(&text, later),
                    "{} reaches right to {later}",
                    file.display()
                );
            }
            seen += ORDER[..place]
                .iter()
                .filter(|earlier| calls(&text, earlier))
                .count();
        }
    }
    assert!(
        seen > 20,
        "only {seen} calls to the left were found: is the pattern still right?"
    );
}

#[test]
fn no_slice_reaches_into_the_store_of_another() {
    for file in rust_files(&source()) {
        let text = fs::read_to_string(&file).expect("a source file");
        for slice in ORDER {
            let store = format!("crate::{slice}::store");
            assert!(
                !text.contains(&store),
                "{} reaches into {store}",
                file.display()
            );
        }
    }
}

#[test]
fn the_platform_names_no_slice() {
    for file in rust_files(&source().join("platform")) {
        let text = fs::read_to_string(&file).expect("a source file");
        for slice in ORDER {
            assert!(!calls(&text, slice), "{} names {slice}", file.display());
        }
    }
}
