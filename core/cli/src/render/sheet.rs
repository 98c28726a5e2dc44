//! `sheet`: the marks, the order of the cuts with the stop between, the limits and what is left of them, the fittings.

use taperbook_plugin::{Ends, MarkStep, SheetAdvice, State};
use taperbook_record::Measure;
use taperbook_units::{Length, Units};

use super::{fittings, number, safety, tried};
use crate::style::{BAD, CARE, STRONG, clean, paint, wrapped};

/// Prints the answer to `sheet`.
pub(crate) fn sheet(units: Units, sheet: &SheetAdvice) -> String {
    let from = match sheet.cuts_from.as_str() {
        "none" => String::new(),
        from => format!(", cuts {from}"),
    };
    let mut text = format!("{}: bench sheet{from}\n", paint(STRONG, &clean(&sheet.record)));
    for (word, value) in
        [("for", &sheet.customer), ("blank", &sheet.blank), ("use", &sheet.purpose)]
    {
        if let Some(value) = value {
            text.push_str(&wrapped(&clean(&format!("{word} {value}")), "  "));
        }
    }
    text.push_str(&format!("\n{}\n", safety::cautions()));
    text.push_str(&before(units, sheet));
    for (step_idx, step) in sheet.marks.steps.iter().enumerate() {
        text.push_str(&cut(units, step_idx, step));
    }
    text.push_str(&tried::limits(&sheet.limits));
    if !sheet.limits.is_empty() {
        text.push('\n');
        for (when, ends) in [("now", sheet.left_now), ("after these cuts", sheet.left_after)] {
            text.push_str(&left(units, when, ends));
        }
    }
    if let Some(at) = &sheet.fittings {
        text.push_str(&format!("\nfittings {}", fittings::state(units, at, 1)));
    }
    if !sheet.flags.is_empty() {
        text.push_str("\nflags that these cuts would raise:\n");
        for (flag, message) in &sheet.flags {
            text.push_str(&format!("{}\n{}", paint(BAD, flag), wrapped(&clean(message), "  ")));
        }
    }
    text.push('\n');
    for words in sheet.words.iter().chain(&sheet.marks.words) {
        text.push_str(&wrapped(&clean(words), ""));
    }
    text
}

fn left(units: Units, when: &str, ends: Ends) -> String {
    tried::left(&format!("inside the limits {when}, each end alone"), units, ends)
}

fn before(units: Units, sheet: &SheetAdvice) -> String {
    let mut words = format!("before: length {}", mark(units, sheet.marks.length_mm));
    words.push_str(&expected(units, &sheet.before, &[Measure::Power]));
    if let Some(held_at) = sheet.marks.held_at_mm {
        words.push_str(&format!(", held at {}", mark(units, held_at)));
    }
    wrapped(&words, "")
        + &wrapped("read: length ______ power ______ tip angle ______ tip ______", "  ")
}

fn cut(units: Units, step_idx: usize, step: &MarkStep) -> String {
    let (stays, end_od) = match step.end.as_str() {
        "tip" => ("butt", Measure::TipOd),
        _ => ("tip", Measure::ButtOd),
    };
    let mut text = format!(
        "\n{}\n",
        paint(
            STRONG,
            &format!(
                "{}. cut {} off the {} of {}",
                step_idx + 1,
                mark(units, step.cut_mm),
                step.end,
                mark(units, step.length_before_mm)
            )
        )
    );
    let mut places = format!(
        "mark {} from the tip, {} from the butt",
        mark(units, step.from_tip_mm),
        mark(units, step.from_butt_mm)
    );
    if let Some(clamp) = step.from_clamp_mm {
        places.push_str(&format!(", {}", taperbook_draw::beside_clamp(units, clamp)));
    }
    if let Some(joint) = step.from_joint_mm {
        places.push_str(&format!(", {}", taperbook_draw::beside_joint(units, step, joint)));
    }
    text.push_str(&wrapped(&places, "   "));
    let kerf = step.kerf_mm.map(|kerf| format!(", kerf {kerf:.1} mm")).unwrap_or_default();
    text.push_str(&wrapped(
        &format!(
            "tape edge on the mark, on the {stays} side; saw on the {} side of it{kerf}; {} comes off whole",
            step.end,
            mark(units, step.offcut_mm)
        ),
        "   ",
    ));
    let mut tool = format!("{}, {}", step.saw, step.tool);
    if let Some(od) = step.od_mm {
        let wall = step.wall_mm.map(|wall| format!(", wall about {wall:.2} mm"));
        tool.push_str(&format!(" (at the mark {od:.2} mm thick{})", wall.unwrap_or_default()));
    }
    text.push_str(&wrapped(&clean(&tool), "   "));
    let after = expected(units, &step.expected, &[Measure::Power, end_od]);
    text.push_str(&wrapped(
        &format!(
            "{} expected: length {}{after}",
            paint(CARE, "stop and read;"),
            mark(units, step.length_after_mm)
        ),
        "   ",
    ));
    text + &wrapped(
        &format!("read: length ______ power ______ tip angle ______ {} ______", step.end),
        "   ",
    )
}

fn mark(units: Units, mm: f64) -> String {
    units.mark(Length::from_mm(mm))
}

/// Numbers of a state that are known, each after a comma.
fn expected(units: Units, state: &State, measures: &[Measure]) -> String {
    let known = measures.iter().filter_map(|measure| {
        let number = state.get(*measure).filter(|number| number.known().is_some())?;
        Some(format!(", {} {}", measure.words(), number::measure(units, *measure, &number)))
    });
    known.collect()
}
