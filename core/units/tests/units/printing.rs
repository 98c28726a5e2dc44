//! Printed forms, their rounding and their edges.

use taperbook_units::{Dimension, Length, Mass, Quantity, Units};

#[test]
fn lengths() {
    let table = [
        (82.5, "6'10 1/2\"", "2096 mm"),
        (86.0, "7'2\"", "2184 mm"),
        (84.0, "7'0\"", "2134 mm"),
        (78.0, "6'6\"", "1981 mm"),
        (84.0625, "7'0 1/16\"", "2135 mm"),
        (84.5, "7'0 1/2\"", "2146 mm"),
        // Just under a foot rounds up to the foot, never to twelve inches.
        (83.97, "7'0\"", "2133 mm"),
        (83.96, "6'11 15/16\"", "2133 mm"),
        (11.98, "1'0\"", "304 mm"),
        (10.5, "10 1/2\"", "267 mm"),
        (0.5, "1/2\"", "13 mm"),
        (0.0, "0\"", "0 mm"),
        (-0.01, "0\"", "0 mm"),
        (-10.5, "-10 1/2\"", "-267 mm"),
        (-86.0, "-7'2\"", "-2184 mm"),
    ];
    for (inches, in_inches, in_millimetres) in table {
        let length = Length::from_inches(inches);
        assert_eq!(Units::Inches.length(length), in_inches);
        assert_eq!(Units::Millimetres.length(length), in_millimetres);
        assert_eq!(Units::Inches.value(Dimension::Length, length.si()), in_inches);
        assert_eq!(Units::Millimetres.value(Dimension::Length, length.si()), in_millimetres);
    }
}

#[test]
fn cuts_and_diameters() {
    let table = [
        (2.5, "2 1/2 in", "63.5 mm", "63.50 mm"),
        (11.5, "11 1/2 in", "292.1 mm", "292.10 mm"),
        (14.0, "14 in", "355.6 mm", "355.60 mm"),
        (0.0625, "1/16 in", "1.6 mm", "1.59 mm"),
        (1.99, "2 in", "50.5 mm", "50.55 mm"),
        (0.0, "0 in", "0.0 mm", "0.00 mm"),
        (-0.75, "-3/4 in", "-19.1 mm", "-19.05 mm"),
    ];
    for (inches, in_inches, in_millimetres, diameter) in table {
        let length = Length::from_inches(inches);
        assert_eq!(Units::Inches.cut(length), in_inches);
        // 19.05 and 50.546 print as the nearest decimal of the stored double.
        assert_eq!(Units::Millimetres.cut(length), in_millimetres);
        assert_eq!(Units::Inches.diameter(length), diameter);
        assert_eq!(Units::Millimetres.diameter(length), diameter);
    }
}

#[test]
fn other_dimensions() {
    let table = [
        (Dimension::Mass, 0.046, "46.0 g"),
        (Dimension::Mass, 0.099_94, "99.9 g"),
        (Dimension::Mass, 0.099_96, "100 g"),
        (Dimension::Mass, 0.2124, "212 g"),
        (Dimension::Angle, 66.04_f64.to_radians(), "66.0 deg"),
        (Dimension::Frequency, 5.6, "5.60 Hz"),
        (Dimension::Pressure, 95.04e9, "95.0 GPa"),
        (Dimension::Density, 1550.4, "1550 kg/m3"),
        (Dimension::Force, 5.0, "5.00 N"),
        (Dimension::Fraction, 0.1204, "12.0 %"),
        (Dimension::Fraction, -0.0001, "0.0 %"),
        (Dimension::Count, 4.0, "4"),
        (Dimension::Count, 40.0, "40"),
        (Dimension::Count, 4.5, "4.5"),
    ];
    for (dimension, si, printed) in table {
        assert_eq!(Units::Inches.value(dimension, si), printed);
        assert_eq!(Units::Millimetres.value(dimension, si), printed);
    }
}

#[test]
fn what_is_no_number_says_so() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for units in [Units::Inches, Units::Millimetres] {
            assert_eq!(units.length(Length::from_m(value)), "no number");
            assert_eq!(units.cut(Length::from_m(value)), "no number");
            assert_eq!(units.diameter(Length::from_m(value)), "no number");
            assert_eq!(units.mass(Mass::from_kg(value)), "no number");
        }
    }
}

#[test]
fn a_quantity_prints_in_metric_to_what_was_written() {
    let table = [
        ("2.40 mm", "2.40 mm"),
        ("2.4 mm", "2.4 mm"),
        ("7'2\"", "2184 mm"),
        ("5.5/64 in", "2.18 mm"),
        ("1/16 in", "2 mm"),
        // Found by a property test: six decimals are the most, however fine the fraction.
        ("5.5/640000 in", "0.000218 mm"),
        ("1 5/8 oz", "46 g"),
        ("1.25 kg", "1250 g"),
        ("66°", "66 deg"),
        ("13.8 Msi", "95.1 GPa"),
        ("12.5 %", "12.5 %"),
    ];
    for (text, printed) in table {
        assert_eq!(Quantity::parse(text).unwrap().to_string(), printed);
    }
}

#[test]
fn a_mark_is_right_to_half_a_millimetre_in_either_unit() {
    assert_eq!(Units::Inches.mark(Length::from_mm(2163.0)), "85 5/32 in (2163.0 mm)");
    assert_eq!(Units::Millimetres.mark(Length::from_mm(25.4)), "25.4 mm");
    assert_eq!(Units::Inches.mark(Length::from_mm(-152.4)), "-6 in (-152.4 mm)");
    for tenth in 0..3000 {
        let length = Length::from_mm(f64::from(tenth) * 0.7);
        let printed = Units::Inches.mark(length);
        let (inches, mm) = printed.split_once(" (").unwrap();
        for part in [inches, mm.trim_end_matches(')')] {
            let is_nothing = matches!(part, "0 in" | "0.0 mm");
            let read = if is_nothing { Length::default() } else { Length::parse(part).unwrap() };
            assert!((read - length).abs() <= Length::from_mm(0.5), "{printed}");
        }
    }
}
