//! Which rods a blank could be, as a drawing: power to the right, length upwards.
//!
//! The area is what cuts can make of the blank. Its left edge has all of the cut at the butt, its right edge at the tip;
//! a row of dots is one length. Full dots are inside all limits, and fine lines beyond the area show how far its power may
//! be off.

use taperbook_plugin::{Number, ReachAdvice, ReachPoint};
use taperbook_units::{Length, Mass, Units};

use crate::scale::{fitted, span, ticks};
use crate::svg::{Anchor, Svg};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 520.0;
const LEFT: f64 = 96.0;
const RIGHT: f64 = WIDTH - 96.0;
const TOP: f64 = 64.0;
const BOTTOM: f64 = HEIGHT - 92.0;

/// Draws which rods a blank could be.
pub fn reach(advice: &ReachAdvice, units: Units) -> String {
    let stem = advice.record.rsplit('/').next().unwrap_or(&advice.record);
    let held_at = units.cut(Length::from_mm(advice.held_at_mm));
    let titled = |stem: &str| format!("Rods that {stem} could be, held at {held_at}");
    let title = titled(stem);
    let mut svg = Svg::new(WIDTH, HEIGHT, &title, &described(advice, units));
    let plot = Plot::new(advice);
    let stem = fitted(stem, titled("").chars().count(), WIDTH - LEFT);
    svg.text("", (LEFT, 28.0), Anchor::Start, &titled(&stem));
    svg.text(
        "small",
        (LEFT, 46.0),
        Anchor::Start,
        "left edge: all of the cut at the butt; right edge: all of it at the tip",
    );
    axes(&mut svg, &plot, units);
    allowed(&mut svg, &plot, advice);
    area(&mut svg, &plot, advice);
    svg.text("", (RIGHT + 10.0, TOP - 8.0), Anchor::Start, "off in all");
    for row in &advice.rows {
        if let Some(point) = row.points.first() {
            let off = Length::from_mm(point.cut.tip_mm + point.cut.butt_mm);
            let place = (RIGHT + 10.0, plot.y(row.length_mm) + 4.0);
            svg.text("small", place, Anchor::Start, &units.cut(off));
        }
        for point in &row.points {
            if let Some(power) = point.power_g.value() {
                let class = if point.inside { "full" } else { "open" };
                svg.circle(class, plot.place(power, row.length_mm), 3.2);
            }
        }
    }
    if let (Some(length), Some(power)) = advice.aim {
        let (x, y) = plot.place(power, length);
        svg.line("ink", (x - 9.0, y), (x + 9.0, y));
        svg.line("ink", (x, y - 9.0), (x, y + 9.0));
        svg.text("small", (x + 11.0, y - 5.0), Anchor::Start, "aim");
    }
    legend(&mut svg, advice);
    svg.finish()
}

/// Where powers and lengths lie on the paper.
struct Plot {
    powers: (f64, f64),
    lengths: (f64, f64),
}

impl Plot {
    fn new(advice: &ReachAdvice) -> Self {
        let points = || advice.rows.iter().flat_map(|row| &row.points);
        let known = points().filter_map(|point| point.power_g.known());
        let powers = known.flat_map(|(_, low, high)| [low, high]).chain(advice.aim.1);
        let lengths = advice.rows.iter().map(|row| row.length_mm).chain(advice.aim.0);
        Self { powers: span(powers, 1.0), lengths: span(lengths, 10.0) }
    }

    fn x(&self, power_g: f64) -> f64 {
        LEFT + (power_g - self.powers.0) / (self.powers.1 - self.powers.0) * (RIGHT - LEFT)
    }

    fn y(&self, length_mm: f64) -> f64 {
        BOTTOM - (length_mm - self.lengths.0) / (self.lengths.1 - self.lengths.0) * (BOTTOM - TOP)
    }

    fn place(&self, power_g: f64, length_mm: f64) -> (f64, f64) {
        (self.x(power_g), self.y(length_mm))
    }
}

