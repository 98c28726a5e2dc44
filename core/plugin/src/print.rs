//! Numbers as a person reads them: in the units of the shop, with their range or with what is missing.
//!
//! It knows which kind of quantity a key names; it does not know what the number is worth.

use taperbook_record::Measure;
use taperbook_units::{Dimension, Length, Units};

use crate::{GuidesAdvice, Number};

/// The order in which the numbers of a state are said: what the hand feels first.
pub const ORDER: [Measure; 11] = [
    Measure::Power,
    Measure::Length,
    Measure::Recovery,
    Measure::BendCentre,
    Measure::StiffnessForLength,
    Measure::TipAngle,
    Measure::TipOd,
    Measure::ButtOd,
    Measure::Weight,
    Measure::Balance,
    Measure::FreeLength,
];

/// What to wear, where the dust goes, how to bend, what a carbon rod does near a wire, and the first rule of the bench
/// (the rule is common practice, no source): they stand before every suggested and every tried cut, once.
pub const CAUTIONS: &str = "\
Eye protection always, tips kick back; a fitted particulate respirator, and gloves for splinters. \
Catch the dust wet or by vacuum, never dry-sweep it or use compressed air. \
A blank bent to its limit can shatter: face shield, nobody in line. \
A carbon rod conducts: keep clear of power lines and out of thunderstorms. \
Follow the maker's data sheet and local rules. Measure twice, cut once.";

/// What a customer is told of a finished rod, whatever it is made of.
pub const CARE: &str = "\
A carbon rod conducts electricity: keep well clear of power lines, carry it low under wires, and leave the water in a thunderstorm. \
Look along the tip before each trip: a nick, a white mark in glass, a loose ring or a splinter means do not fish it, and bring it in. \
Don't lift a fish or free a snag with the rod alone: point it along the line and pull by hand, with your face turned away. \
A rod that is bent to its limit can shatter: keep others out of line. \
Local rules and the maker's data sheet go before this page.";

/// How a quantity is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Look {
    /// A length such as that of the blank.
    Length,
    /// A short length, such as a cut.
    Cut,
    /// A diameter.
    Diameter,
    /// Anything else.
    Of(Dimension),
}

/// Prints one measure of a state, SI inside.
pub fn measure(units: Units, measure: Measure, number: &Number) -> String {
    number_as(units, look(measure), number)
}

/// Prints one number whose JSON key carries its unit, in that unit.
pub fn keyed(units: Units, json_key: &str, number: &Number) -> String {
    let (look, si) = look_of_key(json_key);
    number_as(units, look, &number.scaled(si))
}

/// Prints a single value whose JSON key carries its unit.
pub fn keyed_value(units: Units, json_key: &str, value: f64) -> String {
    let (look, si) = look_of_key(json_key);
    one(units, look, value * si)
}

/// Names a JSON key in words: `tip_od_mm` is `tip diameter`, `uncut_power_g` is `uncut power`.
pub fn words_of_key(json_key: &str) -> String {
    if let Some(measure) = Measure::ALL.into_iter().find(|measure| measure.json_key() == json_key) {
        return measure.words().to_owned();
    }
    if let Some(rest) = json_key.strip_prefix("uncut_") {
        return format!("uncut {}", words_of_key(rest));
    }
    let bare = SUFFIXES.iter().find_map(|(suffix, _, _)| json_key.strip_suffix(suffix));
    bare.unwrap_or(json_key).replace('_', " ")
}

/// Prints a cut in the units of the shop and in millimetres: `1 in (25.4 mm)`.
pub fn cut_both(units: Units, mm: f64) -> String {
    let length = Length::from_mm(mm);
    match units {
        Units::Inches => format!("{} ({})", units.cut(length), Units::Millimetres.cut(length)),
        Units::Millimetres => units.cut(length),
    }
}

/// Prints a cut as [`cut_both`] does, but never more than it is: what may come off is rounded down.
pub fn cut_at_most(units: Units, mm: f64) -> String {
    // What was a whole number of steps before it was turned into other units stays one.
    let down = |steps: f64| (steps + 1e-6).floor();
    let tenth = Length::from_mm(down(mm * 10.0) / 10.0);
    match units {
        Units::Inches => {
            let sixteenth = Length::from_inches(down(Length::from_mm(mm).inches() * 16.0) / 16.0);
            format!("{} ({})", units.cut(sixteenth), Units::Millimetres.cut(tenth))
        }
        Units::Millimetres => units.cut(tenth),
    }
}

