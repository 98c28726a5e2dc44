//! Every notation that is accepted, with its SI value and half step computed here by the definitions of the units.

use taperbook_units::{Dimension, Interval, Length, Mass, Quantity, parse_signed};

const INCH: f64 = 0.0254;
const POUND: f64 = 0.45359237;
const DEGREE: f64 = std::f64::consts::PI / 180.0;

#[track_caller]
fn check(text: &str, dimension: Dimension, si: f64, half_step: f64) {
    let quantity = Quantity::parse(text).unwrap_or_else(|error| panic!("{text:?}: {error}"));
    assert_eq!(quantity.dimension, dimension, "{text:?}");
    assert_eq!(Quantity::parse_as(text, dimension), Ok(quantity), "{text:?}");
    // Two roundings of the value, one of the half step's decimals.
    let near = |found: f64, wanted: f64| (found - wanted).abs() <= 1e-14 * wanted.abs();
    assert!(near(quantity.si, si), "{text:?} is {}, not {si}", quantity.si);
    assert!(near(quantity.half_step, half_step), "{text:?} has {}", quantity.half_step);
}

#[test]
fn lengths_in_feet_and_inches() {
    let feet_and_inches = [
        ("7'10\"", 94.0, 0.5),
        ("7' 10 1/2\"", 94.5, 0.25),
        ("7 ft 10 in", 94.0, 0.5),
        ("7ft10in", 94.0, 0.5),
        ("7' 10 in", 94.0, 0.5),
        ("7 foot 2 inches", 86.0, 0.5),
        ("7 feet 1 inch", 85.0, 0.5),
        ("6.5 ft", 78.0, 0.6),
        ("6 1/2 ft", 78.0, 3.0),
        ("7'", 84.0, 6.0),
        ("7'0\"", 84.0, 0.5),
        ("6'11 15/16\"", 83.9375, 1.0 / 32.0),
        ("7'2.25\"", 86.25, 0.005),
        ("86 in", 86.0, 0.5),
        ("86in", 86.0, 0.5),
        ("86 1/2 in", 86.5, 0.25),
        ("86.5\"", 86.5, 0.05),
        ("3/4 in", 0.75, 0.125),
        ("5.5/64 in", 5.5 / 64.0, 0.05 / 64.0),
        ("2 5.5/64 in", 2.0 + 5.5 / 64.0, 0.05 / 64.0),
        ("0 in", 0.0, 0.5),
        ("0/64 in", 0.0, 0.5 / 64.0),
    ];
    for (text, inches, half_step) in feet_and_inches {
        check(text, Dimension::Length, inches * INCH, half_step * INCH);
    }
}

#[test]
fn metric_lengths() {
    check("2183 mm", Dimension::Length, 2.183, 0.0005);
    check("2.4 mm", Dimension::Length, 0.0024, 0.000_05);
    check("2.40mm", Dimension::Length, 0.0024, 0.000_005);
    check("221 cm", Dimension::Length, 2.21, 0.005);
    check("2.21 m", Dimension::Length, 2.21, 0.005);
    check("2183 millimetres", Dimension::Length, 2.183, 0.0005);
    check("2183 millimeters", Dimension::Length, 2.183, 0.0005);
}

#[test]
fn masses() {
    check("46 g", Dimension::Mass, 0.046, 0.0005);
    check("46 grams", Dimension::Mass, 0.046, 0.0005);
    check("1.2 kg", Dimension::Mass, 1.2, 0.05);
    check("1 5/8 oz", Dimension::Mass, POUND / 16.0 * 1.625, POUND / 256.0);
    check("2 ounces", Dimension::Mass, POUND / 8.0, POUND / 32.0);
    check("3 lb", Dimension::Mass, POUND * 3.0, POUND / 2.0);
    check("3 pounds", Dimension::Mass, POUND * 3.0, POUND / 2.0);
    check("2 lb 3 oz", Dimension::Mass, POUND * 35.0 / 16.0, POUND / 32.0);
    check("2lbs 3 1/2oz", Dimension::Mass, POUND * 35.5 / 16.0, POUND / 64.0);
}

#[test]
fn angles_frequencies_and_the_rest() {
    check("66 deg", Dimension::Angle, 66.0 * DEGREE, 0.5 * DEGREE);
    check("66°", Dimension::Angle, 66.0 * DEGREE, 0.5 * DEGREE);
    check("66 degrees", Dimension::Angle, 66.0 * DEGREE, 0.5 * DEGREE);
    check("1.2 rad", Dimension::Angle, 1.2, 0.05);
    check("5.6 Hz", Dimension::Frequency, 5.6, 0.05);
    check("5.6 hertz", Dimension::Frequency, 5.6, 0.05);
    check("95 GPa", Dimension::Pressure, 95e9, 0.5e9);
    check("9500 MPa", Dimension::Pressure, 9.5e9, 0.5e6);
    check("1550 kg/m3", Dimension::Density, 1550.0, 0.5);
    check("1.55 g/cm3", Dimension::Density, 1550.0, 5.0);
    check("1.55 g/cm^3", Dimension::Density, 1550.0, 5.0);
    check("1.55 g/cm³", Dimension::Density, 1550.0, 5.0);
    check("12 %", Dimension::Fraction, 0.12, 0.005);
    check("12.5 percent", Dimension::Fraction, 0.125, 0.0005);
    check("5 N", Dimension::Force, 5.0, 0.5);
}

