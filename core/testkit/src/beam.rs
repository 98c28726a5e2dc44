//! The simulator's own beam: a cantilever sampled along its free length, bent by shooting from the tip.
//!
//! It shares nothing with the mechanics crate, on purpose: no elements, no mesh edges at calipers, no tube model, no energy.
//! Stiffness and mass come as smooth functions, the planar inextensible elastica is integrated by the classical fourth-order Runge–Kutta rule with 480 equal steps, and the two unknowns (tip angle and load) are found by Newton's method on the shot with its exact sensitivities.
//!
//! Symbols: `u` runs from the tip (0) to the clamp (`L`); `θ` is the angle below horizontal, `M` the bending moment, `y` the drop from the tip up to `u`, `W(u)` the weight outboard of `u`, `P` the hung load.
//!
//! - `dθ/du = −M/EI`
//! - `dM/du = (P + W) cos θ`, and `+ B sin θ` under a pull `B` back toward the clamp
//! - `dy/du = sin θ`
//!
//! At the tip `M = 0`; at the clamp `θ = give · M − raised`.
//! For a horizontal clamp and loads straight down the energy is convex on `0 ≤ θ ≤ 90°`, so the solution there is the only one.
//! Source of the equations: any text on the heavy elastica, e.g. Rohde, Quart. Appl. Math. 11 (1953) 337.

use taperbook_units::STANDARD_GRAVITY;

/// Steps of the integration: enough for power within 1e-7 on any of the simulated blanks (a test halves them).
const STEPS: usize = 480;

/// What holds the butt: how far it points above horizontal, and how far it yields.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Clamp {
    /// Angle above horizontal, radians.
    pub raised: f64,
    /// Rotation per moment, radians per newton metre; 0 for rigid jaws.
    pub give: f64,
}

/// Why a shape can't be found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unsolved {
    /// The own weight alone drops the tip further than a third of the free length.
    TooLimp,
    /// Nothing is left beyond the clamp.
    NoFreeLength,
    /// The iteration did not settle; it has not been seen on any simulated blank.
    NoConvergence,
}

impl std::fmt::Display for Unsolved {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::TooLimp => "its own weight drops the tip further than a third",
            Self::NoFreeLength => "nothing is left beyond the clamp",
            Self::NoConvergence => "the bent shape was not found",
        })
    }
}
impl std::error::Error for Unsolved {}

/// A bent shape, reduced to what is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// The hung load, newtons.
    pub load: f64,
    /// Angle of the tip below horizontal, radians.
    pub tip_angle: f64,
    /// Drop of the tip below the clamp, metres.
    pub drop: f64,
    /// Distance of the tip outward from the clamp, metres.
    pub reach: f64,
    /// Centroid of curvature, as a part of the free length from the tip.
    pub bend_centre: f64,
    /// Moment at the clamp, newton metres.
    pub moment: f64,
}

/// A cantilever sampled at the ends and the middles of equal steps, tip first.
#[derive(Debug, Clone)]
pub struct Beam {
    pub(crate) step: f64,
    pub(crate) flexibility: Vec<f64>,
    pub(crate) mass: Vec<f64>,
    outboard: Vec<f64>,
}

impl Beam {
    /// Samples a cantilever of a free `length` (m) from its stiffness (N m²) and its mass per length (kg/m), both as functions of the distance from the tip (m).
    ///
    /// # Errors
    /// When the length is not positive.
    pub fn new(
        length: f64,
        stiffness: impl Fn(f64) -> f64,
        mass: impl Fn(f64) -> f64,
    ) -> Result<Self, Unsolved> {
        Self::with_steps(length, STEPS, stiffness, mass)
    }

    pub(crate) fn with_steps(
        length: f64,
        steps: usize,
        stiffness: impl Fn(f64) -> f64,
        mass: impl Fn(f64) -> f64,
    ) -> Result<Self, Unsolved> {
        if length.is_nan() || length <= 0.0 {
            return Err(Unsolved::NoFreeLength);
        }
        let half = length / (2 * steps) as f64;
        let at = |i: usize| i as f64 * half;
        let masses: Vec<f64> = (0..=2 * steps).map(|i| mass(at(i))).collect();
        let mut outboard = vec![0.0; 2 * steps + 1];
        for i in 1..=2 * steps {
            // Simpson's rule over the half step.
            let middle = mass(at(i) - half / 2.0);
            outboard[i] = outboard[i - 1] + half / 6.0 * (masses[i - 1] + 4.0 * middle + masses[i]);
        }
        Ok(Self {
            step: 2.0 * half,
            flexibility: (0..=2 * steps).map(|i| 1.0 / stiffness(at(i))).collect(),
            mass: masses,
            outboard,
        })
    }

