//! What a form of the bench says, made into one item; where it goes and whether it reads back is not decided here.

use serde::Deserialize;
use taperbook_record::{ItemText, Measure, ScalarPlace, Written, scalar};
use taperbook_units::Dimension;

/// What can be read, in the order of the bench: the measure, the unit of its field, its name.
pub(crate) const READINGS: [(Measure, &str, &str); 7] = [
    (Measure::Length, "in", "Length"),
    (Measure::Power, "g", "Power"),
    (Measure::TipAngle, "deg", "Tip angle"),
    (Measure::TipOd, "mm", "Tip diameter"),
    (Measure::ButtOd, "mm", "Butt diameter"),
    (Measure::Weight, "g", "Weight"),
    (Measure::Balance, "in", "Balance point"),
];

/// What a form says.
#[derive(Deserialize, Default)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Said {
    pub(crate) action: String,
    tip: String,
    tip_unit: String,
    butt: String,
    butt_unit: String,
    what: String,
    value: String,
    unit: String,
    board: String,
    words: String,
}

/// Makes the bench item of a form.
pub(crate) fn item(said: &Said, today: &str) -> Result<String, String> {
    let mut item = ItemText::default();
    match said.action.as_str() {
        action @ ("cut" | "plan") => {
            for (key, text, unit) in
                [("tip", &said.tip, &said.tip_unit), ("butt", &said.butt, &said.butt_unit)]
            {
                if !text.trim().is_empty() {
                    let written = quantity(text, unit, Dimension::Length)?;
                    item.quantity(key, Some(&written).filter(|written| written.quantity.si != 0.0));
                }
            }
            if item.is_empty() {
                return Err(
                    "nothing comes off either end: write a length for tip or butt".to_owned()
                );
            }
            item.plain("date", Some(today));
            Ok(item.of(action))
        }
        "read" => {
            let known = READINGS.into_iter().find(|(measure, ..)| measure.key() == said.what);
            let (measure, ..) =
                known.ok_or_else(|| format!("`{}` is nothing that is read here", said.what))?;
            let written = quantity(&said.value, &said.unit, measure.dimension())?;
            item.quantity(measure.key(), Some(&written));
            item.text("board", Some(said.board.trim()).filter(|board| !board.is_empty()));
            item.plain("date", Some(today));
            Ok(item.of("read"))
        }
        "feel" if !said.words.trim().is_empty() => {
            let words: Vec<&str> = said.words.split_whitespace().collect();
            let words = scalar(&words.join(" "), ScalarPlace::Line);
            Ok(format!("feel: {words}\ndate: {today}"))
        }
        action => Err(format!("`{action}` with nothing in it can't be written down")),
    }
}

/// Reads a quantity; a bare number has the unit that stands beside its field.
fn quantity(text: &str, unit: &str, dimension: Dimension) -> Result<Written, String> {
    let text = text.trim();
    let is_bare = text.chars().all(|c| c.is_ascii_digit() || ". /".contains(c));
    if is_bare && !unit.is_empty() {
        Written::parse(&format!("{text} {unit}"), dimension)
    } else {
        Written::parse(text, dimension)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(said: Said, expected: &str) {
        let item = item(&said, "2026-03-15").unwrap_or_else(|message| message);
        assert_eq!(item, expected);
    }

    fn read(what: &str, value: &str, unit: &str) -> Said {
        Said {
            action: "read".into(),
            what: what.into(),
            value: value.into(),
            unit: unit.into(),
            ..Said::default()
        }
    }

    #[test]
    fn a_bare_number_has_the_unit_beside_it_and_another_keeps_its_own() {
        check(read("power", "224", "g"), "read: { power: 224 g, date: 2026-03-15 }");
        check(read("length", "82 1/2", "in"), "read: { length: 82 1/2 in, date: 2026-03-15 }");
        check(read("length", "6'10 1/2\"", "mm"), "read: { length: 6'10 1/2\", date: 2026-03-15 }");
        check(read("tip_od", "2,4", "mm"), "`2,4` has a comma: write `2.4 in` or `2.4 mm`");
        check(read("rating", "5", ""), "`rating` is nothing that is read here");
    }

    #[test]
    fn a_cut_needs_something_that_comes_off() {
        let cut = |tip: &str, butt: &str| Said {
            action: "cut".into(),
            tip: tip.into(),
            butt: butt.into(),
            butt_unit: "mm".into(),
            ..Said::default()
        };
        check(cut("1 in", "40"), "cut: { tip: 1 in, butt: 40 mm, date: 2026-03-15 }");
        check(cut("0 in", ""), "nothing comes off either end: write a length for tip or butt");
    }

    #[test]
    fn words_become_one_item_whatever_stands_in_them() {
        let feel =
            |words: &str| Said { action: "feel".into(), words: words.into(), ..Said::default() };
        check(
            feel("loads early\n- cut: { tip: 9 in }"),
            "feel: \"loads early - cut: { tip: 9 in }\"\ndate: 2026-03-15",
        );
        check(feel("  "), "`feel` with nothing in it can't be written down");
    }
}
