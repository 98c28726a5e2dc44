//! The bench as states of the piece.

use taperbook_units::Length;

use super::{build, near, read_bench};
use crate::walk::{Walk, walk};

fn walked(items: &str) -> Walk {
    walk(&build(items), None)
}

/// Common practice, no source: a blank of 80 in with 2 in off the tip and 1 in off the butt is 77 in.
#[test]
fn cuts_shorten_the_blank() {
    let walk = walked("read: { length: 80 in }\ncut: { tip: 2 in }\ncut: { butt: 1 in }");
    let lengths: Vec<f64> =
        walk.states.iter().filter_map(|state| Some(state.length?.inches().round())).collect();
    assert_eq!(lengths, [80.0, 78.0, 77.0]);
    near(walk.present().off.tip, 2.0);
    near(walk.present().off.butt, 1.0);
    assert_eq!(walk.state_of_item, [0, 1, 2]);
    assert_eq!(walk.present().item, Some(2));
    assert!(walk.uncut().length_was_read && !walk.present().length_was_read);
}

#[test]
fn a_length_that_was_read_wins_over_the_sum_of_cuts() {
    let walk = walked("read: { length: 80 in }\ncut: { tip: 2 in }\nread: { length: 77 15/16 in }");
    near(walk.present().length.expect("it was read"), 77.9375);
    near(walk.present().off.tip, 2.0625);
    near(walk.present().logged.tip, 2.0);
}

#[test]
fn a_difference_is_shared_in_proportion_by_the_cuts_since_the_last_length() {
    let walk = walked(
        "read: { length: 80 in }
        cut: { tip: 4 in }
        read: { length: 76 in }
        cut: { tip: 1 in }
        cut: { butt: 3 in }
        read: { length: 71 in }",
    );
    near(walk.present().off.tip, 4.0 + 1.25);
    near(walk.present().off.butt, 3.75);
    near(walk.states[2].length.expect("it follows"), 76.0 - 1.25);
    near(walk.states[1].off.tip, 4.0);
}

#[test]
fn a_cut_logged_twice_counts_once_and_leaves_the_other_cuts_alone() {
    let walk = walked(
        "read: { length: 84 in }
        cut: { tip: 1 in }
        cut: { butt: 1 1/2 in }
        cut: { butt: 1 1/2 in }
        read: { length: 81 1/2 in }",
    );
    near(walk.present().off.tip, 1.0);
    near(walk.present().off.butt, 1.5);
    near(walk.states[3].off.butt, 1.5);
    near(walk.present().logged.butt, 3.0);
}

#[test]
fn one_end_of_a_cut_logged_twice_counts_once() {
    let walk = walked(
        "read: { length: 84 in }
        cut: { tip: 1 in, butt: 3 in }
        cut: { tip: 2 in, butt: 3 in }
        read: { length: 78 in }",
    );
    near(walk.present().off.tip, 3.0);
    near(walk.present().off.butt, 3.0);
}

/// Two equal cuts that both were made: nothing is left out when the lengths add up.
#[test]
fn two_equal_cuts_are_two_cuts() {
    let walk = walked(
        "read: { length: 84 in }\ncut: { tip: 1 in }\ncut: { tip: 1 in }\nread: { length: 82 in }",
    );
    near(walk.present().off.tip, 2.0);
    // So are two small ones when the tape is a millimetre off.
    let walk = walked(
        "read: { length: 2000 mm }\ncut: { tip: 3 mm }\ncut: { tip: 3 mm }\nread: { length: 1995 mm }",
    );
    near(walk.present().off.tip, 5.0 / 25.4);
    near(walk.states[1].off.tip, 2.5 / 25.4);
}

#[test]
fn no_reading_makes_a_blank_grow() {
    let walk = walked("read: { length: 80 in }\ncut: { tip: 1 in }\nread: { length: 81 in }");
    near(walk.present().off.tip, 0.0);
    near(walk.present().length.expect("it was read"), 81.0);
}

#[test]
fn a_second_reading_of_one_state_replaces_the_first() {
    let walk = walked(
        "read: { length: 79 in }
        read: { length: 80 in }
        cut: { tip: 2 in }
        read: { length: 77 in }
        read: { length: 78 in }
        cut: { tip: 1 in }",
    );
    near(walk.uncut().length.expect("it was read"), 80.0);
    near(walk.states[1].off.tip, 2.0);
    near(walk.present().length.expect("it follows"), 77.0);
}

#[test]
fn a_reading_with_guides_on_is_another_length() {
    let walk = walked(
        "read: { length: 80 in }\ncut: { tip: 2 in }\nread: { length: 80 in, dressed: true }",
    );
    near(walk.present().length.expect("it follows"), 78.0);
    assert!(!walk.present().length_was_read);
}

#[test]
fn without_a_length_before_the_cuts_the_first_after_them_tells_it() {
    let walk = walked("cut: { tip: 2 in }\ncut: { butt: 1 in }\nread: { length: 77 in }");
    near(walk.uncut().length.expect("it follows"), 80.0);
    near(walk.states[1].length.expect("it follows"), 78.0);
    assert!(!walk.uncut().length_was_read);
    assert_eq!(walked("cut: { tip: 2 in }").present().length, None);
}

