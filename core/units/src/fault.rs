//! What is wrong with a text, and the message that quotes it and shows the cure; not the finding of faults.

use std::ops::Range;

use crate::{Dimension, scan};

/// Why a text is not a quantity.
///
/// The message is a lower-case fragment that quotes what was written and says what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityError {
    /// The message.
    pub message: String,
    /// The bytes of the text that it is about.
    pub at: Range<usize>,
}

impl std::fmt::Display for QuantityError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}
impl std::error::Error for QuantityError {}

/// A fault as it was found: cures are texts that may be what was meant, each to be read again before it is shown.
#[derive(Debug)]
pub(crate) struct Fault {
    /// What follows the quoted text in the message.
    pub(crate) says: String,
    pub(crate) at: Range<usize>,
    pub(crate) cures: Vec<String>,
    /// What to write when no cure reads; none for the examples of the dimension.
    pub(crate) instead: Option<&'static str>,
    /// A cure that is a likeness of what was written is asked, not told.
    pub(crate) asks: bool,
}

/// How many cures a message may show.
const MOST_CURES: usize = 4;
/// How many faults of one text may be cured one after the other.
const MOST_FAULTS: usize = 3;

impl Fault {
    pub(crate) fn new(says: impl Into<String>, at: Range<usize>) -> Self {
        Self { says: says.into(), at, cures: Vec::new(), instead: None, asks: false }
    }

    pub(crate) fn cured_by(mut self, cure: impl Into<String>) -> Self {
        self.cures.push(cure.into());
        self
    }

    /// A fault of a fraction, which an example of another number would not mend.
    pub(crate) fn of_fraction(says: impl Into<String>, at: Range<usize>) -> Self {
        let instead = Some("a fraction such as `3/4 in` or `5.5/64 in`");
        Self { instead, ..Self::new(says, at) }
    }

    /// Makes the error; `sign` stands before both the text and its cures.
    pub(crate) fn explain(
        self,
        sign: &str,
        text: &str,
        dimension: Option<Dimension>,
    ) -> QuantityError {
        let mut cures = Vec::new();
        for cure in &self.cures {
            settle(cure, dimension, MOST_FAULTS, &mut cures);
        }
        cures.truncate(MOST_CURES);
        let advice = match cures.as_slice() {
            [] => match (self.instead, dimension) {
                (Some(instead), _) => format!("write {instead}"),
                (None, Some(dimension)) => format!("write one such as {}", dimension.examples()),
                (None, None) => "write one such as `7'2\"`, `2183 mm` or `46 g`".to_owned(),
            },
            cures if self.asks => format!("did you mean {}?", listed(sign, cures)),
            cures => format!("write {}", listed(sign, cures)),
        };
        let written = format!("{sign}{}", text.trim_matches(scan::is_space));
        let message = if written.is_empty() {
            format!("nothing is written: {advice}")
        } else {
            format!("{} {}: {advice}", quoted(&written), self.says)
        };
        QuantityError { message, at: self.at }
    }
}

/// Reads a cure, and cures it in turn while it still has a fault; what cannot be read is never shown.
fn settle(cure: &str, dimension: Option<Dimension>, faults_left: usize, settled: &mut Vec<String>) {
    if settled.len() == MOST_CURES {
        return;
    }
    let cure = cure.trim_matches(scan::is_space);
    match crate::parse::read(cure, dimension) {
        Ok(_) if settled.iter().any(|known| known == cure) => {}
        Ok(_) => settled.push(cure.to_owned()),
        Err(_) if faults_left == 0 => {}
        Err(fault) => {
            for next in &fault.cures {
                settle(next, dimension, faults_left - 1, settled);
            }
        }
    }
}

/// Puts what was written in backticks, on one line, cut short when it is long.
pub(crate) fn quoted(text: &str) -> String {
    let shown: String = text.chars().take(scan::LONGEST).map(printable).collect();
    let rest = if text.chars().nth(scan::LONGEST).is_some() { "…" } else { "" };
    format!("`{shown}{rest}`")
}

/// Puts what to write in backticks, whole, because it is there to be copied.
pub(crate) fn advised(cure: &str) -> String {
    format!("`{}`", cure.chars().map(printable).collect::<String>())
}

/// Replaces what would break the line or turn its direction.
fn printable(character: char) -> char {
    match character {
        _ if scan::is_space(character) => ' ',
        '\u{200C}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2061}'..='\u{206F}' => '\u{FFFD}',
        _ if character.is_control() => '\u{FFFD}',
        _ => character,
    }
}

fn listed(sign: &str, cures: &[String]) -> String {
    let mut list = String::new();
    for (cure_idx, cure) in cures.iter().enumerate() {
        let joint = match cure_idx {
            0 => "",
            _ if cure_idx + 1 == cures.len() => " or ",
            _ => ", ",
        };
        list.push_str(joint);
        list.push_str(&advised(&format!("{sign}{cure}")));
    }
    list
}
