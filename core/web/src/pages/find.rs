//! The search line and what it found.

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, FindAnswer, HitAnswer, Request};
use taperbook_plugin::Number;
use taperbook_plugin::print::{keyed, keyed_value, words_of_key};
use taperbook_units::Units;

use crate::Want;
use crate::print;
use crate::site::{Sheet, Site, Trouble, Visit, address, in_query};

/// What the search line asks.
#[derive(Deserialize)]
pub(crate) struct Search {
    #[serde(default)]
    q: String,
    #[serde(default)]
    more: usize,
}

/// How many hits a page has, and how many at most when more are asked for.
const HITS: usize = 40;
const MOST_HITS: usize = 120;

/// The numbers of a hit that are shown: what it is now, and what came off.
const NOW: [&str; 2] = ["length_mm", "power_g"];
const CUTS: [&str; 2] = ["tip_cut_mm", "butt_cut_mm"];

/// Finds; without a query, every record.
pub(crate) async fn find(
    State(site): State<Site>,
    visit: Visit,
    Query(search): Query<Search>,
) -> Result<Response, Trouble> {
    let limit = search.more.clamp(HITS, MOST_HITS);
    let request = Request::Find { query: search.q.clone(), limit };
    let look = site.look(&visit, Want::AtOnce).await?;
    let units = look.seen.units;
    let mut answers = look.ask(vec![request]).await?;
    let (status, body) = match answers.pop_front() {
        Some(Answer::Find(found)) => (StatusCode::OK, found_page(units, &search.q, &found)),
        Some(Answer::Refused(refusal)) => (
            StatusCode::BAD_REQUEST,
            html! {
                h1 { "That question can't be answered" }
                (print::refused(&refusal, &search.q))
                (how_to_ask())
            },
        ),
        _ => return Err(Trouble::nonsense()),
    };
    let title = if search.q.is_empty() { "All records" } else { search.q.as_str() };
    let sheet = Sheet { title, query: &search.q, seen: look.seen };
    Ok((status, sheet.page(&visit, &body)).into_response())
}

fn found_page(units: Units, query: &str, found: &FindAnswer) -> Markup {
    let n_shown = found.hits.len();
    // The file that makes a folder a shop is no record to begin with.
    let is_new = query.is_empty() && found.hits.iter().all(|hit| hit.kind == "shop");
    html! {
        div data-live="found" {
            h1 {
                @match (query.is_empty(), found.total) {
                    (true, _) if is_new => "An empty book",
                    (true, _) => "All records",
                    (false, 1) => "1 record found",
                    (false, total) => { (total) " records found" },
                }
            }
            @if is_new {
                p { (print::words("No blank, build or note is in the shop folder yet. `taperbook new blank heron-704` makes the card of a blank, and `taperbook new build ilse --blank heron-704` a build of it, each with hints to fill in; what is saved there shows up here by itself.")) }
            } @else if query.is_empty() {
                p { (found.total) (if found.total == 1 { " record" } else { " records" }) " in the book." }
            } @else if found.total == 0 {
                (how_to_ask())
            }
            ol.hits { @for hit in &found.hits { li { (hit_line(units, hit, &found.hits)) } } }
            @if n_shown < found.total {
                p {
                    "The first " (n_shown) " of " (found.total) " are shown. "
                    @if n_shown < MOST_HITS {
                        a href={ "/?q=" (in_query(query)) "&more=" (MOST_HITS) } { "Show more" }
                    } @else { "Ask more closely to see the others." }
                }
            }
            @if query.is_empty() && !is_new { (how_to_ask()) }
        }
    }
}

fn how_to_ask() -> Markup {
    let ask = |query: &str, words: &str| {
        html! { tr { td { a href={ "/?q=" (in_query(query)) } { code { (query) } } } td { (words) } } }
    };
    html! {
        h2 { "How to ask" }
        table.how {
            (ask("kind:build -verdict:keep", "builds that are not finished"))
            (ask("tip_cut:1in..1.5in rating:4..", "numbers with their units, both ends included"))
            (ask("length<7ft power>=200g", "less, or at least"))
            (ask("\"sea trout\" or perch", "a phrase, or another word"))
            (ask("spoon*", "the beginning of a word"))
        }
    }
}

fn hit_line(units: Units, hit: &HitAnswer, all: &[HitAnswer]) -> Markup {
    let numbers = numbers(units, hit);
    // Links of the same words that lead elsewhere can't be told apart by ear.
    let is_shared = 1 < all.iter().filter(|other| other.title == hit.title).count();
    html! {
        h2 {
            a href=(address("record", &hit.record)) {
                @if hit.title.is_empty() { (hit.record) }
                @else if is_shared { (hit.title) " (" (hit.record) ")" }
                @else { (hit.title) }
            }
        }
        p.meta { (hit.kind) " " (hit.record) }
        @if !numbers.is_empty() { p { (numbers.join(", ")) } }
        @if !hit.snippet.trim().is_empty() { p.snippet { (marked(&hit.snippet, &hit.marks)) } }
        @for flag in &hit.flags { a.flag href={ "/flags?only=" (in_query(flag)) } { (flag) } " " }
    }
}

fn numbers(units: Units, hit: &HitAnswer) -> Vec<String> {
    // In a list of hits what is missing is only noise; the record says what to measure.
    let now = NOW.into_iter().filter_map(|key| match hit.numbers.get(key)? {
        known @ Number::Known { .. } => {
            Some(format!("{} {}", words_of_key(key), keyed(units, key, known)))
        }
        Number::Missing { .. } => None,
    });
    let mut numbers: Vec<String> = now.collect();
    let cut = |key| Some((key, hit.numbers.get(key)?.value()?));
    let cuts: Vec<(&str, f64)> = CUTS.into_iter().filter_map(cut).collect();
    if !cuts.is_empty() && cuts.iter().all(|(_, mm)| *mm == 0.0) {
        numbers.push("uncut".to_owned());
    }
    let made = cuts.into_iter().filter(|(_, mm)| *mm != 0.0);
    numbers.extend(
        made.map(|(key, mm)| format!("{} {}", words_of_key(key), keyed_value(units, key, mm))),
    );
    numbers
}

/// A snippet with what matched marked; marks that don't fit the text are left out.
fn marked(text: &str, marks: &[(usize, usize)]) -> Markup {
    let mut at = 0;
    let mut parts: Vec<(bool, &str)> = Vec::new();
    for (start, end) in marks {
        if let (Some(before), Some(mark)) = (text.get(at..*start), text.get(*start..*end)) {
            parts.extend([(false, before), (true, mark)]);
            at = *end;
        }
    }
    parts.push((false, text.get(at..).unwrap_or_default()));
    html! { @for (is_mark, part) in parts { @if is_mark { mark { (part) } } @else { (part) } } }
}
