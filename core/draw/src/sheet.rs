//! The sheet for the bench: one page with the marks, the order of the cuts and boxes for the readings.

use maud::{Markup, PreEscaped, html};
use taperbook_plugin::print::CAUTIONS;
use taperbook_plugin::{Ends, Fit, MarkStep, SheetAdvice};
use taperbook_units::{Length, Units};

use crate::number::{called, chance, of_state};
use crate::page::{Frame, Heading, drawings, gap, page, whose};

/// Sets the sheet for the bench.
pub fn sheet(sheet: &SheetAdvice, units: Units, frame: Frame) -> String {
    let heading = Heading {
        record: &sheet.record,
        title: &sheet.title,
        customer: sheet.customer.as_deref(),
        purpose: sheet.purpose.as_deref(),
        blank: sheet.blank.as_deref(),
        ..Heading::default()
    };
    sheet_around(&heading, &sheet_body(sheet, units), frame)
}

/// Sets the sheet around its body, or around what stands in its place until it is worked out.
pub fn sheet_around(heading: &Heading, body: &str, frame: Frame) -> String {
    let beside = [("for", heading.customer), ("blank", heading.blank), ("use", heading.purpose)];
    let body = html! {
        div class="top" {
            h1 { (heading.title) }
            span { "bench sheet · " (heading.record) " · date " span class="gap" {} }
        }
        (whose(&beside))
        p class="care" { (CAUTIONS) }
        (PreEscaped(body))
    };
    page(&format!("Bench sheet: {}", heading.title), frame, &body)
}

/// Sets what is worked out for the sheet.
pub fn sheet_body(sheet: &SheetAdvice, units: Units) -> String {
    let body = html! {
        (drawings(|paper| crate::blank_on(&sheet.marks, &[], units, paper)))
        (before(sheet, units))
        @for (step_idx, step) in sheet.marks.steps.iter().enumerate() {
            (cut(step_idx, step, units))
        }
        (limits(sheet, units))
        (fittings(sheet, units))
        @if !sheet.flags.is_empty() {
            h2 { "Flags that these cuts would raise" }
            @for (flag, message) in &sheet.flags { p class="fault" { b { (flag) } " " (message) } }
        }
        ul {
            @for words in sheet.words.iter().chain(&sheet.marks.words) { li { (words) } }
        }
    };
    body.into_string()
}

/// The piece before the first cut, and the length to check before the saw.
fn before(sheet: &SheetAdvice, units: Units) -> Markup {
    let state = |key| of_state(units, &sheet.before, key);
    html! {
        div class="step" {
            p {
                b { "Before: " }
                "length " b { (units.mark(Length::from_mm(sheet.marks.length_mm))) }
                @if let Some(power) = state("power") { ", power " (power) }
                @if let Some(held) = sheet.marks.held_at_mm {
                    ", held at " (units.mark(Length::from_mm(held)))
                }
                @if sheet.cuts_from != "none" { "; cuts " (sheet.cuts_from) }
            }
            div class="write" { (gap("length")) (gap("power")) (gap("tip angle")) (gap("tip diameter")) }
        }
    }
}

fn cut(step_idx: usize, step: &MarkStep, units: Units) -> Markup {
    let mark = |mm: f64| units.mark(Length::from_mm(mm));
    let state = |key| of_state(units, &step.expected, key);
    html! {
        div class="step" {
            p {
                b { (step_idx + 1) ". Cut " (mark(step.cut_mm)) " off the " (step.end) }
                " of " (mark(step.length_before_mm))
            }
            p {
                "mark " b { (mark(step.from_tip_mm)) " from the tip" } ", "
                b { (mark(step.from_butt_mm)) " from the butt" }
                @if let Some(clamp) = step.from_clamp_mm { ", " (beside_clamp(units, clamp)) }
                @if let Some(joint) = step.from_joint_mm { ", " (beside_joint(units, step, joint)) }
            }
            p {
                "tape edge on the mark, on the " (stays(step)) " side; saw on the " (step.end) " side of it"
                @if let Some(kerf) = step.kerf_mm { ", kerf " (format!("{kerf:.1}")) " mm" }
                "; " (mark(step.offcut_mm)) " comes off whole; "
                (step.saw) ", " (step.tool)
                @if let Some(od) = step.od_mm {
                    " (at the mark " (format!("{od:.2}")) " mm thick"
                    @if let Some(wall) = step.wall_mm { ", wall about " (format!("{wall:.2}")) " mm" }
                    ")"
                }
            }
            p {
                b { "Stop and read. " }
                "Expected: length " b { (mark(step.length_after_mm)) }
                @if let Some(power) = state("power") { ", power " (power) }
                @if let Some(od) = state(if step.end == "tip" { "tip_od" } else { "butt_od" }) {
                    ", " (step.end) " " (od)
                }
            }
            div class="write" {
                (gap("length")) (gap("power")) (gap("tip angle"))
                (gap(if step.end == "tip" { "tip diameter" } else { "butt diameter" }))
            }
        }
    }
}

