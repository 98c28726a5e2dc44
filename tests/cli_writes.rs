//! The commands that write into a shop folder, `log` and `new`, and the daemon as a process of its own.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

use expect_test::expect;
use serde_json::{Value, json};

use crate::workshop::Workshop;

const CARD: &str = "---\nkind: blank\nlength: 80 in\nmaterial: carbon\nweight: 60 g\ncalipers:\n  - { at: 0 in, od: 11 mm, wall: 1 mm }\n  - { at: 80 in, od: 2 mm, wall: 0.5 mm }\n---\n";
const BUILD: &str = "---\nkind: build\nblank: wren\ndate: 2026-03-01\nheld_at: 9 in\nlimits: { length: 75 in .. }\nbench:\n  - read: { length: 80 in }\n---\nHis words.\n";

/// A shop with one blank of 80 in and one build of it that may become as short as 75 in.
fn shop() -> Workshop {
    let workshop = Workshop::empty();
    fs::create_dir_all(workshop.folder().join("builds")).expect("a directory");
    fs::create_dir_all(workshop.folder().join("blanks")).expect("a directory");
    workshop.write("blanks/wren.md", CARD);
    workshop.write("builds/per.md", BUILD);
    workshop
}

#[test]
fn a_cut_is_written_at_the_end_of_the_bench_and_nothing_else_changes() {
    let workshop = shop();
    let path = workshop.folder().join("builds/per.md");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).expect("permissions");
    let cut = [
        "log",
        "per",
        "cut",
        "--tip",
        "2in",
        "--butt",
        "1in",
        "--with",
        "fine saw",
        "--date",
        "2026-03-15",
    ];
    expect![[r#"
        exit code 0
        --- stdout
        written at builds/per.md:9
          - cut: { tip: 2 in, butt: 1 in, with: fine saw, date: 2026-03-15 }

        before the next cut, read its length and its power again:
          taperbook log builds/per read --length LENGTH --power WEIGHT
        --- stderr
    "#]]
    .assert_eq(&workshop.run(&cut).whole());
    let item = "  - cut: { tip: 2 in, butt: 1 in, with: fine saw, date: 2026-03-15 }\n";
    assert_eq!(
        workshop.read("builds/per.md"),
        BUILD.replace("---\nHis", &format!("{item}---\nHis"))
    );
    assert_eq!(fs::metadata(&path).expect("metadata").permissions().mode() & 0o777, 0o640);
    assert_eq!(fs::read_dir(workshop.folder().join("builds")).expect("a directory").count(), 1);

    // An 80 in blank with 2 in off the tip and 1 in off the butt is 77 in (common practice, no source).
    let numbers = workshop.run(&["show", "per", "--json"]).ended(0).json()["numbers"].clone();
    let length = numbers["length_mm"]["value"].as_f64().unwrap_or_default();
    assert!((length - 77.0 * 25.4).abs() < 0.5, "{numbers:#}");
    assert_eq!(numbers["tip_cut_mm"]["value"], 50.8);
}

#[test]
fn a_cut_that_breaks_a_limit_is_written_and_its_flag_is_told() {
    let workshop = shop();
    workshop.run(&["log", "per", "cut", "--tip", "3in", "--date", "2026-03-15"]).ended(0);
    let ran = workshop
        .run(&["log", "per", "cut", "--tip", "3in", "--date", "2026-03-16", "--json"])
        .ended(0);
    let logged = ran.json();
    assert_eq!(logged["line"], 10, "{}", ran.told());
    assert_eq!(logged["inserted"], "  - cut: { tip: 3 in, date: 2026-03-16 }\n");
    let names = |flags: &Value| -> Vec<String> {
        let flags = flags.as_array().unwrap_or_else(|| panic!("{}", ran.told()));
        flags.iter().filter_map(|flag| flag["flag"].as_str().map(str::to_owned)).collect()
    };
    assert_eq!(names(&logged["new_flags"]), ["below-shortest-length"], "{}", ran.told());
    assert_eq!(names(&logged["flags"]), ["below-shortest-length"], "{}", ran.told());
}

#[test]
fn readings_and_words_are_written_as_they_were_typed() {
    let workshop = shop();
    for (arguments, item) in [
        (
            &[
                "read",
                "--length",
                "6'5\"",
                "--power",
                "224g",
                "--tip-angle",
                "66deg",
                "--held-at",
                "9 in",
            ][..],
            "  - read: { length: 6'5\", power: 224 g, tip_angle: 66 deg, held_at: 9 in, date: 2026-03-15 }\n",
        ),
        (
            &["feel", "loads early, still \"snappy\": likes 10 g"],
            "  - feel: \"loads early, still \\\"snappy\\\": likes 10 g\"\n    date: 2026-03-15\n",
        ),
        (
            &[
                "settled",
                "--tip",
                "any stiffer and it won't throw",
                "--note",
                "he agreed, by phone",
            ],
            "  - settled: { tip: any stiffer and it won't throw, date: 2026-03-15, note: \"he agreed, by phone\" }\n",
        ),
        (&["plan", "--butt", "1 1/2 in"], "  - plan: { butt: 1 1/2 in, date: 2026-03-15 }\n"),
        (
            &["pull", "--tip-angle", "90 deg", "--load", "410 g"],
            "  - pull: { tip_angle: 90 deg, load: 410 g, date: 2026-03-15 }\n",
        ),
    ] {
        let before = workshop.read("builds/per.md");
        workshop.run(&[&["log", "per"], arguments, &["--date", "2026-03-15"]].concat()).ended(0);
        assert_eq!(
            workshop.read("builds/per.md"),
            before.replace("---\nHis", &format!("{item}---\nHis"))
        );
        workshop.run(&["check", "builds/per.md", "--json"]).says("\"problems\":[]");
    }
    // What was written is found at once.
    assert_eq!(workshop.run(&["find", "snappy", "--json"]).ended(0).json()["total"], 1);
}

#[test]
fn line_ends_of_the_file_are_kept() {
    let workshop = shop();
    workshop.write("builds/per.md", &BUILD.replace('\n', "\r\n"));
    workshop.run(&["log", "per", "cut", "--tip", "1in", "--date", "2026-03-15"]).ended(0);
    let item = "  - cut: { tip: 1 in, date: 2026-03-15 }\n";
    let expected = BUILD.replace("---\nHis", &format!("{item}---\nHis")).replace('\n', "\r\n");
    assert_eq!(workshop.read("builds/per.md"), expected);
}

#[test]
fn without_a_date_it_is_today() {
    let workshop = shop();
    // The day may end between the two looks at the clock, so that it is one of two.
    let today = || Command::new("date").args(["-u", "+%Y-%m-%d"]).output().expect("a clock").stdout;
    let before = today();
    workshop.run(&["log", "per", "cut", "--tip", "1in"]).ended(0);
    let text = workshop.read("builds/per.md");
    let is_written =
        |day: Vec<u8>| text.contains(&format!("date: {} }}", String::from_utf8_lossy(&day).trim()));
    assert!(is_written(before) || is_written(today()), "{text}");
}

#[test]
fn what_has_no_bench_or_is_locked_is_left_alone() {
    let workshop = shop();
    workshop
        .run(&["log", "wren", "cut", "--tip", "1in"])
        .ended(2)
        .complains("only a build has a bench");
    assert_eq!(workshop.read("blanks/wren.md"), CARD);
    workshop
        .run(&["log", "per", "cut", "--tip", "0in"])
        .ended(2)
        .complains("nothing comes off either end");
    workshop.run(&["log", "per", "read", "--dressed"]).ended(2).complains("--power");
    let path = workshop.folder().join("builds/per.md");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).expect("permissions");
    workshop
        .run(&["log", "per", "cut", "--tip", "1in"])
        .ended(2)
        .complains("`builds/per.md` is read-only");
    assert_eq!(workshop.read("builds/per.md"), BUILD);
}

