//! What is believed of a piece before any reading: from its card, or from past pieces of its model.

use taperbook_units::{Density, Length, Pressure};
use thiserror::Error;

use super::card::{Card, Fibre};
use super::errors::Errors;
use super::give::GiveScale;
use super::matrix::Matrix;
use super::parameters::{
    self, BELLY_BUTT, BELLY_TIP, BLANK, Blank, DENSITY, LENGTH, MODULUS, OD_BUTT, OD_TIP, Slopes,
    TIP_DENSITY, TIP_MODULUS, TREND, WALL_BUTT, WALL_TIP,
};
use super::pool::Spread;
use super::profile::Profile;
use super::setup::{Setup, Setups};
use crate::bend::Root;
use crate::correction::KNOTS;
use crate::tube::{Material, Relative, Tube, TubeError};

/// What is believed of a piece before its readings: a Gaussian over the parameters of the blank, the boards and the clamps.
///
/// Boards and clamps that it knows nothing of are added when readings name them, as usual ones.
#[derive(Debug, Clone)]
pub struct Prior {
    pub(crate) blank: Blank,
    pub(crate) setups: Setups,
    pub(crate) mean: Vec<f64>,
    pub(crate) covariance: Matrix,
    pub(crate) errors: Errors,
    /// Where along the blank calipers were, in m.
    pub(crate) measured_at: Vec<f64>,
}

/// Why a card makes no prior, or readings no fit.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FitError {
    /// No usable length.
    #[error("a blank of {} mm: measure its length", .0.mm())]
    NoLength(Length),
    /// Fewer than two diameters.
    #[error("{0} of the two diameters needed: measure the diameter at two places or more")]
    TooFewDiameters(usize),
    /// Two diameters at one place.
    #[error("two diameters at {:.1} mm from the butt: keep one of them", .0.mm())]
    SamePlace(Length),
    /// A diameter measured outside of the blank.
    #[error("a diameter at {:.1} mm on a blank of {:.1} mm: measure places from the butt, or the length again", .at.mm(), .length.mm())]
    OffTheBlank {
        /// Where it says it is.
        at: Length,
        /// The length of the blank.
        length: Length,
    },
    /// Readings that nothing comes of.
    #[error("the readings and the card are too far from each other: check their units")]
    NoFit,
    /// A section, modulus or density that is none.
    #[error(transparent)]
    Tube(#[from] TubeError),
}

/// What is usual of a fibre when the card doesn't say.
///
/// Moduli and densities: unidirectional carbon–epoxy 135 GPa and 1600 kg/m³, E-glass–epoxy 40 GPa and 1900 kg/m³
/// (a supplier's data sheet for fibre composites; Daniel & Ishai, *Engineering Mechanics of Composite Materials*, from memory, gives
/// 147 and 1600, 41 and 1970); a blank has resin-rich joints and fibres across, so that less of it is left along the blank.
/// The spreads, and the walls, are common practice, no source.
struct Usual {
    modulus_gpa: f64,
    log_modulus_sd: f64,
    density: f64,
    log_density_sd: f64,
}

impl Fibre {
    fn usual(self) -> Usual {
        let (modulus_gpa, log_modulus_sd, density, log_density_sd) = match self {
            Self::Carbon => (90.0, 0.28, 1550.0, 0.06),
            Self::Glass => (33.0, 0.2, 1850.0, 0.06),
            Self::Blend => (60.0, 0.3, 1650.0, 0.08),
            Self::Unknown => (75.0, 0.5, 1600.0, 0.1),
        };
        Usual { modulus_gpa, log_modulus_sd, density, log_density_sd }
    }
}

