//! The paths of the page, what a visit brings with it, and the sheet that every answer is printed on.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::Router;
use axum::extract::{DefaultBodyLimit, FromRequestParts, Path, Query};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::{DOCTYPE, Markup, html};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use serde::Deserialize;
use taperbook_engine::{Answer, Request, ShowAnswer};
use taperbook_record::{Content, Shop as Shared};
use taperbook_units::Units;
use tokio::sync::{Semaphore, watch};

use crate::pages::{bench, faults, find, fittings, guides, paper, record, trial};
use crate::pen::{self, Pen, cookie};
use crate::streamed::Later;
use crate::{Behind, Moment, Shop, Want, Wrote, changes, guard, print, statics};

/// A form holds no more than this.
const MOST_FORM_BYTES: usize = 16 * 1024;
/// So much of what was written can be taken back.
const MOST_KEPT: usize = 32;

/// What all requests share.
#[derive(Clone)]
pub(crate) struct Site {
    pub(crate) shop: Arc<dyn Shop>,
    pub(crate) pen: Pen,
    /// What was written from this page, the last at the end.
    wrote: Arc<Mutex<VecDeque<Wrote>>>,
    pub(crate) followers: Arc<Semaphore>,
    /// Whether the page is about to be served no more.
    pub(crate) closing: watch::Receiver<bool>,
}

/// Puts all paths together.
pub(crate) fn router(site: Site, address: SocketAddr) -> Router {
    Router::new()
        .route("/", get(find::find))
        .route("/record/{*id}", get(record::record))
        .route("/try/{*id}", get(trial::trial))
        .route("/bench/{*id}", get(bench::bench).post(bench::write))
        .route("/sheet/{*id}", get(paper::sheet))
        .route("/handover/{*id}", get(paper::handover))
        .route("/fittings/{*id}", get(fittings::page))
        .route("/guides/{*id}", get(guides::guides))
        .route("/undo", post(bench::take_back))
        .route("/flags", get(faults::flags))
        .route("/problems", get(faults::problems))
        .route("/units/{units}", get(units))
        .route("/pen/{secret}", get(pen::take))
        .route("/changes", get(changes::changes))
        .route("/style.css", get(statics::style))
        .route(paper::STYLE, get(paper::style))
        .route("/page.js", get(statics::script))
        .fallback(nothing_here)
        .layer(DefaultBodyLimit::max(MOST_FORM_BYTES))
        .layer(axum::middleware::from_fn_with_state(address, guard::guard))
        .with_state(site)
}

impl Site {
    pub(crate) fn new(
        shop: Arc<dyn Shop>,
        pen: Pen,
        wrote: Arc<Mutex<VecDeque<Wrote>>>,
        closing: watch::Receiver<bool>,
    ) -> Self {
        let followers = Arc::new(Semaphore::new(changes::MOST_FOLLOWERS));
        Self { shop, pen, wrote, followers, closing }
    }

    /// Looks at the folder as it is, and learns the units of the shop where the visitor has not chosen others.
    pub(crate) async fn look(&self, visit: &Visit, want: Want) -> Result<Look, Trouble> {
        // Before the state is taken: what changes meanwhile is rather told once too often than not at all.
        let n_changes = *self.shop.changes().borrow();
        let moment = self.shop.now(want).await.map_err(unanswered)?;
        let units = visit.units.unwrap_or_default();
        let seen = Seen { units, behind: moment.behind(), n_changes };
        let mut look = Look { moment, seen };
        if visit.units.is_none() {
            let units = look.shop().await.and_then(|shop| shop.units);
            look.seen.units = units.map(|units| units.value).unwrap_or_default();
        }
        Ok(look)
    }

    /// Keeps what was written, to be shown and taken back.
    pub(crate) fn keep(&self, wrote: Wrote) {
        let mut kept = self.wrote.lock().unwrap_or_else(PoisonError::into_inner);
        kept.push_back(wrote);
        if MOST_KEPT < kept.len() {
            kept.pop_front();
        }
    }

