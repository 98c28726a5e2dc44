//! What each mistake in a comparison is answered, as it is shown: keys, values, units.

use expect_test::expect;

use crate::mistakes::check;

#[test]
fn units() {
    check(
        "spoons length<7",
        expect![[r#"
        `7` has no unit: write `7 in` or `7 mm`
          spoons length<7
                        ^"#]],
    );
    check(
        "power>200",
        expect![[r#"
        `200` has no unit: write `200 g` or `200 oz`
          power>200
                ^^^"#]],
    );
    check(
        "tip_cut:1in..2",
        expect![[r#"
        `2` has no unit: write `2 in` or `2 mm`
          tip_cut:1in..2
                       ^"#]],
    );
    check(
        "tip_cut:1..2in",
        expect![[r#"
        `1` has no unit: write `1 in` or `1 mm`
          tip_cut:1..2in
                  ^"#]],
    );
    check(
        "length>46g",
        expect![[r#"
        `46g` is a mass where a length belongs: write one such as `7'2"` or `2183 mm`
          length>46g
                 ^^^"#]],
    );
    check(
        "length:2,4mm",
        expect![[r#"
        `2,4mm` has a comma: write `2.4mm`
          length:2,4mm
                  ^"#]],
    );
    check(
        "length:6'12\"",
        expect![[r#"
        `6'12"` has 12 inches or more after its feet: write `7'0"`
          length:6'12"
                   ^^^"#]],
    );
    check(
        "length:abc",
        expect![[r#"
        `abc` has no number: write one such as `7'2"` or `2183 mm`
          length:abc
                 ^^^"#]],
    );
    check(
        "power<200 g",
        expect![[r#"
        `200 g` has a space in it: write it in quotes, `power<"200 g"`
          power<200 g
                ^^^^^"#]],
    );
    check(
        "(power<200 g) trout",
        expect![[r#"
        `200 g` has a space in it: write it in quotes, `power<"200 g"`
          (power<200 g) trout
                 ^^^^^"#]],
    );
    check(
        "length<86 1/2 in trout",
        expect![[r#"
        `86 1/2 in` has a space in it: write it in quotes, `length<"86 1/2 in"`
          length<86 1/2 in trout
                 ^^^^^^^^^"#]],
    );
    check(
        "length<86 trout",
        expect![[r#"
        `86` has no unit: write `86 in` or `86 mm`
          length<86 trout
                 ^^"#]],
    );
    check(
        "power<200\u{a0}g",
        expect![[r#"
        `200 g` has a space in it: write it in quotes, `power<"200 g"`
          power<200 g
                ^^^^^"#]],
    );
    check(
        "bend_centre>38",
        expect![[r#"
        `38` has no unit: write `38%`
          bend_centre>38
                      ^^"#]],
    );
    check(
        "stiffness_for_length>1mm",
        expect![[r#"
        `1mm` is a length where a plain number belongs: write one such as `4`
          stiffness_for_length>1mm
                               ^^^"#]],
    );
    check(
        "limits.tip_od<2.2",
        expect![[r#"
        `2.2` has no unit: write `2.2 in` or `2.2 mm`
          limits.tip_od<2.2
                        ^^^"#]],
    );
    check(
        "rating:four",
        expect![[r#"
        `four` has no number: write one such as `4`
          rating:four
                 ^^^^"#]],
    );
    check(
        "blank.length<7",
        expect![[r#"
        `7` has no unit: write `7 in` or `7 mm`
          blank.length<7
                       ^"#]],
    );
}

#[test]
fn values() {
    check(
        "length:",
        expect![[r#"
        after `length:` the value is missing: write it right behind, in quotes when it has a space in it
          length:
          ^^^^^^^"#]],
    );
    check(
        "length< 7ft",
        expect![[r#"
        after `length<` the value is missing: write it right behind, in quotes when it has a space in it
          length< 7ft
          ^^^^^^^"#]],
    );
    check(
        "length:\"\"",
        expect![[r#"
        after `length:` the value is missing: write it right behind, in quotes when it has a space in it
          length:""
          ^^^^^^^^^"#]],
    );
    check(
        "length:..",
        expect![[r#"
        after `length:` the value is missing: write it right behind, in quotes when it has a space in it
          length:..
          ^^^^^^^^^"#]],
    );
    check(
        "length:7ft..6ft",
        expect![[r#"
        the ends of `7ft..6ft` are the wrong way round: write the smaller one first
          length:7ft..6ft
                 ^^^^^^^^"#]],
    );
    check(
        "length<6ft..7ft",
        expect![[r#"
        `6ft..7ft` is a range: write it behind `length:`
          length<6ft..7ft
                 ^^^^^^^^"#]],
    );
    check(
        "length:7*",
        expect![[r#"
        a `*` begins words, and `length` is a number: write the number or a range
          length:7*
                  ^"#]],
    );
    check(
        "date:2025-13",
        expect![[r#"
        `2025-13` is no date: write one such as `2025-03-14`, `2025-03` or `2025`
          date:2025-13
               ^^^^^^^"#]],
    );
    check(
        "date:yesterday",
        expect![[r#"
        `yesterday` is no date: write one such as `2025-03-14`, `2025-03` or `2025`
          date:yesterday
               ^^^^^^^^^"#]],
    );
    check(
        "date:2026..2025",
        expect![[r#"
        the ends of `2026..2025` are the wrong way round: write the smaller one first
          date:2026..2025
               ^^^^^^^^^^"#]],
    );
    check(
        "customer:&",
        expect![[r#"
        `&` has no letter and no digit to search for
          customer:&
                   ^"#]],
    );
    check(
        "customer<ilse",
        expect![[r#"
        `customer` holds words, and no word is more than another: write `customer:` and the word
          customer<ilse
          ^^^^^^^^^^^^^"#]],
    );
    check(
        "kind>build",
        expect![[r#"
        `kind` is one of a few words: write `kind:` and the word
          kind>build
          ^^^^^^^^^^"#]],
    );
}

#[test]
fn keys() {
    check(
        "pwoer>200g",
        expect![[r#"
        no record has a field `pwoer`: did you mean `power`?
          pwoer>200g
          ^^^^^"#]],
    );
    check(
        "limit.length<7'",
        expect![[r#"
        no record has a field `limit.length`: did you mean `limits.length`?
          limit.length<7'
          ^^^^^^^^^^^^"#]],
    );
    check(
        "custommer:ilse",
        expect![[r#"
        no record has a field `custommer`: did you mean `customer`?
          custommer:ilse
          ^^^^^^^^^"#]],
    );
    check(
        "ferule:brass",
        expect![[r#"
        no record has a field `ferule`: did you mean `ferrule`?
          ferule:brass
          ^^^^^^"#]],
    );
    check(
        "marked:5mm",
        expect![[r#"
        no record has a field `marked`: did you mean `sizes.marked`?
          marked:5mm
          ^^^^^^"#]],
    );
    check(
        "colour:red",
        expect![[r#"
        no record has a field `colour`: to search for the words, put them in quotes
          colour:red
          ^^^^^^"#]],
    );
    check(
        "http://example.org",
        expect![[r#"
        no record has a field `http`: to search for the words, put them in quotes
          http://example.org
          ^^^^"#]],
    );
    check(
        "blank.pwoer>200g",
        expect![[r#"
        no record has a field `pwoer`: did you mean `power`?
          blank.pwoer>200g
          ^^^^^^^^^^^"#]],
    );
    check(
        "blank.blank.length>7'",
        expect![[r#"
        a card has no card of its own: write `blank.` once
          blank.blank.length>7'
          ^^^^^^^^^^^^^^^^^^"#]],
    );
    check(
        "<7ft",
        expect![[r#"
        before `<` the field is missing: write one such as `length<7'`, without spaces
          <7ft
          ^"#]],
    );
    check(
        "5<7ft",
        expect![[r#"
        `5` is no name of a field: before `<` write one such as `length`
          5<7ft
          ^"#]],
    );
    check(
        "length < 7ft",
        expect![[r#"
        before `<` the field is missing: write one such as `length<7'`, without spaces
          length < 7ft
                 ^"#]],
    );
}

#[test]
fn closed_words() {
    check(
        "kind:biuld",
        expect![[r#"
        `biuld` is no kind of record: did you mean `build`?
          kind:biuld
               ^^^^^"#]],
    );
    check(
        "kind:rod",
        expect![[r#"
        `rod` is no kind of record: write one of `blank`, `build`, `fitting`, `offcut`, `shop`, `note`
          kind:rod
               ^^^"#]],
    );
    check(
        "flag:below-shortest-lenght",
        expect![[r#"
        `below-shortest-lenght` is no flag: did you mean `below-shortest-length`?
          flag:below-shortest-lenght
               ^^^^^^^^^^^^^^^^^^^^^"#]],
    );
    check(
        "flag:xyz",
        expect![[r#"
        `xyz` is no flag: write one of `below-shortest-length`, `above-longest-length`, `lengths-do-not-add-up`
          flag:xyz
               ^^^"#]],
    );
    check(
        "verdict:kept",
        expect![[r#"
        `kept` is no verdict: write one of `keep`, `recut`, `scrap`
          verdict:kept
                  ^^^^"#]],
    );
    check(
        "verdict:good",
        expect![[r#"
        `good` is no verdict: write one of `keep`, `recut`, `scrap`
          verdict:good
                  ^^^^"#]],
    );
}
