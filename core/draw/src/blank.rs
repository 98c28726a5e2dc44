//! A blank as a drawing: butt at the left, tip at the right, with clamp, joints, cut marks and guides.
//!
//! Lengths are to one scale and diameters to a larger one, which the drawing says.
//! What a cut takes away is hatched; a mark is a broken line through the blank with its distances beside it.

use taperbook_plugin::{GuidePlace, MarkStep, MarksAdvice};
use taperbook_units::{Length, Units};

use crate::scale::{Paper, fitted};
use crate::svg::{Anchor, Svg};

/// Room for a word at either end.
const LEFT: f64 = 40.0;
/// Diameters are drawn so tall at most.
const TALLEST: f64 = 46.0;
/// A line of labels.
const LINE: f64 = 15.0;

/// Draws a blank with the marks of some cuts and with guides; either may be none.
pub fn blank(marks: &MarksAdvice, guides: &[GuidePlace], units: Units) -> String {
    blank_on(marks, guides, units, Paper::Wide)
}

/// Draws a blank as [`blank`] does, on paper of some width.
pub fn blank_on(marks: &MarksAdvice, guides: &[GuidePlace], units: Units, paper: Paper) -> String {
    let stem = marks.record.rsplit('/').next().unwrap_or(&marks.record);
    let length = units.length(Length::from_mm(marks.length_mm));
    let title = format!("{stem}, {length}");
    let stem = fitted(stem, length.chars().count() + 2, paper.width() - 2.0 * LEFT);
    let levels = marks.steps.len().max(1) as f64;
    // Room for the upper jaw of the clamp under the last label.
    let middle = 50.0 + LINE * levels + TALLEST / 2.0;
    let height = middle + TALLEST / 2.0 + 66.0;
    let name = format!("blank-{}-", paper.word());
    let description = described(marks, guides, units);
    let mut svg = Svg::named(&name, paper.width(), height, &title, &description);
    let paper = Scale::new(marks, middle, paper);
    svg.text("", (LEFT, 20.0), Anchor::Start, &format!("{stem}, {length}"));
    svg.text("small", (LEFT - 8.0, middle + 4.0), Anchor::End, "butt");
    svg.text("small", (paper.right + 8.0, middle + 4.0), Anchor::Start, "tip");
    tube(&mut svg, &paper, marks);
    clamp(&mut svg, &paper, marks, units);
    for joint in &marks.joints {
        let (from, to) =
            (joint.at_mm - joint.overlap_mm / 2.0, joint.at_mm + joint.overlap_mm / 2.0);
        for at in [from, to] {
            let half = paper.half(at) + 5.0;
            svg.line("fine", (paper.x(at), middle - half), (paper.x(at), middle + half));
        }
        let y = middle + TALLEST / 2.0 + 20.0;
        svg.text("small", (paper.x(joint.at_mm), y), Anchor::Middle, "joint");
    }
    for guide in guides {
        let (x, half) = (paper.x(guide.from_butt_mm), paper.half(guide.from_butt_mm));
        let ring = (guide.ring_mm.unwrap_or(5.0) * paper.per_mm_across / 2.0).clamp(2.0, 11.0);
        svg.line("fine", (x, middle + half), (x, middle + half + 4.0));
        svg.circle("open", (x, middle + half + 4.0 + ring), ring);
    }
    for (step_idx, step) in marks.steps.iter().enumerate() {
        mark(&mut svg, &paper, marks, step_idx, step, units);
    }
    rule(&mut svg, &paper, height - 34.0, units);
    let scale = if marks.outline.is_empty() {
        "no diameter is known yet".to_owned()
    } else {
        let times = paper.per_mm_across / paper.per_mm_along;
        format!("diameters drawn {times:.0} times as large as lengths")
    };
    svg.text("small", (paper.right, height - 6.0), Anchor::End, &scale);
    svg.finish()
}

/// Where places of the blank lie on the paper.
struct Scale<'a> {
    marks: &'a MarksAdvice,
    middle: f64,
    right: f64,
    per_mm_along: f64,
    per_mm_across: f64,
}

impl<'a> Scale<'a> {
    fn new(marks: &'a MarksAdvice, middle: f64, paper: Paper) -> Self {
        let right = paper.width() - LEFT;
        let along = (right - LEFT) / marks.length_mm.max(1.0);
        let thickest = marks.outline.iter().map(|point| point.od_mm).fold(0.0, f64::max);
        let across = if 0.0 < thickest { TALLEST / thickest } else { along };
        Self { marks, middle, right, per_mm_along: along, per_mm_across: across }
    }

    fn x(&self, at_mm: f64) -> f64 {
        (LEFT + at_mm * self.per_mm_along).clamp(LEFT, self.right)
    }

