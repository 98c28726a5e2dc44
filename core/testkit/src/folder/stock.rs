//! The blanks of the generated shop: a few dozen that the simulated bench has bent, and cards that scale them.

use taperbook_units::Length;

use crate::piece::Piece;
use crate::rng::Rng;
use crate::style::Style;
use crate::truth::Truth;

const HELD_AT: Length = Length::from_inches(9.0);
/// Blanks that are really bent, for each style.
const EACH: usize = 4;

const BIRDS: [&str; 40] = [
    "heron", "wren", "gannet", "egret", "tern", "reed", "dipper", "curlew", "skua", "snipe", "auk",
    "avocet", "bittern", "bunting", "coot", "crake", "diver", "dunlin", "eider", "fulmar", "gull",
    "harrier", "hoopoe", "jackdaw", "kestrel", "knot", "lapwing", "linnet", "martin", "merlin",
    "osprey", "petrel", "pipit", "plover", "rail", "ruff", "shrike", "siskin", "teal", "whinchat",
];

/// A blank that was bent.
struct Bent {
    piece: Piece,
    material: &'static str,
    /// Grams.
    power: f64,
    /// Degrees.
    angle: f64,
    /// Grams.
    weight: f64,
    /// What an inch off the tip and off the butt does to the logarithm of power.
    by_inch: (f64, f64),
}

pub(super) struct Stock {
    seed: u64,
    bent: Vec<Bent>,
}

/// A model: one of the bent blanks, scaled.
pub(super) struct Card<'a> {
    pub(super) name: String,
    bent: &'a Bent,
    /// What its diameters and walls are scaled by.
    size: f64,
    /// What its modulus is scaled by.
    modulus: f64,
}

impl Stock {
    pub(super) fn new(seed: u64) -> Self {
        let mut rng = Rng::named(seed, "stock");
        let bent = (0..EACH * Style::ALL.len())
            .map(|i| bend(&mut rng, Style::ALL[i % Style::ALL.len()]))
            .collect();
        Self { seed, bent }
    }

    pub(super) fn card(&self, k: usize) -> Card<'_> {
        let mut rng = Rng::named(self.seed, &format!("card {k}"));
        Card {
            name: format!("{}-{}", BIRDS[k % BIRDS.len()], 100 + k / BIRDS.len()),
            bent: &self.bent[rng.below(self.bent.len())],
            size: rng.between(0.95, 1.05),
            modulus: rng.between(0.88, 1.14),
        }
    }
}

fn bend(rng: &mut Rng, style: Style) -> Bent {
    let piece = Piece::uncut(Truth::random(rng, style));
    let (none, cut) = (Length::default(), Length::from_inches(2.0));
    let power = |piece: &Piece| {
        let power = piece.power(HELD_AT);
        power.expect("a random blank can be read, as a test of pieces holds").g()
    };
    let numbers = piece.true_numbers(HELD_AT).expect("the same");
    let whole = numbers.power.g();
    let by_inch = |piece: Piece| (power(&piece) / whole).ln() / cut.inches();
    Bent {
        material: style.material(),
        power: whole,
        angle: numbers.tip_angle.deg(),
        weight: numbers.weight.g(),
        by_inch: (by_inch(piece.after(cut, none)), by_inch(piece.after(none, cut))),
        piece,
    }
}

impl Card<'_> {
    pub(super) fn material(&self) -> &'static str {
        self.bent.material
    }

    /// Inches.
    pub(super) fn length(&self) -> f64 {
        (self.bent.piece.length().inches() * 8.0).round() / 8.0
    }

    /// Outside diameter, millimetres, at inches from the uncut butt.
    pub(super) fn od(&self, inches: f64) -> f64 {
        self.size * self.bent.piece.od_at(Length::from_inches(inches)).mm()
    }

    /// Wall, millimetres, at inches from the uncut butt.
    pub(super) fn wall(&self, inches: f64) -> f64 {
        self.size * self.bent.piece.truth.wall_at(Length::from_inches(inches)).mm()
    }

    /// Grams, of the uncut blank.
    pub(super) fn weight(&self) -> f64 {
        self.size * self.size * self.bent.weight
    }

    /// Grams, after inches off the tip and the butt.
    ///
    /// Stiffness grows with the fourth power of the size; the logarithm of power is near enough straight over a few inches.
    pub(super) fn power(&self, tip: f64, butt: f64) -> f64 {
        let Bent { power, by_inch, .. } = self.bent;
        self.modulus * self.size.powi(4) * power * (by_inch.0 * tip + by_inch.1 * butt).exp()
    }

    /// Degrees, after inches off the tip: about two degrees an inch.
    pub(super) fn angle(&self, tip: f64) -> f64 {
        self.bent.angle - 2.0 * tip
    }
}
