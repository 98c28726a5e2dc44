//! The simulated shop: whole jobs with a hidden truth, from the blank on the rack to the last cut.
//!
//! A builder reads, asks what to cut next, cuts, reads again, until he is told to stop.
//! Whom he asks is not known here: an [`Adviser`] sees nothing but the files that a builder would have written, and what comes of a job
//! is judged by the truth that no file holds.
//!
//! | hidden | is |
//! | --- | --- |
//! | pieces | differ within their model by about 4 % in power |
//! | a reinforcement | in every model, where no caliper shows it: 8 to 20 % over 15 to 40 cm |
//! | the clamp | tilted by half a degree, and yields |
//! | instruments | [`Instruments`](crate::bench::Instruments); one power reading in twenty is wrong by 15 % |
//! | the saw | lands 0.3 mm beside its mark |

mod builder;
mod judge;
pub mod rules;
mod stage;

use taperbook_units::Length;

use crate::piece::Piece;
use builder::Builder;
use stage::Stage;

/// Where all blanks of the shop are held, from the present butt.
pub(crate) const HELD_AT: Length = Length::from_inches(9.0);

/// How a shop works, and what it is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Past builds of the model.
    pub n_past: usize,
    /// What the builder can read of how a blank bends.
    pub reads: Reads,
    /// How near length and power must come to what the customer wants.
    pub limits: Limits,
    /// How the builder keeps his log.
    pub log: Log,
}

/// What a builder can read of how a blank bends; a tape, a caliper, a scale and a level are in every shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reads {
    /// Power alone.
    Power,
    /// Power, and the angle of the tip with it.
    TipAngle,
    /// Power, and whatever he is asked for: tip angle, frequency, points on the board.
    Asked,
}

/// How far length and power may be from what is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Either way.
    pub length: Length,
    /// Either way, as a part.
    pub power: f64,
}

impl Limits {
    /// 15 mm and 6 %.
    pub const WIDE: Self = Self { length: Length::from_mm(15.0), power: 0.06 };
    /// 8 mm and 3 %.
    pub const NARROW: Self = Self { length: Length::from_mm(8.0), power: 0.03 };
}

/// How a builder keeps his log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Log {
    /// As it was done.
    Careful,
    /// One cut in four is written down twice, and after one cut in three no length is read unless he is asked for it.
    Hasty,
}

/// Whom the builder asks.
pub trait Adviser {
    /// Takes a file that is new or was changed, by its path in the shop folder.
    fn write(&mut self, path: &str, text: &str);
    /// Says what to do next with the build of this record.
    fn ask(&mut self, record: &str) -> Advice;
}

/// What a builder is told.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Advice {
    /// What to cut now, at the tip and at the butt, in mm.
    pub next_cut: Option<[f64; 2]>,
    /// All that is still to come off, in mm.
    pub remaining: [f64; 2],
    /// Why there is nothing more to cut.
    pub why_stop: Option<String>,
    /// What to measure.
    pub measure_next: Option<String>,
    /// The power that is expected after what is to be cut now, with its range, in kg.
    pub power: Option<[f64; 3]>,
    /// The length, in m.
    pub length: Option<[f64; 3]>,
}

/// How a job went.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Job {
    /// How often something was cut, at one end or both.
    pub n_cuts: usize,
    /// How often the saw was set: a cut of both ends counts twice.
    pub n_sawn: usize,
    /// How often something was read but the length: each power, angle, weight, diameter, and the board as one.
    pub n_readings: usize,
    /// It came to a stop with a reason.
    pub ended: bool,
    /// By its true numbers it ended inside all limits.
    pub inside: bool,
    /// By its true numbers no further cut brings it inside.
    pub over_cut: bool,
    /// True power less what was wanted, as a part.
    pub power_miss: f64,
    /// True length less what was wanted.
    pub length_miss: Length,
    /// What was foretold each time once a power was read, against the truth.
    pub foretold: Vec<Foretold>,
    /// ln of true over foretold power before any power was read, and how far the piece lies from the middle of its model, likewise.
    pub before_power: Option<[f64; 2]>,
    /// The record as it was at the end.
    pub record: String,
    /// What was last said.
    pub last: Advice,
}

/// A foretold number beside the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foretold {
    /// Whether the power's range holds it.
    pub power_in_range: bool,
    /// ln of true over foretold power.
    pub power_off: f64,
    /// The width of half the power's range, in ln.
    pub power_range: f64,
    /// Whether the length's range holds it.
    pub length_in_range: bool,
}

/// Does one job; the same seed does the same job, as long as the adviser says the same.
///
/// # Panics
/// When a piece can't be bent at all, which none of this shop is.
pub fn job(setting: Setting, seed: u64, adviser: &mut dyn Adviser) -> Job {
    /// Beyond that he gives up.
    const MOST_TURNS: usize = 60;
    let stage = Stage::new(setting, seed);
    let mut builder = Builder::start(stage, adviser);
    let mut job = Job::default();
    for _ in 0..MOST_TURNS {
        let advice = builder.ask(adviser);
        builder.compare(&advice, &mut job);
        job.last = advice.clone();
        if let Some(what) = &advice.measure_next
            && advice.why_stop.is_none()
            && builder.answer(what, adviser)
        {
            continue;
        }
        match advice.next_cut {
            Some([tip, butt]) => builder.cut(Length::from_mm(tip), Length::from_mm(butt), adviser),
            None => {
                job.ended = advice.why_stop.is_some();
                break;
            }
        }
    }
    builder.finish(&mut job);
    job
}

/// How a piece stands to what is wanted.
pub(crate) fn judge(job: &mut Job, piece: &Piece, wanted: &stage::Wanted) {
    let (length, power) = (piece.length(), judge::power(piece));
    job.inside = wanted.holds(length, power);
    job.over_cut = !job.inside && !judge::can_be_mended(piece, wanted);
    job.power_miss = power / wanted.power - 1.0;
    job.length_miss = length - wanted.length;
}
