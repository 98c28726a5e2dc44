//! Generated questions, as text and as what they mean.

use taperbook_record::{Date, Kind};
use taperbook_units::{Dimension, Quantity};

use crate::generated::{
    Dice, WORDS, angle_text, cut_text, date_text, folded, fraction_text, frequency_text,
    length_text, mass_text,
};
use crate::shop::catalogue;
use crate::walk::Ask;

/// A key of the shop's own under which some records have a number and others words.
pub(crate) fn seat(dice: &mut Dice) -> (String, Ask) {
    let ask = |dimension, low, high, near| Ask::Number {
        key: "seat".to_owned(),
        dimension,
        low,
        high,
        near,
    };
    match dice.below(4) {
        0 => under(dice, "seat", &["glass", "\"cut glass\"", "carbon"]),
        1 => {
            let written = format!("{}.5mm", 8 + dice.below(8));
            let value = Quantity::parse_as(&written, Dimension::Length).unwrap();
            let number = ask(Dimension::Length, None, None, Some((value.si, value.half_step)));
            let words =
                Ask::Under { key: "seat".to_owned(), folded: folded(&written), prefix: false };
            (
                format!("seat:{written}"),
                Ask::Either { words: Box::new(words), number: Box::new(number) },
            )
        }
        2 => {
            let grams = 8 + dice.below(20);
            let value = Quantity::parse_as(&format!("{grams} g"), Dimension::Mass).unwrap();
            (format!("seat<={grams}g"), ask(Dimension::Mass, None, Some((value.si, false)), None))
        }
        _ => {
            let value = Quantity::parse_as("10.5 mm", Dimension::Length).unwrap();
            ("seat>10.5mm".to_owned(), ask(Dimension::Length, Some((value.si, true)), None, None))
        }
    }
}

/// Makes a question; the text and the meaning are made side by side.
pub(crate) fn ask(dice: &mut Dice, depth: usize) -> (String, Ask) {
    match if depth == 0 { dice.below(5) } else { dice.below(10) } {
        0 | 1 => word(dice),
        2 => phrase(dice),
        3 => field(dice),
        4 => number(dice),
        5 => {
            let (text, ask) = grouped(dice, depth - 1);
            (format!("-{text}"), Ask::Not(Box::new(ask)))
        }
        6 | 7 => {
            let parts: Vec<_> = (0..2 + dice.below(2)).map(|_| grouped(dice, depth - 1)).collect();
            let (texts, asks): (Vec<_>, Vec<_>) = parts.into_iter().unzip();
            (texts.join(" "), Ask::All(asks))
        }
        8 => {
            let parts: Vec<_> = (0..2 + dice.below(2)).map(|_| ask(dice, depth - 1)).collect();
            let (texts, asks): (Vec<_>, Vec<_>) = parts.into_iter().unzip();
            (format!("({})", texts.join(" or ")), Ask::Any(asks))
        }
        _ => {
            let (text, ask) = if dice.chance(50) { field(dice) } else { number(dice) };
            if matches!(ask, Ask::Number { .. } | Ask::Under { .. } | Ask::Kind(_))
                && !text.starts_with("blank:")
            {
                (format!("blank.{text}"), Ask::Card(Box::new(ask)))
            } else {
                (text, ask)
            }
        }
    }
}

pub(crate) fn grouped(dice: &mut Dice, depth: usize) -> (String, Ask) {
    let (text, ask) = ask(dice, depth);
    if matches!(ask, Ask::All(_)) { (format!("({text})"), ask) } else { (text, ask) }
}

pub(crate) fn word(dice: &mut Dice) -> (String, Ask) {
    let (written, parts) = *dice.pick(&WORDS);
    let written = written.trim_matches(|char: char| "(),.;".contains(char));
    let folded: Vec<String> = parts.iter().map(|part| (*part).to_owned()).collect();
    if dice.chance(20) {
        let last = folded.last().unwrap();
        let end = last.char_indices().nth(2).map_or(last.len(), |(at, _)| at);
        let mut beginning = folded.clone();
        beginning.last_mut().unwrap().truncate(end);
        return (
            format!("{}*", beginning.join("-")),
            Ask::Words { folded: beginning, prefix: true },
        );
    }
    let text = if written == "or" { "\"or\"".to_owned() } else { written.to_owned() };
    (text, Ask::Words { folded, prefix: false })
}

pub(crate) fn phrase(dice: &mut Dice) -> (String, Ask) {
    let words: Vec<_> = (0..2 + dice.below(2))
        .map(|_| *dice.pick(&WORDS))
        .filter(|(written, _)| !written.contains('"'))
        .collect();
    if words.is_empty() {
        return word(dice);
    }
    let written: Vec<&str> = words.iter().map(|(written, _)| *written).collect();
    let folded =
        words.iter().flat_map(|(_, parts)| parts.iter().map(|part| (*part).to_owned())).collect();
    (format!("\"{}\"", written.join(" ")), Ask::Words { folded, prefix: false })
}

