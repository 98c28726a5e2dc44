//! The command line as a whole process: exit codes, streams, JSON, and the commands that write.
//!
//! What the answers say is tested where they are made; here it is how they come out.

use std::process::Stdio;

use expect_test::expect;
use serde_json::Value;

use crate::workshop::{Ran, Workshop};

/// Questions that have an answer on the demo, each with the keys of its JSON.
const QUESTIONS: [(&[&str], &[&str]); 13] = [
    (&["find", "spoons"], &["total", "took_ms", "unread", "pending", "hits"]),
    (
        &["show", "ilse-heron"],
        &[
            "record", "path", "title", "kind", "text", "blank", "builds", "numbers", "bench",
            "flags", "problems",
        ],
    ),
    (&["flags"], &["total", "flags"]),
    (&["explain", "below-shortest-length"], &["flag", "finds", "why", "example"]),
    (&["explain", "ilse-heron"], &["record", "words"]),
    (&["check", "notes"], &["checked", "problems", "flags"]),
    (
        &["try", "ilse-heron", "--tip", "1in", "--butt", "3in"],
        &[
            "record",
            "held_at_mm",
            "cut",
            "cut_range",
            "before",
            "after",
            "left",
            "limits",
            "words",
            "fittings",
            "flags",
            "problems",
        ],
    ),
    (
        &["try", "heron-704", "--to-length", "6ft10in"],
        &[
            "record",
            "held_at_mm",
            "cut",
            "cut_range",
            "before",
            "after",
            "left",
            "limits",
            "words",
            "fittings",
            "flags",
            "problems",
        ],
    ),
    (
        &["suggest", "ilse-heron"],
        &[
            "record",
            "next_cut",
            "why_stop",
            "remaining",
            "left",
            "expected",
            "chance_inside_limits",
            "evidence",
            "evidence_query",
            "measure_next",
            "words",
        ],
    ),
    (&["fittings", "ilse-heron"], &["record", "states", "words"]),
    (
        &["sheet", "ilse-heron", "--tip", "1in"],
        &[
            "record",
            "title",
            "customer",
            "purpose",
            "blank",
            "cuts_from",
            "cut",
            "before",
            "marks",
            "limits",
            "left_now",
            "left_after",
            "fittings",
            "flags",
            "words",
        ],
    ),
    (
        &["guides", "ilse-heron"],
        &["record", "held_at_mm", "side", "test", "uncut", "dressing", "words"],
    ),
    (
        &["handover", "ilse-heron"],
        &[
            "record", "title", "shop", "customer", "purpose", "date", "blank", "aims", "limits",
            "cuts", "before", "after", "proposed", "guides", "told", "said", "verdict",
        ],
    ),
];

fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> =
        value.as_object().map(|map| map.keys().map(String::as_str).collect()).unwrap_or_default();
    keys.sort_unstable();
    keys
}

fn sorted<'k>(keys: &[&'k str]) -> Vec<&'k str> {
    let mut keys = keys.to_vec();
    keys.sort_unstable();
    keys
}

#[test]
fn every_question_answers_in_json_with_its_keys_and_nothing_else() {
    let workshop = Workshop::demo();
    for (question, expected) in QUESTIONS {
        let ran = workshop.run(&[question, &["--json"]].concat()).ended(0);
        assert_eq!(keys(&ran.json()), sorted(expected), "{}", ran.told());
        assert_eq!(ran.stdout.lines().count(), 1, "in a pipe JSON is one line: {}", ran.told());
        assert_eq!(ran.stderr, "", "{}", ran.told());
    }
}

#[test]
fn a_state_has_every_number_with_a_range_or_what_is_missing() {
    let workshop = Workshop::demo();
    let answer = workshop.run(&["try", "ilse-heron", "--tip", "1in", "--json"]).ended(0).json();
    let names = [
        "length_mm",
        "free_length_mm",
        "tip_od_mm",
        "butt_od_mm",
        "weight_g",
        "balance_mm",
        "power_g",
        "stiffness_for_length",
        "tip_angle_deg",
        "bend_centre_pct",
        "recovery_hz",
    ];
    for state in ["before", "after"] {
        assert_eq!(keys(&answer[state]), sorted(&names), "{answer:#}");
        for name in names {
            let number = keys(&answer[state][name]);
            assert!(
                number == ["high", "low", "value"] || number == ["missing"],
                "{state} {name}: {answer:#}"
            );
        }
    }
    assert_eq!(answer["cut"]["tip_mm"], 25.4);
}