/// Standard deviation of ln of a wall that nobody measured, at either end.
const LOG_WALL_SD: f64 = 0.3;
/// How much the walls at both ends go together.
const WALLS_TOGETHER: f64 = 0.5;
/// Standard deviation of what ln of the modulus gains from butt to tip.
const TREND_SD: f64 = 0.1;
/// ln of the modulus of a solid tip relative to the blank's, and its standard deviation, then the same of the density:
/// solid tips are of glass or of carbon, in any blank. Common practice, no source, with the data sheets' values as above.
fn solid_tip(fibre: Fibre) -> [(f64, f64); 2] {
    match fibre {
        Fibre::Glass => [(0.2, 0.3), (0.05, 0.06)],
        Fibre::Carbon => [(-0.45, 0.45), (0.15, 0.12)],
        Fibre::Blend | Fibre::Unknown => [(-0.2, 0.45), (0.1, 0.12)],
    }
}
/// Where two pieces go into each other there are two walls, the inner one a little smaller (common practice, no source).
const JOINT: Relative = Relative { modulus: 1.9, density: 1.9 };
/// Where near the tip a spliced solid tip is felt: the last knots.
const SOLID_KNOTS: usize = 2;

/// Beyond this part of the length a caliper is at the thin tip.
const TIP_PART: f64 = 0.995;

impl Prior {
    /// Makes one from a card.
    ///
    /// A modulus, density or wall that the card states is taken as stated, and where it states none, as usual for the fibre
    /// with a wide spread.
    /// The measured shape is carried on in a straight line to an end that has no caliper.
    ///
    /// # Errors
    /// When the card lacks a length or two diameters, or has numbers that make no tube; the message says what to measure.
    pub fn from_card(card: &Card, errors: &Errors) -> Result<Self, FitError> {
        let errors = errors.sensible();
        let usual = card.fibre.usual();
        let profile = Profile::new(card)?;
        let material = Material {
            modulus: card.modulus.unwrap_or(Pressure::from_gpa(usual.modulus_gpa)),
            density: card.density.unwrap_or(Density::from_kg_per_m3(usual.density)),
        };
        let mut tube = Tube::new(&profile.stations, material)?;
        for (station, jointed) in tube.stations.iter_mut().zip(&profile.jointed) {
            if *jointed {
                station.relative = JOINT;
            }
        }
        let measured_at = profile.measured_at.clone();
        let bellies = match measured_at[..] {
            [a, b] => [[a, b], [a, b]],
            [a, b, .., c, d] => [[a, b], [c, d]],
            [a, b, c] => [[a, b], [b, c]],
            _ => [[0.0; 2]; 2],
        };
        let of_another = profile.of_another.clone();
        let blank = Blank { tube, splice: profile.splice, bellies, of_another };
        let mut prior = Self {
            blank,
            setups: Setups::default(),
            mean: vec![0.0; BLANK],
            covariance: Matrix::zero(BLANK),
            errors,
            measured_at,
        };
        prior.spread(card, &usual, &profile);
        Ok(prior)
    }

    /// The same with further boards and clamps, as usual ones.
    pub(crate) fn with(&self, setups: &Setups) -> Self {
        let all = self.setups.with(setups);
        if all == self.setups {
            return self.clone();
        }
        let places = all.places_in(&self.setups);
        let mut wider = Self {
            mean: vec![0.0; all.n()],
            covariance: Matrix::zero(all.n()),
            setups: all,
            ..self.clone()
        };
        for (i, place) in places.iter().enumerate() {
            let Some(place) = *place else {
                let (mean, sd) = wider.usual_setup(i);
                wider.mean[i] = mean;
                wider.covariance[(i, i)] = sd * sd;
                continue;
            };
            wider.mean[i] = self.mean[place];
            for (j, other) in places.iter().enumerate() {
                if let Some(other) = *other {
                    wider.covariance[(i, j)] = self.covariance[(place, other)];
                }
            }
        }
        wider
    }

    /// The same of what differs from this by so much.
    pub(crate) fn differing(mut self, spread: &Spread) -> Self {
        for (i, variance) in spread.variances().iter().enumerate() {
            self.covariance[(i, i)] += variance;
        }
        self
    }

    /// Takes in a Gaussian likelihood exp(−½ pᵀ Λ p + ηᵀ p) of the parameters.
    pub(crate) fn learn(&mut self, information: &Matrix, vector: &[f64]) {
        // In z, with p = p₀ + L z, what is believed is a unit Gaussian; so a parameter without spread needs no case of its own.
        let root = self.covariance.cholesky();
        let mut normal = root.transposed().times(&information.times(&root));
        (0..normal.n()).for_each(|i| normal[(i, i)] += 1.0);
        let known = information.apply(&self.mean);
        let side: Vec<f64> = vector.iter().zip(known).map(|(told, known)| told - known).collect();
        let z_covariance = normal.inverse();
        let z = z_covariance.apply(&root.apply_transposed(&side));
        for (mean, moved) in self.mean.iter_mut().zip(root.apply(&z)) {
            *mean += moved;
        }
        self.covariance = root.times(&z_covariance).times(&root.transposed());
    }