#[test]
fn a_new_file_is_made_once_and_says_what_it_still_needs() {
    let workshop = shop();
    for (kind, path) in [
        ("blank", "blanks/new-one.md"),
        ("build", "builds/new-one.md"),
        ("fitting", "fittings/new-one.md"),
    ] {
        workshop.run(&["new", kind, "new-one"]).ended(0).says(&format!("made {path}"));
        let text = workshop.read(path);
        assert!(text.contains(&format!("kind: {kind}")), "{text}");
        workshop.run(&["check", path]).ended(1).says(path);
        let again = workshop.run(&["new", kind, "new-one.md"]).ended(2);
        again.complains(&format!("`{path}` exists already"));
        assert_eq!(workshop.read(path), text);
    }
}

#[test]
fn a_new_build_of_a_card_is_ready_for_its_first_reading() {
    let workshop = shop();
    let made = workshop.run(&["new", "build", "ada", "--blank", "wren", "--json"]).ended(0).json();
    assert_eq!(made, json!({ "record": "builds/ada", "path": "builds/ada.md" }));
    workshop.run(&["check", "builds/ada.md"]).ended(0);
    workshop.run(&["log", "ada", "read", "--length", "80in", "--power", "210g"]).ended(0);
    workshop
        .run(&["new", "build", "bo", "--blank", "wrn"])
        .ended(2)
        .complains("did you mean `blanks/wren`?");
    workshop.run(&["new", "build", "bo", "--blank", "ada"]).ended(2).complains("no blank card");
    workshop.run(&["new", "fitting", "bo", "--blank", "wren"]).ended(2).complains("`--blank`");
    assert!(!workshop.folder().join("builds/bo.md").exists());
}

