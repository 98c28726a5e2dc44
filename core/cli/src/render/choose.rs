//! `choose`: the blanks of the shop for a brief, the best first, each with the cuts that make the rod.

use taperbook_plugin::{Choice, ChooseAdvice, PastBuild};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use super::{counted, number, safety, tried};
use crate::style::{BAD, CARE, Cell, GOOD, PLAIN, STRONG, Table, clean, paint, wrapped};

/// What is always told of a blank after its cuts, in this order.
const TOLD: [Measure; 7] = [
    Measure::Power,
    Measure::Length,
    Measure::Recovery,
    Measure::TipAngle,
    Measure::TipOd,
    Measure::ButtOd,
    Measure::Weight,
];

/// Below this chance a limit is shown as a danger.
const SURE: f64 = 0.95;

/// Prints the answer to `choose`.
pub(crate) fn choose(units: Units, advice: &ChooseAdvice) -> String {
    let mut text = headline(units, advice);
    if let Some(why) = &advice.why_none {
        text.push_str(&paint(BAD, wrapped(&clean(why), "").trim_end()));
        text.push('\n');
    }
    if !advice.blanks.is_empty() {
        text.push_str(&format!("\n{}\n", safety::cautions()));
        text.push_str(&overview(units, &advice.blanks));
    }
    for (blank_idx, blank) in advice.blanks.iter().enumerate() {
        text.push_str(&format!("\n{}", in_full(units, blank_idx + 1, blank)));
    }
    if !advice.not_judged.is_empty() {
        text.push_str("\nnot judged, since something is missing:\n");
        for blank in &advice.not_judged {
            let line = format!("{}: {}", clean(&blank.record), clean(&blank.measure));
            text.push_str(&wrapped(&line, "  "));
        }
    }
    if !advice.blanks.is_empty() {
        text.push('\n');
        for words in &advice.words {
            text.push_str(&wrapped(&clean(words), ""));
        }
        text.push_str(&wrapped(
            "these numbers are of the model, and pieces differ: read length and power of the piece in hand before the first \
             cut, and ask `suggest`",
            "",
        ));
    }
    text
}

fn headline(units: Units, advice: &ChooseAdvice) -> String {
    let aim: Vec<String> = advice
        .aim
        .iter()
        .map(|(key, value)| {
            format!("{} {}", number::words_of_key(key), number::keyed_value(units, key, *value))
        })
        .collect();
    let for_aim = if aim.is_empty() { String::new() } else { format!(" for {}", aim.join(", ")) };
    let has_limits = advice.blanks.iter().any(|blank| !blank.limits.is_empty());
    let can = match advice.can_meet {
        _ if !has_limits => String::new(),
        0 => ", none can be brought inside the limits".to_owned(),
        can_meet => format!(", {can_meet} can be brought inside the limits"),
    };
    let shown = match advice.blanks.len() {
        n_shown if n_shown + advice.not_judged.len() < advice.considered => {
            format!("; the best {n_shown}")
        }
        _ => String::new(),
    };
    format!("{}{for_aim}{can}{shown}\n", counted(advice.considered, "blank"))
}

/// All of them in a table.
fn overview(units: Units, blanks: &[Choice]) -> String {
    let has_limits = blanks.iter().any(|blank| !blank.limits.is_empty());
    let mut table = Table::default();
    let heading = if has_limits { "inside limits" } else { "" };
    let knows_stock = blanks.iter().any(|blank| blank.stock.is_some());
    let rack = if knows_stock { "on the rack" } else { "" };
    table.heading(["", rack, "off tip", "off butt", "length", "power", heading]);
    for blank in blanks {
        let cut = |mm: f64| units.cut(Length::from_mm(mm));
        let length = blank.expected.value(Measure::Length);
        let power = blank.expected.get(Measure::Power).filter(|power| power.value().is_some());
        let chance = blank.chance_inside_limits;
        let is_doubtful = chance.is_some_and(|chance| chance < SURE);
        table.cells([
            Cell::new(&blank.record, STRONG),
            if knows_stock { on_the_rack(blank.stock) } else { "".into() },
            cut(blank.cut.tip_mm).into(),
            cut(blank.cut.butt_mm).into(),
            length.map(|m| units.length(Length::from_m(m))).unwrap_or_default().into(),
            power
                .map(|power| number::measure(units, Measure::Power, &power))
                .unwrap_or_default()
                .into(),
            Cell::new(
                chance.map(number::chance).unwrap_or_default(),
                if is_doubtful { CARE } else { PLAIN },
            ),
        ]);
    }
    table.print("")
}

fn on_the_rack(stock: Option<u32>) -> Cell {
    match stock {
        None => "not known".into(),
        Some(0) => Cell::new("none", CARE),
        Some(n) => n.to_string().into(),
    }
}

