//! The past builds behind a suggestion, and the command that it prints to open them.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::workshop::Workshop;

/// The records of a list in an answer.
fn records(list: &Value) -> BTreeSet<String> {
    let list = list.as_array().expect("a list");
    list.iter().map(|one| one["record"].as_str().expect("a record").to_owned()).collect()
}

/// Holds that the query of a suggestion opens the builds that it lists and no others, and that what is printed does as well.
#[track_caller]
fn check(workshop: &Workshop, record: &str, n_past: usize) {
    let suggested = workshop.run(&["suggest", record, "--json"]).json();
    let evidence = records(&suggested["evidence"]);
    assert_eq!(evidence.len(), n_past, "{suggested}");
    let query = suggested["evidence_query"].as_str().expect("a query");
    let found = workshop.run(&["find", query, "--json"]).json();
    assert_eq!(
        (records(&found["hits"]), &found["total"]),
        (evidence.clone(), &Value::from(n_past)),
        "{query}"
    );

    let printed = workshop.run(&["suggest", record]).stdout;
    let line = printed.lines().find_map(|line| line.strip_prefix("to open them: "));
    let line = line.unwrap_or_else(|| panic!("{printed}"));
    let found = in_a_shell(workshop, &format!("{line} --json"));
    assert_eq!(
        records(&serde_json::from_str::<Value>(&found).expect("json")["hits"]),
        evidence,
        "{line}"
    );
}

fn in_a_shell(workshop: &Workshop, command: &str) -> String {
    let program = Path::new(env!("CARGO_BIN_EXE_taperbook"));
    let mut shell = Command::new("sh");
    let path =
        format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    shell.args(["-c", command]).current_dir(workshop.folder()).env_clear();
    for (key, value) in workshop.command(&[]).get_envs() {
        if let Some(value) = value {
            shell.env(key, value);
        }
    }
    shell.env("PATH", path);
    workshop.finish(shell).stdout
}

#[test]
fn the_printed_query_opens_the_past_builds_behind_a_suggestion_and_no_others() {
    let workshop = Workshop::demo();
    check(&workshop, "emil-egret", 4);
    check(&workshop, "ilse-heron", 10);
}

/// Names with spaces, brackets, an apostrophe, accents, a word of the query language, and one at the top of the folder.
#[test]
fn whatever_the_builds_are_called() {
    let workshop = Workshop::demo();
    let builds = workshop.folder().join("builds");
    let moved = [
        ("alma-egret.md", builds.join("alma's egret (2) or so.md")),
        ("bruno-egret.md", builds.join("Bruno été, 7'0.md")),
        ("clara-egret.md", workshop.folder().join("clara.md")),
    ];
    for (from, to) in moved {
        fs::rename(builds.join(from), to).expect("it moves");
    }
    // What is called alike is no evidence.
    workshop.write("notes/clara.md", "# Clara\n\nShe called.\n");
    workshop.write("builds/alma-egret.md.bak.md", "# Alma, as it was\n");
    check(&workshop, "emil-egret", 4);
}

/// An answer comes before the siblings of an edited build are worked out again, and is the same as when they are.
#[test]
fn a_suggestion_right_after_a_sibling_was_edited_is_that_of_a_shop_at_rest() {
    let workshop = Workshop::demo();
    let text = workshop.read("builds/alma-egret.md");
    for n in 0..40 {
        workshop.write(&format!("builds/more-{n}.md"), &text);
    }
    let daemon = workshop.watch();
    for power in ["250 g", "330 g"] {
        let edited = text.replacen("power: 284 g", &format!("power: {power}"), 1);
        assert_ne!(edited, text);
        workshop.write("builds/more-7.md", &edited);
        let at_once = workshop.run(&["suggest", "emil-egret", "--json"]).json();
        workshop.run(&["status", "--wait"]);
        let at_rest = workshop.run(&["suggest", "emil-egret", "--json"]).json();
        assert_eq!(at_once, at_rest);
    }
    drop(daemon);
}
