//! The structure of the workspace: who may depend on whom, and which outside crate stays behind which wall.

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{DependencyKind, MetadataCommand};

/// The table of edges: each crate with the crates of this workspace that it may depend on.
///
/// `units`, `record` and `plugin` are plain data and may be named by every crate above them.
const EDGES: &[(&str, &[&str])] = &[
    ("taperbook-units", &[]),
    ("taperbook-mechanics", &["units"]),
    ("taperbook-record", &["units"]),
    ("taperbook-plugin", &["record", "units"]),
    ("taperbook-bench", &["record", "units", "mechanics", "plugin"]),
    ("taperbook-index", &["record", "plugin", "units"]),
    ("taperbook-folder", &[]),
    ("taperbook-engine", &["plugin", "record", "index", "units"]),
    ("taperbook-edit", &["record"]),
    ("taperbook-web", &["engine", "draw", "plugin", "record", "units"]),
    ("taperbook-lsp", &["engine", "plugin", "record", "units"]),
    ("taperbook-draw", &["plugin", "units"]),
    ("taperbook-daemon", &["edit", "engine", "folder", "web", "plugin"]),
    (
        "taperbook-cli",
        &["daemon", "draw", "edit", "lsp", "engine", "folder", "plugin", "record", "units"],
    ),
    ("taperbook-testkit", &["units", "mechanics"]),
    ("taperbook-trim", &["plugin", "bench", "record", "mechanics", "units"]),
    ("taperbook-tolerance", &["plugin", "bench", "record", "mechanics", "units"]),
    ("taperbook-suggest", &["plugin", "bench", "record", "mechanics", "units"]),
    ("taperbook-fittings", &["plugin", "bench", "record", "mechanics", "units"]),
    ("taperbook", &["cli", "plugin", "trim", "tolerance", "suggest", "fittings"]),
];

/// Outside crates that only one crate of the workspace may name.
const WALLS: &[(&str, &str)] = &[
    ("tantivy", "taperbook-index"),
    ("notify", "taperbook-folder"),
    ("axum", "taperbook-web"),
    ("hyper", "taperbook-web"),
    ("ammonia", "taperbook-web"),
    ("lsp-types", "taperbook-lsp"),
    ("lsp-server", "taperbook-lsp"),
    ("saphyr-parser", "taperbook-record"),
    ("serde_yaml", "taperbook-record"),
    ("clap", "taperbook-cli"),
    ("tokio", "taperbook-daemon"),
];

/// Crates that other parts of the workspace may share a wall with.
const ALSO: &[(&str, &str)] = &[("tokio", "taperbook-web")];

#[test]
fn every_crate_depends_only_on_what_the_table_allows() {
    let table: BTreeMap<&str, BTreeSet<String>> = EDGES
        .iter()
        .map(|(name, allowed)| {
            (*name, allowed.iter().map(|crate_name| format!("taperbook-{crate_name}")).collect())
        })
        .collect();
    for (name, kind, dependency) in dependencies() {
        let Some(allowed) = table.get(name.as_str()) else {
            panic!("`{name}` is not in the table of edges")
        };
        if !dependency.starts_with("taperbook") {
            continue;
        }
        if dependency == "taperbook-testkit" {
            assert_eq!(
                kind,
                DependencyKind::Development,
                "`{name}` may use the test kit in tests alone"
            );
            continue;
        }
        if kind == DependencyKind::Development {
            continue;
        }
        assert!(
            allowed.contains(&dependency),
            "`{name}` depends on `{dependency}`, which the table does not allow"
        );
    }
}

#[test]
fn outside_crates_stay_behind_their_walls() {
    for (name, kind, dependency) in dependencies() {
        for (walled, owner) in WALLS {
            if dependency == *walled && name != *owner && kind == DependencyKind::Normal {
                assert!(
                    ALSO.contains(&(walled, name.as_str())),
                    "`{name}` names `{walled}`, which belongs to `{owner}` alone"
                );
            }
        }
    }
}

#[test]
fn the_mechanics_know_neither_serde_nor_records() {
    for (name, kind, dependency) in dependencies() {
        if name == "taperbook-mechanics" && kind == DependencyKind::Normal {
            assert!(
                ["taperbook-units", "thiserror"].contains(&dependency.as_str()),
                "the mechanics may not depend on `{dependency}`"
            );
        }
    }
}

#[test]
fn every_path_that_developers_md_names_exists() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let mut n_paths = 0;
    for word in text.split('`').skip(1).step_by(2) {
        let is_path = word.contains('/')
            && word.chars().all(|c| c.is_ascii_alphanumeric() || "/._-".contains(c));
        if is_path {
            n_paths += 1;
            assert!(root.join(word).exists(), "DEVELOPERS.md names `{word}`, which does not exist");
        }
    }
    assert!(10 < n_paths, "DEVELOPERS.md should be a map of the tree");
}

/// Every edge of the workspace: the crate, the kind of dependency, what it depends on.
fn dependencies() -> Vec<(String, DependencyKind, String)> {
    let metadata = MetadataCommand::new()
        .manifest_path(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"))
        .no_deps()
        .other_options(["--offline".to_owned()])
        .exec()
        .unwrap();
    metadata
        .packages
        .into_iter()
        .flat_map(|package| {
            let name = package.name.to_string();
            package
                .dependencies
                .into_iter()
                .map(move |dependency| (name.clone(), dependency.kind, dependency.name))
        })
        .collect()
}
