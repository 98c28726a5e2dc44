//! `suggest`: the next cut, why, and which past builds say so.

use taperbook_plugin::{Evidence, SuggestAdvice};
use taperbook_units::{Length, Units};

use super::{number, safety, tried};
use crate::style::{CARE, Cell, GOOD, STRONG, Table, clean, paint, wrapped};

/// Prints the answer to `suggest`.
pub(crate) fn suggest(units: Units, advice: &SuggestAdvice) -> String {
    let record = paint(STRONG, &clean(&advice.record));
    let mut text = String::new();
    match (&advice.next_cut, &advice.why_stop, &advice.measure_next) {
        (Some(cut), _, _) => {
            text.push_str(&format!("{}\n", safety::cautions()));
            let words = paint(GOOD, &tried::cut_words(*cut, |mm| number::cut_at_most(units, mm)));
            text.push_str(&format!("{record}: next cut {words}\n"));
        }
        (None, Some(why), _) => {
            text.push_str(&format!("{record}: {}\n", paint(STRONG, "stop here")));
            text.push_str(&wrapped(&clean(why), "  "));
        }
        (None, None, Some(reading)) => {
            text.push_str(&format!("{record}: {}\n", paint(CARE, "measure before any cut")));
            text.push_str(&wrapped(&clean(reading), "  "));
        }
        (None, None, None) => {
            text.push_str(&format!("{record}: no next cut, and no reason was given\n"))
        }
    }
    for words in &advice.words {
        text.push_str(&wrapped(&clean(words), "  "));
    }
    text.push('\n');
    if advice.remaining.tip_mm != 0.0 || advice.remaining.butt_mm != 0.0 {
        text.push_str(&format!(
            "to the aim, in all: {}\n",
            tried::cut_words(advice.remaining, |mm| number::cut_both(units, mm))
        ));
    }
    text.push_str(&tried::left("inside the limits, each end alone", units, advice.left));
    if let Some(chance) = advice.chance_inside_limits {
        text.push_str(&format!(
            "chance inside all limits at the aim: {}\n",
            number::chance(chance)
        ));
    }
    let heading = if advice.next_cut.is_some() { "after this cut" } else { "as it is" };
    text.push_str(&format!("\n{}", tried::state(units, heading, &advice.expected)));
    if advice.next_cut.is_some() || !advice.evidence.is_empty() {
        text.push_str(&evidence(units, &advice.evidence));
    }
    if let Some(query) = &advice.evidence_query {
        // A quote in the name of a record would end the shell's quotes.
        let query = clean(query).replace('\'', "'\\''");
        text.push_str(&format!("to open them: taperbook find '{query}'\n"));
    }
    if let (Some(reading), true) =
        (&advice.measure_next, advice.next_cut.is_some() || advice.why_stop.is_some())
    {
        text.push_str(&format!("\n{} {}\n", paint(CARE, "measure next:"), clean(reading)));
    }
    text
}

