//! Which fittings of the drawers go on: on a page of its own, and in short beside a cut that is tried.

use axum::extract::{Path, State};
use axum::response::Response;
use maud::{Markup, html};
use taperbook_engine::{Answer, FittingsAsked, Request};
use taperbook_plugin::print::{chance, keyed, keyed_value};
use taperbook_plugin::{Fit, FitHow, FittingsAt};
use taperbook_units::{Length, Units};

use crate::Want;
use crate::pages::ends::off;
use crate::print;
use crate::site::{Sheet, Site, Trouble, Visit, address};
use crate::streamed::Later;

/// So many of a kind are shown beside a cut that is tried, and on the page.
const FEW: usize = 2;
const MOST: usize = 4;

/// Shows what goes on the piece as it is, as planned and as suggested.
pub(crate) async fn page(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let look = site.look(&visit, Want::Records).await?;
    let units = look.seen.units;
    let shown = look.read(id).await?;
    let asked = FittingsAsked { record: shown.record.clone(), ..Default::default() };
    let mut later = Later::default();
    let title = format!("Fittings of {}", shown.title);
    let body = html! {
        h1 { "Fittings" }
        (print::of_record(&shown))
        div data-live="fittings" {
            (later.ask(&look, vec![Request::Fittings(asked)], move |answers| match answers {
                [Answer::Fittings(advice)] => html! {
                    @for at in &advice.states { (state(units, at)) }
                    @for words in &advice.words { p { (print::words(words)) } }
                },
                answers => print::not_yet("what goes on", answers.first()),
            }))
        }
    };
    Ok(Sheet { title: &title, query: "", seen: look.seen }.streamed(&visit, &body, later))
}

fn state(units: Units, at: &FittingsAt) -> Markup {
    let cut = off(units, at.cut);
    let diameter = |od| keyed(units, "tip_od_mm", od);
    html! {
        h2 { "Fittings " (at.state) @if !cut.is_empty() { ", " (cut.join(", ")) } }
        p { "Tip " (diameter(&at.tip_od_mm)) ", butt " (diameter(&at.butt_od_mm)) "." }
        (rows(units, at, MOST))
        @for words in taperbook_draw::how_far(units, at) { p { (words) } }
    }
}

/// What comes nearest at each end, in short; nothing where the drawers are empty.
pub(crate) fn in_short(units: Units, at: &FittingsAt) -> Markup {
    html! {
        @if !at.tip_tops.is_empty() || !at.butt_ferrules.is_empty() {
            h2 { "Fittings " (at.state) }
            (rows(units, at, FEW))
        }
    }
}

fn rows(units: Units, at: &FittingsAt, most: usize) -> Markup {
    let kinds = [
        ("Tip-top", &at.tip_tops),
        ("Butt ferrule", &at.butt_ferrules),
        ("Reel seat", &at.reel_seats),
    ];
    html! {
        table.numbers {
            @for (kind, fits) in kinds {
                @for fit in fits.iter().take(most) { (row(units, kind, fit)) }
            }
        }
    }
}

fn row(units: Units, kind: &str, fit: &Fit) -> Markup {
    let bore = keyed_value(units, "tip_od_mm", fit.bore_mm);
    let sits = fit.sits_at_mm.filter(|mm| {
        0.5 < *mm && !matches!(fit.how, FitHow::Direct | FitHow::Thread | FitHow::Arbor)
    });
    let beside = [
        Some(format!("{} {bore}", if fit.bore_was_measured { "bore" } else { "marked" })),
        fit.ring_mm.map(|mm| format!("ring {mm} mm")),
        sits.map(|mm| format!("stops {} up", units.cut(Length::from_mm(mm)))),
        fit.count.map(|count| format!("{count} left")),
    ];
    let beside: Vec<String> = beside.into_iter().flatten().collect();
    let sure = fit.chance.filter(|_| fit.how == FitHow::Direct);
    html! {
        tr {
            th scope="row" { (kind) " " (fit.size) }
            td { a href=(address("record", &fit.fitting)) { (fit.fitting) } br; (beside.join(", ")) }
            td { (taperbook_draw::how(fit)) @if let Some(sure) = sure { ", " (chance(sure)) " sure" } }
        }
    }
}
