//! `explain`: what a flag means, or where the numbers of a record come from.

use taperbook_engine::FlagExplanation;
use taperbook_plugin::ExplainAdvice;

use crate::style::{BAD, FAINT, STRONG, clean_lines, paint, wrapped};

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
pub(crate) fn record(advice: &ExplainAdvice) -> String {
    let mut text = format!("{}\n", paint(STRONG, &clean_lines(&advice.record)));
    for words in &advice.words {
        text.push_str(&wrapped(&clean_lines(words), "  "));
    }
    text
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

    #[test]
    fn a_record_is_explained_line_by_line() {
        let advice = ExplainAdvice {
            record: "builds/ilse-heron".to_owned(),
            number: None,
            words: vec![
                "power: read on the piece as it now is".to_owned(),
                "weight: from 7 past builds of heron-704 and one weight of this piece".to_owned(),
            ],
        };
        sample::check(
            &record(&advice),
            expect![[r#"
            builds/ilse-heron
              power: read on the piece as it now is
              weight: from 7 past builds of heron-704 and one weight of this piece
        "#]],
        );
    }
}