    /// Forgets what was taken back.
    pub(crate) fn forget(&self, number: u64) -> Option<Wrote> {
        let mut kept = self.wrote.lock().unwrap_or_else(PoisonError::into_inner);
        let at = kept.iter().position(|wrote| wrote.number == number)?;
        kept.remove(at)
    }

    /// What was written to a file from this page, the last first.
    pub(crate) fn wrote(&self, path: &str) -> Vec<Wrote> {
        let kept = self.wrote.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().rev().filter(|wrote| wrote.path == path).cloned().collect()
    }
}

/// What a shop shares is written there.
const SHOP: &str = "shop.yaml";

/// One state of the folder, which everything on a page is of; a copy is cheap.
#[derive(Clone)]
pub(crate) struct Look {
    moment: Arc<dyn Moment>,
    pub(crate) seen: Seen,
}

/// What every sheet tells of the state that it is of, and how.
#[derive(Clone, Copy, Default)]
pub(crate) struct Seen {
    pub(crate) units: Units,
    pub(crate) behind: Behind,
    /// So often the folder had changed before it was looked at.
    n_changes: u64,
}

impl Look {
    /// Asks, and gives the answers in the order of the questions.
    pub(crate) async fn ask(&self, questions: Vec<Request>) -> Result<VecDeque<Answer>, Trouble> {
        Ok(self.moment.ask(questions).await.map_err(unanswered)?.into())
    }

    /// What the shop shares; `None` where it has no file of its own.
    pub(crate) async fn shop(&self) -> Option<Box<Shared>> {
        let shown = self.read(SHOP.to_owned()).await.ok()?;
        match taperbook_record::read(SHOP, shown.text.as_bytes()).record.content {
            Content::Shop(shop) => Some(shop),
            _ => None,
        }
    }

    /// Asks for one record and what is known of it already, which takes no working out.
    pub(crate) async fn read(&self, record: String) -> Result<Box<ShowAnswer>, Trouble> {
        match self.ask(vec![Request::Read { record }]).await?.pop_front() {
            Some(Answer::Show(shown)) => Ok(shown),
            Some(Answer::Refused(refusal)) => {
                Err(Trouble::refused(StatusCode::NOT_FOUND, refusal.message).seen(self))
            }
            _ => Err(Trouble::nonsense()),
        }
    }
}

fn unanswered(message: String) -> Trouble {
    Trouble::refused(StatusCode::SERVICE_UNAVAILABLE, message)
}

/// What a visitor brings along.
pub(crate) struct Visit {
    /// The units that were chosen.
    pub(crate) units: Option<Units>,
    /// May write.
    pub(crate) has_pen: bool,
    /// Where the visitor is: the path with its query.
    at: String,
}

impl FromRequestParts<Site> for Visit {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, site: &Site) -> Result<Self, Infallible> {
        Ok(Self {
            units: cookie(&parts.headers, "units").and_then(units_by_word),
            has_pen: site.pen.is_held(&parts.headers),
            at: parts.uri.path_and_query().map(ToString::to_string).unwrap_or_default(),
        })
    }
}

fn units_by_word(word: &str) -> Option<Units> {
    match word {
        "in" => Some(Units::Inches),
        "mm" => Some(Units::Millimetres),
        _ => None,
    }
}

/// Why there is no page; a lower-case fragment.
pub(crate) struct Trouble {
    pub(crate) status: StatusCode,
    pub(crate) message: String,
    /// The state that was looked at, which may lack what is asked for.
    seen: Seen,
}

impl Trouble {
    /// What was asked for is not there, or can't be.
    pub(crate) fn refused(status: StatusCode, message: impl Into<String>) -> Self {
        Self { status, message: message.into(), seen: Seen::default() }
    }

    /// The same, in a state of the folder.
    pub(crate) fn seen(self, look: &Look) -> Self {
        Self { seen: look.seen, ..self }
    }

