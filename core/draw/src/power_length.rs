//! Power and length of the builds of a model: a dot for each, with how far it may be off.

use taperbook_plugin::Number;
use taperbook_units::{Length, Mass, Units};

use crate::scale::{Paper, fitted, length_steps, span, ticks};
use crate::svg::{Anchor, Svg};

/// One build.
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    /// Its record's id.
    pub record: String,
    /// Its length, mm.
    pub length_mm: Number,
    /// Its power, g.
    pub power_g: Number,
    /// Its length and power before any cut, where something came off.
    pub uncut: Option<(f64, f64)>,
    /// The one that the page is about.
    pub is_meant: bool,
}

const LEFT: f64 = 52.0;
const TOP: f64 = 68.0;

/// Draws power against length; builds of which either is not known are counted in words.
pub fn power_length(model: &str, dots: &[Dot], units: Units, paper: Paper) -> String {
    let known: Vec<Known> = dots.iter().filter_map(Known::of).collect();
    let title = format!("Power and length of {model}");
    let height = if paper == Paper::Wide { 400.0 } else { 330.0 };
    let name = format!("power-{}-", paper.word());
    let description = described(&known, dots.len(), units);
    let mut svg = Svg::named(&name, paper.width(), height, &title, &description);
    let model = fitted(model, "Power and length of ".len(), paper.width() - 16.0);
    svg.text("", (8.0, 20.0), Anchor::Start, &format!("Power and length of {model}"));
    let words = "thin lines: nine times in ten; broken lines come from the uncut blank";
    let words = if paper == Paper::Wide { words } else { "broken lines: from the uncut blank" };
    svg.text("small", (8.0, 37.0), Anchor::Start, words);
    let plot = Plot::new(&known, paper, height);
    plot.axes(&mut svg, units);
    let mut labels = Labels { right: paper.width() - 4.0, taken: Vec::new() };
    for dot in &known {
        let place = plot.at(dot.length, dot.power.0);
        if let Some((length, power)) = dot.dot.uncut {
            svg.line("grid dashed", plot.at(length, power), place);
        }
        svg.line("fine", plot.at(dot.length, dot.power.1), plot.at(dot.length, dot.power.2));
    }
    for dot in &known {
        let place = plot.at(dot.length, dot.power.0);
        svg.circle(if dot.dot.is_meant { "full" } else { "open" }, place, 4.0);
    }
    // The one that is meant has its name whatever it stands on, and then as many as there is room for between the marks.
    let (meant, others): (Vec<&Known>, Vec<&Known>) =
        known.iter().partition(|dot| dot.dot.is_meant);
    for dot in meant {
        labels.add(&mut svg, plot.at(dot.length, dot.power.0), dot.stem());
    }
    labels.taken.extend(known.iter().flat_map(|dot| plot.mark(dot)));
    for dot in others {
        labels.add(&mut svg, plot.at(dot.length, dot.power.0), dot.stem());
    }
    svg.finish()
}

struct Known<'a> {
    dot: &'a Dot,
    length: f64,
    power: (f64, f64, f64),
}

impl<'a> Known<'a> {
    fn of(dot: &'a Dot) -> Option<Self> {
        let (length, power) = (dot.length_mm.value()?, dot.power_g.known()?);
        Some(Self { dot, length, power })
    }

    fn stem(&self) -> &'a str {
        self.dot.record.rsplit('/').next().unwrap_or(&self.dot.record)
    }
}

struct Plot {
    lengths: (f64, f64),
    powers: (f64, f64),
    right: f64,
    bottom: f64,
}

impl Plot {
    fn new(known: &[Known], paper: Paper, height: f64) -> Self {
        let uncut = || known.iter().filter_map(|known| known.dot.uncut);
        let lengths = known.iter().map(|known| known.length).chain(uncut().map(|uncut| uncut.0));
        let powers = known.iter().flat_map(|known| [known.power.1, known.power.2]);
        let powers = powers.chain(uncut().map(|uncut| uncut.1));
        Self {
            lengths: span(lengths, 15.0),
            powers: span(powers, 4.0),
            right: paper.width() - 24.0,
            bottom: height - 46.0,
        }
    }

    fn at(&self, length: f64, power: f64) -> (f64, f64) {
        let part = |value: f64, (low, high): (f64, f64)| (value - low) / (high - low);
        let x = LEFT + part(length, self.lengths) * (self.right - LEFT);
        (x, self.bottom - part(power, self.powers) * (self.bottom - TOP))
    }

    /// What the mark of a build covers: its dot, and the line of its range.
    fn mark(&self, dot: &Known) -> [Covered; 2] {
        const RADIUS: f64 = 5.0;
        let (x, y) = self.at(dot.length, dot.power.0);
        let ((_, low), (_, high)) =
            (self.at(dot.length, dot.power.1), self.at(dot.length, dot.power.2));
        [(x - RADIUS, y - RADIUS, x + RADIUS, y + RADIUS), (x - 1.0, high, x + 1.0, low)]
    }

