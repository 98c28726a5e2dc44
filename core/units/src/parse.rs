//! The grammar of workshop notation: numbers, fractions and pairs of units into quantities.
//!
//! It is strict: what could mean two things is a fault, never a guess.

use std::borrow::Borrow;
use std::ops::Range;

use crate::fault::Fault;
use crate::scan::{self, Kind, Token};
use crate::slip;
use crate::unit::{PAIRS, Unit};
use crate::{Dimension, Quantity, QuantityError};

/// Reads a quantity of the given dimension that may have a minus sign, such as the height of a board point, `-12 mm`.
///
/// A dash that an editor put for the minus is one too: before a signed number it can mean nothing else.
///
/// # Errors
/// When the text is not a quantity or is one of another dimension; a plus sign is an error here too.
pub fn parse_signed(text: &str, dimension: Dimension) -> Result<Quantity, QuantityError> {
    let trimmed = text.trim_start_matches(scan::is_space);
    let Some(unsigned) = trimmed.strip_prefix(scan::is_dash) else {
        return of(text, dimension);
    };
    match read(unsigned, Some(dimension)) {
        // Subtracted from zero, so that `-0 mm` is plain zero.
        Ok(quantity) => Ok(Quantity { si: 0.0 - quantity.si, ..quantity }),
        Err(fault) => {
            let start = text.len() - unsigned.len();
            let mut error = fault.explain("-", unsigned, Some(dimension));
            error.at = error.at.start + start..error.at.end + start;
            Err(error)
        }
    }
}

pub(crate) fn any(text: &str) -> Result<Quantity, QuantityError> {
    read(text, None).map_err(|fault| fault.explain("", text, None))
}

pub(crate) fn of(text: &str, dimension: Dimension) -> Result<Quantity, QuantityError> {
    read(text, Some(dimension)).map_err(|fault| fault.explain("", text, Some(dimension)))
}

/// Reads a quantity without making the message of an error.
pub(crate) fn read(text: &str, dimension: Option<Dimension>) -> Result<Quantity, Fault> {
    let written = text.trim_matches(scan::is_space);
    if written.chars().nth(scan::LONGEST).is_some() {
        return Err(Fault::new("is too long for a quantity", 0..text.len()));
    }
    let tokens = scan::scan(text);
    if tokens.is_empty() {
        return Err(Fault::new("has no number", 0..text.len()));
    }
    if let Some(fault) = slip::find(text, &tokens) {
        return Err(fault);
    }
    let parts = parts(text, &tokens, dimension)?;
    match parts.as_slice() {
        [part] => match part.unit {
            Some(unit) => {
                let (si, step) = (unit.si(part.amount.value), unit.si(part.amount.step));
                belonging(unit.dimension, si, step, part.at(), dimension)
            }
            None => bare(text, part, dimension),
        },
        [large, small] => pair(text, large, small, dimension),
        _ => Err(together(text, &parts)),
    }
}

/// A number as it was written.
#[derive(Debug)]
struct Amount {
    value: f64,
    /// One unit of the last place written.
    step: f64,
    /// The digits before the point or the fraction; empty when there are none.
    whole: Range<usize>,
    at: Range<usize>,
}

/// A number and its unit; no unit only at the end of the text.
#[derive(Debug)]
struct Part {
    amount: Amount,
    unit: Option<&'static Unit>,
    unit_at: Range<usize>,
}

impl Part {
    fn at(&self) -> Range<usize> {
        self.amount.at.start..self.unit_at.end
    }

    fn has_unit(&self, symbol: &str) -> bool {
        self.unit.is_some_and(|unit| unit.symbol() == symbol)
    }
}

fn parts(text: &str, tokens: &[Token], dimension: Option<Dimension>) -> Result<Vec<Part>, Fault> {
    let mut parts = Vec::new();
    let mut rest = tokens;
    while !rest.is_empty() {
        let (amount, used) = amount(text, rest)?;
        rest = &rest[used..];
        let Some((token, after)) = rest.split_first() else {
            let unit_at = amount.at.end..amount.at.end;
            parts.push(Part { amount, unit: None, unit_at });
            break;
        };
        match token.kind {
            Kind::Unit(Some(unit)) => {
                parts.push(Part { amount, unit: Some(unit), unit_at: token.at.clone() });
            }
            Kind::Unit(None) => return Err(slip::unknown_unit(text, &token.at, dimension)),
            _ => return Err(slip::second_number(text, &amount.at, token)),
        }
        rest = after;
    }
    Ok(parts)
}

