//! Small pieces that several pages print: numbers with their range, flags, problems, drawings.

use maud::{Markup, PreEscaped, Render, html};
use taperbook_draw::Paper;
use taperbook_engine::{Answer, FlagAnswer, ProblemAnswer, Refusal, ShowAnswer};
use taperbook_plugin::Number;
use taperbook_plugin::print::{CAUTIONS, keyed, keyed_value, words_of_key};
use taperbook_units::Units;

use crate::Behind;
use crate::site::{address, in_query};

/// A number with its range, or what is missing to know it.
pub(crate) fn number(units: Units, key: &str, number: &Number) -> Markup {
    match number {
        Number::Missing { missing } => html! { span.missing { (words(missing)) } },
        Number::Known { value, low, high } if low == high => {
            html! { b { (keyed_value(units, key, *value)) } }
        }
        known @ Number::Known { value, .. } => {
            let whole = keyed(units, key, known);
            let best = keyed_value(units, key, *value);
            match whole.strip_prefix(&best) {
                Some(range) => html! { b { (best) } span.range { (range) } },
                None => html! { b { (whole) } },
            }
        }
    }
}

/// What is not known, gathered by what it lacks, so that each reason is told once.
#[derive(Default)]
pub(crate) struct Unknown {
    reasons: Vec<(String, Vec<String>)>,
}

impl Unknown {
    /// Takes a number that is missing; `false` when it is not.
    pub(crate) fn takes(&mut self, key: &str, number: Option<&Number>) -> bool {
        let Some(Number::Missing { missing }) = number else { return false };
        let name = words_of_key(key);
        match self.reasons.iter_mut().find(|(reason, _)| reason == missing) {
            Some((_, names)) => names.push(name),
            None => self.reasons.push((missing.clone(), vec![name])),
        }
        true
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.reasons.is_empty()
    }
}

impl Render for Unknown {
    fn render(&self) -> Markup {
        html! {
            @for (reason, names) in &self.reasons {
                p.missing { "Not known yet: " (listed(names)) ". " (sentence(reason)) }
            }
        }
    }
}

/// Names as they are said: `length, power and weight`.
fn listed(names: &[String]) -> String {
    match names {
        [first @ .., last] if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        names => names.concat(),
    }
}

/// A fragment as a sentence.
fn sentence(fragment: &str) -> Markup {
    let mut letters = fragment.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    words(&format!("{}.", first.chain(letters).collect::<String>()))
}

/// Why there is no answer, told at once to who listens to the page.
pub(crate) fn fault(message: &str) -> Markup {
    html! { p.fault role="alert" { (words(message)) } }
}

/// Why what was asked for is not here.
pub(crate) fn no_answer(answer: Option<&Answer>) -> Markup {
    match answer {
        Some(Answer::Refused(refusal)) => fault(&refusal.message),
        _ => fault("the engine answered another question"),
    }
}

/// Which record a page is about, and the way back to it.
pub(crate) fn of_record(shown: &ShowAnswer) -> Markup {
    html! {
        p.meta { a href=(address("record", &shown.record)) { (shown.title) } " " (shown.path) }
    }
}

/// A message, with what it quotes set as what is typed.
pub(crate) fn words(message: &str) -> Markup {
    let mut parts: Vec<&str> = message.split('`').collect();
    if parts.len().is_multiple_of(2) {
        // A mark without its other one is a mark.
        parts = vec![message];
    }
    html! {
        @for (part_idx, part) in parts.iter().enumerate() {
            @if part_idx.is_multiple_of(2) { (part) } @else { code { (part) } }
        }
    }
}

