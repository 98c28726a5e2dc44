//! The static test as a drawing: the bent blank, the line through its guides, and the uncut blank beside it.

use taperbook_plugin::{GuideSide, GuidesAdvice, StaticTest};
use taperbook_units::{Length, Mass, Units};

use crate::scale::{Paper, fitted};
use crate::svg::{Anchor, Svg};

/// Room for the clamp, which is 40 points long.
const LEFT: f64 = 60.0;
const CLAMP: f64 = LEFT - 40.0;
/// A line of the legend.
const LINE: f64 = 14.0;
/// Numbers of guides that stand nearer to each other can't be told apart.
const APART: f64 = 12.0;
/// A guide's number stands so far from the blank, on the side where no ring is.
const BESIDE: f64 = 13.0;

/// Draws the static test.
pub fn guides(advice: &GuidesAdvice, units: Units) -> String {
    guides_on(advice, units, Paper::Wide)
}

/// Draws the static test as [`guides`] does, on paper of some width.
pub fn guides_on(advice: &GuidesAdvice, units: Units, paper: Paper) -> String {
    let stem = advice.record.rsplit('/').next().unwrap_or(&advice.record);
    let n_guides = advice.test.places.len().saturating_sub(1);
    let load = units.mass(Mass::from_g(advice.test.load_g));
    let beside = format!(": {n_guides} guides under {load}");
    let entries = legend(advice, units);
    let n_lines = if paper == Paper::Wide { 1 } else { entries.len() };
    let scale = Scale::new(advice, paper, 44.0 + LINE * n_lines as f64);
    let name = format!("guides-{}-", paper.word());
    let title = format!("{stem}{beside}");
    let described = described(advice, units);
    let mut svg = Svg::named(&name, paper.width(), scale.height, &title, &described);
    let stem = fitted(stem, beside.chars().count(), paper.width() - CLAMP);
    svg.text("", (CLAMP, 20.0), Anchor::Start, &format!("{stem}{beside}"));
    draw_legend(&mut svg, &entries, paper);
    clamp(&mut svg, scale.top);
    svg.line("fine", (LEFT, scale.top), (scale.right, scale.top));
    if let Some(uncut) = &advice.uncut {
        svg.path("fine", &scale.curve(&uncut.blank), false);
    }
    svg.path("ink", &scale.curve(&advice.test.blank), false);
    svg.path("dots", &scale.curve(&advice.test.line), false);
    rings(&mut svg, &scale, advice);
    if let Some(tip) = advice.test.blank.last() {
        let (x, y) = scale.at(*tip);
        svg.line("fine", (x, y), (x, y + 24.0));
        svg.rectangle("open", (x - 6.0, y + 24.0), (x + 6.0, y + 36.0));
    }
    rule(&mut svg, &scale, units);
    svg.finish()
}

/// Where places of the bench lie on the paper, to one scale both ways.
struct Scale {
    per_mm: f64,
    top: f64,
    right: f64,
    height: f64,
}

impl Scale {
    fn new(advice: &GuidesAdvice, paper: Paper, top: f64) -> Self {
        let tests = [Some(&advice.test), advice.uncut.as_ref()];
        let all =
            || tests.into_iter().flatten().flat_map(|test| test.blank.iter().chain(&test.line));
        let reach = all().map(|place| place.0).fold(1.0, f64::max);
        let drop = all().map(|place| -place.1).fold(0.0, f64::max);
        let right = paper.width() - if paper == Paper::Wide { 50.0 } else { 22.0 };
        let per_mm = (right - LEFT) / reach;
        Self { per_mm, top, right, height: top + drop * per_mm + 78.0 }
    }

    fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (LEFT + x * self.per_mm, self.top - y * self.per_mm)
    }

    fn curve(&self, places: &[(f64, f64)]) -> Vec<(f64, f64)> {
        places.iter().map(|place| self.at(*place)).collect()
    }
}

/// What each kind of line is.
fn legend(advice: &GuidesAdvice, units: Units) -> Vec<(&'static str, String)> {
    let words = |what: &str, test: &StaticTest| {
        format!(
            "{what}: {}, tip at {:.0} degrees under {}",
            units.length(Length::from_mm(test.length_mm)),
            test.tip_angle_deg,
            units.mass(Mass::from_g(test.load_g))
        )
    };
    let mut entries = vec![("ink", words("this blank", &advice.test))];
    entries.extend(advice.uncut.as_ref().map(|uncut| ("fine", words("uncut", uncut))));
    entries.push(("dots", "line".to_owned()));
    entries
}

