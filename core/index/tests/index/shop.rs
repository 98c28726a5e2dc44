//! Records for tests, made by hand: no file is read for them.

use taperbook_index::{Catalogue, Document, Index, Searcher};
use taperbook_plugin::{Number, NumberSet, NumberSpec};
use taperbook_record::{Build, Content, Date, Field, FieldNumber, Kind, Record, Spanned, Verdict};
use taperbook_units::{Dimension, Interval, Quantity};

/// A record as a test writes it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Entry {
    pub(crate) id: String,
    pub(crate) title: String,
    pub(crate) kind: Option<Kind>,
    /// Leaves of the front matter, by dotted key.
    pub(crate) fields: Vec<(String, String)>,
    pub(crate) body: String,
    /// Plugin numbers, SI.
    pub(crate) numbers: Vec<(String, Number)>,
    pub(crate) flags: Vec<String>,
    /// The id of the card.
    pub(crate) blank: Option<String>,
}

impl Entry {
    pub(crate) fn new(kind: Kind, id: &str, title: &str) -> Self {
        Self { id: id.to_owned(), title: title.to_owned(), kind: Some(kind), ..Self::default() }
    }

    pub(crate) fn field(mut self, key: &str, text: &str) -> Self {
        self.fields.push((key.to_owned(), text.to_owned()));
        self
    }

    pub(crate) fn body(mut self, body: &str) -> Self {
        self.body = body.to_owned();
        self
    }

    /// Adds a plugin's number, written with its unit.
    pub(crate) fn number(mut self, key: &str, text: &str) -> Self {
        let spec = catalogue().numbers.into_iter().find(|spec| spec.key == key).unwrap();
        let quantity = Quantity::parse_as(text, spec.dimension).unwrap();
        self.numbers.push((key.to_owned(), Number::exact(quantity.si)));
        self
    }

    pub(crate) fn missing(mut self, key: &str) -> Self {
        self.numbers.push((key.to_owned(), Number::missing("a reading")));
        self
    }

    pub(crate) fn flag(mut self, flag: &str) -> Self {
        self.flags.push(flag.to_owned());
        self
    }

    /// Names the blank in the front matter and leads it to a card.
    pub(crate) fn blank(mut self, written: &str, card: &str) -> Self {
        self.blank = Some(card.to_owned());
        self.field("blank", written)
    }

    pub(crate) fn kind(&self) -> Kind {
        self.kind.unwrap_or(Kind::Note)
    }

    pub(crate) fn record(&self) -> Record {
        let verdict = self
            .fields
            .iter()
            .find(|(key, _)| key == "verdict")
            .and_then(|(_, word)| verdict(word));
        let content = match self.kind() {
            Kind::Build => Content::Build(Box::new(Build {
                verdict: verdict.map(|value| Spanned { value, span: 0..0 }),
                ..Build::default()
            })),
            Kind::Blank => Content::Blank(Box::default()),
            Kind::Fitting => Content::Fitting(Box::default()),
            _ => Content::Note,
        };
        Record { id: self.id.clone(), title: self.title.clone(), content, conflict_copy: false }
    }

    pub(crate) fn leaves(&self) -> Vec<Field> {
        self.fields
            .iter()
            .map(|(key, text)| Field {
                key: key.clone(),
                text: text.clone(),
                number: leaf_number(text),
                span: 0..0,
            })
            .collect()
    }
}

fn verdict(word: &str) -> Option<Verdict> {
    match word {
        "keep" => Some(Verdict::Keep),
        "recut" => Some(Verdict::Recut),
        "scrap" => Some(Verdict::Scrap),
        _ => None,
    }
}

/// Reads the number of a leaf: a date, a range, a quantity or a plain number.
pub(crate) fn leaf_number(text: &str) -> Option<FieldNumber> {
    if let Ok(date) = text.parse::<Date>()
        && text.len() == 10
    {
        return Some(FieldNumber::Date(date));
    }
    if text.contains("..") {
        return [Dimension::Length, Dimension::Mass, Dimension::Angle]
            .into_iter()
            .find_map(|dimension| Interval::parse_as(text, dimension).ok())
            .map(FieldNumber::Range);
    }
    Quantity::parse(text)
        .or_else(|_| Quantity::parse_as(text, Dimension::Count))
        .ok()
        .map(FieldNumber::One)
}

pub(crate) fn catalogue() -> Catalogue {
    let numbers = [
        ("length", Dimension::Length),
        ("tip_od", Dimension::Length),
        ("power", Dimension::Mass),
        ("tip_angle", Dimension::Angle),
        ("bend_centre", Dimension::Fraction),
        ("stiffness_for_length", Dimension::Count),
        ("tip_cut", Dimension::Length),
        ("butt_cut", Dimension::Length),
        ("uncut_length", Dimension::Length),
    ];
    let numbers = numbers.map(|(key, dimension)| NumberSpec {
        key: key.to_owned(),
        dimension,
        meaning: String::new(),
    });
    let flags = ["below-shortest-length", "above-longest-length", "lengths-do-not-add-up"];
    Catalogue { numbers: numbers.into(), flags: flags.map(str::to_owned).into() }
}

