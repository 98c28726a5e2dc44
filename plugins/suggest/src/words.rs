//! Numbers, limits and aims as a builder reads them.

use taperbook_bench::{limits, to_mechanics};
use taperbook_mechanics::fit::Outcome;
use taperbook_record::{End, Limit, Measure};
use taperbook_units::{Length, Units};

use crate::brief::Aim;

/// The name of an end.
pub(crate) fn end(end: End) -> &'static str {
    match end {
        End::Tip => "tip",
        End::Butt => "butt",
    }
}

/// An SI value in the shop's unit.
pub(crate) fn value(units: Units, measure: Measure, si: f64) -> String {
    match measure {
        Measure::TipOd | Measure::ButtOd => units.diameter(Length::from_m(si)),
        _ => units.value(measure.dimension(), si),
    }
}

/// A number with its range: `236 g (229 g … 243 g)`; a length, which the tape tells, without.
pub(crate) fn ranged(units: Units, measure: Measure, outcome: &Outcome) -> Option<String> {
    let estimate = outcome.estimate(to_mechanics(measure)).ok()?;
    let print = |si| value(units, measure, si);
    Some(match measure {
        Measure::Length | Measure::FreeLength => print(estimate.value),
        _ => format!(
            "{} ({} … {})",
            print(estimate.value),
            print(estimate.low),
            print(estimate.high)
        ),
    })
}

/// A limit: `from 200 g to 260 g`.
pub(crate) fn limit(units: Units, limit: &Limit) -> String {
    let range = limits::range_of(limit);
    let print = |si| value(units, limit.measure, si);
    match (range.low.is_finite(), range.high.is_finite()) {
        (true, true) => format!("{} to {}", print(range.low), print(range.high)),
        (true, false) => format!("{} or more", print(range.low)),
        (false, true) => format!("{} or less", print(range.high)),
        (false, false) => "anything".to_owned(),
    }
}

/// What an aim is: `an aim of 235 g`, or what follows from what the customer allows and from the past builds that were liked.
pub(crate) fn aim(units: Units, aim: &Aim, liked: &[String]) -> String {
    let print = value(units, aim.measure, aim.value);
    match liked {
        _ if aim.stated => format!("an aim of {print}"),
        [] => format!("{print}, the middle of what is allowed"),
        [one] => format!(
            "{print}, between the middle of what is allowed and how {one} ended, which was liked"
        ),
        several => format!(
            "{print}, between the middle of what is allowed and how {} past builds ended that were liked",
            several.len()
        ),
    }
}

/// A cut at both ends: `1 in off the tip and 3 in off the butt`.
pub(crate) fn cuts(units: Units, tip: Length, butt: Length) -> String {
    let none = Length::default();
    match (none < tip, none < butt) {
        (true, true) => {
            format!("{} off the tip and {} off the butt", units.cut(tip), units.cut(butt))
        }
        (true, false) => format!("{} off the tip", units.cut(tip)),
        (false, true) => format!("{} off the butt", units.cut(butt)),
        (false, false) => "nothing".to_owned(),
    }
}

/// A few things in a row: `a, b and c`.
pub(crate) fn list(things: &[String]) -> String {
    match things {
        [] => String::new(),
        [one] => one.clone(),
        [several @ .., last] => format!("{} and {last}", several.join(", ")),
    }
}

/// A number of things: `1 past build`, `8 past builds`.
pub(crate) fn count(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// A small chance: `1 in 400`, `3 %`.
pub(crate) fn rare(chance: f64) -> String {
    if 0.01 <= chance {
        return format!("{:.0} %", 100.0 * chance);
    }
    let one_in = 1.0 / chance.max(1e-6);
    let step = 10_f64.powf(one_in.log10().floor());
    format!("1 in {:.0}", (one_in / step).round() * step)
}
