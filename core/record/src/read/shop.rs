//! Reads `shop.yaml`.

use taperbook_units::{Length, Units};

use super::Reader;
use super::keys::{Place, nowhere};
use super::spec::{self, Spec};
use crate::shop::{Allowances, Board, Clamp, InstrumentErrors, Saw, Shop};
use crate::source::quoted;
use crate::yaml::{Entry, Map, Node, Value};

static SHOP: Place = Place {
    name: "`shop.yaml`",
    keys: &["name", "units", "held_at", "boards", "clamps", "errors", "allowances", "saws"],
    elsewhere: nowhere,
};
static BOARD: Place =
    Place { name: "a board", keys: &["name", "clamp", "tilt", "note"], elsewhere: nowhere };
static CLAMP: Place =
    Place { name: "a clamp", keys: &["name", "gives", "note"], elsewhere: nowhere };
static SAW: Place = Place { name: "a saw", keys: &["name", "kerf", "note"], elsewhere: nowhere };
static ERRORS: Place = Place {
    name: "`errors`",
    keys: &[
        "caliper",
        "caliper_at_tip",
        "wall",
        "length",
        "stated_length",
        "scale",
        "balance",
        "board_drop",
        "reclamp",
        "tip_angle",
        "tip_angle_by_instrument",
        "pull",
        "frequency",
        "tilt",
        "saw",
    ],
    elsewhere: nowhere,
};
static ALLOWANCES: Place =
    Place { name: "`allowances`", keys: &["tip_top", "butt", "lacquer"], elsewhere: nowhere };

/// Reads what the shop shares.
pub(crate) fn shop<'s>(reader: &mut Reader<'s, '_>, map: &Map<'s>) -> Shop {
    const UNITS: [(&str, Units); 7] = [
        ("inches", Units::Inches),
        ("millimetres", Units::Millimetres),
        ("millimeters", Units::Millimetres),
        ("inch", Units::Inches),
        ("in", Units::Inches),
        ("mm", Units::Millimetres),
        ("metric", Units::Millimetres),
    ];
    let known = reader.known(map, &SHOP);
    Shop {
        name: reader.text(known.get("name"), "the rod shed"),
        units: reader.word(known.get("units"), &UNITS),
        held_at: reader.length(known.get("held_at"), &spec::HELD_AT),
        boards: boards(reader, known.get("boards")),
        clamps: clamps(reader, known.get("clamps")),
        errors: errors(reader, known.get("errors")),
        allowances: allowances(reader, known.get("allowances")),
        saws: saws(reader, known.get("saws")),
    }
}

/// One thing of the shop with its name, from a map by name or a list with `name`.
struct Named<'n, 's> {
    name: String,
    node: &'n Node<'s>,
}

fn named<'n, 's>(
    reader: &mut Reader<'s, '_>,
    entry: Option<&'n Entry<'s>>,
    example: &str,
) -> Vec<Named<'n, 's>> {
    let Some(entry) = entry else { return Vec::new() };
    let mut things = Vec::new();
    match &entry.value.value {
        Value::Map(map) => {
            for entry in &map.entries {
                if entry.repeated {
                    let message = format!(
                        "{} stands twice: the first is used; take one out",
                        quoted(&entry.key)
                    );
                    reader.problems.report(entry.key_span.clone(), message);
                } else {
                    things.push(Named { name: entry.key.to_string(), node: &entry.value });
                }
            }
        }
        Value::List(list) => {
            for item in &list.items {
                let name = match &item.node.value {
                    Value::Map(map) => map.get("name").and_then(|name| name.value.text()),
                    Value::Scalar(scalar) => Some(&*scalar.text),
                    _ => None,
                };
                match name {
                    Some(name) => things.push(Named { name: name.to_owned(), node: &item.node }),
                    None => {
                        let span = item.start..item.node.span.end.max(item.start);
                        reader.problems.report(
                            span,
                            format!("this has no name: write `{}: {{ {example} }}`", entry.key),
                        );
                    }
                }
            }
        }
        Value::Empty => reader.nothing_after(entry, &format!("`{{ {example} }}`")),
        Value::Scalar(_) => {
            let message = format!(
                "{} has no name: write `{}: {{ {example} }}`",
                reader.written(&entry.value),
                entry.key
            );
            reader.problems.report(entry.value.span.clone(), message);
        }
    }
    things
}

fn boards<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<Board> {
    let mut boards = Vec::new();
    for Named { name, node } in named(reader, entry, "long board: { clamp: vice, tilt: 0.5 deg }") {
        let mut board = Board { name, ..Board::default() };
        if let Value::Map(map) = &node.value {
            let known = reader.known(map, &BOARD);
            reader.plain_text(known.get("note"), "on the long wall");
            board.clamp = reader.plain_text(known.get("clamp"), "vice");
            board.tilt = known
                .get("tilt")
                .filter(|tilt| !tilt.value.is_empty())
                .and_then(|tilt| reader.signed(&tilt.value, &spec::TILT))
                .map(taperbook_units::Angle::from_si);
        }
        boards.push(board);
    }
    boards
}

