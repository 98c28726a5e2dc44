//! The list of flags: nothing missing, nothing unexplained.

use std::collections::BTreeSet;

use crate::FLAGS;

/// The names of the files in `src/flags`, as names of flags.
fn files() -> BTreeSet<String> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/flags");
    let entries = std::fs::read_dir(folder).expect("the folder of flags is there");
    entries
        .map(|entry| entry.expect("it can be listed").path())
        .map(|path| path.file_stem().expect("it has a name").to_string_lossy().replace('_', "-"))
        .collect()
}

#[test]
fn every_file_is_in_the_list_and_named_as_its_flag() {
    let listed: BTreeSet<String> = FLAGS.iter().map(|flag| flag.spec.name.to_owned()).collect();
    assert_eq!(listed, files());
    assert_eq!(listed.len(), FLAGS.len(), "no flag is listed twice");
}

#[test]
fn every_flag_says_what_it_finds_why_it_matters_and_an_example() {
    for spec in crate::plugin().manifest().flags {
        for text in [spec.finds, spec.why, spec.example] {
            assert!(30 <= text.len(), "{}: {text:?}", spec.name);
            assert!(!text.contains("TODO") && !text.ends_with('.'), "{}: {text:?}", spec.name);
            let first = text.chars().next().expect("it has a first letter");
            assert!(!first.is_uppercase(), "{}: {text:?} is a fragment", spec.name);
            assert_eq!(
                text.matches('`').count() % 2,
                0,
                "{}: {text:?} closes its quotes",
                spec.name
            );
        }
        assert!(spec.example.contains(|c: char| c.is_ascii_digit() || c == '`'), "{}", spec.name);
    }
}

/// A flag is named for the fault, never for the cure.
#[test]
fn names_are_faults() {
    for spec in crate::plugin().manifest().flags {
        let name = spec.name;
        assert!(name.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{name}");
        for cure in ["check", "mend", "fix", "should", "must"] {
            assert!(!name.contains(cure), "{name}");
        }
    }
}

#[test]
fn the_manifest_has_them_all() {
    let manifest = crate::plugin().manifest();
    assert_eq!(manifest.name, "tolerance");
    assert_eq!(manifest.flags.len(), FLAGS.len() + 1, "those of builds, and that of offcuts");
    assert!(manifest.numbers.is_empty());
}
