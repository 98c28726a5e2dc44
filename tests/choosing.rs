//! `choose` as a whole process: the same numbers as `try`, with and without a daemon, and drawings that harm no record.

use std::fs;

use serde_json::Value;

use crate::workshop::Workshop;

const BRIEF: [&str; 5] = [
    "choose",
    "--aim",
    "length 6'10\", power 235 g",
    "--limits",
    "{ length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm, power: 200 g .. 260 g }",
];

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    BRIEF.into_iter().chain(more.iter().copied()).collect()
}

#[test]
fn every_blank_comes_with_the_numbers_that_try_gives_of_its_cuts() {
    let workshop = Workshop::demo();
    let chosen = workshop.run(&with(&["--limit", "20", "--json"])).json();
    let blanks = chosen["blanks"].as_array().expect("blanks");
    assert!(5 < blanks.len(), "{chosen}");
    assert_eq!(blanks[0]["record"], "blanks/heron-704");
    for blank in blanks {
        let mm = |value: &Value| format!("{:.6}mm", value.as_f64().expect("a cut"));
        let (tip, butt) = (mm(&blank["cut"]["tip_mm"]), mm(&blank["cut"]["butt_mm"]));
        let record = blank["record"].as_str().expect("a record");
        let tried = workshop.run(&["try", record, "--tip", &tip, "--butt", &butt, "--json"]).json();
        let (expected, after) = (&blank["expected"], &tried["after"]);
        assert_eq!(expected.as_object().map(|map| map.len()), Some(11));
        for (key, number) in expected.as_object().expect("numbers") {
            for part in ["value", "low", "high"] {
                let (one, other) = (number[part].as_f64(), after[key][part].as_f64());
                // The cut was written to a millionth of a millimetre.
                let same = match (one, other) {
                    (Some(one), Some(other)) => (one - other).abs() <= 1e-6 * one.abs().max(1e-3),
                    (one, other) => one == other,
                };
                assert!(same, "{record} {key} {part}: {one:?} {other:?}");
            }
        }
    }
}

#[test]
fn a_daemon_answers_the_same_as_a_shop_without_one() {
    let workshop = Workshop::demo();
    let questions: [&[&str]; 3] = [
        &with(&["--use", "sea trout spoons", "--json"]),
        &["choose", "--for", "ilse-heron", "--json"],
        &["choose", "--from", "tern-900", "--json"],
    ];
    let alone = questions.map(|question| workshop.run(question).json());
    let _daemon = workshop.watch();
    assert_eq!(alone, questions.map(|question| workshop.run(question).json()));
    assert_eq!(alone[1]["aim"]["length_mm"], 2082.8);
}

#[test]
fn what_can_not_be_answered_says_what_to_write() {
    let workshop = Workshop::demo();
    for (arguments, part) in [
        (vec!["choose", "--aim", "power 235"], "in the aim: `235` has no unit: write `235 g`"),
        (vec!["choose", "--limits", "powr .. 260 g"], "did you mean `power`?"),
        (
            vec!["choose", "--aim", "power 300 g", "--limits", "power .. 260 g"],
            "outside what is allowed",
        ),
        (vec!["choose", "--for", "heron-704"], "is a blank and no build"),
        (vec!["choose", "--for", "ilse-hero"], "did you mean"),
        (vec!["choose", "--from", "tip-tops"], "neither a blank nor a build"),
        (vec!["choose", "--from", "karl-reed-butt"], "too little of it is free"),
        (vec!["choose"], "--aim"),
    ] {
        let ran = workshop.run(&arguments);
        assert_eq!(ran.code, Some(2), "{}", ran.whole());
        assert!(ran.stderr.contains(part), "{}", ran.whole());
    }
    let none = workshop.run(&["choose", "--limits", "power 2000 g .. 2100 g, length 6' .. 7'"]);
    assert_eq!(none.code, Some(0), "{}", none.whole());
    assert!(
        none.stdout.contains("no blank of the shop can be brought inside the limits"),
        "{}",
        none.whole()
    );
}

#[test]
fn a_drawing_replaces_a_drawing_and_nothing_else() {
    let workshop = Workshop::demo();
    let draw = |more: &[&str]| {
        let all: Vec<&str> =
            ["choose", "--from", "heron-704"].into_iter().chain(more.iter().copied()).collect();
        workshop.run(&all)
    };
    let ran = draw(&["--svg", "heron.svg"]);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), "drawn into heron.svg\n"));
    let drawn = workshop.read("heron.svg");
    assert!(
        drawn.contains("<title id=\"title\">Rods that heron-704 could be, held at 9 in</title>")
    );
    let again = draw(&["--limits", "length 6'8\" .. 7'0\"", "--svg", "heron.svg"]);
    assert_eq!(again.code, Some(0), "{}", again.whole());
    assert_ne!(workshop.read("heron.svg"), drawn);

    let record = workshop.read("builds/ilse-heron.md");
    workshop.write("own.svg", "<svg/>\n");
    std::os::unix::fs::symlink("builds/ilse-heron.md", workshop.folder().join("link.svg")).unwrap();
    fs::create_dir(workshop.folder().join("dir.svg")).unwrap();
    for (arguments, part) in [
        (vec!["--svg", "own.svg"], "was not drawn by this command"),
        (vec!["--svg", "builds/ilse-heron.md", "--force"], "does not end in `.svg`"),
        (vec!["--svg", "shop.yaml", "--force"], "does not end in `.svg`"),
        (vec!["--svg", "link.svg", "--force"], "is no plain file"),
        (vec!["--svg", "dir.svg", "--force"], "is no plain file"),
        (
            vec!["--svg", "none/heron.svg"],
            "can't be written: the folder that it is to be in is not there",
        ),
    ] {
        let ran = draw(&arguments);
        assert_eq!(ran.code, Some(2), "{}", ran.whole());
        assert!(ran.stderr.contains(part), "{}", ran.whole());
        assert_eq!(ran.stdout, "", "nothing is shown of what could not be done");
    }
    assert_eq!(workshop.read("own.svg"), "<svg/>\n");
    assert_eq!(workshop.read("builds/ilse-heron.md"), record);
    assert_eq!(draw(&["--svg", "own.svg", "--force"]).code, Some(0));
    assert!(workshop.read("own.svg").contains("<desc id=\"desc\">"));
    let left_over = fs::read_dir(workshop.folder()).unwrap().flatten();
    let mut names = left_over.map(|entry| entry.file_name().to_string_lossy().into_owned());
    assert!(names.all(|name| !name.ends_with(".tmp")));
}

#[test]
fn the_picture_is_plain_and_stands_in_eighty_columns() {
    let workshop = Workshop::demo();
    let ran = workshop.run(&[
        "choose",
        "--from",
        "heron-704",
        "--limits",
        "length 6'8\" .. 7'0\", power 200 g .. 260 g",
        "--aim",
        "length 6'10\", power 235 g",
    ]);
    assert_eq!(ran.code, Some(0), "{}", ran.whole());
    assert!(!ran.stdout.contains('\u{1b}'), "no colour in a pipe");
    let band = |line: &&str| line.contains("b#") || line.starts_with("       ");
    let picture: Vec<&str> = ran.stdout.lines().filter(band).collect();
    assert!(picture.iter().any(|line| line.contains('X')), "{picture:?}");
    assert!(picture.iter().all(|line| line.chars().count() <= 80), "{picture:?}");
}
