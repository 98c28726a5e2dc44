//! What holds for every text and every number.

use proptest::prelude::*;
use taperbook_units::{
    Dimension, Interval, Length, Mass, Quantity, QuantityError, Units, parse_signed,
};

const DIMENSIONS: [Dimension; 9] = [
    Dimension::Length,
    Dimension::Mass,
    Dimension::Angle,
    Dimension::Frequency,
    Dimension::Pressure,
    Dimension::Density,
    Dimension::Force,
    Dimension::Fraction,
    Dimension::Count,
];

fn dimension() -> impl Strategy<Value = Dimension> {
    prop::sample::select(&DIMENSIONS[..])
}

fn units() -> impl Strategy<Value = Units> {
    prop::sample::select(&[Units::Inches, Units::Millimetres][..])
}

/// Text that is nearly notation: most of it is wrong in one place or two.
fn scraps() -> impl Strategy<Value = String> {
    const SCRAPS: &[&str] = &[
        "7", "10", "1/2", "5.5/64", "0", "000", "183", "12", "½", "⁄", "/", "'", "\"", "’", "″",
        "°", "%", " ", "\u{a0}", ".", "..", ",", "_", "-", "–", "+", "e", "mm", "in", "ft", "m",
        "g", "oz", "lb", "deg", "Hz", "GPa", "kg/m3", "inchs", "`", "\0", "é", "…", "to",
    ];
    prop::collection::vec(prop::sample::select(SCRAPS).prop_map(str::to_owned), 0..9)
        .prop_map(|scraps| scraps.concat())
}

/// The SI size of one unit of the last place that [`Units::value`] prints for this value.
fn resolution(units: Units, dimension: Dimension, si: f64) -> f64 {
    match dimension {
        Dimension::Length if units == Units::Inches => 0.0254 / 16.0,
        Dimension::Length => 1e-3,
        Dimension::Mass if si.abs() < 0.099_95 => 1e-4,
        Dimension::Mass => 1e-3,
        Dimension::Angle => 0.1_f64.to_radians(),
        Dimension::Frequency | Dimension::Force | Dimension::Count => 1e-2,
        Dimension::Pressure => 1e8,
        Dimension::Density => 1.0,
        Dimension::Fraction => 1e-3,
    }
}

/// A sensible span of values of a dimension, in SI.
fn span(dimension: Dimension) -> f64 {
    match dimension {
        Dimension::Length | Dimension::Mass | Dimension::Force => 6.0,
        Dimension::Angle => 6.3,
        Dimension::Frequency | Dimension::Count => 100.0,
        Dimension::Pressure => 1e12,
        Dimension::Density => 2e4,
        Dimension::Fraction => 3.0,
    }
}

/// Rounding to the nearest leaves half a place; the rest is the error of the arithmetic.
#[track_caller]
fn assert_within(found: f64, wanted: f64, resolution: f64, printed: &str) {
    let allowed = resolution / 2.0 + 1e-12 * wanted.abs();
    assert!((found - wanted).abs() <= allowed, "{wanted} printed {printed} read back as {found}");
}