    /// What is usual of a board's tilt, or of ln of a clamp's give: mean and standard deviation.
    fn usual_setup(&self, parameter: usize) -> (f64, f64) {
        let errors = &self.errors;
        if !self.setups.is_tilt(parameter) {
            let clamp = self.setups.clamps()[parameter - BLANK - self.setups.boards().len()];
            return match errors.gives.iter().find(|give| give.clamp == clamp) {
                Some(known) => {
                    self.gives().measured(known.give, errors.of_measured_give(known.give))
                }
                None => self.gives().usual(errors.give, errors.give_spread),
            };
        }
        let board = self.setups.boards()[parameter - BLANK];
        match errors.levels.iter().find(|level| level.board == board) {
            Some(level) => (level.tilt.rad(), errors.measured_tilt.rad()),
            None => (0.0, errors.tilt.rad()),
        }
    }

    /// The clamp of a setup under some parameters.
    pub(crate) fn root(&self, parameters: &[f64], setup: Setup) -> Root {
        let value = |parameter: Option<usize>| parameter.map_or(0.0, |i| parameters[i]);
        let (tilt, give) = (self.setups.tilt(setup.board), self.setups.give(setup.clamp));
        Root {
            raised: value(tilt).clamp(-0.5, 0.5),
            give: give.map_or(0.0, |i| self.gives().give(parameters[i])),
        }
    }

    /// How gives are put to the fit.
    pub(crate) fn gives(&self) -> GiveScale {
        GiveScale::new(self.errors.give)
    }

    /// Spreads a number's derivatives over all parameters, taken in the clamp of a setup.
    pub(crate) fn spread_out(&self, slopes: &Slopes, setup: Setup, root: Root) -> Vec<f64> {
        self.setups.spread(slopes, setup, self.gives().slope(root.give))
    }

    /// The uncut length that the ranges are for.
    pub fn length(&self) -> Length {
        self.blank.tube.length()
    }

    /// The most likely tube.
    pub fn tube(&self) -> Tube {
        self.blank.piece(&self.mean).tube
    }

    /// How far, as a standard deviation, a diameter at a place strays from what the parameters say of it.
    pub(crate) fn apart(&self, at: f64) -> f64 {
        let stray = if self.blank.belly(at).is_some() { 0.0 } else { self.stray(at) };
        let tip = TIP_PART * self.blank.length();
        let caliper = |at: f64| {
            if tip < at { self.errors.caliper_tip_od } else { self.errors.caliper_od }
        };
        let own = self.blank.own_parts(at).map(|(station, part)| part * caliper(station).m());
        stray.hypot(own[0].hypot(own[1]))
    }

    /// How far, as a standard deviation, the diameter at a place strays from the straight line between calipers.
    fn stray(&self, at: f64) -> f64 {
        let next = self.measured_at.partition_point(|&caliper| caliper < at);
        let next = next.clamp(1, self.measured_at.len() - 1);
        let (a, b) = (self.measured_at[next - 1], self.measured_at[next]);
        let curvature = match (next, self.measured_at.len()) {
            (1, 3..) => self.errors.butt_curvature,
            _ => self.errors.taper_curvature,
        };
        0.5 * curvature * ((at - a) * (at - b)).abs()
    }