fn in_full(units: Units, rank: usize, blank: &Choice) -> String {
    let name = match blank.kind.as_str() {
        "offcut" => format!("offcut {}", clean(&blank.record)),
        _ => clean(&blank.record),
    };
    let cuts = match (blank.cut.tip_mm, blank.cut.butt_mm) {
        (0.0, 0.0) => "as it is, nothing off".to_owned(),
        _ => tried::cut_words(blank.cut, |mm| number::cut_both(units, mm)),
    };
    let mut text = format!("{rank}. {}: {}", paint(STRONG, &name), paint(GOOD, &cuts));
    if let Some(held_at_mm) = blank.held_at_mm {
        text.push_str(&format!(", held at {}", units.cut(Length::from_mm(held_at_mm))));
    }
    text.push('\n');
    if let Some(way) = &blank.in_the_way {
        text.push_str(&paint(CARE, wrapped(&clean(way), "   ").trim_end()));
        text.push('\n');
    }
    for words in &blank.left_open {
        text.push_str(&wrapped(&clean(words), "   "));
    }
    let limited = |measure: &Measure| blank.limits.iter().any(|limit| limit.limit == measure.key());
    let told = Measure::ALL.into_iter().filter(|one| !TOLD.contains(one) && limited(one));
    let mut table = Table::default();
    for measure in TOLD.into_iter().chain(told) {
        let Some(known) = blank.expected.get(measure).filter(|known| known.value().is_some())
        else {
            continue;
        };
        let limit = blank.limits.iter().find(|limit| limit.limit == measure.key());
        let (allowed, chance, style) = match limit {
            Some(limit) => {
                let end = |end: &Option<String>| end.clone().unwrap_or_default();
                let allowed = format!("{} .. {}", end(&limit.low), end(&limit.high));
                let inside = limit.inside;
                let style = if inside.is_some_and(|inside| SURE <= inside) { PLAIN } else { CARE };
                let chance = inside.map_or("not known".to_owned(), number::chance);
                (format!("allowed {}", allowed.trim()), format!("{chance} inside"), style)
            }
            None => (String::new(), String::new(), PLAIN),
        };
        table.cells([
            measure.words().into(),
            number::measure(units, measure, &known).into(),
            allowed.into(),
            Cell::new(chance, style),
        ]);
    }
    text.push_str(&table.print("   "));
    if !blank.limits.is_empty() {
        let left =
            tried::left("left after that inside the limits, each end alone", units, blank.left);
        text.push_str(&wrapped(&left, "   "));
    }
    text.push_str(&left_over(units, blank));
    text.push_str(&past(units, blank));
    text
}

/// A shorter piece is nothing to keep.
const WORTH_KEEPING_MM: f64 = 200.0;

/// The pieces that come off and are long enough to be kept.
fn left_over(units: Units, blank: &Choice) -> String {
    let ends = [("tip", blank.cut.tip_mm), ("butt", blank.cut.butt_mm)];
    let kept: Vec<String> = ends
        .into_iter()
        .filter(|(_, mm)| WORTH_KEEPING_MM <= *mm)
        .map(|(end, mm)| format!("{} of the {end}", units.cut(Length::from_mm(mm))))
        .collect();
    match kept.is_empty() {
        true => String::new(),
        false => {
            wrapped(&format!("left over, to be kept as an offcut: {}", kept.join(" and ")), "   ")
        }
    }
}

/// The past builds that are alike.
fn past(units: Units, blank: &Choice) -> String {
    let behind = match blank.n_past {
        0 => "no past build of it has taught its numbers yet".to_owned(),
        n_past => format!("{} of it behind these numbers", counted(n_past, "past build")),
    };
    let mut text = wrapped(&behind, "   ");
    let mut table = Table::default();
    for build in &blank.alike {
        table.cells([
            Cell::new(&build.record, STRONG),
            Cell::from(cut_off(units, build)),
            Cell::from(ended(units, build)),
            Cell::from(build.rating.map(|rating| format!("{rating} of 5")).unwrap_or_default()),
            Cell::from(build.verdict.clone().unwrap_or_default()),
        ]);
        let used = match build.used_for.join(" ") {
            none if none.is_empty() => String::new(),
            used => format!("[{used}] "),
        };
        let words = build.words.as_deref().map(|words| format!("“{}”", words.trim()));
        let under = format!("{used}{}", words.unwrap_or_default());
        if !under.trim().is_empty() {
            table.under(under.trim());
        }
    }
    text.push_str(&table.print("   "));
    text
}

fn cut_off(units: Units, build: &PastBuild) -> String {
    let cut = |mm: f64| units.cut(Length::from_mm(mm));
    match (build.tip_cut_mm, build.butt_cut_mm) {
        (0.0, 0.0) => "uncut".to_owned(),
        (tip, butt) => format!("tip {}, butt {}", cut(tip), cut(butt)),
    }
}

