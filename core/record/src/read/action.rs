//! Reads what the actions of a bench hold.

use std::borrow::Cow;

use taperbook_units::Length;

use super::bench::Beside;
use super::keys::{Known, Place, nowhere};
use super::{Reader, card, spec};
use crate::build::{Action, BoardReading, Cut, Plan, Pull, Reading, Settled};
use crate::source::quoted;
use crate::yaml::{Entry, Map, Node, Value};
use crate::{Span, Spanned};

static READ: Place = Place {
    name: "a reading",
    keys: &[
        "length",
        "tip_od",
        "tip_od_across",
        "butt_od",
        "butt_od_across",
        "spine",
        "weight",
        "balance",
        "power",
        "tip_angle",
        "angle_by",
        "frequency",
        "recovery",
        "held_at",
        "dressed",
        "board",
        "calipers",
        "date",
        "note",
    ],
    elsewhere: not_in_a_reading,
};
static CUT: Place = Place {
    name: "a cut",
    keys: &["tip", "butt", "with", "keep", "date", "note", "board"],
    elsewhere: not_in_a_cut,
};
static PLAN: Place = Place {
    name: "a plan",
    keys: &["tip", "butt", "date", "note", "board"],
    elsewhere: not_in_a_cut,
};
static PULL: Place = Place {
    name: "a pull",
    keys: &["tip_angle", "load", "held_at", "date", "note", "board"],
    elsewhere: nowhere,
};
static SETTLED: Place = Place {
    name: "`settled`",
    keys: &["tip", "butt", "date", "note", "board"],
    elsewhere: nowhere,
};
static BOARD: Place =
    Place { name: "a board reading", keys: &["load", "points", "note"], elsewhere: nowhere };

const BOARD_EXAMPLE: &str = "- { load: 200 g, points: [[400 mm, -12 mm], [800 mm, -60 mm]] }";

fn not_in_a_reading(key: &str) -> Option<Cow<'static, str>> {
    match key {
        "load" => Some("a pull has one, `- pull: { tip_angle: 90 deg, load: 410 g }`; the third-length weight is `power`".into()),
        "tip" | "butt" => Some(format!("a diameter is `{key}_od`; what comes off is `- cut: {{ {key}: 1 in }}`").into()),
        "free_length" | "stiffness_for_length" | "bend_centre" => Some("it is computed, not read".into()),
        _ => None,
    }
}

fn not_in_a_cut(key: &str) -> Option<Cow<'static, str>> {
    super::build::measure(key).map(|_| {
        format!("what was measured after it is an item of its own, `- read: {{ {key}: … }}`").into()
    })
}

/// Reads one action and what stands inside it with the names of what may stand beside it.
pub(crate) fn read<'s>(
    reader: &mut Reader<'s, '_>,
    entry: &Entry<'s>,
    board_points: Option<&Entry<'s>>,
) -> (Action, Beside) {
    if entry.key == "feel" {
        let feel = reader.plain_text(Some(entry), "loads early, still throws straight");
        return (feel.map_or(Action::Unread, Action::Feel), Beside::default());
    }
    let (place, example) = match &*entry.key {
        "read" => (&READ, "{ length: 7'2\", power: 212 g }"),
        "cut" => (&CUT, "{ tip: 1 in }"),
        "plan" => (&PLAN, "{ tip: 2 in, butt: 3 in }"),
        "pull" => (&PULL, "{ tip_angle: 90 deg, load: 410 g }"),
        _ => (&SETTLED, "{ tip: any stiffer and it won't throw }"),
    };
    if entry.key == "settled"
        && let Some(settled) = settled_without_reason(reader, entry)
    {
        return (Action::Settled(settled), Beside::default());
    }
    let Some(map) = action_map(reader, entry, example) else {
        // That something came off is known, how much is not.
        let unread = if entry.key == "cut" {
            Action::Cut(Cut { unread: true, ..Cut::default() })
        } else {
            Action::Unread
        };
        return (unread, Beside::default());
    };
    let known = reader.known(map, place);
    let beside = Beside::read(reader, &known);
    let action = match &*entry.key {
        "read" => Action::Read(Box::new(reading(reader, entry, map, &known, board_points))),
        "cut" => Action::Cut(cut(reader, entry, &known)),
        "plan" => Action::Plan(plan(reader, entry, &known)),
        "pull" => Action::Pull(pull(reader, entry, &known)),
        _ => Action::Settled(settled(reader, entry, &known)),
    };
    (action, beside)
}

/// Gives the map of an action; a cut such as `1 in` or `tip 1 in` gets the answer that fits.
fn action_map<'n, 's>(
    reader: &mut Reader<'s, '_>,
    entry: &'n Entry<'s>,
    example: &str,
) -> Option<&'n Map<'s>> {
    let cut = matches!(&*entry.key, "cut" | "plan");
    if let (true, Some(text)) = (cut, entry.value.text()) {
        let (end, amount) = match text.split_once(' ') {
            Some((end @ ("tip" | "butt"), amount)) => (Some(end), amount.trim()),
            _ => (None, text),
        };
        if Length::parse(amount).is_ok() {
            let message = match end {
                Some(end) => format!(
                    "{} lacks its braces: write `{}: {{ {end}: {amount} }}`",
                    quoted(text),
                    entry.key
                ),
                None => format!(
                    "{} does not say from which end: write `{}: {{ tip: {amount} }}` or `{{ butt: {amount} }}`",
                    quoted(text),
                    entry.key
                ),
            };
            reader.problems.report(entry.value.span.clone(), message);
            return None;
        }
    }
    reader.map(entry, example)
}