#[test]
fn in_a_pipe_there_are_neither_escapes_nor_tabs_nor_trailing_spaces() {
    let workshop = Workshop::demo();
    for (question, _) in QUESTIONS {
        for (name, value) in
            [("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1"), ("TERM", "xterm-256color")]
        {
            let mut command = workshop.command(question);
            command.env(name, value);
            let ran = workshop.finish(command).ended(0);
            assert!(
                !ran.stdout.contains(['\u{1b}', '\t']) && !ran.stderr.contains('\u{1b}'),
                "{}",
                ran.told()
            );
            assert!(ran.stdout.lines().all(|line| line.trim_end() == line), "{}", ran.told());
            // `check` of records without a fault says nothing at all there.
            assert!(ran.stdout.is_empty() || ran.stdout.ends_with('\n'), "{}", ran.told());
        }
    }
}

#[test]
fn check_ends_with_one_when_it_found_something() {
    let workshop = Workshop::demo();
    workshop.run(&["check", "notes"]).ended(0).complains("0 problems, 0 flags");
    let found = workshop.run(&["check", "builds/wanda-snipe.md"]).ended(1);
    expect![[r#"
        exit code 1
        --- stdout
        builds/wanda-snipe.md:5:1: `purpuse` is not known in a build: did you mean `purpose`?
        builds/wanda-snipe.md:11:36: `1,55 mm` has a comma: write `1.55 mm`
        builds/wanda-snipe.md:11:52: `34` has no unit: write `34 g` or `34 oz`
        --- stderr
        1 record checked: 3 problems, 0 flags
    "#]]
    .assert_eq(&found.whole());
    assert_eq!(
        workshop.run(&["check", "--json"]).ended(1).json()["problems"].as_array().map(Vec::len),
        Some(3)
    );
    workshop.run(&["check", "nowhere"]).ended(2).complains("error: ");
}

#[test]
fn what_cannot_be_done_ends_with_two_and_says_why() {
    let workshop = Workshop::demo();
    for arguments in [
        &["show", "nobody"][..],
        &["explain", "below-shortst-length"],
        &["flags", "below-shortst-length"],
        &["try", "nobody", "--tip", "1in"],
        &["suggest", "nobody"],
        &["log", "nobody", "cut", "--tip", "1in"],
        &["find", "kind:biuld"],
        &["new", "blank", "../heron"],
        &["status"],
        &["--folder", "nowhere", "flags"],
    ] {
        let ran = workshop.run(arguments).ended(2);
        let is_status = arguments == ["status"];
        assert!(
            is_status || ran.stderr.starts_with("error: ") && ran.stdout.is_empty(),
            "{}",
            ran.told()
        );

        let ran = workshop.run(&[arguments, &["--json"]].concat()).ended(2);
        let message = ran.json()["error"]["message"].as_str().map(str::to_owned);
        assert!(
            is_status || message.is_some_and(|message| ran.stderr.contains(&message)),
            "{}",
            ran.told()
        );
    }
}

#[test]
fn a_misused_argument_is_an_error_in_json_too() {
    let workshop = Workshop::empty();
    workshop.run(&[]).ended(2).complains("Usage: taperbook");
    workshop.run(&["shw", "ilse"]).ended(2).complains("show");
    workshop
        .run(&["try", "ilse", "--tip", "2,4mm"])
        .ended(2)
        .complains("`2,4mm` has a comma: write `2.4mm`");
    let ran = workshop.run(&["try", "ilse", "--tip", "1", "--json"]).ended(2);
    let message = ran.json()["error"]["message"].as_str().map(str::to_owned).unwrap_or_default();
    assert!(message.contains("`1` has no unit"), "{}", ran.told());
}

#[test]
fn a_bad_query_is_shown_with_a_caret() {
    let workshop = Workshop::demo();
    expect![[r#"
        exit code 2
        --- stdout
        --- stderr
        error: `biuld` is no kind of record: did you mean `build`?
          spoons kind:biuld
                      ^^^^^
    "#]]
    .assert_eq(&workshop.run(&["find", "spoons", "kind:biuld"]).whole());
    expect![[r#"
        exit code 2
        --- stdout
        --- stderr
        error: `7` has no unit: write `7 in` or `7 mm`
          length:..7
                   ^
    "#]]
    .assert_eq(&workshop.run(&["find", "length:..7"]).whole());
    let error = workshop.run(&["find", "spoons", "kind:biuld", "--json"]).ended(2).json();
    assert_eq!(error["error"]["at"], serde_json::json!([12, 17]), "{error}");
}

#[test]
fn a_reader_that_went_away_is_not_an_error() {
    let workshop = Workshop::demo();
    for (arguments, code) in [
        (&["man"][..], 0),
        (&["completions", "zsh"], 0),
        (&["--help"], 0),
        (&["show", "ilse-heron"], 0),
        (&["show", "ilse-heron", "--json"], 0),
        (&["check", "builds/wanda-snipe.md"], 1),
    ] {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let mut command = workshop.command(arguments);
        command.stdout(writer).stderr(Stdio::piped());
        let output = command
            .spawn()
            .and_then(std::process::Child::wait_with_output)
            .expect("the program runs");
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {stderr}");
        assert!(!stderr.contains("error"), "{arguments:?}: {stderr}");
    }
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_an_error() {
    let workshop = Workshop::demo();
    let mut command = workshop.command(&["show", "ilse-heron"]);
    command.stdout(std::fs::File::options().write(true).open("/dev/full").expect("the device"));
    command.stderr(Stdio::piped());
    let output =
        command.spawn().and_then(std::process::Child::wait_with_output).expect("the program runs");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        String::from_utf8_lossy(&output.stderr)
            .starts_with("error: the answer could not be written")
    );
}

#[test]
fn the_shop_folder_is_named_or_found_upwards() {
    let workshop = Workshop::demo();
    let from = |directory: &str, arguments: &[&str], folder: Option<&str>| {
        let mut command = workshop.command(arguments);
        command.current_dir(workshop.root().join(directory));
        if let Some(folder) = folder {
            command.env("TAPERBOOK_FOLDER", folder);
        }
        workshop.finish(command)
    };
    from("shop/builds", &["show", "ilse-heron"], None).ended(0).says("Ilse");
    from("shop/builds", &["show", "ilse-heron.md"], None).ended(0).says("Ilse");
    from("", &["show", "shop/builds/ilse-heron.md", "--folder", "shop"], None)
        .ended(0)
        .says("Ilse");
    from("", &["show", "ilse-heron"], Some("shop")).ended(0).says("Ilse");
    from("home", &["--folder", "../shop", "show", "ilse-heron"], Some("nowhere"))
        .ended(0)
        .says("Ilse");
    from("", &["show", "ilse-heron"], None).ended(2).complains("hint: name it with `--folder DIR`");
    // A variable set to nothing names nothing, but a flag that is given nothing was a slip.
    from("", &["show", "ilse-heron"], Some("")).ended(2).complains("no shop folder");
    from("shop", &["show", "ilse-heron"], Some("")).ended(0).says("Ilse");
    from("shop", &["show", "ilse-heron", "--folder", ""], None)
        .ended(2)
        .complains("`--folder` names nothing");
    // What `check` prints opens from where it was asked.
    from("", &["check", "--folder", "shop", "shop/builds/wanda-snipe.md"], None)
        .ended(1)
        .says("shop/builds/wanda-snipe.md:5:1:");
}

#[test]
fn the_state_lies_in_the_state_directory_and_the_shop_folder_is_left_alone() {
    let workshop = Workshop::demo();
    let before = workshop.run(&["status"]);
    workshop.run(&["find", "spoons"]).ended(0);
    assert!(workshop.root().join("home/.local/state/taperbook").is_dir(), "{}", before.told());

    let mut command = workshop.command(&["find", "spoons"]);
    command.env("TAPERBOOK_STATE", workshop.root().join("elsewhere"));
    workshop.finish(command).ended(0);
    assert!(workshop.root().join("elsewhere").is_dir());
    let listing = |ran: &Ran| ran.told().lines().nth(2).map(str::to_owned);
    assert_eq!(listing(&before), listing(&workshop.run(&["status"])));
}

#[test]
fn a_minus_takes_words_out_of_a_search() {
    let workshop = Workshop::demo();
    let total = |query: &[&str]| {
        let ran = workshop.run(&[&["find", "--json"], query].concat()).ended(0);
        ran.json()["total"].as_u64().unwrap_or_else(|| panic!("{}", ran.told()))
    };
    let builds = total(&["kind:build"]);
    let without = total(&["kind:build", "-spoons"]);
    assert!(0 < without && without < builds, "{without} of {builds}");
    assert_eq!(total(&["-spoons", "kind:build"]), without);
    assert_eq!(total(&["kind:build", "spoons"]), builds - without);
}
