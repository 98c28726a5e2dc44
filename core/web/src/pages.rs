//! The pages: searching, one record, the flags of the shop.

use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::Html;
use maud::{DOCTYPE, Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, FlagAnswer, HitAnswer, Refusal, Request, ShowAnswer};
use taperbook_plugin::Number;

use crate::Ask;

/// What the search line asks.
#[derive(Deserialize)]
pub(crate) struct Search {
    #[serde(default)]
    q: String,
}

type Shown = (StatusCode, Html<String>);

/// How many hits fit a page that is read and not scrolled for long.
const HITS: usize = 50;

/// The search line and what it found; without a query, every record.
pub(crate) async fn search(State(ask): State<Ask>, Query(search): Query<Search>) -> Shown {
    let request = Request::Find { query: search.q.clone(), limit: HITS };
    let body = match ask(request).await {
        Answer::Find(found) => html! {
            p {
                (found.total) " found"
                @if found.unread != 0 { "; what " (found.unread) " more say is still being read" }
                @if found.pending != 0 { "; the numbers of " (found.pending) " are still being worked out" }
            }
            ol { @for hit in &found.hits { li { (hit_line(hit)) } } }
        },
        Answer::Refused(refusal) => {
            return (
                StatusCode::BAD_REQUEST,
                page("Not found", &search.q, &refused(&refusal, &search.q)),
            );
        }
        _ => html! {},
    };
    (StatusCode::OK, page("Find", &search.q, &body))
}

/// One record.
pub(crate) async fn record(State(ask): State<Ask>, Path(id): Path<String>) -> Shown {
    match ask(Request::Show { record: id }).await {
        Answer::Show(shown) => (StatusCode::OK, page(&shown.title, "", &whole_record(&shown))),
        Answer::Refused(refusal) => {
            (StatusCode::NOT_FOUND, page("Not found", "", &refused(&refusal, "")))
        }
        _ => nothing_here().await,
    }
}

/// The flags of the shop.
pub(crate) async fn flags(State(ask): State<Ask>) -> Shown {
    let body = match ask(Request::Flags { flag: None }).await {
        Answer::Flags(answer) if answer.flags.is_empty() => html! { p { "No flag is raised." } },
        Answer::Flags(answer) => {
            html! { ul { @for flag in &answer.flags { li { (flag_line(flag)) } } } }
        }
        _ => html! {},
    };
    (StatusCode::OK, page("Flags", "", &body))
}

/// Any other path.
pub(crate) async fn nothing_here() -> Shown {
    (StatusCode::NOT_FOUND, page("Not found", "", &html! { p { "Nothing is here." } }))
}

fn page(title: &str, query: &str, body: &Markup) -> Html<String> {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Taperbook" }
                link rel="stylesheet" href="/style.css";
            }
            body {
                header {
                    a href="/" { "Taperbook" }
                    a href="/flags" { "flags" }
                    form action="/" { input name="q" value=(query) aria-label="words and numbers to find"; button { "Find" } }
                }
                main { h1 { (title) } (body) }
            }
        }
    };
    Html(page.into_string())
}

fn refused(refusal: &Refusal, query: &str) -> Markup {
    let caret = refusal.at.and_then(|(start, end)| {
        let before = query.get(..start)?.chars().count();
        let wide = query.get(start..end).map_or(1, |marked| marked.chars().count().max(1));
        Some(format!("{query}\n{}{}", " ".repeat(before), "^".repeat(wide)))
    });
    html! {
        @if let Some(caret) = caret { pre.caret { (caret) } }
        p.fault { (refusal.message) }
    }
}

fn hit_line(hit: &HitAnswer) -> Markup {
    html! {
        a href={ "/record/" (hit.record) } { (hit.title) } " " small { (hit.kind) " " (hit.record) }
        @if !hit.flags.is_empty() { " " strong { (hit.flags.join(", ")) } }
        br;
        (marked(&hit.snippet, &hit.marks))
    }
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

fn whole_record(shown: &ShowAnswer) -> Markup {
    html! {
        p { (shown.kind) " " (shown.path)
            @if let Some(blank) = &shown.blank { ", of " a href={ "/record/" (blank) } { (blank) } }
        }
        @for problem in &shown.problems {
            p.fault { "line " (problem.line) ", column " (problem.column) ": " (problem.message) }
        }
        @for flag in &shown.flags { p.fault { (flag_line(flag)) } }
        @if !shown.numbers.is_empty() {
            table { @for (key, number) in &shown.numbers { tr { th scope="row" { (key) } (number_cells(number)) } } }
        }
        @if !shown.bench.is_empty() {
            h2 { "Bench" }
            table {
                @for step in &shown.bench {
                    tr { td { (step.date.as_deref().unwrap_or_default()) } th scope="row" { (step.action) } td { (step.words) } }
                }
            }
        }
        @if !shown.builds.is_empty() {
            h2 { "Builds" }
            ul { @for build in &shown.builds { li { a href={ "/record/" (build) } { (build) } } } }
        }
        h2 { "As written" }
        pre { (shown.text) }
    }
}

fn number_cells(number: &Number) -> Markup {
    match number {
        Number::Known { value, low, high } if low == high => {
            html! { td.n { (figures(*value)) } td {} }
        }
        Number::Known { value, low, high } => {
            html! { td.n { (figures(*value)) } td { (figures(*low)) " … " (figures(*high)) } }
        }
        Number::Missing { missing } => html! { td.n { "?" } td { (missing) } },
    }
}

/// Four figures are more than a bench can read.
fn figures(value: f64) -> String {
    let decimals = if value.abs() < 10.0 {
        2
    } else if value.abs() < 1000.0 {
        1
    } else {
        0
    };
    format!("{value:.decimals$}")
}

fn flag_line(flag: &FlagAnswer) -> Markup {
    html! {
        a href={ "/record/" (flag.record) } { (flag.record) } ", line " (flag.line) ": "
        strong { (flag.flag) } " " (flag.message)
    }
}
