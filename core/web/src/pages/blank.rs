//! A blank card or an offcut: its numbers, the rods that it could be, all its builds, and what the shop has learned of it.

use maud::{Markup, html};
use taperbook_draw::Dot;
use taperbook_engine::{Answer, HitAnswer, Request, ShowAnswer};
use taperbook_plugin::Number;
use taperbook_plugin::print::{ORDER, keyed, keyed_value};
use taperbook_units::Units;

use crate::print::{self, Unknown};
use crate::site::{Look, Trouble, address, in_query};
use crate::streamed::later;

/// So many builds of a model are listed and drawn.
const MOST_BUILDS: usize = 60;

/// What the page of a blank has of its own.
pub(crate) async fn blank(look: &Look, shown: &ShowAnswer) -> Result<Markup, Trouble> {
    let record = || shown.record.clone();
    let query = format!("kind:build blank:\"{}\"", stem(&shown.record));
    let questions = vec![
        Request::Marks { record: record(), tip_mm: 0.0, butt_mm: 0.0, held_at_mm: None },
        Request::Find { query: query.clone(), limit: MOST_BUILDS },
    ];
    let answers = look.ask(questions).await?;
    let units = look.seen.units;
    let builds = match answers.get(1) {
        Some(Answer::Find(found)) => found.hits.as_slice(),
        _ => &[],
    };
    Ok(html! {
        @match answers.front() {
            Some(Answer::Marks(marks)) => (print::drawings(|paper| taperbook_draw::blank_on(marks, &[], units, paper))),
            other => (print::not_yet("the blank", other)),
        }
        (numbers(units, shown))
        @if shown.kind == "blank" { (all_builds(units, shown, &query, builds)) }
        (later())
    })
}

/// What stands at the place of [`later`]: all builds of a model are looked at for it.
pub(crate) async fn learned_and_possible(look: Look, record: String) -> Markup {
    let units = look.seen.units;
    let questions = vec![
        Request::Explain { what: record.clone(), number: None, held_at_mm: None },
        Request::Reach { record, aim: None, limits: None, held_at_mm: None },
    ];
    let answers = match look.ask(questions).await {
        Ok(answers) => answers,
        Err(trouble) => return html! { p.fault { (print::words(&trouble.message)) } },
    };
    html! {
        @if let Some(Answer::ExplainRecord(learned)) = answers.front() {
            h2 { "What the shop has learned of it" }
            ul.learned { @for words in &learned.words { li { (print::words(words)) } } }
        }
        h2 { "What it could become" }
        @match answers.get(1) {
            Some(Answer::Reach(reach)) => {
                figure.scrolled tabindex="0" aria-label="the rods that it could be, drawn" {
                    (maud::PreEscaped(taperbook_draw::inline(&taperbook_draw::reach(reach, units))))
                }
            },
            other => (print::not_yet("that", other)),
        }
    }
}

fn stem(record: &str) -> &str {
    record.rsplit('/').next().unwrap_or(record)
}

fn numbers(units: Units, shown: &ShowAnswer) -> Markup {
    let known = ORDER.into_iter().map(|measure| measure.json_key());
    let mut unknown = Unknown::default();
    let rows: Vec<(&str, &Number)> = known
        .filter_map(|key| Some((key, shown.numbers.get(key)?)))
        .filter(|(key, number)| !unknown.takes(key, Some(number)))
        .collect();
    html! {
        @if !rows.is_empty() || !unknown.is_empty() {
            h2 { (if shown.kind == "blank" { "Uncut" } else { "As it is" }) }
        }
        @if !rows.is_empty() {
            table.numbers {
                @for (key, number) in rows {
                    tr { th scope="row" { (print::name(key)) } td { (print::number(units, key, number)) } }
                }
            }
        }
        (unknown)
    }
}

/// The builds in a picture and in a table.
fn all_builds(units: Units, shown: &ShowAnswer, query: &str, builds: &[HitAnswer]) -> Markup {
    let n_builds = shown.builds.len();
    if n_builds == 0 {
        return html! { h2 { "Builds" } p { "There is no build of it yet." } };
    }
    let dots: Vec<Dot> = builds.iter().map(dot).collect();
    let model = stem(&shown.record);
    html! {
        h2 { (n_builds) (if n_builds == 1 { " build" } else { " builds" }) }
        (print::drawings(|paper| taperbook_draw::power_length(model, &dots, units, paper)))
        div.scrolled tabindex="0" role="region" aria-label="builds" {
            table.builds {
                thead { tr {
                    th scope="col" { "Build" } th scope="col" { "Off tip" } th scope="col" { "Off butt" }
                    th scope="col" { "Length" } th scope="col" { "Power" } th scope="col" { "Flags" }
                } }
                tbody { @for build in builds { (row(units, build)) } }
            }
        }
        @if builds.len() < n_builds {
            p { "The first " (builds.len()) " are shown. " a href={ "/?q=" (in_query(query)) } { "Ask for them" } " with the line at the top." }
        }
    }
}

fn dot(build: &HitAnswer) -> Dot {
    let number = |key: &str| {
        build.numbers.get(key).cloned().unwrap_or_else(|| Number::missing("not worked out"))
    };
    let value = |key: &str| build.numbers.get(key).and_then(Number::value);
    let is_cut = value("cut_mm").is_some_and(|cut| 0.0 < cut);
    let uncut = value("uncut_length_mm").zip(value("uncut_power_g"));
    Dot {
        record: build.record.clone(),
        length_mm: number("length_mm"),
        power_g: number("power_g"),
        uncut: uncut.filter(|_| is_cut),
        is_meant: false,
    }
}

fn row(units: Units, build: &HitAnswer) -> Markup {
    let cut = |key: &str| {
        let mm = build.numbers.get(key).and_then(Number::value);
        mm.map(|mm| if mm == 0.0 { "none".to_owned() } else { keyed_value(units, key, mm) })
    };
    let best = |key: &str| {
        build.numbers.get(key).and_then(Number::value).map(|value| keyed_value(units, key, value))
    };
    html! {
        tr {
            th scope="row" { a href=(address("record", &build.record)) { (stem(&build.record)) } }
            td { (cut("tip_cut_mm").unwrap_or_default()) }
            td { (cut("butt_cut_mm").unwrap_or_default()) }
            td { (best("length_mm").unwrap_or_default()) }
            td {
                @match build.numbers.get("power_g") {
                    Some(known @ Number::Known { .. }) => (keyed(units, "power_g", known)),
                    _ => "not known",
                }
            }
            td { (build.flags.join(", ")) }
        }
    }
}
