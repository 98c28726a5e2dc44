//! What is refused: the whole message as the builder sees it, and the part of the text that it points at.

use taperbook_units::{Dimension, Quantity, parse_signed};

#[track_caller]
fn check(text: &str, dimension: Dimension, pointed_at: &str, message: &str) {
    let error = Quantity::parse_as(text, dimension).expect_err(text);
    assert_eq!(error.to_string(), message);
    assert_eq!(&text[error.at], pointed_at, "{text:?} points elsewhere");
}

#[track_caller]
fn check_lengths(table: &[(&str, &str, &str)]) {
    for (text, pointed_at, message) in table {
        check(text, Dimension::Length, pointed_at, message);
    }
}

#[test]
fn no_unit() {
    check_lengths(&[
        ("86", "86", "`86` has no unit: write `86 in` or `86 mm`"),
        (" 86.5 ", "86.5", "`86.5` has no unit: write `86.5 in` or `86.5 mm`"),
        ("1/2", "1/2", "`1/2` has no unit: write `1/2 in` or `1/2 mm`"),
        ("7'10", "10", "`7'10` has no unit after `10`: write `7'10\"`"),
        ("7’10 ½", "10 ½", "`7’10 ½` has no unit after `10 ½`: write `7’10 ½\"`"),
        ("7 ft 10", "10", "`7 ft 10` has no unit after `10`: write `7 ft 10 in`"),
        ("7'10\"1/2", "1/2", "`7'10\"1/2` has no unit after `1/2`: write `7'10 1/2\"`"),
        ("86 in 5", "5", "`86 in 5` has no unit after `5`: write one such as `7'2\"` or `2183 mm`"),
    ]);
    let bare = [
        (Dimension::Mass, "`46` has no unit: write `46 g` or `46 oz`"),
        (Dimension::Angle, "`46` has no unit: write `46 deg`"),
        (Dimension::Frequency, "`46` has no unit: write `46 Hz`"),
        (Dimension::Pressure, "`46` has no unit: write `46 GPa` or `46 Msi`"),
        (Dimension::Density, "`46` has no unit: write `46 kg/m3`"),
        (Dimension::Force, "`46` has no unit: write `46 N`"),
        (Dimension::Fraction, "`46` may be a percentage or a ratio: write `46 %` or `46.0`"),
    ];
    for (dimension, message) in bare {
        check("46", dimension, "46", message);
    }
    check(
        "2",
        Dimension::Fraction,
        "2",
        "`2` may be a percentage or a ratio: write `2 %` or `2.0`",
    );
    check("3 lb 4", Dimension::Mass, "4", "`3 lb 4` has no unit after `4`: write `3 lb 4 oz`");
    let error = Quantity::parse("86").unwrap_err();
    assert_eq!(error.message, "`86` has no unit: write `86 in`, `86 mm` or `86 g`");
}

#[test]
fn commas_and_thousands_marks() {
    check_lengths(&[
        ("2,4 mm", ",", "`2,4 mm` has a comma: write `2.4 mm`"),
        ("2,4", ",", "`2,4` has a comma: write `2.4 in` or `2.4 mm`"),
        ("0,125 in", ",", "`0,125 in` has a comma: write `0.125 in`"),
        ("2,183 mm", ",", "`2,183 mm` has a comma: write `2183 mm` or `2.183 mm`"),
        ("1,234,567 mm", ",", "`1,234,567 mm` has a comma: write `1234567 mm`"),
        ("1,234.5 mm", ",", "`1,234.5 mm` has a comma: write `1234.5 mm`"),
        ("2.183,5 mm", ",", "`2.183,5 mm` has a comma: write `2183.5 mm`"),
        ("\u{a0}2.183,5 mm", ",", "`2.183,5 mm` has a comma: write `2183.5 mm`"),
        ("7 ft, 10 in", ",", "`7 ft, 10 in` has a comma: write `7 ft 10 in`"),
        ("2 183 mm", "2 183", "`2 183 mm` has a space inside its number: write `2183 mm`"),
        (
            "2\u{202f}183 mm",
            "2\u{202f}183",
            "`2 183 mm` has a space inside its number: write `2183 mm`",
        ),
        ("2_183 mm", "_", "`2_183 mm` has an underscore: write `2183 mm`"),
    ]);
}

