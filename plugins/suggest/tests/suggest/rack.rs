//! `choose` by what is on the rack, and by what was liked where the brief leaves something open.

use taperbook_plugin::ChooseAdvice;
use taperbook_record::Measure;

use crate::shop::Shop;

fn card(thicker: f64, more: &str) -> String {
    let stations: String =
        [(0.0, 11.2, 1.0), (28.0, 8.4, 0.95), (56.0, 5.0, 0.8), (84.0, 1.8, 0.5)]
            .map(|(at, od, wall)| {
                format!("  - {{ at: {at} in, od: {:.2} mm, wall: {wall} mm }}\n", od * thicker)
            })
            .concat();
    format!(
        "---\nkind: blank\nlength: 84 in\nmaterial: carbon\nheld_at: 9 in\ncalipers:\n{stations}modulus: 95 GPa\ndensity: 1550 \
         kg/m3\n{more}---\n"
    )
}

/// A shop with the same blank under several names, each with what its card says besides; `stout` is stouter than all.
fn shop(same: &[(&str, &str)]) -> Shop {
    let mut shop = Shop::default();
    shop.put("shop.yaml", "name: a shop\nerrors: { stated_length: 1 mm }\n");
    shop.put("blanks/stout.md", &card(1.3, "stock: 4\n"));
    for (name, more) in same {
        shop.put(&format!("blanks/{name}.md"), &card(1.0, more));
    }
    shop
}

fn told(advice: &ChooseAdvice) -> Vec<(&str, Option<u32>)> {
    let name = |record: &str| record.trim_start_matches("blanks/").to_owned();
    advice.blanks.iter().map(|blank| (name(&blank.record).leak() as &str, blank.stock)).collect()
}

const AIM: &str = "length: 82 in, power: 200 g";

#[test]
fn what_is_on_the_rack_comes_first_among_equals_and_what_is_not_comes_last() {
    let shop = shop(&[("a", "stock: 0\n"), ("b", ""), ("c", "stock: 2\n")]);
    let advice = shop.choose(AIM, "", "");
    assert_eq!(told(&advice), [("c", Some(2)), ("b", None), ("stout", Some(4)), ("a", Some(0))]);
    // What is there is as good.
    assert!(advice.words.is_empty(), "{:?}", advice.words);
}

#[test]
fn a_better_blank_that_is_not_there_is_named_to_be_ordered() {
    let advice = shop(&[("a", "stock: 0\n")]).choose(AIM, "", "");
    assert_eq!(told(&advice), [("stout", Some(4)), ("a", Some(0))]);
    assert!(
        advice.words[0].starts_with("blanks/a would come before all of these"),
        "{:?}",
        advice.words
    );
}

#[test]
fn only_what_is_there_can_be_asked_for_and_what_was_left_out_is_said() {
    let shop = shop(&[("a", "stock: 0\n"), ("b", ""), ("c", "stock: 2\n")]);
    let advice = shop.choose_in_stock(AIM).expect("two are there");
    assert_eq!(told(&advice), [("c", Some(2)), ("stout", Some(4))]);
    assert_eq!((advice.considered, advice.words.len()), (2, 1));
    assert!(
        advice.words[0]
            .contains("1 blank, of which none is on the rack, and 1 blank whose card doesn't say"),
        "{:?}",
        advice.words
    );

    let mut none = Shop::default();
    none.put("shop.yaml", "name: a shop\n");
    none.put("blanks/a.md", &card(1.0, ""));
    assert!(none.choose_in_stock(AIM).unwrap_err().contains("stock: 2"));
}

/// An offcut is there unless its card says that it was used up.
#[test]
fn an_offcut_is_one_piece() {
    let mut shop = shop(&[]);
    let offcut = |more: &str| card(1.0, more).replace("kind: blank", "kind: offcut");
    shop.put("offcuts/left.md", &offcut(""));
    shop.put("offcuts/used.md", &offcut("stock: 0\n"));
    let advice = shop.choose_in_stock(AIM).expect("one is there");
    assert_eq!(told(&advice)[0], ("offcuts/left", Some(1)));
    assert!(advice.blanks.iter().all(|blank| blank.record != "offcuts/used"));
}

/// The brief leaves power open: the middle of what is allowed, or where liked builds ended.
#[test]
fn what_the_brief_leaves_open_follows_the_builds_that_were_liked() {
    let limits = "length: 78 in .. 84 in, power: 150 g .. 400 g";
    let chosen = |power: f64, rating: u8| {
        let mut shop = shop(&[("c", "stock: 2\n")]);
        for idx in 0..4 {
            shop.put(
                &format!("builds/past-{idx}.md"),
                &format!(
                    "---\nkind: build\nblank: c\npurpose: spoons\naim: {{ length: 82 in }}\nbench:\n  - cut: {{ butt: 2 in }}\n  - \
                     read: {{ length: 82 in, power: {power} g }}\nrating: {rating}\nverdict: keep\n---\n"
                ),
            );
        }
        let advice = shop.choose("length: 82 in", limits, "spoons");
        advice
            .blanks
            .into_iter()
            .find(|blank| blank.record == "blanks/c")
            .expect("it can be judged")
    };
    let power = |blank: &taperbook_plugin::Choice| blank.expected.value(Measure::Power).unwrap();
    let (soft, stiff) = (chosen(215.0, 5), chosen(240.0, 5));
    assert!(power(&soft) < power(&stiff), "{} {}", power(&soft), power(&stiff));
    assert!(
        soft.left_open[0].starts_with("power was left open: tried for "),
        "{:?}",
        soft.left_open
    );
    assert!(soft.left_open[0].contains("builds/past-0"), "{:?}", soft.left_open);
    // What was not liked is no example.
    assert!(chosen(215.0, 2).left_open.is_empty());
}
