"""Prints what a general boundary-value solver says of tubes of many stations.

    python3 boundary_value.py > boundary_value.txt

The values beside this file were made with Python 3.11, numpy 2.4.6 and scipy 1.17.1; it takes some minutes.
It shares nothing with the solver that the values are held against: scipy.integrate.solve_bvp is a collocation method with a mesh of its
own, and everything below is written down from the equations again.

Each segment between stations is mapped to 0..1 and the segments are solved as one system, so that no equation has a kink.
The tolerance is tightened until no value changes by more than 1e-9 of itself (or of its unit where it is below one); the script fails
when that does not happen.

Equations, s from the clamp, phi below horizontal, pull P turned by `back` from straight down toward the clamp, W(s) the weight beyond:

    phi' = M / EI
    M'   = -(P cos(back) + W) cos phi - P sin(back) sin phi
    x'   = cos phi, y' = sin phi, c' = phi
    phi(0) = -raised + give M(0), M(L) = 0

Third-length: y(L) = L / 3 under a pull straight down in the same clamp. Bend centre: (c(L) / L - phi(0)) / (phi(L) - phi(0)).
First natural frequency: v'' = M / EI, M'' = omega^2 rho A v, v(0) = 0, v'(0) = give M(0), M(L) = M'(L) = 0.
"""

import numpy as np
from scipy.integrate import solve_bvp

GRAVITY = 9.80665
TOLERANCES = [1e-6, 1e-8, 1e-10, 1e-11]
AGREE = 1e-9

# name: modulus in GPa, density in kg/m3, stations (from the butt, outside diameter, wall) in mm.
TUBES = {
    "carbon": (
        95.0,
        1550.0,
        [(0, 11.2, 1.05), (300, 10.1, 0.95), (700, 8.6, 0.8), (1100, 6.7, 0.66), (1500, 4.9, 0.55), (1900, 3.1, 0.45), (2184, 1.75, 0.4)],
    ),
    "glass": (
        32.0,
        1950.0,
        [(0, 13.5, 1.9), (420, 12.2, 1.6), (850, 10.8, 1.5), (1300, 8.9, 1.3), (1700, 7.1, 1.2), (2200, 5.0, 1.1), (2600, 3.4, 1.7), (3048, 2.0, 1.0)],
    ),
    "swelled": (
        120.0,
        1620.0,
        [(0, 13.0, 2.0), (120, 15.5, 2.6), (260, 13.2, 1.4), (640, 11.0, 1.1), (1010, 8.1, 1.25), (1524, 3.0, 0.6)],
    ),
}

# tube, off the tip, off the butt, held at (mm), raised (deg), give (rad / N m), back (deg), pull (g), tip angle asked (deg).
CASES = [
    ("carbon", 0, 0, 228.6, 0, 0, 0, 300, 70),
    ("carbon", 25.4, 76.2, 228.6, 0, 0.003, 45, 400, 90),
    ("carbon", 333, 111, 205, 30, 0, 45, 600, 80),
    ("carbon", 50, 0, 150, 60, 0.001, 30, 350, 60),
    ("glass", 0, 0, 228.6, 0, 0, 0, 250, 75),
    ("glass", 500, 200, 300, 0, 0.0006, 90, 500, 100),
    ("glass", 61, 437, 0, 45, 0, 120, 400, -60),
    ("glass", 900, 0, 250, -15, 0.003, 60, 300, 85),
    ("swelled", 0, 0, 0, 0, 0, 30, 3000, 60),
    ("swelled", 120, 60, 100, 20, 0.0005, 45, 9000, 75),
    ("swelled", 0, 200, 90, 0, 0.003, 0, 1500, 55),
]


