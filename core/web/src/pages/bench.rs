//! At the bench by thumb: a reading or a cut written down in two taps, and taken back.
//!
//! No field holds a value that was worked out: what is expected must not become a reading by a tap.

use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, Request, ShowAnswer};
use taperbook_plugin::SuggestAdvice;
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use crate::item::{READINGS, Said, item};
use crate::pages::ends;
use crate::print;
use crate::site::{Look, Sheet, Site, Trouble, Visit, address};
use crate::streamed::Later;
use crate::{Want, Wrote};

/// Shows what can be written down, and what was.
pub(crate) async fn bench(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let look = site.look(&visit, Want::Records).await?;
    let units = look.seen.units;
    let shown = look.read(id).await?;
    only_a_build(&shown)?;
    let shop = if visit.has_pen { look.shop().await } else { None };
    let boards: Vec<String> =
        shop.into_iter().flat_map(|shop| shop.boards).map(|board| board.name).collect();
    let mut later = Later::default();
    let title = format!("{} on the bench", shown.title);
    let body = html! {
        h1 { (shown.title) }
        p.meta { "to be written down in " a href=(address("record", &shown.record)) { (shown.path) } }
        div data-live="wake" {
            (wake(&site.wrote(&shown.path), visit.has_pen))
            @for flag in &shown.flags { (print::flag(flag, false)) }
        }
        @if visit.has_pen {
            // A small screen is full of readings.
            p.ways { a.way href="#a-cut" { "To the cut" } }
            (readings(units, &shown, &boards))
            div data-live="cuts" { (cuts(&look, &shown, &mut later)) }
        } @else { (no_pen()) }
    };
    Ok(Sheet { title: &title, query: "", seen: look.seen }.streamed(&visit, &body, later))
}

fn only_a_build(shown: &ShowAnswer) -> Result<(), Trouble> {
    if shown.kind == "build" {
        return Ok(());
    }
    let message = format!("`{}` is a {}: only a build has a bench", shown.record, shown.kind);
    Err(Trouble::refused(StatusCode::NOT_FOUND, message))
}

/// Says why nothing can be written.
pub(crate) fn no_pen() -> Markup {
    html! {
        p.missing { (print::words("This browser has no pen: to write from here, open the address with `/pen/` in it that the daemon printed at its start.")) }
    }
}