/// Reads one number with its fraction and tells how many tokens it took.
fn amount(text: &str, tokens: &[Token]) -> Result<(Amount, usize), Fault> {
    let start = tokens[0].at.start;
    let kind = |token_idx: usize| tokens.get(token_idx).map(|token| token.kind);
    let made = |whole: Range<usize>, fraction: Fraction, used: usize| {
        let at = start..tokens[used - 1].at.end;
        let value = number(text, &whole) + fraction.numerator / fraction.denominator;
        (Amount { value, step: fraction.step / fraction.denominator, whole, at }, used)
    };
    match (kind(0), kind(1), kind(2)) {
        (Some(Kind::Vulgar { numerator, denominator }), _, _) => {
            let fraction = Fraction { numerator, denominator, step: 1.0 };
            Ok(made(start..start, fraction, 1))
        }
        (Some(Kind::Number), Some(Kind::Vulgar { numerator, denominator }), _) => {
            whole_before_fraction(text, &tokens[0])?;
            let fraction = Fraction { numerator, denominator, step: 1.0 };
            Ok(made(tokens[0].at.clone(), fraction, 2))
        }
        (Some(Kind::Number), Some(Kind::Slash), _) => {
            let fraction = fraction(text, None, &tokens[..tokens.len().min(3)])?;
            Ok(made(start..start, fraction, 3))
        }
        (Some(Kind::Number), Some(Kind::Number), Some(Kind::Slash)) => {
            whole_before_fraction(text, &tokens[0])?;
            let fraction = fraction(text, Some(&tokens[0]), &tokens[1..tokens.len().min(4)])?;
            Ok(made(tokens[0].at.clone(), fraction, 4))
        }
        (Some(Kind::Number), _, _) => {
            let at = tokens[0].at.clone();
            let value = digits(text, &at)?;
            let written = &text[at.clone()];
            let whole = at.start..at.start + written.find('.').unwrap_or(written.len());
            Ok((Amount { value, step: last_place(written), whole, at }, 1))
        }
        _ => Err(slip::no_number(text, tokens)),
    }
}

struct Fraction {
    numerator: f64,
    denominator: f64,
    /// One unit of the last place of the numerator.
    step: f64,
}

/// Reads the three tokens `number / number`, which stand after a whole number or alone.
fn fraction(text: &str, whole: Option<&Token>, tokens: &[Token]) -> Result<Fraction, Fault> {
    let [above, slash, below] = tokens else {
        return Err(Fault::of_fraction("has nothing after its `/`", tokens[1].at.clone()));
    };
    if !matches!(below.kind, Kind::Number) {
        return Err(Fault::of_fraction(
            "has no number after its `/`",
            slash.at.start..below.at.end,
        ));
    }
    let (numerator, denominator) = (digits(text, &above.at)?, digits(text, &below.at)?);
    let at = above.at.start..below.at.end;
    if text[below.at.clone()].contains('.') {
        let says = format!("divides by `{}`, which is not a whole number", &text[below.at.clone()]);
        return Err(Fault::of_fraction(says, below.at.clone()));
    }
    if denominator == 0.0 {
        return Err(Fault::of_fraction("divides by zero", at));
    }
    if denominator <= numerator {
        let carried = (numerator / denominator).floor();
        let left = tidy(numerator - carried * denominator);
        let sum = carried + whole.map_or(0.0, |token| number(text, &token.at));
        let cure =
            if left == 0.0 { format!("{sum}") } else { format!("{sum} {left}/{denominator}") };
        let all = whole.map_or(above.at.start, |token| token.at.start)..below.at.end;
        let says = format!("has a fraction of one or more, `{}`", &text[at.clone()]);
        return Err(Fault::new(says, at).cured_by(replaced(text, &all, &cure)));
    }
    Ok(Fraction { numerator, denominator, step: last_place(&text[above.at.clone()]) })
}

/// Gives one unit of the last place of a number as it was written.
fn last_place(written: &str) -> f64 {
    let decimals = written.find('.').map_or(0, |point| written.len() - point - 1);
    (0..decimals).fold(1.0, |place, _| place / 10.0)
}

fn whole_before_fraction(text: &str, token: &Token) -> Result<(), Fault> {
    let written = &text[token.at.clone()];
    if written.contains('.') {
        return Err(Fault::of_fraction(
            "has decimals and a fraction in one number",
            token.at.clone(),
        ));
    }
    digits(text, &token.at).map(|_| ())
}

/// Reads a number; more digits than a double holds exactly are nothing that was measured.
fn digits(text: &str, at: &Range<usize>) -> Result<f64, Fault> {
    const MOST_DIGITS: usize = 15;
    if text[at.clone()].bytes().filter(u8::is_ascii_digit).count() > MOST_DIGITS {
        return Err(Fault::new("has more digits than anything can be measured to", at.clone()));
    }
    Ok(number(text, at))
}

/// Gives the value of digits that were scanned, and zero for none.
fn number(text: &str, at: &Range<usize>) -> f64 {
    text[at.clone()].parse().unwrap_or(0.0)
}

