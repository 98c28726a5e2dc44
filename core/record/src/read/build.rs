//! Reads builds; the bench has a file of its own.

use std::borrow::Cow;

use taperbook_units::Quantity;

use super::keys::{Place, misspelt, nowhere};
use super::{Reader, bench, spec};
use crate::build::{Build, Limit, Verdict};
use crate::check;
use crate::source::quoted;
use crate::yaml::{Entry, Map};
use crate::{Measure, Spanned};

static BUILD: Place = Place {
    name: "a build",
    keys: &[
        "kind", "blank", "customer", "purpose", "date", "held_at", "limits", "aim", "bench",
        "verdict", "rating", "told", "said",
    ],
    elsewhere: not_at_the_top,
};
/// What stands beside the ranges and is no measure.
static MEASURES: Place = Place { name: "a build", keys: &[], elsewhere: nowhere };

fn not_at_the_top(key: &str) -> Option<Cow<'static, str>> {
    match key {
        "read" | "cut" | "plan" | "pull" | "feel" | "settled" => {
            Some(format!("write it in `bench`, as an item that begins with `- {key}:`").into())
        }
        "calipers" => Some("write it in the bench, in a `read`, or on the blank card".into()),
        _ => {
            let measure = measure(key)?;
            let example = spec::of(measure).example;
            Some(format!("write it in the bench, such as `- read: {{ {key}: {example} }}`, or in `limits` or `aim`").into())
        }
    }
}

/// Reads a build.
pub(crate) fn build<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>) -> Build {
    let verdicts = Verdict::ALL.map(|verdict| (verdict.word(), verdict));
    let known = reader.known(map, &BUILD);
    if known.get("blank").is_none() {
        let kind = map.get("kind").map_or(0..0, |kind| kind.span());
        reader.problems.report(
            kind,
            "a build without `blank`: name its blank card, such as `blank: heron-704`",
        );
    }
    let build = Build {
        blank: reader.text(known.get("blank"), "heron-704"),
        customer: reader.text(known.get("customer"), "Ilse"),
        purpose: reader.text(known.get("purpose"), "small spoons for sea trout"),
        date: reader.date(known.get("date")),
        held_at: reader.length(known.get("held_at"), &spec::HELD_AT),
        limits: known.get("limits").map(|entry| limits(reader, entry)).unwrap_or_default(),
        aim: known.get("aim").map(|entry| aim(reader, entry)).unwrap_or_default(),
        bench: known.get("bench").map(|entry| bench::bench(reader, entry)).unwrap_or_default(),
        verdict: reader.word(known.get("verdict"), &verdicts),
        rating: reader.count(known.get("rating"), 1, 5).map(|rating| Spanned {
            value: u8::try_from(rating.value).unwrap_or(5),
            span: rating.span,
        }),
        told: reader.text(known.get("told"), "2026-03-20 agreed by phone"),
        said: reader.text(known.get("said"), "2026-05-02 throws further than the old one"),
    };
    check::build(&build, reader.source, reader.problems);
    build
}

/// The measure of a key; `frequency` is what the bench calls recovery.
pub(crate) fn measure(key: &str) -> Option<Measure> {
    if key == "frequency" { Some(Measure::Recovery) } else { Measure::from_key(key) }
}

fn limits<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>) -> Vec<Limit> {
    let Some(map) = reader.map(entry, "{ length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm }") else {
        return Vec::new();
    };
    let mut limits: Vec<Limit> = Vec::new();
    for (measure, entry) in measures(reader, map, "limits") {
        if let Some(Spanned { value: range, span }) = reader.interval(entry, spec::of(measure)) {
            limits.push(Limit { measure, range, span });
        }
    }
    limits
}

fn aim<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>) -> Vec<(Measure, Spanned<Quantity>)> {
    let Some(map) = reader.map(entry, "{ length: 6'10\", power: 235 g }") else {
        return Vec::new();
    };
    let mut aims = Vec::new();
    for (measure, entry) in measures(reader, map, "aim") {
        let spec = spec::of(measure);
        if entry.value.text().is_some_and(|text| text.contains("..")) {
            let message = format!(
                "{} is a range where one value belongs: write the value to aim for, such as `{}`, and put the range into `limits`",
                reader.written(&entry.value),
                spec.example
            );
            reader.problems.report(entry.value.span.clone(), message);
        } else if let Some(quantity) = reader.quantity(Some(entry), spec) {
            aims.push((measure, quantity));
        }
    }
    aims
}

/// The entries of limits or aim with the measure that each is of.
fn measures<'n, 's>(
    reader: &mut Reader<'s, '_>,
    map: &'n Map<'s>,
    place: &str,
) -> Vec<(Measure, &'n Entry<'s>)> {
    let mut found: Vec<(Measure, &Entry<'s>)> = Vec::new();
    for entry in &map.entries {
        let Some(measure) = measure(&entry.key) else {
            if matches!(&*entry.key, "note" | "date") {
                reader.unknown(entry, &MEASURES);
                continue;
            }
            let known = Measure::ALL.into_iter().map(Measure::key);
            let cure = match misspelt(&entry.key, known.clone()) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("write {}", super::scalars::one_of(known)),
            };
            let message = format!("{} is nothing that `{place}` knows: {cure}", quoted(&entry.key));
            reader.problems.report(entry.key_span.clone(), message);
            continue;
        };
        if found.iter().any(|(other, _)| *other == measure) {
            let message = format!(
                "{} stands twice in `{place}`: the first is used; take one out",
                quoted(&entry.key)
            );
            reader.problems.report(entry.key_span.clone(), message);
        } else {
            found.push((measure, entry));
        }
    }
    found
}