class Beam:
    """The free length of a cut tube, in segments from the clamp to the tip."""

    def __init__(self, tube, tip, butt, held_at):
        modulus, self.density, stations = tube
        self.modulus = modulus * 1e9
        at, od, wall = (np.array(column) * 1e-3 for column in zip(*stations))
        start, end = (butt + held_at) * 1e-3, at[-1] - tip * 1e-3
        edges = np.concatenate([[start], at[(start + 1e-9 < at) & (at < end - 1e-9)], [end]])
        self.lengths = np.diff(edges)[:, None]
        self.free = end - start
        self.od = np.interp(edges, at, od)
        self.wall = np.interp(edges, at, wall)
        # A = pi w (D - w) along a segment, as a polynomial of 0..1: constant, linear, square.
        w0, w1 = self.wall[:-1, None], np.diff(self.wall)[:, None]
        g0, g1 = (self.od - self.wall)[:-1, None], np.diff(self.od - self.wall)[:, None]
        self.area_terms = [np.pi * w0 * g0, np.pi * (w0 * g1 + w1 * g0), np.pi * w1 * g1]
        volumes = self.lengths * sum(term / (power + 1) for power, term in enumerate(self.area_terms))
        self.volume_beyond = np.concatenate([np.cumsum(volumes[::-1])[::-1][1:], [0.0]])[:, None]

    def stiffness(self, part):
        od = self.od[:-1, None] + np.diff(self.od)[:, None] * part
        bore = od - 2 * (self.wall[:-1, None] + np.diff(self.wall)[:, None] * part)
        return self.modulus * np.pi / 64 * (od**4 - bore**4)

    def mass(self, part):
        return self.density * sum(term * part**power for power, term in enumerate(self.area_terms))

    def weight_beyond(self, part):
        inside = sum(term * (1 - part ** (power + 1)) / (power + 1) for power, term in enumerate(self.area_terms))
        return self.density * GRAVITY * (self.volume_beyond + self.lengths * inside)


def joined(ya, yb, n):
    """What must vanish where segments meet."""
    return (ya.reshape(n, -1)[1:] - yb.reshape(n, -1)[:-1]).ravel()


def bend(beam, raised, give, back, wanted, guess, weight, tolerance):
    """One bend; `wanted` is ("pull", N), ("drop", m) or ("angle", rad). Unknowns phi, M, x, y, c of each segment, and the pull."""
    n = len(beam.lengths)

    def slopes(part, state, parameters):
        phi, moment, _, _, _ = state.reshape(n, 5, -1).transpose(1, 0, 2)
        pull = parameters[0]
        sin, cos = np.sin(phi), np.cos(phi)
        down = pull * np.cos(back) + weight * beam.weight_beyond(part)
        rows = [moment / beam.stiffness(part), -down * cos - pull * np.sin(back) * sin, cos, sin, phi]
        return np.stack([beam.lengths * row for row in rows], axis=1).reshape(5 * n, -1)

    def ends(ya, yb, parameters):
        phi, moment, x, y, c = ya[:5]
        tip = yb[-5:]
        got = {"pull": parameters[0], "drop": tip[3], "angle": tip[0]}[wanted[0]]
        return np.concatenate([[phi + raised - give * moment, x, y, c, tip[1], got - wanted[1]], joined(ya, yb, n)])

    mesh, state, pull = guess
    found = solve_bvp(slopes, ends, mesh, state, p=[pull], tol=tolerance, bc_tol=1e-13, max_nodes=5000)
    assert found.success, found.message
    return found.x, found.y, found.p[0]


def walked(beam, raised, give, back, kind, value, tolerance):
    """The bend that grows from the straight blank: own weight first, then the pull in steps, each from the one before."""
    n = len(beam.lengths)
    mesh = np.linspace(0, 1, 5)
    state = np.zeros((n, 5, 5))
    state[:, 0] = -raised
    guess = (mesh, state.reshape(5 * n, 5), 0.0)
    steps = 8
    for step in range(steps + 1):
        guess = bend(beam, raised, give, back, ("pull", 0.0), guess, step / steps, 1e-4)
    tip = guess[1][-5:, -1]
    begin = {"pull": 0.0, "drop": tip[3], "angle": tip[0]}[kind]
    for step in range(1, steps + 1):
        wanted = (kind, begin + (value - begin) * step / steps)
        guess = bend(beam, raised, give, back, wanted, guess, 1.0, 1e-4)
    return bend(beam, raised, give, back, (kind, value), guess, 1.0, tolerance)


