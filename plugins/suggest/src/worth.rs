//! Which reading would help most now.

use taperbook_bench::{Piece, Taken, limits, to_mechanics};
use taperbook_mechanics::fit::{Instrument, Measured, Worth};
use taperbook_record::Measure;
use taperbook_units::{Length, Mass, Units};

use crate::brief::{Brief, is_bent, is_length};
use crate::words;

/// A reading that would help.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Help {
    /// Which, and how: `power, held at 9 in`.
    pub(crate) reading: String,
    /// By what part it would narrow what decides the cut: 0 not at all, 1 wholly.
    pub(crate) narrows: f64,
    /// What it would bring, in words.
    pub(crate) gain: String,
    /// Whether it can be asked for before the saw: a tape, a caliper, a scale, a level and weights are in every shop, and what else
    /// this builder has is shown by what he has read.
    pub(crate) at_hand: bool,
}

impl Help {
    /// The whole of it: `power, held at 9 in: its range would narrow from … to …`.
    pub(crate) fn words(&self) -> String {
        format!("{}: {}", self.reading, self.gain)
    }
}

/// A reading that narrows less than this is not told of.
const LEAST_TOLD: f64 = 0.01;
/// A reading that narrows less than this is not worth its time.
const LEAST_GAIN: f64 = 0.15;
/// The same of a clamp that past builds were read in: it is measured once for all builds.
const LEAST_OF_THE_CLAMP: f64 = 0.05;
/// How often a power is read in one state before another reading is asked for.
pub(crate) const MOST_POWERS: usize = 6;

/// Finds the reading of the piece as it now is that would narrow what the brief asks for most; none when none helps.
pub(crate) fn help(piece: &Piece, brief: &Brief, held_at: Length, units: Units) -> Option<Help> {
    let measures = brief.measures();
    if !measures.iter().copied().any(is_bent) {
        return unbent(piece, &measures);
    }
    let only_recovery =
        measures.iter().filter(|measure| is_bent(**measure)).all(|m| *m == Measure::Recovery);
    narrowing(piece, if only_recovery { Measure::Recovery } else { Measure::Power }, held_at, units)
}

/// Finds the reading of the piece as it now is that would narrow power most; none when none helps.
pub(crate) fn for_power(piece: &Piece, held_at: Length, units: Units) -> Option<Help> {
    narrowing(piece, Measure::Power, held_at, units)
}

/// All readings of the piece as it now is that would narrow a number at all, the best first, and how each is asked for.
pub(crate) fn all_for(
    piece: &Piece,
    measure: Measure,
    held_at: Length,
    units: Units,
) -> Vec<(String, Worth)> {
    let off = piece.walk.present().off;
    let worths = worths(piece, measure, held_at).unwrap_or_default();
    let power = piece
        .outcome(off, held_at)
        .ok()
        .and_then(|now| now.value(to_mechanics(Measure::Power)).ok());
    let told = worths.into_iter().filter(|worth| LEAST_TOLD <= worth.narrows);
    told.map(|worth| (reading(worth.instrument, held_at, power, units), worth)).collect()
}

/// What each reading that was not taken yet would do for a number, the best first.
fn worths(piece: &Piece, measure: Measure, held_at: Length) -> Option<Vec<Worth>> {
    let fitted = piece.fitted.as_ref().ok()?;
    let off = piece.walk.present().off;
    let not_yet: Vec<Instrument> =
        Instrument::ALL.into_iter().filter(|it| !enough(piece, *it)).collect();
    let (cuts, measure) = ((off.tip, off.butt), to_mechanics(measure));
    fitted.posterior.worth_measuring(measure, cuts, held_at, piece.setup, &not_yet).ok()
}