    /// Half the height that the blank has at a place; a few points where its diameters are not known.
    fn half(&self, at_mm: f64) -> f64 {
        const UNKNOWN: f64 = 5.0;
        let outline = &self.marks.outline;
        let od = match outline.iter().position(|point| at_mm <= point.at_mm) {
            Some(0) => outline.first().map(|point| point.od_mm),
            Some(next) => {
                let (a, b) = (outline[next - 1], outline[next]);
                let part = (at_mm - a.at_mm) / (b.at_mm - a.at_mm).max(1e-9);
                Some(a.od_mm + part * (b.od_mm - a.od_mm))
            }
            None => outline.last().map(|point| point.od_mm),
        };
        od.map_or(UNKNOWN, |od| od * self.per_mm_across / 2.0)
    }
}

fn tube(svg: &mut Svg, paper: &Scale, marks: &MarksAdvice) {
    let known: Vec<f64> = marks.outline.iter().map(|point| point.at_mm).collect();
    let places = if known.is_empty() { vec![0.0, marks.length_mm] } else { known };
    let edge = |side: f64| {
        let place = move |at: &f64| (paper.x(*at), paper.middle + side * paper.half(*at));
        places.iter().map(place).collect::<Vec<_>>()
    };
    let (top, bottom) = (edge(-1.0), edge(1.0));
    let around: Vec<(f64, f64)> = top.into_iter().chain(bottom.into_iter().rev()).collect();
    svg.path("ink", &around, true);
}

fn clamp(svg: &mut Svg, paper: &Scale, marks: &MarksAdvice, units: Units) {
    let Some(held) = marks.held_at_mm.filter(|held| 0.0 < *held && *held < marks.length_mm) else {
        return;
    };
    let (x, half) = (paper.x(held), paper.half(held));
    let (top, bottom) = (paper.middle - half - 3.0, paper.middle + half + 3.0);
    svg.rectangle("ink", (x - 22.0, top - 5.0), (x, top));
    svg.rectangle("ink", (x - 22.0, bottom), (x, bottom + 5.0));
    let words = format!("clamp {}", both(units, held));
    // Where there is no room to the right of it, the label stands on the left.
    const LABEL: f64 = 130.0;
    let is_room = x + LABEL < paper.right + LEFT;
    let (beside, anchor) = if is_room { (x + 4.0, Anchor::Start) } else { (x - 26.0, Anchor::End) };
    svg.text("small", (beside, bottom + 10.0), anchor, &words);
}

/// A mark with its distances, and what comes off hatched.
fn mark(
    svg: &mut Svg,
    paper: &Scale,
    marks: &MarksAdvice,
    step_idx: usize,
    step: &MarkStep,
    units: Units,
) {
    let at = place_now(marks, step_idx);
    let (x, middle) = (paper.x(at), paper.middle);
    let waste = if step.end == "tip" { (x, paper.right) } else { (LEFT, x) };
    let half = TALLEST / 2.0 + 3.0;
    svg.rectangle("wash", (waste.0, middle - half), (waste.1, middle + half));
    hatch(svg, waste, (middle - half, middle + half));
    let y = 40.0 + LINE * step_idx as f64;
    svg.line("dots", (x, y + 4.0), (x, middle + half));
    let (anchor, from) = match step.end.as_str() {
        "tip" => (Anchor::End, step.from_tip_mm),
        _ => (Anchor::Start, step.from_butt_mm),
    };
    let words = format!("{}: {} from the {}", step_idx + 1, both(units, from), step.end);
    // A label at the edge of the paper turns inward.
    let beside = if step.end == "tip" { x - 4.0 } else { x + 4.0 };
    svg.text("small", (beside, y + 8.0), anchor, &words);
}

/// Slanting lines over a part of the paper, from left to right and from top to bottom.
fn hatch(svg: &mut Svg, (left, right): (f64, f64), (top, bottom): (f64, f64)) {
    const APART: f64 = 7.0;
    let tall = bottom - top;
    let n_lines = ((right - left + tall) / APART).clamp(0.0, 400.0).ceil();
    let starts = (1..400).map(f64::from).take_while(|n| *n < n_lines);
    for start in starts.map(|n| left - tall + n * APART) {
        let (from, to) = (start.max(left), (start + tall).min(right));
        if from < to {
            svg.line("fine", (from, bottom - (from - start)), (to, bottom - (to - start)));
        }
    }
}

/// The place of a step's mark on the piece as it is before the first of them, from its butt.
fn place_now(marks: &MarksAdvice, step_idx: usize) -> f64 {
    let before = marks.steps.iter().take(step_idx).filter(|step| step.end == "butt");
    marks.steps[step_idx].from_butt_mm + before.map(|step| step.cut_mm).sum::<f64>()
}

/// A length in the units of the shop, in millimetres besides.
fn both(units: Units, mm: f64) -> String {
    match units {
        Units::Inches => format!("{} ({mm:.1} mm)", units.cut(Length::from_mm(mm))),
        Units::Millimetres => units.cut(Length::from_mm(mm)),
    }
}

