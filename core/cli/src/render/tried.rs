//! `try`: what further cuts would give, beside what is there now.

use taperbook_engine::{CheckAnswer, TryAnswer};
use taperbook_plugin::{Chance, Cut, Ends, State};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use super::number::ORDER;
use super::{Setting, check, fittings, flags, number, safety};
use crate::style::{BAD, Cell, PLAIN, STRONG, Table, clean, paint, wrapped};

/// Below this chance a limit is shown as a danger: one in twenty is the edge of every range here.
const SURE: f64 = 0.95;

/// Prints the answer to `try`.
pub(crate) fn tried(setting: &Setting, answer: &TryAnswer) -> String {
    let units = setting.units;
    let advice = &answer.advice;
    let mut text = format!(
        "{}: {}",
        paint(STRONG, &clean(&advice.record)),
        cut_words(advice.cut, |mm| number::cut_both(units, mm))
    );
    if let Some(held_at_mm) = advice.held_at_mm {
        text.push_str(&format!(", held at {}", units.cut(Length::from_mm(held_at_mm))));
    }
    text.push('\n');
    if let Some((low, high)) = advice.cut_range {
        let range = |end: &str, low: f64, high: f64| {
            (low != high).then(|| {
                let [low, high] = [low, high].map(|mm| number::cut_both(units, mm));
                format!("  what is measured allows {low} … {high} off the {end}\n")
            })
        };
        text.extend(range("tip", low.tip_mm, high.tip_mm));
        text.extend(range("butt", low.butt_mm, high.butt_mm));
    }
    if let Some(cost) = advice.caliper {
        let words = format!(
            "{:.2} mm of caliper error moves that cut by {}",
            cost.error_mm,
            number::cut_both(units, cost.cut_mm)
        );
        text.push_str(&wrapped(&words, "  "));
    }
    text.push_str(&format!("\n{}\n", safety::cautions()));
    for words in &advice.words {
        text.push_str(&wrapped(&clean(words), ""));
    }
    if !advice.words.is_empty() {
        text.push('\n');
    }
    text.push_str(&states(units, ("before", &advice.before), ("after", &advice.after)));
    text.push_str(&limits(&advice.limits));
    text.push_str(&format!(
        "\n{}",
        left("left after that inside the limits, each end alone", units, advice.left)
    ));
    if let Some(at) = &answer.fittings {
        text.push_str(&format!("\nfittings {}", fittings::state(units, at, 1)));
    }
    if answer.flags.is_empty() {
        text.push_str("no flags after that\n");
    } else {
        text.push_str("\nflags after that:\n");
        text.push_str(&flags::list(setting, &answer.flags));
    }
    if !answer.problems.is_empty() {
        text.push_str("\nwhat could not be read is held against nothing; mend it first:\n");
        let problems = answer.problems.clone();
        text.push_str(&check::check(
            setting,
            &CheckAnswer { checked: 1, problems, flags: Vec::new() },
        ));
    }
    text
}

/// Says a cut in words, what is cut first: `1 in (25.4 mm) off the tip, nothing off the butt`.
pub(crate) fn cut_words(cut: Cut, print: impl Fn(f64) -> String) -> String {
    let end = |mm: f64, end: &str| match mm {
        0.0 => format!("nothing off the {end}"),
        _ => format!("{} off the {end}", print(mm)),
    };
    let (tip, butt) = (end(cut.tip_mm, "tip"), end(cut.butt_mm, "butt"));
    if cut.tip_mm == 0.0 && cut.butt_mm != 0.0 {
        format!("{butt}, {tip}")
    } else {
        format!("{tip}, {butt}")
    }
}

/// Says how much may still come off.
pub(crate) fn left(what: &str, units: Units, ends: Ends) -> String {
    let end = |mm: Option<f64>, end: &str| match mm {
        None => format!("no limit at the {end}"),
        Some(mm) if mm <= 0.0 => format!("nothing off the {end}"),
        Some(mm) => format!("{} off the {end}", number::cut_at_most(units, mm)),
    };
    format!("{what}: {}, {}\n", end(ends.tip_mm, "tip"), end(ends.butt_mm, "butt"))
}

/// Prints one state beside another; a number that neither has is left out.
pub(crate) fn states(units: Units, before: (&str, &State), after: (&str, &State)) -> String {
    let mut table = Table::default();
    table.heading(["", before.0, after.0]);
    for measure in ORDER {
        let printed = |state: &State| {
            state.get(measure).map(|n| number::measure(units, measure, &n)).unwrap_or_default()
        };
        let (was, will_be) = (printed(before.1), printed(after.1));
        if !was.is_empty() || !will_be.is_empty() {
            table.row([measure.words(), &was, &will_be]);
        }
    }
    table.print("")
}

/// Prints one state.
pub(crate) fn state(units: Units, heading: &str, state: &State) -> String {
    let mut table = Table::default();
    table.heading(["", heading]);
    for measure in ORDER {
        if let Some(number) = state.get(measure) {
            table.row([measure.words(), &number::measure(units, measure, &number)]);
        }
    }
    table.print("")
}