fn narrowing(piece: &Piece, measure: Measure, held_at: Length, units: Units) -> Option<Help> {
    let off = piece.walk.present().off;
    let worths = worths(piece, measure, held_at)?;
    // The best comes first.
    let mut helping = worths.iter().filter(|worth| LEAST_GAIN <= worth.narrows);
    let best = (helping.clone().find(|worth| at_hand(piece, worth.instrument)))
        .or_else(|| helping.next())?;
    let now = piece.outcome(off, held_at).ok()?;
    let left = best.left;
    let print = |si| words::value(units, measure, si);
    let gain = format!(
        "the range of {} would narrow from {} … {} to {} … {}",
        measure.words(),
        print(now.estimate(to_mechanics(measure)).ok()?.low),
        print(now.estimate(to_mechanics(measure)).ok()?.high),
        print(left.low),
        print(left.high)
    );
    let power = now.value(to_mechanics(Measure::Power)).ok();
    let reading = match is_clamp(best.instrument) {
        true => clamp(&worths, held_at, units),
        false => reading(best.instrument, held_at, power, units),
    };
    Some(Help { reading, narrows: best.narrows, gain, at_hand: at_hand(piece, best.instrument) })
}

/// What is not measured yet of the clamp of past builds, where that makes what they tell of this piece much less sure.
pub(crate) fn of_the_clamp(piece: &Piece, held_at: Length, units: Units) -> Option<String> {
    let worths = worths(piece, Measure::Power, held_at)?;
    let helps = |worth: &Worth| is_clamp(worth.instrument) && LEAST_OF_THE_CLAMP <= worth.narrows;
    let has_past = piece.fitted.as_ref().is_ok_and(|fitted| 0 < fitted.n_past);
    (has_past && worths.iter().any(helps)).then(|| clamp(&worths, held_at, units))
}

/// Whoever goes to the clamp measures all of it that helps.
fn clamp(worths: &[Worth], held_at: Length, units: Units) -> String {
    let helping =
        worths.iter().filter(|worth| is_clamp(worth.instrument) && LEAST_TOLD <= worth.narrows);
    let readings: Vec<String> =
        helping.map(|worth| reading(worth.instrument, held_at, None, units)).collect();
    readings.join(", and the ")
}

fn is_clamp(instrument: Instrument) -> bool {
    matches!(instrument, Instrument::Level | Instrument::Give)
}

/// By what part another power reading would narrow the range of power, where it was not read often enough yet.
pub(crate) fn of_another_power(piece: &Piece, held_at: Length) -> Option<f64> {
    if enough(piece, Instrument::Power) {
        return None;
    }
    let posterior = &piece.fitted.as_ref().ok()?.posterior;
    let (off, power) = (piece.walk.present().off, [Instrument::Power]);
    let cuts = (off.tip, off.butt);
    let measure = to_mechanics(Measure::Power);
    let worths = posterior.worth_measuring(measure, cuts, held_at, piece.setup, &power).ok()?;
    Some(worths.first()?.narrows)
}

/// Whether every shop can take a reading, or this builder has taken it of this piece.
fn at_hand(piece: &Piece, instrument: Instrument) -> bool {
    let taken = |measure| piece.taken.iter().any(|taken| taken.measure == Some(measure));
    match instrument {
        Instrument::TipAngle => taken(Measure::TipAngle),
        Instrument::Frequency => taken(Measure::Recovery),
        Instrument::Board => piece.taken.iter().any(is_point),
        _ => true,
    }
}

/// A pull by hand is no reading of the board.
fn is_point(taken: &Taken) -> bool {
    matches!(taken.reading.measured, Measured::BoardPoint { .. })
}

/// How a power is asked for.
pub(crate) fn power(held_at: Length, units: Units) -> String {
    reading(Instrument::Power, held_at, None, units)
}

