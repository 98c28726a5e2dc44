//! From the tree to typed values: what every kind of record shares.
//!
//! Which keys a kind has stands in its own file; here are the readers of one value each.

mod action;
pub(crate) mod bench;
pub(crate) mod build;
pub(crate) mod card;
pub(crate) mod fitting;
pub(crate) mod keys;
mod lost;
pub(crate) mod scalars;
pub(crate) mod shop;
pub(crate) mod spec;

use taperbook_units::{
    Angle, Density, Frequency, Interval, Length, Mass, Pressure, Quantity, QuantityError,
};

use self::spec::Spec;
use crate::source::{Problems, quoted};
use crate::yaml::{Entry, List, Map, Node, Style, Value};
use crate::{Span, Spanned};

/// Reads values and reports what is wrong with them.
pub(crate) struct Reader<'s, 'p> {
    pub(crate) source: &'s str,
    pub(crate) problems: &'p mut Problems,
}

impl<'s> Reader<'s, '_> {
    /// Says that a key has no value; `example` shows one.
    pub(crate) fn nothing_after(&mut self, entry: &Entry<'s>, example: &str) {
        if !self.lost_whole(&entry.value) {
            let message = format!(
                "nothing stands after `{}:`: write {example}, or take the key out",
                entry.key
            );
            self.problems.report(entry.key_span.clone(), message);
        }
    }

    /// Gives the map of an entry.
    pub(crate) fn map<'n>(&mut self, entry: &'n Entry<'s>, example: &str) -> Option<&'n Map<'s>> {
        match &entry.value.value {
            Value::Map(map) => Some(map),
            Value::Empty => {
                self.nothing_after(entry, &format!("`{example}`"));
                None
            }
            _ => {
                let message = format!(
                    "{} does not say what it is: write `{}: {example}`",
                    self.written(&entry.value),
                    entry.key
                );
                self.problems.report(entry.value.span.clone(), message);
                None
            }
        }
    }

    /// Gives the list of an entry.
    pub(crate) fn list<'n>(&mut self, entry: &'n Entry<'s>, example: &str) -> Option<&'n List<'s>> {
        match &entry.value.value {
            Value::List(list) => Some(list),
            Value::Empty => {
                self.nothing_after(entry, &format!("a list such as `{example}`"));
                None
            }
            _ => {
                let message = format!(
                    "{} is no list: write each on a line of its own that begins with `- `, such as `{example}`",
                    quoted(&entry.key)
                );
                self.problems.report(entry.key_span.clone(), message);
                None
            }
        }
    }

    /// What was written, in backticks.
    pub(crate) fn written(&self, node: &Node<'s>) -> String {
        quoted(&self.source[node.span.clone()])
    }

    /// Gives the text of an entry that must be a single value, not a list or a map.
    pub(crate) fn single<'n>(
        &mut self,
        entry: &'n Entry<'s>,
        example: &str,
    ) -> Option<(&'n str, Style)> {
        match &entry.value.value {
            Value::Scalar(scalar) if !scalar.text.trim().is_empty() => {
                Some((&scalar.text, scalar.style))
            }
            Value::Empty | Value::Scalar(_) => {
                self.nothing_after(entry, &format!("one such as `{example}`"));
                None
            }
            _ => {
                let message = format!(
                    "{} is not a single value: write one such as `{example}`",
                    self.written(&entry.value)
                );
                self.problems.report(entry.value.span.clone(), message);
                None
            }
        }
    }

    /// Reads a quantity; one that cannot be meant is reported and left out.
    pub(crate) fn quantity(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Quantity>> {
        let entry = entry?;
        let (text, style) = self.single(entry, spec.example)?;
        match Quantity::parse_as(text, spec.dimension) {
            Ok(quantity) => {
                let span = entry.value.span.clone();
                if let Some(message) = spec.implausible(text, quantity.si) {
                    self.problems.report(span, message);
                    return None;
                }
                Some(Spanned { value: quantity, span })
            }
            Err(error) => {
                self.no_quantity(&entry.value, text, style, spec, error);
                None
            }
        }
    }

    /// Reads a range.
    pub(crate) fn interval(&mut self, entry: &Entry<'s>, spec: &Spec) -> Option<Spanned<Interval>> {
        let example = format!(".. {}", spec.example);
        let (text, style) = self.single(entry, &example)?;
        let span = entry.value.span.clone();
        match Interval::parse_as(text, spec.dimension) {
            Ok(interval) => {
                let ends = text.split_once("..").unwrap_or((text, ""));
                for (end, quantity) in [(ends.0, interval.low), (ends.1, interval.high)] {
                    let message =
                        quantity.and_then(|quantity| spec.implausible(end.trim(), quantity.si));
                    if let Some(message) = message {
                        self.problems.report(span, message);
                        return None;
                    }
                }
                Some(Spanned { value: interval, span })
            }
            Err(error) => {
                self.no_quantity(&entry.value, text, style, spec, error);
                None
            }
        }
    }

    fn no_quantity(
        &mut self,
        node: &Node<'s>,
        text: &str,
        style: Style,
        spec: &Spec,
        error: QuantityError,
    ) {
        if style == Style::Double
            && !text.is_empty()
            && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
        {
            let message = format!(
                "`\"{text}\"` is a number without a unit, since these quotes only enclose it: write one such as `{}`",
                if spec.dimension == taperbook_units::Dimension::Length {
                    format!("{text} in")
                } else {
                    spec.example.to_owned()
                }
            );
            self.problems.report(node.span.clone(), message);
            return;
        }
        let message = match no_plain_number(text, spec) {
            Some(message) => message,
            None => error.message,
        };
        self.problems.report(self.inside(node, text, error.at), message);
    }

    /// The bytes of the file that some bytes of a value's text come from; all of it where that is not known.
    fn inside(&self, node: &Node<'s>, text: &str, at: Span) -> Span {
        let written = &self.source[node.span.clone()];
        let offset = if written == text { 0 } else { 1 };
        let same = written.get(offset..).is_some_and(|written| written.starts_with(text));
        let whole = node.span.clone();
        if !same || at.is_empty() {
            whole
        } else {
            whole.start + offset + at.start..whole.start + offset + at.end
        }
    }

    pub(crate) fn length(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Length>> {
        self.quantity(entry, spec).map(|found| with(found, Length::from_si))
    }

    pub(crate) fn mass(&mut self, entry: Option<&Entry<'s>>, spec: &Spec) -> Option<Spanned<Mass>> {
        self.quantity(entry, spec).map(|found| with(found, Mass::from_si))
    }

    pub(crate) fn angle(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Angle>> {
        self.quantity(entry, spec).map(|found| with(found, Angle::from_si))
    }

    pub(crate) fn frequency(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Frequency>> {
        self.quantity(entry, spec).map(|found| with(found, Frequency::from_si))
    }

    pub(crate) fn pressure(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Pressure>> {
        self.quantity(entry, spec).map(|found| with(found, Pressure::from_si))
    }

    pub(crate) fn density(
        &mut self,
        entry: Option<&Entry<'s>>,
        spec: &Spec,
    ) -> Option<Spanned<Density>> {
        self.quantity(entry, spec).map(|found| with(found, Density::from_si))
    }

    /// Reads a quantity that may have a sign.
    pub(crate) fn signed(&mut self, node: &Node<'s>, spec: &Spec) -> Option<f64> {
        let Value::Scalar(scalar) = &node.value else {
            let message = format!(
                "{} is not a single value: write one such as `{}`",
                self.written(node),
                spec.example
            );
            self.problems.report(node.span.clone(), message);
            return None;
        };
        match taperbook_units::parse_signed(&scalar.text, spec.dimension) {
            Ok(quantity) => match spec.implausible(&scalar.text, quantity.si.abs()) {
                Some(message) => {
                    self.problems.report(node.span.clone(), message);
                    None
                }
                None => Some(quantity.si),
            },
            Err(error) => {
                self.no_quantity(node, &scalar.text, scalar.style, spec, error);
                None
            }
        }
    }
}

/// Numbers that YAML knows and a workshop does not: `.nan`, `.inf`, `0x1F`.
fn no_plain_number(text: &str, spec: &Spec) -> Option<String> {
    let lower = text.trim_start_matches(['-', '+']).to_ascii_lowercase();
    if lower == ".nan" || lower == ".inf" {
        return Some(format!(
            "{} is no number: write one such as `{}`",
            quoted(text),
            spec.example
        ));
    }
    let value = scalars::hexadecimal(&lower)?;
    Some(format!(
        "{} is a number to the base 16, {value}: write one such as `{}`",
        quoted(text),
        spec.example
    ))
}

fn with<T>(found: Spanned<Quantity>, make: fn(f64) -> T) -> Spanned<T> {
    Spanned { value: make(found.value.si), span: found.span }
}
