//! The entry: the bytes of one file into all that it gives.

use std::borrow::Cow;

use crate::read::keys::{MAPS, misspelt};
use crate::read::{Reader, build, card, fitting, scalars, shop};
use crate::source::{Problems, quoted};
use crate::yaml::{self, Map, Node, Value};
use crate::{Content, Parsed, Record, body, fields, front, name};

/// A longer file is not read.
pub const MOST_FILE_BYTES: usize = 8 * 1024 * 1024;

/// Reads one file.
///
/// The path is relative to the shop folder, with `/` between names, with or without `.md`;
/// `shop.yaml` at the root is bare YAML, everything else is markdown.
///
/// It never fails and never panics, and gives the same for the same bytes.
/// A file above [`MOST_FILE_BYTES`] gives a problem and nothing else;
/// front matter above 64 KiB is read up to there;
/// body text above [`body::MOST_BODY_BYTES`] is left out of [`Parsed::body`] with a problem, because it will not be found.
/// Bytes that are not UTF-8 are a problem and stand in texts as `?`.
/// In a map that holds a key twice, the first is used.
pub fn read(path: &str, bytes: &[u8]) -> Parsed {
    let name = name::Name::new(path);
    let mut problems = Problems::default();
    if MOST_FILE_BYTES < bytes.len() {
        problems.report(
            0..0,
            "the file is longer than 8 MiB and is not read: a record is a page or two of text",
        );
        return finish(name, Content::Note, Vec::new(), body::Body::default(), 0, problems, "");
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        problems.report(0..0, "the file is written in UTF-16: save it as UTF-8");
        return finish(name, Content::Note, Vec::new(), body::Body::default(), 0, problems, "");
    }
    let text = crate::source::text(bytes, &mut problems);
    let source: &str = &text;
    let parts = if name.is_shop {
        front::Split {
            front: Some(front::bare(source, &mut problems)),
            body: source.len()..source.len(),
        }
    } else {
        front::split(source, &mut problems)
    };
    let body_start = parts.body.start;
    let mut body_span = parts.body;
    let (content, fields) = match parts.front {
        Some(front) => {
            let node = yaml::parse(source, front.clone(), &MAPS, &mut problems);
            if !name.is_shop && holds_no_key(&node) {
                // Running text between two rules is a part of the note, so its words must be found.
                body_span.start = front.start;
            }
            let content = content(source, &node, front, name.is_shop, &mut problems);
            (content, fields::fields(&node))
        }
        None => (Content::Note, Vec::new()),
    };
    let body = body::read(source, body_span, &mut problems);
    finish(name, content, fields, body, body_start, problems, source)
}

fn finish(
    name: name::Name,
    content: Content,
    fields: Vec<crate::Field>,
    body: body::Body,
    body_start: usize,
    problems: Problems,
    source: &str,
) -> Parsed {
    let shop_name = match &content {
        Content::Shop(shop) => shop.name.as_ref().map(|name| name.value.clone()),
        _ => None,
    };
    let title = body.heading.or(shop_name).unwrap_or(name.stem);
    let record = Record { id: name.id, title, content, conflict_copy: name.conflict_copy };
    Parsed { record, fields, body: body.text, problems: problems.finish(source), body_start }
}

fn holds_no_key(front: &Node<'_>) -> bool {
    match &front.value {
        Value::Scalar(_) | Value::List(_) => true,
        Value::Map(map) => map.entries.is_empty(),
        Value::Empty => false,
    }
}

const KINDS: [&str; 5] = ["blank", "build", "fitting", "offcut", "note"];

fn content(
    source: &str,
    node: &Node<'_>,
    front: crate::Span,
    is_shop: bool,
    problems: &mut Problems,
) -> Content {
    let map = match &node.value {
        Value::Map(map) => Cow::Borrowed(map),
        Value::Empty => Cow::Owned(Map::new(Vec::new(), false)),
        _ => {
            let line = node.span.start
                ..node.span.end.min(
                    node.span.start + source[node.span.clone()].lines().next().map_or(0, str::len),
                );
            let example = if is_shop { "name: the rod shed" } else { "kind: build" };
            let message = format!(
                "{} is no `key: value` line: write some, such as `{example}`",
                quoted(&source[line.clone()])
            );
            problems.report(line, message);
            return if is_shop { Content::Shop(Box::default()) } else { Content::Note };
        }
    };
    let mut reader = Reader { source, problems };
    if is_shop {
        return Content::Shop(Box::new(shop::shop(&mut reader, &map)));
    }
    let Some(entry) = map.get("kind") else {
        let likely = likely_kind(&map);
        let likely_key =
            map.entries.iter().find(|entry| misspelt(&entry.key, ["kind"].into_iter()).is_some());
        match likely_key {
            Some(entry) => {
                let message = format!("{} is not known: did you mean `kind`?", quoted(&entry.key));
                reader.problems.report(entry.key_span.clone(), message);
            }
            None => {
                let message = format!(
                    "the front matter has no `kind`: write `kind: {likely}`{}",
                    others(likely)
                );
                reader.problems.report(front.start..front.start, message);
            }
        }
        return Content::Note;
    };
    let Some((word, _)) = reader.single(entry, "build") else { return Content::Note };
    match word.to_ascii_lowercase().as_str() {
        "blank" => Content::Blank(Box::new(card::blank(&mut reader, &map))),
        "build" => Content::Build(Box::new(build::build(&mut reader, &map))),
        "fitting" => Content::Fitting(Box::new(fitting::fitting(&mut reader, &map))),
        "offcut" => Content::Offcut(Box::new(card::offcut(&mut reader, &map))),
        "note" => Content::Note,
        _ => {
            let cure = match misspelt(word, KINDS.into_iter()) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("write {}", scalars::one_of(KINDS.into_iter())),
            };
            let message = format!("{} is no kind of record: {cure}", quoted(word));
            reader.problems.report(entry.value.span.clone(), message);
            Content::Note
        }
    }
}

/// What kind a record without `kind` looks like.
fn likely_kind(map: &Map<'_>) -> &'static str {
    let has = |keys: &[&str]| keys.iter().any(|key| map.get(key).is_some());
    if has(&["bench", "blank", "limits", "aim", "customer"]) {
        "build"
    } else if has(&["calipers", "pieces", "material", "modulus"]) {
        "blank"
    } else if has(&["part", "sizes"]) {
        "fitting"
    } else {
        "note"
    }
}

fn others(likely: &str) -> String {
    let others = KINDS.into_iter().filter(|kind| *kind != likely);
    format!(", or {}", scalars::one_of(others))
}
