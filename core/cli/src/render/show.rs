//! `show`: one record with what was worked out from it.

use std::collections::BTreeMap;

use taperbook_engine::ShowAnswer;
use taperbook_plugin::{Number, WalkStep};
use taperbook_units::{Length, Units};

use super::number::ORDER;
use super::{Setting, flags, number};
use crate::style::{CARE, Cell, FAINT, PLAIN, STRONG, Table, clean, clean_lines, paint};

/// Prints the answer to `show`.
pub(crate) fn show(setting: &Setting, answer: &ShowAnswer) -> String {
    let units = setting.units;
    let title =
        format!("{}  {}", paint(STRONG, &clean(&answer.title)), paint(FAINT, &clean(&answer.kind)));
    let mut text = format!("{title}\n{}\n", clean(&format!("{}{}", setting.prefix, answer.path)));
    if let Some(blank) = &answer.blank {
        text.push_str(&format!("blank: {}\n", clean(blank)));
    }
    if !answer.builds.is_empty() {
        text.push_str(&format!("{}\n", heading("builds of this blank")));
        text.extend(answer.builds.iter().map(|build| format!("  {}\n", clean(build))));
    }
    if !answer.bench.is_empty() {
        text.push_str(&format!("{}\n{}", heading("bench as it went"), bench(units, &answer.bench)));
    }
    if !answer.numbers.is_empty() {
        text.push_str(&format!("{}\n{}", heading("numbers"), numbers(units, &answer.numbers)));
    }
    if !answer.flags.is_empty() {
        text.push_str(&format!("{}\n{}", heading("flags"), flags::list(setting, &answer.flags)));
    }
    if !answer.problems.is_empty() {
        text.push_str(&format!("{}\n", heading("problems in how it is written")));
        for problem in &answer.problems {
            let place = format!("{}:{}:", problem.line, problem.column);
            text.push_str(&format!("  {} {}\n", paint(CARE, &place), clean(&problem.message)));
        }
    }
    text.push_str(&format!("{}\n{}", heading("as it is written"), clean_lines(&answer.text)));
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text
}

fn heading(words: &str) -> String {
    format!("\n{}", paint(FAINT, words))
}

/// Prints what the piece is now, beside what it was uncut where something came off, and then all other numbers.
fn numbers(units: Units, numbers: &BTreeMap<String, Number>) -> String {
    let is_cut = |key: &str| numbers.get(key).and_then(Number::value).is_some_and(|mm| mm != 0.0);
    let shows_uncut = is_cut("tip_cut_mm") || is_cut("butt_cut_mm");
    let mut table = Table::default();
    if shows_uncut {
        table.heading(["", "now", "uncut"]);
    }
    for measure in ORDER {
        let key = measure.json_key();
        let uncut_key = format!("uncut_{key}");
        let printed = |key: &str| {
            numbers.get(key).map(|number| number::keyed(units, key, number)).unwrap_or_default()
        };
        let is_missing = numbers.get(key).is_some_and(|number| number.value().is_none());
        let now = printed(key);
        let mut uncut = if shows_uncut { printed(&uncut_key) } else { String::new() };
        if is_missing && uncut == now {
            // The reason is said once.
            uncut.clear();
        }
        if !now.is_empty() || !uncut.is_empty() {
            table.row([measure.words(), &now, &uncut]);
        }
    }
    let is_of_a_state = |key: &str| {
        let key = key.strip_prefix("uncut_").unwrap_or(key);
        ORDER.iter().any(|measure| measure.json_key() == key)
    };
    for (key, number) in numbers.iter().filter(|(key, _)| !is_of_a_state(key)) {
        table.row([&number::words_of_key(key), &number::keyed(units, key, number)]);
    }
    table.print("  ")
}

