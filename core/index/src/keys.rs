//! The keys of the record format and what stands under them.
//!
//! These are known without looking at any record, so that a query means the same in every shop folder.
//! Keys that a shop invents are not here: what they hold is learned from the records.

use std::collections::HashMap;
use std::sync::LazyLock;

use taperbook_record::Measure;
use taperbook_units::Dimension;

/// The kind of the record.
pub(crate) const KIND: &str = "kind";
/// The flags of the record.
pub(crate) const FLAG: &str = "flag";
/// How a build ended.
pub(crate) const VERDICT: &str = "verdict";
/// The title of the record.
pub(crate) const TITLE: &str = "title";
/// The record itself, by its id or the name of its file.
pub(crate) const RECORD: &str = "record";
/// The card of a build.
pub(crate) const BLANK: &str = "blank";
/// The date of the record.
pub(crate) const DATE: &str = "date";

/// What stands under a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// Numbers or ranges of a dimension.
    Number(Dimension),
    /// Dates.
    Date,
    /// Words.
    Words,
    /// The name of a record.
    Name,
    /// One of a few words.
    Closed(Closed),
}

/// The keys under which one of a few words stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Closed {
    /// `kind`
    Kind,
    /// `flag`
    Flag,
    /// `verdict`
    Verdict,
}

/// The keys of the record format with a fixed name.
const FIXED: [(&str, Shape); 54] = {
    use Dimension::{Angle, Count, Density, Fraction, Frequency, Length, Mass, Pressure};
    use Shape::{Closed as One, Date, Name, Number, Words};
    [
        (KIND, One(Closed::Kind)),
        (FLAG, One(Closed::Flag)),
        (VERDICT, One(Closed::Verdict)),
        (RECORD, Name),
        (TITLE, Words),
        (BLANK, Words),
        (DATE, Date),
        ("customer", Words),
        ("purpose", Words),
        ("told", Words),
        ("said", Words),
        ("rating", Number(Count)),
        ("held_at", Number(Length)),
        ("maker", Words),
        ("material", Words),
        ("tip", Words),
        ("part", Words),
        ("from", Words),
        ("end", Words),
        ("length", Number(Length)),
        ("weight", Number(Mass)),
        ("pieces", Number(Count)),
        ("stock", Number(Count)),
        ("modulus", Number(Pressure)),
        ("density", Number(Density)),
        ("calipers.at", Number(Length)),
        ("calipers.od", Number(Length)),
        ("calipers.wall", Number(Length)),
        ("joints.at", Number(Length)),
        ("joints.overlap", Number(Length)),
        ("sizes.marked", Number(Length)),
        ("sizes.bore", Number(Length)),
        ("sizes.ring", Number(Length)),
        ("sizes.height", Number(Length)),
        ("sizes.foot", Number(Length)),
        ("sizes.weight", Number(Mass)),
        ("sizes.count", Number(Count)),
        ("adds.length", Number(Length)),
        ("adds.weight", Number(Mass)),
        ("bench.date", Date),
        ("bench.note", Words),
        ("bench.feel", Words),
        ("bench.settled.tip", Words),
        ("bench.settled.butt", Words),
        ("bench.cut.tip", Number(Length)),
        ("bench.cut.butt", Number(Length)),
        ("bench.cut.with", Words),
        ("bench.cut.date", Date),
        ("bench.plan.tip", Number(Length)),
        ("bench.plan.butt", Number(Length)),
        ("bench.pull.tip_angle", Number(Angle)),
        ("bench.pull.load", Number(Mass)),
        ("bench.read.frequency", Number(Frequency)),
        ("errors.reclamp", Number(Fraction)),
    ]
};

/// The parents of the keys that are a measure of a piece: `limits.power`.
const OF_MEASURES: [&str; 3] = ["limits", "aim", "bench.read"];

/// What recovery is called as well.
const FREQUENCY: &str = "frequency";

/// Says what stands under a folded key of the record format.
pub(crate) fn known(key: &str) -> Option<Shape> {
    static KNOWN: LazyLock<HashMap<String, Shape>> = LazyLock::new(|| {
        let keys = all_known().chain(OF_MEASURES.map(|parent| format!("{parent}.{FREQUENCY}")));
        keys.filter_map(|key| shape(&key).map(|shape| (key, shape))).collect()
    });
    KNOWN.get(key).copied()
}

fn shape(key: &str) -> Option<Shape> {
    if let Some((_, shape)) = FIXED.iter().find(|(name, _)| *name == key) {
        return Some(*shape);
    }
    let (parent, measure) = key.rsplit_once('.')?;
    if !OF_MEASURES.contains(&parent) {
        return None;
    }
    let measure =
        if measure == FREQUENCY { Some(Measure::Recovery) } else { Measure::from_key(measure) };
    measure.map(|measure| Shape::Number(measure.dimension()))
}

/// Lists the keys of the record format, for telling what a misspelt one may mean.
pub(crate) fn all_known() -> impl Iterator<Item = String> {
    let measures = OF_MEASURES.iter().flat_map(|parent| {
        Measure::ALL.iter().map(move |measure| format!("{parent}.{}", measure.key()))
    });
    FIXED.iter().map(|(name, _)| (*name).to_owned()).chain(measures)
}

/// Finds what a misspelt word most likely means: the nearest of the words, when one is near.
pub(crate) fn nearest<'a>(word: &str, words: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // One slip in a short word, one in three letters of a longer one, and a swap of neighbours is one slip.
    let most = (word.chars().count() / 3).clamp(1, 3);
    words
        .into_iter()
        .map(|other| (strsim::damerau_levenshtein(word, other), other))
        .filter(|(slips, other)| *slips <= most && *slips < other.chars().count())
        .min()
        .map(|(_, other)| other)
}

#[cfg(test)]
mod tests {
    use taperbook_record::Kind;

    use super::*;

    #[test]
    fn keys_of_the_record_format_are_known() {
        assert_eq!(known("limits.length"), Some(Shape::Number(Dimension::Length)));
        assert_eq!(known("aim.frequency"), Some(Shape::Number(Dimension::Frequency)));
        assert_eq!(known("bench.read.power"), Some(Shape::Number(Dimension::Mass)));
        assert_eq!(known("bench.cut.tip"), Some(Shape::Number(Dimension::Length)));
        assert_eq!(known("verdict"), Some(Shape::Closed(Closed::Verdict)));
        assert_eq!(known("limits.colour"), None);
        assert_eq!(known("serial"), None);
        assert!(all_known().all(|key| known(&key).is_some()));
    }

    #[test]
    fn a_slip_is_recognised() {
        let kinds = Kind::ALL.map(Kind::word);
        assert_eq!(nearest("biuld", kinds), Some("build"));
        assert_eq!(nearest("blnk", kinds), Some("blank"));
        assert_eq!(nearest("tree", kinds), None);
        assert_eq!(nearest("", kinds), None);
        assert_eq!(nearest("limit.length", ["limits.length", "aim.length"]), Some("limits.length"));
    }
}
