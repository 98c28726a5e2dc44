//! A simulated shop for the calibration's tests: hidden pieces, a clamp that is a little off, and instruments with noise.
//!
//! The pieces have many stations and smooth shapes that no card tells, so that the fit must do without the truth's own model of a
//! blank; but they are solved by this crate's own solver, which other tests hold against outside values.

use std::f64::consts::PI;

use taperbook_mechanics::fit::{Caliper, Card, Errors, Fibre, Measured, Reading, Setup, Spread};
use taperbook_mechanics::{
    Clamp, Load, Material, Station, Tube, bend, natural_frequency, third_length,
};
use taperbook_units::{Angle, Density, Frequency, Length, Mass, Pressure};

/// SplitMix64 (Steele, Lea & Flood, OOPSLA 2014), with normal deviates by Box and Muller (Ann. Math. Stat. 29 (1958) 610).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Between 0 and 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^= bits >> 31;
        ((bits >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        sd * (-2.0 * a.ln()).sqrt() * (2.0 * PI * b).cos()
    }
}

/// A hidden piece, and the clamp of the shop that reads it.
pub(crate) struct Hidden {
    pub(crate) tube: Tube,
    pub(crate) held_at: Length,
    material: Material,
    tilt: Angle,
    give: f64,
}

const N_STATIONS: usize = 60;
const NONE: Length = Length::from_m(0.0);

impl Hidden {
    /// A carbon blank of some sort, drawn from what the calibration takes to be usual, with errors as it takes them to be.
    pub(crate) fn carbon(random: &mut Random, errors: &Errors) -> Self {
        let length = random.between(1.6, 2.9);
        let (butt, tip) = (random.between(8.0, 14.0), random.between(1.3, 2.6));
        let belly = 0.5 * errors.taper_curvature * 1e3 * length * length;
        let belly = random.normal(belly).clamp(-0.25 * butt, 0.25 * butt);
        let modulus = 90e9 * random.normal(0.28).exp();
        let trend = random.normal(0.1);
        let waves: Vec<(f64, f64)> =
            (1..4).map(|_| (random.normal(0.04), random.between(0.0, 2.0 * PI))).collect();
        let (wall_butt, wall_tip) = (random.normal(0.25).exp(), random.normal(0.25).exp());
        let stations: Vec<Station> = (0..=N_STATIONS)
            .map(|station_idx| {
                let u = station_idx as f64 / N_STATIONS as f64;
                let od = butt + (tip - butt) * u + belly * u * (1.0 - u);
                let wall = (0.3 + 0.06 * od) * (wall_butt + (wall_tip - wall_butt) * u);
                // What differs along the blank in modulus goes into the wall, which changes EI as much and weight a little.
                let log: f64 = trend * (u - 0.5)
                    + (waves.iter().enumerate())
                        .map(|(k, (size, phase))| size * (PI * (k + 1) as f64 * u + phase).sin())
                        .sum::<f64>();
                let wall = (wall * log.exp()).min(0.5 * od);
                Station {
                    at: Length::from_m(length * u),
                    od: Length::from_mm(od),
                    wall: Length::from_mm(wall),
                }
            })
            .collect();
        let density = Density::from_kg_per_m3(1550.0 * random.normal(0.04).exp());
        let material = Material { modulus: Pressure::from_pa(modulus), density };
        Self {
            tube: Tube::new(&stations, material).unwrap(),
            material,
            held_at: Length::from_inches(9.0),
            tilt: Angle::from_rad(random.normal(errors.tilt.rad())),
            give: errors.give * random.normal(errors.give_spread).exp(),
        }
    }

    /// Another piece of the same model, read in the same clamp.
    pub(crate) fn another(&self, random: &mut Random, spread: &Spread) -> Self {
        let (wall_butt, wall_tip) = (random.normal(spread.wall), random.normal(spread.wall));
        let length = self.tube.length();
        let stations: Vec<_> = (0..=N_STATIONS)
            .map(|station_idx| {
                let u = station_idx as f64 / N_STATIONS as f64;
                let at = length * u;
                let (od, wall) = (self.tube.od_at(at), self.tube.wall_at(at));
                let wall = wall * (wall_butt + (wall_tip - wall_butt) * u).exp();
                Station { at, od, wall: Length::from_m(wall.m().min(0.5 * od.m())) }
            })
            .collect();
        let material = Material {
            modulus: self.material.modulus * random.normal(spread.modulus).exp(),
            density: self.material.density * random.normal(spread.density).exp(),
        };
        Self { tube: Tube::new(&stations, material).unwrap(), material, ..*self }
    }

