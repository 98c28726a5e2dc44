//! A bar that shows where a range sits: beside what is allowed, or beside what was read.
//!
//! It says nothing that does not stand beside it in words, and is hidden from those who are read to.

use std::fmt::Write as _;

/// What a bar shows, all in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bar {
    /// The value with its range: value, low, high.
    pub known: Option<(f64, f64, f64)>,
    /// What is allowed; an end that is open has no bound.
    pub allowed: (Option<f64>, Option<f64>),
    /// What was read.
    pub read: Option<f64>,
}

const WIDTH: f64 = 240.0;
const HEIGHT: f64 = 22.0;
const MARGIN: f64 = 8.0;
const MIDDLE: f64 = HEIGHT / 2.0;

/// Draws a bar, as a part of a page: the allowed part as a slot, the range as a rod in it, the value as a notch, what was
/// read as a dot. A range that leaves the slot is drawn as an outline with its ends barred.
pub fn bar(bar: &Bar) -> String {
    let mut svg = format!(
        "<svg class=\"bar\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" aria-hidden=\"true\">"
    );
    let ends = [bar.allowed.0, bar.allowed.1, bar.read];
    let known = bar.known.map(|(value, low, high)| [value, low, high]);
    let all = ends.into_iter().flatten().chain(known.into_iter().flatten());
    let (from, to) = crate::scale::span(all, 1e-9);
    let room = 0.12 * (to - from);
    let (from, to) = (from - room, to + room);
    let x = |value: f64| MARGIN + (value - from) / (to - from) * (WIDTH - 2.0 * MARGIN);
    // Writing to a string can't fail.
    let mut add = |element: std::fmt::Arguments| {
        let _ = svg.write_fmt(element);
    };
    let (low, high) = bar.allowed;
    if low.is_some() || high.is_some() {
        let (left, right) = (low.map_or(0.0, x), high.map_or(WIDTH, x));
        let wide = (right - left).max(1.0);
        add(format_args!(
            "<rect class=\"pale\" x=\"{left:.1}\" y=\"3\" width=\"{wide:.1}\" height=\"16\"/>"
        ));
        for end in [low, high].into_iter().flatten().map(x) {
            add(format_args!(
                "<line class=\"ink\" x1=\"{end:.1}\" y1=\"1\" x2=\"{end:.1}\" y2=\"21\"/>"
            ));
        }
    }
    if let Some((value, least, most)) = bar.known {
        let is_out = low.is_some_and(|low| least < low) || high.is_some_and(|high| high < most);
        let (left, wide) = (x(least), (x(most) - x(least)).max(2.0));
        let class = if is_out { "red" } else { "rod" };
        add(format_args!(
            "<rect class=\"{class}\" x=\"{left:.1}\" y=\"7\" width=\"{wide:.1}\" height=\"8\"/>"
        ));
        let notch = x(value);
        add(format_args!(
            "<line class=\"ink\" x1=\"{notch:.1}\" y1=\"4\" x2=\"{notch:.1}\" y2=\"18\"/>"
        ));
    }
    if let Some(read) = bar.read {
        add(format_args!(
            "<circle class=\"dot\" cx=\"{:.1}\" cy=\"{MIDDLE}\" r=\"4.5\"/>",
            x(read)
        ));
    }
    svg + "</svg>"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::testing::is_well_formed;

    #[test]
    fn a_range_that_leaves_what_is_allowed_looks_other_than_one_inside() {
        let allowed = (Some(200.0), Some(260.0));
        let inside = bar(&Bar { known: Some((230.0, 220.0, 240.0)), allowed, read: Some(228.0) });
        assert!(inside.contains("class=\"rod\"") && !inside.contains("class=\"red\""), "{inside}");
        let out = bar(&Bar { known: Some((255.0, 245.0, 265.0)), allowed, read: None });
        assert!(out.contains("class=\"red\""), "{out}");
        let open =
            bar(&Bar { known: Some((2.1, 2.0, 2.3)), allowed: (None, Some(2.2)), read: None });
        assert!(open.contains("class=\"red\"") && open.contains("x=\"0.0\""), "{open}");
        for svg in [inside, out, open, bar(&Bar::default())] {
            is_well_formed(&svg);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
    }
}