pub(crate) fn field(dice: &mut Dice) -> (String, Ask) {
    match dice.below(9) {
        8 => seat(dice),
        0 => {
            let kind = *dice.pick(&[Kind::Blank, Kind::Build, Kind::Note, Kind::Fitting]);
            (format!("kind:{}", kind.word()), Ask::Kind(kind))
        }
        1 => {
            let flag = dice.pick(&catalogue().flags).clone();
            (format!("flag:{flag}"), Ask::Flag(flag))
        }
        2 => under(dice, "customer", &["soren", "Zoë", "ilse", "nobody"]),
        3 => under(
            dice,
            "purpose",
            &["trout", "\"sea trout\"", "heron-704", "\"small spoons\"", "wind"],
        ),
        4 => under(dice, "verdict", &["keep", "recut", "scrap"]),
        5 => under(dice, "title", &["trout", "model", "cut", "\"heron-704 tip\""]),
        6 => under(dice, "material", &["carbon", "glass"]),
        _ => {
            let date = date_text(dice);
            let year = &date[..4];
            let day = |text: String| text.parse::<Date>().unwrap();
            let month = &date[..7];
            let last = |month: &str| {
                (28..=31).rev().find_map(|last| format!("{month}-{last}").parse::<Date>().ok())
            };
            let (text, low, high) = match dice.below(9) {
                4 => (format!("date:{month}"), day(format!("{month}-01")), last(month).unwrap()),
                5 => (format!("date<={month}"), Date::MIN, last(month).unwrap()),
                6 => (format!("date≥{month}"), day(format!("{month}-01")), Date::MAX),
                7 => (format!("date:..{date}"), Date::MIN, day(date)),
                8 => {
                    let other = date_text(dice);
                    let (low, high) = if date < other { (date, other) } else { (other, date) };
                    (format!("date:{low}..{high}"), day(low), day(high))
                }
                0 => (
                    format!("date:{year}"),
                    day(format!("{year}-01-01")),
                    day(format!("{year}-12-31")),
                ),
                1 => (
                    format!("date>{year}"),
                    day(format!("{year}-12-31")).tomorrow().unwrap(),
                    Date::MAX,
                ),
                2 => (format!("date<{date}"), Date::MIN, day(date).yesterday().unwrap()),
                _ => (format!("date:{date}.."), day(date), Date::MAX),
            };
            (text, Ask::Dates { low, high })
        }
    }
}

pub(crate) fn under(dice: &mut Dice, key: &str, values: &[&str]) -> (String, Ask) {
    let value = dice.word(values);
    let plain = value.trim_matches('"');
    // Only the last word may be a beginning; a name of a card, and what has few values, is no beginning of words.
    if dice.chance(20) && plain.is_ascii() && !["blank", "verdict", "material"].contains(&key) {
        let beginning = &plain[..plain.len().min(3)];
        return (
            format!("{key}:{beginning}*"),
            Ask::Under { key: key.to_owned(), folded: folded(beginning), prefix: true },
        );
    }
    (
        format!("{key}:{value}"),
        Ask::Under { key: key.to_owned(), folded: folded(plain), prefix: false },
    )
}

pub(crate) fn number(dice: &mut Dice) -> (String, Ask) {
    let (key, dimension) = *dice.pick(&[
        ("length", Dimension::Length),
        ("limits.length", Dimension::Length),
        ("bench.cut.tip", Dimension::Length),
        ("tip_cut", Dimension::Length),
        ("power", Dimension::Mass),
        ("stiffness_for_length", Dimension::Count),
        ("rating", Dimension::Count),
        ("tip_angle", Dimension::Angle),
        ("bend_centre", Dimension::Fraction),
        ("bench.read.frequency", Dimension::Frequency),
    ]);
    let value = |dice: &mut Dice| {
        let written = match key {
            "length" | "limits.length" => length_text(dice),
            "power" => mass_text(dice),
            "tip_angle" => angle_text(dice),
            "bend_centre" => fraction_text(dice),
            "bench.read.frequency" => frequency_text(dice),
            "stiffness_for_length" => format!("{}.{:02}", dice.below(2), dice.below(100)),
            "rating" => (1 + dice.below(5)).to_string(),
            _ => cut_text(dice),
        };
        let quantity = Quantity::parse_as(&written, dimension).unwrap();
        // A space can be left out before a unit, but not between a whole number and a fraction.
        let text =
            if written.contains('/') { format!("\"{written}\"") } else { written.replace(' ', "") };
        (text, quantity)
    };
    let ask = |low, high, near| Ask::Number { key: key.to_owned(), dimension, low, high, near };
    let (text, first) = value(dice);
    match dice.below(10) {
        8 => (format!("{key}≤{text}"), ask(None, Some((first.si, false)), None)),
        9 => (format!("{key}≥{text}"), ask(Some((first.si, false)), None, None)),
        0 => (format!("{key}<{text}"), ask(None, Some((first.si, true)), None)),
        1 => (format!("{key}<={text}"), ask(None, Some((first.si, false)), None)),
        2 => (format!("{key}>{text}"), ask(Some((first.si, true)), None, None)),
        3 => (format!("{key}>={text}"), ask(Some((first.si, false)), None, None)),
        4 => (format!("{key}:{text}.."), ask(Some((first.si, false)), None, None)),
        5 => (format!("{key}:..{text}"), ask(None, Some((first.si, false)), None)),
        6 => (format!("{key}:{text}"), ask(None, None, Some((first.si, first.half_step)))),
        _ => {
            let (other, second) = value(dice);
            let (low, high) = if first.si <= second.si {
                ((text, first), (other, second))
            } else {
                ((other, second), (text, first))
            };
            (
                format!("{key}:{}..{}", low.0, high.0),
                ask(Some((low.1.si, false)), Some((high.1.si, false)), None),
            )
        }
    }
}
