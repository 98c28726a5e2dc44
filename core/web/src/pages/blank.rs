//! A blank card or an offcut: its numbers, the rods that it could be, all its builds, and what the shop has learned of it.

use maud::{Markup, html};
use taperbook_draw::Dot;
use taperbook_engine::{Answer, HitAnswer, Request, ShowAnswer};
use taperbook_plugin::Number;
use taperbook_plugin::print::{ORDER, keyed, keyed_value};
use taperbook_units::Units;

use crate::pages::build;
use crate::print::{self, Unknown};
use crate::site::{Look, address, in_query};
use crate::streamed::Later;

/// So many builds of a model are listed and drawn.
const MOST_BUILDS: usize = 60;

/// What is worked out for the page of a blank, or looked for: how it lies, its builds, what they teach, what it could be.
pub(crate) fn worked_out(look: &Look, shown: &ShowAnswer, later: &mut Later) -> Markup {
    let units = look.seen.units;
    let record = || shown.record.clone();
    let marks = Request::Marks { record: record(), tip_mm: 0.0, butt_mm: 0.0, held_at_mm: None };
    let learned = Request::Explain { what: record(), number: None, held_at_mm: None };
    let reach = Request::Reach { record: record(), aim: None, limits: None, held_at_mm: None };
    html! {
        (later.ask(look, vec![marks], move |answers| build::marked(units, answers)))
        @if shown.kind == "blank" { (builds(look, shown, later)) }
        (later.ask(look, vec![learned], |answers| html! {
            @if let [Answer::ExplainRecord(learned)] = answers {
                h2 { "What the shop has learned of it" }
                ul.learned { @for words in &learned.words { li { (print::words(words)) } } }
            }
        }))
        h2 { "What it could become" }
        (later.ask(look, vec![reach], move |answers| match answers {
            [Answer::Reach(reach)] => html! {
                figure.scrolled tabindex="0" aria-label="the rods that it could be, drawn" {
                    (maud::PreEscaped(taperbook_draw::inline(&taperbook_draw::reach(reach, units))))
                }
            },
            answers => print::not_yet("that", answers.first()),
        }))
    }
}

fn stem(record: &str) -> &str {
    record.rsplit('/').next().unwrap_or(record)
}

pub(crate) fn numbers(units: Units, shown: &ShowAnswer) -> Markup {
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

/// The builds: how many there are, and then the first of them in a picture and in a table.
fn builds(look: &Look, shown: &ShowAnswer, later: &mut Later) -> Markup {
    let units = look.seen.units;
    let n_builds = shown.builds.len();
    let model = stem(&shown.record).to_owned();
    let query = format!("kind:build blank:\"{model}\"");
    let find = Request::Find { query: query.clone(), limit: MOST_BUILDS };
    html! {
        @if n_builds == 0 {
            h2 { "Builds" }
            p { "There is no build of it yet." }
        } @else {
            h2 { (n_builds) (if n_builds == 1 { " build" } else { " builds" }) }
            (later.ask(look, vec![find], move |answers| match answers {
                [Answer::Find(found)] => html! {
                    (in_picture_and_table(units, &model, &found.hits))
                    @if found.hits.len() < n_builds {
                        p { "The first " (found.hits.len()) " are shown. " a href={ "/?q=" (in_query(&query)) } { "Ask for them" } " with the line at the top." }
                    }
                },
                answers => print::not_yet("them", answers.first()),
            }))
        }
    }
}

fn in_picture_and_table(units: Units, model: &str, builds: &[HitAnswer]) -> Markup {
    let dots: Vec<Dot> = builds.iter().map(dot).collect();
    html! {
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