/// The name of a number in words, the first letter large.
pub(crate) fn name(key: &str) -> String {
    let words = words_of_key(key);
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A drawing for a wide sheet and one for a small screen, of which one is shown.
pub(crate) fn drawings(draw: impl Fn(Paper) -> String) -> Markup {
    let drawing = |paper| PreEscaped(taperbook_draw::inline(&draw(paper)));
    html! {
        figure {
            div.wide { (drawing(Paper::Wide)) }
            div.narrow { (drawing(Paper::Narrow)) }
        }
    }
}

/// What can't be drawn or worked out yet, and why.
pub(crate) fn not_yet(what: &str, answer: Option<&Answer>) -> Markup {
    match answer {
        Some(Answer::Refused(refusal)) => {
            html! { p.missing { (what) " can't be shown: " (words(&refusal.message)) } }
        }
        _ => html! {},
    }
}

/// What is not in a page yet; it is fetched anew when there is more.
pub(crate) fn behind(behind: Behind) -> Markup {
    let Behind { n_unread, n_pending } = behind;
    html! {
        div data-live="behind" {
            @if n_unread != 0 {
                p.missing { (n_unread) (if n_unread == 1 { " file is" } else { " files are" }) " still to be read: what is written there is not in here yet." }
            }
            @if n_pending != 0 {
                p.missing { (n_pending) (if n_pending == 1 { " record is" } else { " records are" }) " still to be worked out: numbers and flags may be missing, or be those from before." }
            }
        }
    }
}

/// The cautions, which stand before every tried and every suggested cut.
pub(crate) fn cautions() -> Markup {
    html! { p.cautions role="note" { (CAUTIONS) } }
}

/// A flag, with its place.
pub(crate) fn flag(flag: &FlagAnswer, with_record: bool) -> Markup {
    html! {
        p.fault {
            a.flag href={ "/flags?only=" (in_query(&flag.flag)) } { (flag.flag) } " "
            @if with_record {
                a href=(address("record", &flag.record)) { (flag.record) } " "
            }
            span.place { "line " (flag.line) ", column " (flag.column) }
            br;
            (words(&flag.message))
        }
    }
}

/// A problem, with its place.
pub(crate) fn problem(problem: &ProblemAnswer, with_record: bool) -> Markup {
    html! {
        p.fault {
            strong { "problem" } " "
            @if with_record {
                a href=(address("record", &problem.record)) { (problem.path) } " "
            }
            span.place { "line " (problem.line) ", column " (problem.column) }
            br;
            (words(&problem.message))
        }
    }
}

/// Why a query means nothing, with a caret under its place.
pub(crate) fn refused(refusal: &Refusal, query: &str) -> Markup {
    let caret = refusal.at.and_then(|(start, end)| {
        let before = query.get(..start)?.chars().count();
        let wide = query.get(start..end).map_or(1, |marked| marked.chars().count().max(1));
        Some(format!("{query}\n{}{}", " ".repeat(before), "^".repeat(wide)))
    });
    html! {
        div.fault role="alert" {
            @if let Some(caret) = caret { pre.caret { (caret) } }
            p { (words(&refusal.message)) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lacks_the_same_is_told_once() {
        let missing = |why: &str| Number::Missing { missing: why.to_owned() };
        let mut unknown = Unknown::default();
        assert!(!unknown.takes("length_mm", Some(&Number::exact(1.0))) && unknown.is_empty());
        for key in ["power_g", "recovery_hz", "tip_angle_deg"] {
            assert!(unknown.takes(key, Some(&missing("write `held_at: 9 in`"))));
        }
        assert!(unknown.takes("weight_g", Some(&missing("weigh it"))));
        let html = unknown.render().into_string();
        assert_eq!(
            html,
            "<p class=\"missing\">Not known yet: power, recovery and tip angle. Write <code>held_at: 9 in</code>.</p>\
             <p class=\"missing\">Not known yet: weight. Weigh it.</p>"
        );
    }

    #[test]
    fn what_a_message_quotes_is_set_apart_and_still_text() {
        let printed = |message| words(message).into_string();
        assert_eq!(printed("`<7` has no unit"), "<code>&lt;7</code> has no unit");
        assert_eq!(printed("a ` alone"), "a ` alone");
        assert_eq!(printed(""), "");
    }
}
