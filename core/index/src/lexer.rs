//! The text of a query into tokens with the bytes where they stand.
//!
//! Nothing is known here of keys or units: a comparison is a key, an operator and the raw text of a value.
//! What quotes, minus signs and comparisons look like is decided here; what they mean is not.

use std::ops::Range;

use crate::QueryError;
use crate::words::char_start;

/// One token.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Token {
    /// What it is.
    pub(crate) kind: Kind,
    /// Where it stands.
    pub(crate) at: Range<usize>,
}

/// What a token is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Kind {
    /// `(`
    Open,
    /// `)`
    Close,
    /// A minus right before what it excludes.
    Minus,
    /// The bare word `or`.
    Or,
    /// A word or a quoted phrase.
    Text(Piece),
    /// `key:value` and the like.
    Compare(Comparison),
}

/// A comparison as it is written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Comparison {
    /// The key.
    pub(crate) key: Range<usize>,
    /// The operator.
    pub(crate) operator: Operator,
    /// The value.
    pub(crate) value: Value,
    /// All that was written for the value, quotes included.
    pub(crate) whole: Range<usize>,
}

/// How a comparison compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Operator {
    /// `:`
    Is,
    /// `<`
    Below,
    /// `<=`
    AtMost,
    /// `>`
    Above,
    /// `>=`
    AtLeast,
}

/// The value of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    /// One value.
    One(Piece),
    /// `A..B`, either end optional.
    Ends(Option<Piece>, Option<Piece>),
}

/// A word, or what stands between quotes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Piece {
    /// Where its text stands, without quotes and star.
    pub(crate) at: Range<usize>,
    /// It stood in quotes.
    pub(crate) quoted: bool,
    /// A star stood at its end: it is the beginning of a word.
    pub(crate) star: bool,
}

/// The most bytes of a query.
pub(crate) const LONGEST_QUERY: usize = 4096;

/// Splits a query into tokens.
pub(crate) fn tokens(query: &str) -> Result<Vec<Token>, QueryError> {
    if LONGEST_QUERY < query.len() {
        let message = format!(
            "the query is {} bytes long, and at most {LONGEST_QUERY} are read: ask for less at once",
            query.len()
        );
        return Err(QueryError { message, at: char_start(query, LONGEST_QUERY)..query.len() });
    }
    let mut lexer = Lexer { query, at: 0 };
    let mut tokens = Vec::new();
    while let Some(token) = lexer.token()? {
        tokens.push(token);
    }
    Ok(tokens)
}

struct Lexer<'a> {
    query: &'a str,
    at: usize,
}