/// Prints a part of one as a percentage, and never a chance that is not certain as certain.
pub fn chance(part: f64) -> String {
    let percent = part * 100.0;
    if !percent.is_finite() {
        return "not known".to_owned();
    }
    if percent > 99.0 && percent < 100.0 {
        return "over 99 %".to_owned();
    }
    if percent > 0.0 && percent < 1.0 {
        return "under 1 %".to_owned();
    }
    format!("{percent:.0} %")
}

/// The ends of JSON keys, the look and the SI value of one.
const SUFFIXES: [(&str, Look, f64); 7] = [
    ("_mm", Look::Length, 1e-3),
    ("_kg_m3", Look::Of(Dimension::Density), 1.0),
    ("_g", Look::Of(Dimension::Mass), 1e-3),
    ("_deg", Look::Of(Dimension::Angle), std::f64::consts::PI / 180.0),
    ("_hz", Look::Of(Dimension::Frequency), 1.0),
    ("_pct", Look::Of(Dimension::Fraction), 1e-2),
    ("_pa", Look::Of(Dimension::Pressure), 1.0),
];

fn look(measure: Measure) -> Look {
    match (measure, measure.dimension()) {
        (Measure::TipOd | Measure::ButtOd, _) => Look::Diameter,
        (_, Dimension::Length) => Look::Length,
        (_, dimension) => Look::Of(dimension),
    }
}

fn look_of_key(json_key: &str) -> (Look, f64) {
    let plain = json_key.strip_prefix("uncut_").unwrap_or(json_key);
    if let Some(measure) = Measure::ALL.into_iter().find(|measure| measure.json_key() == plain) {
        return (look(measure), measure.json_unit());
    }
    if plain == "cut_mm" || plain.ends_with("_cut_mm") {
        return (Look::Cut, 1e-3);
    }
    SUFFIXES
        .into_iter()
        .find(|(suffix, _, _)| json_key.ends_with(suffix))
        .map_or((Look::Of(Dimension::Count), 1.0), |(_, look, si)| (look, si))
}

fn one(units: Units, look: Look, si: f64) -> String {
    match look {
        Look::Length => units.length(Length::from_si(si)),
        Look::Cut => units.cut(Length::from_si(si)),
        Look::Diameter => units.diameter(Length::from_si(si)),
        Look::Of(dimension) => units.value(dimension, si),
    }
}

/// Prints `224 g (218 … 231)`; a range that is finer than what is printed adds nothing and is left out.
fn number_as(units: Units, look: Look, number: &Number) -> String {
    match number {
        Number::Known { value, low, high } => {
            let [value, low, high] = [*value, *low, *high].map(|si| one(units, look, si));
            if low == value && high == value {
                return value;
            }
            let unit = unit_of(&value);
            if !unit.is_empty() && unit == unit_of(&low) && unit == unit_of(&high) {
                let bare = |text: &str| text[..text.len() - unit.len()].to_owned();
                return format!("{value} ({} … {})", bare(&low), bare(&high));
            }
            format!("{value} ({low} … {high})")
        }
        Number::Missing { missing } => format!("not known: {missing}"),
    }
}

/// The unit at the end of a printed value with the space before it; empty when it has none such.
fn unit_of(printed: &str) -> &str {
    match printed.rfind(' ') {
        Some(space) if !printed[space + 1..].starts_with(|c: char| c.is_ascii_digit()) => {
            &printed[space..]
        }
        _ => "",
    }
}