#[test]
fn signs_and_dashes() {
    check_lengths(&[
        ("-5 mm", "-", "`-5 mm` has a minus sign where none belongs: write `5 mm`"),
        ("−5 mm", "−", "`−5 mm` has a minus sign where none belongs: write `5 mm`"),
        ("+5 mm", "+", "`+5 mm` has a plus sign: write `5 mm`"),
        ("-2,4 mm", "-", "`-2,4 mm` has a minus sign where none belongs: write `2.4 mm`"),
        ("7'-10\"", "-", "`7'-10\"` has a dash inside: write `7' 10\"`"),
        ("2-1/2 in", "-", "`2-1/2 in` has a dash inside: write `2 1/2 in`"),
    ]);
    let signed = [
        ("+12 mm", "+", "`+12 mm` has a plus sign: write `12 mm`"),
        ("--5 mm", "-", "`--5 mm` has a minus sign where none belongs: write `-5 mm`"),
        ("-2,4 mm", ",", "`-2,4 mm` has a comma: write `-2.4 mm`"),
        (" -12", "12", "`-12` has no unit: write `-12 in` or `-12 mm`"),
        ("-", "", "`-` has no number: write one such as `7'2\"` or `2183 mm`"),
        (
            "-46 g",
            "46 g",
            "`-46 g` is a mass where a length belongs: write one such as `7'2\"` or `2183 mm`",
        ),
    ];
    for (text, pointed_at, message) in signed {
        let error = parse_signed(text, Dimension::Length).expect_err(text);
        assert_eq!((error.message.as_str(), &text[error.at]), (message, pointed_at));
    }
}

#[test]
fn points_exponents_and_what_is_no_number() {
    const SUCH_AS: &str = "write one such as `7'2\"` or `2183 mm`";
    let dots = format!("`1.2.3 mm` has more than one decimal point: {SUCH_AS}");
    let huge = format!("`1e999 mm` has an exponent: {SUCH_AS}");
    let digits = format!(
        "`1234567890123456 mm` has more digits than anything can be measured to: {SUCH_AS}"
    );
    check_lengths(&[
        ("1.2.3 mm", ".", &dots),
        ("2. mm", ".", "`2. mm` has nothing after its decimal point: write `2 mm`"),
        (".5 in", ".", "`.5 in` has nothing before its decimal point: write `0.5 in`"),
        ("86 in.", ".", "`86 in.` has a full stop: write `86 in`"),
        ("1e3 mm", "1e3", "`1e3 mm` has an exponent: write `1000 mm`"),
        ("1.5E+3mm", "1.5E+3", "`1.5E+3mm` has an exponent: write `1500mm`"),
        ("5e-3 m", "5e-3", "`5e-3 m` has an exponent: write `0.005 m`"),
        ("1e999 mm", "1e999", &huge),
        ("1234567890123456 mm", "1234567890123456", &digits),
        ("NaN mm", "NaN", &format!("`NaN mm` has no number: {SUCH_AS}")),
        ("inf", "inf", &format!("`inf` has no number: {SUCH_AS}")),
        ("mm", "mm", &format!("`mm` has no number: {SUCH_AS}")),
        ("", "", &format!("nothing is written: {SUCH_AS}")),
        (" \u{a0}", " \u{a0}", &format!("nothing is written: {SUCH_AS}")),
        ("7 10 in", "7 10", &format!("`7 10 in` has two numbers before one unit: {SUCH_AS}")),
        (
            "1/2 183 mm",
            "1/2 183",
            &format!("`1/2 183 mm` has two numbers before one unit: {SUCH_AS}"),
        ),
        ("in 86", "in", "`in 86` has no number before `in`: write `86 in`"),
        ("\"86 in\"", "\"", "`\"86 in\"` has no number before `\"`: write `86 in`"),
        ("about 86 in", "about", "`about 86 in` has no number before `about`: write `86 in`"),
        ("86 in approx", "approx", "`86 in approx` has `approx` after its unit: write `86 in`"),
        ("~86 in", "~", "`~86 in` has `~`, which is no part of a quantity: write `86 in`"),
        (
            "８６ mm",
            "８",
            &format!("`８６ mm` has `８`, which is no part of a quantity: {SUCH_AS}"),
        ),
        (
            "86\0mm",
            "\0",
            "`86\u{fffd}mm` has `\u{fffd}`, which is no part of a quantity: write `86mm`",
        ),
        (
            "6'8\" .. 7'0\"",
            "..",
            &format!("`6'8\" .. 7'0\"` is a range where one quantity belongs: {SUCH_AS}"),
        ),
    ]);
}

