//! Answers made by hand for the tests of the renderers; their numbers are invented.

use std::collections::BTreeMap;

use expect_test::Expect;
use taperbook_engine::{FindAnswer, FlagAnswer, HitAnswer, ProblemAnswer, ShowAnswer, TryAnswer};
use taperbook_plugin::{
    Chance, Compared, Cut, Ends, Evidence, Number, State, SuggestAdvice, TryAdvice, WalkStep,
};
use taperbook_record::Measure;

/// Compares a rendering as a pipe gets it, and holds that no line ends in a space or has a tab.
#[track_caller]
pub(crate) fn check(rendered: &str, expected: Expect) {
    let plain = anstream::adapter::strip_str(rendered).to_string();
    assert!(plain.lines().all(|line| line.trim_end() == line && !line.contains('\t')), "{plain:?}");
    expected.assert_eq(&plain);
}

fn known(value: f64, low: f64, high: f64) -> Number {
    Number::Known { value, low, high }
}

fn state(power_g: f64, length_mm: f64, recovery_hz: f64) -> State {
    let around = |value: f64, part: f64| known(value, value * (1.0 - part), value * (1.0 + part));
    State::new(vec![
        (Measure::Length, around(length_mm / 1e3, 0.0008)),
        (Measure::FreeLength, around(length_mm / 1e3 - 0.2286, 0.0008)),
        (Measure::TipOd, known(0.00186, 0.00181, 0.00191)),
        (Measure::Weight, Number::missing("the weight")),
        (Measure::Power, around(power_g / 1e3, 0.02)),
        (Measure::StiffnessForLength, known(1.04, 1.03, 1.05)),
        (Measure::TipAngle, around(66.0_f64.to_radians(), 0.01)),
        (Measure::BendCentre, around(0.305, 0.01)),
        (Measure::Recovery, around(recovery_hz, 0.03)),
    ])
}

pub(crate) fn flags() -> Vec<FlagAnswer> {
    let flag = |path: &str, line, flag: &str, message: &str| FlagAnswer {
        record: path.trim_end_matches(".md").to_owned(),
        path: path.to_owned(),
        line,
        column: 5,
        flag: flag.to_owned(),
        message: message.to_owned(),
    };
    vec![
        flag(
            "builds/nils-heron.md",
            14,
            "below-shortest-length",
            "the 3 in cut off the butt left 6'7\", an inch below the shortest length of 6'8\" that Nils allows",
        ),
        flag(
            "builds/per-heron.md",
            12,
            "above-most-power",
            "268 g read, 8 g above the most that Per allows",
        ),
    ]
}

pub(crate) fn problems() -> Vec<ProblemAnswer> {
    let problem = |path: &str, line, message: &str| ProblemAnswer {
        record: path.trim_end_matches(".md").to_owned(),
        path: path.to_owned(),
        line,
        column: 20,
        end_line: line,
        end_column: 26,
        message: message.to_owned(),
    };
    vec![
        problem("builds/per-heron.md", 9, "`2,4 mm` has a comma: write `2.4 mm`"),
        problem(
            "builds/ada-wren.md",
            4,
            "`purpuse` is not a key of a build: did you mean `purpose`?",
        ),
    ]
}

pub(crate) fn tried() -> TryAnswer {
    let limit = |limit: &str, low: Option<&str>, high: Option<&str>, inside| Chance {
        limit: limit.to_owned(),
        low: low.map(str::to_owned),
        high: high.map(str::to_owned),
        inside,
    };
    TryAnswer {
        advice: TryAdvice {
            record: "builds/ilse-heron".to_owned(),
            held_at_mm: Some(228.6),
            cut: Cut { tip_mm: 25.4, butt_mm: 0.0 },
            cut_range: None,
            before: state(212.0, 2184.4, 5.1),
            after: state(224.0, 2159.0, 5.4),
            left: Ends { tip_mm: Some(63.5), butt_mm: Some(114.3) },
            limits: vec![
                limit("length", Some("6'8\""), Some("7'0\""), Some(1.0)),
                limit("tip_od", None, Some("2.2 mm"), Some(0.998)),
                limit("power", Some("200 g"), Some("220 g"), Some(0.17)),
            ],
            caliper: None,
            words: vec!["holds 6 % more, recovers quicker, bends a little lower down".to_owned()],
        },
        fittings: None,
        flags: flags().split_off(1),
        problems: problems().split_off(1),
    }
}