/// Queues records.
pub(crate) fn put(index: &mut Index, entries: &[Entry]) {
    for entry in entries {
        let (record, fields) = (entry.record(), entry.leaves());
        let numbers = NumberSet::new(entry.numbers.clone());
        index
            .put(&Document {
                record: &record,
                fields: &fields,
                body: &entry.body,
                numbers: &numbers,
                flags: &entry.flags,
                blank: entry.blank.as_deref(),
            })
            .unwrap();
    }
}

/// Makes an index in memory of some records.
pub(crate) fn indexed(entries: &[Entry]) -> Searcher {
    let mut index = Index::create(None, catalogue()).unwrap();
    put(&mut index, entries);
    index.commit("").unwrap()
}

/// Asks for all hits and gives their ids in the order of the answer.
#[track_caller]
pub(crate) fn ids(searcher: &Searcher, query: &str) -> Vec<String> {
    let parsed = searcher.parse(query).unwrap_or_else(|error| panic!("{}", error.render(query)));
    let found = searcher.find(&parsed, usize::MAX).unwrap();
    assert_eq!(found.total, found.hits.len(), "{query}");
    found.hits.into_iter().map(|hit| hit.id).collect()
}

/// A small invented shop.
pub(crate) fn small_shop() -> Vec<Entry> {
    use Kind::{Blank, Build, Fitting, Note};
    vec![
        Entry::new(Blank, "blanks/heron-704", "Heron 704")
            .field("kind", "blank")
            .field("maker", "Northfell")
            .field("length", "7'2\"")
            .field("material", "carbon")
            .field("calipers.at", "0 in")
            .field("calipers.od", "11.20 mm")
            .field("calipers.at", "86 in")
            .field("calipers.od", "1.75 mm")
            .body("A stout blank for the rocks."),
        Entry::new(Blank, "blanks/heron-704-long", "Heron 704 long")
            .field("kind", "blank")
            .field("maker", "Northfell")
            .field("length", "8 ft")
            .field("material", "glass"),
        Entry::new(Blank, "blanks/wren-60", "Wren 60")
            .field("kind", "blank")
            .field("length", "6 ft"),
        Entry::new(Build, "builds/ilse", "Ilse’s estuary rod")
            .field("kind", "build")
            .blank("heron-704", "blanks/heron-704")
            .field("customer", "Ilse")
            .field("purpose", "small spoons for sea trout from the rocks")
            .field("date", "2026-03-14")
            .field("limits.length", "6'8\" .. 7'0\"")
            .field("limits.tip_od", ".. 2.2 mm")
            .field("limits.power", "200 g .. 260 g")
            .field("aim.length", "6'10\"")
            .field("bench.cut.tip", "1 in")
            .field("bench.cut.butt", "3 in")
            .field("bench.feel", "loads early, still throws straight")
            .field("verdict", "keep")
            .field("rating", "4")
            .number("length", "6'10\"")
            .number("power", "221 g")
            .number("tip_cut", "1 in")
            .number("butt_cut", "3 in")
            .number("uncut_length", "7'2\"")
            .number("stiffness_for_length", "0.98")
            .number("bend_centre", "38 %")
            .body("It throws the small spoons well. The wind was up."),
        Entry::new(Build, "builds/soren", "Søren: second rod")
            .field("kind", "build")
            .blank("heron-704-long", "blanks/heron-704-long")
            .field("customer", "Søren")
            .field("date", "2025-03-02")
            .field("limits.length", "7'6\" ..")
            .field("bench.cut.tip", "2 in")
            .field("bench.cut.tip", "1/2 in")
            .field("ferrule", "5.5 mm")
            .field("told", "2025-04-01 agreed by phone")
            .number("length", "7'9 1/2\"")
            .number("power", "180 g")
            .number("tip_cut", "2 1/2 in")
            .number("butt_cut", "0 in")
            .number("stiffness_for_length", "1.06")
            .flag("above-longest-length")
            .flag("lengths-do-not-add-up")
            .body("Needed 6'10\" and a 10.5 mm seat; trout, then sea.\n\nSpoons: small ones only."),
        Entry::new(Build, "builds/zoe", "Zoë")
            .field("kind", "build")
            .blank("wren-60", "blanks/wren-60")
            .field("date", "2024-11-30")
            .field("verdict", "scrap")
            .field("rating", "1")
            .field("ferrule", "the old brass one")
            .number("length", "5'11\"")
            .missing("power")
            .number("tip_cut", "1 in")
            .flag("below-shortest-length")
            .body("Cracked at the second cut. A small sea trout rod was the plan."),
        Entry::new(Fitting, "fittings/tops", "Tip-tops")
            .field("kind", "fitting")
            .field("part", "tip-top")
            .field("sizes.marked", "5.5/64 in")
            .field("sizes.bore", "2.25 mm")
            .field("sizes.count", "4"),
        Entry::new(Note, "notes/glue", "glue")
            .body("Epoxy for the tip-top: warm it, gently. See heron-704."),
    ]
}
