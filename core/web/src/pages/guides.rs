//! Where the guides go, after a further cut or as it is.

use axum::extract::{Path, Query, State};
use axum::response::Response;
use maud::{Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, GuidesAsked, Request};
use taperbook_plugin::{GuidePlace, GuideSide, GuidesAdvice};
use taperbook_units::{Length, Units};

use crate::Want;
use crate::pages::ends::Typed;
use crate::print;
use crate::site::{Sheet, Site, Trouble, Visit, address};
use crate::streamed::Later;

/// More than so many guides are on no rod.
const MOST_GUIDES: usize = 40;

/// What is asked of the guides beside the cut before them, as it was written.
#[derive(Deserialize)]
pub(crate) struct Wanted {
    #[serde(default)]
    side: String,
    #[serde(default)]
    count: String,
}

impl Wanted {
    fn side(&self) -> GuideSide {
        if self.side == "above" { GuideSide::Above } else { GuideSide::Below }
    }

    fn count(&self) -> Result<Option<usize>, String> {
        let text = self.count.trim();
        if text.is_empty() {
            return Ok(None);
        }
        let count = text.parse().ok().filter(|count| (1..=MOST_GUIDES).contains(count));
        let words = || format!("`{text}` guides can't be: write a number from 1 to {MOST_GUIDES}");
        count.map(Some).ok_or_else(words)
    }

    fn asked(&self, record: String, typed: &Typed) -> Result<Request, String> {
        let (tip_mm, butt_mm) = typed.ends()?.given();
        Ok(Request::Guides(GuidesAsked {
            record,
            tip_mm,
            butt_mm,
            side: self.side(),
            count: self.count()?,
            load_g: None,
            held_at_mm: None,
        }))
    }
}

/// Shows where the guides go.
pub(crate) async fn guides(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
    Query(typed): Query<Typed>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Trouble> {
    let look = site.look(&visit, Want::Records).await?;
    let units = look.seen.units;
    let shown = look.read(id).await?;
    let mut later = Later::default();
    let laid = match wanted.asked(shown.record.clone(), &typed) {
        Err(message) => print::fault(&message),
        Ok(asked) => later.ask(&look, vec![asked], move |answers| match answers {
            [Answer::Guides(advice)] => laid(units, advice),
            answers => print::no_answer(answers.first()),
        }),
    };
    let title = format!("Guides of {}", shown.title);
    let body = html! {
        h1 { "Guides" }
        (print::of_record(&shown))
        (form(&address("guides", &shown.record), &typed, &wanted))
        div data-live="guides" { (laid) }
    };
    Ok(Sheet { title: &title, query: "", seen: look.seen }.streamed(&visit, &body, later))
}

fn form(action: &str, typed: &Typed, wanted: &Wanted) -> Markup {
    let is_above = wanted.side() == GuideSide::Above;
    html! {
        form.cuts action=(action) {
            div.end {
                label for="tip" { "Off the tip before" }
                input id="tip" name="tip" value=(typed.tip) autocomplete="off";
            }
            div.end {
                label for="butt" { "Off the butt before" }
                input id="butt" name="butt" value=(typed.butt) autocomplete="off";
            }
            div.end {
                label for="side" { "The guides stand" }
                select id="side" name="side" {
                    option value="below" selected[!is_above] { "underneath the bend" }
                    option value="above" selected[is_above] { "on top of the bend" }
                }
            }
            div.end {
                label for="count" { "How many, besides the tip-top" }
                input id="count" name="count" value=(wanted.count) inputmode="numeric" autocomplete="off"
                    placeholder="as the bend asks";
            }
            button { "Work it out" }
        }
    }
}

fn laid(units: Units, advice: &GuidesAdvice) -> Markup {
    html! {
        div.scrolled.close tabindex="0" role="region" aria-label="places" {
            table {
                thead { tr {
                    th scope="col" { "Guide" }
                    @for name in ["From the tip", "From the butt", "To the next", "Size", "Height", "Angle", "Line clears"] {
                        th scope="col" { (name) }
                    }
                } }
                tbody {
                    @for (number, place) in advice.test.places.iter().enumerate() { (row(units, number, place)) }
                }
            }
        }
        p { "Held at " (units.cut(Length::from_mm(advice.held_at_mm))) ". Static test: " (taperbook_draw::tested(units, &advice.test)) "." }
        @if let Some(uncut) = &advice.uncut { p { "Uncut it was: " (taperbook_draw::tested(units, uncut)) "." } }
        p { "The " (taperbook_draw::dressed(units, advice)) "." }
        (print::drawings(|paper| taperbook_draw::guides_on(advice, units, paper)))
        ul { @for words in &advice.words { li { (print::words(words)) } } }
    }
}

fn row(units: Units, number: usize, place: &GuidePlace) -> Markup {
    let length = |mm| units.cut(Length::from_mm(mm));
    html! {
        tr {
            th scope="row" { @if number == 0 { "tip-top" } @else { (number) } }
            td { (length(place.from_tip_mm)) }
            td { (length(place.from_butt_mm)) }
            td { (length(place.spacing_mm)) }
            td { (place.size.as_deref().unwrap_or("none in the drawers")) }
            td { (format!("{:.1} mm", place.height_mm)) }
            td { (format!("{:.1} deg", place.angle_deg)) }
            td {
                @if place.clearance_mm < 0.0 { b { "touches, by " (format!("{:.1} mm", -place.clearance_mm)) } }
                @else { (format!("{:.1} mm", place.clearance_mm)) }
            }
        }
    }
}
