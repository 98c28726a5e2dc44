//! Which fittings of the drawer go on after a cut that is tried.

use maud::{Markup, html};
use taperbook_engine::{Answer, FittingsAsked, Request};
use taperbook_plugin::print::chance;
use taperbook_plugin::{Fit, FitHow};

use crate::site::address;

/// So many of a kind are shown.
const MOST: usize = 2;

/// Asks for the fittings of a tried cut.
pub(crate) fn question(record: String, tip_mm: f64, butt_mm: f64) -> Request {
    Request::Fittings(FittingsAsked { record, tip_mm: Some(tip_mm), butt_mm: Some(butt_mm) })
}

/// The tip-tops and butt ferrules that come nearest; nothing where the drawer is empty.
pub(crate) fn fittings(answer: &Answer) -> Markup {
    let Answer::Fittings(advice) = answer else { return html! {} };
    let tried = advice.states.iter().find(|at| at.state == "as tried");
    let Some(at) = tried.or(advice.states.first()) else { return html! {} };
    let kinds = [("Tip-top", &at.tip_tops), ("Butt ferrule", &at.butt_ferrules)];
    html! {
        @if kinds.iter().any(|(_, fits)| !fits.is_empty()) {
            h2 { "Fittings " (at.state) }
            table.numbers {
                @for (kind, fits) in kinds {
                    @for fit in fits.iter().take(MOST) { (row(kind, fit)) }
                }
            }
        }
    }
}

fn row(kind: &str, fit: &Fit) -> Markup {
    html! {
        tr {
            th scope="row" { (kind) " " (fit.size) }
            td { a href=(address("record", &fit.fitting)) { (fit.fitting) } }
            td {
                (how(fit.how))
                @if let Some(part) = fit.chance { ", " (chance(part)) " sure" }
            }
        }
    }
}

fn how(how: FitHow) -> &'static str {
    match how {
        FitHow::Direct => "goes on",
        FitHow::Thread => "with a turn of thread",
        FitHow::Arbor => "with an arbor",
        FitHow::Sand => "must be sanded for it",
        FitHow::TooTight => "too tight",
        FitHow::TooWide => "too wide",
    }
}
