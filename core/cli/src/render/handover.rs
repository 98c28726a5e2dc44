//! `handover`: what goes with a rod to its customer.

use taperbook_plugin::HandoverAdvice;
use taperbook_plugin::print::{CARE as CARE_OF_A_ROD, guides_from_tip};
use taperbook_units::Units;

use super::{number, tried};
use crate::style::{CARE, STRONG, Table, clean, paint, wrapped};

/// Prints the answer to `handover`.
pub(crate) fn handover(units: Units, rod: &HandoverAdvice) -> String {
    let mut text = format!("{}\n", paint(STRONG, &clean(&rod.title)));
    for (word, value) in [
        ("from", &rod.shop),
        ("for", &rod.customer),
        ("to fish", &rod.purpose),
        ("blank", &rod.blank),
    ] {
        if let Some(value) = value {
            text.push_str(&wrapped(&clean(&format!("{word} {value}")), "  "));
        }
    }
    if !rod.aims.is_empty() {
        let aims: Vec<String> =
            rod.aims.iter().map(|(what, value)| format!("{what} {value}")).collect();
        text.push_str(&wrapped(&clean(&format!("asked for {}", aims.join(", "))), "  "));
    }
    text.push_str(&tried::limits(&rod.limits));
    text.push('\n');
    if rod.cuts.is_empty() {
        text.push_str("nothing was cut so far\n\n");
        text.push_str(&tried::state(units, "as it is", &rod.after));
    } else {
        let mut table = Table::default();
        for step in &rod.cuts {
            table.row([step.date.clone().unwrap_or_default().as_str(), &clean(&step.words)]);
        }
        text.push_str(&format!("cut\n{}\n", table.print("  ")));
        text.push_str(&tried::states(units, ("before", &rod.before), ("now", &rod.after)));
    }
    if let Some(proposed) = &rod.proposed {
        let cut = tried::cut_words(proposed.cut, |mm| number::cut_both(units, mm));
        text.push_str(&format!("\nto be cut, {}: {cut}\n", proposed.cuts_from));
        text.push_str(&tried::state(units, "expected then", &proposed.expected));
        text.push_str(&tried::limits(&proposed.limits));
    }
    if let Some(guides) = &rod.guides {
        let places = guides_from_tip(units, guides);
        text.push_str(&format!("\n{}", wrapped(&format!("guides from the tip: {places}"), "")));
        text.push_str(&format!(
            "recovery with them: {}\n",
            number::keyed(units, "recovery_hz", &guides.dressing.dressed_hz)
        ));
    }
    text.push_str(&format!("\n{}", paint(CARE, &wrapped(CARE_OF_A_ROD, "  "))));
    text.push('\n');
    match &rod.told {
        Some(told) => text.push_str(&wrapped(&clean(&format!("agreed: {told}")), "")),
        None => text.push_str("not agreed yet: write `told:` in the record when it is\n"),
    }
    match &rod.said {
        Some(said) => text.push_str(&wrapped(&clean(&format!("said afterwards: {said}")), "")),
        None => text.push_str("nothing said afterwards yet: write `said:` in the record\n"),
    }
    text
}
