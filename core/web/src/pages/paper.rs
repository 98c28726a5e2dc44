//! Pages to print: the bench sheet, and what goes with the rod to its customer.

use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::PreEscaped;
use taperbook_draw::{Frame, Heading};
use taperbook_engine::{Answer, HandoverAsked, Request, SheetAsked, ShowAnswer};
use taperbook_record::{Build, Spanned};

use crate::Want;
use crate::pages::ends::Typed;
use crate::print;
use crate::site::{Look, Site, Trouble, Visit, address};
use crate::streamed::Later;

/// Where the style of these pages is served.
pub(crate) const STYLE: &str = "/paper.css";

/// Serves the style of these pages.
pub(crate) async fn style() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], taperbook_draw::paper_style())
}

/// Shows the bench sheet of the cut that is written; without one the plan counts, else what is suggested.
pub(crate) async fn sheet(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
    Query(typed): Query<Typed>,
) -> Result<Response, Trouble> {
    let unclear = |message| Trouble::refused(StatusCode::UNPROCESSABLE_ENTITY, message);
    let (tip_mm, butt_mm) = typed.ends().map_err(unclear)?.given();
    let (look, shown) = looked(&site, &visit, id, &["build", "blank", "offcut"]).await?;
    let asked = SheetAsked { record: shown.record.clone(), tip_mm, butt_mm, held_at_mm: None };
    let units = look.seen.units;
    let mut later = Later::default();
    let body = later.ask(&look, vec![Request::Sheet(asked)], move |answers| match answers {
        [Answer::Sheet(sheet)] => PreEscaped(taperbook_draw::sheet_body(sheet, units)),
        answers => print::no_answer(answers.first()),
    });
    let page = headed(&shown, None, |heading, frame| {
        taperbook_draw::sheet_around(heading, &body.0, frame)
    });
    Ok(later.page(&page))
}

/// Shows the customer's page.
pub(crate) async fn handover(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let (look, shown) = looked(&site, &visit, id, &["build"]).await?;
    let asked = HandoverAsked { record: shown.record.clone() };
    let units = look.seen.units;
    let mut later = Later::default();
    let body = later.ask(&look, vec![Request::Handover(asked)], move |answers| match answers {
        [Answer::Handover(rod)] => PreEscaped(taperbook_draw::handover_body(rod, units)),
        answers => print::no_answer(answers.first()),
    });
    let shop = look.shop().await.and_then(|shop| shop.name);
    let shop = shop.as_ref().map(|name| name.value.as_str());
    let page = headed(&shown, shop, |heading, frame| {
        taperbook_draw::handover_around(heading, &body.0, frame)
    });
    Ok(later.page(&page))
}

/// Reads a record that must be of one of some kinds.
async fn looked(
    site: &Site,
    visit: &Visit,
    id: String,
    kinds: &[&str],
) -> Result<(Look, Box<ShowAnswer>), Trouble> {
    let look = site.look(visit, Want::Records).await?;
    let shown = look.read(id).await?;
    if kinds.contains(&shown.kind.as_str()) {
        return Ok((look, shown));
    }
    let (record, kind, kinds) = (&shown.record, &shown.kind, kinds.join(", "));
    let message = format!("`{record}` is a {kind}, which has no such page: name one of {kinds}");
    Err(Trouble::refused(StatusCode::NOT_FOUND, message).seen(&look))
}

/// Sets a page headed with what its record says.
fn headed(
    shown: &ShowAnswer,
    shop: Option<&str>,
    set: impl FnOnce(&Heading, Frame) -> String,
) -> String {
    let parsed = taperbook_record::read(&shown.path, shown.text.as_bytes());
    let build = parsed.record.build();
    let date = build.and_then(|build| build.date.as_ref()).map(|date| date.value.to_string());
    let text = |of: fn(&Build) -> &Option<Spanned<String>>| {
        build.and_then(|build| of(build).as_ref()).map(|text| text.value.as_str())
    };
    let heading = Heading {
        record: &shown.record,
        title: &shown.title,
        shop,
        customer: text(|build| &build.customer),
        purpose: text(|build| &build.purpose),
        blank: text(|build| &build.blank),
        date: date.as_deref(),
    };
    let (back, words) = (address("record", &shown.record), format!("back to {}", shown.record));
    set(&heading, Frame::Served { style: STYLE, back: &back, words: &words })
}
