//! Which values a drawing spans, and which of them are round enough to be written beside an axis.

use taperbook_units::Units;

/// How wide the paper is: what is drawn for a small screen is drawn anew and not made smaller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// A sheet, or the screen of a desk.
    Wide,
    /// A screen that fits a hand.
    Narrow,
}

impl Paper {
    pub(crate) fn width(self) -> f64 {
        match self {
            Paper::Wide => 760.0,
            Paper::Narrow => 340.0,
        }
    }

    /// Part of the names in a drawing, so that both can stand on one page.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Paper::Wide => "wide",
            Paper::Narrow => "narrow",
        }
    }
}

/// A name that fits beside `n_beside` letters on a line this wide: what is too long is shortened in its middle.
pub(crate) fn fitted(name: &str, n_beside: usize, width: f64) -> String {
    // A letter of a heading is about 7.5 points wide.
    let n_letters = (1..100_u8).take_while(|n| 7.5 * f64::from(*n) <= width).count();
    let room = n_letters.saturating_sub(n_beside).max(9);
    let letters: Vec<char> = name.chars().collect();
    if letters.len() <= room {
        return name.to_owned();
    }
    let (start, end) = ((room - 1).div_ceil(2), (room - 1) / 2);
    let start: String = letters.iter().take(start).collect();
    let end: String = letters.iter().skip(letters.len() - end).collect();
    format!("{start}…{end}")
}

/// Steps between lengths that a tape of these units shows, in millimetres.
pub(crate) fn length_steps(units: Units) -> Vec<f64> {
    match units {
        Units::Inches => [0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0].map(|inches| inches * 25.4).to_vec(),
        Units::Millimetres => vec![10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0],
    }
}

/// The least and the most of some values with a little room around; never empty.
pub(crate) fn span(values: impl Iterator<Item = f64>, least: f64) -> (f64, f64) {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
    if high < low {
        return (0.0, least);
    }
    let room = (0.04 * (high - low)).max(least);
    (low - room, high + room)
}

/// Round values inside a span: by the finest of some steps that gives no more than so many of them.
pub(crate) fn ticks((low, high): (f64, f64), steps: &[f64], most: usize) -> Vec<f64> {
    let all = |step: f64| {
        let first = (low / step).ceil();
        let within = move |n: usize| (first + n as f64) * step;
        (0..=most).map(within).take_while(|value| *value <= high).collect::<Vec<f64>>()
    };
    let fits = |ticks: &Vec<f64>| ticks.len() <= most;
    steps.iter().map(|step| all(*step)).find(fits).unwrap_or_else(|| vec![low, high])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_is_too_long_keeps_its_start_and_its_end() {
        assert_eq!(fitted("heron-704", 8, 340.0), "heron-704");
        assert_eq!(fitted("a-name-that-is-longer-than-ten", 0, 75.0), "a-nam…-ten");
        assert_eq!(fitted("ää ää ää ää", 100, 10.0), "ää ä…ä ää");
    }
}
