//! A range with either end optional, written `A .. B`.

use std::ops::Range;

use crate::fault::{advised, quoted};
use crate::scan::{self, Kind};
use crate::{Dimension, Quantity, QuantityError};

/// A range of one dimension; both ends belong to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// What it measures.
    pub dimension: Dimension,
    /// The lower end, when there is one.
    pub low: Option<Quantity>,
    /// The upper end, when there is one.
    pub high: Option<Quantity>,
}

impl Interval {
    /// Reads `A .. B`, `A ..` or `.. B`; the spaces are optional.
    ///
    /// # Errors
    /// When an end is not a quantity of the dimension, both ends are missing, or they are in the wrong order.
    pub fn parse_as(text: &str, dimension: Dimension) -> Result<Self, QuantityError> {
        let Some(dots) = text.find("..") else { return Err(no_dots(text, dimension)) };
        let after = dots + 2;
        let rest = &text[after..];
        let more = if rest.starts_with('.') { Some(1) } else { rest.find("..").map(|at| at + 2) };
        if let Some(more) = more {
            let says = "has more dots than the two of a range";
            return Err(wrong(text, dimension, says, dots..after + more, None));
        }
        let end = |range: Range<usize>| {
            let written = text[range.clone()].trim_matches(scan::is_space);
            let quantity = (!written.is_empty()).then(|| Quantity::parse_as(written, dimension));
            let start = range.start + text[range.clone()].find(written).unwrap_or(0);
            (written, quantity.transpose().map_err(|error| moved(error, start)))
        };
        let (low_text, low) = end(0..dots);
        let (high_text, high) = end(after..text.len());
        let (low, high) = match (low, high) {
            (Ok(low), Ok(high)) => (low, high),
            (Err(error), Ok(Some(_))) => {
                return Err(borrowed_unit(error, low_text, high_text, dimension, |low| {
                    format!("{low} .. {high_text}")
                }));
            }
            (Ok(Some(_)), Err(error)) => {
                return Err(borrowed_unit(error, high_text, low_text, dimension, |high| {
                    format!("{low_text} .. {high}")
                }));
            }
            (Err(error), _) | (_, Err(error)) => return Err(error),
        };
        match (low, high) {
            (None, None) => {
                Err(wrong(text, dimension, "has neither of its ends", dots..after, None))
            }
            (Some(low), Some(high)) if high.si < low.si => {
                let cure = format!("{high_text} .. {low_text}");
                let says = "has its ends the wrong way round";
                Err(wrong(text, dimension, says, 0..text.len(), Some(cure)))
            }
            _ => Ok(Self { dimension, low, high }),
        }
    }

    /// Tells whether an SI value lies in the range; both ends do.
    pub fn contains(&self, si: f64) -> bool {
        self.low.is_none_or(|low| low.si <= si) && self.high.is_none_or(|high| si <= high.si)
    }
}

impl std::fmt::Display for Interval {
    /// Writes both ends as a [`Quantity`] is written: `2032 mm .. 2134 mm`, `.. 2.2 mm`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match (self.low, self.high) {
            (Some(low), Some(high)) => write!(f, "{low} .. {high}"),
            (Some(low), None) => write!(f, "{low} .."),
            (None, Some(high)) => write!(f, ".. {high}"),
            (None, None) => f.write_str(".."),
        }
    }
}

fn moved(error: QuantityError, by: usize) -> QuantityError {
    QuantityError { at: error.at.start + by..error.at.end + by, ..error }
}

fn wrong(
    text: &str,
    dimension: Dimension,
    says: &str,
    at: Range<usize>,
    cure: Option<String>,
) -> QuantityError {
    let text = text.trim_matches(scan::is_space);
    let advice = match cure {
        Some(cure) => advised(&cure),
        None => format!("one such as `{}`", dimension.range_example()),
    };
    let message = if text.is_empty() {
        format!("nothing is written: write {advice}")
    } else {
        format!("{} {says}: write {advice}", quoted(text))
    };
    QuantityError { message, at }
}

/// Explains an end without a unit by the unit that stands at the other end.
fn borrowed_unit(
    error: QuantityError,
    bare: &str,
    other: &str,
    dimension: Dimension,
    range: impl Fn(&str) -> String,
) -> QuantityError {
    let is_bare = Quantity::parse_as(bare, Dimension::Count).is_ok();
    let tokens = scan::scan(other);
    let mut units = tokens.iter().filter(|token| matches!(token.kind, Kind::Unit(_)));
    let (Some(unit), None, true) = (units.next(), units.next(), is_bare) else { return error };
    let gap = if other[..unit.at.start].ends_with(scan::is_space) { " " } else { "" };
    let cure = range(&format!("{bare}{gap}{}", &other[unit.at.clone()]));
    if Interval::parse_as(&cure, dimension).is_err() {
        return error;
    }
    let message = format!("{} has no unit: write {}", quoted(bare), advised(&cure));
    QuantityError { message, ..error }
}

/// Explains a text without `..`: another mark was used for it, or one quantity stands alone.
fn no_dots(text: &str, dimension: Dimension) -> QuantityError {
    let reads = |cure: &String| Interval::parse_as(cure, dimension).is_ok();
    let marks = ["…", "–", "—", "-", "\u{2212}", " to ", "~"];
    for mark in marks {
        let Some((low, high)) = text.split_once(mark) else { continue };
        let at = low.len()..low.len() + mark.len();
        let (low, high) = (low.trim_matches(scan::is_space), high.trim_matches(scan::is_space));
        // With nothing before it a dash is more likely a sign.
        let cure = Some(format!("{low} .. {high}")).filter(|cure| !low.is_empty() && reads(cure));
        if cure.is_some() || matches!(mark, "…" | "–" | "—") {
            let says = format!("has `{}` where the `..` of a range belongs", mark.trim());
            return wrong(text, dimension, &says, at, cure);
        }
    }
    match Quantity::parse_as(text, dimension) {
        Ok(_) => {
            let written = text.trim_matches(scan::is_space);
            let message = format!(
                "{} is one value where a range belongs: write {} or {}",
                quoted(written),
                advised(&format!("{written} ..")),
                advised(&format!(".. {written}"))
            );
            QuantityError { message, at: 0..text.len() }
        }
        Err(error) => {
            let says = "is not a range";
            wrong(text, dimension, says, error.at, None)
        }
    }
}