    fn axes(&self, svg: &mut Svg, units: Units) {
        svg.line("ink", (LEFT, TOP), (LEFT, self.bottom));
        svg.line("ink", (LEFT, self.bottom), (self.right, self.bottom));
        let most = if 500.0 < self.right { 8 } else { 4 };
        for length in ticks(self.lengths, &length_steps(units), most) {
            let (x, y) = (self.at(length, 0.0).0, self.bottom);
            svg.line("ink", (x, y), (x, y + 5.0));
            let words = units.length(Length::from_mm(length));
            svg.text("small", (x, y + 18.0), Anchor::Middle, &words);
        }
        for power in ticks(self.powers, &[2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0], 8) {
            let y = self.at(0.0, power).1;
            svg.line("grid", (LEFT, y), (self.right, y));
            svg.text("small", (LEFT - 6.0, y + 4.0), Anchor::End, &units.mass(Mass::from_g(power)));
        }
        svg.text("small", (self.right, self.bottom + 36.0), Anchor::End, "length");
        svg.text("small", (8.0, TOP - 6.0), Anchor::Start, "power");
    }
}

/// From left and top to right and bottom.
type Covered = (f64, f64, f64, f64);

/// Names beside dots, none over another.
struct Labels {
    right: f64,
    taken: Vec<Covered>,
}

impl Labels {
    fn add(&mut self, svg: &mut Svg, (x, y): (f64, f64), words: &str) {
        // Letters of this size are about so wide.
        let wide = 6.2 * words.chars().count() as f64;
        let places = [(x + 7.0, y + 4.0), (x - 7.0 - wide, y + 4.0), (x - wide / 2.0, y - 9.0)];
        let free = places.into_iter().find(|(left, base)| {
            let (right, top, bottom) = (left + wide, base - 11.0, base + 3.0);
            LEFT < *left
                && right < self.right
                && self
                    .taken
                    .iter()
                    .all(|(l, t, r, b)| right < *l || *r < *left || bottom < *t || *b < top)
        });
        if let Some((left, base)) = free {
            svg.text("small", (left, base), Anchor::Start, words);
            self.taken.push((left, base - 11.0, left + wide, base + 3.0));
        }
    }
}

fn described(known: &[Known], n_all: usize, units: Units) -> String {
    const MOST_TOLD: usize = 30;
    let told = known.iter().take(MOST_TOLD).map(|dot| {
        let [value, low, high] =
            [dot.power.0, dot.power.1, dot.power.2].map(|g| units.mass(Mass::from_g(g)));
        let length = units.length(Length::from_mm(dot.length));
        format!("{}: {length}, {value} ({low} to {high}).", dot.dot.record)
    });
    let mut words: Vec<String> = told.collect();
    if MOST_TOLD < known.len() {
        words.push(format!("And {} more.", known.len() - MOST_TOLD));
    }
    if known.len() < n_all {
        words
            .push(format!("Of {} more the length or the power is not known.", n_all - known.len()));
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::testing::{coordinates, is_well_formed};

    fn dot(record: &str, length: f64, power: f64) -> Dot {
        Dot {
            record: record.to_owned(),
            length_mm: Number::exact(length),
            power_g: Number::Known { value: power, low: 0.95 * power, high: 1.05 * power },
            uncut: Some((length + 60.0, power - 20.0)),
            is_meant: record == "builds/ilse",
        }
    }

    #[test]
    fn none_one_or_many_stay_on_the_paper_and_no_names_overlap() {
        let many: Vec<Dot> = (0..40)
            .map(|n| {
                dot(&format!("builds/a-long-name-{n}"), 2000.0 + f64::from(n), 200.0 + f64::from(n))
            })
            .chain([dot("builds/ilse", 2020.0, 215.0)])
            .collect();
        for dots in [&many[..0], &many[..1], &many[..]] {
            for paper in [Paper::Wide, Paper::Narrow] {
                let svg = power_length("heron-704", dots, Units::Inches, paper);
                is_well_formed(&svg);
                assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
                for (name, value) in coordinates(&svg) {
                    if ["x", "x1", "x2", "cx"].contains(&name.as_str()) {
                        assert!((0.0..=paper.width()).contains(&value), "{name} {value}");
                    }
                }
            }
        }
        let svg = power_length("heron-704", &many, Units::Inches, Paper::Wide);
        assert!(svg.contains(">ilse</text>"), "the one that is meant has its name");
    }

    #[test]
    fn in_a_crowd_no_name_stands_on_a_mark() {
        let named = |dots: &[Dot]| {
            let svg = power_length("heron-704", dots, Units::Inches, Paper::Wide);
            svg.matches(">a-name-").count()
        };
        let apart = |n: u32, by: f64| {
            dot(&format!("builds/a-name-{n}"), 2000.0 + by * f64::from(n), 200.0 + f64::from(n))
        };
        let two: Vec<Dot> = (0..2).map(|n| apart(n, 100.0)).collect();
        assert_eq!(named(&two), 2);
        let crowd: Vec<Dot> = (0..40).map(|n| apart(n, 1.0)).collect();
        assert!(named(&crowd) <= 2, "only at the edges of the crowd there is room");
    }

    #[test]
    fn what_is_not_known_is_counted_in_words() {
        let mut dots = vec![dot("builds/ilse", 2000.0, 220.0), dot("builds/per", 2010.0, 230.0)];
        dots[1].power_g = Number::missing("a power reading");
        let svg = power_length("heron-704", &dots, Units::Millimetres, Paper::Wide);
        assert!(svg.contains("builds/ilse: 2000 mm, 220 g (209 g to 231 g)."), "{svg}");
        assert!(svg.contains("Of 1 more the length or the power is not known."), "{svg}");
    }
}
