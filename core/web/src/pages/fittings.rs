//! Which fittings of the drawer go on after a cut that is tried.

use maud::{Markup, html};
use taperbook_plugin::print::chance;
use taperbook_plugin::{Fit, FitHow, FittingsAt};

use crate::site::address;

/// So many of a kind are shown.
const MOST: usize = 2;

/// The tip-tops and butt ferrules that come nearest.
pub(crate) fn fittings(at: &FittingsAt) -> Markup {
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
