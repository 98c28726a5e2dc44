//! The value of a comparison into a range of numbers, both ends of which belong to it.

use std::ops::Range;

use taperbook_record::Date;
use taperbook_units::{Dimension, Quantity};

use crate::QueryError;
use crate::document::day_number;
use crate::error::quoted;
use crate::lexer::{Comparison, Operator, Piece, Value};
use crate::words::char_start;

/// What the numbers under a key are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Quantities, SI.
    Quantity(Dimension),
    /// Dates, in days.
    Date,
}

/// A value that was read.
#[derive(Debug, Clone, Copy)]
struct Point {
    /// The first number that it stands for: of `2025` the first day.
    first: f64,
    /// The last number that it stands for.
    last: f64,
    /// How far away another number still counts as equal.
    half_step: f64,
}

/// How far a number may be off, as a part of it, by the rounding of conversions and sums.
const ROUNDING: f64 = 1e-9;

/// Reads the value of a comparison; gives the lowest and highest number that satisfy it.
pub(crate) fn range(
    query: &str,
    comparison: &Comparison,
    scale: Scale,
) -> Result<(f64, f64), QueryError> {
    let (low, high) = match &comparison.value {
        Value::One(piece) => {
            let text = &query[piece.at.clone()];
            if piece.star {
                let end = piece.at.end + usize::from(piece.quoted);
                return Err(QueryError {
                    message: format!(
                        "a `*` begins words, and `{}` is a number: write the number or a range",
                        &query[comparison.key.clone()]
                    ),
                    at: end..end + 1,
                });
            }
            match text.find("..") {
                None => {
                    let point = point(query, piece.at.clone(), scale).map_err(|error| {
                        split_by_space(query, comparison, piece, scale).unwrap_or(error)
                    })?;
                    return Ok(within(point, comparison.operator));
                }
                Some(_) if comparison.operator != Operator::Is => {
                    let key = &query[comparison.key.clone()];
                    let message = format!("{} is a range: write it behind `{key}:`", quoted(text));
                    return Err(QueryError { message, at: piece.at.clone() });
                }
                Some(dots) => (
                    filled(query, piece.at.start..piece.at.start + dots),
                    filled(query, piece.at.start + dots + 2..piece.at.end),
                ),
            }
        }
        Value::Ends(low, high) => {
            (low.as_ref().map(|low| low.at.clone()), high.as_ref().map(|high| high.at.clone()))
        }
    };
    if low.is_none() && high.is_none() {
        let message =
            "a range needs at least one end: write one such as `length:6ft..7ft`".to_owned();
        return Err(QueryError { message, at: comparison.whole.clone() });
    }
    let low_point = low.map(|at| point(query, at, scale)).transpose()?;
    let high_point = high.map(|at| point(query, at, scale)).transpose()?;
    if let (Some(low), Some(high)) = (low_point, high_point)
        && high.last < low.first
    {
        return Err(QueryError {
            message: format!(
                "the ends of {} are the wrong way round: write the smaller one first",
                quoted(&query[comparison.whole.clone()])
            ),
            at: comparison.whole.clone(),
        });
    }
    let low = low_point.map_or(f64::MIN, |low| within(low, Operator::AtLeast).0);
    let high = high_point.map_or(f64::MAX, |high| within(high, Operator::AtMost).1);
    Ok((low, high))
}

/// Finds out whether a value that can't be read goes on behind a space: `power<200 g`.
fn split_by_space(
    query: &str,
    comparison: &Comparison,
    piece: &Piece,
    scale: Scale,
) -> Option<QueryError> {
    const MOST_WORDS: usize = 3;
    let Scale::Quantity(dimension) = scale else { return None };
    let rest = query[piece.at.end..].trim_start();
    if piece.quoted || rest.is_empty() {
        return None;
    }
    let rest_start = query.len() - rest.len();
    let ends = rest
        .match_indices(|char: char| char.is_whitespace() || char == ')')
        .map(|(at, _)| at)
        .chain([rest.len()]);
    let end = ends
        .map(|end| rest_start + end)
        .take(MOST_WORDS)
        .find(|end| Quantity::parse_as(&query[piece.at.start..*end], dimension).is_ok())?;
    let (value, before) =
        (&query[piece.at.start..end], &query[comparison.key.start..piece.at.start]);
    let message = format!(
        "{} has a space in it: write it in quotes, {}",
        quoted(value),
        quoted(&format!("{before}\"{value}\""))
    );
    Some(QueryError { message, at: piece.at.start..end })
}

/// Takes the spaces off a part of a quoted range; gives nothing when nothing is left.
fn filled(query: &str, at: Range<usize>) -> Option<Range<usize>> {
    let text = &query[at.clone()];
    let start = at.start + (text.len() - text.trim_start().len());
    let end = at.start + text.trim_end().len();
    (start < end).then_some(start..end)
}