fn axes(svg: &mut Svg, plot: &Plot, units: Units) {
    svg.line("ink", (LEFT, BOTTOM), (RIGHT, BOTTOM));
    svg.line("ink", (LEFT, TOP), (LEFT, BOTTOM));
    for power in ticks(plot.powers, &[1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0], 8) {
        let x = plot.x(power);
        svg.line("ink", (x, BOTTOM), (x, BOTTOM + 5.0));
        svg.text("small", (x, BOTTOM + 19.0), Anchor::Middle, &units.mass(Mass::from_g(power)));
    }
    svg.text("", (RIGHT, BOTTOM + 38.0), Anchor::End, "power");
    let steps = match units {
        Units::Inches => [0.5, 1.0, 2.0, 3.0, 6.0, 12.0].map(|inches| inches * 25.4).to_vec(),
        Units::Millimetres => vec![10.0, 20.0, 50.0, 100.0, 200.0, 500.0],
    };
    for length in ticks(plot.lengths, &steps, 10) {
        let y = plot.y(length);
        svg.line("ink", (LEFT - 5.0, y), (LEFT, y));
        let printed = units.length(Length::from_mm(length));
        svg.text("small", (LEFT - 9.0, y + 4.0), Anchor::End, &printed);
    }
    svg.text("", (LEFT - 9.0, TOP - 8.0), Anchor::End, "length");
}

/// The lengths and powers that are allowed.
fn allowed(svg: &mut Svg, plot: &Plot, advice: &ReachAdvice) {
    let inside = |bound: Option<f64>, other: f64, (low, high): (f64, f64)| {
        bound.unwrap_or(other).clamp(low, high)
    };
    let (least, most) = advice.power_allowed;
    let (shortest, longest) = advice.length_allowed;
    if [least, most, shortest, longest].iter().all(Option::is_none) {
        return;
    }
    let from = (
        plot.x(inside(least, plot.powers.0, plot.powers)),
        plot.y(inside(longest, plot.lengths.1, plot.lengths)),
    );
    let to = (
        plot.x(inside(most, plot.powers.1, plot.powers)),
        plot.y(inside(shortest, plot.lengths.0, plot.lengths)),
    );
    svg.rectangle("dots", from, to);
}

/// The area, the lines of one length, and how far the power may be off.
fn area(svg: &mut Svg, plot: &Plot, advice: &ReachAdvice) {
    let edge = |of: fn(&[ReachPoint]) -> Option<&ReachPoint>| {
        let place = |row: &taperbook_plugin::ReachRow| {
            Some(plot.place(of(&row.points)?.power_g.value()?, row.length_mm))
        };
        advice.rows.iter().filter_map(place).collect::<Vec<_>>()
    };
    let (butt, tip) = (edge(<[ReachPoint]>::first), edge(<[ReachPoint]>::last));
    let around: Vec<(f64, f64)> = butt.iter().chain(tip.iter().rev()).copied().collect();
    svg.path("wash", &around, true);
    svg.path("ink", &butt, false);
    svg.path("ink", &tip, false);
    for row in &advice.rows {
        let known = |point: &ReachPoint| point.power_g.known();
        let ends = row.points.first().and_then(known).zip(row.points.last().and_then(known));
        if let Some(((_, low, _), (_, _, high))) = ends {
            svg.line("fine", plot.place(low, row.length_mm), plot.place(high, row.length_mm));
        }
    }
}

fn legend(svg: &mut Svg, advice: &ReachAdvice) {
    let y = HEIGHT - 22.0;
    let mut x = LEFT;
    let mut entry = |svg: &mut Svg, width: f64, words: &str| {
        svg.text("small", (x + 14.0, y + 4.0), Anchor::Start, words);
        let at = x;
        x += width;
        at
    };
    if advice.has_limits {
        let at = entry(svg, 130.0, "inside all limits");
        svg.circle("full", (at + 4.0, y), 3.2);
        let at = entry(svg, 70.0, "not");
        svg.circle("open", (at + 4.0, y), 3.2);
    } else {
        let at = entry(svg, 150.0, "worked out");
        svg.circle("open", (at + 4.0, y), 3.2);
    }
    let at = entry(svg, 290.0, "its power lies on the fine line nine times in ten");
    svg.line("fine", (at - 4.0, y), (at + 10.0, y));
    if advice.has_limits {
        let at = entry(svg, 120.0, "allowed");
        svg.line("dots", (at - 4.0, y), (at + 10.0, y));
    }
}

