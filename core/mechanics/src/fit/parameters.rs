//! The parameters of a fit, and the tube and clamp that they make.
//!
//! All are relative to the shape that the card measured, so that pieces of one model can be compared.

use std::ops::Range;

use crate::bend::{Beam, Element, Gradient};
use crate::correction::{Correction, KNOTS, KnotShares, knot_shares};
use crate::section::Ring;
use crate::tube::{SiStation, Tube};

/// By how much the piece is longer than was measured or stated, in m.
///
/// It is never moved by a fit, only allowed for: what readings of bend and weight hint about a length is no reason to tell
/// a builder another length than the one he wrote down. It comes first, so that in the fit's triangle no other hangs on it.
pub(crate) const LENGTH: usize = 0;
/// ln of the modulus, relative to the card's or the fibre's.
pub(crate) const MODULUS: usize = 1;
/// What ln of the modulus gains from butt to tip.
pub(crate) const TREND: usize = 2;
/// ln of the wall at the butt and at the tip, relative to the card's or the usual one; linear along the blank in between.
pub(crate) const WALL_BUTT: usize = 3;
pub(crate) const WALL_TIP: usize = 4;
/// ln of the density, relative to the card's or the fibre's.
pub(crate) const DENSITY: usize = 5;
/// How much larger the blank is outside at its butt and at its tip than was measured, in m; linear in between.
pub(crate) const OD_BUTT: usize = 6;
pub(crate) const OD_TIP: usize = 7;
/// How much the diameter bellies out between the first two calipers and between the last two, as its curvature in 1/m.
/// Only diameters that are read or told feel it; what it does to the stiffness is left to the knots.
pub(crate) const BELLY_BUTT: usize = 8;
pub(crate) const BELLY_TIP: usize = 9;
/// What is left of ln EI, at knots evenly spaced from butt to tip.
pub(crate) const FIRST_KNOT: usize = 10;
/// ln of modulus and density of a spliced solid tip, relative to the blank's.
pub(crate) const TIP_MODULUS: usize = 17;
pub(crate) const TIP_DENSITY: usize = 18;
/// What is left of ln of the mass per length, at the same knots: wraps end in steps that no caliper tells.
pub(crate) const FIRST_MASS_KNOT: usize = 19;
/// How many parameters a blank has; those of boards and clamps come after them.
pub(crate) const BLANK: usize = 26;
/// In the derivatives of one number: the angle above horizontal of the clamp that it was read in, in rad.
pub(crate) const TILT: usize = 26;
/// And that clamp's give, in rad per N m.
pub(crate) const GIVE: usize = 27;

/// A number's derivatives: by the parameters of the blank, and by those of the one clamp that it is read in.
pub(crate) type Slopes = [f64; 28];
pub(crate) const FLAT: Slopes = [0.0; 28];

const _: () = assert!(FIRST_KNOT + KNOTS == TIP_MODULUS);
const _: () = assert!(FIRST_MASS_KNOT == TIP_DENSITY + 1 && FIRST_MASS_KNOT + KNOTS == BLANK);

/// The knots' places among the parameters.
pub(crate) const fn knots() -> Range<usize> {
    FIRST_KNOT..FIRST_KNOT + KNOTS
}

/// Those of the mass.
pub(crate) const fn mass_knots() -> Range<usize> {
    FIRST_MASS_KNOT..FIRST_MASS_KNOT + KNOTS
}

/// No logarithm is taken further than this, so that a wild step of a fit can't overflow.
const FURTHEST: f64 = 5.0;
/// No measured diameter is taken to be smaller than this part of what was read.
const LEAST_OD: f64 = 0.2;

/// The blank that the card describes: where all parameters are zero.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Blank {
    pub(crate) tube: Tube,
    /// Where a spliced solid tip begins, in m.
    pub(crate) splice: Option<f64>,
    /// Where the diameter bellies out: from and to the first two calipers, and the last two, in m.
    pub(crate) bellies: [[f64; 2]; 2],
    /// For each station how much of `OD_BUTT` and `OD_TIP` is felt there: where calipers were put to this very piece among others that
    /// are its card's, none, for what they say is so however the piece differs from its card.
    pub(crate) of_another: Vec<f64>,
}

/// How a station's section changes with the four parameters of walls and diameters.
#[derive(Debug, Clone, Copy, Default)]
struct StationSlopes {
    /// Of the outside diameter by `OD_BUTT` and `OD_TIP`.
    od: [f64; 2],
    /// Of the wall by `WALL_BUTT`, `WALL_TIP`, `OD_BUTT` and `OD_TIP`.
    wall: [f64; 4],
}

/// A belly of the diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Belly {
    between: [f64; 2],
    curvature: f64,
}