/// What was written from here, the last first, each to be taken back.
fn wake(wrote: &[Wrote], has_pen: bool) -> Markup {
    html! {
        @if !wrote.is_empty() {
            section.wrote aria-label="written down" {
                @for wrote in wrote {
                    div {
                        p { "written at " (wrote.path) ", line " (wrote.line) }
                        pre { (wrote.inserted.trim_matches(['\n', '\r'])) }
                        @for doubt in &wrote.doubts { p.fault { "look again: " (print::words(doubt)) } }
                        @if has_pen {
                            form method="post" action="/undo" {
                                input type="hidden" name="number" value=(wrote.number);
                                button { "Take it back" }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The next cut, and any other.
fn cuts(look: &Look, shown: &ShowAnswer, later: &mut Later) -> Markup {
    let units = look.seen.units;
    let action = address("bench", &shown.record);
    let suggest = Request::Suggest { record: shown.record.clone(), held_at_mm: None };
    html! {
        h2 id="a-cut" { "A cut" }
        (print::cautions())
        (later.ask(look, vec![suggest], {
            let action = action.clone();
            move |answers| match answers {
                [Answer::Suggest(next)] => suggested(units, &action, next),
                answers => print::not_yet("a cut that is suggested", answers.first()),
            }
        }))
        details.tap name="tap" {
            summary { "Another cut" }
            form method="post" action=(action) {
                input type="hidden" name="action" value="cut";
                @for (end, words) in [("tip", "Off the tip"), ("butt", "Off the butt")] {
                    label for={ "cut-" (end) } { (words) }
                    div.with-unit {
                        input id={ "cut-" (end) } name=(end) inputmode="decimal" autocomplete="off";
                        (unit_of(units, "length", &format!("{end}_unit")))
                    }
                }
                button { "It is off: write it down" }
            }
        }
    }
}

/// What is suggested, or why nothing is.
fn suggested(units: Units, action: &str, next: &SuggestAdvice) -> Markup {
    let ends = next.next_cut.map(|cut| [("tip", cut.tip_mm), ("butt", cut.butt_mm)]);
    let off = next.next_cut.map_or_else(Vec::new, |cut| ends::off(units, cut));
    html! {
        @if let Some(why) = &next.why_stop { p { (print::words(why)) } }
        @if let Some(measure) = &next.measure_next {
            p { b { (if off.is_empty() { "Measure first: " } else { "What else would tell most: " }) } (print::words(measure)) }
        }
        @if let Some(ends) = ends && !off.is_empty() {
            details.tap name="tap" {
                summary { (off.join(", ")) small { "suggested" } }
                form method="post" action=(action) {
                    input type="hidden" name="action" value="cut";
                    @for (end, mm) in ends { input type="hidden" name=(end) value=(as_written(units, mm)); }
                    button { "It is off: write it down" }
                }
            }
        }
    }
}

fn as_written(units: Units, mm: f64) -> String {
    units.cut(Length::from_mm(mm))
}

/// What can be measured: each opens to one field.
fn readings(units: Units, shown: &ShowAnswer, boards: &[String]) -> Markup {
    html! {
        h2 { "A reading" }
        div.taps {
            @for (measure, unit, words) in READINGS {
                @let key = measure.key();
                details.tap name="tap" {
                    summary { (words) }
                    form method="post" action=(address("bench", &shown.record)) {
                        input type="hidden" name="action" value="read";
                        input type="hidden" name="what" value=(key);
                        label for={ "read-" (key) } { (words) " of the piece as it is" }
                        div.with-unit {
                            input id={ "read-" (key) } name="value" inputmode="decimal" autocomplete="off" required;
                            @if unit == "in" { (unit_of(units, key, "unit")) }
                            @else { input type="hidden" name="unit" value=(unit); span { (unit) } }
                        }
                        @if 1 < boards.len() && matches!(measure, Measure::Power | Measure::TipAngle) {
                            label for={ "board-" (key) } { "On which board" }
                            select id={ "board-" (key) } name="board" {
                                @for board in boards { option { (board) } }
                            }
                        }
                        button { "Write it down" }
                    }
                }
            }
            details.tap name="tap" {
                summary { "What it feels like" }
                form method="post" action=(address("bench", &shown.record)) {
                    input type="hidden" name="action" value="feel";
                    label for="feel" { "In your own words" }
                    textarea id="feel" name="words" rows="3" required {}
                    button { "Write it down" }
                }
            }
        }
    }
}

/// The unit that a bare number in the field beside has.
fn unit_of(units: Units, key: &str, name: &str) -> Markup {
    let is_mm = units == Units::Millimetres;
    html! {
        select name=(name) aria-label={ "unit of the " (key) } {
            option selected[!is_mm] { "in" }
            option selected[is_mm] { "mm" }
        }
    }
}

/// Writes one item at the end of a bench.
pub(crate) async fn write(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Trouble> {
    with_pen(&visit)?;
    let item = item(&said, &site.shop.today())
        .map_err(|message| Trouble::refused(StatusCode::UNPROCESSABLE_ENTITY, message))?;
    let look = site.look(&visit, Want::Records).await?;
    let shown = look.read(id).await?;
    only_a_build(&shown)?;
    let wrote = site
        .shop
        .append(shown.path.clone(), item)
        .await
        .map_err(|message| Trouble::refused(StatusCode::CONFLICT, message))?;
    site.keep(wrote);
    Ok(Redirect::to(&address("bench", &shown.record)).into_response())
}

/// What is to be taken back.
#[derive(Deserialize)]
pub(crate) struct Back {
    number: u64,
}

/// Takes back what was written from here.
pub(crate) async fn take_back(
    State(site): State<Site>,
    visit: Visit,
    Form(back): Form<Back>,
) -> Result<Response, Trouble> {
    with_pen(&visit)?;
    let conflict = |message: String| Trouble::refused(StatusCode::CONFLICT, message);
    let wrote = site
        .forget(back.number)
        .ok_or_else(|| conflict("that was taken back already, or is too long ago".to_owned()))?;
    site.shop.take_back(wrote.number).await.map_err(conflict)?;
    let id = wrote.path.strip_suffix(".md").unwrap_or(&wrote.path);
    Ok(Redirect::to(&address("bench", id)).into_response())
}

fn with_pen(visit: &Visit) -> Result<(), Trouble> {
    if visit.has_pen {
        return Ok(());
    }
    let message = "this browser has no pen: open the address with `/pen/` in it that the daemon printed at its start";
    Err(Trouble::refused(StatusCode::FORBIDDEN, message))
}
