//! The ten blank models of the demo shop: their hidden truths and what their cards tell of them.

use taperbook_units::Length;

use crate::beam::Clamp;
use crate::bench::{Bench, Instruments};
use crate::hand::{decimal, eighths, feet, to_step};
use crate::piece::Piece;
use crate::rng::Rng;
use crate::truth::{Joint, Modulus, SolidTip, Spread, Taper, Truth, Wraps};

use super::SEED;

/// One model.
pub(super) struct Model {
    pub(super) name: &'static str,
    maker: &'static str,
    material: &'static str,
    /// Inches.
    length: f64,
    /// Tip, butt and swell, millimetres; then bulge and twist.
    taper: (f64, f64, f64, f64, f64),
    /// Wall at the tip and what it grows by to the butt, millimetres.
    wall: (f64, f64),
    /// GPa, trend.
    modulus: (f64, f64),
    /// kg/m³.
    density: f64,
    solid_tip: bool,
    /// Middle of the joint and overlap, inches.
    joint: Option<(f64, f64)>,
    /// Where the card has diameters, inches from the butt; the ends are added.
    stations: &'static [f64],
    /// How many of the stations, from the butt, have a wall; the tip's wall shows on its end.
    walls: usize,
    /// Whether the card states modulus and density.
    states_material: bool,
    /// Where it is held, inches, when the card says.
    held_at: Option<f64>,
    /// How many are on the rack, when the card says.
    stock: Option<u32>,
    /// Marked spine, when the card says.
    spine: Option<&'static str>,
    /// The builder's words.
    body: &'static str,
}

impl Model {
    pub(super) fn named(name: &str) -> &'static Self {
        MODELS.iter().find(|model| model.name == name).expect("every job names one of the models")
    }

    /// The truth that the pieces of the model scatter around.
    fn truth(&self) -> Truth {
        let (tip, butt, swell, bulge, twist) = self.taper;
        let length = 0.0254 * self.length;
        let (base, grows) = self.wall;
        let mut rng = Rng::named(SEED, self.name);
        let steps = (0..5_u8)
            .map(|k| {
                let part = (f64::from(k) + rng.between(0.4, 0.8)) / 5.0;
                (part * length, 1e-3 * grows / 5.0 * rng.between(0.85, 1.15))
            })
            .collect();
        Truth {
            length,
            taper: Taper {
                tip: 1e-3 * tip,
                butt: 1e-3 * butt,
                bulge,
                twist,
                swell: 1e-3 * swell,
                reach: 0.15,
            },
            wraps: Wraps { base: 1e-3 * base, steps, rounding: 0.022 },
            modulus: Modulus {
                mean: 1e9 * self.modulus.0,
                trend: self.modulus.1,
                wave: 0.01,
                phase: 1.0,
            },
            density: self.density,
            reinforcement: None,
            // A blend rod of some fourteen inches.
            solid_tip: self.solid_tip.then_some(SolidTip {
                length: 0.36,
                modulus: 62e9,
                density: 1650.0,
            }),
            joints: self
                .joint
                .map(|(at, overlap)| Joint {
                    at: 0.0254 * at,
                    overlap: 0.0254 * overlap,
                    adds: 0.9,
                })
                .into_iter()
                .collect(),
        }
    }

    /// One piece of the model, for the job of a name.
    pub(super) fn piece(&self, job: &str) -> Piece {
        let mut rng = Rng::named(SEED + 1, job);
        // Mandrels don't change, so diameters are the same but for the sanding.
        let mut spread = Spread { length: 0.0, diameter: 0.001, ..Spread::default() };
        if self.states_material {
            // A maker who sends a sheet keeps to it.
            spread = Spread { modulus: 0.015, wall: 0.01, density: 0.004, ..spread };
        }
        let mut truth = self.truth().sibling(&mut rng, &spread);
        // The maker saws to the eighth of an inch, more or less.
        let eighths = (0.8 * rng.normal()).round();
        truth.length += 0.0254 / 8.0 * eighths + 0.0003 * rng.normal();
        Piece::uncut(truth)
    }

    /// Whether the card says where the blank is held.
    pub(super) fn held_at(&self) -> f64 {
        self.held_at.unwrap_or(super::HELD_AT)
    }

    /// Writes the blank card, from calipers put on the first piece that came in.
    pub(super) fn card(&self) -> String {
        use std::fmt::Write as _;
        let piece = Piece::uncut(self.truth());
        let instruments = Instruments { noticed: 1.2, ..Instruments::default() };
        let mut bench = Bench::new(Clamp::default(), instruments, Rng::named(SEED + 2, self.name));
        let mut text = format!("---\nkind: blank\nmaker: {}\n", self.maker);
        let mut line = |line: String| {
            // Writing to a `String` can't fail.
            let _ = writeln!(text, "{line}");
        };
        line(format!("length: {}", feet(self.length)));
        line(format!("pieces: {}", if self.joint.is_some() { 2 } else { 1 }));
        if let Some(n) = self.stock {
            line(format!("stock: {n}"));
        }
        line(format!("material: {}", self.material));
        line(format!("tip: {}", if self.solid_tip { "solid" } else { "tubular" }));
        let weight = to_step(bench.read_weight(&piece).g(), 0.5);
        line(format!("weight: {} g", decimal(weight, 1)));
        line("calipers:".to_owned());
        let mut places = vec![0.0];
        places.extend(self.stations);
        places.push(self.length);
        for (i, &inches) in places.iter().enumerate() {
            let place = Length::from_inches(inches);
            let od = to_step(bench.read_od(&piece, place).mm(), 0.05);
            let last = i + 1 == places.len();
            let has_wall = self.walls != 0 && (i < self.walls || (last && !self.solid_tip));
            let wall = if has_wall {
                let wall = to_step(bench.read_wall(&piece, place).mm(), 0.05);
                format!(", wall: {wall:.2} mm")
            } else {
                String::new()
            };
            line(format!("  - {{ at: {} in, od: {od:.2} mm{wall} }}", eighths(inches)));
        }
        if self.states_material {
            line(format!("modulus: {} GPa", self.modulus.0));
            line(format!("density: {} kg/m3", self.density));
        }
        if let Some((at, overlap)) = self.joint {
            let (at, overlap) = (eighths(at), eighths(overlap));
            line("joints:".to_owned());
            line(format!("  - {{ at: {at} in, type: spigot, overlap: {overlap} in }}"));
        }
        if let Some(spine) = self.spine {
            line(format!("spine: {spine}"));
        }
        if let Some(inches) = self.held_at {
            line(format!("held_at: {} in", eighths(inches)));
        }
        text + "---\n" + self.body
    }
}