/// The legend, beside each other on wide paper and below each other on narrow.
fn draw_legend(svg: &mut Svg, entries: &[(&str, String)], paper: Paper) {
    let (mut x, mut y) = (CLAMP, 36.0);
    for (class, words) in entries {
        svg.line(class, (x, y), (x + 22.0, y));
        svg.text("small", (x + 28.0, y + 4.0), Anchor::Start, words);
        match paper {
            // A letter of small text is about 5.6 points wide.
            Paper::Wide => x += 48.0 + 5.6 * words.chars().count() as f64,
            Paper::Narrow => y += LINE,
        }
    }
}

fn clamp(svg: &mut Svg, top: f64) {
    svg.rectangle("full", (CLAMP, top - 9.0), (LEFT, top - 4.0));
    svg.rectangle("full", (CLAMP, top + 4.0), (LEFT, top + 9.0));
    svg.line("ink", (CLAMP, top), (LEFT, top));
}

/// The rings at their places, each with its number where there is room; the tip-top has none.
fn rings(svg: &mut Svg, scale: &Scale, advice: &GuidesAdvice) {
    let outward = if advice.side == GuideSide::Below { -1.0 } else { 1.0 };
    // The line begins at the clamp, the places at the tip-top.
    let on_line = advice.test.line.iter().rev();
    let mut before = None;
    for (number, place) in on_line.take(advice.test.places.len()).enumerate() {
        let (x, y) = scale.at(*place);
        svg.circle("open", (x, y), 3.0);
        if number == 0 {
            continue;
        }
        let (nx, ny) = normal(&advice.test.blank, *place);
        let (x, y) = (x - outward * nx * BESIDE, y + outward * ny * BESIDE + 4.0);
        if before.is_none_or(|(at_x, at_y): (f64, f64)| APART <= (x - at_x).hypot(y - at_y)) {
            svg.text("small", (x, y), Anchor::Middle, &number.to_string());
            before = Some((x, y));
        }
    }
}

/// The direction up and away from the blank where it comes nearest to a place.
fn normal(blank: &[(f64, f64)], to: (f64, f64)) -> (f64, f64) {
    let distance = |place: &(f64, f64)| (place.0 - to.0).hypot(place.1 - to.1);
    let nearest =
        (0..blank.len()).min_by(|a, b| distance(&blank[*a]).total_cmp(&distance(&blank[*b])));
    let at = nearest.unwrap_or_default();
    let (a, b) = (blank[at.saturating_sub(1)], blank[(at + 1).min(blank.len() - 1)]);
    let length = (b.0 - a.0).hypot(b.1 - a.1).max(1e-9);
    (-(b.1 - a.1) / length, (b.0 - a.0) / length)
}

fn rule(svg: &mut Svg, scale: &Scale, units: Units) {
    let (step, name): (f64, fn(f64) -> String) = match units {
        Units::Inches => (304.8, |n| format!("{n:.0}'")),
        Units::Millimetres => (250.0, |n| format!("{:.0} mm", n * 250.0)),
    };
    let y = scale.height - 24.0;
    svg.line("fine", (LEFT, y), (scale.right, y));
    let n_ticks =
        (0..40).take_while(|n| LEFT + f64::from(*n) * step * scale.per_mm <= scale.right).count();
    for tick in 0..n_ticks {
        let x = LEFT + tick as f64 * step * scale.per_mm;
        svg.line("fine", (x, y), (x, y + 5.0));
        svg.text("small", (x, y + 17.0), Anchor::Middle, &name(tick as f64));
    }
    svg.text("small", (LEFT - 8.0, y + 4.0), Anchor::End, "out");
}