pub(crate) fn suggestion() -> SuggestAdvice {
    let evidence = |record: &str, weight, rating, miss_pct, words: Option<&str>| Evidence {
        record: record.to_owned(),
        tip_cut_mm: 25.4,
        butt_cut_mm: 76.2,
        rating,
        weight,
        miss_pct,
        words: words.map(str::to_owned),
    };
    SuggestAdvice {
        record: "builds/ilse-heron".to_owned(),
        next_cut: Some(Cut { tip_mm: 12.7, butt_mm: 0.0 }),
        why_stop: None,
        remaining: Cut { tip_mm: 25.4, butt_mm: 76.2 },
        left: Ends { tip_mm: Some(63.5), butt_mm: None },
        expected: state(218.0, 2171.7, 5.2),
        chance_inside_limits: Some(0.93),
        evidence: vec![
            evidence("builds/per-heron", 0.2, None, None, None),
            evidence(
                "builds/ada-heron",
                0.8,
                Some(5),
                Some(-1.26),
                Some("loads early, still throws the small spoons straight into the wind"),
            ),
        ],
        evidence_query: Some("record:builds/ada-heron or record:builds/per-heron".to_owned()),
        measure_next: Some("read the power again after this cut".to_owned()),
        words: vec!["half of what is sure to be needed comes off the tip first".to_owned()],
    }
}

pub(crate) fn found() -> FindAnswer {
    let numbers = BTreeMap::from([
        ("butt_cut_mm".to_owned(), Number::exact(0.0)),
        ("length_mm".to_owned(), known(2159.0, 2157.0, 2161.0)),
        ("power_g".to_owned(), known(224.0, 218.0, 231.0)),
        ("tip_cut_mm".to_owned(), Number::exact(25.4)),
        ("weight_g".to_owned(), Number::missing("the weight")),
    ]);
    let snippet = "small spoons for sea trout from\nthe rocks";
    FindAnswer {
        total: 41,
        took_ms: 0.83,
        unread: 0,
        pending: 0,
        hits: vec![
            HitAnswer {
                record: "builds/ilse-heron".to_owned(),
                title: "Ilse's heron".to_owned(),
                kind: "build".to_owned(),
                snippet: snippet.to_owned(),
                marks: vec![(6, 12), (17, 26)],
                numbers,
                flags: vec!["above-most-power".to_owned()],
            },
            HitAnswer {
                record: "notes/dust".to_owned(),
                title: "Dust".to_owned(),
                kind: "note".to_owned(),
                snippet: String::new(),
                marks: Vec::new(),
                numbers: BTreeMap::new(),
                flags: Vec::new(),
            },
        ],
    }
}

pub(crate) fn shown() -> ShowAnswer {
    let step = |item, action: &str, words: &str, tip_cut_mm, length_mm, compared| WalkStep {
        item,
        action: action.to_owned(),
        date: (item > 0).then(|| "2026-03-15".to_owned()),
        words: words.to_owned(),
        tip_cut_mm,
        butt_cut_mm: 0.0,
        length_mm,
        compared,
    };
    ShowAnswer {
        record: "builds/ilse-heron".to_owned(),
        path: "builds/ilse-heron.md".to_owned(),
        title: "Ilse's heron".to_owned(),
        kind: "build".to_owned(),
        text: "---\nkind: build\n---\nWhat it felt like.\n".to_owned(),
        blank: Some("blanks/heron-704".to_owned()),
        builds: Vec::new(),
        numbers: BTreeMap::from([
            ("length_mm".to_owned(), known(2159.0, 2157.0, 2161.0)),
            ("power_g".to_owned(), known(224.0, 218.0, 231.0)),
            ("weight_g".to_owned(), Number::missing("the weight")),
        ]),
        bench: vec![
            step(-1, "uncut", "as it came", 0.0, Some(2184.4), Vec::new()),
            step(0, "read", "power 212 g", 0.0, Some(2184.4), Vec::new()),
            step(1, "cut", "1 in off the tip with a rotary disc", 25.4, None, Vec::new()),
            step(
                2,
                "read",
                "power 224 g",
                25.4,
                Some(2159.0),
                vec![Compared {
                    number: "power_g".to_owned(),
                    read: 224.0,
                    expected: known(226.0, 219.0, 233.0),
                }],
            ),
        ],
        flags: flags().split_off(1),
        problems: problems().split_off(1),
    }
}
