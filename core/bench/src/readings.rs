//! The readings of a bench as the fitter takes them.

use taperbook_mechanics::fit::{Card, Errors, Measured, Reading, Setup};
use taperbook_record::{Action, Blank, Build, Measure, Shop, Span};
use taperbook_units::{Length, Mass};

use crate::Walk;
use crate::card::errors_of;
use crate::setup::setup_of;

/// One reading, with the place in the record that it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// The item of the bench.
    pub item: usize,
    /// The number of the state that it is about; `None` for board points and pulls.
    pub measure: Option<Measure>,
    /// Where the value stands in the file.
    pub span: Span,
    /// The reading.
    pub reading: Reading,
}

impl Taken {
    /// Whether it was taken in a clamp.
    pub(crate) fn is_on_a_board(&self) -> bool {
        !matches!(
            self.reading.measured,
            Measured::Weight(_) | Measured::Balance(_) | Measured::TipOd(_) | Measured::ButtOd(_)
        )
    }
}

/// Gives the readings for a fit that starts from a card.
///
/// A diameter of an end that went into the card as a caliper of the same piece has been told already and counts once.
pub(crate) fn told_once(card: &Card, taken: &[Taken]) -> Vec<Reading> {
    let is_told = |at: Length, od: Length| {
        card.calipers.iter().any(|caliper| {
            caliper.own && caliper.od == od && (caliper.at - at).abs() < Length::from_mm(1.0)
        })
    };
    let told = |reading: &Reading| match reading.measured {
        Measured::TipOd(od) => is_told(card.length - reading.tip_cut, od),
        Measured::ButtOd(od) => is_told(reading.butt_cut, od),
        _ => false,
    };
    let readings = taken.iter().map(|taken| taken.reading);
    readings.map(|reading| if told(&reading) { reading.idle() } else { reading }).collect()
}

/// Gives the places of the points of each bend on the board of which several were read.
pub(crate) fn bends(taken: &[Taken]) -> Vec<Vec<usize>> {
    let is_point =
        |idx: &usize| matches!(taken[*idx].reading.measured, Measured::BoardPoint { .. });
    let points: Vec<usize> = (0..taken.len()).filter(is_point).collect();
    // Points of one bend stand in one place of the file.
    let mut bends: Vec<Vec<usize>> =
        points.chunk_by(|a, b| taken[*a].span == taken[*b].span).map(<[usize]>::to_vec).collect();
    bends.retain(|bend| 1 < bend.len());
    bends
}

/// How far a piece's weight may be from what its card states, as a part of it: pieces of a model differ, and a maker
/// rounds (common practice, no source).
const STATED_WEIGHT: f64 = 0.03;

/// Gives the weight that a card states as a weak reading of an uncut piece; nothing where the card states the density,
/// which is taken as stated.
pub(crate) fn stated_weight(card: Option<&Blank>) -> Option<Reading> {
    let card = card.filter(|card| card.density.is_none())?;
    let weight = card.weight.as_ref()?.value;
    Some(Reading {
        tip_cut: Length::default(),
        butt_cut: Length::default(),
        held_at: Length::default(),
        setup: Setup::default(),
        measured: Measured::Weight(weight),
        sd: Some(STATED_WEIGHT * weight.kg()),
    })
}

/// The weights that a card may state of a piece that was weighed uncut for this reading to be about that weight: the card, which has
/// one weight for all pieces, then says nothing more of this one. `None` of any other reading.
///
/// Where the two contradict each other both are kept, so that a slip of the scale or of the card shows.
/// They go together where |r − w| < B √(S² w² + e²), r being read, w stated, and e the scale's error: where w is between the roots of
/// (1 − B² S²) w² − 2 r w + r² − B² e².
pub(crate) fn bears_out(reading: &Reading, errors: &Errors) -> Option<(Mass, Mass)> {
    const PART: f64 = BORNE_OUT * STATED_WEIGHT;
    let uncut = reading.tip_cut == Length::default() && reading.butt_cut == Length::default();
    let Measured::Weight(read) = reading.measured else { return None };
    let scale = BORNE_OUT * errors.scale.kg();
    let square = 1.0 - PART * PART;
    let apart = (PART * read.kg()).hypot(square.sqrt() * scale);
    let bound = |apart: f64| Mass::from_kg((read.kg() + apart) / square);
    uncut.then(|| (bound(-apart), bound(apart)))
}

