"""Prints what elliptic integrals say of a uniform weightless cantilever under a large pull at its tip.

    python3 elliptic.py > elliptic.txt

The values beside this file were made with Python 3.11 and mpmath 1.3.0, 50 digits carried and 30 printed; it takes some seconds.
It shares nothing with the solver that the values are held against.

The blank is clamped horizontally, L = EI = 1; the pull k = P L^2 / EI points `back` degrees from straight down toward the clamp.
With psi = phi - back, phi the angle of the tangent below horizontal,

    psi'^2 = 2 k (sin psi_L - sin psi)

and with 1 + sin psi = 2 m sin^2 t, 2 m = 1 + sin psi_L,

    sqrt(k) = K(m) - F(t0, m)
    integral of cos psi ds = sqrt(2 (sin psi_L - sin psi_0) / k)
    integral of sin psi ds = 1 - 2 (E(m) - E(t0, m)) / sqrt(k)

(Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272 for back = 0; Timoshenko & Gere, Theory of Elastic Stability, section 2.7, for the
elastica in general). This holds for the bend that grows from the straight blank with the pull, phi rising all along it, when
back < 90.
Each line is checked by integrating 1 / psi' and sin psi / psi' numerically before it is printed.
"""

from mpmath import asin, cos, ellipe, ellipf, ellipk, mp, mpf, nstr, pi, quad, sin, sqrt

mp.dps = 50

LOADS = ["0.2", "0.25", "0.5", "1", "2", "4", "5", "6", "7", "8", "9", "10", "20"]
BACKS = [0, 30, 45, 60, 80, 89]


def start(m, back):
    """t where psi = -back: below zero where psi is below -90 degrees."""
    return asin(sqrt((1 - sin(back)) / (2 * m)))


def solve(k, back):
    """Tip angle, drop and what the tip is pulled in."""

    def miss(psi_tip):
        m = (1 + sin(psi_tip)) / 2
        return ellipk(m) - ellipf(start(m, back), m) - sqrt(k)

    # The miss rises with the tip's angle from -sqrt(k) at none to infinity at psi = 90 degrees.
    low, high = -back + mpf(10) ** -40, pi / 2 - mpf(10) ** -40
    for _ in range(160):
        middle = (low + high) / 2
        low, high = (middle, high) if miss(middle) < 0 else (low, middle)
    psi_tip = (low + high) / 2
    m = (1 + sin(psi_tip)) / 2
    t0 = start(m, back)
    along = sqrt(2 * (sin(psi_tip) + sin(back)) / k)
    across = 1 - 2 * (ellipe(m) - ellipe(t0, m)) / sqrt(k)
    out = cos(back) * along - sin(back) * across
    down = sin(back) * along + cos(back) * across
    # psi = psi_tip - u^2 takes the singularity at the tip out of the integrals, and the sines' difference is written as a product.
    def per_slope(u):
        return u / sqrt(k * cos(psi_tip - u * u / 2) * sin(u * u / 2))

    edges = [0, sqrt(psi_tip + back)]
    length = quad(per_slope, edges)
    sine = quad(lambda u: per_slope(u) * sin(psi_tip - u * u), edges)
    assert abs(length - 1) < mpf(10) ** -30, (k, back, length)
    assert abs(sine - across) < mpf(10) ** -30, (k, back, sine, across)
    return psi_tip + back, down, 1 - out


print("# k, back in degrees, tip angle in rad, drop / L, what the tip is pulled in / L; made by elliptic.py")
for back in BACKS:
    for load in LOADS:
        values = solve(mpf(load), back * pi / 180)
        print(load, back, *(nstr(value, 30) for value in values))