#[test]
fn a_text_without_end_is_cut_short_in_its_message() {
    let text = format!("{} mm", "7".repeat(100_000));
    let error = Quantity::parse(&text).unwrap_err();
    let wanted = format!(
        "`{}…` is too long for a quantity: write one such as `7'2\"`, `2183 mm` or `46 g`",
        "7".repeat(64)
    );
    assert_eq!((error.message, error.at), (wanted, 0..text.len()));
    // Sixty-four characters are still read: the fault is another one.
    let longest = format!("{} mm", "7".repeat(61));
    assert!(Quantity::parse(&longest).unwrap_err().message.contains("more digits"));
    assert!(Quantity::parse(&format!("7{longest}")).unwrap_err().message.contains("too long"));
}

#[test]
fn fractions() {
    const SUCH_AS: &str = "write a fraction such as `3/4 in` or `5.5/64 in`";
    check_lengths(&[
        ("5/4 in", "5/4", "`5/4 in` has a fraction of one or more, `5/4`: write `1 1/4 in`"),
        ("1 5/4 in", "5/4", "`1 5/4 in` has a fraction of one or more, `5/4`: write `2 1/4 in`"),
        ("64/64 in", "64/64", "`64/64 in` has a fraction of one or more, `64/64`: write `1 in`"),
        (
            "70.1/64 in",
            "70.1/64",
            "`70.1/64 in` has a fraction of one or more, `70.1/64`: write `1 6.1/64 in`",
        ),
        ("5/0 in", "5/0", &format!("`5/0 in` divides by zero: {SUCH_AS}")),
        ("0/0 in", "0/0", &format!("`0/0 in` divides by zero: {SUCH_AS}")),
        (
            "5/6.4 in",
            "6.4",
            &format!("`5/6.4 in` divides by `6.4`, which is not a whole number: {SUCH_AS}"),
        ),
        (
            "2.5 1/2 in",
            "2.5",
            &format!("`2.5 1/2 in` has decimals and a fraction in one number: {SUCH_AS}"),
        ),
        (
            "2.5½ in",
            "2.5",
            &format!("`2.5½ in` has decimals and a fraction in one number: {SUCH_AS}"),
        ),
        ("3/", "/", &format!("`3/` has nothing after its `/`: {SUCH_AS}")),
        ("3/ in", "/ in", &format!("`3/ in` has no number after its `/`: {SUCH_AS}")),
        ("/4 in", "/", &format!("`/4 in` has nothing before its `/`: {SUCH_AS}")),
        ("1/2/3 in", "/", &format!("`1/2/3 in` has a `/` too many: {SUCH_AS}")),
    ]);
}

#[test]
fn units_together() {
    const SUCH_AS: &str = "write one such as `7'2\"` or `2183 mm`";
    check_lengths(&[
        ("7'14\"", "14\"", "`7'14\"` has 12 inches or more after its feet: write `8'2\"`"),
        ("\u{2009} 7'14\"", "14\"", "`7'14\"` has 12 inches or more after its feet: write `8'2\"`"),
        ("7'12\"", "12\"", "`7'12\"` has 12 inches or more after its feet: write `8'0\"`"),
        (
            "7' 12 1/2\"",
            "12 1/2\"",
            "`7' 12 1/2\"` has 12 inches or more after its feet: write `8' 0 1/2\"`",
        ),
        ("6.5'3\"", "6.5", "`6.5'3\"` has a part of feet before its inches: write `6'9\"`"),
        (
            "7 ft 10 mm",
            "7 ft 10 mm",
            &format!("`7 ft 10 mm` puts `ft` and `mm` together: {SUCH_AS}"),
        ),
        ("7 ft 3 ft", "7 ft 3 ft", &format!("`7 ft 3 ft` puts `ft` and `ft` together: {SUCH_AS}")),
        ("2'183 mm", "2'183 mm", &format!("`2'183 mm` puts `'` and `mm` together: {SUCH_AS}")),
        ("10in 7ft", "10in 7ft", "`10in 7ft` puts `in` and `ft` together: write `7ft 10in`"),
        (
            "2 m 20 cm 3 mm",
            "2 m 20 cm 3 mm",
            &format!("`2 m 20 cm 3 mm` puts `m` and `cm` and `mm` together: {SUCH_AS}"),
        ),
    ]);
    check(
        "2 lb 17 oz",
        Dimension::Mass,
        "17 oz",
        "`2 lb 17 oz` has 16 ounces or more after its pounds: write `3 lb 1 oz`",
    );
    check(
        "66° 30'",
        Dimension::Angle,
        "66° 30'",
        "`66° 30'` puts `°` and `'` together: write one such as `66 deg`",
    );
}