/// Reads what was measured.
fn reading<'s>(
    reader: &mut Reader<'s, '_>,
    entry: &Entry<'s>,
    map: &Map<'s>,
    known: &Known<'_, 's>,
    board_points: Option<&Entry<'s>>,
) -> Reading {
    if let (Some(_), Some(recovery)) = (known.get("frequency"), known.get("recovery")) {
        let message = "`recovery` is the same as `frequency`, which is used: take one out";
        reader.problems.report(recovery.key_span.clone(), message);
    }
    let reading = Reading {
        length: reader.length(known.get("length"), &spec::LENGTH),
        tip_od: diameter(reader, known, ("tip_od", "tip_od_across"), &spec::TIP_OD),
        butt_od: diameter(reader, known, ("butt_od", "butt_od_across"), &spec::BUTT_OD),
        spine: reader.plain_text(known.get("spine"), "up"),
        weight: reader.mass(known.get("weight"), &spec::WEIGHT),
        balance: reader.length(known.get("balance"), &spec::BALANCE),
        power: reader.mass(known.get("power"), &spec::POWER),
        tip_angle: reader.angle(known.get("tip_angle"), &spec::TIP_ANGLE),
        angle_by_instrument: reader
            .word(known.get("angle_by"), &[("eye", false), ("instrument", true)])
            .is_some_and(|by| by.value),
        frequency: reader
            .frequency(known.get("frequency").or(known.get("recovery")), &spec::FREQUENCY),
        held_at: reader.length(known.get("held_at"), &spec::HELD_AT),
        dressed: reader.flag(known.get("dressed")).unwrap_or(false),
        board: board_readings(reader, known.get("board").or(board_points)),
        calipers: card::calipers(reader, known.get("calipers")),
    };
    nothing_read(reader, entry, map, board_points.is_some());
    reading
}

/// Reads a diameter that may have been measured twice, at right angles: the mean of both is that of a round tube of the same
/// stiffness, as far as they differ little.
fn diameter<'s>(
    reader: &mut Reader<'s, '_>,
    known: &Known<'_, 's>,
    (key, across): (&str, &str),
    spec: &spec::Spec,
) -> Option<Spanned<Length>> {
    let (one, other) =
        (reader.length(known.get(key), spec), reader.length(known.get(across), spec));
    if let (None, Some(other)) = (&one, &other) {
        let message =
            format!("`{across}` is the diameter at right angles to `{key}`: write that one too");
        reader.problems.report(other.span.clone(), message);
    }
    Some(card::mean(reader, one?, other.as_ref()))
}

/// Reports a reading in which nothing is read.
fn nothing_read<'s>(
    reader: &mut Reader<'s, '_>,
    entry: &Entry<'s>,
    map: &Map<'s>,
    points_beside: bool,
) {
    let reads = |entry: &Entry<'s>| match &*entry.key {
        "date" | "note" | "held_at" | "dressed" | "angle_by" | "spine" => false,
        "board" => matches!(entry.value.value, Value::List(_)),
        _ => true,
    };
    if !points_beside && !map.entries.iter().any(reads) {
        let message =
            "this reading holds nothing that was read: write one such as `read: { power: 212 g }`";
        reader.problems.report(entry.span(), message);
    }
}

fn board_readings<'s>(reader: &mut Reader<'s, '_>, entry: Option<&Entry<'s>>) -> Vec<BoardReading> {
    let Some(Entry { value: Node { value: Value::List(list), .. }, .. }) = entry else {
        return Vec::new();
    };
    let mut readings = Vec::new();
    for item in &list.items {
        let Some(map) = card::item_map(reader, &item.node, BOARD_EXAMPLE) else { continue };
        let known = reader.known(map, &BOARD);
        reader.plain_text(known.get("note"), "still swinging");
        let load = reader.mass(known.get("load"), &spec::LOAD);
        let points = known.get("points").map(|entry| points(reader, entry)).unwrap_or_default();
        for key in ["load", "points"] {
            if known.get(key).is_none() {
                let message = format!(
                    "{} has no `{key}`: write both, such as `{BOARD_EXAMPLE}`",
                    reader.written(&item.node)
                );
                reader.problems.report(item.node.span.clone(), message);
            }
        }
        if let Some(Spanned { value: load, .. }) = load {
            readings.push(BoardReading { load, points, span: item.start..item.node.span.end });
        }
    }
    readings
}