fn clamps<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<Clamp> {
    let mut clamps = Vec::new();
    for Named { name, node } in named(reader, entry, "vice: { gives: 0.5 deg }") {
        let mut clamp = Clamp { name, ..Clamp::default() };
        if let Value::Map(map) = &node.value {
            let known = reader.known(map, &CLAMP);
            clamp.gives = reader
                .quantity(known.get("gives"), &spec::GIVES)
                .map(|gives| taperbook_units::Angle::from_si(gives.value.si));
            clamp.note = reader.plain_text(known.get("note"), "rubber jaws");
        }
        clamps.push(clamp);
    }
    clamps
}

fn saws<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<Saw> {
    let by_name = matches!(entry, Some(Entry { value: Node { value: Value::Map(_), .. }, .. }));
    let mut saws = Vec::new();
    for Named { name, node } in named(reader, entry, "fine saw: 1 mm") {
        let kerf = match &node.value {
            Value::Map(map) => {
                let known = reader.known(map, &SAW);
                reader.plain_text(known.get("note"), "for thin tips");
                reader.length(known.get("kerf"), &spec::KERF).map(|kerf| kerf.value)
            }
            Value::Scalar(_) if by_name => reader.signed(node, &spec::KERF).map(Length::from_si),
            _ => None,
        };
        saws.push(Saw { name, kerf });
    }
    saws
}

fn errors<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> InstrumentErrors {
    let Some(map) = entry.and_then(|entry| reader.map(entry, "{ caliper: 0.03 mm, scale: 0.5 g }"))
    else {
        return InstrumentErrors::default();
    };
    let known = reader.known(map, &ERRORS);
    let mut value =
        |key: &str, spec: &Spec| reader.quantity(known.get(key), spec).map(|found| found.value.si);
    InstrumentErrors {
        caliper: value("caliper", &spec::ERROR_LENGTH).map(Length::from_si),
        caliper_at_tip: value("caliper_at_tip", &spec::ERROR_LENGTH).map(Length::from_si),
        wall: value("wall", &spec::ERROR_LENGTH).map(Length::from_si),
        length: value("length", &spec::ERROR_LENGTH).map(Length::from_si),
        stated_length: value("stated_length", &spec::ERROR_LENGTH).map(Length::from_si),
        balance: value("balance", &spec::ERROR_LENGTH).map(Length::from_si),
        scale: value("scale", &spec::ERROR_MASS).map(taperbook_units::Mass::from_si),
        board_drop: value("board_drop", &spec::ERROR_LENGTH).map(Length::from_si),
        reclamp: value("reclamp", &spec::ERROR_PART),
        tip_angle: value("tip_angle", &spec::ERROR_ANGLE).map(taperbook_units::Angle::from_si),
        tip_angle_by_instrument: value("tip_angle_by_instrument", &spec::ERROR_ANGLE)
            .map(taperbook_units::Angle::from_si),
        pull: value("pull", &spec::ERROR_PART),
        frequency: value("frequency", &spec::ERROR_PART),
        tilt: value("tilt", &spec::ERROR_ANGLE).map(taperbook_units::Angle::from_si),
        saw: value("saw", &spec::ERROR_LENGTH).map(Length::from_si),
    }
}

fn allowances<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Allowances {
    const EXAMPLE: &str = "{ tip_top: 0.05 mm .. 0.15 mm, lacquer: 0.05 mm }";
    let Some(map) = entry.and_then(|entry| reader.map(entry, EXAMPLE)) else {
        return Allowances::default();
    };
    let known = reader.known(map, &ALLOWANCES);
    Allowances {
        tip_top: clearance(reader, known.get("tip_top")),
        butt: clearance(reader, known.get("butt")),
        lacquer: reader.length(known.get("lacquer"), &spec::CLEARANCE).map(|lacquer| lacquer.value),
    }
}

/// Reads a range of which both ends are needed.
fn clearance<'s>(
    reader: &mut Reader<'s, '_>,
    entry: Option<&Entry<'s>>,
) -> Option<(Length, Length)> {
    let entry = entry?;
    let range = reader.interval(entry, &spec::CLEARANCE)?;
    match (range.value.low, range.value.high) {
        (Some(low), Some(high)) => Some((Length::from_si(low.si), Length::from_si(high.si))),
        _ => {
            let message = format!(
                "{} lacks an end: write least and most, such as `0.05 mm .. 0.15 mm`",
                reader.written(&entry.value)
            );
            reader.problems.report(range.span, message);
            None
        }
    }
}