/// Prints the past builds that moved the answer, the weightiest first.
fn evidence(units: Units, evidence: &[Evidence]) -> String {
    if evidence.is_empty() {
        return "\nno past build of this blank moved the answer\n".to_owned();
    }
    let mut sorted: Vec<&Evidence> = evidence.iter().collect();
    sorted.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let mut table = Table::default();
    table.heading(["past build", "weight", "off tip", "off butt", "rating", "missed by"]);
    for build in sorted {
        let cut = |mm: f64| units.cut(Length::from_mm(mm));
        table.cells([
            Cell::new(&build.record, STRONG),
            number::chance(build.weight).into(),
            cut(build.tip_cut_mm).into(),
            cut(build.butt_cut_mm).into(),
            build.rating.map(|rating| format!("{rating} of 5")).unwrap_or_default().into(),
            build.miss_pct.map(|miss| format!("{miss:+.1} %")).unwrap_or_default().into(),
        ]);
        if let Some(words) = &build.words {
            table.under(&format!("“{}”", words.trim()));
        }
    }
    format!("\n{}", table.print(""))
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_suggestion_gives_the_cut_in_both_units_and_its_evidence() {
        sample::check(
            &suggest(Units::Inches, &sample::suggestion()),
            expect![[r#"
                  Eye protection always, tips kick back; a fitted particulate respirator, and
                  gloves for splinters. Catch the dust wet or by vacuum, never dry-sweep it or
                  use compressed air. A blank bent to its limit can shatter: face shield, nobody
                  in line. A carbon rod conducts: keep clear of power lines and out of
                  thunderstorms. Follow the maker's data sheet and local rules. Measure twice,
                  cut once.

                builds/ilse-heron: next cut 1/2 in (12.7 mm) off the tip, nothing off the butt
                  half of what is sure to be needed comes off the tip first

                to the aim, in all: 1 in (25.4 mm) off the tip, 3 in (76.2 mm) off the butt
                inside the limits, each end alone: 2 1/2 in (63.5 mm) off the tip, no limit at the butt
                chance inside all limits at the aim: 93 %

                                          after this cut
                power                     218 g (214 … 222)
                length                    7'1 1/2" (7'1 7/16" … 7'1 9/16")
                recovery                  5.20 Hz (5.04 … 5.36)
                bend centre               30.5 % (30.2 … 30.8)
                stiffness for its length  1.04 (1.03 … 1.05)
                tip angle                 66.0 deg (65.3 … 66.7)
                tip diameter              1.86 mm (1.81 … 1.91)
                weight                    not known: the weight
                free length               6'4 1/2" (6'4 7/16" … 6'4 9/16")

                past build        weight  off tip  off butt  rating  missed by
                builds/ada-heron  80 %    1 in     3 in      5 of 5  -1.3 %
                    “loads early, still throws the small spoons straight into the wind”
                builds/per-heron  20 %    1 in     3 in
                to open them: taperbook find 'record:builds/ada-heron or record:builds/per-heron'

                measure next: read the power again after this cut
            "#]],
        );
    }

    #[test]
    fn a_cut_without_past_builds_says_that_there_are_none() {
        let mut advice = sample::suggestion();
        advice.evidence.clear();
        let text = suggest(Units::Inches, &advice);
        assert!(text.contains("\nno past build of this blank moved the answer\n"), "{text}");
    }

    #[test]
    fn a_stop_gives_its_reason_and_no_cautions() {
        let mut advice = sample::suggestion();
        advice.next_cut = None;
        advice.why_stop = Some("the aim is reached: 235 g lies inside what is sure".to_owned());
        advice.evidence.clear();
        advice.words.clear();
        advice.remaining = taperbook_plugin::Cut::default();
        sample::check(
            &suggest(Units::Inches, &advice),
            expect![[r#"
                builds/ilse-heron: stop here
                  the aim is reached: 235 g lies inside what is sure

                inside the limits, each end alone: 2 1/2 in (63.5 mm) off the tip, no limit at the butt
                chance inside all limits at the aim: 93 %

                                          as it is
                power                     218 g (214 … 222)
                length                    7'1 1/2" (7'1 7/16" … 7'1 9/16")
                recovery                  5.20 Hz (5.04 … 5.36)
                bend centre               30.5 % (30.2 … 30.8)
                stiffness for its length  1.04 (1.03 … 1.05)
                tip angle                 66.0 deg (65.3 … 66.7)
                tip diameter              1.86 mm (1.81 … 1.91)
                weight                    not known: the weight
                free length               6'4 1/2" (6'4 7/16" … 6'4 9/16")
                to open them: taperbook find 'record:builds/ada-heron or record:builds/per-heron'

                measure next: read the power again after this cut
            "#]],
        );
    }

    #[test]
    fn without_a_reading_it_asks_for_one_before_any_cut() {
        let mut advice = sample::suggestion();
        advice.next_cut = None;
        advice.evidence.clear();
        advice.words.clear();
        sample::check(
            &suggest(Units::Millimetres, &advice),
            expect![[r#"
                builds/ilse-heron: measure before any cut
                  read the power again after this cut

                to the aim, in all: 25.4 mm off the tip, 76.2 mm off the butt
                inside the limits, each end alone: 63.5 mm off the tip, no limit at the butt
                chance inside all limits at the aim: 93 %

                                          as it is
                power                     218 g (214 … 222)
                length                    2172 mm (2170 … 2173)
                recovery                  5.20 Hz (5.04 … 5.36)
                bend centre               30.5 % (30.2 … 30.8)
                stiffness for its length  1.04 (1.03 … 1.05)
                tip angle                 66.0 deg (65.3 … 66.7)
                tip diameter              1.86 mm (1.81 … 1.91)
                weight                    not known: the weight
                free length               1943 mm (1942 … 1945)
                to open them: taperbook find 'record:builds/ada-heron or record:builds/per-heron'
            "#]],
        );
    }
}
