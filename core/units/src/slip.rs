//! The slips of a busy hand: commas, signs, points, exponents, words; each with what was likely meant.

use std::ops::Range;

use crate::Dimension;
use crate::fault::{Fault, quoted};
use crate::parse::replaced;
use crate::scan::{Kind, Token, is_dash, is_space};
use crate::unit::Unit;

/// Finds the first slip that can be told without the grammar.
pub(crate) fn find(text: &str, tokens: &[Token]) -> Option<Fault> {
    if let Some(at) = text.find("..") {
        return Some(Fault::new("is a range where one quantity belongs", at..at + 2));
    }
    (0..tokens.len()).find_map(|token_idx| match tokens[token_idx].kind {
        Kind::Stray(character) => Some(stray(text, tokens, token_idx, character)),
        Kind::Unit(None) => exponent(text, tokens, token_idx),
        _ => None,
    })
}

fn stray(text: &str, tokens: &[Token], token_idx: usize, character: char) -> Fault {
    let at = &tokens[token_idx].at;
    let before = token_idx.checked_sub(1).map(|before_idx| &tokens[before_idx]);
    let before = before.filter(|token| token.at.end == at.start);
    let after = tokens.get(token_idx + 1).filter(|token| token.at.start == at.end);
    let before_digits = before.filter(|token| matches!(token.kind, Kind::Number));
    let after_digits = after.filter(|token| matches!(token.kind, Kind::Number));
    let removed = || replaced(text, at, "");
    let spaced = || replaced(text, at, " ");
    let fault = |says: &str| Fault::new(says, at.clone());
    match character {
        ',' | '\u{066B}' | '\u{066C}' | '，' => match (before_digits, after_digits) {
            (Some(before), Some(after)) => comma(text, at, &text[before.at.clone()], after),
            _ if text[at.end..].starts_with(is_space) => fault("has a comma").cured_by(removed()),
            _ => fault("has a comma").cured_by(spaced()),
        },
        '_' => fault("has an underscore").cured_by(removed()),
        '+' => fault("has a plus sign").cured_by(removed()),
        _ if is_dash(character) && token_idx == 0 => {
            fault("has a minus sign where none belongs").cured_by(removed())
        }
        _ if is_dash(character) => fault("has a dash inside").cured_by(spaced()),
        '.' => match (before_digits, after_digits) {
            (Some(before), _) if text[before.at.clone()].contains('.') => {
                fault("has more than one decimal point")
            }
            (Some(_), _) => fault("has nothing after its decimal point").cured_by(removed()),
            (None, Some(_)) => {
                fault("has nothing before its decimal point").cured_by(replaced(text, at, "0."))
            }
            (None, None) => fault("has a full stop").cured_by(removed()),
        },
        '…' => fault("has `…`, and a range is written with `..`"),
        _ => fault(&format!("has {}, which is no part of a quantity", quoted(&text[at.clone()])))
            .cured_by(removed()),
    }
}

/// Explains a comma between digits, which is a decimal mark to some and a thousands mark to others.
fn comma(text: &str, at: &Range<usize>, before: &str, after: &Token) -> Fault {
    let fault = Fault::new("has a comma", at.clone());
    if let Some(point) = before.find('.') {
        let start = at.start - before.len() + point;
        let swapped = replaced(text, at, ".");
        return fault.cured_by(replaced(&swapped, &(start..start + 1), ""));
    }
    let commas = text.matches(',').count();
    let is_thousands = before != "0" && before.len() <= 3 && after.at.len() == 3;
    let with_point = replaced(text, at, ".");
    match (is_thousands, commas) {
        (true, 1) => fault.cured_by(replaced(text, at, "")).cured_by(with_point),
        (true, _) => fault.cured_by(text.replace(',', "")),
        (false, 1) if text[after.at.clone()].contains('.') => {
            fault.cured_by(replaced(text, at, ""))
        }
        (false, _) => fault.cured_by(with_point),
    }
}