/// The lowest and highest number that compare so with a point.
fn within(point: Point, operator: Operator) -> (f64, f64) {
    let slack = |value: f64| value.abs() * ROUNDING;
    let Point { first, last, half_step } = point;
    let half_step = half_step * (1.0 + ROUNDING);
    match operator {
        Operator::Is => (first - half_step - slack(first), last + half_step + slack(last)),
        Operator::Below => (f64::MIN, (first - slack(first)).next_down()),
        Operator::AtMost => (f64::MIN, last + slack(last)),
        Operator::Above => ((last + slack(last)).next_up(), f64::MAX),
        Operator::AtLeast => (first - slack(first), f64::MAX),
    }
}

fn point(query: &str, at: Range<usize>, scale: Scale) -> Result<Point, QueryError> {
    match scale {
        Scale::Date => date(query, at),
        // In a record a plain number may be a part of one; in a query `bend_centre>38` would silently mean 3800 %.
        Scale::Quantity(Dimension::Fraction)
            if Quantity::parse_as(&query[at.clone()], Dimension::Count).is_ok() =>
        {
            let text = query[at.clone()].trim();
            Err(QueryError {
                message: format!(
                    "{} has no unit: write {}",
                    quoted(text),
                    quoted(&format!("{text}%"))
                ),
                at,
            })
        }
        Scale::Quantity(dimension) => match Quantity::parse_as(&query[at.clone()], dimension) {
            Ok(quantity) => {
                Ok(Point { first: quantity.si, last: quantity.si, half_step: quantity.half_step })
            }
            Err(error) => {
                let start = char_start(query, (at.start + error.at.start).min(at.end));
                let end = char_start(query, (at.start + error.at.end).clamp(start, at.end));
                // An empty span at the end would put the caret behind the value; the whole value is meant then.
                let at = if start < end { start..end } else { at };
                Err(QueryError { message: error.message, at })
            }
        },
    }
}

/// Reads a day, a month or a year.
fn date(query: &str, at: Range<usize>) -> Result<Point, QueryError> {
    let text = query[at.clone()].trim();
    let (first, last) = days(text).ok_or_else(|| QueryError {
        message: format!(
            "{} is no date: write one such as `2025-03-14`, `2025-03` or `2025`",
            quoted(text)
        ),
        at,
    })?;
    #[expect(
        clippy::cast_precision_loss,
        reason = "dates are within ten thousand years, far below 2^53 days"
    )]
    let [first, last] = [first, last].map(|date| day_number(date) as f64);
    Ok(Point { first, last, half_step: 0.0 })
}

fn days(text: &str) -> Option<(Date, Date)> {
    let mut parts = text.split('-');
    let year = digits(parts.next()?, 4)?;
    let Some(month) = parts.next() else {
        return Some((Date::new(year, 1, 1).ok()?, Date::new(year, 12, 31).ok()?));
    };
    let month = i8::try_from(digits(month, 2)?).ok()?;
    let Some(day) = parts.next() else {
        let first = Date::new(year, month, 1).ok()?;
        return Some((first, first.last_of_month()));
    };
    let day = i8::try_from(digits(day, 2)?).ok()?;
    let date = Date::new(year, month, day).ok()?;
    parts.next().is_none().then_some((date, date))
}

fn digits(text: &str, count: usize) -> Option<i16> {
    (text.len() == count && text.bytes().all(|byte| byte.is_ascii_digit()))
        .then(|| text.parse().ok())?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_days_months_or_years() {
        let day = |year, month, day| Date::new(year, month, day).unwrap();
        assert_eq!(days("2025"), Some((day(2025, 1, 1), day(2025, 12, 31))));
        assert_eq!(days("2024-02"), Some((day(2024, 2, 1), day(2024, 2, 29))));
        assert_eq!(days("2025-03-14"), Some((day(2025, 3, 14), day(2025, 3, 14))));
        for text in [
            "",
            "25",
            "2025-",
            "2025-13",
            "2025-02-30",
            "2025-3-1",
            "2025-03-14-1",
            "+025",
            "2025-03-1４",
        ] {
            assert_eq!(days(text), None, "{text}");
        }
    }

    #[test]
    fn strict_and_not_strict_part_at_the_exact_value() {
        let point = Point { first: 1.0, last: 1.0, half_step: 0.5 };
        let holds = |operator, value: f64| {
            let (low, high) = within(point, operator);
            low <= value && value <= high
        };
        for (operator, below, at, above) in [
            (Operator::Below, true, false, false),
            (Operator::AtMost, true, true, false),
            (Operator::AtLeast, false, true, true),
            (Operator::Above, false, false, true),
        ] {
            assert_eq!(holds(operator, 0.999), below, "{operator:?}");
            assert_eq!(holds(operator, 1.0), at, "{operator:?}");
            // A sum of tenths is not exactly one, and means one.
            assert_eq!(holds(operator, (0..10).map(|_| 0.1).sum()), at, "{operator:?}");
            assert_eq!(holds(operator, 1.001), above, "{operator:?}");
        }
        assert!(holds(Operator::Is, 0.5) && holds(Operator::Is, 1.5) && !holds(Operator::Is, 1.51));
        let zero = Point { first: 0.0, last: 0.0, half_step: 0.5 };
        assert!(within(zero, Operator::Below).1 < 0.0 && 0.0 < within(zero, Operator::Above).0);
        assert!(0.0 <= within(zero, Operator::AtMost).1);
    }
}
