//! Tokens into a query: what binds, what is excluded, what is grouped.
//!
//! Side by side means all, `or` binds looser, a minus binds to the one thing behind it, parentheses group.

use std::ops::Range;

use crate::QueryError;
use crate::error::quoted;
use crate::lexer::{self, Kind, Piece, Token};
use crate::query::{Node, Phrase};
use crate::resolve::Resolver;
use crate::words::folded_words;

/// How deep parentheses and minus signs may be nested.
const DEEPEST: usize = 32;

/// How many words and comparisons a query may have.
const MOST_CLAUSES: usize = 256;

/// Understands a query.
pub(crate) fn parse(query: &str, resolver: &Resolver) -> Result<Node, QueryError> {
    let tokens = lexer::tokens(query)?;
    let mut parser = Parser { query, tokens: &tokens, next: 0, clauses: 0, resolver };
    if tokens.is_empty() {
        return Ok(Node::Everything);
    }
    let node = parser.alternatives(0)?;
    match parser.peek() {
        None => Ok(node),
        Some(token) => Err(QueryError {
            message: "this parenthesis closes nothing: take it out, or open one before it"
                .to_owned(),
            at: token.at.clone(),
        }),
    }
}

struct Parser<'a> {
    query: &'a str,
    tokens: &'a [Token],
    next: usize,
    clauses: usize,
    resolver: &'a Resolver<'a>,
}

impl<'a> Parser<'a> {
    fn alternatives(&mut self, depth: usize) -> Result<Node, QueryError> {
        let mut parts = vec![self.side_by_side(depth)?];
        while self.peek().is_some_and(|token| token.kind == Kind::Or) {
            self.next += 1;
            parts.push(self.side_by_side(depth)?);
        }
        Ok(single_or(parts, Node::Or))
    }

    fn side_by_side(&mut self, depth: usize) -> Result<Node, QueryError> {
        let mut parts = Vec::new();
        while let Some(token) = self.peek() {
            if matches!(token.kind, Kind::Or | Kind::Close) {
                break;
            }
            parts.push(self.one(depth)?);
        }
        if parts.is_empty() {
            return Err(self.nothing_here());
        }
        Ok(single_or(parts, Node::And))
    }

    /// One word, phrase, comparison or group, with the minus signs before it.
    fn one(&mut self, depth: usize) -> Result<Node, QueryError> {
        let Some(token) = self.take() else { return Err(self.nothing_here()) };
        if DEEPEST < depth {
            return Err(QueryError {
                message: format!(
                    "parentheses and minus signs are nested more than {DEEPEST} deep here: ask more simply"
                ),
                at: token.at.clone(),
            });
        }
        match &token.kind {
            Kind::Minus => Ok(match self.one(depth + 1)? {
                Node::Not(node) => *node,
                node => Node::Not(Box::new(node)),
            }),
            Kind::Open => {
                let node = self.alternatives(depth + 1)?;
                match self.take() {
                    Some(Token { kind: Kind::Close, .. }) => Ok(node),
                    _ => Err(QueryError {
                        message: "this parenthesis is not closed: put `)` at the end of the group"
                            .to_owned(),
                        at: token.at.clone(),
                    }),
                }
            }
            Kind::Text(piece) => self.words(piece, &token.at),
            Kind::Compare(comparison) => {
                self.count(1, &token.at)?;
                self.resolver.comparison(comparison, &token.at)
            }
            Kind::Or | Kind::Close => {
                self.next -= 1;
                Err(self.nothing_here())
            }
        }
    }

    fn words(&mut self, piece: &Piece, at: &Range<usize>) -> Result<Node, QueryError> {
        let words = folded_words(&self.query[piece.at.clone()]);
        if words.is_empty() {
            let message = format!(
                "{} has no letter and no digit to search for: take it out",
                quoted(&self.query[at.clone()])
            );
            return Err(QueryError { message, at: at.clone() });
        }
        self.count(words.len(), at)?;
        let phrase = Phrase { words, prefix: piece.star };
        self.resolver.check_prefix(None, &phrase, at)?;
        Ok(Node::Words(phrase))
    }

    fn count(&mut self, more: usize, at: &Range<usize>) -> Result<(), QueryError> {
        self.clauses += more;
        if MOST_CLAUSES < self.clauses {
            return Err(QueryError {
                message: format!(
                    "the query has more than {MOST_CLAUSES} words and comparisons: ask for less at once"
                ),
                at: at.clone(),
            });
        }
        Ok(())
    }

    /// Says what is wrong where something was expected and nothing, an `or` or a parenthesis stands.
    fn nothing_here(&self) -> QueryError {
        let before = self.next.checked_sub(1).and_then(|at| self.tokens.get(at));
        let here = self.peek();
        let (message, token) =
            match (before.map(|token| &token.kind), here.map(|token| &token.kind)) {
                (Some(Kind::Open), Some(Kind::Close)) => {
                    ("there is nothing between these parentheses", here)
                }
                (Some(Kind::Open), None) => {
                    ("this parenthesis is not closed: put `)` at the end of the group", before)
                }
                (Some(Kind::Or), _) => (
                    "after this `or` something is missing; to search for the word, write `\"or\"`",
                    before,
                ),
                (Some(Kind::Minus), _) => {
                    ("a minus stands right before what it excludes: write `-word`", before)
                }
                (_, Some(Kind::Or)) => (
                    "before this `or` something is missing; to search for the word, write `\"or\"`",
                    here,
                ),
                (_, Some(Kind::Close)) => {
                    ("this parenthesis closes nothing: take it out, or open one before it", here)
                }
                _ => ("something is missing at the end", before),
            };
        QueryError { message: message.to_owned(), at: token.map_or(0..0, |token| token.at.clone()) }
    }

    fn peek(&self) -> Option<&'a Token> {
        self.tokens.get(self.next)
    }

    fn take(&mut self) -> Option<&'a Token> {
        let token = self.tokens.get(self.next);
        self.next += usize::from(token.is_some());
        token
    }
}

fn single_or(mut parts: Vec<Node>, several: fn(Vec<Node>) -> Node) -> Node {
    match parts.pop() {
        Some(only) if parts.is_empty() => only,
        Some(last) => {
            parts.push(last);
            several(parts)
        }
        None => Node::Everything,
    }
}
