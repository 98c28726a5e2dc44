//! An independent solver: the elastica integrated from the tip to the clamp, its branch followed from nothing in small steps of load.
//!
//! It shares nothing with the crate's solver: no elements, no energy, no matrix; one unknown, the tip's angle.
//! It is slow, and takes any tube that is given by stations.

use taperbook_mechanics::{Clamp, Load, Tube};
use taperbook_units::{Length, STANDARD_GRAVITY};

/// Steps of the integration along the blank; the error of the classical Runge–Kutta rule falls with their fourth power.
const STEPS: usize = 300;
/// Steps of own weight, and then of the pull; where these turn the tip too far at once, finer ones are tried.
const LOAD_STEPS: [u32; 2] = [150, 5000];

/// Where the tip comes to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tip {
    pub(crate) angle: f64,
    pub(crate) out: f64,
    pub(crate) up: f64,
}

/// A blank cut up for the integration, from the tip: EI and the weight beyond at both ends and the middle of each step.
pub(crate) struct Shooter {
    steps: Vec<(f64, [f64; 3], [f64; 3])>,
    raised: f64,
    give: f64,
}

/// Angle and moment, and their derivatives by the tip's angle.
type Shot = [f64; 4];

impl Shooter {
    /// `edges` are places of the tube where its section may have a kink.
    pub(crate) fn new(tube: &Tube, edges: &[f64], density: f64, clamp: &Clamp) -> Self {
        let (held_at, end) = (clamp.held_at.m(), tube.length().m());
        let mut places: Vec<f64> =
            edges.iter().copied().filter(|at| held_at < *at && *at < end).collect();
        places.extend([held_at, end]);
        places.sort_by(|a, b| b.total_cmp(a));
        places.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let line_weight = |at: f64| {
            let (od, wall) = (tube.od_at(Length::from_m(at)), tube.wall_at(Length::from_m(at)));
            let area = std::f64::consts::PI * wall.m() * (od.m() - wall.m());
            density * STANDARD_GRAVITY * area
        };
        let stiffness = |at: f64| tube.stiffness_at(Length::from_m(at));
        let mut steps = Vec::new();
        let mut beyond = 0.0;
        for pair in places.windows(2) {
            let length = pair[0] - pair[1];
            let share = (STEPS as f64 * length / (end - held_at)).ceil();
            let step = length / share;
            let mut at = pair[0];
            while pair[1] + 0.5 * step < at {
                let near = [at, at - 0.5 * step, at - step];
                let line = near.map(line_weight);
                // Line weight is quadratic along a segment, so these integrals are exact.
                let half = step * (5.0 * line[0] + 8.0 * line[1] - line[2]) / 24.0;
                let whole = step * (line[0] + 4.0 * line[1] + line[2]) / 6.0;
                // Just inside of the step, so that a kink at its end does not count.
                let inside = [at - 1e-9 * step, at - 0.5 * step, at - step * (1.0 - 1e-9)];
                steps.push((step, inside.map(stiffness), [beyond, beyond + half, beyond + whole]));
                beyond += whole;
                at -= step;
            }
        }
        Self { steps, raised: clamp.raised.rad(), give: clamp.give }
    }

    /// Shoots from a tip angle: by how much the clamp is missed, the derivative of that, and where the tip lies.
    fn shoot(&self, tip: f64, pull: (f64, f64), weight_part: f64) -> (f64, f64, Tip) {
        let rate = |[phi, moment, by_phi, by_moment]: Shot, stiffness: f64, weight: f64| -> Shot {
            let (sin, cos) = phi.sin_cos();
            let down = pull.1 + weight_part * weight;
            // Toward the clamp the angle falls by M / EI and the moment grows.
            [
                -moment / stiffness,
                down * cos - pull.0 * sin,
                -by_moment / stiffness,
                -(down * sin + pull.0 * cos) * by_phi,
            ]
        };
        let mut state: Shot = [tip, 0.0, 1.0, 0.0];
        let (mut out, mut down) = (0.0, 0.0);
        for &(step, stiffness, weight) in &self.steps {
            let ahead = |rate: Shot, part: f64| -> Shot {
                std::array::from_fn(|i| state[i] + part * step * rate[i])
            };
            let first = rate(state, stiffness[0], weight[0]);
            let second = rate(ahead(first, 0.5), stiffness[1], weight[1]);
            let third = rate(ahead(second, 0.5), stiffness[1], weight[1]);
            let fourth = rate(ahead(third, 1.0), stiffness[2], weight[2]);
            let next: Shot = std::array::from_fn(|i| {
                state[i] + step / 6.0 * (first[i] + 2.0 * (second[i] + third[i]) + fourth[i])
            });
            // Cubic Hermite value at the middle, then Simpson's rule for the place.
            let middle = 0.5 * (state[0] + next[0]) + step / 8.0 * (first[0] - fourth[0]);
            out += step / 6.0 * (state[0].cos() + 4.0 * middle.cos() + next[0].cos());
            down += step / 6.0 * (state[0].sin() + 4.0 * middle.sin() + next[0].sin());
            state = next;
        }
        let miss = state[0] + self.raised - self.give * state[1];
        let by_tip = state[2] - self.give * state[3];
        (miss, by_tip, Tip { angle: tip, out, up: -down })
    }

    /// Follows the bend from the straight blank, own weight first and then the load; `None` where it turns back or snaps.
    ///
    /// Along a branch of stable bends the miss of the clamp grows with the tip's angle: at the first bend where it doesn't, there is
    /// a change of the angles that costs no energy (Jacobi's condition).
    pub(crate) fn follow(&self, load: &Load) -> Option<Tip> {
        LOAD_STEPS.into_iter().find_map(|n_steps| self.follow_in(n_steps, load))
    }

    fn follow_in(&self, n_steps: u32, load: &Load) -> Option<Tip> {
        let force = load.mass.kg() * STANDARD_GRAVITY;
        let (sin, cos) = load.backward.rad().sin_cos();
        let mut found = Tip { angle: -self.raised, out: 0.0, up: 0.0 };
        for step in 1..=2 * n_steps {
            let part = f64::from(step) / f64::from(n_steps);
            let (weight_part, pull_part) = (part.min(1.0), (part - 1.0).max(0.0));
            let pull = (-force * sin * pull_part, force * cos * pull_part);
            found = self.settle(found.angle, pull, weight_part)?;
        }
        Some(found)
    }

    /// Newton's method on the tip's angle from the one before.
    fn settle(&self, before: f64, pull: (f64, f64), weight_part: f64) -> Option<Tip> {
        let mut tip = before;
        for _ in 0..20 {
            let (miss, by_tip, place) = self.shoot(tip, pull, weight_part);
            if by_tip <= 0.0 {
                return None;
            }
            let change = miss / by_tip;
            if change.abs() < 1e-10 {
                return ((place.angle - before).abs() < 0.2).then_some(place);
            }
            tip -= change;
        }
        None
    }
}