fn bare(text: &str, part: &Part, dimension: Option<Dimension>) -> Result<Quantity, Fault> {
    let Amount { value, step, at, .. } = &part.amount;
    let written = &text[at.clone()];
    let quantity = |dimension| Quantity { dimension, si: *value, half_step: step / 2.0 };
    match dimension {
        Some(Dimension::Count) => Ok(quantity(Dimension::Count)),
        // A whole number above one is a percentage to some and a ratio to others.
        Some(Dimension::Fraction) if *value <= 1.0 || written.contains(['.', '/', '\u{2044}']) => {
            Ok(quantity(Dimension::Fraction))
        }
        Some(Dimension::Fraction) => Err(Fault::new("may be a percentage or a ratio", at.clone())
            .cured_by(format!("{written} %"))
            .cured_by(format!("{written}.0"))),
        _ => {
            let units = dimension.map_or(&["in", "mm", "g"][..], Dimension::offered_units);
            let mut fault = Fault::new("has no unit", at.clone());
            fault.cures = units.iter().map(|unit| format!("{written} {unit}")).collect();
            Err(fault)
        }
    }
}

fn belonging(
    found: Dimension,
    si: f64,
    step: f64,
    at: Range<usize>,
    wanted: Option<Dimension>,
) -> Result<Quantity, Fault> {
    match wanted {
        Some(wanted) if wanted != found => {
            let says =
                format!("is {} where {} belongs", found.with_article(), wanted.with_article());
            Err(Fault::new(says, at))
        }
        _ => Ok(Quantity { dimension: found, si, half_step: step / 2.0 }),
    }
}

/// Reads feet with inches, or pounds with ounces.
fn pair(
    text: &str,
    large: &Part,
    small: &Part,
    dimension: Option<Dimension>,
) -> Result<Quantity, Fault> {
    let is_pair = |upper: &Part, lower: &Part| {
        PAIRS.iter().find(|pair| upper.has_unit(pair.large) && lower.has_unit(pair.small))
    };
    let (Some(unit), Some(pair)) = (small.unit, is_pair(large, small)) else {
        let fault = together(text, &[large, small]);
        let swapped = || format!("{} {}", &text[small.at()], &text[large.at()]);
        let is_swapped = is_pair(small, large).is_some();
        return Err(if is_swapped { fault.cured_by(swapped()) } else { fault });
    };
    let total = large.amount.value * pair.ratio + small.amount.value;
    let has_part = large.amount.step != 1.0;
    if has_part || pair.ratio <= small.amount.value {
        let carried = (total / pair.ratio).floor();
        let fault = if has_part {
            let says = format!("has a part of {} before its {}", pair.larges, pair.smalls);
            let left = tidy(total - carried * pair.ratio);
            Fault::new(says, large.amount.at.clone()).cured_by(replaced(
                text,
                &small.amount.at,
                &format!("{left}"),
            ))
        } else {
            let says =
                format!("has {} {} or more after its {}", pair.ratio, pair.smalls, pair.larges);
            let moved = (carried - large.amount.value) * pair.ratio;
            let left = number(text, &small.amount.whole) - moved;
            Fault::new(says, small.at()).cured_by(replaced(
                text,
                &small.amount.whole,
                &format!("{left}"),
            ))
        };
        let at = &large.amount.at;
        let carry = |cure: &String| replaced(cure, at, &format!("{carried}"));
        return Err(Fault { cures: fault.cures.iter().map(carry).collect(), ..fault });
    }
    let at = large.amount.at.start..small.unit_at.end;
    belonging(unit.dimension, unit.si(total), unit.si(small.amount.step), at, dimension)
}

/// Explains parts that make no quantity: the last has no unit, or the units don't belong together.
fn together<P: Borrow<Part>>(text: &str, parts: &[P]) -> Fault {
    let parts: Vec<&Part> = parts.iter().map(Borrow::borrow).collect();
    if let [.., before, last] = parts.as_slice()
        && last.unit.is_none()
    {
        let (written, mark) = (&text[last.amount.at.clone()], &text[before.unit_at.clone()]);
        let fault = Fault::new(format!("has no unit after `{written}`"), last.amount.at.clone());
        let small = PAIRS.iter().find(|pair| before.has_unit(pair.large)).map(|pair| pair.small);
        return match small {
            Some("in") if !mark.starts_with(char::is_alphabetic) => {
                fault.cured_by(replaced(text, &last.unit_at, "\""))
            }
            Some(small) => fault.cured_by(replaced(text, &last.unit_at, &format!(" {small}"))),
            // A carpenter's fraction follows the inch mark: `7'10"1/2`.
            None => fault.cured_by(format!("{} {written}{mark}", &text[..before.amount.at.end])),
        };
    }
    let units: Vec<String> =
        parts.iter().map(|part| format!("`{}`", &text[part.unit_at.clone()])).collect();
    let start = parts.first().map_or(0, |part| part.amount.at.start);
    let end = parts.last().map_or(0, |part| part.unit_at.end);
    Fault::new(format!("puts {} together", units.join(" and ")), start..end)
}

/// Replaces a part of the text by another; what stands before it keeps its place.
pub(crate) fn replaced(text: &str, at: &Range<usize>, by: &str) -> String {
    format!("{}{by}{}", &text[..at.start], &text[at.end..])
}

/// Drops what subtraction of decimals leaves beyond the sixth place.
fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