/// Gives what stands in backticks after the last `write` or `did you mean`.
fn advice(error: &QuantityError) -> Vec<String> {
    let (_, advice) = error
        .message
        .rsplit_once(": write ")
        .or(error.message.rsplit_once(": did you mean "))
        .unwrap_or_else(|| panic!("{:?} doesn't say what to write", error.message));
    advice.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// Checks what every error promises: it points into the text, is one line and shows only what can be read.
#[track_caller]
fn assert_helpful(text: &str, error: &QuantityError, reads: impl Fn(&str) -> bool) {
    assert!(text.get(error.at.clone()).is_some(), "{text:?}: {:?} is not in it", error.at);
    assert!(!error.message.contains(char::is_control), "{:?}", error.message);
    assert!(!error.message.ends_with('.'), "{:?}", error.message);
    let advice = advice(error);
    assert!(!advice.is_empty(), "{:?}", error.message);
    for cure in &advice {
        assert!(reads(cure), "{:?} shows {cure:?}, which cannot be read", error.message);
    }
}

fn assert_reads_or_helps(text: &str, dimension: Dimension) {
    let reads = |cure: &str| Quantity::parse(cure).is_ok() || parse_signed(cure, dimension).is_ok();
    let range_reads = |cure: &str| reads(cure) || Interval::parse_as(cure, dimension).is_ok();
    for result in
        [Quantity::parse(text), Quantity::parse_as(text, dimension), parse_signed(text, dimension)]
    {
        match result {
            Ok(quantity) => {
                assert!(
                    quantity.si.is_finite() && 0.0 < quantity.half_step,
                    "{text:?} {quantity:?}"
                );
            }
            Err(error) => assert_helpful(text, &error, reads),
        }
    }
    if let Err(error) = Interval::parse_as(text, dimension) {
        assert_helpful(text, &error, range_reads);
    }
}

proptest! {
    #[test]
    fn printed_values_read_back(units in units(), dimension in dimension(), part in -1.0..1.0_f64) {
        let si = part * span(dimension);
        let printed = units.value(dimension, si);
        let quantity = parse_signed(&printed, dimension).unwrap_or_else(|e| panic!("{printed}: {e}"));
        prop_assert_eq!(quantity.dimension, dimension);
        assert_within(quantity.si, si, resolution(units, dimension, si), &printed);
    }

    #[test]
    fn printed_lengths_read_back(units in units(), inches in -200.0..200.0_f64) {
        let length = Length::from_inches(inches);
        for (printed, resolution) in [
            (units.length(length), if units == Units::Inches { 0.0254 / 16.0 } else { 1e-3 }),
            (units.cut(length), if units == Units::Inches { 0.0254 / 16.0 } else { 1e-4 }),
            (units.diameter(length), 1e-5),
        ] {
            let quantity = parse_signed(&printed, Dimension::Length).unwrap();
            assert_within(quantity.si, length.si(), resolution, &printed);
        }
    }

    #[test]
    fn no_twelve_inches_after_feet(inches in 0.0..200.0_f64) {
        let printed = Units::Inches.length(Length::from_inches(inches));
        prop_assert!(!printed.contains("'12"), "{}", printed);
        // What prints in feet and inches is accepted by the strict reader, twelve inches would not be.
        prop_assert!(Length::parse(&printed).is_ok(), "{}", printed);
    }

    #[test]
    fn printed_masses_read_back(grams in 0.0..5000.0_f64) {
        let printed = Units::Inches.mass(Mass::from_g(grams));
        let resolution = resolution(Units::Inches, Dimension::Mass, grams / 1e3);
        assert_within(Mass::parse(&printed).unwrap().kg(), grams / 1e3, resolution, &printed);
    }

    #[test]
    fn a_quantity_reads_back_within_its_half_step(text in scraps()) {
        for dimension in DIMENSIONS {
            let Ok(quantity) = parse_signed(&text, dimension) else { continue };
            let printed = quantity.to_string();
            // Six decimals are the most that print, and a finer fraction than they show is cut there.
            let number = printed.split(' ').next().unwrap_or_default();
            if number.split_once('.').is_some_and(|(_, decimals)| decimals.len() == 6) {
                continue;
            }
            let again = parse_signed(&printed, dimension).unwrap_or_else(|e| panic!("{printed}: {e}"));
            assert_within(again.si, quantity.si, 2.0 * quantity.half_step, &printed);
        }
    }

    #[test]
    fn any_text_reads_or_helps(text in any::<String>(), dimension in dimension()) {
        assert_reads_or_helps(&text, dimension);
    }

    #[test]
    fn nearly_notation_reads_or_helps(text in scraps(), dimension in dimension()) {
        assert_reads_or_helps(&text, dimension);
    }

    #[test]
    fn spaces_around_a_text_change_nothing(
        text in scraps(),
        dimension in dimension(),
        before in "[ \u{a0}\u{2009}\t]{1,3}",
        after in "[ \u{a0}\u{2009}\t]{0,3}",
    ) {
        let padded = format!("{before}{text}{after}");
        let message = |error: QuantityError| error.message;
        prop_assert_eq!(
            Quantity::parse_as(&padded, dimension).map_err(message),
            Quantity::parse_as(&text, dimension).map_err(message)
        );
        prop_assert_eq!(
            parse_signed(&padded, dimension).map_err(message),
            parse_signed(&text, dimension).map_err(message)
        );
        prop_assert_eq!(
            Interval::parse_as(&padded, dimension).map_err(message),
            Interval::parse_as(&text, dimension).map_err(message)
        );
    }

    #[test]
    fn what_could_mean_two_things_is_never_read(text in scraps()) {
        if text.contains([',', '_', '+', '-', '–', '`', '\0', '…']) {
            for dimension in DIMENSIONS {
                prop_assert!(Quantity::parse_as(&text, dimension).is_err(), "{}", text);
            }
        }
    }

    #[test]
    fn a_bare_number_is_read_only_where_one_belongs(value in 0.0..1e6_f64, places in 0..4_usize) {
        let text = format!("{value:.places$}");
        for dimension in DIMENSIONS {
            let bare = matches!(dimension, Dimension::Count)
                || dimension == Dimension::Fraction && (0 < places || matches!(&*text, "0" | "1"));
            prop_assert_eq!(Quantity::parse_as(&text, dimension).is_ok(), bare, "{}", text);
        }
        prop_assert!(Quantity::parse(&text).is_err());
    }

    #[test]
    fn spaces_quotes_and_case_make_no_difference(
        feet in 0..20_u32,
        inches in 0..12_u32,
        sixteenths in 1..16_u32,
        space in prop::sample::select(&["", " ", "  ", "\t", "\u{a0}", "\u{2009}", "\u{202f}"][..]),
        foot in prop::sample::select(&["'", "’", "‘", "′", "ft", "FT", "foot", "Feet"][..]),
        inch in prop::sample::select(&["\"", "”", "“", "″", "''", "’’", "′′", "in", "IN", "inch", "Inches"][..]),
    ) {
        let plain = Quantity::parse(&format!("{feet}'{inches} {sixteenths}/16\""));
        let text = format!("{space}{feet}{space}{foot}{space}{inches} {space}{sixteenths}{space}/{space}16{space}{inch}{space}");
        prop_assert!(plain.is_ok());
        prop_assert_eq!(Quantity::parse(&text), plain, "{:?}", text);
    }

    #[test]
    fn a_range_is_its_two_ends(low in 0..4000_u32, high in 0..4000_u32, space in "[ \u{a0}]{0,2}") {
        let (low_text, high_text) = (format!("{low} mm"), format!("{high} mm"));
        let text = format!("{low_text}{space}..{space}{high_text}");
        let interval = Interval::parse_as(&text, Dimension::Length);
        prop_assert_eq!(interval.is_ok(), low <= high, "{}", text);
        if let Ok(interval) = interval {
            prop_assert_eq!(interval.low, Quantity::parse(&low_text).ok());
            prop_assert_eq!(interval.high, Quantity::parse(&high_text).ok());
            prop_assert_eq!(Interval::parse_as(&interval.to_string(), Dimension::Length), Ok(interval));
        }
    }
}
