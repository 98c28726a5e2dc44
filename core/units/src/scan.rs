//! A text cut into numbers, units and strays; it knows the letters of the notation, not its grammar.

use std::ops::Range;

use crate::unit::Unit;

/// The most characters a quantity may have.
pub(crate) const LONGEST: usize = 64;

/// One piece of the text.
#[derive(Debug, Clone)]
pub(crate) struct Token {
    pub(crate) kind: Kind,
    /// Its bytes in the text.
    pub(crate) at: Range<usize>,
}

#[derive(Debug, Clone, Copy)]
pub(crate) enum Kind {
    /// Digits, perhaps with a point and more digits.
    Number,
    /// A fraction that is one character, such as `½`.
    Vulgar { numerator: f64, denominator: f64 },
    /// The stroke of a fraction.
    Slash,
    /// Letters or a sign that stand for a unit; none when no unit is spelt like that.
    Unit(Option<&'static Unit>),
    /// A character that is no part of a quantity.
    Stray(char),
}

/// Cuts a text into tokens; spaces of any width only part them.
pub(crate) fn scan(text: &str) -> Vec<Token> {
    let mut tokens = Vec::new();
    let mut start = 0;
    while let Some(first) = text[start..].chars().next() {
        let rest = &text[start..];
        let (kind, length) = match first {
            '0'..='9' => (Some(Kind::Number), number_length(rest)),
            _ if is_space(first) => (None, first.len_utf8()),
            '/' | '\u{2044}' => (Some(Kind::Slash), first.len_utf8()),
            _ if is_prime(first) => match rest[first.len_utf8()..].chars().next() {
                Some(second) if is_prime(second) => {
                    (Some(Kind::Unit(Unit::named("\""))), first.len_utf8() + second.len_utf8())
                }
                _ => (Some(Kind::Unit(Unit::named("'"))), first.len_utf8()),
            },
            '"' | '”' | '“' | '″' | 'ʺ' => {
                (Some(Kind::Unit(Unit::named("\""))), first.len_utf8())
            }
            '°' | 'º' | '˚' => (Some(Kind::Unit(Unit::named("°"))), first.len_utf8()),
            '%' => (Some(Kind::Unit(Unit::named("%"))), 1),
            _ if first.is_alphabetic() => {
                let length = word_length(rest);
                (Some(Kind::Unit(Unit::named(&rest[..length]))), length)
            }
            _ => (Some(vulgar(first).unwrap_or(Kind::Stray(first))), first.len_utf8()),
        };
        tokens.extend(kind.map(|kind| Token { kind, at: start..start + length }));
        start += length;
    }
    tokens
}

/// Tells a space: those of Unicode, and the zero-width ones that come along when a page is copied.
pub(crate) fn is_space(character: char) -> bool {
    character.is_whitespace() || matches!(character, '\u{200B}' | '\u{2060}' | '\u{FEFF}')
}

/// Tells a hyphen, a minus sign or a dash.
pub(crate) fn is_dash(character: char) -> bool {
    matches!(character, '-' | '\u{2010}'..='\u{2015}' | '\u{2212}')
}

fn is_prime(character: char) -> bool {
    matches!(character, '\'' | '’' | '‘' | '′' | 'ʹ' | '´')
}

fn digits_length(text: &str) -> usize {
    text.bytes().take_while(u8::is_ascii_digit).count()
}

fn number_length(text: &str) -> usize {
    let whole = digits_length(text);
    let decimals = text[whole..].strip_prefix('.').map_or(0, digits_length);
    if decimals == 0 { whole } else { whole + 1 + decimals }
}

fn letters_length(text: &str) -> usize {
    text.chars()
        .take_while(|character| character.is_alphabetic() && *character != 'º')
        .map(char::len_utf8)
        .sum()
}

/// Measures a word, which may be a quotient such as `kg/m3`: only after a stroke does a unit hold a digit.
fn word_length(text: &str) -> usize {
    let above = letters_length(text);
    let Some(rest) = text[above..].strip_prefix('/') else { return above };
    let below = letters_length(rest);
    if below == 0 {
        return above;
    }
    let power = ["^3", "3", "³"].into_iter().find(|power| rest[below..].starts_with(power));
    above + 1 + below + power.map_or(0, str::len)
}

fn vulgar(character: char) -> Option<Kind> {
    let (numerator, denominator) = match character {
        '½' => (1.0, 2.0),
        '⅓' => (1.0, 3.0),
        '⅔' => (2.0, 3.0),
        '¼' => (1.0, 4.0),
        '¾' => (3.0, 4.0),
        '⅕' => (1.0, 5.0),
        '⅖' => (2.0, 5.0),
        '⅗' => (3.0, 5.0),
        '⅘' => (4.0, 5.0),
        '⅙' => (1.0, 6.0),
        '⅚' => (5.0, 6.0),
        '⅐' => (1.0, 7.0),
        '⅛' => (1.0, 8.0),
        '⅜' => (3.0, 8.0),
        '⅝' => (5.0, 8.0),
        '⅞' => (7.0, 8.0),
        '⅑' => (1.0, 9.0),
        '⅒' => (1.0, 10.0),
        _ => return None,
    };
    Some(Kind::Vulgar { numerator, denominator })
}