/// A rule from the butt, with a tick a foot or a quarter of a metre.
fn rule(svg: &mut Svg, paper: &Scale, y: f64, units: Units) {
    let (step, name): (f64, fn(f64) -> String) = match units {
        Units::Inches => (304.8, |n| format!("{n:.0}'")),
        Units::Millimetres => (250.0, |n| format!("{:.0} mm", n * 250.0)),
    };
    let length = paper.marks.length_mm;
    svg.line("fine", (LEFT, y), (paper.right, y));
    let n_ticks = (0..40).take_while(|n| f64::from(*n) * step <= length).count();
    for tick in 0..n_ticks {
        let x = paper.x(tick as f64 * step);
        svg.line("fine", (x, y), (x, y + 5.0));
        let is_room = 30.0 <= step * paper.per_mm_along || tick % 2 == 0;
        if !is_room {
            continue;
        }
        svg.text("small", (x, y + 16.0), Anchor::Middle, &name(tick as f64));
    }
}

/// What the drawing shows, in words.
fn described(marks: &MarksAdvice, guides: &[GuidePlace], units: Units) -> String {
    let mut words = vec![format!(
        "A blank of {} from butt to tip.",
        units.length(Length::from_mm(marks.length_mm))
    )];
    words.extend(
        marks.held_at_mm.map(|held| format!("It is held {} from the butt.", both(units, held))),
    );
    words.extend(marks.steps.iter().enumerate().map(|(step_idx, step)| {
        format!(
            "Cut {}: {} off the {}, marked {} from the tip and {} from the butt.",
            step_idx + 1,
            both(units, step.cut_mm),
            step.end,
            both(units, step.from_tip_mm),
            both(units, step.from_butt_mm)
        )
    }));
    if !guides.is_empty() {
        words.push(format!("{} guides stand along it.", guides.len()));
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::{JointPlace, OutlinePoint, State};

    use super::*;
    use crate::svg::testing::{coordinates, is_well_formed};

    const WIDTH: f64 = 760.0;
    const RIGHT: f64 = WIDTH - LEFT;

    fn step(end: &str, cut: f64, length: f64, from_butt: f64) -> MarkStep {
        MarkStep {
            end: end.to_owned(),
            cut_mm: cut,
            length_before_mm: length,
            length_after_mm: length - cut,
            from_tip_mm: length - from_butt,
            from_butt_mm: from_butt,
            from_clamp_mm: None,
            from_joint_mm: None,
            od_mm: None,
            wall_mm: None,
            kerf_mm: None,
            offcut_mm: cut,
            saw: String::new(),
            tool: String::new(),
            expected: State::new([]),
        }
    }

    fn marks() -> MarksAdvice {
        let outline = [(0.0, 11.2), (1000.0, 7.0), (2184.0, 1.75)]
            .map(|(at_mm, od_mm)| OutlinePoint { at_mm, od_mm, wall_mm: 0.5 });
        MarksAdvice {
            record: "builds/ilse <heron>".to_owned(),
            length_mm: 2184.0,
            held_at_mm: Some(228.6),
            outline: outline.to_vec(),
            joints: vec![JointPlace { at_mm: 1092.0, overlap_mm: 76.0 }],
            planned: None,
            uncut: State::new([]),
            steps: vec![step("tip", 25.4, 2184.0, 2158.6), step("butt", 76.2, 2158.6, 76.2)],
            words: Vec::new(),
        }
    }

    #[test]
    fn marks_lie_where_they_are_to_scale_and_on_the_paper() {
        let svg = blank(&marks(), &[], Units::Inches);
        is_well_formed(&svg);
        assert!(svg.contains("ilse &lt;heron&gt;") && !svg.contains("NaN"));
        // The first broken line is the tip mark, the second the butt mark: 680 points are 2184 mm.
        let dots: Vec<f64> = svg
            .split("class=\"dots\" x1=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next()?.parse().ok())
            .collect();
        let at = |mm: f64| LEFT + mm * (RIGHT - LEFT) / 2184.0;
        assert!(
            (dots[0] - at(2158.6)).abs() < 0.06 && (dots[1] - at(76.2)).abs() < 0.06,
            "{dots:?}"
        );
        for (name, value) in coordinates(&svg) {
            if matches!(name.as_str(), "x" | "x1" | "x2" | "cx") {
                assert!((0.0..=WIDTH).contains(&value), "{name} {value}");
            }
        }
        assert!(
            svg.contains(
                "Cut 2: 3 in (76.2 mm) off the butt, marked 82 in (2082.4 mm) from the tip"
            )
        );
    }

    #[test]
    fn a_blank_of_which_only_the_length_is_known_is_drawn_too() {
        let mut marks = marks();
        marks.outline.clear();
        marks.held_at_mm = None;
        let svg = blank(&marks, &[], Units::Millimetres);
        is_well_formed(&svg);
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
        assert!(svg.contains("no diameter is known yet") && !svg.contains("times as large"));
        is_well_formed(&blank_on(&marks, &[], Units::Inches, Paper::Narrow));
        marks.steps.clear();
        is_well_formed(&blank(&marks, &[], Units::Inches));
    }
}