#[test]
fn a_daemon_answers_like_the_command_line_alone_and_stops_when_told() {
    let workshop = Workshop::demo();
    let questions: [&[&str]; 4] = [
        &["show", "ilse-heron"],
        &["flags"],
        &["try", "ilse-heron", "--tip", "1in"],
        &["suggest", "ilse-heron"],
    ];
    let ask = || {
        questions.map(|question| workshop.run(&[question, &["--json"]].concat()).ended(0).json())
    };
    let alone = ask();
    workshop.run(&["status"]).ended(2).says("no daemon");

    let mut daemon = workshop.watch();
    workshop.run(&["status", "--wait"]).ended(0).says("live");
    for (asked, alone) in ask().iter().zip(&alone) {
        assert_eq!(asked, alone);
    }
    workshop.run(&["watch"]).ended(2).complains("a daemon already watches this folder");

    workshop
        .write("notes/kittiwake.md", "# Kittiwake\n\nA word that nobody wrote before: quonklet.\n");
    let found = workshop.run(&["find", "quonklet", "--json"]).ended(0).json();
    assert_eq!(
        (&found["total"], &found["hits"][0]["record"]),
        (&json!(1), &json!("notes/kittiwake"))
    );
    workshop.write("builds/kittiwake.md", "---\nkind: biuld\n---\n");
    daemon.wait_for("builds/kittiwake.md: now ");

    assert_eq!(workshop.run(&["stop", "--json"]).ended(0).json(), json!({ "stopped": true }));
    assert_eq!(daemon.wait(), Some(0));
    assert_eq!(workshop.run(&["stop", "--json"]).ended(0).json(), json!({ "stopped": false }));
}

#[test]
fn a_daemon_ends_cleanly_on_a_signal() {
    let workshop = shop();
    for signal in ["-INT", "-TERM"] {
        let mut daemon = workshop.watch();
        let pid = daemon.child.id().to_string();
        assert!(
            Command::new("kill").args([signal, &pid]).status().is_ok_and(|status| status.success())
        );
        assert_eq!(daemon.wait(), Some(0), "{signal}");
        workshop.run(&["status"]).ended(2).says("no daemon");
    }
}
