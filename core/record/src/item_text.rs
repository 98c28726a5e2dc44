//! The text of one bench item that is to be written, made of what somebody gave.
//!
//! Where it goes and whether it reads back is not decided here.

use taperbook_units::{Dimension, Quantity};

use crate::{ScalarPlace, scalar};

/// A quantity as it was written, which says how finely it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The text, with spaces between numbers and units.
    pub text: String,
    /// What it says.
    pub quantity: Quantity,
}

impl Written {
    /// Reads one.
    ///
    /// # Errors
    /// When it is no quantity of this dimension; the message quotes it and says what to write.
    pub fn parse(text: &str, dimension: Dimension) -> Result<Self, String> {
        let quantity = Quantity::parse_as(text, dimension).map_err(|error| error.message)?;
        let spaced = spaced(text.trim());
        // The spaces are for the eye: where they would change what is read, the text stays as it was typed.
        let is_same = Quantity::parse_as(&spaced, dimension).is_ok_and(|read| read == quantity);
        Ok(Self { text: if is_same { spaced } else { text.trim().to_owned() }, quantity })
    }
}

/// Puts a space between numbers and the units beside them: `7ft10in` is `7 ft 10 in`.
fn spaced(text: &str) -> String {
    let mut spaced = String::new();
    let mut before = ' ';
    for c in text.chars() {
        if (before.is_ascii_digit() && c.is_alphabetic())
            || (before.is_alphabetic() && c.is_ascii_digit())
        {
            spaced.push(' ');
        }
        spaced.push(c);
        before = c;
    }
    spaced
}

/// The pairs of an item between braces, in order: `{ tip: 1 in, with: rotary disc }`.
///
/// ```
/// use taperbook_record::{ItemText, Written};
/// use taperbook_units::Dimension;
///
/// let mut item = ItemText::default();
/// item.quantity("tip", Some(&Written::parse("1in", Dimension::Length)?));
/// item.text("with", Some("rotary disc, fine"));
/// assert_eq!(item.of("cut"), "cut: { tip: 1 in, with: \"rotary disc, fine\" }");
/// # Ok::<(), String>(())
/// ```
#[derive(Debug, Default)]
pub struct ItemText(Vec<String>);

impl ItemText {
    /// Adds a value that is YAML already.
    pub fn plain(&mut self, key: &str, value: Option<&str>) {
        self.0.extend(value.map(|value| format!("{key}: {value}")));
    }

    /// Adds words, in quotes where they need them.
    pub fn text(&mut self, key: &str, value: Option<&str>) {
        self.plain(key, value.map(|value| scalar(value, ScalarPlace::Flow)).as_deref());
    }

    /// Adds a quantity as it was written.
    pub fn quantity(&mut self, key: &str, value: Option<&Written>) {
        self.text(key, value.map(|written| written.text.as_str()));
    }

    /// Says whether nothing is in it.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Gives the item of an action, without its `- `.
    pub fn of(&self, action: &str) -> String {
        format!("{action}: {{ {} }}", self.0.join(", "))
    }

    /// Gives the pairs, each on a line of its own.
    pub fn lines(&self) -> String {
        self.0.join("\n")
    }
}
