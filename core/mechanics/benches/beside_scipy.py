"""Times one whole trimmed candidate beside scipy's boundary-value solver on the same problem, in the same run.

    python3 core/mechanics/benches/beside_scipy.py

Needs cargo, Python 3, numpy and scipy. A candidate is a blank of five stations with its cuts made: power, tip angle and bend centre at
the third-length weight, and the first natural frequency.
The crate's example `candidate` says which blank, what it found and how long it took (the fastest of its rounds, as below); here the same is solved by
scipy.integrate.solve_bvp, which must agree within 1e-6, and is timed at the loosest tolerance at which it does.
Both start from the straight blank with no more than a rough pull.
Figures are read by people: nothing but the agreement is checked.
"""

import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))
from boundary_value import GRAVITY, Beam, bend, frequency  # noqa: E402

AGREE = 1e-6


def main():
    root = Path(__file__).parents[3]
    command = ["cargo", "run", "--quiet", "--release", "-p", "taperbook-mechanics", "--example", "candidate"]
    ours = json.loads(subprocess.run(command, cwd=root, check=True, capture_output=True, text=True).stdout)
    tube = (ours["modulus_gpa"], ours["density_kg_per_m3"], ours["stations_mm"])

    def cut():
        return Beam(tube, ours["tip_mm"], ours["butt_mm"], ours["held_at_mm"])

    beam = cut()
    wanted = ("drop", beam.free / 3)
    # The mesh of five points a segment, all angles zero, and a newton.
    guess = (np.linspace(0, 1, 5), np.zeros((5 * len(beam.lengths), 5)), 1.0)

    def candidate(tolerance):
        beam = cut()
        _, state, power = bend(beam, 0.0, 0.0, 0.0, wanted, guess, 1.0, tolerance)
        tip = state[-5:, -1]
        return [power / GRAVITY * 1e3, np.degrees(tip[0]), tip[4] / beam.free / tip[0], frequency(beam, 0.0, tolerance)]

    found = [ours[key] for key in ["power_g", "tip_angle_deg", "bend_centre", "recovery_hz"]]
    for tolerance in [1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9]:
        theirs = candidate(tolerance)
        miss = max(abs(a / b - 1) for a, b in zip(found, theirs))
        if miss < AGREE:
            break
    else:
        raise SystemExit(f"no agreement within {AGREE}: {found} {theirs}")
    times = []
    for _ in range(9):
        start = time.perf_counter()
        candidate(tolerance)
        times.append(time.perf_counter() - start)
    seconds = min(times)
    for name, numbers in [("taperbook", found), ("scipy", theirs)]:
        power, angle, centre, recovery = numbers
        print(f"{name:10} power {power:.6f} g, tip angle {angle:.6f} deg, bend centre {centre:.8f}, recovery {recovery:.8f} Hz")
    print(f"furthest apart {miss:.1e}; scipy at tolerance {tolerance:g}")
    print(f"taperbook  {ours['seconds'] * 1e6:.1f} us a candidate")
    print(f"scipy      {seconds * 1e3:.1f} ms a candidate, {seconds / ours['seconds']:.0f} times as long")


if __name__ == "__main__":
    main()
