//! Reads blank cards and offcuts.

use std::borrow::Cow;

use taperbook_units::Length;

use super::Reader;
use super::keys::{Known, Place, nowhere};
use super::spec::{self, Spec};
use crate::card::{Blank, Caliper, Joint, Material, Offcut, Spine, TipKind};
use crate::check;
use crate::source::quoted;
use crate::yaml::{Entry, ListItem, Map, Node, Value};
use crate::{End, Spanned};

const BLANK_KEYS: [&str; 15] = [
    "kind", "maker", "length", "pieces", "material", "tip", "weight", "calipers", "modulus",
    "density", "spine", "joints", "held_at", "stock", "date",
];
const OFFCUT_KEYS: [&str; 18] = [
    "kind", "maker", "length", "pieces", "material", "tip", "weight", "calipers", "modulus",
    "density", "spine", "joints", "held_at", "stock", "date", "from", "end", "item",
];

/// More than this nobody has on a rack.
const MOST_IN_STOCK: u32 = 10_000;

static BLANK: Place = Place { name: "a blank card", keys: &BLANK_KEYS, elsewhere: not_on_a_card };
static OFFCUT: Place = Place { name: "an offcut", keys: &OFFCUT_KEYS, elsewhere: not_on_a_card };
static CALIPER: Place = Place {
    name: "a caliper reading",
    keys: &["at", "od", "across", "wall", "note"],
    elsewhere: nowhere,
};
static JOINT: Place =
    Place { name: "a joint", keys: &["at", "type", "overlap", "note"], elsewhere: nowhere };
static SPINE: Place =
    Place { name: "`spine`", keys: &["angle", "from", "note"], elsewhere: nowhere };

fn not_on_a_card(key: &str) -> Option<Cow<'static, str>> {
    match key {
        "tip_od" | "butt_od" => {
            Some("write diameters in `calipers`, such as `- { at: 0 in, od: 11.20 mm }`".into())
        }
        "power" | "tip_angle" | "frequency" | "recovery" => {
            Some("it is read on one piece, so write it in the bench of a build".into())
        }
        "bench" | "limits" | "aim" => Some("it is part of a build".into()),
        _ => None,
    }
}

/// Reads a blank card.
pub(crate) fn blank<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>) -> Blank {
    let known = reader.known(map, &BLANK);
    let blank = card(reader, &known, &spec::LENGTH);
    check::card(&blank, reader.problems);
    blank
}

/// Reads an offcut.
pub(crate) fn offcut<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>) -> Offcut {
    let known = reader.known(map, &OFFCUT);
    let from = reader.text(known.get("from"), "ilse-heron");
    let end = reader.word(known.get("end"), &[("tip", End::Tip), ("butt", End::Butt)]);
    let item = reader.count(known.get("item"), 1, 100_000);
    let card = card(reader, &known, &spec::OFFCUT_LENGTH);
    check::card(&card, reader.problems);
    Offcut { from, end, item, card }
}

fn card<'s>(reader: &mut Reader<'s, '_>, known: &Known<'_, 's>, length: &Spec) -> Blank {
    const MATERIALS: [(&str, Material); 3] =
        [("carbon", Material::Carbon), ("glass", Material::Glass), ("blend", Material::Blend)];
    const TIPS: [(&str, TipKind); 2] = [("tubular", TipKind::Tubular), ("solid", TipKind::Solid)];
    reader.date(known.get("date"));
    Blank {
        maker: reader.text(known.get("maker"), "Northfell"),
        length: reader.length(known.get("length"), length),
        pieces: reader.count(known.get("pieces"), 1, 20),
        material: reader.word(known.get("material"), &MATERIALS),
        tip: reader.word(known.get("tip"), &TIPS),
        weight: reader.mass(known.get("weight"), &spec::WEIGHT),
        calipers: calipers(reader, known.get("calipers")),
        modulus: reader.pressure(known.get("modulus"), &spec::MODULUS),
        density: reader.density(known.get("density"), &spec::DENSITY),
        spine: spine(reader, known.get("spine")),
        joints: joints(reader, known.get("joints")),
        held_at: reader.length(known.get("held_at"), &spec::HELD_AT),
        stock: reader.count(known.get("stock"), 0, MOST_IN_STOCK),
    }
}

/// Reads caliper readings and puts them in the order of their distance from the butt.
pub(crate) fn calipers<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<Caliper> {
    const EXAMPLE: &str = "- { at: 30 in, od: 8.4 mm }";
    let Some(list) = entry.and_then(|entry| reader.list(entry, EXAMPLE)) else { return Vec::new() };
    let mut calipers: Vec<Caliper> =
        list.items.iter().filter_map(|item| caliper(reader, item, EXAMPLE)).collect();
    // The sort is stable, so readings at one place stay in the order in which they were written.
    calipers.sort_by(|a, b| a.at.si().total_cmp(&b.at.si()));
    calipers
}

