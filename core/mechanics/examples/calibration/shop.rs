//! The simulated shop: a blank with hidden truth, what its card and the bench tell of it, and what is true of it once it is cut.
//!
//! Nothing here fits anything.
//! What mechanics is told goes through three functions only, [`caliper`], [`card`] and [`reading`].

use taperbook_mechanics::fit::{Caliper, Card, Errors, Fibre, Joint, Measured, Reading, Setup};
use taperbook_testkit::beam::{Clamp, Unsolved};
use taperbook_testkit::bench::{Bench, Instruments};
use taperbook_testkit::piece::{Piece, TrueNumbers};
use taperbook_testkit::rng::Rng;
use taperbook_testkit::style::Style;
use taperbook_testkit::truth::Truth;
use taperbook_units::{Angle, Length};

const NONE: Length = Length::from_m(0.0);
/// Where every blank is held, from its present butt.
pub(crate) const HELD_AT: Length = Length::from_inches(9.0);
/// The weights hung for the board, as parts of the power that was read.
const BOARD_LOADS: [f64; 3] = [0.4, 0.7, 1.0];
/// Where the board is marked, as parts of the free length outward from the clamp.
const BOARD_PLACES: [f64; 5] = [0.3, 0.45, 0.6, 0.75, 0.88];
/// How often a power or a weight is written down wrong where slips are simulated, and from what part to what part of itself it is off.
const SLIP_CHANCE: f64 = 0.1;
const SLIP: (f64, f64) = (0.15, 0.30);

/// What is read, each row with all that stands above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Row {
    Diameters,
    Power,
    TipAngle,
    Weight,
    Board,
    Frequency,
}

impl Row {
    pub(crate) const ALL: [Self; 6] =
        [Self::Diameters, Self::Power, Self::TipAngle, Self::Weight, Self::Board, Self::Frequency];

    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Diameters => "diameters only",
            Self::Power => "+ power",
            Self::TipAngle => "+ its tip angle",
            Self::Weight => "+ weight",
            Self::Board => "+ board, 3 x 5",
            Self::Frequency => "+ tapped frequency",
        }
    }
}

/// The clamp of a shop.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Jaws {
    /// Horizontal and rigid.
    Level,
    /// Of hidden tilt and give, as the test kit has them.
    Shop,
    /// Of hidden tilt, and this give, rad per N m.
    Giving(f64),
}

/// What is hidden in a blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hidden {
    Nothing,
    Reinforcement,
    /// The card tells that there is one, but not of what.
    SolidTip,
    /// The card tells where it is.
    Joint,
}

/// What a block of the table simulates.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) jaws: Jaws,
    pub(crate) hidden: Hidden,
    pub(crate) instruments: Instruments,
    /// How often the blank is read: uncut, and after each of all cuts but the last.
    pub(crate) n_states: u8,
    /// Whether one power or weight in ten is plainly wrong.
    pub(crate) slips: bool,
}

/// A reading, the first row that has it, and whether it is one of the slips.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Taken {
    pub(crate) row: Row,
    pub(crate) slipped: bool,
    pub(crate) reading: Reading,
}

/// One blank: what is known of it, and what is true once both cuts are made.
#[derive(Debug, Clone)]
pub(crate) struct Job {
    pub(crate) card: Card,
    pub(crate) taken: Vec<Taken>,
    pub(crate) tip_cut: Length,
    pub(crate) butt_cut: Length,
    /// How many times it was sawn, each end by itself; nobody lays a tape on it after.
    pub(crate) n_sawn: usize,
    pub(crate) uncut: Truth,
    pub(crate) truth: TrueNumbers,
}

/// What the fit must be told of the instruments and of a clamp that nothing is known of.
pub(crate) fn errors_of(instruments: &Instruments) -> Errors {
    Errors {
        caliper_od: instruments.caliper,
        caliper_tip_od: instruments.caliper_at_tip,
        wall: instruments.wall,
        length: instruments.tape,
        saw: instruments.saw,
        scale: instruments.scale,
        board_drop: instruments.board,
        reclamp: instruments.reclamp,
        tip_angle: instruments.tip_angle,
        frequency: instruments.frequency,
        ..Errors::default()
    }
}

/// The errors to tell for a clamp that was levelled and does not yield, and is known as such.
pub(crate) fn level(errors: Errors) -> Errors {
    Errors { tilt: Angle::default(), give: 0.0, ..errors }
}