/// The mark as the tape at the clamp shows it.
pub fn beside_clamp(units: Units, mm: f64) -> String {
    let way = if mm < 0.0 { "behind the clamp" } else { "out from the clamp" };
    format!("{} {way}", units.mark(Length::from_mm(mm.abs())))
}

/// The mark as a tape along its piece alone shows it.
pub fn beside_joint(units: Units, step: &MarkStep, mm: f64) -> String {
    format!(
        "{} from the joint's end of the {} piece alone",
        units.mark(Length::from_mm(mm)),
        step.end
    )
}

/// The side of the mark that stays.
fn stays(step: &MarkStep) -> &'static str {
    if step.end == "tip" { "butt" } else { "tip" }
}

fn limits(sheet: &SheetAdvice, units: Units) -> Markup {
    let open = |end: &Option<String>| end.clone().unwrap_or_default();
    html! {
        @if !sheet.limits.is_empty() {
            h2 { "Limits" }
            table {
                thead { tr { th scope="col" { "limit" } th scope="col" { "allowed" } th scope="col" { "inside after all cuts" } } }
                @for limit in &sheet.limits {
                    tr {
                        th scope="row" { (called(&limit.limit)) }
                        td { (open(&limit.low)) " … " (open(&limit.high)) }
                        td { (chance(limit.inside)) }
                    }
                }
            }
            p { "May still come off, each end alone: now " (left(units, sheet.left_now)) "; after these cuts " (left(units, sheet.left_after)) }
        }
    }
}

/// How much may still come off, rounded down.
fn left(units: Units, ends: Ends) -> String {
    let end = |mm: Option<f64>, end: &str| match mm {
        None => format!("no limit at the {end}"),
        Some(mm) if mm <= 0.0 => format!("nothing off the {end}"),
        // A half millimetre less than is allowed is no loss.
        Some(mm) => {
            format!("{} off the {end}", units.mark(Length::from_mm((mm * 2.0).floor() / 2.0)))
        }
    };
    format!("{}, {}", end(ends.tip_mm, "tip"), end(ends.butt_mm, "butt"))
}

fn fittings(sheet: &SheetAdvice, units: Units) -> Markup {
    let Some(at) = &sheet.fittings else { return html! {} };
    let best = [
        ("tip-top", at.tip_tops.first()),
        ("butt ferrule", at.butt_ferrules.first()),
        ("reel seat", at.reel_seats.first()),
    ];
    let row = |part: &str, fit: &Fit| {
        html! {
            tr {
                th scope="row" { (part) }
                td { (fit.size) ", bore " (format!("{:.2}", fit.bore_mm)) " mm" }
                td { (crate::how(fit)) }
                td { (fit.fitting) }
            }
        }
    };
    html! {
        h2 { "Fittings after all cuts" }
        table { @for (part, fit) in best { @if let Some(fit) = fit { (row(part, fit)) } } }
        @if at.left != Ends::default() {
            p { "Before nothing in the drawers goes on, each end alone: " (left(units, at.left)) }
        }
    }
}

#[cfg(test)]
mod tests {
    use taperbook_plugin::{Cut, MarksAdvice, State};

    use super::*;
    use crate::PaperSize;

    #[test]
    fn what_a_record_says_is_text_and_never_markup_and_no_cut_needs_no_steps() {
        let told = SheetAdvice {
            record: "builds/<b>".to_owned(),
            title: "<script>alert(1)</script>".to_owned(),
            customer: Some("A & B".to_owned()),
            purpose: None,
            blank: None,
            cuts_from: "none".to_owned(),
            cut: Cut::default(),
            before: State::new([]),
            marks: MarksAdvice {
                record: "builds/<b>".to_owned(),
                length_mm: 2000.0,
                held_at_mm: None,
                outline: Vec::new(),
                joints: Vec::new(),
                planned: None,
                uncut: State::new([]),
                steps: Vec::new(),
                words: Vec::new(),
            },
            limits: Vec::new(),
            left_now: Ends::default(),
            left_after: Ends::default(),
            fittings: None,
            flags: vec![("a-flag".to_owned(), "<img src=x>".to_owned())],
            words: vec!["no cut is given".to_owned()],
        };
        let papers = [None, Some(PaperSize::A4), Some(PaperSize::Letter)];
        let served = Frame::Served { style: "/paper.css", back: "/<b>", words: "<i>" };
        for frame in papers.map(Frame::File).into_iter().chain([served]) {
            let html = sheet(&told, Units::Millimetres, frame);
            assert!(crate::is_ours(html.as_bytes()) && !html.contains("NaN"));
            assert!(!html.contains("<script") && !html.contains("<img"), "{html}");
            assert!(html.contains("A &amp; B") && html.contains("no cut is given"));
            assert_eq!(html.matches(CAUTIONS).count(), 1);
        }
        let a4 = Frame::File(Some(PaperSize::A4));
        assert!(sheet(&told, Units::Inches, a4).contains("size: A4;"));
        let html = sheet(&told, Units::Inches, served);
        assert!(!html.contains("<style") && !html.contains("style=") && !html.contains("<i>"));
    }
}