#[test]
fn unknown_units() {
    let near = [
        (
            "86 inchs",
            Dimension::Length,
            "`86 inchs` has an unknown unit `inchs`: did you mean `86 inches`?",
        ),
        (
            "7 feets",
            Dimension::Length,
            "`7 feets` has an unknown unit `feets`: did you mean `7 feet`?",
        ),
        ("24 nm", Dimension::Length, "`24 nm` has an unknown unit `nm`: did you mean `24 mm`?"),
        ("10 gm", Dimension::Mass, "`10 gm` has an unknown unit `gm`: did you mean `10 g`?"),
        ("10 gr", Dimension::Mass, "`10 gr` has an unknown unit `gr`: did you mean `10 g`?"),
        (
            "66 degs",
            Dimension::Angle,
            "`66 degs` has an unknown unit `degs`: did you mean `66 deg`?",
        ),
        ("5,6 hx", Dimension::Frequency, "`5,6 hx` has a comma: write `5.6 Hz`"),
        (
            "9500 mPa",
            Dimension::Pressure,
            "`9500 mPa` has an unknown unit `mPa`: did you mean `9500 MPa`?",
        ),
        (
            "1500 kg/m",
            Dimension::Density,
            "`1500 kg/m` has an unknown unit `kg/m`: did you mean `1500 kg/m3`?",
        ),
        ("12 pct", Dimension::Fraction, "`12 pct` has an unknown unit `pct`: did you mean `12 %`?"),
        (
            "86 spans",
            Dimension::Length,
            "`86 spans` has an unknown unit `spans`: write one such as `7'2\"` or `2183 mm`",
        ),
        ("0x1F", Dimension::Count, "`0x1F` has an unknown unit `x`: write one such as `4`"),
    ];
    for (text, dimension, message) in near {
        assert_eq!(Quantity::parse_as(text, dimension).expect_err(text).message, message);
    }
}

#[test]
fn another_dimension() {
    let table = [
        (
            "46 g",
            Dimension::Length,
            "`46 g` is a mass where a length belongs: write one such as `7'2\"` or `2183 mm`",
        ),
        (
            "7'2\"",
            Dimension::Mass,
            "`7'2\"` is a length where a mass belongs: write one such as `46 g` or `1 5/8 oz`",
        ),
        (
            "66'",
            Dimension::Angle,
            "`66'` is a length where an angle belongs: write one such as `66 deg`",
        ),
        (
            "5 lb",
            Dimension::Force,
            "`5 lb` is a mass where a force belongs: write one such as `5 N`",
        ),
        (
            "66 deg",
            Dimension::Frequency,
            "`66 deg` is an angle where a frequency belongs: write one such as `5.6 Hz`",
        ),
        (
            "5.6 Hz",
            Dimension::Pressure,
            "`5.6 Hz` is a frequency where a pressure belongs: write one such as `95 GPa` or `13.8 Msi`",
        ),
        (
            "95 GPa",
            Dimension::Density,
            "`95 GPa` is a pressure where a density belongs: write one such as `1550 kg/m3` or `1.55 g/cm3`",
        ),
        (
            "1550 kg/m3",
            Dimension::Fraction,
            "`1550 kg/m3` is a density where a fraction belongs: write one such as `12 %` or `0.12`",
        ),
        (
            "12 %",
            Dimension::Count,
            "`12 %` is a fraction where a plain number belongs: write one such as `4`",
        ),
        (
            "5 N",
            Dimension::Count,
            "`5 N` is a force where a plain number belongs: write one such as `4`",
        ),
    ];
    for (text, dimension, message) in table {
        check(text, dimension, text, message);
    }
}
