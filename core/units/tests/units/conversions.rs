//! Factors against the yard-and-pound agreement of 1959 and NIST Special Publication 811 (2008), appendix B.
//!
//! The agreement fixes 1 yd = 0.9144 m and 1 lb = 0.453 592 37 kg exactly; what has an equals sign here is exact by it.

use taperbook_units::{
    Angle, Density, Dimension, Force, Length, Mass, Pressure, Quantity, STANDARD_GRAVITY,
};

#[track_caller]
fn check_exact(text: &str, si: f64) {
    assert_eq!(Quantity::parse(text).unwrap().si, si, "{text}");
}

/// Compares with a published value; 4 ulp for the products of which the factor is made.
#[track_caller]
fn check_near(text: &str, si: f64) {
    let found = Quantity::parse(text).unwrap().si;
    assert!((found - si).abs() <= 4.0 * f64::EPSILON * si, "{text} is {found}, not {si}");
}

#[test]
fn exact_by_the_agreement_of_1959() {
    check_exact("1 in", 0.0254);
    check_exact("1 in", Length::parse("25.4 mm").unwrap().si());
    check_exact("1 ft", 0.3048);
    check_exact("3 ft", 0.9144);
    check_exact("1/64 in", 0.000_396_875);
    check_exact("1 lb", 0.453_592_37);
    check_exact("1 oz", 0.028_349_523_125);
    check_exact("16 oz", 0.453_592_37);
    check_exact("1 lb 0 oz", 0.453_592_37);
}

#[test]
fn derived_as_in_nist_sp_811() {
    // SP 811 table B.8: lbf 4.448 222 N, ozf 0.278 013 9 N, psi 6894.757 Pa, lb/in³ 27 679.90 kg/m³.
    // All digits are from the exact definitions with g = 9.80665 m/s².
    check_near("1 lbf", 4.448_221_615_260_5);
    check_near("1 ozf", 0.278_013_850_953_781_2);
    check_exact("1 kgf", 9.806_65);
    check_near("1 psi", 6_894.757_293_168_361);
    check_near("1 Msi", 6_894_757_293.168_361);
    check_near("1 ksi", 6_894_757.293_168_361);
    check_near("1 lb/in3", 27_679.904_710_203_125);
    check_exact("1 deg", 0.017_453_292_519_943_295);
    check_exact("180 deg", std::f64::consts::PI);
    check_exact("1 g/cm3", 1000.0);
    check_exact("1 MPa", 1e6);
    assert_eq!(STANDARD_GRAVITY, 9.806_65);
    // The seven digits that the table prints.
    for (text, printed) in [
        ("1 lbf", "4.448222"),
        ("1 ozf", "0.2780139"),
        ("1 psi", "6894.757"),
        ("1 lb/in3", "27679.90"),
    ] {
        let places = printed.len() - 1 - printed.find('.').unwrap();
        assert_eq!(format!("{:.places$}", Quantity::parse(text).unwrap().si), printed, "{text}");
    }
}

#[test]
fn newtypes_agree_with_the_notation() {
    assert_eq!(Length::from_inches(86.5), Length::parse("86.5 in").unwrap());
    assert_eq!(Length::from_mm(2.4), Length::parse("2.4 mm").unwrap());
    assert_eq!(Length::from_m(2.21), Length::parse("221 cm").unwrap());
    assert_eq!(Mass::from_g(46.0), Mass::parse("46 g").unwrap());
    assert_eq!(Mass::from_ounces(1.625), Mass::parse("1 5/8 oz").unwrap());
    assert_eq!(Mass::from_kg(1.2), Mass::parse("1.2 kg").unwrap());
    assert_eq!(Angle::from_deg(66.0), Angle::parse("66°").unwrap());
    assert_eq!(Pressure::from_gpa(9.5), Pressure::parse("9500 MPa").unwrap());
    assert_eq!(Density::from_kg_per_m3(1550.0), Density::parse("1.55 g/cm3").unwrap());
    assert_eq!(Force::from_newtons(5.0), Force::parse("5 N").unwrap());
    assert_eq!(Length::from_inches(1.0).mm(), 25.4);
    assert_eq!(Mass::from_ounces(16.0).kg(), 0.453_592_37);
    assert_eq!(Angle::from_rad(std::f64::consts::PI).deg(), 180.0);
}

#[test]
fn notations_of_one_length_are_one_length() {
    for sixteenths in 0..(12 * 12 * 16_u32) {
        let (feet, left) = (sixteenths / 192, sixteenths % 192);
        let decimal_inches = format!("{} in", f64::from(sixteenths) / 16.0);
        // A sixteenth of an inch is 0.001 587 5 m exactly.
        let metres = u64::from(sixteenths) * 15_875;
        let metres = format!("{}.{:07} m", metres / 10_000_000, metres % 10_000_000);
        let wanted = Length::parse(&decimal_inches).unwrap();
        let mixed = format!("{feet}'{} {}/16\"", left / 16, left % 16);
        assert_eq!(Length::parse(&mixed), Ok(wanted), "{mixed}");
        assert_eq!(Length::parse(&metres), Ok(wanted), "{metres} and {decimal_inches}");
    }
    for millimetres in 0..5000_u32 {
        let metres = format!("{}.{:03} m", millimetres / 1000, millimetres % 1000);
        let wanted = Length::from_mm(f64::from(millimetres));
        assert_eq!(Length::parse(&metres), Ok(wanted), "{metres}");
    }
}

#[test]
fn each_dimension_names_itself() {
    assert_eq!(Dimension::Angle.with_article(), "an angle");
    assert_eq!(Dimension::Length.examples(), "`7'2\"` or `2183 mm`");
}