    /// Gives the free length, metres.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.step * self.steps() as f64
    }

    pub(crate) fn steps(&self) -> usize {
        self.mass.len() / 2
    }

    /// Finds the load that holds the tip one third of the free length below the clamp, the own weight acting.
    ///
    /// # Errors
    /// When the blank is too limp for it.
    pub fn third_length(&self, clamp: Clamp) -> Result<Bend, Unsolved> {
        let length = self.length();
        // Small-deflection drop per newton, ∫ u²/EI du, for the first guess of the load.
        let compliance: f64 = (0..self.steps())
            .map(|i| {
                ((i as f64 + 0.5) * self.step).powi(2) * self.flexibility[2 * i + 1] * self.step
            })
            .sum();
        let scale = length / 3.0 / compliance;
        let (mut angle, mut load) = (0.9, scale);
        let miss = |shot: &Shot| {
            (
                shot.theta + clamp.raised - clamp.give * shot.moment,
                (shot.drop - length / 3.0) / length,
            )
        };
        let mut shot = self.shoot(angle, load);
        for _ in 0..60 {
            let (by_angle, by_drop) = miss(&shot);
            if by_angle.hypot(by_drop) < 1e-12 {
                return if load < 0.0 {
                    Err(Unsolved::TooLimp)
                } else {
                    Ok(self.bend(load, &shot))
                };
            }
            let a = shot.theta_by_angle - clamp.give * shot.moment_by_angle;
            let b = shot.theta_by_load - clamp.give * shot.moment_by_load;
            let (c, d) = (shot.drop_by_angle / length, shot.drop_by_load / length);
            let determinant = a * d - b * c;
            let to_angle = (b * by_drop - d * by_angle) / determinant;
            let to_load = (c * by_angle - a * by_drop) / determinant;
            let mut part = 1.0;
            loop {
                let next_angle = (angle + part * to_angle).clamp(-1.5, 1.57);
                let next_load = (load + part * to_load).max(load - 2.0 * scale);
                let next = self.shoot(next_angle, next_load);
                let (to_a, to_d) = miss(&next);
                if to_a.hypot(to_d) < by_angle.hypot(by_drop) || part < 1e-4 {
                    (angle, load, shot) = (next_angle, next_load, next);
                    break;
                }
                part /= 2.0;
            }
        }
        // The last correction can be below what rounding lets through.
        let (by_angle, by_drop) = miss(&shot);
        if by_angle.hypot(by_drop) < 1e-9 && 0.0 <= load {
            return Ok(self.bend(load, &shot));
        }
        Err(if load < 0.0 { Unsolved::TooLimp } else { Unsolved::NoConvergence })
    }

    /// Finds the shape under a hung `load` (N), the own weight acting.
    ///
    /// # Errors
    /// When the iteration does not settle.
    pub fn hang(&self, clamp: Clamp, load: f64) -> Result<Bend, Unsolved> {
        let half_turn = std::f64::consts::FRAC_PI_2;
        let (mut low, mut high) = (-clamp.raised.abs() - 1e-6, half_turn);
        let mut angle = 0.5;
        for _ in 0..200 {
            let shot = self.shoot(angle, load);
            let miss = shot.theta + clamp.raised - clamp.give * shot.moment;
            if miss.abs() < 1e-12 || high - low < 1e-15 {
                return Ok(self.bend(load, &shot));
            }
            if miss < 0.0 {
                low = angle;
            } else {
                high = angle;
            }
            let step = miss / (shot.theta_by_angle - clamp.give * shot.moment_by_angle);
            let next = angle - step;
            angle = if low < next && next < high { next } else { f64::midpoint(low, high) };
        }
        Err(Unsolved::NoConvergence)
    }

    /// Finds the pull (N) that turns the tip to an `angle` (radians below horizontal, under 90°); it leans back from straight down toward the clamp by `lean` radians.
    ///
    /// A pull that leans back by the tip's angle is square to the tip; hands pull somewhere in between.
    ///
    /// # Errors
    /// [`Unsolved::TooLimp`] when the own weight alone turns the tip further.
    pub fn pull_for_tip_angle(&self, clamp: Clamp, angle: f64, lean: f64) -> Result<f64, Unsolved> {
        let miss = |pull: f64| {
            let state = self.integrate(angle, pull * lean.cos(), pull * lean.sin(), |_| ());
            state[THETA] + clamp.raised - clamp.give * state[MOMENT]
        };
        if miss(0.0) < 0.0 {
            return Err(Unsolved::TooLimp);
        }
        let (mut low, mut high) = (0.0, 1.0);
        while 0.0 < miss(high) {
            (low, high) = (high, 2.0 * high);
            if 1e6 < high {
                return Err(Unsolved::NoConvergence);
            }
        }
        while 1e-13 * high < high - low {
            let middle = f64::midpoint(low, high);
            if middle <= low || high <= middle {
                break;
            }
            if miss(middle) < 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(f64::midpoint(low, high))
    }

    /// Gives the shape of a solved bend as points `(x outward, y up)` from the clamp, in metres, clamp first.
    #[must_use]
    pub fn points(&self, bend: &Bend) -> Vec<(f64, f64)> {
        let mut points = Vec::with_capacity(self.steps() + 1);
        self.integrate(bend.tip_angle, bend.load, 0.0, |state| {
            points.push((bend.reach - state[REACH], state[DROP] - bend.drop));
        });
        points.reverse();
        points
    }

    fn bend(&self, load: f64, shot: &Shot) -> Bend {
        Bend {
            load,
            tip_angle: shot.tip_angle,
            drop: shot.drop,
            reach: shot.reach,
            bend_centre: shot.curvature_moment / (shot.tip_angle - shot.theta) / self.length(),
            moment: shot.moment,
        }
    }

    fn shoot(&self, angle: f64, load: f64) -> Shot {
        let state = self.integrate(angle, load, 0.0, |_| ());
        Shot {
            tip_angle: angle,
            theta: state[THETA],
            moment: state[MOMENT],
            drop: state[DROP],
            reach: state[REACH],
            curvature_moment: state[CURVATURE],
            theta_by_angle: state[BY_ANGLE],
            moment_by_angle: state[BY_ANGLE + 1],
            drop_by_angle: state[BY_ANGLE + 2],
            theta_by_load: state[BY_LOAD],
            moment_by_load: state[BY_LOAD + 1],
            drop_by_load: state[BY_LOAD + 2],
        }
    }

    /// Integrates from the tip to the clamp under a load down and a load back toward the clamp; the derivatives by the load are those of the load down.
    fn integrate(&self, angle: f64, load: f64, back: f64, mut each: impl FnMut(&State)) -> State {
        let mut state = [0.0; 11];
        state[THETA] = angle;
        state[BY_ANGLE] = 1.0;
        each(&state);
        let h = self.step;
        for i in 0..self.steps() {
            let rate = |state: &State, k: usize| {
                let sample = 2 * i + k;
                let u = 0.5 * h * sample as f64;
                let force = load + STANDARD_GRAVITY * self.outboard[sample];
                rates(state, u, self.flexibility[sample], force, back)
            };
            let k1 = rate(&state, 0);
            let k2 = rate(&along(&state, &k1, 0.5 * h), 1);
            let k3 = rate(&along(&state, &k2, 0.5 * h), 1);
            let k4 = rate(&along(&state, &k3, h), 2);
            for (j, value) in state.iter_mut().enumerate() {
                *value += h / 6.0 * (k1[j] + 2.0 * (k2[j] + k3[j]) + k4[j]);
            }
            each(&state);
        }
        state
    }
}