fn ended(units: Units, build: &PastBuild) -> String {
    let keyed = |key: &str, value: Option<f64>| {
        value.map(|value| number::keyed_value(units, key, value)).unwrap_or_default()
    };
    let (length, power) = (keyed("length_mm", build.length_mm), keyed("power_g", build.power_g));
    [length, power].into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use expect_test::expect;
    use taperbook_plugin::{Chance, Cut, Ends, NotJudged};

    use super::*;
    use crate::render::sample;

    fn advice() -> ChooseAdvice {
        let suggestion = sample::suggestion();
        let limit = |key: &str, low: Option<&str>, high: &str, inside| Chance {
            limit: key.to_owned(),
            low: low.map(str::to_owned),
            high: Some(high.to_owned()),
            inside: Some(inside),
        };
        ChooseAdvice {
            aim: [("power_g".to_owned(), 220.0)].into(),
            considered: 4,
            can_meet: 1,
            why_none: None,
            blanks: vec![Choice {
                record: "blanks/heron-704".to_owned(),
                kind: "blank".to_owned(),
                stock: Some(2),
                held_at_mm: Some(228.6),
                cut: Cut { tip_mm: 25.4, butt_mm: 0.0 },
                chance_inside_limits: Some(0.93),
                meets: true,
                off_aim: 0.1,
                expected: suggestion.expected,
                left: Ends { tip_mm: Some(12.0), butt_mm: None },
                limits: vec![
                    limit("power", Some("200 g"), "240 g", 0.93),
                    limit("tip_od", None, "2.20 mm", 1.0),
                ],
                in_the_way: None,
                left_open: vec!["power was left open: tried for 220 g".to_owned()],
                n_past: 2,
                alike: vec![PastBuild {
                    record: "builds/ada-heron".to_owned(),
                    tip_cut_mm: 25.4,
                    butt_cut_mm: 76.2,
                    length_mm: Some(2082.8),
                    power_g: Some(231.0),
                    rating: Some(5),
                    verdict: Some("keep".to_owned()),
                    used_for: vec!["spoons".to_owned()],
                    words: Some("loads early".to_owned()),
                }],
            }],
            not_judged: vec![NotJudged {
                record: "blanks/curlew-802".to_owned(),
                measure: "measure its diameter at two places or more".to_owned(),
            }],
            words: vec!["`spoons` was sought in past builds".to_owned()],
        }
    }

    #[test]
    fn a_choice_gives_cuts_numbers_limits_and_past_builds() {
        sample::check(
            &choose(Units::Inches, &advice()),
            expect![[r#"
                4 blanks for power 220 g, 1 can be brought inside the limits; the best 1

                  Eye protection always, tips kick back; a fitted particulate respirator, and
                  gloves for splinters. Catch the dust wet or by vacuum, never dry-sweep it or
                  use compressed air. A blank bent to its limit can shatter: face shield, nobody
                  in line. A carbon rod conducts: keep clear of power lines and out of
                  thunderstorms. Follow the maker's data sheet and local rules. Measure twice,
                  cut once.

                                  on the rack  off tip  off butt  length    power              inside limits
                blanks/heron-704  2            1 in     0 in      7'1 1/2"  218 g (214 … 222)  93 %

                1. blanks/heron-704: 1 in (25.4 mm) off the tip, nothing off the butt, held at 9 in
                   power was left open: tried for 220 g
                   power         218 g (214 … 222)                 allowed 200 g .. 240 g  93 % inside
                   length        7'1 1/2" (7'1 7/16" … 7'1 9/16")
                   recovery      5.20 Hz (5.04 … 5.36)
                   tip angle     66.0 deg (65.3 … 66.7)
                   tip diameter  1.86 mm (1.81 … 1.91)             allowed .. 2.20 mm      100 % inside
                   left after that inside the limits, each end alone: 7/16 in (12.0 mm) off the
                   tip, no limit at the butt
                   2 past builds of it behind these numbers
                   builds/ada-heron  tip 1 in, butt 3 in  6'10", 231 g  5 of 5  keep
                       [spoons] “loads early”

                not judged, since something is missing:
                  blanks/curlew-802: measure its diameter at two places or more

                `spoons` was sought in past builds
                these numbers are of the model, and pieces differ: read length and power of the
                piece in hand before the first cut, and ask `suggest`
            "#]],
        );
    }

    #[test]
    fn when_none_can_be_had_the_nearest_is_told_with_what_stands_in_the_way() {
        let mut advice = advice();
        advice.can_meet = 0;
        advice.why_none = Some("no blank of the shop can be brought inside the limits".to_owned());
        advice.blanks[0].in_the_way = Some("power comes to 180 g at the nearest".to_owned());
        let text = anstream::adapter::strip_str(&choose(Units::Millimetres, &advice)).to_string();
        assert!(
            text.contains("none can be brought inside the limits; the best 1\nno blank"),
            "{text}"
        );
        assert!(text.contains("\n   power comes to 180 g at the nearest\n"), "{text}");
    }
}
