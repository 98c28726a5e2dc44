//! What the program says of itself: help, completions, man page and version.

use std::process::Command;

use crate::workshop::Workshop;

#[test]
fn the_help_leads_with_examples_that_a_shell_leaves_alone() {
    let workshop = Workshop::demo();
    let help = workshop.run(&["find", "--help"]).ended(0);
    let examples: Vec<&str> = help
        .stdout
        .lines()
        .take_while(|line| !line.starts_with("To a shell"))
        .filter_map(|line| line.trim_start().strip_prefix("taperbook find "))
        .map(|line| line.split("   ").next().unwrap_or(line))
        .collect();
    assert!(5 <= examples.len(), "{}", help.told());
    for example in examples {
        assert!(
            !example.contains(['<', '>', '*', '\'', '"', '(', '`', '$', '&', '|', ';']),
            "{example}"
        );
        let words: Vec<&str> = example.split_whitespace().collect();
        workshop.run(&[&["find"], words.as_slice()].concat()).ended(0);
    }
    for command in [
        "watch", "status", "stop", "show", "flags", "explain", "check", "try", "suggest", "log",
        "new",
    ] {
        workshop.run(&[command, "--help"]).ended(0).says(&format!("taperbook {command}"));
    }
}

#[test]
fn completions_are_made_for_every_shell() {
    let workshop = Workshop::empty();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        workshop.run(&["completions", shell]).ended(0).says("suggest").says("to-tip-od");
    }
    workshop.run(&["completions", "csh"]).ended(2).complains("bash");
    let script = workshop.run(&["completions", "bash", "--json"]).ended(0).json()["text"].clone();
    let checked =
        Command::new("bash").args(["-n", "-c", script.as_str().unwrap_or_default()]).status();
    // Where there is no bash, nobody completes with it.
    assert!(checked.is_err() || checked.is_ok_and(|status| status.success()));
}

#[test]
fn the_man_page_holds_every_command() {
    let workshop = Workshop::empty();
    let page = workshop.run(&["man"]).ended(0);
    assert!(page.stdout.contains(".TH taperbook 1"), "{}", page.told());
    for command in
        ["WATCH", "FIND", "TRY", "SUGGEST", "LOG RECORD CUT", "LOG RECORD READ", "NEW", "CHECK"]
    {
        assert!(page.stdout.contains(&format!(".SH \"TAPERBOOK {command}\"\n")), "{}", page.told());
    }
}

#[test]
fn the_version_is_told() {
    let version = format!("taperbook {}\n", env!("CARGO_PKG_VERSION"));
    assert_eq!(Workshop::empty().run(&["--version"]).ended(0).stdout, version);
}

#[test]
fn alone_it_gives_the_help_whatever_is_in_the_environment() {
    let workshop = Workshop::empty();
    let help = workshop.finish(workshop.command(&[])).ended(2).stderr;
    assert!(help.contains("Examples:"), "{help}");
    let mut command = workshop.command(&[]);
    for (name, place) in [("TAPERBOOK_STATE", "elsewhere"), ("TAPERBOOK_FOLDER", "shop")] {
        command.env(name, workshop.root().join(place));
    }
    assert_eq!(workshop.finish(command).ended(2).stderr, help);
}