/// A maker's length is no measurement: what it is off by must not become a longer or shorter cut.
#[test]
fn a_makers_length_gives_way_to_the_cuts() {
    let card = Some(Length::from_inches(80.0));
    let walk = walk(&build("cut: { tip: 2 in }\nread: { length: 78 1/2 in }"), card);
    near(walk.present().off.tip, 2.0);
    near(walk.uncut().length.expect("it follows"), 80.5);
}

#[test]
fn a_gap_that_is_no_longer_the_makers_is_laid_on_the_cuts() {
    let card = Some(Length::from_inches(80.0));
    let walk =
        walk(&build("cut: { tip: 1 in }\ncut: { tip: 1 in }\nread: { length: 79 in }"), card);
    near(walk.present().off.tip, 1.0);
    near(walk.uncut().length.expect("it is stated"), 80.0);
}

#[test]
fn a_length_that_was_read_counts_more_than_the_card() {
    let walk = walk(&build("read: { length: 79 in }"), Some(Length::from_inches(80.0)));
    near(walk.uncut().length.expect("it was read"), 79.0);
    assert!(walk.uncut().length_was_read);
}

#[test]
fn a_plan_is_used_up_by_cuts() {
    let plan = |items: &str| {
        walked(items).planned.map(|(item, rest)| (item, rest.tip.inches(), rest.butt.inches()))
    };
    assert_eq!(plan("plan: { tip: 2 in, butt: 3 in }"), Some((0, 2.0, 3.0)));
    assert_eq!(plan("plan: { tip: 2 in, butt: 3 in }\ncut: { tip: 1 in }"), Some((0, 1.0, 3.0)));
    assert_eq!(
        plan("plan: { tip: 2 in, butt: 3 in }\ncut: { tip: 2 1/2 in }"),
        Some((0, 0.0, 3.0))
    );
    assert_eq!(plan("plan: { tip: 2 in, butt: 3 in }\ncut: { tip: 2 in, butt: 3 in }"), None);
    // Less than half a millimetre is the saw's business.
    assert_eq!(plan("plan: { tip: 20 mm }\ncut: { tip: 19.6 mm }"), None);
    assert_eq!(plan("cut: { tip: 1 in }"), None);
    assert_eq!(plan("plan: { tip: 2 in }\nplan: { butt: 1 in }"), Some((1, 0.0, 1.0)));
}

#[test]
fn a_settled_end_is_no_longer_planned() {
    let walk = walked(
        "plan: { tip: 2 in, butt: 3 in }
        cut: { tip: 1 in }
        settled: { tip: any stiffer and it won't throw }",
    );
    let (item, rest) = walk.planned.expect("the butt is still planned");
    assert_eq!(item, 0);
    near(rest.tip, 0.0);
    near(rest.butt, 3.0);
    assert_eq!(walk.settled.tip.as_deref(), Some("any stiffer and it won't throw"));
    assert_eq!(walk.settled.butt, None);
    assert_eq!(walked("plan: { tip: 1 in }\nsettled: { tip: enough }").planned, None);
}

/// The reader reports the comma; the walk must not go on as if nothing had come off.
#[test]
fn after_a_cut_of_unknown_size_the_length_is_unknown_until_it_is_read() {
    let parsed = read_bench(
        "read: { length: 80 in }
        plan: { tip: 2 in }
        cut: { tip: 1,5 in }
        cut: { butt: 1 in }
        read: { length: 77 in }
        cut: { butt: 1 in }",
    );
    assert_eq!(parsed.problems.len(), 1, "{:?}", parsed.problems);
    let walk = walk(parsed.record.build().expect("it is a build"), None);
    assert_eq!(walk.unread_cut, Some(2));
    assert_eq!(walk.planned, None);
    assert_eq!(walk.states[1].length, None);
    near(walk.states[2].length.expect("it was read"), 77.0);
    near(walk.present().length.expect("it follows"), 76.0);
    near(walk.uncut().length.expect("it was read"), 80.0);
}

#[test]
fn cuts_since_the_last_tape_are_counted() {
    let counted = |items: &str| {
        let build = build(items);
        let walk = walk(&build, None);
        walk.n_cuts_unmeasured(walk.present().off)
    };
    assert_eq!(counted("read: { length: 80 in }"), 0);
    assert_eq!(
        counted("read: { length: 80 in }\ncut: { tip: 1 in, butt: 1 in }\ncut: { tip: 1 in }"),
        3
    );
    let measured =
        "read: { length: 80 in }\ncut: { tip: 1 in }\nread: { length: 79 in }\ncut: { butt: 1 in }";
    assert_eq!(counted(measured), 1);
    // What was the case before the last cut, and what would be after another, are as sure as what was made.
    let build = build(measured);
    let walk = walk(&build, None);
    assert_eq!(walk.n_cuts_unmeasured(walk.states[1].off), 0);
    assert_eq!(
        walk.n_cuts_unmeasured(
            walk.present().off.plus(Length::from_inches(1.0), Length::default())
        ),
        1
    );
}
