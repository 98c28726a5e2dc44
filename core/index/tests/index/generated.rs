//! Generated records: words, numbers in mixed units, links to cards, keys of the shop's own.

use std::str::FromStr;

use taperbook_plugin::Number;
use taperbook_record::Kind;
use taperbook_units::{Dimension, Quantity};

use crate::shop::{Entry, catalogue};

/// A small source of numbers that are the same on every machine: SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.bits() % u64::try_from(count).unwrap()).unwrap()
    }

    pub(crate) fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    pub(crate) fn pick<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }

    pub(crate) fn word<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list[self.below(list.len())]
    }
}

/// What the environment asks for, such as a longer run of 10,000 questions over 2,000 records.
pub(crate) fn wish<T: FromStr>(name: &str, usual: T) -> T {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// What bodies are made of: words, each with its folded parts.
pub(crate) const WORDS: [(&str, &[&str]); 30] = [
    ("spoon", &["spoon"]),
    ("spoons", &["spoons"]),
    ("Small", &["small"]),
    ("sea", &["sea"]),
    ("trout", &["trout"]),
    ("SØREN", &["soren"]),
    ("Zoë", &["zoe"]),
    ("Zoe\u{308}", &["zoe"]),
    ("heron-704", &["heron", "704"]),
    ("heron-70", &["heron", "70"]),
    ("6'10\"", &["6", "10"]),
    ("10.5", &["10", "5"]),
    ("tip-top,", &["tip", "top"]),
    ("tip", &["tip"]),
    ("top.", &["top"]),
    ("or", &["or"]),
    ("and", &["and"]),
    ("Straße", &["strasse"]),
    ("cut", &["cut"]),
    ("cuts", &["cuts"]),
    ("loads", &["loads"]),
    ("early;", &["early"]),
    ("straight", &["straight"]),
    ("(wind)", &["wind"]),
    ("carbon", &["carbon"]),
    ("glass", &["glass"]),
    ("1", &["1"]),
    ("in", &["in"]),
    ("竿先", &["竿", "先"]),
    ("rare", &["rare"]),
];

pub(crate) fn folded(text: &str) -> Vec<String> {
    let parts = text.split_whitespace().flat_map(|word| {
        let known =
            WORDS.iter().find(|(written, _)| *written == word).map(|(_, parts)| parts.to_vec());
        // All other text of the generated records is plain ASCII.
        known.unwrap_or_else(|| {
            word.split(|char: char| !char.is_ascii_alphanumeric())
                .filter(|part| !part.is_empty())
                .collect()
        })
    });
    parts.map(str::to_lowercase).collect()
}

pub(crate) fn text(dice: &mut Dice, count: usize) -> String {
    // The last word is rare.
    let words: Vec<&str> = (0..count)
        .map(|_| if dice.chance(1) { "rare" } else { dice.pick(&WORDS[..WORDS.len() - 1]).0 })
        .collect();
    words.join(" ")
}

pub(crate) fn length_text(dice: &mut Dice) -> String {
    let sixteenths = 60 * 16 + dice.below(48 * 16);
    let inches = sixteenths / 16;
    match dice.below(7) {
        0 => format!("{}'{}\"", inches / 12, inches % 12),
        1 => format!("{}'{} {}/16\"", inches / 12, inches % 12, 1 + sixteenths % 15),
        2 => format!("{inches} in"),
        3 => format!("{} mm", 1500 + dice.below(1200)),
        4 => format!("{}.{:02} m", 1 + dice.below(2), dice.below(100)),
        5 => format!("{}.{} ft", 5 + dice.below(4), dice.below(10)),
        _ => format!("{}.{} cm", 150 + dice.below(120), dice.below(10)),
    }
}

pub(crate) fn mass_text(dice: &mut Dice) -> String {
    match dice.below(4) {
        0 => format!("{} g", 100 + dice.below(300)),
        1 => format!("{}.{} oz", 4 + dice.below(8), dice.below(10)),
        2 => format!("0.{:02} lb", 20 + dice.below(60)),
        _ => format!("0.{:03} kg", 100 + dice.below(300)),
    }
}

pub(crate) fn cut_text(dice: &mut Dice) -> String {
    match dice.below(3) {
        0 => format!("{} in", dice.below(5)),
        1 => format!("{} 1/2 in", dice.below(5)),
        _ => format!("{} mm", dice.below(120)),
    }
}

pub(crate) fn angle_text(dice: &mut Dice) -> String {
    match dice.below(2) {
        0 => format!("{} deg", 50 + dice.below(25)),
        _ => format!("{}.{} deg", 50 + dice.below(25), dice.below(10)),
    }
}

pub(crate) fn fraction_text(dice: &mut Dice) -> String {
    format!("{}.{} %", 30 + dice.below(8), dice.below(10))
}

pub(crate) fn frequency_text(dice: &mut Dice) -> String {
    match dice.below(2) {
        0 => format!("{}.{} Hz", 4 + dice.below(3), dice.below(10)),
        _ => format!("{}.{:02} Hz", 4 + dice.below(3), dice.below(100)),
    }
}

pub(crate) fn date_text(dice: &mut Dice) -> String {
    format!("20{}-{:02}-{:02}", 23 + dice.below(4), 1 + dice.below(12), 1 + dice.below(28))
}

pub(crate) fn some(written: &str, dimension: Dimension) -> Number {
    Number::exact(Quantity::parse_as(written, dimension).unwrap().si)
}

pub(crate) const CARDS: usize = 20;

pub(crate) fn card_id(number: usize) -> String {
    format!("blanks/model-{number}")
}

pub(crate) fn entry(dice: &mut Dice, number: usize) -> Entry {
    if number < CARDS {
        let mut card = Entry::new(Kind::Blank, &card_id(number), &format!("model {number}"));
        let count = dice.below(8);
        card.body = text(dice, count);
        if dice.chance(70) {
            card = card.field("material", dice.word(&["carbon", "glass", "blend"]));
        }
        if dice.chance(80) {
            card = card.field("length", &length_text(dice));
        }
        return card;
    }
    if dice.chance(15) {
        let count = dice.below(25);
        let body = text(dice, count);
        let title_words = 1 + dice.below(2);
        return Entry::new(Kind::Note, &format!("notes/{number}"), &text(dice, title_words))
            .body(&body);
    }
    let title_words = 1 + dice.below(3);
    let mut build = Entry::new(Kind::Build, &format!("builds/{number}"), &text(dice, title_words));
    let count = dice.below(30);
    build.body = text(dice, count);
    if dice.chance(90) {
        let card = dice.below(CARDS);
        build = build.blank(&format!("model-{card}"), &card_id(card));
    }
    if dice.chance(80) {
        build = build.field("customer", dice.word(&["SØREN", "Zoë", "Ilse"]));
    }
    if dice.chance(50) {
        let count = 1 + dice.below(6);
        build = build.field("purpose", &text(dice, count));
    }
    if dice.chance(80) {
        build = build.field("date", &date_text(dice));
    }
    if dice.chance(60) {
        let (low, high) = (60 + dice.below(20), 80 + dice.below(20));
        let range = match dice.below(3) {
            0 => format!("{low} in .. {high} in"),
            1 => format!("{low} in .."),
            _ => format!(".. {high} in"),
        };
        build = build.field("limits.length", &range);
    }
    for _ in 0..dice.below(4) {
        build = build.field("bench.cut.tip", &cut_text(dice));
    }
    if dice.chance(50) {
        build = build.field("rating", &(1 + dice.below(5)).to_string());
    }
    if dice.chance(50) {
        build = build.field("verdict", dice.word(&["keep", "recut", "scrap"]));
    }
    // A key of the shop's own, in two dimensions and in words.
    match dice.below(4) {
        0 => build = build.field("seat", &format!("{}.5 mm", 8 + dice.below(8))),
        1 => build = build.field("seat", dice.word(&["cut glass", "wind straight", "carbon"])),
        2 => build = build.field("seat", &format!("{} g", 8 + dice.below(20))),
        _ => {}
    }
    if dice.chance(90) {
        build.numbers.push(("length".to_owned(), some(&length_text(dice), Dimension::Length)));
        build.numbers.push(("tip_cut".to_owned(), some(&cut_text(dice), Dimension::Length)));
    }
    match dice.below(3) {
        0 => build.numbers.push(("power".to_owned(), Number::missing("power"))),
        1 => build.numbers.push(("power".to_owned(), some(&mass_text(dice), Dimension::Mass))),
        _ => {}
    }
    if dice.chance(50) {
        let ratio = format!("{}.{:02}", dice.below(2), dice.below(100));
        build.numbers.push(("stiffness_for_length".to_owned(), some(&ratio, Dimension::Count)));
    }
    if dice.chance(50) {
        build = build.field("bench.read.frequency", &frequency_text(dice));
        build.numbers.push(("tip_angle".to_owned(), some(&angle_text(dice), Dimension::Angle)));
        let centre = some(&fraction_text(dice), Dimension::Fraction);
        build.numbers.push(("bend_centre".to_owned(), centre));
    }
    for flag in catalogue().flags {
        if dice.chance(10) {
            build = build.flag(&flag);
        }
    }
    build
}

pub(crate) fn generated_shop(seed: u64, count: usize) -> Vec<Entry> {
    let mut dice = Dice(seed);
    (0..count).map(|number| entry(&mut dice, number)).collect()
}