/// What the drawing shows, in words.
fn described(advice: &GuidesAdvice, units: Units) -> String {
    let length = |mm: f64| units.cut(Length::from_mm(mm));
    let places: Vec<String> =
        advice.test.places.iter().skip(1).map(|place| length(place.from_tip_mm)).collect();
    let mut words = format!(
        "A blank bent by {}, its tip at {:.0} degrees below horizontal, with guides at {} from the tip.",
        units.mass(Mass::from_g(advice.test.load_g)),
        advice.test.tip_angle_deg,
        places.join(", ")
    );
    if let Some(uncut) = &advice.uncut {
        words.push_str(&format!(
            " The uncut blank of {} under {} has its tip at {:.0} degrees.",
            units.length(Length::from_mm(uncut.length_mm)),
            units.mass(Mass::from_g(uncut.load_g)),
            uncut.tip_angle_deg
        ));
    }
    words
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::{Dressing, GuidePlace, Number};

    use super::*;
    use crate::svg::testing::{coordinates, is_well_formed};

    fn test(length: f64, drop: f64) -> StaticTest {
        let along = |n: u32| {
            let part = f64::from(n) / 40.0;
            (length * part * 0.9, -drop * part * part)
        };
        let place = |from_tip_mm: f64| GuidePlace {
            from_tip_mm,
            from_butt_mm: length - from_tip_mm,
            spacing_mm: 100.0,
            od_mm: 3.0,
            height_mm: 6.0,
            ring_mm: Some(5.0),
            size: None,
            fitting: None,
            weight_g: None,
            angle_deg: 4.0,
            clearance_mm: 2.0,
        };
        StaticTest {
            length_mm: length,
            load_g: 200.0,
            tip_angle_deg: 60.0,
            blank: (0..=40).map(along).collect(),
            line: [0, 20, 30, 40].map(along).map(|(x, y)| (x, y - 8.0)).to_vec(),
            places: [0.0, 300.0, 800.0].map(place).to_vec(),
        }
    }

    fn advice(uncut: Option<StaticTest>, side: GuideSide) -> GuidesAdvice {
        GuidesAdvice {
            record: "builds/ilse <heron>".to_owned(),
            held_at_mm: 228.6,
            side,
            test: test(2000.0, 640.0),
            uncut,
            dressing: Dressing {
                weight_g: 3.0,
                n_unweighed: 0,
                bare_hz: Number::exact(6.0),
                dressed_hz: Number::exact(5.0),
                loss: 1.0 / 6.0,
            },
            words: Vec::new(),
        }
    }

    #[test]
    fn both_blanks_are_to_one_scale_and_stay_on_the_paper() {
        let papers = [Paper::Wide, Paper::Narrow];
        for uncut in [None, Some(test(2300.0, 760.0))] {
            let sides = [GuideSide::Above, GuideSide::Below];
            for (side, paper) in
                sides.into_iter().zip(papers).chain(sides.into_iter().rev().zip(papers))
            {
                let svg = guides_on(&advice(uncut.clone(), side), Units::Inches, paper);
                is_well_formed(&svg);
                assert!(!svg.contains("NaN") && svg.contains("ilse &lt;heron&gt;"));
                assert_eq!(svg.matches("<circle").count(), 3, "a ring each, the tip-top's too");
                let height: f64 = coordinates(&svg)
                    .iter()
                    .find(|(name, _)| name == "height")
                    .map(|(_, height)| *height)
                    .unwrap();
                for (name, value) in coordinates(&svg) {
                    match name.as_str() {
                        "x" | "x1" | "x2" | "cx" => assert!((0.0..=paper.width()).contains(&value)),
                        "y" | "y1" | "y2" | "cy" => assert!((0.0..=height).contains(&value)),
                        _ => {}
                    }
                }
            }
        }
    }

    #[test]
    fn numbers_that_would_stand_on_each_other_are_left_out() {
        let mut crowded = advice(None, GuideSide::Below);
        crowded.test.line = (0..=40).map(|n| (50.0 * f64::from(n) * 0.9, -8.0)).collect();
        crowded.test.places = vec![crowded.test.places[0].clone(); 41];
        let numbers = |svg: &str| svg.matches("text-anchor=\"middle\">").count();
        let (wide, narrow) = (
            guides_on(&crowded, Units::Inches, Paper::Wide),
            guides_on(&crowded, Units::Inches, Paper::Narrow),
        );
        assert!(numbers(&narrow) < numbers(&wide), "{narrow}");
        assert_eq!(narrow.matches("<circle").count(), 41);
    }
}
