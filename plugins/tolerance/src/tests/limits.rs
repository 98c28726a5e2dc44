//! Limits: which side counts when, and the cut that crossed it.

use taperbook_record::Measure;

use super::{CARD, Texts, build, check, check_in, found, found_in};
use crate::crossing::{Course, Side, course, is_far};

/// Common practice, no source: a blank of 80 in with 2 in off the tip and 1 in off the butt is 77 in; with a shortest
/// of 75 in there are 2 in to go, and 3 in more are a fault.
#[test]
fn three_inches_where_two_are_left() {
    let limits = "limits: { length: 75 in .. 82 in }";
    let cut = "read: { length: 80 in }\ncut: { tip: 2 in }\ncut: { butt: 1 in }\n";
    check(limits, &format!("{cut}cut: {{ tip: 2 in }}"), &[]);
    check(
        limits,
        &format!("{cut}cut: {{ tip: 3 in, date: 2026-03-16 }}"),
        &[
            "below-shortest-length: length is 6'2\" by the cuts, 1\" below the shortest allowed 6'3\": crossed by the tip cut of 3 in (item 4, 2026-03-16)",
        ],
    );
    check(
        limits,
        &format!("{cut}cut: {{ butt: 3 in }}\nread: {{ length: 73 15/16 in }}"),
        &[
            "below-shortest-length: length is 6'1 15/16\" as read, 1 1/16\" below the shortest allowed 6'3\": crossed by the butt cut of 3 in (item 4)",
        ],
    );
}

/// Which way cutting moves the numbers (common practice, no source), and so which side is a fault at once.
#[test]
fn the_far_side_is_where_cutting_leads() {
    use Measure::{
        Balance, BendCentre, ButtOd, FreeLength, Length, Power, Recovery, StiffnessForLength,
        TipAngle, TipOd, Weight,
    };
    for measure in [Length, FreeLength, Weight, ButtOd, Balance] {
        assert_eq!(course(measure), Course::Falls, "{measure:?}");
        assert!(is_far(measure, Side::Low) && !is_far(measure, Side::High), "{measure:?}");
    }
    for measure in [TipOd, Power, Recovery] {
        assert_eq!(course(measure), Course::Rises, "{measure:?}");
        assert!(is_far(measure, Side::High) && !is_far(measure, Side::Low), "{measure:?}");
    }
    for measure in [TipAngle, BendCentre, StiffnessForLength] {
        assert_eq!(course(measure), Course::Either, "{measure:?}");
        assert!(!is_far(measure, Side::High) && !is_far(measure, Side::Low), "{measure:?}");
    }
}

/// The mechanics moves the numbers the way that [`course`] says, on this taper.
#[test]
fn the_mechanics_agrees_which_way_cutting_leads() {
    let shop = Texts::default().with("blanks/stated.md", CARD);
    let piece = taperbook_bench::piece(&taperbook_plugin::View::new(&shop.shelf), "blanks/stated")
        .expect("it is a card");
    let inches = taperbook_units::Length::from_inches;
    for measure in Measure::ALL {
        let value = |tip: f64, butt: f64| {
            let off = taperbook_bench::Cuts { tip: inches(tip), butt: inches(butt) };
            piece.value(measure, off, inches(9.0)).expect("it can be computed")
        };
        let (by_tip, by_butt) =
            (value(2.0, 0.0) - value(0.0, 0.0), value(0.0, 2.0) - value(0.0, 0.0));
        match course(measure) {
            Course::Falls => {
                assert!(by_tip <= 0.0 && by_butt <= 0.0 && by_tip + by_butt < 0.0, "{measure:?}")
            }
            // A butt cut takes the stiffest part away, and power may fall a little with it.
            Course::Rises => {
                assert!(0.0 < by_tip && -0.05 * value(0.0, 0.0) < by_butt, "{measure:?}")
            }
            Course::Either => assert!(by_tip != 0.0 && by_butt != 0.0, "{measure:?}"),
        }
    }
}