fn caliper<'s>(reader: &mut Reader<'s, '_>, item: &ListItem<'s>, example: &str) -> Option<Caliper> {
    let map = item_map(reader, &item.node, example)?;
    let known = reader.known(map, &CALIPER);
    reader.plain_text(known.get("note"), "over the label");
    let at = reader.length(known.get("at"), &spec::AT);
    let od = reader.length(known.get("od"), &spec::OD);
    let across = reader.length(known.get("across"), &spec::OD);
    let od = od.map(|od| mean(reader, od, across.as_ref()));
    let wall = reader.length(known.get("wall"), &spec::WALL);
    for key in ["at", "od"] {
        if known.get(key).is_none() {
            let message = format!(
                "{} has no `{key}`: write both, such as `{example}`",
                reader.written(&item.node)
            );
            reader.problems.report(item.node.span.clone(), message);
        }
    }
    let span = item.start..item.node.span.end;
    Some(Caliper { at: at?.value, od: od?.value, wall: wall.map(|wall| wall.value), span })
}

/// So far may two diameters at right angles differ, as a part of them, before one of them is likely a slip.
const OUT_OF_ROUND: f64 = 0.1;

/// Gives the mean of two diameters at right angles, or the one that there is.
pub(crate) fn mean(
    reader: &mut Reader,
    one: Spanned<Length>,
    across: Option<&Spanned<Length>>,
) -> Spanned<Length> {
    let Some(across) = across else { return one };
    if one.value * OUT_OF_ROUND < (one.value - across.value).abs() {
        let message = format!(
            "{:.2} mm and {:.2} mm at right angles are too far apart for a blank: measure both again",
            one.value.mm(),
            across.value.mm()
        );
        reader.problems.report(across.span.clone(), message);
    }
    Spanned { value: (one.value + across.value) / 2.0, span: one.span }
}

/// Gives the map of a list's item.
pub(crate) fn item_map<'n, 's>(
    reader: &mut Reader<'s, '_>,
    node: &'n Node<'s>,
    example: &str,
) -> Option<&'n Map<'s>> {
    if let Value::Map(map) = &node.value {
        return Some(map);
    }
    let message = if node.is_empty() {
        format!("nothing stands here: write one such as `{example}`")
    } else {
        format!("{} does not say what it is: write one such as `{example}`", reader.written(node))
    };
    reader.problems.report(node.span.clone(), message);
    None
}

fn joints<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<Joint> {
    const EXAMPLE: &str = "- { at: 43 in, type: ferrule, overlap: 3 in }";
    let Some(list) = entry.and_then(|entry| reader.list(entry, EXAMPLE)) else { return Vec::new() };
    let mut joints = Vec::new();
    for item in &list.items {
        let Some(map) = item_map(reader, &item.node, EXAMPLE) else { continue };
        let known = reader.known(map, &JOINT);
        reader.plain_text(known.get("note"), "tight");
        if known.get("at").is_none() {
            let message = format!(
                "{} has no `at`: write where it is, such as `{EXAMPLE}`",
                reader.written(&item.node)
            );
            reader.problems.report(item.node.span.clone(), message);
        }
        let at = reader.length(known.get("at"), &spec::AT);
        let form = reader.plain_text(known.get("type"), "ferrule");
        let overlap =
            reader.length(known.get("overlap"), &spec::OVERLAP).map(|overlap| overlap.value);
        if let Some(Spanned { value: at, .. }) = at {
            joints.push(Joint { at, form, overlap, span: item.start..item.node.span.end });
        }
    }
    joints
}

/// Reads `40 deg`, `40 deg from the label` or `{ angle: 40 deg, from: the label }`.
fn spine<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Option<Spanned<Spine>> {
    let entry = entry?;
    let span = entry.value.span.clone();
    if let Value::Map(map) = &entry.value.value {
        let known = reader.known(map, &SPINE);
        reader.plain_text(known.get("note"), "soft side");
        let from = reader.plain_text(known.get("from"), "the label");
        if known.get("angle").is_none() {
            let message = format!(
                "{} has no `angle`: write one such as `{{ angle: 40 deg, from: the label }}`",
                quoted("spine")
            );
            reader.problems.report(entry.key_span.clone(), message);
        }
        let angle = reader.angle(known.get("angle"), &spec::SPINE)?;
        return Some(Spanned { value: Spine { angle: angle.value, from }, span });
    }
    let (text, _) = reader.single(entry, spec::SPINE.example)?;
    let Some((angle, from)) = text.split_once(" from ") else {
        let angle = reader.angle(Some(entry), &spec::SPINE)?;
        return Some(Spanned { value: Spine { angle: angle.value, from: None }, span });
    };
    match taperbook_units::Angle::parse(angle) {
        Ok(angle) => {
            Some(Spanned { value: Spine { angle, from: Some(from.trim().to_owned()) }, span })
        }
        Err(error) => {
            reader.problems.report(span, error.message);
            None
        }
    }
}