/// A blank with its parameters set.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) tube: Tube,
    bellies: [Belly; 2],
    slopes: Vec<StationSlopes>,
    splice: Option<f64>,
}

impl Blank {
    pub(crate) fn length(&self) -> f64 {
        self.tube.end()
    }

    /// The piece that the parameters make of this blank; those after the blank's own don't matter to it.
    pub(crate) fn piece(&self, parameters: &[f64]) -> Piece {
        let length = self.length();
        let grown = |parameter: usize| parameters[parameter].clamp(-FURTHEST, FURTHEST).exp();
        let tip = [grown(TIP_MODULUS), grown(TIP_DENSITY)];
        let mut slopes = Vec::with_capacity(self.tube.stations.len());
        let stations = (self.tube.stations.iter().zip(&self.of_another))
            .map(|(station, of_another)| {
                let (ring, slope) = changed(station, *of_another, length, parameters);
                slopes.push(slope);
                let spliced = self.splice.is_some_and(|splice| splice <= station.at);
                let mut relative = station.relative;
                if spliced {
                    relative.modulus *= tip[0];
                    relative.density *= tip[1];
                }
                SiStation { ring, relative, ..*station }
            })
            .collect();
        let at_knots = |which: Range<usize>| {
            let mut knots = [0.0; KNOTS];
            for (knot, parameter) in knots.iter_mut().zip(&parameters[which]) {
                *knot = parameter.clamp(-FURTHEST, FURTHEST);
            }
            knots
        };
        let (knots, mass) = (at_knots(self::knots()), at_knots(mass_knots()));
        let trend = parameters[TREND].clamp(-FURTHEST, FURTHEST);
        let tube = Tube {
            stations,
            modulus: self.tube.modulus * grown(MODULUS),
            density: self.tube.density * grown(DENSITY),
            correction: Correction { origin: 0.0, span: length, trend, knots, mass },
        };
        let belly = |between, parameter: usize| Belly { between, curvature: parameters[parameter] };
        let bellies = [belly(self.bellies[0], BELLY_BUTT), belly(self.bellies[1], BELLY_TIP)];
        Piece { tube, bellies, slopes, splice: self.splice }
    }

    /// Where the two stations around a place are, and what part of the diameter there each tells from a caliper put to this very piece,
    /// where others are its card's.
    pub(crate) fn own_parts(&self, at: f64) -> [(f64, f64); 2] {
        let stations = &self.tube.stations;
        let next = stations.partition_point(|station| station.at < at).clamp(1, stations.len() - 1);
        let (a, b) = (stations[next - 1].at, stations[next].at);
        let part = ((at - a) / (b - a)).clamp(0.0, 1.0);
        let own = |station: usize| 1.0 - self.of_another[station];
        [(a, own(next - 1) * (1.0 - part)), (b, own(next) * part)]
    }

    /// The belly that a place lies in: its parameter, or none between calipers that are neither the first nor the last two.
    pub(crate) fn belly(&self, at: f64) -> Option<usize> {
        // With two calipers there is one belly; the tip's comes first because the tip is what is cut.
        if self.bellies[1][0] <= at || self.bellies[0] == self.bellies[1] {
            Some(BELLY_TIP)
        } else if at <= self.bellies[0][1] {
            Some(BELLY_BUTT)
        } else {
            None
        }
    }
}

impl Belly {
    /// What it adds to the diameter at a place, per curvature.
    fn shape(self, at: f64) -> f64 {
        0.5 * (at - self.between[0]) * (self.between[1] - at)
    }
}

/// The section of a station under the parameters, and how it changes with them.
fn changed(
    station: &SiStation,
    of_another: f64,
    length: f64,
    parameters: &[f64],
) -> (Ring, StationSlopes) {
    let tipward = station.at / length;
    let shares = [1.0 - tipward, tipward];
    let od_shares = shares.map(|share| of_another * share);
    let mut slopes = StationSlopes::default();
    let larger = od_shares[0] * parameters[OD_BUTT] + od_shares[1] * parameters[OD_TIP];
    let least = LEAST_OD * station.ring.od;
    let od = if least < station.ring.od + larger {
        slopes.od = od_shares;
        station.ring.od + larger
    } else {
        least
    };
    let log = shares[0] * parameters[WALL_BUTT] + shares[1] * parameters[WALL_TIP];
    let mut wall = station.ring.wall * log.clamp(-FURTHEST, FURTHEST).exp();
    // What is solid stays so.
    let solid = 0.4999 * station.ring.od < station.ring.wall;
    if wall <= 0.5 * od && !solid {
        slopes.wall = [wall * shares[0], wall * shares[1], 0.0, 0.0];
    } else {
        wall = 0.5 * od;
        slopes.wall = [0.0, 0.0, 0.5 * slopes.od[0], 0.5 * slopes.od[1]];
    }
    (Ring { od, wall }, slopes)
}

