//! Plans that would pass a limit.

use super::{Texts, build, check, found_in};

#[test]
fn a_plan_that_would_go_too_far() {
    check(
        "limits: { length: 6'4\" .. 6'8\" }",
        "read: { length: 80 in }\nplan: { tip: 2 in, butt: 3 in, date: 2026-03-14 }",
        &[
            "planned-cut-past-limit: the planned cut of 2 in off the tip and 3 in off the butt (item 2, 2026-03-14) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\"; the limits allow at most 4 in off the tip or at most 4 in off the butt",
        ],
    );
}

#[test]
fn a_plan_inside_the_limits_is_no_fault() {
    check(
        "limits: { length: 6'3\" .. 6'8\" }",
        "read: { length: 80 in }\nplan: { tip: 2 in, butt: 3 in }",
        &[],
    );
    // That the plan leaves the blank too long yet is no fault either.
    check(
        "limits: { length: 6'0\" .. 6'2\" }",
        "read: { length: 80 in }\nplan: { tip: 2 in }",
        &[],
    );
}

/// What was cut since no longer counts to the plan, wherever it leaves the blank.
#[test]
fn a_plan_that_is_partly_used_up() {
    let limits = "limits: { length: 6'4\" .. }";
    check(
        limits,
        "read: { length: 80 in }\nplan: { tip: 2 in, butt: 3 in }\ncut: { tip: 1 1/2 in }",
        &[
            "planned-cut-past-limit: what is left of the plan, 1/2 in off the tip and 3 in off the butt, (item 2) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\"; the limits allow at most 2 1/2 in off the tip or at most 2 1/2 in off the butt",
        ],
    );
    check(
        limits,
        "read: { length: 80 in }\nplan: { tip: 1 in, butt: 3 in }\ncut: { tip: 2 in, butt: 1 3/4 in }",
        &[
            "planned-cut-past-limit: what is left of the plan, 1 1/4 in off the butt, (item 2) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\"; the limits allow at most 1/4 in off the tip or at most 1/4 in off the butt",
        ],
    );
    check(limits, "read: { length: 80 in }\nplan: { tip: 2 in }\ncut: { tip: 2 in }", &[]);
    check(limits, "read: { length: 80 in }\nplan: { tip: 9 in }\nplan: { tip: 2 in }", &[]);
}

#[test]
fn a_plan_whose_end_was_settled_or_whose_work_is_finished_is_none() {
    let limits = "limits: { length: 6'4\" .. }";
    check(limits, "read: { length: 80 in }\nplan: { tip: 5 in }\nsettled: { tip: enough }", &[]);
    check(&format!("{limits}\nverdict: keep"), "read: { length: 80 in }\nplan: { tip: 5 in }", &[]);
    check(
        &format!("{limits}\nverdict: recut"),
        "read: { length: 80 in }\nsettled: { butt: it fits the seat }\nplan: { tip: 5 in }",
        &[
            "planned-cut-past-limit: the planned cut of 5 in off the tip (item 3) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\"; the limits allow at most 4 in off the tip",
        ],
    );
}

/// A limit that is passed already has a flag of its own.
#[test]
fn a_limit_that_is_passed_already_is_not_told_twice() {
    check(
        "limits: { length: 6'4\" .. }",
        "read: { length: 80 in }\nplan: { tip: 5 in, butt: 1 in }\ncut: { tip: 5 in }",
        &[
            "below-shortest-length: length is 6'3\" by the cuts, 1\" below the shortest allowed 6'4\": crossed by the tip cut of 5 in (item 3)",
        ],
    );
}

/// The tip of this straight taper grows by 0.1 mm an inch; what follows from bending is the mechanics' to check.
#[test]
fn a_plan_past_more_than_one_limit() {
    check(
        "limits: { length: 6'4\" .., tip_od: .. 2.2 mm }",
        "read: { length: 80 in }\nplan: { tip: 5 in }",
        &[
            "planned-cut-past-limit: the planned cut of 5 in off the tip (item 2) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\" and tip diameter at ~, ~ above the most allowed 2.20 mm; the limits allow at most 2 in off the tip or at most 4 in off the butt",
        ],
    );
}

#[test]
fn nothing_may_come_off_an_end() {
    check(
        "limits: { length: 6'8\" .. }",
        "read: { length: 80 in }\nplan: { tip: 1/2 in }",
        &[
            "planned-cut-past-limit: the planned cut of 1/2 in off the tip (item 2) would leave length at 6'7 1/2\" by the cuts, 1/2\" below the shortest allowed 6'8\"; the limits allow nothing more off the tip or nothing more off the butt",
        ],
    );
}

/// Lengths need no diameters, and a build without a card has a plan too.
#[test]
fn a_plan_without_mechanics() {
    let text =
        build("limits: { length: 6'4\" .. }", "read: { length: 80 in }\nplan: { tip: 5 in }");
    let bare = "---\nkind: blank\n---\n";
    let found = found_in(Texts::default().with("blanks/stated.md", bare), &text);
    assert_eq!(
        found[0].0,
        "planned-cut-past-limit: the planned cut of 5 in off the tip (item 2) would leave length at 6'3\" by the cuts, 1\" below the shortest allowed 6'4\"; the limits allow at most 4 in off the tip or at most 4 in off the butt"
    );
}
