//! Diameters measured twice at right angles, the way the spine lay, and where an offcut came from.

use expect_test::expect;
use taperbook_record::{Action, Content};

use crate::{build, check, check_build, parse};

#[test]
fn two_diameters_at_right_angles_are_one_by_their_mean() {
    let read = build(
        "bench:\n  - read: { tip_od: 2.10 mm, tip_od_across: 2.16 mm, butt_od: 11.2 mm, spine: up }\n  - read: { calipers: [{ at: 0 in, od: 11.2 mm, across: 11.0 mm }] }\n",
    );
    let Action::Read(reading) = &read.bench[0].action else { panic!("{read:?}") };
    let mm = |od: &Option<taperbook_record::Spanned<taperbook_units::Length>>| {
        od.as_ref().map(|od| (od.value.mm() * 1e6).round() / 1e6)
    };
    assert_eq!((mm(&reading.tip_od), mm(&reading.butt_od)), (Some(2.13), Some(11.2)));
    assert_eq!(reading.spine.as_deref(), Some("up"));
    let Action::Read(reading) = &read.bench[1].action else { panic!("{read:?}") };
    assert!((reading.calipers[0].od.mm() - 11.1).abs() < 1e-9);
}

#[test]
fn what_can_be_no_pair_is_said() {
    check_build(
        "bench:\n  - read: { tip_od: 2.10 mm, tip_od_across: 2.60 mm }\n  - read: { butt_od_across: 11.2 mm }\n  - read: { spine: up }\n",
        expect![[r#"
            builds/ilse.md:5:45: 2.10 mm and 2.60 mm at right angles are too far apart for a blank: measure both again
            builds/ilse.md:6:29: `butt_od_across` is the diameter at right angles to `butt_od`: write that one too
            builds/ilse.md:7:5: this reading holds nothing that was read: write one such as `read: { power: 212 g }`
        "#]],
    );
}

#[test]
fn an_offcut_names_the_item_that_cut_it_off() {
    let text = "---\nkind: offcut\nfrom: ilse-heron\nend: tip\nitem: 3\n---\n";
    let parsed = parse("offcuts/o.md", text);
    assert_eq!(parsed.problems, []);
    let Content::Offcut(offcut) = parsed.record.content else { panic!("it is an offcut") };
    assert_eq!(offcut.item.map(|item| item.value), Some(3));
    check(
        "offcuts/o.md",
        &text.replace("item: 3", "item: 0"),
        expect![[r#"
        offcuts/o.md:5:7: `0` can't be `item`: write a whole number from 1 to 100000
    "#]],
    );
}
