//! Checks of blank cards and of the calipers in a reading.

use taperbook_units::Length;

use crate::card::{Blank, Caliper};
use crate::source::Problems;
use crate::{Span, Spanned};

/// A maker's stated length is a centimetre off at times, so a caliper may lie that far beyond it
/// (common practice, no source).
const STATED_LENGTH_ERROR: Length = Length::from_mm(10.0);

/// Checks a card.
pub(crate) fn card(blank: &Blank, problems: &mut Problems) {
    calipers(&blank.calipers, problems);
    if let Some(length) = &blank.length {
        caliper_beyond_the_length(&blank.calipers, length, problems);
        joint_beyond_the_length(blank, length, problems);
        held_beyond_the_length(blank.held_at.as_ref(), length.value, problems);
    }
}

/// Checks caliper readings by themselves.
pub(crate) fn calipers(calipers: &[Caliper], problems: &mut Problems) {
    wall_beyond_half_the_diameter(calipers, problems);
    two_at_one_place(calipers, problems);
    diameters_grow_to_the_tip(calipers, problems);
}

fn wall_beyond_half_the_diameter(calipers: &[Caliper], problems: &mut Problems) {
    // A solid tip's wall is half its diameter, give or take what a caliper is off.
    let slack = Length::from_mm(0.05);
    for caliper in calipers {
        if let Some(wall) = caliper.wall.filter(|wall| caliper.od * 0.5 + slack < *wall) {
            let message = format!(
                "a wall of {:.2} mm is more than half the diameter of {:.2} mm: measure again",
                wall.mm(),
                caliper.od.mm()
            );
            problems.report(caliper.span.clone(), message);
        }
    }
}

fn two_at_one_place(calipers: &[Caliper], problems: &mut Problems) {
    let too_near = Length::from_mm(0.1);
    for pair in calipers.windows(2) {
        if pair[1].at - pair[0].at < too_near {
            let later = pair[1].span.start.max(pair[0].span.start);
            let span = if later == pair[1].span.start { &pair[1].span } else { &pair[0].span };
            problems.report(span.clone(), "two diameters stand at the same place: take one out");
        }
    }
}

/// Finds calipers that were measured from the tip.
///
/// A swell or a sleeve may thicken a blank here or there, so all of it must grow before anything is said.
fn diameters_grow_to_the_tip(calipers: &[Caliper], problems: &mut Problems) {
    let (Some(first), Some(last)) = (calipers.first(), calipers.last()) else { return };
    let grows = calipers.windows(2).all(|pair| pair[0].od <= pair[1].od) && first.od < last.od;
    if grows {
        let span =
            calipers.iter().map(|caliper| caliper.span.start).min().unwrap_or(first.span.start)
                ..calipers.iter().map(|caliper| caliper.span.end).max().unwrap_or(first.span.end);
        let message = format!(
            "the diameters grow from {:.2} mm to {:.2} mm away from the butt: `at` is measured from the butt, the thick end",
            first.od.mm(),
            last.od.mm()
        );
        problems.report(span, message);
    }
}

fn caliper_beyond_the_length(
    calipers: &[Caliper],
    length: &Spanned<Length>,
    problems: &mut Problems,
) {
    for caliper in calipers {
        if length.value + STATED_LENGTH_ERROR < caliper.at {
            let message = beyond("this caliper", caliper.at, length.value);
            problems.report(caliper.span.clone(), message);
        }
    }
}

fn joint_beyond_the_length(blank: &Blank, length: &Spanned<Length>, problems: &mut Problems) {
    for joint in blank.joints.iter().filter(|joint| length.value <= joint.at) {
        problems.report(joint.span.clone(), beyond("this joint", joint.at, length.value));
    }
}

/// Checks that a blank is held somewhere on its length.
pub(crate) fn held_beyond_the_length(
    held_at: Option<&Spanned<Length>>,
    length: Length,
    problems: &mut Problems,
) {
    if let Some(Spanned { value, span }) = held_at.filter(|held_at| length <= held_at.value) {
        let span: Span = span.clone();
        problems.report(span, beyond("where it is held", *value, length));
    }
}

fn beyond(what: &str, at: Length, length: Length) -> String {
    format!(
        "{what}, {:.0} mm from the butt, lies beyond the blank's length of {:.0} mm: check which of the two is wrong",
        at.mm(),
        length.mm()
    )
}
