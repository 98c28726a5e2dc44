//! A piece before and after cuts, bent under the same weight, on the grid of the board.
//!
//! Out from the clamp and up from the clamp line are to one scale. A band holds nine bends in ten.

use taperbook_plugin::{BendAdvice, Bent, BoardPoints};
use taperbook_units::{Length, Mass, Units};

use crate::scale::{Paper, fitted, length_steps};
use crate::svg::{Anchor, Svg};

const LEFT: f64 = 54.0;
const RIGHT_ROOM: f64 = 30.0;
const TOP: f64 = 58.0;
/// A line of the legend.
const LINE: f64 = 18.0;

/// Draws a piece before and after cuts; where nothing comes off it is drawn once.
pub fn bend(advice: &BendAdvice, units: Units, paper: Paper) -> String {
    let stem = advice.record.rsplit('/').next().unwrap_or(&advice.record);
    let load = units.mass(Mass::from_g(advice.load_g));
    let title = format!("{stem} bent under {load}");
    let board = Board::new(advice, paper);
    let is_cut = advice.before != advice.after;
    let entries = legend(advice, units, is_cut);
    let per_row = if paper == Paper::Wide { 2 } else { 1 };
    let n_rows = entries.len().div_ceil(per_row) as f64;
    let legend_top = board.bottom() + 34.0;
    let height = legend_top + LINE * n_rows + 6.0;
    let description = described(advice, units, is_cut);
    let name = format!("bend-{}-", paper.word());
    let mut svg = Svg::named(&name, paper.width(), height, &title, &description);
    let stem = fitted(stem, " bent under ".len() + load.chars().count(), paper.width() - 16.0);
    svg.text("", (8.0, 20.0), Anchor::Start, &format!("{stem} bent under {load}"));
    let held_at = units.cut(Length::from_mm(advice.held_at_mm));
    let how = format!("held at {held_at}, level, in a clamp that does not yield");
    svg.text("small", (8.0, 37.0), Anchor::Start, &how);
    grid(&mut svg, &board, units);
    svg.line("level", board.at(0.0, -advice.third_mm), board.at(board.out, -advice.third_mm));
    for read in &advice.readings {
        reading(&mut svg, &board, read);
    }
    curve(&mut svg, &board, &advice.before, if is_cut { "dots" } else { "ink" }, "wash");
    if is_cut {
        curve(&mut svg, &board, &advice.after, "blue", "bluewash");
    }
    clamp(&mut svg, &board);
    for (entry_idx, entry) in entries.iter().enumerate() {
        let column = (entry_idx % per_row) as f64 * paper.width() / per_row as f64;
        let y = legend_top + LINE * ((entry_idx / per_row) as f64 + 0.5);
        entry.draw(&mut svg, column + 8.0, y);
    }
    svg.finish()
}

/// The board: where places on it lie on the paper.
struct Board {
    /// How far it goes out and up, and down below the clamp line, in mm.
    out: f64,
    up: f64,
    down: f64,
    scale: f64,
}

impl Board {
    fn new(advice: &BendAdvice, paper: Paper) -> Self {
        let read = advice.readings.iter().filter_map(|read| read.bent.as_ref());
        let bents = [&advice.before, &advice.after].into_iter().chain(read);
        let curves = bents.flat_map(|bent| &bent.places).flat_map(|place| {
            let (x, y) = (place.x_mm, place.y_mm);
            let (over, up) = (place.beside_x_mm, place.beside_y_mm);
            [(x + over, y + up), (x - over, y - up)]
        });
        let points = advice.readings.iter().flat_map(|read| read.points.iter().copied());
        let (mut out, mut up, mut down) = (100.0_f64, 40.0_f64, advice.third_mm);
        for (x, y) in curves.chain(points).filter(|(x, y)| x.is_finite() && y.is_finite()) {
            (out, up, down) = (out.max(x), up.max(y), down.max(-y));
        }
        let (out, down) = (out * 1.03, down + 30.0);
        Self { out, up, down, scale: (paper.width() - LEFT - RIGHT_ROOM) / out }
    }

    fn at(&self, x_mm: f64, y_mm: f64) -> (f64, f64) {
        (LEFT + x_mm * self.scale, TOP + (self.up - y_mm) * self.scale)
    }

    fn bottom(&self) -> f64 {
        TOP + (self.up + self.down) * self.scale
    }
}