    /// An answer that belongs to another question.
    pub(crate) fn nonsense() -> Self {
        Self::refused(StatusCode::INTERNAL_SERVER_ERROR, "the engine answered another question")
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let visit = Visit { units: None, has_pen: false, at: "/".to_owned() };
        let sheet = Sheet { title: "That did not work", query: "", seen: self.seen };
        let body = html! {
            h1 { "That did not work" }
            p.fault { (print::words(&self.message)) }
        };
        (self.status, sheet.page(&visit, &body)).into_response()
    }
}

/// A path that is not served.
async fn nothing_here() -> Trouble {
    Trouble::refused(StatusCode::NOT_FOUND, "nothing is here: look for it with the line at the top")
}

/// Where a switch of units leads back to.
#[derive(Deserialize)]
struct Back {
    #[serde(default)]
    to: String,
}

/// Chooses units, and leads back.
async fn units(Path(word): Path<String>, Query(back): Query<Back>) -> Response {
    if units_by_word(&word).is_none() {
        return Trouble::refused(StatusCode::NOT_FOUND, "units are `in` or `mm`").into_response();
    }
    // Only a path of this page is led back to: `//` and `/\` would name another host.
    let inside = back.to.strip_prefix('/').filter(|rest| !rest.starts_with(['/', '\\']));
    let is_plain = inside.is_some() && back.to.bytes().all(|byte| byte.is_ascii_graphic());
    let to = if is_plain { back.to.as_str() } else { "/" };
    let cookie = format!("units={word}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000");
    ([(header::SET_COOKIE, cookie)], Redirect::to(to)).into_response()
}

/// What is not told apart from the path by itself.
const IN_PATH: &AsciiSet =
    &NON_ALPHANUMERIC.remove(b'/').remove(b'-').remove(b'_').remove(b'.').remove(b'~');

/// The address of a record under one of the paths, such as `record` or `try`.
pub(crate) fn address(under: &str, id: &str) -> String {
    format!("/{under}/{}", utf8_percent_encode(id, IN_PATH))
}

/// Text as a value of a query.
pub(crate) fn in_query(text: &str) -> String {
    utf8_percent_encode(text, NON_ALPHANUMERIC).to_string()
}

/// What a sheet is headed with.
pub(crate) struct Sheet<'a> {
    pub(crate) title: &'a str,
    /// What stands in the search line.
    pub(crate) query: &'a str,
    pub(crate) seen: Seen,
}

impl Sheet<'_> {
    /// Sends a page of which parts come later.
    pub(crate) fn streamed(&self, visit: &Visit, body: &Markup, later: Later) -> Response {
        later.page(&self.page(visit, body).0)
    }

    /// Prints a page.
    pub(crate) fn page(&self, visit: &Visit, body: &Markup) -> Html<String> {
        let (other, words) = match self.seen.units {
            Units::Inches => ("mm", "show millimetres"),
            Units::Millimetres => ("in", "show inches"),
        };
        let switch = format!("/units/{other}?to={}", in_query(&visit.at));
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) " · Taperbook" }
                    link rel="stylesheet" href="/style.css";
                    script src="/page.js" defer {}
                }
                body data-changes=(self.seen.n_changes) {
                    a.past href="#sheet" { "past the headline" }
                    header {
                        nav aria-label="the book" {
                            a.name href="/" { "Taperbook" }
                            a href="/flags" { "flags" }
                            a href="/problems" { "problems" }
                            a href=(switch) { (words) }
                        }
                        form.find role="search" action="/" {
                            input type="search" name="q" value=(self.query) autocomplete="off" spellcheck="false"
                                aria-label="words and numbers to find" placeholder="heron power:200g..240g";
                            button { "Find" }
                        }
                    }
                    main id="sheet" tabindex="-1" { (print::behind(self.seen.behind)) (body) }
                    p.wake id="wake" role="status" {}
                }
            }
        };
        Html(page.into_string())
    }
}