/// A limit of each measure, past on each side: its flag, whether it counts while the work goes on, and when it is finished.
#[test]
fn each_limit_has_its_flag_and_its_side() {
    // Present numbers of this build: 6'7", free 5'10", 2.10 mm, 10.00 mm, 40 g, 27 in, 184 g, 1.03, 54 deg, 38 %, 5.7 Hz.
    let items = "read: { length: 79 in, tip_od: 2.1 mm, butt_od: 10 mm, weight: 35 g, balance: 27 in, power: 184 g, tip_angle: 54 deg, frequency: 5.7 Hz }";
    let cases = [
        ("length: 85 in ..", "below-shortest-length", true),
        ("length: .. 75 in", "above-longest-length", false),
        ("tip_od: 2.5 mm ..", "below-least-tip-od", false),
        ("tip_od: .. 1.5 mm", "above-most-tip-od", true),
        ("butt_od: 11 mm ..", "below-least-butt-od", true),
        ("butt_od: .. 9 mm", "above-most-butt-od", false),
        ("weight: 60 g ..", "below-least-weight", true),
        ("weight: .. 20 g", "above-most-weight", false),
        ("power: 300 g ..", "below-least-power", false),
        ("power: .. 100 g", "above-most-power", true),
        ("tip_angle: 65 deg ..", "below-least-tip-angle", false),
        ("tip_angle: .. 40 deg", "above-most-tip-angle", false),
        ("recovery: 8 Hz ..", "below-least-recovery", false),
        ("recovery: .. 4 Hz", "above-most-recovery", true),
        ("free_length: 80 in ..", "below-limit", true),
        ("free_length: .. 60 in", "above-limit", false),
        ("balance: 35 in ..", "below-limit", true),
        ("balance: .. 20 in", "above-limit", false),
        ("bend_centre: 60 % ..", "below-limit", false),
        ("bend_centre: .. 20 %", "above-limit", false),
        ("stiffness_for_length: 2 ..", "below-limit", false),
        ("stiffness_for_length: .. 0.5", "above-limit", false),
    ];
    for (limit, flag, at_once) in cases {
        let flags = |more: &str, items: &str| -> Vec<String> {
            let found = found(&format!("limits: {{ {limit} }}\n{more}"), items);
            found
                .into_iter()
                .map(|(finding, _)| finding.split(':').next().unwrap_or_default().to_owned())
                .collect()
        };
        let going_on: &[&str] = if at_once { &[flag] } else { &[] };
        assert_eq!(flags("", items), going_on, "{limit} while the work goes on");
        assert_eq!(flags("verdict: recut", items), going_on, "{limit} when it is to be cut again");
        assert_eq!(flags("verdict: keep", items), [flag], "{limit} when it is kept");
        assert_eq!(flags("verdict: scrap", items), [flag], "{limit} when it is given up");
        let settled = format!("{items}\nsettled: {{ tip: enough, butt: enough }}");
        assert_eq!(flags("", &settled), [flag], "{limit} when both ends are settled");
    }
}

#[test]
fn inside_and_on_the_edge_is_no_fault() {
    let items = "read: { length: 80 in, tip_od: 2 mm, power: 172 g }";
    check(
        "limits: { length: 6'8\" .. 6'8\", tip_od: 2 mm .. 2 mm, power: 172 g .. 172 g }\nverdict: keep",
        items,
        &[],
    );
    // 2031.4 mm is 0.6 mm short, which no sixteenth of an inch shows.
    check("limits: { length: 6'8\" .. }", "read: { length: 2031.4 mm }", &[]);
}

#[test]
fn a_finished_build_says_why_it_counts_now() {
    check(
        "limits: { power: 200 g .. 260 g }\nverdict: keep",
        "read: { length: 80 in, power: 172 g }",
        &[
            "below-least-power: power is 172 g as read, 28 g below the least allowed 200 g, and the verdict is `keep`",
        ],
    );
    check(
        "limits: { length: .. 6'6\" }",
        "read: { length: 80 in }\nsettled: { tip: enough }\nsettled: { butt: it fits }",
        &[
            "above-longest-length: length is 6'8\" as read, 2\" above the longest allowed 6'6\", and both ends are settled",
        ],
    );
}

/// Only a cut at that end would change the diameter, so its settling decides.
#[test]
fn a_settled_end_settles_its_diameter() {
    let read = "read: { length: 80 in, tip_od: 2 mm, butt_od: 10 mm }";
    check(
        "limits: { tip_od: 2.2 mm .., butt_od: .. 9.5 mm, length: .. 70 in }",
        &format!("{read}\nsettled: {{ tip: enough }}"),
        &[
            "below-least-tip-od: tip diameter is 2.00 mm as read, 0.20 mm below the least allowed 2.20 mm, and the tip is settled",
        ],
    );
    check(
        "limits: { tip_od: 2.2 mm .., butt_od: .. 9.5 mm, length: .. 70 in }",
        &format!("{read}\nsettled: {{ butt: it fits }}"),
        &[
            "above-most-butt-od: butt diameter is 10.00 mm as read, 0.50 mm above the most allowed 9.50 mm, and the butt is settled",
        ],
    );
}

#[test]
fn before_any_cut() {
    check(
        "limits: { length: 6'10\" .. }",
        "read: { length: 80 in }\ncut: { tip: 1 in }",
        &[
            "below-shortest-length: length is 6'7\" by the cuts, 3\" below the shortest allowed 6'10\", before any cut",
        ],
    );
}

