//! What became of a piece, by its truth.

use taperbook_units::{Length, Mass};

use super::HELD_AT;
use super::stage::Wanted;
use crate::piece::Piece;

/// The true power.
pub(crate) fn power(piece: &Piece) -> Mass {
    piece.power(HELD_AT).expect("every blank of the shop can be bent")
}

/// Whether some further cut brings a piece inside; in steps of 2 mm.
///
/// Either cut makes the piece shorter and stronger, the tip's more so: with a total given, power lies between those of all at the butt and
/// all at the tip, so that only these ends need to be looked at.
pub(crate) fn can_be_mended(piece: &Piece, wanted: &Wanted) -> bool {
    const STEP: Length = Length::from_mm(2.0);
    let none = Length::default();
    let mut total = Length::default();
    while wanted.shortest() <= piece.length() - total {
        let length = piece.length() - total;
        let [least, most] =
            [(none, total), (total, none)].map(|(tip, butt)| power(&piece.after(tip, butt)));
        let reaches = least <= wanted.most_power() && wanted.least_power() <= most;
        if reaches && length <= wanted.longest() {
            return true;
        }
        if wanted.most_power() < least {
            return false;
        }
        total = total + STEP;
    }
    false
}