/// Tells `1e3` from a number with an unknown unit.
fn exponent(text: &str, tokens: &[Token], token_idx: usize) -> Option<Fault> {
    let letter = &tokens[token_idx];
    let before = token_idx.checked_sub(1).map(|before_idx| &tokens[before_idx])?;
    let next = tokens.get(token_idx + 1)?;
    let last = match next.kind {
        Kind::Stray(character) if character == '+' || is_dash(character) => {
            tokens.get(token_idx + 2).filter(|last| last.at.start == next.at.end)?
        }
        _ => next,
    };
    let joined = before.at.end == letter.at.start && next.at.start == letter.at.end;
    let numbers = matches!((before.kind, last.kind), (Kind::Number, Kind::Number));
    if !joined || !numbers || !text[letter.at.clone()].eq_ignore_ascii_case("e") {
        return None;
    }
    let at = before.at.start..last.at.end;
    let fault = Fault::new("has an exponent", at.clone());
    let value = text[at.clone()].parse::<f64>().ok().filter(|value| value.is_finite());
    Some(match value {
        Some(value) => fault.cured_by(replaced(text, &at, &format!("{value}"))),
        None => fault,
    })
}

/// Explains a word after a number that is no unit.
pub(crate) fn unknown_unit(text: &str, at: &Range<usize>, dimension: Option<Dimension>) -> Fault {
    let written = &text[at.clone()];
    let fault = Fault::new(format!("has an unknown unit {}", quoted(written)), at.clone());
    match Unit::near(written, dimension) {
        Some(near) => {
            let cure = replaced(text, at, near);
            Fault { asks: true, ..fault }.cured_by(cure)
        }
        None => fault,
    }
}

/// Explains a token that stands where the unit of a number belongs.
pub(crate) fn second_number(text: &str, first: &Range<usize>, token: &Token) -> Fault {
    let at = first.start..token.at.end;
    match token.kind {
        Kind::Slash => Fault::of_fraction("has a `/` too many", token.at.clone()),
        Kind::Number if is_grouped(&text[first.clone()], &text[token.at.clone()]) => {
            let gap = first.end..token.at.start;
            Fault::new("has a space inside its number", at).cured_by(replaced(text, &gap, ""))
        }
        _ => Fault::new("has two numbers before one unit", at),
    }
}

/// Tells whether two numbers are one with a space for its thousands mark.
fn is_grouped(first: &str, second: &str) -> bool {
    let is_whole = first.bytes().all(|byte| byte.is_ascii_digit());
    is_whole && second.find('.').unwrap_or(second.len()) == 3
}

/// Explains the first of the tokens, which stands where a number belongs.
pub(crate) fn no_number(text: &str, tokens: &[Token]) -> Fault {
    let token = &tokens[0];
    let word = &text[token.at.clone()];
    let before = text[..token.at.start].trim_matches(is_space);
    if matches!(token.kind, Kind::Slash) {
        return Fault::of_fraction("has nothing before its `/`", token.at.clone());
    }
    let has_number =
        tokens.iter().any(|token| matches!(token.kind, Kind::Number | Kind::Vulgar { .. }));
    let rest = text[token.at.end..].trim_matches(is_space);
    if !has_number && before.is_empty() {
        return Fault::new("has no number", token.at.clone());
    }
    let is_quoted = ['"', '\'', '”', '“', '’', '‘'].iter().any(|mark| rest.ends_with(*mark));
    if before.is_empty() {
        let fault = Fault::new(format!("has no number before {}", quoted(word)), token.at.clone());
        return match rest.char_indices().next_back() {
            Some((end, _)) if is_quoted && !word.starts_with(char::is_alphabetic) => {
                fault.cured_by(&rest[..end])
            }
            _ if !rest.is_empty() => fault.cured_by(format!("{rest} {word}")),
            _ => fault,
        };
    }
    Fault::new(format!("has {} after its unit", quoted(word)), token.at.clone()).cured_by(before)
}
