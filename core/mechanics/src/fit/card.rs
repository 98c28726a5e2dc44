//! What a blank card tells mechanics.

use taperbook_units::{Density, Length, Pressure};

/// What the blank is made of, as far as the card says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Fibre {
    /// Carbon.
    Carbon,
    /// Glass.
    Glass,
    /// Carbon and glass.
    Blend,
    /// The card does not say.
    #[default]
    Unknown,
}

/// A diameter measured along the uncut blank, and the wall where it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Caliper {
    /// Distance from the uncut butt.
    pub at: Length,
    /// Outside diameter.
    pub od: Length,
    /// Wall thickness.
    pub wall: Option<Length>,
    /// Whether it was measured on this very piece; one of the model's card was measured on some other.
    pub own: bool,
}

/// Where two pieces of a blank go into each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    /// The middle of it, from the uncut butt.
    pub at: Length,
    /// Over what length the pieces overlap.
    pub overlap: Length,
}

/// A blank card, and the length of the piece in hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// The uncut length of the piece.
    pub length: Length,
    /// How sure that length is, as a standard deviation; `None` for the maker's word.
    pub length_sd: Option<Length>,
    /// Diameters, in any order.
    pub calipers: Vec<Caliper>,
    /// The modulus, where the card states one.
    pub modulus: Option<Pressure>,
    /// The density, where the card states one.
    pub density: Option<Density>,
    /// The fibre.
    pub fibre: Fibre,
    /// Whether a solid tip is spliced in.
    pub solid_tip: bool,
    /// The joints of a blank in pieces, closed.
    pub joints: Vec<Joint>,
}
