//! Numbers as a builder writes them down: rounded to what the tape, the caliper or the scale shows, in the notation of the workshop.
//!
//! It only writes; reading is the work of the units and record crates, and this does not use their printing, so that what the tests read was not made by what they test.

/// Rounds to a multiple of a step.
#[must_use]
pub fn to_step(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// Gives a non-negative whole number held in a float; what is negative or not a number is 0.
#[must_use]
pub fn whole(value: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a cast from a float saturates, and a negative or missing number is meant to become 0"
    )]
    let whole = value.round() as usize;
    whole
}

/// Writes a number with at most `places` decimals and no trailing zeros.
#[must_use]
pub fn decimal(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Writes a number of inches to the eighth: `1 1/2`, `3/4`, `2`.
#[must_use]
pub fn eighths(inches: f64) -> String {
    let eighths = whole(inches * 8.0);
    let (whole, rest) = (eighths / 8, eighths % 8);
    let fraction = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"][rest];
    match (whole, rest) {
        (_, 0) => whole.to_string(),
        (0, _) => fraction.to_owned(),
        _ => format!("{whole} {fraction}"),
    }
}

/// Writes a number of inches to the eighth as feet and inches: `6'10 1/2"`.
#[must_use]
pub fn feet(inches: f64) -> String {
    let inches = to_step(inches, 0.125);
    let feet = (inches / 12.0).floor();
    let rest = inches - 12.0 * feet;
    // A bare fraction after the feet would read as a fraction of a foot.
    let zero = if 0.0 < rest && rest < 1.0 { "0 " } else { "" };
    format!("{feet}'{zero}{}\"", eighths(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_written_to_the_eighth() {
        for (inches, text) in [
            (86.0, "7'2\""),
            (82.5, "6'10 1/2\""),
            (83.99, "7'0\""),
            (72.0, "6'0\""),
            (71.96, "6'0\""),
            (66.13, "5'6 1/8\""),
            (84.13, "7'0 1/8\""),
        ] {
            assert_eq!(feet(inches), text);
        }
        assert_eq!(eighths(0.75), "3/4");
        assert_eq!(eighths(2.0), "2");
        assert_eq!(eighths(1.49), "1 1/2");
        assert_eq!(eighths(0.0), "0");
    }

    #[test]
    fn decimals_lose_their_tail() {
        assert_eq!(decimal(46.0, 1), "46");
        assert_eq!(decimal(1.75, 2), "1.75");
        assert_eq!(decimal(100.0, 0), "100");
        assert_eq!(whole(-3.0), 0);
        assert_eq!(whole(f64::NAN), 0);
        assert!((to_step(212.4, 5.0) - 210.0).abs() < 1e-9);
    }
}
