//! Blank cards, offcuts and fittings.

use taperbook_units::{Angle, Density, Length, Mass, Pressure};

use crate::{End, Span, Spanned};

/// What a blank is rolled from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Material {
    /// `carbon`
    Carbon,
    /// `glass`
    Glass,
    /// `blend`
    Blend,
}

/// How the tip is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TipKind {
    /// `tubular`
    Tubular,
    /// `solid`, spliced in.
    Solid,
}

/// A blank card: one model.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Blank {
    /// `maker`
    pub maker: Option<Spanned<String>>,
    /// `length`, as the maker states it.
    pub length: Option<Spanned<Length>>,
    /// `pieces`
    pub pieces: Option<Spanned<u32>>,
    /// `material`
    pub material: Option<Spanned<Material>>,
    /// `tip`
    pub tip: Option<Spanned<TipKind>>,
    /// `weight`
    pub weight: Option<Spanned<Mass>>,
    /// `calipers`, in the order of their distance from the butt.
    pub calipers: Vec<Caliper>,
    /// `modulus`
    pub modulus: Option<Spanned<Pressure>>,
    /// `density`
    pub density: Option<Spanned<Density>>,
    /// `spine`
    pub spine: Option<Spanned<Spine>>,
    /// `joints`
    pub joints: Vec<Joint>,
    /// `held_at`
    pub held_at: Option<Spanned<Length>>,
    /// `stock`: how many are on the rack.
    pub stock: Option<Spanned<u32>>,
}

impl Blank {
    /// What says how its pieces bend: all but its weight, which counts for each piece by itself, and but what nothing is
    /// computed with. Where it stands in the file is left out, so that the shapes of two texts compare as equal where these say the same.
    #[must_use]
    pub fn shape(&self) -> Self {
        let caliper = |caliper: &Caliper| Caliper { span: 0..0, ..caliper.clone() };
        let joint = |joint: &Joint| Joint { span: 0..0, ..joint.clone() };
        Self {
            length: placeless(self.length.as_ref()),
            material: placeless(self.material.as_ref()),
            tip: placeless(self.tip.as_ref()),
            calipers: self.calipers.iter().map(caliper).collect(),
            modulus: placeless(self.modulus.as_ref()),
            density: placeless(self.density.as_ref()),
            joints: self.joints.iter().map(joint).collect(),
            held_at: placeless(self.held_at.as_ref()),
            ..Self::default()
        }
    }
}

fn placeless<T: Copy>(known: Option<&Spanned<T>>) -> Option<Spanned<T>> {
    known.map(|known| Spanned { value: known.value, span: 0..0 })
}

/// A diameter of the uncut blank, and the wall where it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Caliper {
    /// Distance from the butt.
    pub at: Length,
    /// Outside diameter.
    pub od: Length,
    /// Wall.
    pub wall: Option<Length>,
    /// Where the entry stands.
    pub span: Span,
}

/// Where the spine was marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Spine {
    /// The angle.
    pub angle: Angle,
    /// What it was marked from.
    pub from: Option<String>,
}

/// A joint between pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct Joint {
    /// Distance from the uncut butt, ferrule closed.
    pub at: Length,
    /// `ferrule`, `spigot`, … as written.
    pub form: Option<String>,
    /// How far the pieces overlap.
    pub overlap: Option<Length>,
    /// Where the entry stands.
    pub span: Span,
}

/// What came off a blank and was kept.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Offcut {
    /// `from`: the build that it came from.
    pub from: Option<Spanned<String>>,
    /// `end`: which end.
    pub end: Option<Spanned<End>>,
    /// `item`: the item of that build's bench which cut it off, from 1.
    pub item: Option<Spanned<u32>>,
    /// The rest is a blank card.
    pub card: Blank,
}

/// What a fitting is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Part {
    /// `tip-top`
    TipTop,
    /// `butt-ferrule`
    ButtFerrule,
    /// `reel-seat`
    ReelSeat,
    /// `guide`
    Guide,
}

/// A drawer of one fitting.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fitting {
    /// `part`
    pub part: Option<Spanned<Part>>,
    /// `sizes`
    pub sizes: Vec<Size>,
    /// `adds.length`
    pub adds_length: Option<Spanned<Length>>,
    /// `adds.weight`
    pub adds_weight: Option<Spanned<Mass>>,
}

/// One size in the drawer.
#[derive(Debug, Clone, PartialEq)]
pub struct Size {
    /// The bore that is marked on it.
    pub marked: Option<Length>,
    /// The bore as measured, which is better.
    pub bore: Option<Length>,
    /// The ring.
    pub ring: Option<Length>,
    /// How far the middle of the ring stands above the blank, of a guide.
    pub height: Option<Length>,
    /// How long the foot is, or both feet with what is between, of a guide.
    pub foot: Option<Length>,
    /// Its weight, where it differs from what the drawer adds.
    pub weight: Option<Mass>,
    /// How many are left.
    pub count: Option<u32>,
    /// Where the entry stands.
    pub span: Span,
}
