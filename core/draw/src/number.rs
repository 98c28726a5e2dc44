//! Numbers with their ranges, as a page says them.

use taperbook_plugin::{Number, State};
use taperbook_units::{Length, Units};

/// Prints `224 g (218 … 231)`, or a dash where it is not known.
pub(crate) fn number(number: &Number, print: impl Fn(f64) -> String) -> String {
    let Some((value, low, high)) = number.known() else { return "–".to_owned() };
    let [value, low, high] = [value, low, high].map(print);
    if low == value && high == value {
        return value;
    }
    // The unit is said once where all three have the same.
    let unit = value.rfind(' ').map_or("", |at| &value[at..]);
    let is_unit = !unit.is_empty() && unit.chars().all(|c| !c.is_ascii_digit() && c != '"');
    match (low.strip_suffix(unit), high.strip_suffix(unit)) {
        (Some(low), Some(high)) if is_unit => format!("{value} ({low} … {high})"),
        _ => format!("{value} ({low} … {high})"),
    }
}

/// Prints one number of a state by its key, such as `power`; `None` where the state has none such or it is not known.
pub(crate) fn of_state(units: Units, state: &State, key: &str) -> Option<String> {
    let (measure, found) = state.iter().find(|(measure, _)| measure.key() == key)?;
    found.known()?;
    Some(number(&found, |si| match key {
        "tip_od" | "butt_od" => units.diameter(Length::from_si(si)),
        _ => units.value(measure.dimension(), si),
    }))
}

/// Prints a chance so that what is not certain never looks so.
pub(crate) fn chance(chance: Option<f64>) -> String {
    match chance {
        None => "not known".to_owned(),
        Some(chance) if 0.995 <= chance => "over 99 %".to_owned(),
        Some(chance) if chance < 0.005 => "under 1 %".to_owned(),
        Some(chance) => format!("{:.0} %", chance * 100.0),
    }
}

/// What a limit is called on a page.
pub(crate) fn called(key: &str) -> String {
    match key {
        "tip_od" => "tip diameter".to_owned(),
        "butt_od" => "butt diameter".to_owned(),
        key => key.replace('_', " "),
    }
}
