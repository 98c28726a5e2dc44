//! Lengths that don't add up, and the likelier reason of each gap.

use taperbook_units::{Length, Units};

use super::{build, read_bench};
use crate::gap::{LengthGap, length_gaps};

fn gaps(items: &str) -> Vec<LengthGap> {
    length_gaps(&build(items), None, None, Units::Inches)
}

#[track_caller]
fn check(items: &str, likely: &str) {
    let gaps = gaps(items);
    let found: Vec<&str> = gaps.iter().map(|gap| gap.likely.as_str()).collect();
    assert_eq!(found, [likely]);
}

#[test]
fn up_to_three_millimetres_are_the_tapes_business() {
    assert_eq!(
        gaps("read: { length: 2000 mm }\ncut: { tip: 50 mm }\nread: { length: 1953 mm }"),
        []
    );
    let gaps = gaps("read: { length: 2000 mm }\ncut: { tip: 50 mm }\nread: { length: 1954 mm }");
    let [gap] = gaps.as_slice() else { panic!("{gaps:?}") };
    assert_eq!((gap.item, gap.known_from), (2, Some(0)));
    assert!((gap.expected.mm() - 1950.0).abs() < 1e-9);
    assert!((gap.read.mm() - 1954.0).abs() < 1e-9);
    assert_eq!(
        gap.likely,
        "that little is likely the tape, or a saw that left its mark: measure again"
    );
}

#[test]
fn a_cut_logged_twice() {
    check(
        "read: { length: 84 in }
        cut: { tip: 1 in }
        cut: { butt: 1 1/2 in }
        cut: { butt: 1 1/2 in }
        read: { length: 81 1/2 in }",
        "the butt cut of 1 1/2 in is likely logged twice, in items 3 and 4",
    );
}

/// The other end was cut by the same length: that is no repetition.
#[test]
fn a_cut_logged_but_not_made() {
    check(
        "read: { length: 84 in }\ncut: { tip: 2 in }\ncut: { butt: 2 in }\nread: { length: 82 in }",
        "the tip cut of 2 in in item 2 is likely logged but not made",
    );
}

#[test]
fn a_whole_item_logged_twice() {
    check(
        "read: { length: 84 in }
        cut: { tip: 1 in, butt: 3 in }
        cut: { tip: 1 in, butt: 3 in }
        read: { length: 80 in }",
        "the cut of 4 in is likely logged twice, in items 2 and 3",
    );
}

#[test]
fn inches_that_were_millimetres() {
    check(
        "read: { length: 84 in }\ncut: { tip: 3 in }\nread: { length: 2130.6 mm }",
        "the tip cut of 3 in in item 2 was likely 3 mm",
    );
}

#[test]
fn millimetres_that_were_inches() {
    check(
        "read: { length: 84 in }\ncut: { tip: 2 mm }\nread: { length: 82 in }",
        "the tip cut of 2.0 mm in item 2 was likely 2 in",
    );
}

#[test]
fn a_second_cut_that_nobody_logged() {
    check(
        "read: { length: 84 in }\ncut: { tip: 3/4 in }\nread: { length: 82 1/2 in }",
        "a second tip cut of 3/4 in, as in item 2, is likely made but not logged",
    );
}

#[test]
fn an_inch_and_a_foot_of_the_tape() {
    let inch = "the tape is likely misread by an inch";
    check("read: { length: 84 in }\ncut: { tip: 2 in }\nread: { length: 81 in }", inch);
    check("read: { length: 84 in }\ncut: { tip: 2 in }\nread: { length: 83 in }", inch);
    let foot = "the tape is likely misread by a foot";
    check("read: { length: 84 in }\ncut: { tip: 2 in }\nread: { length: 94 in }", foot);
    check("read: { length: 84 in }\nread: { length: 83 in }", inch);
}

/// Five cuts of a saw that takes 1 mm each.
#[test]
fn the_kerf_left_out() {
    let items = "read: { length: 2000 mm }
        cut: { tip: 10 mm, butt: 30 mm }
        cut: { tip: 10 mm, butt: 20 mm }
        cut: { tip: 5 mm }
        read: { length: 1920 mm }";
    let kerf = Some(Length::from_mm(1.0));
    let with = length_gaps(&build(items), None, kerf, Units::Millimetres);
    assert_eq!(with[0].likely, "the kerf is likely left out: a cut is the whole length lost");
    let without = length_gaps(&build(items), None, None, Units::Millimetres);
    assert_eq!(
        without[0].likely,
        "a second tip cut of 5.0 mm, as in item 4, is likely made but not logged"
    );
}

#[test]
fn what_fits_no_mistake_is_told_by_its_size() {
    check(
        "read: { length: 84 in }\ncut: { tip: 2 in }\nread: { length: 77 in }",
        "a cut of about 5 in is likely missing",
    );
    check(
        "read: { length: 84 in }\ncut: { tip: 3 1/2 in }\ncut: { tip: 4 1/4 in }\nread: { length: 78 in }",
        "the cuts logged since are likely 1 3/4 in too much in all",
    );
    check(
        "read: { length: 84 in }\nread: { length: 81 in }",
        "no cut was logged between the two readings: a cut of about 3 in is likely missing",
    );
    check(
        "read: { length: 81 in }\nread: { length: 84 in }",
        "no cut was logged between the two readings: one of them is likely misread",
    );
}

/// One wrong reading among right ones is one fault, not two.
#[test]
fn a_reading_that_a_later_one_undoes_is_misread() {
    check(
        "read: { length: 84 in }
        cut: { tip: 2 in }
        read: { length: 80 1/4 in }
        cut: { butt: 1 in }
        read: { length: 81 in }",
        "it is likely misread, because the length in item 5 fits the one before it",
    );
}

#[test]
fn a_makers_word_is_no_measurement() {
    let card = Some(Length::from_inches(84.0));
    let gaps = |items: &str| length_gaps(&build(items), card, None, Units::Inches);
    assert_eq!(gaps("read: { length: 82 in }"), []);
    assert_eq!(gaps("cut: { tip: 2 in }\nread: { length: 82 1/2 in }"), []);
    let twice = gaps("cut: { tip: 1 in }\ncut: { tip: 1 in }\nread: { length: 83 in }");
    assert_eq!(twice[0].known_from, None);
    assert_eq!(twice[0].likely, "the tip cut of 1 in is likely logged twice, in items 1 and 2");
}

#[test]
fn guides_and_cuts_of_unknown_size_are_no_gap() {
    let dressed =
        "read: { length: 84 in }\ncut: { tip: 2 in }\nread: { length: 84 in, dressed: true }";
    assert_eq!(gaps(dressed), []);
    let unread =
        read_bench("read: { length: 84 in }\ncut: { tip: 1,5 in }\nread: { length: 82 in }");
    let unread = unread.record.build().expect("it is a build");
    assert_eq!(length_gaps(unread, None, None, Units::Inches), []);
}
