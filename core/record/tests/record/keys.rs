//! Keys that are misspelt, unknown, misplaced or repeated.

use expect_test::expect;
use taperbook_units::Length;

use crate::{build, build_text, check, check_blank, check_build, check_item, parse};

#[test]
fn a_misspelt_key() {
    check_build(
        "custommer: Ilse\npurpuse: spoons\nheld at: 9 in\nHeld_At: 9 in",
        expect![[r#"
        builds/ilse.md:4:1: `custommer` is not known in a build: did you mean `customer`?
        builds/ilse.md:5:1: `purpuse` is not known in a build: did you mean `purpose`?
        builds/ilse.md:6:1: `held at` is not known in a build: did you mean `held_at`?
        builds/ilse.md:7:1: `Held_At` is not known in a build: did you mean `held_at`?
    "#]],
    );
    check_item(
        "- read: { tipod: 1.75 mm, wieght: 46 g, tip-angle: 66 deg }",
        expect![[r#"
        builds/ilse.md:5:13: `tipod` is not known in a reading: did you mean `tip_od`?
        builds/ilse.md:5:29: `wieght` is not known in a reading: did you mean `weight`?
        builds/ilse.md:5:43: `tip-angle` is not known in a reading: did you mean `tip_angle`?
    "#]],
    );
    check_item(
        "- cutt: { tip: 1 in }",
        expect![[r#"
        builds/ilse.md:5:5: `cutt` is not known in an item of the bench: did you mean `cut`?
    "#]],
    );
    check_build(
        "limits: { lenght: 6'8\" .. 7' }",
        expect![[r#"
        builds/ilse.md:4:11: `lenght` is nothing that `limits` knows: did you mean `length`?
    "#]],
    );
    check(
        "shop.yaml",
        "name: shed\nsaw: { fine saw: 1 mm }\n",
        expect![[r#"
        shop.yaml:2:1: `saw` is not known in `shop.yaml`: did you mean `saws`?
    "#]],
    );
}

#[test]
fn an_unknown_key_is_nobodys_mistake() {
    let keys = [
        "colour", "guides", "thread", "reel", "line", "lure", "price", "board", "species",
        "weather", "grip", "handle", "deposit", "paid", "due", "phone", "tags", "status", "model",
        "series", "action", "class", "water", "name", "state", "owner", "address", "wood", "cork",
        "varnish", "shelf", "box", "photo", "rod", "fish", "river",
    ];
    for key in keys {
        let parsed = parse("builds/ilse.md", &build_text(&format!("{key}: something")));
        assert_eq!(parsed.problems, [], "{key}");
        assert!(
            parsed.fields.iter().any(|field| field.key == key && field.text == "something"),
            "{key}"
        );
    }
    for key in ["hook", "wind", "temperature", "who", "moisture", "humidity"] {
        let parsed = parse(
            "builds/ilse.md",
            &build_text(&format!("bench:\n  - read: {{ power: 212 g, {key}: 20 }}")),
        );
        assert_eq!(parsed.problems, [], "{key}");
    }
}

#[test]
fn a_known_key_in_the_wrong_place() {
    check_build(
        "power: 212 g\ncut: { tip: 1 in }\ncalipers: []",
        expect![[r#"
        builds/ilse.md:4:1: `power` does not belong in a build: write it in the bench, such as `- read: { power: 212 g }`, or in `limits` or `aim`
        builds/ilse.md:5:1: `cut` does not belong in a build: write it in `bench`, as an item that begins with `- cut:`
        builds/ilse.md:6:1: `calipers` does not belong in a build: write it in the bench, in a `read`, or on the blank card
    "#]],
    );
    check_item(
        "- length: 7'2\"",
        expect![[r#"
        builds/ilse.md:5:5: `length` does not belong in an item of the bench: write it inside an action, such as `- read: { length: 7'2" }`
    "#]],
    );
    check_item(
        "- tip: 1 in",
        expect![[r#"
        builds/ilse.md:5:5: `tip` does not belong in an item of the bench: write it inside an action, such as `- cut: { tip: 1 in }`
    "#]],
    );
    check_item(
        "- cut: { tip: 1 in, length: 7'1\" }",
        expect![[r#"
        builds/ilse.md:5:23: `length` does not belong in a cut: what was measured after it is an item of its own, `- read: { length: … }`
    "#]],
    );
    check_item(
        "- read: { load: 200 g }",
        expect![[r#"
        builds/ilse.md:5:13: `load` does not belong in a reading: a pull has one, `- pull: { tip_angle: 90 deg, load: 410 g }`; the third-length weight is `power`
    "#]],
    );
    check_blank(
        "length: 7'2\"\npower: 212 g\ntip_od: 1.75 mm\nbench: []",
        expect![[r#"
        blanks/heron-704.md:4:1: `power` does not belong in a blank card: it is read on one piece, so write it in the bench of a build
        blanks/heron-704.md:5:1: `tip_od` does not belong in a blank card: write diameters in `calipers`, such as `- { at: 0 in, od: 11.20 mm }`
        blanks/heron-704.md:6:1: `bench` does not belong in a blank card: it is part of a build
    "#]],
    );
    check(
        "fittings/tips.md",
        "---\nkind: fitting\npart: tip-top\nbore: 2.25 mm\n---\n",
        expect![[r#"
        fittings/tips.md:4:1: `bore` does not belong in a fitting: write it in `sizes`, such as `- { marked: 5.5/64 in, bore: 2.25 mm, count: 4 }`
    "#]],
    );
}

#[test]
fn a_repeated_key() {
    check_build(
        "held_at: 9 in\nheld_at: 10 in",
        expect![[r#"
        builds/ilse.md:5:1: `held_at` stands twice: the first, `9 in`, is used; take one out
    "#]],
    );
    let build = build("held_at: 9 in\nheld_at: 10 in\ncustomer: Ilse");
    assert_eq!(build.held_at.map(|held_at| held_at.value), Some(Length::from_inches(9.0)));
    assert_eq!(build.customer.map(|customer| customer.value).as_deref(), Some("Ilse"));
}