/// Prints each limit with the chance that it is kept.
pub(crate) fn limits(limits: &[Chance]) -> String {
    if limits.is_empty() {
        return String::new();
    }
    let mut table = Table::default();
    table.heading(["limits", "", "chance inside"]);
    for limit in limits {
        let words = Measure::from_key(&limit.limit)
            .map_or_else(|| limit.limit.clone(), |measure| measure.words().to_owned());
        let end = |end: &Option<String>| end.clone().unwrap_or_default();
        let range = format!("{} .. {}", end(&limit.low), end(&limit.high));
        let chance = limit.inside.map_or_else(|| "not known".to_owned(), number::chance);
        let style = if limit.inside.is_some_and(|inside| SURE <= inside) { PLAIN } else { BAD };
        table.cells([(&words).into(), range.trim().into(), Cell::new(chance, style)]);
    }
    format!("\n{}", table.print(""))
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_try_leads_with_power_and_says_what_is_left() {
        sample::check(
            &tried(&Setting::default(), &sample::tried()),
            expect![[r#"
                builds/ilse-heron: 1 in (25.4 mm) off the tip, nothing off the butt, held at 9 in

                  Eye protection always, tips kick back; a fitted particulate respirator, and
                  gloves for splinters. Catch the dust wet or by vacuum, never dry-sweep it or
                  use compressed air. A blank bent to its limit can shatter: face shield, nobody
                  in line. A carbon rod conducts: keep clear of power lines and out of
                  thunderstorms. Follow the maker's data sheet and local rules. Measure twice,
                  cut once.

                holds 6 % more, recovers quicker, bends a little lower down

                                          before                         after
                power                     212 g (208 … 216)              224 g (220 … 228)
                length                    7'2" (7'1 15/16" … 7'2 1/16")  7'1" (7'0 15/16" … 7'1 1/16")
                recovery                  5.10 Hz (4.95 … 5.25)          5.40 Hz (5.24 … 5.56)
                bend centre               30.5 % (30.2 … 30.8)           30.5 % (30.2 … 30.8)
                stiffness for its length  1.04 (1.03 … 1.05)             1.04 (1.03 … 1.05)
                tip angle                 66.0 deg (65.3 … 66.7)         66.0 deg (65.3 … 66.7)
                tip diameter              1.86 mm (1.81 … 1.91)          1.86 mm (1.81 … 1.91)
                weight                    not known: the weight          not known: the weight
                free length               6'5" (6'4 15/16" … 6'5 1/16")  6'4" (6'3 15/16" … 6'4 1/16")

                limits                        chance inside
                length        6'8" .. 7'0"    100 %
                tip diameter  .. 2.2 mm       over 99 %
                power         200 g .. 220 g  17 %

                left after that inside the limits, each end alone: 2 1/2 in (63.5 mm) off the tip, 4 1/2 in (114.3 mm) off the butt

                flags after that:
                above-most-power  builds/per-heron.md:12:5
                  268 g read, 8 g above the most that Per allows

                what could not be read is held against nothing; mend it first:
                builds/ada-wren.md:4:20: `purpuse` is not a key of a build: did you mean `purpose`?
            "#]],
        );
    }

    #[test]
    fn a_target_answers_with_the_cut_and_its_range() {
        let mut answer = sample::tried();
        answer.flags.clear();
        answer.advice.limits.clear();
        answer.advice.words.clear();
        answer.advice.cut_range =
            Some((Cut { tip_mm: 25.4, butt_mm: 70.0 }, Cut { tip_mm: 25.4, butt_mm: 82.0 }));
        answer.advice.cut.butt_mm = 76.2;
        answer.advice.left = Ends { tip_mm: None, butt_mm: Some(0.0) };
        sample::check(
            &tried(&Setting { units: Units::Millimetres, ..Setting::default() }, &answer),
            expect![[r#"
                builds/ilse-heron: 25.4 mm off the tip, 76.2 mm off the butt, held at 228.6 mm
                  what is measured allows 70.0 mm … 82.0 mm off the butt

                  Eye protection always, tips kick back; a fitted particulate respirator, and
                  gloves for splinters. Catch the dust wet or by vacuum, never dry-sweep it or
                  use compressed air. A blank bent to its limit can shatter: face shield, nobody
                  in line. A carbon rod conducts: keep clear of power lines and out of
                  thunderstorms. Follow the maker's data sheet and local rules. Measure twice,
                  cut once.

                                          before                  after
                power                     212 g (208 … 216)       224 g (220 … 228)
                length                    2184 mm (2183 … 2186)   2159 mm (2157 … 2161)
                recovery                  5.10 Hz (4.95 … 5.25)   5.40 Hz (5.24 … 5.56)
                bend centre               30.5 % (30.2 … 30.8)    30.5 % (30.2 … 30.8)
                stiffness for its length  1.04 (1.03 … 1.05)      1.04 (1.03 … 1.05)
                tip angle                 66.0 deg (65.3 … 66.7)  66.0 deg (65.3 … 66.7)
                tip diameter              1.86 mm (1.81 … 1.91)   1.86 mm (1.81 … 1.91)
                weight                    not known: the weight   not known: the weight
                free length               1956 mm (1954 … 1957)   1930 mm (1929 … 1932)

                left after that inside the limits, each end alone: no limit at the tip, nothing off the butt
                no flags after that

                what could not be read is held against nothing; mend it first:
                builds/ada-wren.md:4:20: `purpuse` is not a key of a build: did you mean `purpose`?
            "#]],
        );
    }
}