def frequency(beam, give, tolerance):
    n = len(beam.lengths)

    def slopes(part, state, parameters):
        deflection, slope, moment, force = state.reshape(n, 4, -1).transpose(1, 0, 2)
        rows = [slope, moment / beam.stiffness(part), force, parameters[0] * beam.mass(part) * deflection]
        return np.stack([beam.lengths * row for row in rows], axis=1).reshape(4 * n, -1)

    def ends(ya, yb, _):
        deflection, slope, moment, _ = ya[:4]
        tip = yb[-4:]
        return np.concatenate([[deflection, slope - give * moment, tip[0] - 1, tip[2], tip[3]], joined(ya, yb, n)])

    # A first guess by inverse iteration with the trapezoidal rule.
    mesh = np.linspace(0, 1, 21)
    stiffness, mass = beam.stiffness(mesh), beam.mass(mesh)
    step = np.repeat(beam.lengths, len(mesh), axis=1) / (len(mesh) - 1)
    step[:, 0] = 0.0

    def summed(values):
        """The integral from the clamp, at every point."""
        middles = np.diff(values.ravel(), prepend=values[0, 0]) / -2 + values.ravel()
        return np.cumsum(middles * step.ravel()).reshape(values.shape)

    deflection = summed(np.ones_like(mass)) ** 2
    for _ in range(20):
        deflection /= deflection[-1, -1]
        force = summed(mass * deflection)
        force -= force[-1, -1]
        moment = summed(force)
        moment -= moment[-1, -1]
        slope = give * moment[0, 0] + summed(moment / stiffness)
        square = deflection[-1, -1] / summed(slope)[-1, -1]
        deflection = summed(slope)
    state = np.stack([deflection, slope, moment, force], axis=1) * square
    found = solve_bvp(slopes, ends, mesh, state.reshape(4 * n, -1), p=[square], tol=tolerance, bc_tol=1e-13, max_nodes=5000)
    assert found.success, found.message
    assert abs(found.p[0] / square - 1) < 0.05, "this is another mode"
    deflections = found.y.reshape(n, 4, -1)[:, 0].ravel()
    assert -1e-9 < deflections.min(), "the first mode has no node"
    return np.sqrt(found.p[0]) / (2 * np.pi)


def values(case, tolerance):
    name, tip, butt, held_at, raised, give, back, pull, angle = case
    beam = Beam(TUBES[name], tip, butt, held_at)
    raised, back, angle = np.radians([raised, back, angle])
    _, state, power = walked(beam, raised, give, 0.0, "drop", beam.free / 3, tolerance)
    root, third = state[0, 0], state[-5:, -1]
    centre = (third[4] / beam.free - root) / (third[0] - root)
    _, state, _ = walked(beam, raised, give, back, "pull", pull * 1e-3 * GRAVITY, tolerance)
    bent = state[-5:, -1]
    _, _, load = walked(beam, raised, give, back, "angle", angle, tolerance)
    return np.array(
        [power / GRAVITY * 1e3, np.degrees(third[0]), centre, frequency(beam, give, tolerance)]
        + [bent[2] * 1e3, -bent[3] * 1e3, np.degrees(bent[0]), load / GRAVITY * 1e3]
    )


def converged(case):
    before = None
    for tolerance in TOLERANCES:
        now = values(case, tolerance)
        if before is not None and np.all(np.abs(now - before) <= AGREE * np.maximum(np.abs(now), 1)):
            return now
        before = now
    raise SystemExit(f"{case}: no agreement")


if __name__ == "__main__":
    print("# Made by boundary_value.py. Units: GPa, kg/m3, mm, deg, rad/(N m), g, Hz; bend centre as a part of the free length.")
    for name, (modulus, density, stations) in TUBES.items():
        print("tube", name, modulus, density)
        for station in stations:
            print("station", *station)
    print("# case: tube, off the tip, off the butt, held at, raised, give, back, pull, tip angle asked")
    print("# found: power, its tip angle, its bend centre, recovery, tip out and up under the pull, its angle, load for the angle asked")
    for case in CASES:
        print("case", *case)
        print("found", *(f"{value:.12g}" for value in converged(case)), flush=True)