/// Prints the items of a bench, each with what was off after it and how it compared with what was expected.
fn bench(units: Units, steps: &[WalkStep]) -> String {
    let mut table = Table::default();
    table.heading(["", "date", "", "off tip", "off butt", "length", "what"]);
    for step in steps {
        let is_item = 0 <= step.item;
        let item = if is_item { format!("{}", step.item + 1) } else { String::new() };
        let action = if is_item { step.action.as_str() } else { "" };
        let cut = |mm: f64| if mm == 0.0 { "-".to_owned() } else { units.cut(Length::from_mm(mm)) };
        let length = step.length_mm.map(|mm| units.length(Length::from_mm(mm))).unwrap_or_default();
        table.cells([
            Cell::new(item, FAINT),
            Cell::new(step.date.as_deref().unwrap_or_default(), FAINT),
            Cell::new(action, if step.action == "cut" { STRONG } else { PLAIN }),
            cut(step.tip_cut_mm).into(),
            cut(step.butt_cut_mm).into(),
            length.into(),
            step.words.as_str().into(),
        ]);
        for compared in &step.compared {
            let words = number::words_of_key(&compared.number);
            let read = number::keyed_value(units, &compared.number, compared.read);
            let expected = number::keyed(units, &compared.number, &compared.expected);
            table.under(&format!("{words} {read} read, {expected} expected from the rest"));
        }
    }
    table.print("  ")
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_build_is_shown_with_its_bench_its_numbers_and_its_text() {
        sample::check(
            &show(&Setting::default(), &sample::shown()),
            expect![[r#"
                Ilse's heron  build
                builds/ilse-heron.md
                blank: blanks/heron-704

                bench as it went
                     date              off tip  off butt  length  what
                                       -        -         7'2"    as it came
                  1              read  -        -         7'2"    power 212 g
                  2  2026-03-15  cut   1 in     -                 1 in off the tip with a rotary disc
                  3  2026-03-15  read  1 in     -         7'1"    power 224 g
                      power 224 g read, 226 g (219 … 233) expected from the rest

                numbers
                  power   224 g (218 … 231)
                  length  7'1" (7'0 15/16" … 7'1 1/16")
                  weight  not known: the weight

                flags
                above-most-power  builds/per-heron.md:12:5
                  268 g read, 8 g above the most that Per allows

                problems in how it is written
                  4:20: `purpuse` is not a key of a build: did you mean `purpose`?

                as it is written
                ---
                kind: build
                ---
                What it felt like.
            "#]],
        );
    }

    #[test]
    fn of_a_cut_build_the_uncut_numbers_stand_beside_those_of_now() {
        let mut all = sample::shown().numbers;
        all.insert("tip_cut_mm".to_owned(), Number::exact(25.4));
        all.insert("uncut_length_mm".to_owned(), Number::exact(2184.4));
        all.insert("rating".to_owned(), Number::exact(4.0));
        all.insert("uncut_weight_g".to_owned(), Number::missing("the weight"));
        // The heading keeps the indent of the table: what all lines have in common is taken off an expected text.
        sample::check(
            &format!("numbers\n{}", numbers(Units::Inches, &all)),
            expect![[r#"
                numbers
                           now                            uncut
                  power    224 g (218 … 231)
                  length   7'1" (7'0 15/16" … 7'1 1/16")  7'2"
                  weight   not known: the weight
                  rating   4
                  tip cut  1 in
            "#]],
        );
    }

    #[test]
    fn a_plain_note_is_shown_with_its_text_alone() {
        let mut note = sample::shown();
        (note.kind, note.title, note.path) =
            ("note".to_owned(), "Dust".to_owned(), "notes/dust.md".to_owned());
        (note.blank, note.text) = (None, "# Dust\n\tWet, always.".to_owned());
        note.numbers.clear();
        note.bench.clear();
        note.flags.clear();
        note.problems.clear();
        sample::check(
            &show(&Setting::default(), &note),
            expect![[r#"
            Dust  note
            notes/dust.md

            as it is written
            # Dust
                Wet, always.
        "#]],
        );
    }

    #[test]
    fn a_card_names_its_builds() {
        let mut card = sample::shown();
        card.builds = vec!["builds/ilse-heron".to_owned(), "builds/per-heron".to_owned()];
        card.blank = None;
        card.bench.clear();
        card.text.clear();
        let shown = anstream::adapter::strip_str(&show(&Setting::default(), &card)).to_string();
        assert!(
            shown.contains("builds of this blank\n  builds/ilse-heron\n  builds/per-heron\n"),
            "{shown}"
        );
    }
}