#[test]
fn the_place_is_the_cut_or_else_the_limit() {
    let limits = "limits: { length: 6'7 1/2\" .. }";
    let crossed = found(
        limits,
        "read: { length: 80 in }\ncut: { tip: 1 in, with: rotary disc }\ncut: { butt: 1 in }",
    );
    assert_eq!(crossed[0].1, "- cut: { tip: 1 in, with: rotary disc }");
    let uncut = found(limits, "read: { length: 79 in }");
    assert_eq!(uncut[0].1, "6'7 1/2\" ..");
}

/// Computed numbers carry their range; a limit within it is likely passed, not surely.
#[test]
fn a_computed_number_says_how_sure_it_is() {
    let read = "read: { length: 80 in, power: 172 g, tip_angle: 55 deg, weight: 34.6 g }\n";
    check(
        "limits: { power: .. 200 g }",
        &format!("{read}cut: {{ tip: 5 in }}"),
        &[
            "above-most-power: power is ~, ~ above the most allowed 200 g: crossed by the tip cut of 5 in (item 2)",
        ],
    );
    check(
        "limits: { power: .. 225 g }",
        &format!("{read}cut: {{ tip: 5 in }}"),
        &[
            "above-most-power: power is ~, likely ~ above the most allowed 225 g: crossed by the tip cut of 5 in (item 2)",
        ],
    );
    check("limits: { power: .. 250 g }", &format!("{read}cut: {{ tip: 5 in }}"), &[]);
}

/// Nobody has cut or read this blank: what is only supposed of it is no fault, unless it is sure.
#[test]
fn a_fresh_blank_is_not_blamed_for_a_guess() {
    check("limits: { power: .. 160 g }", "read: { length: 80 in }", &[]);
    check(
        "limits: { power: .. 100 g }",
        "read: { length: 80 in }",
        &["above-most-power: power is ~, ~ above the most allowed 100 g, before any cut"],
    );
}

#[test]
fn a_reading_says_when_it_is_within_its_own_error() {
    let cut = "read: { length: 80 in, power: 172 g }\ncut: { tip: 1 in }\n";
    check(
        "limits: { power: .. 180 g }",
        &format!("{cut}read: {{ power: 184 g }}"),
        &[
            "above-most-power: power is 184 g as read, give or take 6 g, likely 4 g above the most allowed 180 g: crossed by the tip cut of 1 in (item 2)",
        ],
    );
    let shop = Texts::default()
        .with("blanks/stated.md", CARD)
        .with("shop.yaml", "errors: { reclamp: 0.5 % }\n");
    let found = found_in(
        shop,
        &build("limits: { power: .. 180 g }", &format!("{cut}read: {{ power: 184 g }}")),
    );
    assert_eq!(
        found[0].0,
        "above-most-power: power is 184 g as read, 4 g above the most allowed 180 g: crossed by the tip cut of 1 in (item 2)"
    );
}

/// The reading in the present state counts, whatever the mechanics thinks of it; an earlier one does not.
#[test]
fn what_was_read_after_the_last_cut_counts() {
    let cut = "read: { length: 80 in, power: 172 g }\ncut: { tip: 1 in }\n";
    check("limits: { power: .. 180 g }", &format!("{cut}read: {{ power: 179 g }}"), &[]);
    // Held elsewhere or with guides on it is another number.
    for other in ["power: 170 g, held_at: 5 in", "power: 170 g, dressed: true"] {
        let found = found("limits: { power: .. 176 g }", &format!("{cut}read: {{ {other} }}"));
        assert!(found[0].0.contains("as computed"), "{found:?}");
    }
}

/// Readings scatter: 106 g within the error of a limit of 105 g is not yet the cut that did it.
#[test]
fn the_cut_is_named_after_which_it_is_sure() {
    let found = found(
        "limits: { power: .. 175 g }",
        "read: { length: 80 in, power: 172 g }
        cut: { tip: 1/4 in }
        read: { power: 177 g }
        cut: { tip: 1 1/2 in }
        read: { power: 192 g }",
    );
    assert_eq!(
        found[0].0,
        "above-most-power: power is 192 g as read, 17 g above the most allowed 175 g: crossed by the tip cut of 1 1/2 in (item 4)"
    );
}

/// Back inside, and out again: the last crossing is the one that counts.
#[test]
fn the_last_crossing_counts() {
    // Angles that jump like this are read by eye, or one of them is no reading at all.
    let shop = Texts::default()
        .with("blanks/stated.md", CARD)
        .with("shop.yaml", "errors: { tip_angle: 4 deg }\n");
    let text = build(
        "limits: { tip_angle: 50 deg .. }",
        "read: { length: 80 in, tip_angle: 40 deg }
        cut: { butt: 1 in }
        read: { tip_angle: 57 deg }
        cut: { tip: 2 in }
        read: { tip_angle: 40 deg }",
    );
    let found = found_in(shop, &text);
    let below = found.iter().find(|(finding, _)| finding.starts_with("below-least"));
    assert_eq!(
        below.map(|(finding, _)| finding.as_str()),
        Some(
            "below-least-tip-angle: tip angle is 40.0 deg as read, 10.0 deg below the least allowed 50.0 deg: crossed by the tip cut of 2 in (item 4)"
        )
    );
}