/// The places of guides from the tip, the tip-top left out.
#[must_use]
pub fn guides_from_tip(units: Units, guides: &GuidesAdvice) -> String {
    let places = guides.test.places.iter().skip(1);
    let places: Vec<String> =
        places.map(|place| units.cut(Length::from_mm(place.from_tip_mm))).collect();
    places.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCHES: Units = Units::Inches;

    fn known(value: f64, low: f64, high: f64) -> Number {
        Number::Known { value, low, high }
    }

    #[test]
    fn a_number_carries_its_range_once_with_the_unit() {
        assert_eq!(
            measure(INCHES, Measure::Power, &known(0.224, 0.218, 0.231)),
            "224 g (218 … 231)"
        );
        assert_eq!(
            measure(INCHES, Measure::TipOd, &known(0.0021, 0.00205, 0.00215)),
            "2.10 mm (2.05 … 2.15)"
        );
        assert_eq!(
            measure(INCHES, Measure::Recovery, &known(5.6, 5.5, 5.75)),
            "5.60 Hz (5.50 … 5.75)"
        );
        assert_eq!(
            measure(INCHES, Measure::BendCentre, &known(0.31, 0.305, 0.315)),
            "31.0 % (30.5 … 31.5)"
        );
        assert_eq!(
            measure(INCHES, Measure::StiffnessForLength, &known(1.06, 1.05, 1.07)),
            "1.06 (1.05 … 1.07)"
        );
    }

    #[test]
    fn feet_and_inches_repeat_in_a_range_since_they_have_no_one_unit() {
        let number = known(2.0828, 2.0812, 2.0844);
        assert_eq!(measure(INCHES, Measure::Length, &number), "6'10\" (6'9 15/16\" … 6'10 1/16\")");
        assert_eq!(measure(Units::Millimetres, Measure::Length, &number), "2083 mm (2081 … 2084)");
    }

    #[test]
    fn an_exact_number_has_no_range_and_a_missing_one_says_what_to_measure() {
        assert_eq!(measure(INCHES, Measure::Length, &Number::exact(2.0828)), "6'10\"");
        assert_eq!(
            measure(INCHES, Measure::Power, &Number::missing("a power reading")),
            "not known: a power reading"
        );
    }

    #[test]
    fn a_json_key_says_how_its_number_is_printed() {
        let number = known(25.4, 23.8125, 26.9875);
        assert_eq!(keyed(INCHES, "tip_cut_mm", &number), "1 in (15/16 … 1 1/16)");
        assert_eq!(keyed(INCHES, "cut_mm", &Number::exact(38.1)), "1 1/2 in");
        assert_eq!(keyed(INCHES, "tip_od_mm", &Number::exact(2.1)), "2.10 mm");
        assert_eq!(keyed(INCHES, "uncut_butt_od_mm", &Number::exact(11.2)), "11.20 mm");
        assert_eq!(keyed(INCHES, "uncut_power_g", &Number::exact(212.0)), "212 g");
        assert_eq!(keyed(INCHES, "offcut_weight_g", &Number::exact(1.5)), "1.5 g");
        assert_eq!(keyed(INCHES, "rating", &Number::exact(4.0)), "4");
        assert_eq!(words_of_key("uncut_tip_od_mm"), "uncut tip diameter");
        assert_eq!(words_of_key("tip_cut_mm"), "tip cut");
    }

    #[test]
    fn a_cut_is_printed_in_the_units_of_the_shop_and_in_millimetres() {
        assert_eq!(cut_both(INCHES, 25.4), "1 in (25.4 mm)");
        assert_eq!(cut_both(Units::Millimetres, 25.4), "25.4 mm");
    }

    #[test]
    fn what_may_come_off_is_rounded_down() {
        assert_eq!(cut_both(INCHES, 42.77), "1 11/16 in (42.8 mm)");
        assert_eq!(cut_at_most(INCHES, 42.77), "1 5/8 in (42.7 mm)");
        assert_eq!(cut_at_most(INCHES, 25.4), "1 in (25.4 mm)");
        assert_eq!(cut_at_most(INCHES, 3.0 * 25.4 / 16.0), "3/16 in (4.7 mm)");
        assert_eq!(cut_at_most(INCHES, 1.0), "0 in (1.0 mm)");
        assert_eq!(cut_at_most(Units::Millimetres, 12.79), "12.7 mm");
    }

    #[test]
    fn a_chance_that_is_not_certain_is_not_printed_as_certain() {
        assert_eq!(chance(1.0), "100 %");
        assert_eq!(chance(0.9996), "over 99 %");
        assert_eq!(chance(0.874), "87 %");
        assert_eq!(chance(0.0004), "under 1 %");
        assert_eq!(chance(0.0), "0 %");
        assert_eq!(chance(f64::NAN), "not known");
    }
}