/// In standard deviations.
const BORNE_OUT: f64 = 3.0;

/// Gives all readings of a bench that can teach the mechanics, before and after cuts: they are of the same piece.
///
/// Readings with guides on are left out, and so is what was bent without a known place to hold it at.
pub fn fit_readings(
    build: &Build,
    walk: &Walk,
    held_at: Option<Length>,
    shop: &Shop,
) -> Vec<Taken> {
    let by_instrument = errors_of(shop).tip_angle_by_instrument.rad();
    let mut all = Vec::new();
    // After a cut of unknown size nobody knows which piece was read.
    let n_known = walk.unread_cut.unwrap_or(build.bench.len());
    for (item_idx, item) in build.bench.iter().enumerate().take(n_known) {
        let off = walk.states[walk.state_of_item[item_idx]].off;
        let setup = setup_of(shop, item.board.as_deref());
        let angle_sd = match &item.action {
            Action::Read(reading) if reading.angle_by_instrument => Some(by_instrument),
            _ => None,
        };
        let mut take = |measure, span: &Span, held_at: Option<Length>, measured| {
            all.push(Taken {
                item: item_idx,
                measure,
                span: span.clone(),
                reading: Reading {
                    tip_cut: off.tip,
                    butt_cut: off.butt,
                    held_at: held_at.unwrap_or_default(),
                    setup,
                    measured,
                    sd: angle_sd.filter(|_| measure == Some(Measure::TipAngle)),
                },
            });
        };
        match &item.action {
            Action::Read(reading) if !reading.dressed => {
                if let Some(weight) = &reading.weight {
                    take(
                        Some(Measure::Weight),
                        &weight.span,
                        held_at,
                        Measured::Weight(weight.value),
                    );
                }
                if let Some(balance) = &reading.balance {
                    take(
                        Some(Measure::Balance),
                        &balance.span,
                        held_at,
                        Measured::Balance(balance.value),
                    );
                }
                if let Some(od) = &reading.tip_od {
                    take(Some(Measure::TipOd), &od.span, held_at, Measured::TipOd(od.value));
                }
                if let Some(od) = &reading.butt_od {
                    take(Some(Measure::ButtOd), &od.span, held_at, Measured::ButtOd(od.value));
                }
                let held = reading.held_at.as_ref().map(|held| held.value).or(held_at);
                if held.is_none() {
                    continue;
                }
                if let Some(power) = &reading.power {
                    take(Some(Measure::Power), &power.span, held, Measured::Power(power.value));
                }
                if let Some(angle) = &reading.tip_angle {
                    take(
                        Some(Measure::TipAngle),
                        &angle.span,
                        held,
                        Measured::TipAngle(angle.value),
                    );
                }
                if let Some(frequency) = &reading.frequency {
                    take(
                        Some(Measure::Recovery),
                        &frequency.span,
                        held,
                        Measured::Frequency(frequency.value),
                    );
                }
                for board in &reading.board {
                    let free = walk.states[walk.state_of_item[item_idx]]
                        .length
                        .zip(held)
                        .map(|(length, held)| length - held);
                    for (x, y) in board.points.iter().filter(|(x, y)| is_on_a_blank(*x, *y, free)) {
                        let measured = Measured::BoardPoint { load: board.load, x: *x, y: *y };
                        take(None, &board.span, held, measured);
                    }
                }
            }
            Action::Pull(pull) => {
                let held = pull.held_at.as_ref().map(|held| held.value).or(held_at);
                if let (Some(angle), Some(load), Some(_)) = (&pull.tip_angle, &pull.load, held) {
                    take(
                        None,
                        &load.span,
                        held,
                        Measured::Pull { angle: angle.value, load: load.value },
                    );
                }
            }
            _ => {}
        }
    }
    all
}

/// Whether a blank that is held can reach a point of the board at all; the tape's error is allowed for.
fn is_on_a_blank(x: Length, y: Length, free: Option<Length>) -> bool {
    let far = Length::from_m(x.m().hypot(y.m()));
    Length::default() <= x && free.is_none_or(|free| far <= free + Length::from_mm(10.0))
}