/// What the drawing shows, in words.
fn described(advice: &ReachAdvice, units: Units) -> String {
    let power = |number: &Number| match number.known() {
        Some((value, low, high)) => {
            let [value, low, high] = [value, low, high].map(|g| units.mass(Mass::from_g(g)));
            format!("{value} ({low} to {high})")
        }
        None => "not known".to_owned(),
    };
    let rows = advice.rows.iter().filter_map(|row| {
        let length = units.length(Length::from_mm(row.length_mm));
        let (first, last) = (row.points.first()?, row.points.last()?);
        Some(if row.points.len() == 1 {
            format!("At {length} its power is {}.", power(&first.power_g))
        } else {
            format!(
                "At {length} its power goes from {} with {} off the butt to {} with {} off the tip.",
                power(&first.power_g),
                units.cut(Length::from_mm(first.cut.butt_mm)),
                power(&last.power_g),
                units.cut(Length::from_mm(last.cut.tip_mm))
            )
        })
    });
    let mut words: Vec<String> = rows.collect();
    if advice.has_limits {
        let points = || advice.rows.iter().flat_map(|row| &row.points);
        let n_inside = points().filter(|point| point.inside).count();
        words.push(format!("{n_inside} of {} dots are inside all limits.", points().count()));
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::{Cut, ReachRow, State};

    use super::*;
    use crate::svg::testing::{coordinates, is_well_formed};

    fn point(tip_mm: f64, butt_mm: f64, power_g: Number) -> ReachPoint {
        let inside = power_g.value().is_some_and(|power| 220.0 < power);
        let expected = State::new([]);
        ReachPoint {
            cut: Cut { tip_mm, butt_mm },
            power_g,
            inside,
            chance_inside_limits: None,
            expected,
        }
    }

    fn known(value: f64) -> Number {
        Number::Known { value, low: 0.9 * value, high: 1.1 * value }
    }

    fn advice() -> ReachAdvice {
        let rows = vec![
            ReachRow { length_mm: 2184.4, points: vec![point(0.0, 0.0, known(212.0))] },
            ReachRow {
                length_mm: 2133.6,
                points: vec![point(0.0, 50.8, known(207.0)), point(50.8, 0.0, known(233.0))],
            },
            ReachRow {
                length_mm: 2082.8,
                points: vec![point(0.0, 101.6, known(203.0)), point(101.6, 0.0, known(260.0))],
            },
        ];
        ReachAdvice {
            record: "blanks/heron <704>".to_owned(),
            held_at_mm: 228.6,
            present: point(0.0, 0.0, known(212.0)),
            rows,
            length_allowed: (Some(2032.0), Some(2133.6)),
            power_allowed: (Some(220.0), None),
            has_limits: true,
            aim: (Some(2100.0), Some(230.0)),
            words: Vec::new(),
        }
    }

    #[test]
    fn the_drawing_is_well_formed_and_stays_on_its_paper() {
        let svg = reach(&advice(), Units::Inches);
        is_well_formed(&svg);
        assert!(svg.contains("heron &lt;704&gt;") && !svg.contains("NaN") && !svg.contains("inf"));
        for (name, value) in coordinates(&svg) {
            let most = match name.as_str() {
                "x" | "x1" | "x2" | "cx" => WIDTH,
                "y" | "y1" | "y2" | "cy" => HEIGHT,
                _ => continue,
            };
            assert!((0.0..=most).contains(&value), "{name} {value}");
        }
        // Two of five points hold more than 220 g; the legend has one dot of each kind.
        assert_eq!(svg.matches("<circle class=\"full\"").count(), 2 + 1);
        assert_eq!(svg.matches("<circle class=\"open\"").count(), 3 + 1);
    }

    #[test]
    fn it_tells_in_words_what_it_shows_in_the_units_of_the_shop() {
        let svg = reach(&advice(), Units::Millimetres);
        assert!(
            svg.contains("At 2134 mm its power goes from 207 g (186 g to 228 g) with 50.8 mm off the butt to 233 g"),
            "{svg}"
        );
        assert!(svg.contains("2 of 5 dots are inside all limits."));
        assert!(reach(&advice(), Units::Inches).contains("At 7'0&quot; its power goes from"));
    }

    #[test]
    fn what_is_not_known_is_left_out_and_no_harm() {
        let mut advice = advice();
        for row in &mut advice.rows {
            for point in &mut row.points {
                point.power_g = Number::missing("power");
            }
        }
        advice.aim = (None, None);
        let svg = reach(&advice, Units::Inches);
        is_well_formed(&svg);
        assert!(!svg.contains("NaN") && svg.contains("not known"));
        advice.rows.clear();
        is_well_formed(&reach(&advice, Units::Inches));
    }

    #[test]
    fn ticks_are_round_and_not_too_many() {
        assert_eq!(
            ticks((196.0, 241.0), &[1.0, 5.0, 10.0, 50.0], 6),
            [200.0, 210.0, 220.0, 230.0, 240.0]
        );
        assert_eq!(ticks((0.0, 1e9), &[1.0], 6), [0.0, 1e9]);
    }
}
