//! A build: the piece as it is in pictures and numbers, and its bench as a time line.

use maud::{Markup, html};
use taperbook_engine::{Answer, FlagAnswer, Request, ShowAnswer};
use taperbook_plugin::print::{ORDER, keyed, keyed_value};
use taperbook_plugin::{BendAdvice, Compared, Number, WalkStep};
use taperbook_units::Units;

use crate::limits::limits;
use crate::print::{self, Unknown};
use crate::site::Look;
use crate::streamed::Later;

/// What is worked out for the page of a build: how it lies, how it bends, and how its bench went.
pub(crate) fn worked_out(look: &Look, shown: &ShowAnswer, later: &mut Later) -> Markup {
    let units = look.seen.units;
    let record = || shown.record.clone();
    let marks = Request::Marks { record: record(), tip_mm: 0.0, butt_mm: 0.0, held_at_mm: None };
    let bend = Request::Bend { record: record(), tip_mm: 0.0, butt_mm: 0.0, held_at_mm: None };
    html! {
        (later.ask(look, vec![marks], move |answers| marked(units, answers)))
        (later.ask(look, vec![bend], move |answers| match answers {
            [Answer::Bend(bend)] => bent(units, bend),
            answers => print::not_yet("its bend", answers.first()),
        }))
        h2 { "On the bench" }
        (later.ask(look, vec![Request::Show { record: record() }], move |answers| match answers {
            [Answer::Show(shown)] => time_line(units, shown),
            answers => print::not_yet("its bench", answers.first()),
        }))
    }
}

/// The drawing of a piece as it lies.
pub(crate) fn marked(units: Units, answers: &[Answer]) -> Markup {
    match answers {
        [Answer::Marks(marks)] => {
            print::drawings(|paper| taperbook_draw::blank_on(marks, &[], units, paper))
        }
        answers => print::not_yet("the blank", answers.first()),
    }
}

/// The drawing of a bend.
pub(crate) fn bent(units: Units, bend: &BendAdvice) -> Markup {
    print::drawings(|paper| taperbook_draw::bend(bend, units, paper))
}

/// The numbers of the piece as it is, each beside what is allowed.
pub(crate) fn numbers(units: Units, shown: &ShowAnswer) -> Markup {
    let limits = limits(shown);
    let known = ORDER.into_iter().map(|measure| measure.json_key());
    let limit_of = |key: &str| limits.iter().find(|limit| limit.key == key);
    let mut unknown = Unknown::default();
    let rows: Vec<(&str, &Number)> = known
        .filter_map(|key| Some((key, shown.numbers.get(key)?)))
        .filter(|(key, number)| limit_of(key).is_some() || !unknown.takes(key, Some(number)))
        .collect();
    html! {
        @if !rows.is_empty() || !unknown.is_empty() { h2 { "As it is" } }
        @if !rows.is_empty() {
            table.numbers {
                @for (key, number) in rows {
                    @let limit = limit_of(key);
                    tr {
                        th scope="row" { (print::name(key)) }
                        td { (print::number(units, key, number)) }
                        td.allowed {
                            @if let Some(limit) = limit {
                                (limit.bar(Some(number)))
                                span { "allowed " (limit.allowed(units)) }
                            }
                        }
                    }
                }
            }
        }
        (unknown)
    }
}

/// The bench from the uncut blank to now.
fn time_line(units: Units, shown: &ShowAnswer) -> Markup {
    let places = item_lines(shown);
    html! {
        ol.line {
            @for step in &shown.bench {
                li class={ "step " (step.action) } {
                    (step_line(units, step))
                    @for flag in flags_of(step, &places, &shown.flags) { (print::flag(flag, false)) }
                }
            }
        }
        @if shown.bench.len() < 2 { p { "Nothing was read or cut so far." } }
    }
}

fn step_line(units: Units, step: &WalkStep) -> Markup {
    let lengths = [("off the tip", step.tip_cut_mm), ("off the butt", step.butt_cut_mm)];
    let cuts: Vec<String> = lengths
        .into_iter()
        .filter(|(_, mm)| 0.0 < *mm && step.action == "cut")
        .map(|(words, mm)| format!("{} {words} by now", keyed_value(units, "cut_mm", mm)))
        .collect();
    html! {
        p {
            @if step.action != "uncut" { strong { (step.action) } " " }
            (step.words)
            @if let Some(date) = &step.date { " " time datetime=(date) { (date) } }
        }
        @if !cuts.is_empty() {
            p.meta {
                (cuts.join(", "))
                @if let Some(length) = step.length_mm { ", " (keyed_value(units, "length_mm", length)) " long" }
            }
        }
        @if !step.compared.is_empty() {
            ul.compared { @for compared in &step.compared { li { (compared_line(units, compared)) } } }
        }
    }
}

/// What was read beside what all else led to expect.
fn compared_line(units: Units, compared: &Compared) -> Markup {
    let key = compared.number.as_str();
    let bar = taperbook_draw::Bar {
        known: compared.expected.known(),
        allowed: (None, None),
        read: Some(compared.read),
    };
    html! {
        (print::name(key)) " read " b { (keyed_value(units, key, compared.read)) }
        @match &compared.expected {
            Number::Known { .. } => { ", expected " (keyed(units, key, &compared.expected)) },
            Number::Missing { .. } => {},
        }
        @if compared.expected.known().is_some() { (maud::PreEscaped(taperbook_draw::bar(&bar))) }
    }
}

/// The first and the last line of each item of the bench.
fn item_lines(shown: &ShowAnswer) -> Vec<(u32, u32)> {
    let parsed = taperbook_record::read(&shown.path, shown.text.as_bytes());
    let line = |at: usize| {
        let before = shown.text.as_bytes().iter().take(at);
        u32::try_from(before.filter(|byte| **byte == b'\n').count() + 1).unwrap_or(u32::MAX)
    };
    let bench = parsed.record.build().map_or(&[][..], |build| &build.bench);
    bench.iter().map(|item| (line(item.span.start), line(item.span.end))).collect()
}

/// The flags that arose in a step.
fn flags_of<'a>(
    step: &'a WalkStep,
    places: &'a [(u32, u32)],
    flags: &'a [FlagAnswer],
) -> impl Iterator<Item = &'a FlagAnswer> {
    let place = usize::try_from(step.item).ok().and_then(|item| places.get(item)).copied();
    flags
        .iter()
        .filter(move |flag| place.is_some_and(|(from, to)| from <= flag.line && flag.line <= to))
}