/// How a reading is asked for; board points need the power, to say which weights.
pub(crate) fn reading(
    instrument: Instrument,
    held_at: Length,
    power: Option<f64>,
    units: Units,
) -> String {
    let held = format!("held at {}", units.cut(held_at));
    match instrument {
        Instrument::Power => format!("power, {held}"),
        Instrument::TipAngle => format!("tip angle under the weight of its power, {held}"),
        Instrument::Weight => "weight of the bare blank".to_owned(),
        Instrument::Frequency => {
            format!("frequency of the bare blank, {held}: tap it and count the nods")
        }
        Instrument::Balance => "balance point, from the present butt".to_owned(),
        Instrument::TipOd => "tip diameter".to_owned(),
        Instrument::ButtOd => "butt diameter".to_owned(),
        Instrument::Length => "length by tape, where only the maker's word is known".to_owned(),
        Instrument::Level => {
            "tilt of the board's clamp, with a level, turned end for end: write the mean as the board's `tilt` in shop.yaml"
                .to_owned()
        }
        Instrument::Give => {
            "give of the board's clamp: hang a weight a metre out on a stiff bar, read on a level how far the jaws turn, and write \
             it as the clamp's `gives` in shop.yaml"
                .to_owned()
        }
        Instrument::Board => match power {
            Some(power) => {
                let [half, once, more] =
                    [0.5, 1.0, 1.5].map(|times| units.mass(Mass::from_kg(times * power)));
                format!(
                    "board points, {held}: five places along the bent blank under {half}, {once} and {more} each"
                )
            }
            None => format!("board points, {held}"),
        },
    }
}

/// Whether a reading was taken often enough of the piece as it now is.
pub(crate) fn enough(piece: &Piece, instrument: Instrument) -> bool {
    let present = piece.walk.states.len() - 1;
    let now = |item: usize| piece.walk.state_of_item.get(item) == Some(&present);
    let n_taken = |measure: Option<Measure>| {
        piece.taken.iter().filter(|taken| taken.measure == measure && now(taken.item)).count()
    };
    let (measure, most) = match instrument {
        Instrument::Power => (Some(Measure::Power), MOST_POWERS),
        Instrument::TipAngle => (Some(Measure::TipAngle), 1),
        Instrument::Weight => (Some(Measure::Weight), 1),
        Instrument::Frequency => (Some(Measure::Recovery), 1),
        Instrument::Balance => (Some(Measure::Balance), 1),
        Instrument::TipOd => (Some(Measure::TipOd), 1),
        Instrument::ButtOd => (Some(Measure::ButtOd), 1),
        Instrument::Board => {
            return piece.taken.iter().any(|taken| now(taken.item) && is_point(taken));
        }
        Instrument::Length => return piece.walk.states.iter().any(|state| state.length_was_read),
        Instrument::Level => return piece.is_levelled,
        Instrument::Give => return piece.is_give_known,
    };
    most <= n_taken(measure)
}

/// Where nothing is bent, what is asked for is read by itself.
fn unbent(piece: &Piece, measures: &[Measure]) -> Option<Help> {
    let of = |measure: Measure| match measure {
        Measure::Weight => Some(Instrument::Weight),
        Measure::Balance => Some(Instrument::Balance),
        Measure::TipOd => Some(Instrument::TipOd),
        Measure::ButtOd => Some(Instrument::ButtOd),
        _ => None,
    };
    let outcome =
        piece.outcome(piece.walk.present().off, piece.held_at.unwrap_or_default()).ok()?;
    let unsure = |measure: Measure| {
        let value = outcome.value(to_mechanics(measure)).ok()?;
        Some(limits::deviation(&outcome, measure) / value.abs())
    };
    let wanted = measures.iter().copied().filter(|measure| !is_length(*measure));
    let (measure, instrument) = wanted
        .filter_map(|measure| Some((measure, of(measure)?)))
        .filter(|(_, instrument)| !enough(piece, *instrument))
        .max_by(|a, b| unsure(a.0).unwrap_or(0.0).total_cmp(&unsure(b.0).unwrap_or(0.0)))?;
    let gain = format!("a {} that is read tells more than one that is worked out", measure.words());
    Some(Help {
        reading: reading(instrument, Length::default(), None, Units::default()),
        narrows: 0.5,
        gain,
        at_hand: true,
    })
}