    /// The same of a cloth of this modulus, in Pa.
    pub(crate) fn of_modulus(&self, modulus: f64) -> Self {
        self.softer(modulus / self.material.modulus.pa())
    }

    /// The same of a cloth of another modulus.
    pub(crate) fn softer(&self, times: f64) -> Self {
        let material = Material { modulus: self.material.modulus * times, ..self.material };
        let stations: Vec<_> = (0..=N_STATIONS)
            .map(|station_idx| {
                let at = self.tube.length() * (station_idx as f64 / N_STATIONS as f64);
                Station { at, od: self.tube.od_at(at), wall: self.tube.wall_at(at) }
            })
            .collect();
        Self { tube: Tube::new(&stations, material).unwrap(), material, ..*self }
    }

    /// The same piece on another's board.
    pub(crate) fn read_in_the_clamp_of(self, other: &Self) -> Self {
        Self { tilt: other.tilt, give: other.give, ..self }
    }

    /// Five places on the board under each of two weights.
    pub(crate) fn read_board(&self, random: &mut Random, errors: &Errors) -> Vec<Reading> {
        let clamp = Clamp { held_at: self.held_at, raised: self.tilt, give: self.give };
        let power = third_length(&self.tube, &clamp).unwrap().power;
        let mut all = Vec::new();
        for load in [power * 0.5, power] {
            let shape = bend(&self.tube, &clamp, &Load::hung(load), 6).unwrap();
            for point in &shape.points[1..] {
                let y = point.y + Length::from_m(random.normal(errors.board_drop.m()));
                let measured = Measured::BoardPoint { load, x: point.x, y };
                all.push(self.of(NONE, NONE, measured));
            }
        }
        all
    }

    fn of(&self, tip_cut: Length, butt_cut: Length, measured: Measured) -> Reading {
        let setup = Setup::default();
        Reading { tip_cut, butt_cut, held_at: self.held_at, setup, measured, sd: None }
    }

    /// Its card, as a shop would measure it.
    pub(crate) fn card(&self, random: &mut Random, errors: &Errors, n_calipers: usize) -> Card {
        let length = self.tube.length();
        let calipers = (0..n_calipers)
            .map(|caliper_idx| {
                let at = length * (caliper_idx as f64 / (n_calipers - 1) as f64);
                let last = caliper_idx + 1 == n_calipers;
                let sd = if last { errors.caliper_tip_od } else { errors.caliper_od };
                let od = self.tube.od_at(at) + Length::from_m(random.normal(sd.m()));
                let wall = self.tube.wall_at(at) + Length::from_m(random.normal(errors.wall.m()));
                Caliper { at, od, wall: (caliper_idx == 0).then_some(wall), own: true }
            })
            .collect();
        Card {
            length,
            calipers,
            modulus: None,
            density: None,
            fibre: Fibre::Carbon,
            solid_tip: false,
            joints: Vec::new(),
            length_sd: Some(Length::from_mm(1.0)),
        }
    }

    /// Reads it with so much cut off in all.
    pub(crate) fn read(
        &self,
        random: &mut Random,
        errors: &Errors,
        (tip_cut, butt_cut): (Length, Length),
        what: What,
    ) -> Reading {
        let tube = self.tube.trimmed(tip_cut, butt_cut).unwrap();
        let clamp = Clamp { held_at: self.held_at, raised: self.tilt, give: self.give };
        let measured = match what {
            What::Power => {
                let power = third_length(&tube, &clamp).unwrap().power;
                Measured::Power(power * random.normal(errors.reclamp).exp())
            }
            What::TipAngle => {
                let angle = third_length(&tube, &clamp).unwrap().tip_angle;
                Measured::TipAngle(angle + Angle::from_rad(random.normal(errors.tip_angle.rad())))
            }
            What::Weight => {
                Measured::Weight(tube.weight() + Mass::from_kg(random.normal(errors.scale.kg())))
            }
            What::Frequency => {
                let frequency = natural_frequency(&tube, &clamp).unwrap().hz();
                let read = frequency * random.normal(errors.frequency).exp();
                Measured::Frequency(Frequency::from_hz(read))
            }
        };
        self.of(tip_cut, butt_cut, measured)
    }
}

/// What is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum What {
    Power,
    TipAngle,
    Weight,
    Frequency,
}
