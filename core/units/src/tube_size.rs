//! Tube sizes as they are sold: in 64ths of an inch and halves of them.

use crate::Length;

/// 1/64 in is 0.396875 mm exactly, since an inch is 25.4 mm (1959 agreement).
const SIXTY_FOURTH: Length = Length::from_inches(1.0 / 64.0);

/// Prints a tube size: `5.5/64 in` where it is one of those sold, else millimetres to 0.01.
///
/// Tip-top bores are sold in 64ths of an inch and halves of them (common practice, no source).
pub fn tube_size(bore: Length) -> String {
    let halves = (bore / SIXTY_FOURTH * 2.0).round();
    let nearest = SIXTY_FOURTH * (halves / 2.0);
    if (bore - nearest).abs() < Length::from_mm(1e-6) && 0.0 < halves {
        return sixty_fourths(halves);
    }
    let hundredths = format!("{:.2}", bore.mm());
    let trimmed = match hundredths.strip_suffix(".00") {
        Some(whole) => whole,
        None => &hundredths,
    };
    format!("{trimmed} mm")
}

/// Gives the nearest size that is sold: `5.5/64 in` for anything about 2.18 mm.
pub fn nearest_tube_size(bore: Length) -> String {
    sixty_fourths((bore / SIXTY_FOURTH * 2.0).round().max(1.0))
}

fn sixty_fourths(halves: f64) -> String {
    format!("{}/64 in", halves / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sixty_fourth_is_exact() {
        assert_eq!(SIXTY_FOURTH.mm(), 0.396_875);
        // Published drill tables give 5/64 in as 0.0781 in and 1.984 mm (ASME B94.11M, from memory).
        assert_eq!(format!("{:.3}", (SIXTY_FOURTH * 5.0).mm()), "1.984");
    }

    #[test]
    fn sizes_that_are_sold_read_back_as_they_print() {
        for halves in 3..64 {
            let size = SIXTY_FOURTH * (f64::from(halves) / 2.0);
            let printed = tube_size(size);
            assert!(printed.ends_with("/64 in"), "{printed}");
            let read = Length::parse(&printed).unwrap();
            assert!((read - size).abs() < Length::from_mm(1e-9), "{printed} {read:?}");
        }
    }

    #[test]
    fn what_is_no_such_size_is_in_millimetres() {
        assert_eq!(tube_size(Length::from_mm(2.25)), "2.25 mm");
        assert_eq!(tube_size(Length::from_mm(11.0)), "11 mm");
        assert_eq!(nearest_tube_size(Length::from_mm(2.25)), "5.5/64 in");
        assert_eq!(nearest_tube_size(Length::from_mm(0.0)), "0.5/64 in");
    }
}