/// A number that moves either way is a fault at once only when a cut has taken it out.
#[test]
fn either_way_a_cut_must_have_crossed() {
    let limits = "limits: { tip_angle: 60 deg .. }";
    check(
        limits,
        "read: { length: 80 in, tip_angle: 56 deg }\ncut: { tip: 1 in }\nread: { tip_angle: 54 deg }",
        &[],
    );
    check(
        "limits: { tip_angle: 55 deg .. }",
        "read: { length: 80 in, tip_angle: 56 deg }\ncut: { tip: 3 in }\nread: { tip_angle: 51 deg }",
        &[
            "below-least-tip-angle: tip angle is 51.0 deg as read, 4.0 deg below the least allowed 55.0 deg: crossed by the tip cut of 3 in (item 2)",
        ],
    );
    check(
        "limits: { stiffness_for_length: 0.95 .. }",
        "read: { length: 80 in }\ncut: { butt: 4 in }",
        &[
            "below-limit: stiffness for its length is ~, ~ below the least allowed 0.95: crossed by the butt cut of 4 in (item 2)",
        ],
    );
}

/// Without diameters there is no mechanics, but lengths and readings are still what they are.
#[test]
fn lengths_and_readings_need_no_mechanics() {
    let shop =
        || Texts::default().with("blanks/stated.md", "---\nkind: blank\nlength: 80 in\n---\n");
    let limits = "limits: { length: 79 in .., power: .. 160 g, tip_od: .. 2.2 mm }";
    check_in(
        shop(),
        &build(limits, "cut: { tip: 2 in }\nread: { power: 172 g }"),
        &[
            "above-most-power: power is 172 g as read, 12 g above the most allowed 160 g",
            "below-shortest-length: length is 6'6\" by the card's length and the cuts, 1\" below the shortest allowed 6'7\": crossed by the tip cut of 2 in (item 1)",
        ],
    );
    check_in(
        shop(),
        &build("limits: { length: 77 1/2 in .. }", "cut: { tip: 3 in }"),
        &[
            "below-shortest-length: length is 6'5\" by the card's length and the cuts, likely 1/2\" below the shortest allowed 6'5 1/2\": crossed by the tip cut of 3 in (item 1)",
        ],
    );
    let found = found_in(shop(), &build("limits: { length: 84 in .. }", "feel: short"));
    assert_eq!(
        found[0].0,
        "below-shortest-length: length is 6'8\" by the card, 4\" below the shortest allowed 7'0\", before any cut"
    );
}

#[test]
fn a_shop_in_millimetres_reads_millimetres() {
    let shop =
        Texts::default().with("blanks/stated.md", CARD).with("shop.yaml", "units: millimetres\n");
    let found = found_in(
        shop,
        &build("limits: { length: 2000 mm .. }", "read: { length: 2032 mm }\ncut: { tip: 40 mm }"),
    );
    assert_eq!(
        found[0].0,
        "below-shortest-length: length is 1992 mm by the cuts, 8 mm below the shortest allowed 2000 mm: crossed by the tip cut of 40.0 mm (item 2)"
    );
}

/// The engine tries a cut by putting it last on the bench, with nothing read after it.
#[test]
fn a_tried_cut_is_flagged_before_the_saw() {
    let limits = "limits: { power: .. 200 g, length: 77 in .. }";
    let now = "read: { length: 80 in, power: 172 g }\ncut: { tip: 1 in }\nread: { length: 79 in, power: 183 g }\n";
    check(limits, now, &[]);
    check(
        limits,
        &format!("{now}cut: {{ tip: 3 in }}"),
        &[
            "above-most-power: power is ~, ~ above the most allowed 200 g: crossed by the tip cut of 3 in (item 4)",
            "below-shortest-length: length is 6'4\" by the cuts, 1\" below the shortest allowed 6'5\": crossed by the tip cut of 3 in (item 4)",
        ],
    );
}

/// Nobody cuts so often; a record that says so must not cost seconds.
#[test]
fn of_very_many_cuts_only_the_last_are_searched() {
    let cuts = "cut: { tip: 1 mm }\n".repeat(80);
    check(
        "limits: { length: 85 in .. }",
        &format!("read: {{ length: 80 in }}\n{cuts}"),
        &[
            "below-shortest-length: length is 6'4 7/8\" by the cuts, 8 1/8\" below the shortest allowed 7'1\"",
        ],
    );
    let found = found("", &format!("settled: {{ tip: enough }}\n{cuts}"));
    assert_eq!(found.len(), 20, "more faults of one kind are one fault of the record");
}