impl Piece {
    /// Turns the derivatives of a number by all that makes it into those by the parameters.
    ///
    /// `is_unsure` tells whether it was taken in a clamp whose tilt and give are not sure.
    pub(crate) fn by_parameters(
        &self,
        beam: &Beam,
        gradient: &Gradient,
        is_unsure: bool,
    ) -> Slopes {
        let mut out = FLAT;
        let elements = beam.elements.iter().zip(&gradient.log_stiffness).zip(&gradient.area);
        let mut elements = elements.peekable();
        while let Some(segment) = elements.peek().map(|((element, _), _)| element.segment) {
            let (a, b) = (self.tube.stations[segment], self.tube.stations[segment + 1]);
            let per_length = 1.0 / (b.at - a.at);
            // By the sections at both ends, and by ln of modulus and density, of all of this segment.
            let (mut by_od, mut by_wall) = ([0.0; 2], [0.0; 2]);
            let (mut by_modulus, mut by_density) = (0.0, 0.0);
            let here = |next: &((&Element, _), _)| next.0.0.segment == segment;
            while let Some(((element, by_stiffness), by_area)) = elements.next_if(here) {
                for g in 0..3 {
                    let at = element.place(g);
                    let part = (at - a.at) * per_length;
                    let logs = a.ring.toward(b.ring, part).logs_by();
                    let (by_stiffness, by_mass) = (by_stiffness[g], by_area[g] * element.area[g]);
                    let od = by_stiffness * logs.second_moment.od + by_mass * logs.area.od;
                    let wall = by_stiffness * logs.second_moment.wall + by_mass * logs.area.wall;
                    by_od[0] += od * (1.0 - part);
                    by_od[1] += od * part;
                    by_wall[0] += wall * (1.0 - part);
                    by_wall[1] += wall * part;
                    by_modulus += by_stiffness;
                    by_density += by_mass;
                    let place = self.tube.correction.place(at);
                    out[TREND] += by_stiffness * (place - 0.5);
                    let KnotShares { first, shares } = knot_shares(place);
                    for (knot, share) in shares.into_iter().enumerate() {
                        out[FIRST_KNOT + first + knot] += by_stiffness * share;
                        out[FIRST_MASS_KNOT + first + knot] += by_mass * share;
                    }
                }
            }
            out[MODULUS] += by_modulus;
            if self.splice.is_some_and(|splice| splice <= a.at) {
                out[TIP_MODULUS] += by_modulus;
                out[TIP_DENSITY] += by_density;
            }
            for (end, station) in [segment, segment + 1].into_iter().enumerate() {
                let StationSlopes { od, wall } = self.slopes[station];
                for (parameter, slope) in [OD_BUTT, OD_TIP].into_iter().zip(od) {
                    out[parameter] += by_od[end] * slope;
                }
                for (parameter, slope) in
                    [WALL_BUTT, WALL_TIP, OD_BUTT, OD_TIP].into_iter().zip(wall)
                {
                    out[parameter] += by_wall[end] * slope;
                }
            }
        }
        out[DENSITY] = gradient.log_density;
        if is_unsure {
            out[TILT] = gradient.raised;
            out[GIVE] = gradient.give;
        }
        out
    }

    /// The outside diameter at a place of the uncut blank, and its derivatives.
    pub(crate) fn od(&self, blank: &Blank, at: f64) -> (f64, Slopes) {
        let segment = (self.tube.stations.windows(2)).position(|pair| at <= pair[1].at);
        let segment = segment.unwrap_or(self.tube.stations.len() - 2);
        let (a, b) = (self.tube.stations[segment], self.tube.stations[segment + 1]);
        let part = (at - a.at) / (b.at - a.at);
        let mut by = FLAT;
        for (end, parameter) in [OD_BUTT, OD_TIP].into_iter().enumerate() {
            let (slope_a, slope_b) =
                (self.slopes[segment].od[end], self.slopes[segment + 1].od[end]);
            by[parameter] = slope_a + part * (slope_b - slope_a);
        }
        let line = a.ring.toward(b.ring, part).od;
        let Some(parameter) = blank.belly(at) else { return (line, by) };
        let belly = self.bellies[parameter - BELLY_BUTT];
        let bellied = line + belly.curvature * belly.shape(at);
        // No belly takes away more than a part of what was measured.
        if bellied < LEAST_OD * line {
            return (LEAST_OD * line, FLAT);
        }
        by[parameter] = belly.shape(at);
        (bellied, by)
    }
}