pub(super) const MODELS: [Model; 10] = [
    Model {
        name: "heron-704",
        maker: "Northfell",
        material: "carbon",
        length: 86.0,
        taper: (1.75, 10.95, 0.25, 0.12, 0.05),
        wall: (0.44, 0.46),
        modulus: (90.0, 0.02),
        density: 1540.0,
        solid_tip: false,
        joint: None,
        stations: &[6.0, 18.0, 30.0, 44.0, 58.0, 70.0, 79.0],
        walls: 2,
        states_material: false,
        held_at: None,
        stock: Some(2),
        spine: None,
        body: r"# heron-704

The blank I cut most.
Grey, unsanded, a little fat in the first foot and then an even taper to the tip.
It comes long and soft for what my customers want from it, and it forgives a tip cut well: an inch makes it a different rod without making it a poker.

Below an inch of tip it stays a spoon rod. Past two and a half it turns into something for jigs, and the light spoons stop loading it.
",
    },
    Model {
        name: "wren-610",
        maker: "Northfell",
        material: "carbon",
        length: 82.0,
        taper: (1.45, 9.0, 0.2, 0.1, 0.0),
        wall: (0.40, 0.32),
        modulus: (88.0, 0.0),
        density: 1520.0,
        solid_tip: false,
        joint: None,
        stations: &[6.0, 18.0, 32.0, 46.0, 60.0, 70.0, 76.0],
        walls: 2,
        states_material: false,
        held_at: None,
        stock: Some(1),
        spine: None,
        body: r"# wren-610

Light, lively and thin in the wall, so it wants a sharp disc and a patient hand: the third one I ever cut splintered because I pushed.
Half inches here, not inches.
",
    },
    Model {
        name: "gannet-606",
        maker: "Brackmere",
        material: "carbon",
        length: 78.0,
        taper: (2.35, 12.6, 0.3, 0.15, -0.05),
        wall: (0.66, 0.70),
        modulus: (76.0, 0.03),
        density: 1560.0,
        solid_tip: false,
        joint: None,
        stations: &[6.0, 16.0, 28.0, 42.0, 56.0, 66.0, 72.0],
        walls: 2,
        states_material: false,
        held_at: None,
        stock: Some(0),
        spine: Some("{ angle: 40 deg, from: the maker's stamp }"),
        body: r"# gannet-606

The stout one, for the boats that go out past the Skerrow light.
Thick wall, honest weight.
Every inch off this tip is worth six in a hundred on the board, so it is a saw, a board, a saw, a board, and never two inches at once.
",
    },
    Model {
        name: "egret-700",
        maker: "Northfell",
        material: "carbon",
        length: 84.0,
        taper: (1.85, 11.5, 0.2, 0.05, 0.0),
        wall: (0.52, 0.50),
        modulus: (96.0, 0.0),
        density: 1550.0,
        solid_tip: false,
        joint: None,
        stations: &[8.0, 20.0, 34.0, 48.0, 62.0, 74.0],
        walls: 8,
        states_material: true,
        held_at: None,
        stock: Some(1),
        spine: None,
        body: r"# egret-700

Comes with a sheet: modulus, density, the wall at every station.
I don't believe sheets, but I have sawn up a broken one and this sheet was right.
Stiffer than it looks on the rack.
",
    },
    Model {
        name: "tern-900",
        maker: "Northfell",
        material: "carbon",
        length: 108.0,
        taper: (1.9, 13.2, 0.2, 0.2, 0.0),
        wall: (0.48, 0.46),
        modulus: (90.0, 0.0),
        density: 1530.0,
        solid_tip: false,
        joint: Some((55.0, 3.0)),
        stations: &[10.0, 24.0, 38.0, 52.0, 58.0, 72.0, 86.0, 97.0],
        walls: 1,
        states_material: false,
        held_at: Some(14.0),
        stock: None,
        spine: None,
        body: r"# tern-900

Two pieces on a spigot.
Measure it closed and pushed home; the spigot gives a quarter inch between a lazy push and a proper one, and that quarter inch has fooled me.
Tip cuts only for most people. The butt can lose a hand's breadth before the reel seat looks odd.
",
    },
    Model {
        name: "reed-711",
        maker: "Hollin Glass",
        material: "glass",
        length: 95.0,
        taper: (2.05, 11.6, 0.2, 0.05, 0.1),
        wall: (0.56, 0.66),
        modulus: (33.0, 0.0),
        density: 1890.0,
        solid_tip: false,
        joint: None,
        stations: &[8.0, 22.0, 38.0, 54.0, 70.0, 84.0],
        walls: 1,
        states_material: false,
        held_at: None,
        stock: None,
        spine: None,
        body: r"# reed-711

Glass, amber, slow and lovely.
Its own weight bends it a hand's width before anything is hung on it, so level the clamp first and read the drop from the clamp line, not from the tip.
",
    },
    Model {
        name: "dipper-604",
        maker: "Dunmarrow",
        material: "carbon",
        length: 76.0,
        taper: (1.25, 8.0, 0.1, 0.15, 0.0),
        wall: (0.36, 0.30),
        modulus: (90.0, 0.0),
        density: 1520.0,
        solid_tip: true,
        joint: None,
        stations: &[8.0, 20.0, 34.0, 48.0, 58.0, 66.0, 72.0],
        walls: 1,
        states_material: false,
        held_at: None,
        stock: Some(3),
        spine: None,
        body: r"# dipper-604

Ultralight with a solid tip spliced in, about fourteen inches of it.
The splice is the dark ring under the lacquer.
Cut only from the butt, or take a finger's width of the solid at most: whoever cuts into a splice buys the blank.
",
    },
    Model {
        name: "curlew-802",
        maker: "Brackmere",
        material: "carbon",
        length: 98.0,
        taper: (1.95, 12.4, 0.0, 0.05, 0.0),
        wall: (0.52, 0.54),
        modulus: (86.0, 0.0),
        density: 1540.0,
        solid_tip: false,
        joint: None,
        stations: &[],
        walls: 0,
        states_material: false,
        held_at: None,
        stock: None,
        spine: None,
        body: r"# curlew-802

Bought six as a remainder. Two diameters is all I took before they went on the rack; the wall I never saw.
To be measured properly when the next one is on the bench.
",
    },
    Model {
        name: "skua-600",
        maker: "Brackmere",
        material: "blend",
        length: 72.0,
        taper: (2.5, 12.6, 0.3, 0.2, 0.0),
        wall: (0.72, 0.70),
        modulus: (62.0, 0.0),
        density: 1660.0,
        solid_tip: false,
        joint: None,
        stations: &[6.0, 16.0, 28.0, 40.0, 52.0, 62.0],
        walls: 1,
        states_material: false,
        held_at: None,
        stock: Some(0),
        spine: None,
        body: r"# skua-600

Half glass, half carbon, and as hard to kill as a gatepost.
Heavy in the hand, but the charter skippers ask for it by name because the guests stand on them.
",
    },
    Model {
        name: "snipe-609",
        maker: "Dunmarrow",
        material: "carbon",
        length: 81.0,
        taper: (1.6, 9.6, 0.2, 0.2, 0.0),
        wall: (0.42, 0.36),
        modulus: (94.0, 0.0),
        density: 1530.0,
        solid_tip: false,
        joint: None,
        stations: &[6.0, 20.0, 34.0, 48.0, 60.0, 72.0],
        walls: 2,
        states_material: false,
        held_at: None,
        stock: Some(1),
        spine: None,
        body: r"# snipe-609

New this year, so I know it from three pieces only.
Brisk. The tips of the first batch were out of round: turn the caliper and take the middle of what it says.
",
    },
];
