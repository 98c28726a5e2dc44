//! How flags say things: numbers in the shop's units, cuts, ends, items.

use taperbook_bench::Cuts;
use taperbook_record::{Action, End, Item, Measure};
use taperbook_units::{Length, Mass, Units};

/// Prints a number.
pub(crate) fn value(units: Units, measure: Measure, si: f64) -> String {
    match measure {
        Measure::TipOd | Measure::ButtOd => units.diameter(Length::from_si(si)),
        _ => units.value(measure.dimension(), si),
    }
}

/// Prints by how much two numbers differ, to the same place as the number `of` is printed.
pub(crate) fn difference(units: Units, measure: Measure, of: f64, si: f64) -> String {
    match measure {
        Measure::Weight | Measure::Power if to_the_gram(of) => {
            format!("{:.0} g", Mass::from_si(si).g())
        }
        _ => value(units, measure, si),
    }
}

/// Gives half a step of the last place to which a number is printed, SI: less than that is rounding.
pub(crate) fn rounding(units: Units, measure: Measure, of: f64) -> f64 {
    match measure {
        Measure::Length | Measure::FreeLength | Measure::Balance => match units {
            Units::Inches => Length::from_inches(0.5 / 16.0).m(),
            Units::Millimetres => Length::from_mm(0.5).m(),
        },
        Measure::TipOd | Measure::ButtOd => Length::from_mm(0.005).m(),
        Measure::Weight | Measure::Power => {
            Mass::from_g(if to_the_gram(of) { 0.5 } else { 0.05 }).kg()
        }
        Measure::TipAngle => taperbook_units::Angle::from_deg(0.05).rad(),
        Measure::BendCentre => 0.0005,
        Measure::StiffnessForLength | Measure::Recovery => 0.005,
    }
}

/// From 100 g up a mass is printed to the gram.
fn to_the_gram(si: f64) -> bool {
    99.95 <= Mass::from_si(si.abs()).g()
}

/// Prints a length that must not be exceeded: rounded down to what can be marked.
pub(crate) fn at_most(units: Units, length: Length) -> String {
    // A bisection stops a hundredth of a millimetre short.
    let length = length + Length::from_mm(0.02);
    units.cut(match units {
        Units::Inches => Length::from_inches((length.inches() * 16.0).floor() / 16.0),
        Units::Millimetres => Length::from_mm(length.mm().floor()),
    })
}

/// Names an end.
pub(crate) fn end(end: End) -> &'static str {
    match end {
        End::Tip => "tip",
        End::Butt => "butt",
    }
}

/// Says what comes off: `the tip cut of 1 in`, `the cut of 1 in off the tip and 3 in off the butt`.
pub(crate) fn cut(units: Units, cut: Cuts) -> String {
    let none = Length::default();
    match (none < cut.tip, none < cut.butt) {
        (true, false) => format!("the tip cut of {}", units.cut(cut.tip)),
        (false, true) => format!("the butt cut of {}", units.cut(cut.butt)),
        (true, true) => format!("the cut of {}", off_both(units, cut)),
        (false, false) => "the cut".to_owned(),
    }
}

/// Says what comes off which end: `1 in off the tip and 3 in off the butt`.
pub(crate) fn off_both(units: Units, cut: Cuts) -> String {
    let ends = [(End::Tip, cut.tip), (End::Butt, cut.butt)];
    let ends: Vec<String> = ends
        .into_iter()
        .filter(|(_, length)| Length::default() < *length)
        .map(|(name, length)| format!("{} off the {}", units.cut(length), end(name)))
        .collect();
    ends.join(" and ")
}

/// Names an item of the bench, counted from 1 as the bench is shown: `item 5, 2026-03-16`.
pub(crate) fn item(item_idx: usize, item: &Item) -> String {
    let number = item_idx + 1;
    match item.date {
        Some(date) => format!("item {number}, {date}"),
        None => format!("item {number}"),
    }
}

/// Names the cut that an item made: `the tip cut of 1 in (item 5, 2026-03-16)`.
pub(crate) fn cut_of_item(units: Units, item_idx: usize, bench_item: &Item) -> String {
    let made = amounts(bench_item).unwrap_or_default();
    format!("{} ({})", cut(units, made), item(item_idx, bench_item))
}

/// What an item cut or planned to cut.
pub(crate) fn amounts(item: &Item) -> Option<Cuts> {
    let (tip, butt) = match &item.action {
        Action::Cut(cut) => (&cut.tip, &cut.butt),
        Action::Plan(plan) => (&plan.tip, &plan.butt),
        _ => return None,
    };
    let [tip, butt] = [tip, butt].map(|end| end.as_ref().map(|cut| cut.value).unwrap_or_default());
    Some(Cuts { tip, butt })
}

/// What was written, on one line and not too long.
pub(crate) fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    match line.char_indices().nth(MOST) {
        Some((at, _)) => format!("{}…", &line[..at]),
        None => line,
    }
}

/// Joins words as a sentence does: `a`, `a and b`, `a, b and c`.
pub(crate) fn joined(words: &[String], and: &str) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} {and} {last}", most.join(", ")),
    }
}