#[test]
fn a_plain_number_only_where_one_belongs() {
    let count = Quantity::parse_as("4", Dimension::Count).unwrap();
    assert_eq!((count.dimension, count.si, count.half_step), (Dimension::Count, 4.0, 0.5));
    for (text, si) in [("0.98", 0.98), ("1.02", 1.02), ("1", 1.0), ("0", 0.0), ("1/2", 0.5)] {
        let fraction = Quantity::parse_as(text, Dimension::Fraction).unwrap();
        assert_eq!((fraction.dimension, fraction.si), (Dimension::Fraction, si));
    }
    for text in ["4", "0.98"] {
        assert!(Quantity::parse(text).is_err(), "{text} has no unit");
    }
}

#[test]
fn quotes_primes_spaces_and_fractions_of_one_character() {
    let spellings = [
        "7’10½”",
        "7‘10 ½“",
        "7′10½″",
        "7′ 10 1/2 ″",
        "7'10 1/2''",
        "7’10 1/2’’",
        "7′10 1/2′′",
        "7\u{a0}ft\u{a0}10\u{2009}1/2\u{202f}in",
        "\t7 ft 10 1⁄2 in \r\n",
        "\u{feff}7ft10½in\u{200b}",
    ];
    for text in spellings {
        assert_eq!(Length::parse(text), Ok(Length::from_inches(94.5)), "{text:?}");
    }
    let vulgar = [
        ("¼", 1.0, 4.0),
        ("½", 1.0, 2.0),
        ("¾", 3.0, 4.0),
        ("⅓", 1.0, 3.0),
        ("⅔", 2.0, 3.0),
        ("⅕", 1.0, 5.0),
        ("⅖", 2.0, 5.0),
        ("⅗", 3.0, 5.0),
        ("⅘", 4.0, 5.0),
        ("⅙", 1.0, 6.0),
        ("⅚", 5.0, 6.0),
        ("⅐", 1.0, 7.0),
        ("⅛", 1.0, 8.0),
        ("⅜", 3.0, 8.0),
        ("⅝", 5.0, 8.0),
        ("⅞", 7.0, 8.0),
        ("⅑", 1.0, 9.0),
        ("⅒", 1.0, 10.0),
    ];
    for (text, numerator, denominator) in vulgar {
        let inches = numerator / denominator;
        check(&format!("{text}\""), Dimension::Length, inches * INCH, INCH / denominator / 2.0);
        let spelt = format!("86 {numerator}/{denominator} in");
        assert_eq!(Quantity::parse(&format!("86{text} in")), Quantity::parse(&spelt));
    }
}

#[test]
fn letter_case_does_not_matter() {
    let pairs = [
        ("2183 MM", "2183 mm"),
        ("2183 Mm", "2183 mm"),
        ("86 In", "86 in"),
        ("7 FT 2 IN", "7 ft 2 in"),
        ("66 Deg", "66 deg"),
        ("46 G", "46 g"),
        ("1.2 KG", "1.2 kg"),
        ("5.6 hz", "5.6 Hz"),
        ("9500 Mpa", "9500 MPa"),
        ("9500 MPA", "9500 MPa"),
        ("9500 mpa", "9500 MPa"),
        ("95 gpa", "95 GPa"),
        ("13.8 msi", "13.8 Msi"),
        ("1550 KG/M3", "1550 kg/m3"),
        ("86 INCHES", "86 in"),
    ];
    for (text, plain) in pairs {
        assert_eq!(Quantity::parse(text), Quantity::parse(plain), "{text}");
        assert!(Quantity::parse(plain).is_ok(), "{plain}");
    }
}

#[test]
fn signed_numbers_only_when_asked_for() {
    for text in ["-12 mm", "\u{2212}12 mm", "–12 mm", " - 12 mm "] {
        let quantity = parse_signed(text, Dimension::Length).unwrap();
        assert_eq!((quantity.si, quantity.half_step), (-0.012, 0.0005), "{text}");
        assert!(Quantity::parse(text).is_err(), "{text}");
        assert!(Interval::parse_as(&format!("{text} .. 3 mm"), Dimension::Length).is_err());
    }
    assert_eq!(parse_signed("12 mm", Dimension::Length).unwrap().si, 0.012);
    let zero = parse_signed("-0 mm", Dimension::Length).unwrap();
    assert!(zero.si.is_sign_positive());
}

#[test]
fn newtypes_read_their_own_dimension() {
    assert_eq!(Length::parse("7'2\"").unwrap().inches(), 86.0);
    assert_eq!(Mass::parse("46 g").unwrap().g(), 46.0);
    assert!(Mass::parse("7'2\"").is_err());
}
