//! The page that goes with a rod to its customer: what was asked, what was cut, what it became, care and safety.
//!
//! Made before the cuts it is a page to agree to; made afterwards it tells what was done.

use maud::{Markup, PreEscaped, html};
use taperbook_plugin::print::{CARE, guides_from_tip};
use taperbook_plugin::{Cut, GuidesAdvice, HandoverAdvice, WalkStep};
use taperbook_units::{Length, Mass, Units};

use crate::number::{called, chance, of_state};
use crate::page::{Frame, Heading, drawings, page, whose};

/// What a customer wants to know of a rod, in that order; the key of a number and what it is called on the page.
const TOLD: [(&str, &str); 7] = [
    ("length", "length of the blank"),
    ("power", "power"),
    ("recovery", "recovery"),
    ("tip_angle", "tip angle under its power"),
    ("tip_od", "tip diameter"),
    ("butt_od", "butt diameter"),
    ("weight", "weight of the blank"),
];

/// Sets the customer's page.
pub fn handover(rod: &HandoverAdvice, units: Units, frame: Frame) -> String {
    let heading = Heading {
        record: &rod.record,
        title: &rod.title,
        shop: rod.shop.as_deref(),
        customer: rod.customer.as_deref(),
        purpose: rod.purpose.as_deref(),
        blank: rod.blank.as_deref(),
        date: rod.date.as_deref(),
    };
    handover_around(&heading, &handover_body(rod, units), frame)
}

/// Sets the customer's page around its body, or around what stands in its place until it is worked out.
pub fn handover_around(heading: &Heading, body: &str, frame: Frame) -> String {
    let beside = [
        ("for", heading.customer),
        ("to fish", heading.purpose),
        ("blank", heading.blank),
        ("begun", heading.date),
    ];
    let body = html! {
        div class="top" {
            h1 { (heading.title) }
            span { (heading.shop.unwrap_or_default()) }
        }
        (whose(&beside))
        (PreEscaped(body))
    };
    page(heading.title, frame, &body)
}

/// Sets what is worked out for the customer's page.
pub fn handover_body(rod: &HandoverAdvice, units: Units) -> String {
    let body = html! {
        h2 { "What was asked" }
        (asked(rod))
        h2 { "What was cut" }
        (cuts(rod, units))
        h2 { @if rod.cuts.is_empty() { "What it is" } @else { "What it became" } }
        (became(rod, units))
        @if let Some(guides) = &rod.guides { (bent(guides, units)) }
        h2 { "Care" }
        p { (CARE) }
        (agreed(rod))
    };
    body.into_string()
}

fn asked(rod: &HandoverAdvice) -> Markup {
    html! {
        @if rod.aims.is_empty() && rod.limits.is_empty() { p { "Nothing was written down." } }
        @if !rod.aims.is_empty() {
            p class="line" { @for (what, value) in &rod.aims { span { (what) " " b { (value) } } } }
        }
        @if !rod.limits.is_empty() {
            table {
                thead {
                    tr {
                        th scope="col" { "limit" } th scope="col" { "at least" } th scope="col" { "at most" } th scope="col" { "kept as it is" }
                        @if let Some(proposed) = &rod.proposed { th scope="col" { "kept " (proposed.cuts_from) } }
                    }
                }
                @for (limit_idx, limit) in rod.limits.iter().enumerate() {
                    tr {
                        th scope="row" { (called(&limit.limit)) }
                        td { (limit.low.clone().unwrap_or_default()) }
                        td { (limit.high.clone().unwrap_or_default()) }
                        td { (chance(limit.inside)) }
                        @if let Some(proposed) = &rod.proposed {
                            td { (chance(proposed.limits.get(limit_idx).and_then(|limit| limit.inside))) }
                        }
                    }
                }
            }
        }
    }
}

fn cuts(rod: &HandoverAdvice, units: Units) -> Markup {
    let row = |step: &WalkStep| {
        html! { tr { td { (step.date.clone().unwrap_or_default()) } td { (step.words) } } }
    };
    html! {
        @if rod.cuts.is_empty() { p { "Nothing so far." } }
        @else { table { @for step in &rod.cuts { (row(step)) } } }
        @if let Some(proposed) = &rod.proposed {
            p { "To be cut, " (proposed.cuts_from) ": " b { (both_ends(units, proposed.cut)) } }
        }
    }
}

/// A cut in words.
fn both_ends(units: Units, cut: Cut) -> String {
    let end = |mm: f64, end: &str| {
        (0.0 < mm).then(|| format!("{} off the {end}", units.mark(Length::from_mm(mm))))
    };
    let ends = [end(cut.tip_mm, "tip"), end(cut.butt_mm, "butt")];
    ends.into_iter().flatten().collect::<Vec<_>>().join(" and ")
}

fn became(rod: &HandoverAdvice, units: Units) -> Markup {
    let is_cut = !rod.cuts.is_empty();
    let dressed = rod.guides.as_ref().map(|guides| &guides.dressing);
    html! {
        table {
            thead {
                tr {
                    td {}
                    @if is_cut { th scope="col" { "before" } }
                    th scope="col" { @if is_cut { "now" } @else { "as it is" } }
                    @if let Some(proposed) = &rod.proposed { th scope="col" { (proposed.cuts_from) ", expected" } }
                }
            }
            @for (key, name) in TOLD {
                @if let Some(now) = of_state(units, &rod.after, key) {
                    tr {
                        th scope="row" { (name) }
                        @if is_cut { td { (of_state(units, &rod.before, key).unwrap_or_default()) } }
                        td { (now) }
                        @if let Some(proposed) = &rod.proposed {
                            td { (of_state(units, &proposed.expected, key).unwrap_or_default()) }
                        }
                    }
                }
            }
            @if let Some(dressing) = dressed {
                @if let Some((value, low, high)) = dressing.dressed_hz.known() {
                    tr {
                        th scope="row" { "recovery with guides of " (units.mass(Mass::from_g(dressing.weight_g))) }
                        @if is_cut { td {} }
                        @if rod.proposed.is_some() { td {} }
                        td { (format!("{value:.2} Hz ({low:.2} … {high:.2})")) }
                    }
                }
            }
        }
        p {
            "Power is the weight that, hung from the tip of the bare blank held level, brings the tip down by a third of its free length. "
            "In brackets stands the range that the true value lies in nine times out of ten."
        }
    }
}

fn bent(guides: &GuidesAdvice, units: Units) -> Markup {
    let places = guides_from_tip(units, guides);
    html! {
        div class="bend" { (drawings(|paper| crate::guides_on(guides, units, paper))) }
        p { "Guides from the tip: " (places) }
    }
}

/// The line to sign before the cut, or what was agreed; and the customer's words afterwards.
fn agreed(rod: &HandoverAdvice) -> Markup {
    html! {
        h2 { "Agreed" }
        @match &rod.told {
            Some(told) => p { (told) },
            None => {
                p { "A cut can't be undone. I have seen these numbers and agree to them:" }
                p class="write" {
                    span { "name " span class="gap wide" {} }
                    span { "date " span class="gap" {} }
                }
            }
        }
        @match &rod.said {
            Some(said) => { h2 { "Said afterwards" } p { "“" (said) "”" } }
            None => p class="write" { span { "After a season: " span class="gap wide" {} } }
        }
    }
}
