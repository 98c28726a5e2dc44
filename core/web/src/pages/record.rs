//! One record: what all kinds have, around what a build or a blank has of its own.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use taperbook_engine::{Answer, Request, ShowAnswer};
use taperbook_units::Units;

use crate::Want;
use crate::note::note;
use crate::pages::{blank, build};
use crate::print;
use crate::site::{Look, Sheet, Site, Trouble, Visit, address};
use crate::streamed::streamed;

/// Shows a record.
pub(crate) async fn record(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let look = site.look(&visit, Want::Soon).await?;
    let shown = shown(&look, look.ask(vec![Request::Show { record: id }]).await?.pop_front())?;
    let middle = match shown.kind.as_str() {
        "build" => build::build(&look, &shown).await?,
        "blank" | "offcut" => blank::blank(&look, &shown).await?,
        _ => html! {},
    };
    let body = whole(look.seen.units, &shown, &middle);
    let sheet = Sheet { title: &shown.title, query: "", seen: look.seen };
    let page = sheet.page(&visit, &body);
    if ["blank", "offcut"].contains(&shown.kind.as_str()) {
        let part = blank::learned_and_possible(look, shown.record);
        return Ok(streamed(&page.0, Box::pin(part)));
    }
    Ok(page.into_response())
}

/// The record, or why there is none.
pub(crate) fn shown(look: &Look, answer: Option<Answer>) -> Result<Box<ShowAnswer>, Trouble> {
    match answer {
        Some(Answer::Show(shown)) => Ok(shown),
        Some(Answer::Refused(refusal)) => {
            Err(Trouble::refused(StatusCode::NOT_FOUND, refusal.message).seen(look))
        }
        _ => Err(Trouble::nonsense()),
    }
}

fn whole(units: Units, shown: &ShowAnswer, middle: &Markup) -> Markup {
    html! {
        div data-live="record" {
            (head(shown))
            (faults(shown))
            (middle)
            @if shown.kind != "build" && shown.kind != "blank" && shown.kind != "offcut" && !shown.numbers.is_empty() {
                table.numbers { @for (key, number) in &shown.numbers {
                    tr { th scope="row" { (print::name(key)) } td { (print::number(units, key, number)) } }
                } }
            }
            @let words = note(&shown.text, &shown.title);
            @if shown.kind != "shop" && !words.0.trim().is_empty() {
                section.note { h2 { "In the builder's words" } (words) }
            }
            details.written {
                summary { "As written in " (shown.path) }
                pre tabindex="0" { (shown.text) }
            }
        }
    }
}

/// Title, kind, where it is, and what can be done with it.
pub(crate) fn head(shown: &ShowAnswer) -> Markup {
    html! {
        h1 { (if shown.title.is_empty() { &shown.record } else { &shown.title }) }
        p.meta {
            (shown.kind) " " (shown.path)
            @if let Some(blank) = &shown.blank { ", of " a href=(address("record", blank)) { (blank) } }
        }
        @if ["build", "blank", "offcut"].contains(&shown.kind.as_str()) {
            p.ways {
                a.way href=(address("try", &shown.record)) { "Try a cut" }
                @if shown.kind == "build" {
                    a.way href=(address("bench", &shown.record)) { "Write it down" }
                }
                a.way href=(address("sheet", &shown.record)) { "Bench sheet" }
                a.way href=(address("fittings", &shown.record)) { "Fittings" }
                a.way href=(address("guides", &shown.record)) { "Guides" }
                @if shown.kind == "build" {
                    a.way href=(address("handover", &shown.record)) { "Handover" }
                }
            }
        }
    }
}

/// Flags and problems of a record.
fn faults(shown: &ShowAnswer) -> Markup {
    html! {
        @for problem in &shown.problems { (print::problem(problem, false)) }
        @for flag in &shown.flags { (print::flag(flag, false)) }
    }
}
