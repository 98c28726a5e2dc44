//! The flags of the whole shop, and the problems with line and column.

use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;
use taperbook_engine::{Answer, FaultsAnswer, FlagExplanation, Request};

use crate::Want;
use crate::print;
use crate::site::{Sheet, Site, Trouble, Visit, in_query};

/// How many stand on a page.
const ON_A_PAGE: usize = 60;

/// Which of them.
#[derive(Deserialize)]
pub(crate) struct Which {
    only: Option<String>,
    #[serde(default)]
    from: usize,
}

/// The flags, all or those of one name with what it means.
pub(crate) async fn flags(
    State(site): State<Site>,
    visit: Visit,
    Query(which): Query<Which>,
) -> Result<Response, Trouble> {
    let skip = which.from;
    let only = which.only.clone();
    let wanted = Some(only.clone().unwrap_or_else(|| "flags".to_owned()));
    let mut questions = vec![Request::Faults { only: wanted, skip, limit: ON_A_PAGE }];
    questions.extend(only.clone().map(|what| Request::Explain {
        what,
        number: None,
        held_at_mm: None,
    }));
    let look = site.look(&visit, Want::Soon).await?;
    let mut answers = look.ask(questions).await?;
    let found = match answers.pop_front() {
        Some(Answer::Faults(found)) => found,
        Some(Answer::Refused(refusal)) => {
            return Err(Trouble::refused(StatusCode::NOT_FOUND, refusal.message));
        }
        _ => return Err(Trouble::nonsense()),
    };
    let explained = match answers.pop_front() {
        Some(Answer::ExplainFlag(explained)) => Some(explained),
        _ => None,
    };
    let title = only.as_deref().unwrap_or("Flags");
    let body = flags_page(&found, only.as_deref(), explained.as_ref(), skip);
    Ok(Sheet { title, query: "", seen: look.seen }.page(&visit, &body).into_response())
}

fn flags_page(
    found: &FaultsAnswer,
    only: Option<&str>,
    explained: Option<&FlagExplanation>,
    skip: usize,
) -> Markup {
    let n_all: usize = found.n_flags.values().sum();
    let n_wanted = only.map_or(n_all, |only| found.n_flags.get(only).copied().unwrap_or(0));
    let rest = only.map(|only| format!("only={}&", in_query(only))).unwrap_or_default();
    html! {
        div data-live="flags" {
            h1 { @if let Some(only) = only { "Flag " (only) } @else { "Flags" } }
            @if let Some(explained) = explained {
                dl.explained {
                    dt { "finds" } dd { (print::words(&explained.finds)) }
                    dt { "why" } dd { (print::words(&explained.why)) }
                    dt { "example" } dd { (print::words(&explained.example)) }
                }
                p { a href="/flags" { "all flags" } }
            } @else if 1 < found.n_flags.len() {
                ul.names {
                    @for (name, count) in &found.n_flags {
                        li { a href={ "/flags?only=" (in_query(name)) } { (name) } " " (count) }
                    }
                }
            }
            @if n_wanted == 0 { p { "No flag is raised." } }
            @for flag in &found.flags { (print::flag(flag, true)) }
            (further("/flags", &rest, skip, n_wanted))
        }
    }
}

/// The problems in how records are written.
pub(crate) async fn problems(
    State(site): State<Site>,
    visit: Visit,
    Query(which): Query<Which>,
) -> Result<Response, Trouble> {
    let skip = which.from;
    let only = Some("problems".to_owned());
    let questions = vec![Request::Faults { only, skip, limit: ON_A_PAGE }];
    let look = site.look(&visit, Want::Soon).await?;
    let mut answers = look.ask(questions).await?;
    let Some(Answer::Faults(found)) = answers.pop_front() else { return Err(Trouble::nonsense()) };
    let body = html! {
        div data-live="problems" {
            h1 { "Problems" }
            p { "Mistakes in how records are written; all that could be read of them is in the book." }
            @if found.n_problems == 0 { p { "There is none." } }
            @if ON_A_PAGE < found.n_problems { p { (found.n_problems) " in all." } }
            @for problem in &found.problems { (print::problem(problem, true)) }
            (further("/problems", "", skip, found.n_problems))
        }
    };
    Ok(Sheet { title: "Problems", query: "", seen: look.seen }.page(&visit, &body).into_response())
}

/// Leads to those before and after.
fn further(path: &str, rest: &str, skip: usize, n_all: usize) -> Markup {
    let shown_to = (skip + ON_A_PAGE).min(n_all);
    html! {
        @if skip != 0 || shown_to < n_all {
            p {
                (n_all.min(skip + 1)) " to " (shown_to) " of " (n_all) ". "
                @if skip != 0 {
                    a href={ (path) "?" (rest) "from=" (skip.saturating_sub(ON_A_PAGE)) } { "those before" } " "
                }
                @if shown_to < n_all { a href={ (path) "?" (rest) "from=" (shown_to) } { "those after" } }
            }
        }
    }
}