impl Job {
    /// Simulates the blank of a number: the same blank, cuts and errors of reading in every scene that differs in something else only.
    ///
    /// # Errors
    /// When the blank can't be read: its own weight drops it below a third.
    pub(crate) fn simulate(scene: &Scene, seed: u64, number: usize) -> Result<Self, Unsolved> {
        let mut rng = Rng::named(seed, &format!("blank {number}"));
        let style = *rng.pick(&Style::ALL);
        let uncut = blank(&mut rng, style, scene.hidden);
        let mut piece = Piece::uncut(uncut.clone());
        let mut rng = Rng::named(seed, &format!("cuts {number}"));
        let tip_cut = piece.length() * rng.between(0.02, 0.10);
        let butt_cut = piece.length() * rng.between(0.0, 0.12);
        let mut slips = Rng::named(seed, &format!("slips {number}"));
        let rng = Rng::named(seed, &format!("readings {number}"));
        let mut bench = Bench::new(clamp(scene.jaws, seed, number), scene.instruments, rng);
        let card = card(&mut bench, &piece, style, number);
        let mut taken = Vec::new();
        for state in 0..scene.n_states {
            let done = f64::from(state) / f64::from(scene.n_states);
            for (row, measured) in read(&mut bench, &piece)? {
                let (slipped, measured) =
                    if scene.slips { slip(&mut slips, measured) } else { (false, measured) };
                let reading = reading(measured, tip_cut * done, butt_cut * done);
                taken.push(Taken { row, slipped, reading });
            }
            let share = 1.0 / f64::from(scene.n_states);
            bench.cut(&mut piece, tip_cut * share, butt_cut * share);
        }
        let truth = piece.true_numbers(HELD_AT)?;
        let n_sawn = 2 * usize::from(scene.n_states);
        Ok(Self { card, taken, tip_cut, butt_cut, n_sawn, uncut, truth })
    }

    /// The readings of a row and of all above it.
    pub(crate) fn readings(&self, row: Row) -> Vec<Reading> {
        self.taken.iter().filter(|taken| taken.row <= row).map(|taken| taken.reading).collect()
    }
}

fn blank(rng: &mut Rng, style: Style, hidden: Hidden) -> Truth {
    let plain = Truth::random(rng, style);
    match hidden {
        Hidden::Nothing => plain,
        Hidden::Reinforcement => plain.with_reinforcement(rng),
        Hidden::SolidTip => plain.with_solid_tip(rng),
        Hidden::Joint => plain.with_joint(rng),
    }
}

fn clamp(jaws: Jaws, seed: u64, number: usize) -> Clamp {
    let shop = Clamp::random(&mut Rng::named(seed, &format!("clamp {number}")));
    match jaws {
        Jaws::Level => Clamp::default(),
        Jaws::Shop => shop,
        Jaws::Giving(give) => Clamp { give, ..shop },
    }
}

/// The card of the very piece: five to eight calipers from butt to tip, the wall at the butt, what it is made of.
pub(crate) fn card(bench: &mut Bench, piece: &Piece, style: Style, number: usize) -> Card {
    let length = bench.read_length(piece);
    let n_calipers = 5 + number % 4;
    let calipers = (0..n_calipers)
        .map(|idx| match idx {
            0 => caliper(bench, piece, NONE, NONE),
            _ if idx + 1 == n_calipers => caliper(bench, piece, length, piece.length()),
            _ => {
                let at = length * (idx as f64 / (n_calipers - 1) as f64);
                caliper(bench, piece, at, at)
            }
        })
        .collect();
    let joints = (piece.truth.joints.iter())
        .map(|joint| Joint { at: Length::from_m(joint.at), overlap: Length::from_m(joint.overlap) })
        .collect();
    Card {
        length,
        length_sd: Some(bench.instruments.tape),
        calipers,
        modulus: None,
        density: None,
        fibre: match style.material() {
            "carbon" => Fibre::Carbon,
            "glass" => Fibre::Glass,
            _ => Fibre::Blend,
        },
        solid_tip: piece.truth.solid_tip.is_some(),
        joints,
    }
}

/// A caliper written down at one place and really held at another; the wall is read where the blank is open, at the butt.
fn caliper(bench: &mut Bench, piece: &Piece, at: Length, really_at: Length) -> Caliper {
    let od = bench.read_od(piece, really_at);
    let wall = (at == NONE).then(|| bench.read_wall(piece, really_at));
    Caliper { at, od, wall, own: true }
}

pub(crate) fn reading(measured: Measured, tip_cut: Length, butt_cut: Length) -> Reading {
    Reading { tip_cut, butt_cut, held_at: HELD_AT, setup: Setup::default(), measured, sd: None }
}

/// All readings of the piece as it now is, by the row that first has them.
pub(crate) fn read(bench: &mut Bench, piece: &Piece) -> Result<Vec<(Row, Measured)>, Unsolved> {
    let power = bench.read_power(piece, HELD_AT)?;
    let mut read = vec![
        (Row::Power, Measured::Power(power)),
        (Row::TipAngle, Measured::TipAngle(bench.read_tip_angle(piece, HELD_AT)?)),
        (Row::Weight, Measured::Weight(bench.read_weight(piece))),
        (Row::Frequency, Measured::Frequency(bench.read_frequency(piece, HELD_AT)?)),
    ];
    let outward = BOARD_PLACES.map(|part| (piece.length() - HELD_AT) * part);
    for part in BOARD_LOADS {
        let load = power * part;
        let points = bench.read_board(piece, HELD_AT, load, &outward)?;
        read.extend(points.iter().map(|&(x, y)| (Row::Board, Measured::BoardPoint { load, x, y })));
    }
    Ok(read)
}

/// Writes one power or weight in ten down wrong.
fn slip(rng: &mut Rng, measured: Measured) -> (bool, Measured) {
    let by = rng.between(SLIP.0, SLIP.1);
    let times = if rng.chance(0.5) { 1.0 + by } else { 1.0 - by };
    let slipped = rng.chance(SLIP_CHANCE);
    match measured {
        Measured::Power(mass) if slipped => (true, Measured::Power(mass * times)),
        Measured::Weight(mass) if slipped => (true, Measured::Weight(mass * times)),
        _ => (false, measured),
    }
}
