//! The kinds of quantity and how a message speaks of them; not their units, which are in `unit`.

/// What kind of quantity it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Metres inside.
    Length,
    /// Kilograms inside.
    Mass,
    /// Radians inside.
    Angle,
    /// Hertz inside.
    Frequency,
    /// Pascals inside.
    Pressure,
    /// Kilograms per cubic metre inside.
    Density,
    /// Newtons inside.
    Force,
    /// A part of something, 0.25 inside for `25 %`.
    Fraction,
    /// A plain number, such as a count or a rating; the only dimension written without a unit.
    Count,
}

impl Dimension {
    /// Names it with its article, as a sentence would: `a length`, `an angle`.
    pub const fn with_article(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Mass => "a mass",
            Self::Angle => "an angle",
            Self::Frequency => "a frequency",
            Self::Pressure => "a pressure",
            Self::Density => "a density",
            Self::Force => "a force",
            Self::Fraction => "a fraction",
            Self::Count => "a plain number",
        }
    }

    /// Gives one or two ways to write it, in backticks, for the end of a message.
    pub const fn examples(self) -> &'static str {
        match self {
            Self::Length => "`7'2\"` or `2183 mm`",
            Self::Mass => "`46 g` or `1 5/8 oz`",
            Self::Angle => "`66 deg`",
            Self::Frequency => "`5.6 Hz`",
            Self::Pressure => "`95 GPa` or `13.8 Msi`",
            Self::Density => "`1550 kg/m3` or `1.55 g/cm3`",
            Self::Force => "`5 N`",
            Self::Fraction => "`12 %` or `0.12`",
            Self::Count => "`4`",
        }
    }

    /// Gives one way to write a range of it, without backticks.
    pub const fn range_example(self) -> &'static str {
        match self {
            Self::Length => "6'8\" .. 7'0\"",
            Self::Mass => "200 g .. 260 g",
            Self::Angle => "60 deg .. 70 deg",
            Self::Frequency => "5 Hz .. 6 Hz",
            Self::Pressure => "90 GPa .. 100 GPa",
            Self::Density => "1500 kg/m3 .. 1600 kg/m3",
            Self::Force => "2 N .. 5 N",
            Self::Fraction => "0.95 .. 1.05",
            Self::Count => "3 .. 5",
        }
    }

    /// The units to offer for a number that was written without one.
    pub(crate) const fn offered_units(self) -> &'static [&'static str] {
        match self {
            Self::Length => &["in", "mm"],
            Self::Mass => &["g", "oz"],
            Self::Angle => &["deg"],
            Self::Frequency => &["Hz"],
            Self::Pressure => &["GPa", "Msi"],
            Self::Density => &["kg/m3"],
            Self::Force => &["N"],
            Self::Fraction => &["%"],
            Self::Count => &[],
        }
    }
}