fn grid(svg: &mut Svg, board: &Board, units: Units) {
    // The finest lines of a board that stand half a finger apart on the paper; every second one is written.
    let steps = length_steps(units);
    let step = steps.iter().copied().find(|step| 24.0 <= step * board.scale);
    let Some(step) = step else { return };
    let mut line = 0.0;
    let mut is_named = true;
    while line <= board.out {
        svg.line("grid", board.at(line, board.up), board.at(line, -board.down));
        if is_named {
            let (x, y) = (board.at(line, 0.0).0, board.bottom() + 16.0);
            svg.text("small", (x, y), Anchor::Middle, &place(units, line));
        }
        is_named = !is_named;
        line += step;
    }
    let lowest = -(board.down / step).floor();
    let highest = (board.up / step).floor();
    let mut row = lowest;
    while row <= highest {
        let y = row * step;
        svg.line("grid", board.at(0.0, y), board.at(board.out, y));
        if row % 2.0 == 0.0 && row != 0.0 {
            let (x, at) = board.at(0.0, y);
            svg.text("small", (x - 6.0, at + 4.0), Anchor::End, &place(units, y.abs()));
        }
        row += 1.0;
    }
    svg.line("fine", board.at(0.0, 0.0), board.at(board.out, 0.0));
}

/// A line of the board, which is a whole number of millimetres or half inches.
fn place(units: Units, mm: f64) -> String {
    match units {
        Units::Inches => units.cut(Length::from_mm(mm)),
        Units::Millimetres => units.length(Length::from_mm(mm)),
    }
}

fn clamp(svg: &mut Svg, board: &Board) {
    let (x, y) = board.at(0.0, 0.0);
    svg.rectangle("clamp", (x - 22.0, y - 11.0), (x, y - 3.0));
    svg.rectangle("clamp", (x - 22.0, y + 3.0), (x, y + 11.0));
    svg.line("ink", (x - 26.0, y), (x, y));
}

fn curve(svg: &mut Svg, board: &Board, bent: &Bent, class: &str, wash: &str) {
    let beside = |side: f64| {
        bent.places.iter().map(move |place| {
            board.at(place.x_mm + side * place.beside_x_mm, place.y_mm + side * place.beside_y_mm)
        })
    };
    let around: Vec<(f64, f64)> = beside(1.0).chain(beside(-1.0).rev()).collect();
    svg.path(wash, &around, true);
    let line: Vec<(f64, f64)> = beside(0.0).collect();
    svg.path(class, &line, false);
    if let Some((x, y)) = line.last().copied() {
        // The weight on its thread.
        svg.line("fine", (x, y), (x, y + 10.0));
        svg.circle("full", (x, y + 13.0), 3.4);
    }
}

fn reading(svg: &mut Svg, board: &Board, read: &BoardPoints) {
    if let Some(bent) = &read.bent {
        let line: Vec<(f64, f64)> =
            bent.places.iter().map(|place| board.at(place.x_mm, place.y_mm)).collect();
        svg.path("fine", &line, false);
    }
    for (x, y) in &read.points {
        let (x, y) = board.at(*x, *y);
        svg.line("mark", (x - 4.0, y - 4.0), (x + 4.0, y + 4.0));
        svg.line("mark", (x - 4.0, y + 4.0), (x + 4.0, y - 4.0));
    }
}

/// A line of the legend.
struct Entry {
    sign: Sign,
    words: String,
}

enum Sign {
    Line(&'static str, &'static str),
    Cross,
}

impl Entry {
    fn draw(&self, svg: &mut Svg, x: f64, y: f64) {
        match self.sign {
            Sign::Line(line, wash) => {
                if !wash.is_empty() {
                    svg.rectangle(wash, (x, y - 6.0), (x + 26.0, y + 6.0));
                }
                svg.line(line, (x, y), (x + 26.0, y));
            }
            Sign::Cross => {
                svg.line("mark", (x + 9.0, y - 4.0), (x + 17.0, y + 4.0));
                svg.line("mark", (x + 9.0, y + 4.0), (x + 17.0, y - 4.0));
            }
        }
        svg.text("small", (x + 34.0, y + 4.0), Anchor::Start, &self.words);
    }
}

fn legend(advice: &BendAdvice, units: Units, is_cut: bool) -> Vec<Entry> {
    let long = |bent: &Bent| units.length(Length::from_mm(bent.length_mm));
    let entry = |line, wash, words: String| Entry { sign: Sign::Line(line, wash), words };
    let mut entries = Vec::new();
    if is_cut {
        let before = format!("as it is, {}, nine times in ten", long(&advice.before));
        entries.push(entry("dots", "wash", before));
        let after = format!("after the cut, {}, nine times in ten", long(&advice.after));
        entries.push(entry("blue", "bluewash", after));
    } else {
        let words = format!("as it is, {}, nine times in ten", long(&advice.before));
        entries.push(entry("ink", "wash", words));
    }
    let third = units.cut(Length::from_mm(advice.third_mm));
    entries.push(entry("level", "", format!("a third of its free length down, {third}")));
    if !advice.readings.is_empty() {
        let loads = advice.readings.iter().map(|read| units.mass(Mass::from_g(read.load_g)));
        let mut loads: Vec<String> = loads.collect();
        loads.dedup();
        let words = format!("read on the board under {}", loads.join(", "));
        entries.push(Entry { sign: Sign::Cross, words });
    }
    entries
}

