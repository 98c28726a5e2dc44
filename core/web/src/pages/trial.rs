//! A try: what further cuts would give, before the saw. Nothing is written by it.

use axum::extract::{Path, Query, State};
use axum::response::Response;
use maud::{Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, Request, ShowAnswer, TryAnswer, TryTarget};
use taperbook_plugin::print::{ORDER, chance, cut_at_most, measure};
use taperbook_plugin::{Number, State as Piece};
use taperbook_record::Measure;
use taperbook_units::Units;

use crate::Want;
use crate::limits::{Limit, limits};
use crate::pages::ends::{Ends, Typed};
use crate::pages::{bench, build, fittings};
use crate::print::{self, Unknown};
use crate::site::{Sheet, Site, Trouble, Visit, address};
use crate::streamed::Later;

/// How much of the page is wanted.
#[derive(Deserialize)]
pub(crate) struct Wanted {
    /// Only what was worked out is wanted, and not the sheet around it.
    #[serde(default)]
    part: bool,
}

/// Shows what the cuts would give.
pub(crate) async fn trial(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
    Query(typed): Query<Typed>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Trouble> {
    let ends = typed.ends();
    let (tip_mm, butt_mm) = ends.as_ref().map_or((0.0, 0.0), Ends::mm);
    let look = site.look(&visit, Want::Records).await?;
    let units = look.seen.units;
    let shown = look.read(id).await?;
    let record = || shown.record.clone();
    let target = TryTarget { tip_mm: Some(tip_mm), butt_mm: Some(butt_mm), ..Default::default() };
    let questions = vec![
        Request::Try { record: record(), target, held_at_mm: None },
        Request::Bend { record: record(), tip_mm, butt_mm, held_at_mm: None },
        Request::Marks { record: record(), tip_mm, butt_mm, held_at_mm: None },
    ];
    let title = format!("Try a cut of {}", shown.title);
    let head = html! {
        h1 { "Try a cut" }
        (print::of_record(&shown))
        (print::cautions())
        (form(units, &shown, &typed))
    };
    let mut later = Later::default();
    let tried = match ends {
        Err(message) => print::fault(&message),
        Ok(ends) => {
            let item = ends.item(&site.shop.today());
            let writes = Writes { shown, item, typed, has_pen: visit.has_pen };
            later.ask(&look, questions, move |answers| tried(units, answers, &writes))
        }
    };
    if wanted.part {
        return Ok(later.page(&tried.into_string()));
    }
    let body = html! { (head) div #tried data-live="tried" aria-live="polite" { (tried) } };
    Ok(Sheet { title: &title, query: "", seen: look.seen }.streamed(&visit, &body, later))
}

/// The cuts, to be typed, or moved where there is a script.
fn form(units: Units, shown: &ShowAnswer, typed: &Typed) -> Markup {
    let length_mm = shown.numbers.get("length_mm").and_then(Number::value).unwrap_or(2000.0);
    // Half of the blank at one end is more than anybody cuts; the field takes any length.
    let (step_mm, word) = match units {
        Units::Inches => (25.4 / 16.0, "in"),
        Units::Millimetres => (0.5, "mm"),
    };
    let most = (length_mm / 2.0 / step_mm).floor();
    let end = |name: &str, words: &str, value: &str, example: &str| {
        let label = format!("move the {name} cut");
        html! {
            div.end {
                label for=(name) { (words) }
                input id=(name) name=(name) value=(value) autocomplete="off" placeholder=(example);
                input.slide type="range" min="0" max=(most) step="1" value="0" data-for=(name) data-units=(word)
                    aria-label=(label) hidden;
            }
        }
    };
    let (tip, butt) = match units {
        Units::Inches => ("1 1/2 in", "3 in"),
        Units::Millimetres => ("38 mm", "75 mm"),
    };
    html! {
        form.cuts #cuts action=(address("try", &shown.record)) {
            (end("butt", "Off the butt", &typed.butt, butt))
            (end("tip", "Off the tip", &typed.tip, tip))
            button { "Try it" }
        }
    }
}

/// What can be done with the cut that was tried.
struct Writes {
    shown: Box<ShowAnswer>,
    item: Option<String>,
    typed: Typed,
    has_pen: bool,
}

fn tried(units: Units, answers: &[Answer], writes: &Writes) -> Markup {
    let [tried, bend, marks, ..] = answers else { return html! {} };
    html! {
        @match tried {
            Answer::Try(_) if writes.item.is_none() => {
                p.missing { "Nothing comes off yet: move a cut, or write one and try it." }
            },
            Answer::Try(tried) => {
                ul.words { @for words in &tried.advice.words { li { (print::words(words)) } } }
            },
            Answer::Refused(refusal) => (print::fault(&writes.typed.refused(&refusal.message))),
            _ => {},
        }
        @if let Answer::Marks(marks) = marks {
            (print::drawings(|paper| taperbook_draw::blank_on(marks, &[], units, paper)))
        }
        @match bend {
            Answer::Bend(bend) => (build::bent(units, bend)),
            other if matches!(tried, Answer::Try(_)) => (print::not_yet("the bend", Some(other))),
            _ => {},
        }
        @if let Answer::Try(tried) = tried {
            (limits_table(units, tried, &limits(&writes.shown)))
            (numbers(units, tried))
            @if let Some(at) = &tried.fittings { (fittings::in_short(units, at)) }
            (flags(tried))
        }
        @if matches!(tried, Answer::Try(_)) { (item(writes)) }
    }
}

/// Each limit with where the range sits in it.
fn limits_table(units: Units, tried: &TryAnswer, limits: &[Limit]) -> Markup {
    html! {
        @if !tried.advice.limits.is_empty() {
            h2 { "Limits after the cut" }
            table.numbers {
                @for limit in &tried.advice.limits {
                    @let known = Measure::from_key(&limit.limit);
                    @let key = known.map_or(limit.limit.as_str(), |known| known.json_key());
                    @let stated = limits.iter().find(|stated| stated.key == key);
                    @let number = known.and_then(|measure| in_json(&tried.advice.after, measure));
                    tr {
                        th scope="row" { (print::name(key)) }
                        td.allowed {
                            @if let Some(stated) = stated {
                                (stated.bar(number.as_ref()))
                                span { "allowed " (stated.allowed(units)) }
                            }
                        }
                        td {
                            @match limit.inside {
                                Some(inside) => { b { (chance(inside)) } " inside" },
                                None => span.missing { "not known" },
                            }
                        }
                    }
                }
            }
        }
        @let left = [("tip", tried.advice.left.tip_mm), ("butt", tried.advice.left.butt_mm)];
        @let left: Vec<String> = left.into_iter().filter_map(|(end, mm)| Some(format!("{} off the {end}", cut_at_most(units, mm?)))).collect();
        @if !left.is_empty() {
            p { "Left after that inside the limits, each end alone: " (left.join(", ")) "." }
        }
    }
}

fn in_json(piece: &Piece, measure: Measure) -> Option<Number> {
    piece.get(measure).map(|number| number.scaled(1.0 / measure.json_unit()))
}

fn numbers(units: Units, tried: &TryAnswer) -> Markup {
    let (before, after) = (&tried.advice.before, &tried.advice.after);
    let cell = |number: &Option<Number>, of: Measure| match number {
        Some(Number::Missing { missing }) => html! { span.missing { (print::words(missing)) } },
        Some(known) => html! { (measure(units, of, known)) },
        None => html! {},
    };
    let mut unknown = Unknown::default();
    let rows = ORDER.into_iter().filter_map(|of| Some((of, before.get(of), after.get(of)?)));
    let rows: Vec<_> = rows
        .map(|(of, before, after)| (of, before, Some(after)))
        .filter(|(of, before, after)| {
            before != after || !unknown.takes(of.json_key(), after.as_ref())
        })
        .collect();
    html! {
        h2 { "Before and after" }
        @if !rows.is_empty() {
            table.numbers {
                thead { tr { td {} th scope="col" { "As it is" } th scope="col" { "After the cut" } } }
                tbody {
                    @for (of, before, after) in &rows {
                        tr {
                            th scope="row" { (print::name(of.json_key())) }
                            td { (cell(before, *of)) }
                            td { (cell(after, *of)) }
                        }
                    }
                }
            }
        }
        (unknown)
    }
}

fn flags(tried: &TryAnswer) -> Markup {
    html! {
        h2 { "Flags after the cut" }
        @if tried.flags.is_empty() { p { "None." } }
        @for flag in &tried.flags { (print::flag(flag, false)) }
        @for problem in &tried.problems { (print::problem(problem, false)) }
    }
}

/// The cut as a bench item: to be copied, or written at the end of the bench.
fn item(writes: &Writes) -> Markup {
    let Some(item) = &writes.item else { return html! {} };
    let shown = &writes.shown;
    let is_build = shown.kind == "build";
    let written = |action: &str, words: &str| {
        html! {
            form method="post" action=(address("bench", &shown.record)) {
                input type="hidden" name="action" value=(action);
                input type="hidden" name="tip" value=(writes.typed.tip);
                input type="hidden" name="butt" value=(writes.typed.butt);
                button { (words) }
            }
        }
    };
    let query = writes.typed.query();
    html! {
        p.ways {
            a.way href={ (address("sheet", &shown.record)) (query) } { "Bench sheet of this cut" }
            a.way href={ (address("guides", &shown.record)) (query) } { "Guides after it" }
        }
        h2 { "As a bench item" }
        p.item { code #item { "- " (item) } " " button type="button" data-copy="item" hidden { "Copy it" } }
        @if is_build && writes.has_pen {
            div.ways {
                (written("plan", "Write it as a plan"))
                (written("cut", "It is off: write it as a cut"))
            }
        } @else if is_build { (bench::no_pen()) }
    }
}
