//! Numbers of a page: as they are printed everywhere, and nothing where they are not known.

use taperbook_plugin::{State, print};
use taperbook_units::Units;

/// Prints one number of a state by its key, such as `power`; `None` where the state has none such or it is not known.
pub(crate) fn of_state(units: Units, state: &State, key: &str) -> Option<String> {
    let (measure, found) = state.iter().find(|(measure, _)| measure.key() == key)?;
    found.known()?;
    Some(print::measure(units, measure, &found))
}

/// Prints a chance, or that it is not known.
pub(crate) fn chance(chance: Option<f64>) -> String {
    chance.map_or_else(|| "not known".to_owned(), print::chance)
}

/// What a limit is called on a page.
pub(crate) fn called(key: &str) -> String {
    match key {
        "tip_od" => "tip diameter".to_owned(),
        "butt_od" => "butt diameter".to_owned(),
        key => key.replace('_', " "),
    }
}
