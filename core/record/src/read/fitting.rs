//! Reads fittings.

use super::Reader;
use super::card::item_map;
use super::keys::{Place, nowhere};
use super::spec;
use crate::card::{Fitting, Part, Size};
use crate::yaml::{Entry, Map};

static FITTING: Place = Place {
    name: "a fitting",
    keys: &["kind", "part", "sizes", "adds", "maker", "date"],
    elsewhere: in_sizes,
};
static SIZE: Place = Place {
    name: "a size",
    keys: &["marked", "bore", "ring", "height", "foot", "weight", "count", "note"],
    elsewhere: nowhere,
};
static ADDS: Place = Place { name: "`adds`", keys: &["length", "weight"], elsewhere: nowhere };

const EXAMPLE: &str = "- { marked: 5.5/64 in, bore: 2.25 mm, count: 4 }";

fn in_sizes(key: &str) -> Option<std::borrow::Cow<'static, str>> {
    match key {
        "bore" | "ring" | "count" | "marked" | "height" | "foot" => {
            Some(format!("write it in `sizes`, such as `{EXAMPLE}`").into())
        }
        "length" | "weight" => Some(
            "write what it adds to the rod, such as `adds: { length: 8 mm, weight: 0.6 g }`".into(),
        ),
        _ => None,
    }
}

/// Reads a fitting.
pub(crate) fn fitting<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>) -> Fitting {
    const PARTS: [(&str, Part); 4] = [
        ("tip-top", Part::TipTop),
        ("butt-ferrule", Part::ButtFerrule),
        ("reel-seat", Part::ReelSeat),
        ("guide", Part::Guide),
    ];
    let known = reader.known(map, &FITTING);
    if known.get("part").is_none() {
        let kind = map.get("kind").map_or(0..0, |kind| kind.span());
        let message = "a fitting without `part`: write `part: tip-top`, or `butt-ferrule`, `reel-seat` or `guide`";
        reader.problems.report(kind, message);
    }
    reader.plain_text(known.get("maker"), "Northfell");
    reader.date(known.get("date"));
    let part = reader.word(known.get("part"), &PARTS);
    // The ring of a guide says as much as the bore of any other part.
    let is_guide = part.as_ref().is_some_and(|part| part.value == Part::Guide);
    let sizes = known.get("sizes").map(|entry| sizes(reader, entry, is_guide)).unwrap_or_default();
    let mut fitting = Fitting { part, sizes, ..Fitting::default() };
    if let Some(map) =
        known.get("adds").and_then(|entry| reader.map(entry, "{ length: 8 mm, weight: 0.6 g }"))
    {
        let known = reader.known(map, &ADDS);
        fitting.adds_length = reader.length(known.get("length"), &spec::ADDS_LENGTH);
        fitting.adds_weight = reader.mass(known.get("weight"), &spec::ADDS_WEIGHT);
    }
    fitting
}

fn sizes<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>, is_guide: bool) -> Vec<Size> {
    let Some(list) = reader.list(entry, EXAMPLE) else { return Vec::new() };
    let mut sizes = Vec::new();
    for item in &list.items {
        let Some(map) = item_map(reader, &item.node, EXAMPLE) else { continue };
        let known = reader.known(map, &SIZE);
        reader.plain_text(known.get("note"), "a tight one");
        let has_ring = is_guide && known.get("ring").is_some();
        if known.get("bore").is_none() && known.get("marked").is_none() && !has_ring {
            let message = format!(
                "{} has no bore: write the measured one, or the marked one, such as `{EXAMPLE}`",
                reader.written(&item.node)
            );
            reader.problems.report(item.node.span.clone(), message);
        }
        sizes.push(Size {
            marked: reader.length(known.get("marked"), &spec::BORE).map(|marked| marked.value),
            bore: reader.length(known.get("bore"), &spec::BORE).map(|bore| bore.value),
            ring: reader.length(known.get("ring"), &spec::RING).map(|ring| ring.value),
            height: reader.length(known.get("height"), &spec::RING).map(|height| height.value),
            foot: reader.length(known.get("foot"), &spec::ADDS_LENGTH).map(|foot| foot.value),
            weight: reader.mass(known.get("weight"), &spec::ADDS_WEIGHT).map(|weight| weight.value),
            count: reader.count(known.get("count"), 0, 1_000_000).map(|count| count.value),
            span: item.start..item.node.span.end,
        });
    }
    sizes
}