    /// Sets the covariance of a card's prior, and the mean of what a solid tip differs in.
    fn spread(&mut self, card: &Card, usual: &Usual, profile: &Profile) {
        let length = self.blank.length();
        let errors = &self.errors;
        let square = |value: f64| value * value;
        let all_stated = card.modulus.is_some() && profile.walls.len() == self.measured_at.len();
        let mut variance = [0.0; BLANK];
        variance[LENGTH] = square(card.length_sd.unwrap_or(errors.stated_length).m());
        let (modulus_sd, trend_sd) = match card.modulus {
            Some(_) => (errors.stated_modulus, 0.0),
            None => (usual.log_modulus_sd, TREND_SD),
        };
        variance[MODULUS] = square(modulus_sd);
        variance[TREND] = square(trend_sd);
        variance[DENSITY] = square(match card.density {
            Some(_) => errors.stated_density,
            None => usual.log_density_sd,
        });
        let caliper = |own: bool, sd: Length| {
            square(sd.m()) + if own { 0.0 } else { square(errors.piece_od.m()) }
        };
        // With calipers of both kinds it is those of the card that the piece may differ from.
        let all_own = profile.of_another.iter().all(|part| *part == 1.0);
        let is_own = profile.ends_are_own.map(|own| own && all_own);
        variance[OD_BUTT] = caliper(is_own[0], errors.caliper_od);
        variance[OD_TIP] = caliper(is_own[1], errors.caliper_tip_od);
        variance[BELLY_TIP] = square(errors.taper_curvature);
        if 2 < self.measured_at.len() {
            variance[BELLY_BUTT] = square(errors.butt_curvature);
        }
        let residual = if all_stated { errors.stated_residual } else { errors.residual };
        for (knot_idx, parameter) in parameters::knots().enumerate() {
            let at = length * knot_idx as f64 / (KNOTS - 1) as f64;
            let near_solid = card.solid_tip && KNOTS - SOLID_KNOTS <= knot_idx;
            let residual = if near_solid { errors.solid_tip_residual } else { residual };
            // EI goes with about the fourth power of the diameter, or the third where the wall is thin.
            let od = self.blank.tube.od_at(Length::from_m(at)).m();
            let by_od = 3.5 * errors.caliper_od.m().hypot(self.stray(at)) / od;
            variance[parameter] = square(residual) + square(by_od);
        }
        let mass = match profile.walls.len() == self.measured_at.len() {
            true => errors.stated_residual,
            false => errors.mass_residual,
        };
        for (knot_idx, parameter) in parameters::mass_knots().enumerate() {
            let near_solid = card.solid_tip && KNOTS - SOLID_KNOTS <= knot_idx;
            let residual = if near_solid { errors.solid_tip_mass_residual } else { mass };
            variance[parameter] = square(residual);
        }
        if card.solid_tip {
            let [(modulus, modulus_sd), (density, density_sd)] = solid_tip(card.fibre);
            variance[TIP_MODULUS] = square(modulus_sd);
            variance[TIP_DENSITY] = square(density_sd);
            if card.modulus.is_none() {
                self.mean[TIP_MODULUS] = modulus;
            }
            if card.density.is_none() {
                self.mean[TIP_DENSITY] = density;
            }
        }
        for (parameter, variance) in variance.into_iter().enumerate() {
            self.covariance[(parameter, parameter)] = variance;
        }
        let walls = wall_covariance(length, profile, errors.wall.m());
        for (i, one) in [WALL_BUTT, WALL_TIP].into_iter().enumerate() {
            for (j, other) in [WALL_BUTT, WALL_TIP].into_iter().enumerate() {
                self.covariance[(one, other)] = walls[i][j];
            }
        }
    }
}

/// What is not sure of ln of the wall at the butt and the tip: the usual spread, narrowed by the walls that were measured.
fn wall_covariance(length: f64, profile: &Profile, sd: f64) -> [[f64; 2]; 2] {
    let variance = LOG_WALL_SD * LOG_WALL_SD;
    let mut covariance =
        [[variance, WALLS_TOGETHER * variance], [WALLS_TOGETHER * variance, variance]];
    for &(at, wall) in &profile.walls {
        let row = [1.0 - at / length, at / length];
        let noise = (sd / wall) * (sd / wall);
        let along = covariance.map(|line| line[0] * row[0] + line[1] * row[1]);
        let total = along[0] * row[0] + along[1] * row[1] + noise;
        if 0.0 < total {
            for (line, a) in covariance.iter_mut().zip(along) {
                for (entry, b) in line.iter_mut().zip(along) {
                    *entry -= a * b / total;
                }
            }
        }
    }
    covariance
}