/// θ, M, y, x, ∫κu du, then the derivatives of the first three by the tip angle and by the load.
type State = [f64; 11];
const THETA: usize = 0;
const MOMENT: usize = 1;
const DROP: usize = 2;
const REACH: usize = 3;
const CURVATURE: usize = 4;
const BY_ANGLE: usize = 5;
const BY_LOAD: usize = 8;

struct Shot {
    tip_angle: f64,
    theta: f64,
    moment: f64,
    drop: f64,
    reach: f64,
    curvature_moment: f64,
    theta_by_angle: f64,
    moment_by_angle: f64,
    drop_by_angle: f64,
    theta_by_load: f64,
    moment_by_load: f64,
    drop_by_load: f64,
}

fn rates(state: &State, u: f64, flexibility: f64, down: f64, back: f64) -> State {
    let (sin, cos) = state[THETA].sin_cos();
    let turn = back * cos - down * sin;
    let curvature = state[MOMENT] * flexibility;
    [
        -curvature,
        down * cos + back * sin,
        sin,
        cos,
        curvature * u,
        -state[BY_ANGLE + 1] * flexibility,
        turn * state[BY_ANGLE],
        cos * state[BY_ANGLE],
        -state[BY_LOAD + 1] * flexibility,
        cos + turn * state[BY_LOAD],
        cos * state[BY_LOAD],
    ]
}

fn along(state: &State, rate: &State, h: f64) -> State {
    std::array::from_fn(|j| state[j] + h * rate[j])
}

#[cfg(test)]
mod tests;
