//! Ranges: what is accepted, and the whole message for what is not.

use taperbook_units::{Dimension, Interval, Length, Quantity};

#[track_caller]
fn check(text: &str, dimension: Dimension, low: Option<&str>, high: Option<&str>) {
    let interval = Interval::parse_as(text, dimension).unwrap_or_else(|e| panic!("{text:?}: {e}"));
    let end = |end: Option<&str>| end.map(|end| Quantity::parse_as(end, dimension).unwrap());
    assert_eq!(interval, Interval { dimension, low: end(low), high: end(high) }, "{text:?}");
}

#[track_caller]
fn check_wrong(text: &str, dimension: Dimension, pointed_at: &str, message: &str) {
    let error = Interval::parse_as(text, dimension).expect_err(text);
    assert_eq!(error.message, message);
    assert_eq!(&text[error.at], pointed_at, "{text:?} points elsewhere");
}

#[test]
fn accepted() {
    for text in ["6'8\" .. 7'0\"", "6'8\"..7'0\"", " 6’8” ..\u{a0}7′0″ ", "6'8\" ..7'0\""] {
        check(text, Dimension::Length, Some("6'8\""), Some("7'0\""));
    }
    check(".. 2.2 mm", Dimension::Length, None, Some("2.2 mm"));
    check("..2.2mm", Dimension::Length, None, Some("2.2 mm"));
    check("200 g ..", Dimension::Mass, Some("200 g"), None);
    check("1.5 mm..2.2 mm", Dimension::Length, Some("1.5 mm"), Some("2.2 mm"));
    check("2032 mm .. 7'0\"", Dimension::Length, Some("2032 mm"), Some("7'0\""));
    check("7'0\" .. 7'0\"", Dimension::Length, Some("7'0\""), Some("7'0\""));
    check("3..5", Dimension::Count, Some("3"), Some("5"));
    check("0.9..1.1", Dimension::Fraction, Some("0.9"), Some("1.1"));
    check("90 % .. 1.1", Dimension::Fraction, Some("90 %"), Some("1.1"));
}

#[test]
fn both_ends_belong_to_it() {
    let interval = Interval::parse_as("6'8\" .. 7'0\"", Dimension::Length).unwrap();
    for (inches, inside) in
        [(79.99, false), (80.0, true), (82.0, true), (84.0, true), (84.01, false)]
    {
        assert_eq!(interval.contains(Length::from_inches(inches).si()), inside, "{inches}");
    }
    // 2.1336 m is exactly 84 in, so a limit in one unit is met by a reading in the other.
    assert!(interval.contains(Length::parse("2.1336 m").unwrap().si()));
    let below = Interval::parse_as(".. 2.2 mm", Dimension::Length).unwrap();
    assert!(below.contains(0.0) && below.contains(0.0022) && !below.contains(0.0023));
    assert!(!interval.contains(f64::NAN));
}

#[test]
fn printed_as_its_ends_are() {
    for (text, printed) in [
        ("2032 mm .. 2134 mm", "2032 mm .. 2134 mm"),
        ("..2.2 mm", ".. 2.2 mm"),
        ("200 cm ..", "2000 mm .."),
    ] {
        let interval = Interval::parse_as(text, Dimension::Length).unwrap();
        assert_eq!(interval.to_string(), printed);
    }
}

#[test]
fn an_end_without_unit() {
    let length = Dimension::Length;
    check_wrong("6 .. 7 ft", length, "6", "`6` has no unit: write `6 ft .. 7 ft`");
    check_wrong("6..7ft", length, "6", "`6` has no unit: write `6ft .. 7ft`");
    check_wrong("6 ft .. 7", length, "7", "`7` has no unit: write `6 ft .. 7 ft`");
    check_wrong("6 .. 7", length, "6", "`6` has no unit: write `6 in` or `6 mm`");
    check_wrong("6 .. 7'2\"", length, "6", "`6` has no unit: write `6 in` or `6 mm`");
    check_wrong("200..260 g", Dimension::Mass, "200", "`200` has no unit: write `200 g .. 260 g`");
}

#[test]
fn an_end_that_is_wrong_by_itself() {
    let length = Dimension::Length;
    check_wrong("2.2 mm .. 2,4 mm", length, ",", "`2,4 mm` has a comma: write `2.4 mm`");
    check_wrong(
        "2. .. 3 mm",
        length,
        ".",
        "`2.` has nothing after its decimal point: write `2 in` or `2 mm`",
    );
    check_wrong(
        "2 mm .. .5 mm",
        length,
        ".",
        "`.5 mm` has nothing before its decimal point: write `0.5 mm`",
    );
    check_wrong(
        "2 mm .. 46 g",
        length,
        "46 g",
        "`46 g` is a mass where a length belongs: write one such as `7'2\"` or `2183 mm`",
    );
}

#[test]
fn not_a_range() {
    let length = Dimension::Length;
    let such_as = |says: &str| format!("{says}: write one such as `6'8\" .. 7'0\"`");
    check_wrong(
        "7'0\" .. 6'8\"",
        length,
        "7'0\" .. 6'8\"",
        "`7'0\" .. 6'8\"` has its ends the wrong way round: write `6'8\" .. 7'0\"`",
    );
    check_wrong("..", length, "..", &such_as("`..` has neither of its ends"));
    check_wrong(
        "2...3 mm",
        length,
        "...",
        &such_as("`2...3 mm` has more dots than the two of a range"),
    );
    check_wrong(
        "1 mm .. 2 mm .. 3 mm",
        length,
        ".. 2 mm ..",
        &such_as("`1 mm .. 2 mm .. 3 mm` has more dots than the two of a range"),
    );
    check_wrong("", length, "", "nothing is written: write one such as `6'8\" .. 7'0\"`");
    check_wrong(
        "6'8\"",
        length,
        "6'8\"",
        "`6'8\"` is one value where a range belongs: write `6'8\" ..` or `.. 6'8\"`",
    );
    check_wrong("banana", length, "banana", &such_as("`banana` is not a range"));
    check_wrong("-5 mm", length, "-", &such_as("`-5 mm` is not a range"));
    for mark in ["–", "—", "-", "…", "to"] {
        let text = format!("6'8\" {mark} 7'0\"");
        let message = format!(
            "`{text}` has `{mark}` where the `..` of a range belongs: write `6'8\" .. 7'0\"`"
        );
        assert_eq!(Interval::parse_as(&text, length).expect_err(&text).message, message);
    }
}