impl Lexer<'_> {
    fn token(&mut self) -> Result<Option<Token>, QueryError> {
        self.skip_while(char::is_whitespace);
        let start = self.at;
        let Some(char) = self.peek() else { return Ok(None) };
        let kind = match char {
            '(' => self.single(Kind::Open),
            ')' => self.single(Kind::Close),
            _ if is_minus(char) => self.minus()?,
            _ if is_quote(char) => self.quoted_token()?,
            _ => self.bare_token()?,
        };
        Ok(Some(Token { kind, at: start..self.at }))
    }

    fn single(&mut self, kind: Kind) -> Kind {
        self.bump();
        kind
    }

    fn minus(&mut self) -> Result<Kind, QueryError> {
        let start = self.at;
        self.bump();
        match self.peek() {
            Some(next) if !next.is_whitespace() && next != ')' => Ok(Kind::Minus),
            _ => Err(QueryError {
                message: "a minus stands right before what it excludes: write `-word`".to_owned(),
                at: start..self.at,
            }),
        }
    }

    /// A phrase, or the quoted key of a comparison.
    fn quoted_token(&mut self) -> Result<Kind, QueryError> {
        let piece = self.quoted()?;
        if self.peek().is_some_and(is_operator) {
            return self.comparison(piece.at);
        }
        self.expect_end_after_quote()?;
        Ok(Kind::Text(piece))
    }

    fn bare_token(&mut self) -> Result<Kind, QueryError> {
        let start = self.at;
        while let Some(char) = self.peek() {
            if ends_word(char) {
                break;
            }
            if is_operator(char) && (is_key(&self.query[start..self.at]) || char != ':') {
                return self.comparison(start..self.at);
            }
            self.check_quote(start)?;
            self.bump();
        }
        let written = &self.query[start..self.at];
        if written.eq_ignore_ascii_case("or") {
            return Ok(Kind::Or);
        }
        if matches!(written, "AND" | "NOT") {
            let instead = if written == "AND" {
                "words side by side are all required"
            } else {
                "write `-word`"
            };
            return Err(QueryError {
                message: format!(
                    "`{written}` is no operator here: {instead}; to search for the word, write `{}`",
                    written.to_lowercase()
                ),
                at: start..self.at,
            });
        }
        self.piece_from(start).map(Kind::Text)
    }

    /// A key was read and an operator comes next.
    fn comparison(&mut self, key: Range<usize>) -> Result<Kind, QueryError> {
        let sign_start = self.at;
        self.skip_while(is_operator);
        let sign = sign_start..self.at;
        let written = &self.query[sign.clone()];
        let operator = match written {
            ":" => Operator::Is,
            "<" => Operator::Below,
            "<=" | "≤" => Operator::AtMost,
            ">" => Operator::Above,
            ">=" | "≥" => Operator::AtLeast,
            _ => return Err(unknown_operator(written, sign)),
        };
        let name = &self.query[key.clone()];
        if !is_key(name)
            && self.query[..key.start].chars().next_back().is_none_or(|char| !is_quote(char))
        {
            let message = match name {
                "" => format!(
                    "before `{written}` the field is missing: write one such as `length{written}7'`, without spaces"
                ),
                _ => format!(
                    "`{name}` is no name of a field: before `{written}` write one such as `length`"
                ),
            };
            return Err(QueryError { message, at: if name.is_empty() { sign } else { key } });
        }
        let value_start = self.at;
        let value = self.value(operator)?;
        if value == Value::Ends(None, None)
            || matches!(&value, Value::One(piece) if piece.at.is_empty())
        {
            let message = format!(
                "after `{name}{written}` the value is missing: write it right behind, in quotes when it has a space in it"
            );
            return Err(QueryError { message, at: key.start..self.at });
        }
        Ok(Kind::Compare(Comparison { key, operator, value, whole: value_start..self.at }))
    }

    fn value(&mut self, operator: Operator) -> Result<Value, QueryError> {
        let has_ends = operator == Operator::Is;
        let low = self.value_piece(has_ends)?;
        if !(has_ends && self.rest().starts_with("..")) {
            return Ok(Value::One(low));
        }
        self.at += 2;
        let high = self.value_piece(false)?;
        let some = |piece: Piece| (!piece.at.is_empty() || piece.quoted).then_some(piece);
        Ok(Value::Ends(some(low), some(high)))
    }

    fn value_piece(&mut self, stop_at_dots: bool) -> Result<Piece, QueryError> {
        if self.peek().is_some_and(is_quote) {
            let piece = self.quoted()?;
            if !(stop_at_dots && self.rest().starts_with("..")) {
                self.expect_end_after_quote()?;
            }
            return Ok(piece);
        }
        let start = self.at;
        while let Some(char) = self.peek() {
            if ends_word(char) || (stop_at_dots && self.rest().starts_with("..")) {
                break;
            }
            self.check_quote(start)?;
            self.bump();
        }
        self.piece_from(start)
    }

    /// Makes a piece of the bare text from `start` to here, and takes a star off its end.
    fn piece_from(&self, start: usize) -> Result<Piece, QueryError> {
        let written = &self.query[start..self.at];
        let text = written.strip_suffix('*').unwrap_or(written);
        if let Some(at) = text.find('*') {
            let message = format!(
                "a `*` stands only at the end of a word, as in `heron*`, and `{written}` has one elsewhere"
            );
            return Err(QueryError { message, at: start + at..start + at + 1 });
        }
        Ok(Piece { at: start..start + text.len(), quoted: false, star: text.len() < written.len() })
    }

    /// Reads from a quote to the one that closes it, and a star behind it.
    ///
    /// A quote that is directly followed by another is an inch mark: `"7'2""`.
    fn quoted(&mut self) -> Result<Piece, QueryError> {
        let open = self.at;
        self.bump();
        let start = self.at;
        let close = self.rest().char_indices().find(|(at, char)| {
            let next = self.rest()[at + char.len_utf8()..].chars().next();
            is_quote(*char) && !next.is_some_and(is_quote)
        });
        let Some((length, quote)) = close else {
            return Err(QueryError {
                message: "this quote is not closed: put another at the end of the phrase"
                    .to_owned(),
                at: open..start,
            });
        };
        self.at = start + length + quote.len_utf8();
        let star = self.peek() == Some('*');
        if star {
            self.bump();
        }
        Ok(Piece { at: start..start + length, quoted: true, star })
    }

    fn expect_end_after_quote(&self) -> Result<(), QueryError> {
        match self.peek() {
            Some(char) if !ends_word(char) => Err(QueryError {
                message: format!("after the closing quote a space is missing before `{char}`"),
                at: self.at..self.at + char.len_utf8(),
            }),
            _ => Ok(()),
        }
    }

    /// Refuses a quote in the middle of a word, unless it is an inch mark.
    fn check_quote(&self, start: usize) -> Result<(), QueryError> {
        let before = self.query[start..self.at].chars().next_back();
        match self.peek() {
            Some(quote) if is_quote(quote) && !before.is_some_and(|char| char.is_numeric()) => {
                Err(QueryError {
                    message: format!(
                        "a quote in the middle of a word: a `{quote}` opens a phrase, closes one, or is an inch mark behind a number"
                    ),
                    at: self.at..self.at + quote.len_utf8(),
                })
            }
            _ => Ok(()),
        }
    }

    fn rest(&self) -> &str {
        &self.query[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn bump(&mut self) {
        self.at += self.peek().map_or(0, char::len_utf8);
    }

    fn skip_while(&mut self, keep: impl Fn(char) -> bool) {
        while self.peek().is_some_and(&keep) {
            self.bump();
        }
    }
}

fn unknown_operator(written: &str, at: Range<usize>) -> QueryError {
    let instead = match written {
        "=" | "==" | ":=" | "::" | "=:" => "write `:`, as in `length:7'2\"`",
        "=<" | "<:" | ":<=" => "write `<=`",
        "=>" | ">:" | ":>=" => "write `>=`",
        ":<" => "write `<`",
        ":>" => "write `>`",
        "<>" | "><" => "write a minus before the whole, as in `-length:7'2\"`",
        _ => "write one of `:` `<` `<=` `>` `>=`",
    };
    QueryError { message: format!("`{written}` compares nothing: {instead}"), at }
}

/// Is true for the signs that a keyboard or a word processor gives for a minus.
fn is_minus(char: char) -> bool {
    matches!(char, '-' | '\u{2212}' | '\u{2010}'..='\u{2014}')
}

fn is_quote(char: char) -> bool {
    matches!(char, '"' | '“' | '”' | '„' | '‟' | '«' | '»')
}

fn is_operator(char: char) -> bool {
    matches!(char, ':' | '<' | '>' | '=' | '≤' | '≥')
}

fn ends_word(char: char) -> bool {
    char.is_whitespace() || matches!(char, '(' | ')')
}

/// Is true for what a bare key may look like; any other key can stand in quotes.
fn is_key(text: &str) -> bool {
    text.starts_with(|char: char| char.is_alphabetic() || char == '_')
        && text.chars().all(|char| char.is_alphanumeric() || "_-./".contains(char))
}
