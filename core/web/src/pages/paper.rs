//! Pages to print: the bench sheet, and what goes with the rod to its customer.

use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use taperbook_draw::Frame;
use taperbook_engine::{Answer, HandoverAsked, Request, SheetAsked};
use taperbook_units::Units;

use crate::Want;
use crate::pages::ends::Typed;
use crate::site::{Site, Trouble, Visit, address};

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
    let ends = typed.ends().map_err(unclear)?;
    let (tip_mm, butt_mm) = ends.given();
    let asked = SheetAsked { record: id, tip_mm, butt_mm, held_at_mm: None };
    page(&site, &visit, Request::Sheet(asked), |answer, units| match answer {
        Answer::Sheet(sheet) => {
            let frame = frame(&sheet.record);
            Some(taperbook_draw::sheet(sheet, units, frame.of()))
        }
        _ => None,
    })
    .await
}

/// Shows the customer's page.
pub(crate) async fn handover(
    State(site): State<Site>,
    visit: Visit,
    Path(id): Path<String>,
) -> Result<Response, Trouble> {
    let asked = HandoverAsked { record: id };
    page(&site, &visit, Request::Handover(asked), |answer, units| match answer {
        Answer::Handover(rod) => {
            let frame = frame(&rod.record);
            Some(taperbook_draw::handover(rod, units, frame.of()))
        }
        _ => None,
    })
    .await
}

async fn page(
    site: &Site,
    visit: &Visit,
    request: Request,
    page: impl FnOnce(&Answer, Units) -> Option<String>,
) -> Result<Response, Trouble> {
    let look = site.look(visit, Want::Records).await?;
    match look.ask(vec![request]).await?.pop_front() {
        Some(Answer::Refused(refusal)) => {
            Err(Trouble::refused(StatusCode::NOT_FOUND, refusal.message).seen(&look))
        }
        Some(answer) => {
            let page = page(&answer, look.seen.units).ok_or_else(Trouble::nonsense)?;
            Ok(Html(page).into_response())
        }
        None => Err(Trouble::nonsense()),
    }
}

/// Where a page leads back to.
struct Back {
    address: String,
    words: String,
}

fn frame(record: &str) -> Back {
    Back { address: address("record", record), words: format!("back to {record}") }
}

impl Back {
    fn of(&self) -> Frame<'_> {
        Frame::Served { style: STYLE, back: &self.address, words: &self.words }
    }
}
