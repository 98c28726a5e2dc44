//! Checks of builds and their benches.

use taperbook_units::Length;

use super::card;
use crate::build::{Action, Build, Cut, Reading};
use crate::read::spec::number;
use crate::source::{Problems, quoted};
use crate::{Spanned, build::Plan};

/// Checks a build.
pub(crate) fn build(build: &Build, source: &str, problems: &mut Problems) {
    let mut length: Option<Length> = None;
    for item in &build.bench {
        match &item.action {
            Action::Read(reading) => {
                tip_thicker_than_butt(reading, problems);
                card::calipers(&reading.calipers, problems);
                length = reading.length.as_ref().map(|read| read.value).or(length);
                if let Some(length) = length {
                    let held_at = reading.held_at.as_ref().or(build.held_at.as_ref());
                    card::held_beyond_the_length(held_at, length, problems);
                    balance_beyond_the_length(reading, length, problems);
                }
            }
            Action::Cut(Cut { tip, butt, unread, .. }) => {
                if !cut_beyond_the_length(tip.as_ref(), butt.as_ref(), length, source, problems) {
                    cut_in_inches_for_millimetres(
                        tip.as_ref(),
                        butt.as_ref(),
                        length,
                        source,
                        problems,
                    );
                }
                let off = |end: &Option<Spanned<Length>>| {
                    end.as_ref().map_or(Length::default(), |end| end.value)
                };
                // After a cut of unknown size the length is unknown until it is read again.
                length = length.filter(|_| !unread).map(|length| length - off(tip) - off(butt));
                length = length.filter(|length| 0.0 < length.si());
            }
            Action::Plan(Plan { tip, butt }) => {
                if !cut_beyond_the_length(tip.as_ref(), butt.as_ref(), length, source, problems) {
                    cut_in_inches_for_millimetres(
                        tip.as_ref(),
                        butt.as_ref(),
                        length,
                        source,
                        problems,
                    );
                }
            }
            Action::Pull(_) | Action::Feel(_) | Action::Settled(_) | Action::Unread => {}
        }
    }
}

fn tip_thicker_than_butt(reading: &Reading, problems: &mut Problems) {
    let (Some(tip), Some(butt)) = (&reading.tip_od, &reading.butt_od) else { return };
    if butt.value < tip.value {
        let message = format!(
            "the tip, {:.2} mm, is thicker than the butt, {:.2} mm: swap the two",
            tip.value.mm(),
            butt.value.mm()
        );
        problems.report(tip.span.clone(), message);
    }
}

fn balance_beyond_the_length(reading: &Reading, length: Length, problems: &mut Problems) {
    if let Some(balance) = reading.balance.as_ref().filter(|balance| length <= balance.value) {
        let message = format!(
            "a balance point {:.0} mm from the butt lies beyond the length of {:.0} mm: measure it from the butt",
            balance.value.mm(),
            length.mm()
        );
        problems.report(balance.span.clone(), message);
    }
}

/// Tells whether it reported anything.
fn cut_beyond_the_length(
    tip: Option<&Spanned<Length>>,
    butt: Option<&Spanned<Length>>,
    length: Option<Length>,
    source: &str,
    problems: &mut Problems,
) -> bool {
    let Some(length) = length else { return false };
    let ends: Vec<&Spanned<Length>> = tip.into_iter().chain(butt).collect();
    let off = ends.iter().fold(Length::default(), |sum, end| sum + end.value);
    let beyond = ends.first().filter(|_| length <= off);
    if let Some(first) = beyond {
        let written = match ends.as_slice() {
            [end] => format!("{} is", quoted(&source[end.span.clone()])),
            _ => "both ends together are".to_owned(),
        };
        let message = format!(
            "{written} {:.0} mm off a blank of {:.0} mm: check the unit, or write the length before it again",
            off.mm(),
            length.mm()
        );
        problems.report(first.span.clone(), message);
    }
    beyond.is_some()
}

/// Asks after a cut that takes much of the blank and would be an everyday one in millimetres.
///
/// A quarter of the blank, or a metre when its length is not known: common practice, no source.
fn cut_in_inches_for_millimetres(
    tip: Option<&Spanned<Length>>,
    butt: Option<&Spanned<Length>>,
    length: Option<Length>,
    source: &str,
    problems: &mut Problems,
) {
    for end in tip.into_iter().chain(butt) {
        let large = length.map_or(Length::from_m(0.9), |length| length * 0.25);
        if end.value <= large {
            continue;
        }
        let written = &source[end.span.clone()];
        let Some(number) = inches(written) else { continue };
        let part = match length {
            Some(length) => format!("takes {:.0} % of the blank", end.value / length * 100.0),
            None => "is a very long cut".to_owned(),
        };
        problems.report(
            end.span.clone(),
            format!("{} {part}: did you mean `{number} mm`?", quoted(written)),
        );
    }
}

/// The number of a length that was written in inches alone.
fn inches(written: &str) -> Option<&str> {
    let number = number(written)?;
    let unit = written.trim_start()[number.len()..].trim().to_ascii_lowercase();
    matches!(unit.as_str(), "in" | "inch" | "inches" | "\"" | "″" | "”").then_some(number)
}
