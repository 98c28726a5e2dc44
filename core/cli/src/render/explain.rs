//! `explain`: what a flag means, or where the numbers of a record come from.

use taperbook_engine::FlagExplanation;
use taperbook_plugin::{ExplainAdvice, PastForecast};
use taperbook_units::Units;

use super::number;
use crate::style::{BAD, CARE, Cell, FAINT, PLAIN, STRONG, Table, clean_lines, paint, wrapped};

/// Prints what a flag means.
pub(crate) fn flag(explanation: &FlagExplanation) -> String {
    let mut text = format!("{}\n", paint(BAD, &clean_lines(&explanation.flag)));
    for (heading, words) in [
        ("finds", &explanation.finds),
        ("why", &explanation.why),
        ("example", &explanation.example),
    ] {
        text.push_str(&format!(
            "\n{}\n{}",
            paint(FAINT, heading),
            wrapped(&clean_lines(words), "  ")
        ));
    }
    text
}

/// Prints where the numbers of a record come from.
pub(crate) fn record(units: Units, advice: &ExplainAdvice) -> String {
    let mut text = format!("{}\n", paint(STRONG, &clean_lines(&advice.record)));
    for words in &advice.words {
        text.push_str(&wrapped(&clean_lines(words), "  "));
    }
    if !advice.forecasts.is_empty() {
        text.push('\n');
        text.push_str(&wrapped(
            "the first power of each piece, and what its board was expected to show by what was known before it came:",
            "  ",
        ));
        text.push_str(&forecasts(units, &advice.forecasts));
    }
    text
}

/// Prints what was expected of each piece beside the first power read of it.
fn forecasts(units: Units, forecasts: &[PastForecast]) -> String {
    let mut table = Table::default();
    table.heading(["piece", "came", "builds before", "expected", "read", "off by", ""]);
    for one in forecasts {
        let (outside, style) = match one.inside {
            true => ("", PLAIN),
            false => ("outside the range", CARE),
        };
        table.cells([
            Cell::new(&one.record, STRONG),
            one.date.clone().unwrap_or_default().into(),
            one.n_before.to_string().into(),
            number::keyed(units, "power_g", &one.expected_g).into(),
            number::keyed_value(units, "power_g", one.read_g).into(),
            format!("{:+.1} %", one.miss_pct).into(),
            Cell::new(outside, style),
        ]);
    }
    table.print("  ")
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_flag_is_explained_by_what_it_finds_why_and_an_example() {
        let explanation = FlagExplanation {
            flag: "below-shortest-length".to_owned(),
            finds: "The blank is shorter than the shortest length that the customer allows.".to_owned(),
            why: "What is cut off cannot be put back, so the customer must be asked before anything else is done."
                .to_owned(),
            example: "limits 6'8\" .. 7'0\", and the length reads 6'7 1/2\"".to_owned(),
        };
        sample::check(
            &flag(&explanation),
            expect![[r#"
            below-shortest-length

            finds
              The blank is shorter than the shortest length that the customer allows.

            why
              What is cut off cannot be put back, so the customer must be asked before
              anything else is done.

            example
              limits 6'8" .. 7'0", and the length reads 6'7 1/2"
        "#]],
        );
    }

    fn forecast(record: &str, read_g: f64, inside: bool) -> PastForecast {
        PastForecast {
            record: record.to_owned(),
            date: Some("2025-03-14".to_owned()),
            n_before: 2,
            expected_g: taperbook_plugin::Number::Known { value: 205.0, low: 185.0, high: 225.0 },
            read_g,
            miss_pct: 100.0 * (read_g / 205.0 - 1.0),
            inside,
        }
    }

    #[test]
    fn a_record_is_explained_line_by_line() {
        let advice = ExplainAdvice {
            record: "builds/ilse-heron".to_owned(),
            number: None,
            forecasts: vec![
                forecast("builds/ada-heron", 198.0, true),
                forecast("builds/per-heron", 251.0, false),
            ],
            words: vec![
                "power: read on the piece as it now is".to_owned(),
                "weight: from 7 past builds of heron-704 and one weight of this piece".to_owned(),
            ],
        };
        sample::check(
            &record(Units::Inches, &advice),
            expect![[r#"
                builds/ilse-heron
                  power: read on the piece as it now is
                  weight: from 7 past builds of heron-704 and one weight of this piece

                  the first power of each piece, and what its board was expected to show by what
                  was known before it came:
                  piece             came        builds before  expected           read   off by
                  builds/ada-heron  2025-03-14  2              205 g (185 … 225)  198 g  -3.4 %
                  builds/per-heron  2025-03-14  2              205 g (185 … 225)  251 g  +22.4 %  outside the range
            "#]],
        );
    }
}