/// What the drawing shows, in words.
fn described(advice: &BendAdvice, units: Units, is_cut: bool) -> String {
    let length = |mm: f64| units.cut(Length::from_mm(mm));
    let tip = |bent: &Bent| match bent.places.last() {
        Some(tip) => {
            let spread = tip.beside_x_mm.hypot(tip.beside_y_mm);
            format!(
                "the tip lies {} out and {} down, to within {} nine times in ten",
                length(tip.x_mm),
                length(-tip.y_mm),
                length(spread)
            )
        }
        None => "the bend is not known".to_owned(),
    };
    let mut words = vec![format!("As it is, {}.", tip(&advice.before))];
    if is_cut {
        words.push(format!("After the cut, {}.", tip(&advice.after)));
    }
    for read in &advice.readings {
        words.push(format!(
            "{} points were read on the board under {}.",
            read.points.len(),
            units.mass(Mass::from_g(read.load_g))
        ));
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::BentPlace;

    use super::*;
    use crate::svg::testing::{coordinates, is_well_formed};

    /// A quarter of a circle, cut short at the tip, which is easy to check by hand.
    fn bent(radius: f64) -> Bent {
        let place = |step: u32| {
            let angle = std::f64::consts::FRAC_PI_2 * f64::from(step) / 8.0;
            let (sin, cos) = angle.sin_cos();
            let spread = 4.0 * f64::from(step);
            BentPlace {
                x_mm: radius * sin,
                y_mm: radius * (cos - 1.0),
                beside_x_mm: spread * sin,
                beside_y_mm: spread * cos,
            }
        };
        Bent { length_mm: radius, places: (0..=8).map(place).collect() }
    }

    fn advice() -> BendAdvice {
        BendAdvice {
            record: "builds/ilse <heron>".to_owned(),
            held_at_mm: 228.6,
            load_g: 224.0,
            third_mm: 650.0,
            before: bent(1000.0),
            after: bent(900.0),
            readings: vec![BoardPoints {
                item: 1,
                load_g: 150.0,
                points: vec![(400.0, -80.0), (800.0, -390.0)],
                bent: Some(bent(1100.0)),
            }],
        }
    }

    #[test]
    fn it_stays_on_its_paper_at_both_widths() {
        for paper in [Paper::Wide, Paper::Narrow] {
            let svg = bend(&advice(), Units::Inches, paper);
            is_well_formed(&svg);
            assert!(svg.contains("ilse &lt;heron&gt;") && !svg.contains("NaN"));
            for (name, value) in coordinates(&svg) {
                if ["x", "x1", "x2", "cx"].contains(&name.as_str()) {
                    assert!((0.0..=paper.width()).contains(&value), "{name} {value}");
                }
            }
        }
    }

    #[test]
    fn both_ways_are_to_one_scale_and_where_they_should_be() {
        let board = Board::new(&advice(), Paper::Wide);
        let (from, to) = (board.at(0.0, 0.0), board.at(300.0, -400.0));
        let (over, down) = (to.0 - from.0, to.1 - from.1);
        assert!((over * 4.0 / 3.0 - down).abs() < 1e-9 && 0.0 < over, "{over} {down}");
        let svg = bend(&advice(), Units::Millimetres, Paper::Wide);
        let (x, y) = board.at(900.0, -900.0);
        assert!(
            svg.contains(&format!("L{x:.1} {y:.1}\"")),
            "the tip after the cut: {x} {y}\n{svg}"
        );
        // The bend as it is and the line a third down are broken in different ways, on the board and in the legend.
        assert_eq!(svg.matches("class=\"dots\"").count(), 2);
        assert_eq!(svg.matches("class=\"level\"").count(), 2);
        // Two points, two strokes each, and the cross of the legend.
        assert_eq!(svg.matches("class=\"mark\"").count(), 2 * 2 + 2);
    }

    #[test]
    fn without_a_cut_it_is_drawn_once_and_told_once() {
        let mut advice = advice();
        advice.after = advice.before.clone();
        let svg = bend(&advice, Units::Inches, Paper::Narrow);
        assert!(!svg.contains("class=\"blue\"") && !svg.contains("after the cut"));
        assert!(svg.contains("2 points were read on the board under 150 g."));
    }
}
