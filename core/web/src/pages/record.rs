//! One record: what all kinds have, around what a build or a blank has of its own.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::{Markup, html};
use taperbook_engine::ShowAnswer;
use taperbook_units::Units;

use crate::Want;
use crate::note::note;
use crate::pages::{blank, build};
use crate::print;
use crate::site::{Sheet, Site, Trouble, Visit, address};
use crate::streamed::Later;

/// Shows a record: what it says and what is known of it at once, and what must be worked out as it comes.
pub(crate) async fn record(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let look = site.look(&visit, Want::Soon).await?;
    let shown = look.read(id).await?;
    let units = look.seen.units;
    let mut later = Later::default();
    let body = html! {
        div data-live="record" {
            (head(&shown))
            (faults(&shown))
            @match shown.kind.as_str() {
                "build" => (build::numbers(units, &shown)),
                "blank" | "offcut" => (blank::numbers(units, &shown)),
                _ => (other_numbers(units, &shown)),
            }
            (words(&shown))
            @match shown.kind.as_str() {
                "build" => (build::worked_out(&look, &shown, &mut later)),
                "blank" | "offcut" => (blank::worked_out(&look, &shown, &mut later)),
                _ => {},
            }
        }
    };
    let sheet = Sheet { title: &shown.title, query: "", seen: look.seen };
    Ok(sheet.streamed(&visit, &body, later))
}

fn other_numbers(units: Units, shown: &ShowAnswer) -> Markup {
    html! {
        @if !shown.numbers.is_empty() {
            table.numbers { @for (key, number) in &shown.numbers {
                tr { th scope="row" { (print::name(key)) } td { (print::number(units, key, number)) } }
            } }
        }
    }
}

/// What is written in the record.
fn words(shown: &ShowAnswer) -> Markup {
    let words = note(&shown.text, &shown.title);
    html! {
        @if shown.kind != "shop" && !words.0.trim().is_empty() {
            section.note { h2 { "In the builder's words" } (words) }
        }
        details.written {
            summary { "As written in " (shown.path) }
            pre tabindex="0" { (shown.text) }
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