fn points<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>) -> Vec<(Length, Length)> {
    const EXAMPLE: &str = "[400 mm, -12 mm]";
    let Some(list) = reader.list(entry, EXAMPLE) else { return Vec::new() };
    let mut points = Vec::new();
    for item in &list.items {
        let pair = match &item.node.value {
            Value::List(pair) => pair.items.as_slice(),
            _ => &[],
        };
        let [x, y] = pair else {
            let message = format!(
                "{} is no point: write its distance from the clamp and its height, such as `{EXAMPLE}`",
                reader.written(&item.node)
            );
            reader.problems.report(item.node.span.clone(), message);
            continue;
        };
        let x_value = reader.signed(&x.node, &spec::BOARD_POINT);
        let y_value = reader.signed(&y.node, &spec::BOARD_POINT);
        if let Some(x_value) = x_value.filter(|x| *x < 0.0) {
            let positive = x_value.abs() * 1e3;
            let message = format!(
                "{} lies behind the clamp: distances go outward from it, such as `{positive:.0} mm`",
                reader.written(&x.node)
            );
            reader.problems.report(x.node.span.clone(), message);
        } else if let (Some(x), Some(y)) = (x_value, y_value) {
            points.push((Length::from_si(x), Length::from_si(y)));
        }
    }
    points
}

fn cut<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>, known: &Known<'_, 's>) -> Cut {
    let (tip, butt, unread) = ends(reader, entry, known);
    Cut {
        tip,
        butt,
        with: reader.plain_text(known.get("with"), "rotary disc"),
        keep: reader.flag(known.get("keep")).unwrap_or(false),
        unread,
    }
}

fn plan<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>, known: &Known<'_, 's>) -> Plan {
    let (tip, butt, _) = ends(reader, entry, known);
    Plan { tip, butt }
}

/// Reads the amounts of a cut or a plan, and whether one stands there that could not be read.
fn ends<'s>(
    reader: &mut Reader<'s, '_>,
    entry: &Entry<'s>,
    known: &Known<'_, 's>,
) -> (Option<Spanned<Length>>, Option<Spanned<Length>>, bool) {
    let tip = reader.length(known.get("tip"), &spec::CUT);
    let butt = reader.length(known.get("butt"), &spec::CUT);
    if known.get("tip").is_none() && known.get("butt").is_none() {
        let message = format!(
            "this `{}` does not say what comes off: write `{}: {{ tip: 1 in }}`",
            entry.key, entry.key
        );
        reader.problems.report(entry.span(), message);
    }
    let lost = |key: &str, read: bool| known.get(key).is_some() && !read;
    let unread = lost("tip", tip.is_some())
        || lost("butt", butt.is_some())
        || (tip.is_none() && butt.is_none());
    (tip, butt, unread)
}

fn pull<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>, known: &Known<'_, 's>) -> Pull {
    for (key, example) in [("tip_angle", "90 deg"), ("load", "410 g")] {
        if known.get(key).is_none() {
            let message = format!("a pull without `{key}`: write `{key}: {example}` too");
            reader.problems.report(entry.key_span.clone(), message);
        }
    }
    Pull {
        tip_angle: reader.angle(known.get("tip_angle"), &spec::TIP_ANGLE),
        load: reader.mass(known.get("load"), &spec::LOAD),
        held_at: reader.length(known.get("held_at"), &spec::HELD_AT),
    }
}

fn settled<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>, known: &Known<'_, 's>) -> Settled {
    if known.get("tip").is_none() && known.get("butt").is_none() {
        let message =
            "`settled` does not say which end: write `settled: { tip: why }` or `{ butt: why }`";
        reader.problems.report(entry.span(), message);
    }
    let mut end = |key: &str| {
        let entry = known.get(key)?;
        let reason = reader.text(Some(entry), "any stiffer and it won't throw");
        // An end that is called settled stays settled, however its reason is written.
        Some(reason.unwrap_or(Spanned { value: String::new(), span: entry.span() }))
    };
    Settled { tip: end("tip"), butt: end("butt") }
}

/// Reads `settled: tip` and `settled: [tip, butt]`: the reason is missing, the ends are clear.
fn settled_without_reason<'s>(reader: &mut Reader<'s, '_>, entry: &Entry<'s>) -> Option<Settled> {
    let nodes: Vec<&Node<'s>> = match &entry.value.value {
        Value::Scalar(_) => vec![&entry.value],
        Value::List(list) => list.items.iter().map(|item| &item.node).collect(),
        _ => return None,
    };
    let span_of = |end: &str| -> Option<Span> {
        nodes.iter().find(|node| node.text() == Some(end)).map(|node| node.span.clone())
    };
    let (tip, butt) = (span_of("tip"), span_of("butt"));
    if tip.is_none() && butt.is_none() {
        return None;
    }
    let end = if tip.is_some() { "tip" } else { "butt" };
    let message = format!(
        "{} gives no reason: write `settled: {{ {end}: any stiffer and it won't throw }}`",
        reader.written(&entry.value)
    );
    reader.problems.report(entry.value.span.clone(), message);
    let without_reason = |span| Spanned { value: String::new(), span };
    Some(Settled { tip: tip.map(without_reason), butt: butt.map(without_reason) })
}
