//! `find`: the hits, each with the numbers that matter and the words that matched.

use taperbook_engine::{FindAnswer, HitAnswer};
use taperbook_plugin::Number;
use taperbook_units::Units;

use super::{counted, number};
use crate::style::{BAD, CARE, FAINT, STRONG, clean, paint};

/// The numbers of a hit that are shown: what it is now.
const NOW: [&str; 2] = ["length_mm", "power_g"];
/// What came off.
const CUTS: [&str; 2] = ["tip_cut_mm", "butt_cut_mm"];

/// Prints the answer to `find`.
pub(crate) fn find(units: Units, answer: &FindAnswer) -> String {
    let mut text: String = answer.hits.iter().map(|hit| self::hit(units, hit) + "\n").collect();
    let shown = match answer.hits.len() {
        n_shown if n_shown < answer.total => {
            format!(", the first {n_shown} shown (`--limit` shows more)")
        }
        _ => String::new(),
    };
    text.push_str(&format!(
        "{} found{shown} in {:.1} ms\n",
        counted(answer.total, "record"),
        answer.took_ms
    ));
    if answer.unread > 0 {
        let unread = counted(answer.unread, "file");
        let words = format!("about {unread} still to be read: what they say is not found yet");
        text.push_str(&format!("{}\n", paint(CARE, &words)));
    }
    if answer.pending > 0 {
        let pending = counted(answer.pending, "record");
        let words = format!(
            "{pending} still to be worked out: a question about numbers or flags may miss some"
        );
        text.push_str(&format!("{}\n", paint(CARE, &words)));
    }
    text
}

fn hit(units: Units, hit: &HitAnswer) -> String {
    let title =
        if hit.title.is_empty() { String::new() } else { format!("  {}", clean(&hit.title)) };
    let mut text = format!(
        "{}{title}  {}\n",
        paint(STRONG, &clean(&hit.record)),
        paint(FAINT, &format!("({})", clean(&hit.kind)))
    );
    let mut numbers: Vec<String> = Vec::new();
    for key in NOW {
        // In a list of hits what is missing is only noise; `show` says what to measure.
        if let Some(number @ Number::Known { .. }) = hit.numbers.get(key) {
            numbers.push(format!(
                "{} {}",
                number::words_of_key(key),
                number::keyed(units, key, number)
            ));
        }
    }
    let cuts: Vec<(&str, f64)> =
        CUTS.into_iter().filter_map(|key| Some((key, hit.numbers.get(key)?.value()?))).collect();
    if !cuts.is_empty() && cuts.iter().all(|(_, mm)| *mm == 0.0) {
        numbers.push("uncut".to_owned());
    }
    for (key, mm) in cuts.into_iter().filter(|(_, mm)| *mm != 0.0) {
        numbers.push(format!(
            "{} {}",
            number::words_of_key(key),
            number::keyed_value(units, key, mm)
        ));
    }
    if !numbers.is_empty() {
        text.push_str(&format!("  {}\n", numbers.join(", ")));
    }
    let snippet = marked(&hit.snippet, &hit.marks);
    if !snippet.trim().is_empty() {
        text.push_str(&format!("  {}\n", snippet.trim()));
    }
    for flag in &hit.flags {
        text.push_str(&format!("  flag: {}\n", paint(BAD, &clean(flag))));
    }
    text
}

/// Prints a snippet with the words that matched in bold; marks that don't fit the text are passed over.
fn marked(snippet: &str, marks: &[(usize, usize)]) -> String {
    let mut text = String::new();
    let mut done = 0;
    for &(start, end) in marks {
        let (Some(before), Some(word)) = (snippet.get(done..start), snippet.get(start..end)) else {
            continue;
        };
        text.push_str(&clean(before));
        text.push_str(&paint(STRONG, &clean(word)));
        done = end;
    }
    text + &clean(&snippet[done..])
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use super::*;
    use crate::render::sample;

    #[test]
    fn a_hit_has_its_title_its_numbers_its_words_and_its_flags() {
        sample::check(
            &find(Units::Inches, &sample::found()),
            expect![[r#"
                builds/ilse-heron  Ilse's heron  (build)
                  length 7'1" (7'0 15/16" … 7'1 1/16"), power 224 g (218 … 231), tip cut 1 in
                  small spoons for sea trout from the rocks
                  flag: above-most-power

                notes/dust  Dust  (note)

                41 records found, the first 2 shown (`--limit` shows more) in 0.8 ms
            "#]],
        );
    }

    #[test]
    fn nothing_found_is_said() {
        let nothing =
            FindAnswer { total: 0, took_ms: 0.04, unread: 400, pending: 3, hits: Vec::new() };
        sample::check(
            &find(Units::Inches, &nothing),
            expect![[r#"
            0 records found in 0.0 ms
            about 400 files still to be read: what they say is not found yet
            3 records still to be worked out: a question about numbers or flags may miss some
        "#]],
        );
    }

    #[test]
    fn matched_words_are_bold_and_marks_that_do_not_fit_do_no_harm() {
        let bold = |word| paint(STRONG, word);
        assert_eq!(
            marked("für Søren", &[(0, 4), (5, 11)]),
            format!("{} {}", bold("für"), bold("Søren"))
        );
        assert_eq!(marked("für", &[(2, 3), (1, 99), (3, 1)]), "für");
        assert_eq!(marked("a\u{1b}b", &[(1, 2)]), format!("a{}b", bold("\u{fffd}")));
    }
}
