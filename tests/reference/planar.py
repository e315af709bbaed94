#!/usr/bin/env python3
"""Impedance of coils over a layered plate to 20 digits: the values of tests/engine/planar_corner_test.cpp.

Written apart from the engine: the fields of every layer and the coil's spectrum are taken in 40-digit arithmetic, the layers by
products of transfer matrices [cosh, mu sinh / kappa; kappa sinh / mu, cosh] (no scaling, no series), the radial integral by
Struve functions, the integral over k by Gauss-Legendre panels of two lengths, which have to agree to 15 digits. Equations:
Dodd & Deeds, J. Appl. Phys. 39, 2829 (1968); Cheng, Dodd & Deeds, Int. J. Nondestr. Test. 3, 109 (1971).
Prints one row a case, ready to stand in the test. Runs for some minutes; needs python3-mpmath.
"""
import mpmath as mp

mp.mp.dps = 40
MU0 = 4 * mp.pi / 10**7

# name, coil (r1, r2, length in mm, turns), gaps sum in mm, way, s (complex, 1/s), layers (um, MS/m, mu_r) from the drive coil's face
J = 1j
def f(hertz):
    return 2 * mp.pi * hertz * J

CASES = [
    ("half a micrometre of poor metal at 1 kHz", (2, 5, 2, 1), 0.8, "reflected", f(1e3), [(0.5, 0.1, 1)]),
    ("half a micrometre of copper at 10 MHz", (2, 5, 2, 1), 0.8, "reflected", f(1e7), [(0.5, 60, 1)]),
    ("thick metal of permeability 1000 at 10 MHz", (0.2, 0.5, 0.5, 1), 0.1, "reflected", f(1e7), [(4000, 60, 1000)]),
    ("the same at 1 kHz under a large coil far away", (15, 20, 5, 1), 10, "reflected", f(1e3), [(4000, 60, 1000)]),
    ("a small coil far from nickel on steel", (0.2, 0.5, 0.5, 1), 10, "reflected", f(6e4), [(25, 13, 60), (1600, 6.5, 120)]),
    ("a large coil close to nickel on copper on steel", (15, 20, 5, 1), 0.1, "reflected", f(2e4),
     [(8, 13, 60), (25, 57, 1), (1600, 6.5, 120), (25, 57, 1), (8, 13, 60)]),
    ("insulating magnetic layer over a poor conductor", (2, 5, 2, 1), 0.8, "reflected", f(5e5), [(200, 0, 30), (1000, 0.5, 1)]),
    ("ten layers", (2, 5, 2, 1), 0.8, "reflected", f(2e5),
     [(3, 10, 20), (2, 8, 1), (15, 56, 1), (1, 12, 100), (2, 1.1, 1), (300, 7, 150), (500, 3, 1), (30, 37, 1), (5, 12, 100), (20, 56, 1)]),
    ("decay on the real axis", (2, 5, 2, 1), 0.8, "reflected", mp.mpf(3e5), [(6, 13, 60), (18, 57, 1), (1600, 6.5, 120)]),
    ("a contour point in the left half-plane", (2, 5, 2, 1), 0.8, "reflected", mp.mpc(-2e5, 4e5),
     [(6, 13, 60), (18, 57, 1), (1600, 6.5, 120)]),
    ("a contour point in the left half-plane, white alloy", (2, 5, 2, 1), 0.8, "reflected", mp.mpc(-3e5, 2e5), [(1900, 3, 1)]),
    ("through a foil", (2, 5, 2, 1), 2, "transmitted", f(1e5), [(10, 57, 1)]),
    ("through white alloy", (2, 5, 2, 1), 2, "transmitted", f(1e5), [(1900, 3, 1)]),
    ("through nickel on copper, thin", (1, 3, 2, 1), 1, "transmitted", f(2e4), [(20, 13, 60), (200, 57, 1), (20, 13, 60)]),
]


def moment(x):
    return mp.pi * x / 2 * (mp.besselj(1, x) * mp.struveh(0, x) - mp.besselj(0, x) * mp.struveh(1, x))


def weight(coil, k):
    r1, r2, length, turns = coil
    return turns / ((r2 - r1) * length) * (moment(k * r2) - moment(k * r1)) / k**2 * (1 - mp.exp(-k * length)) / k


def response(way, s, layers, k):
    m = mp.matrix([[1, 0], [0, 1]])
    for thickness, conductivity, permeability in layers:  # from the upper face down: A, A'/mu above = M (A, A'/mu) below
        kappa = mp.sqrt(k * k + s * MU0 * permeability * conductivity)
        c, h = mp.cosh(kappa * thickness), mp.sinh(kappa * thickness)
        m = m * mp.matrix([[c, permeability * h / kappa], [kappa * h / permeability, c]])
    a, b = m[0, 0] + m[0, 1] * k, m[1, 0] + m[1, 1] * k  # below: A = 1, A' = k
    return (k * a - b) / (k * a + b) if way == "reflected" else 2 * k / (k * a + b)


def inductance(case, pieces):
    _, coil, gaps, way, s, layers = case
    coil = tuple(mp.mpf(str(x)) / 1000 for x in coil[:3]) + (coil[3],)
    gaps = mp.mpf(str(gaps)) / 1000
    layers = [(mp.mpf(str(t)) / 10**6, mp.mpf(str(c)) * 10**6, mp.mpf(str(m))) for t, c, m in layers]
    step = mp.mpf(8) / (2 * (coil[1] + coil[2]) + gaps) / pieces
    total, lower, width, small = mp.mpf(0), mp.mpf(0), step / 10**9, 0  # rho of a thin sheet turns at k ~ |s| mu0 sigma t
    while small < 3:
        part = mp.mpf(0)
        for xi, wi in nodes:
            k = lower + width * (1 + xi) / 2
            part += wi * weight(coil, k) ** 2 * mp.exp(-k * gaps) * response(way, s, layers, k)
        part *= width / 2
        total += part
        lower += width
        width = min(step, width * 2)
        small = small + 1 if abs(part) * lower / width < abs(total) * mp.mpf(10) ** -17 else 0
    return mp.pi * MU0 * total


if __name__ == "__main__":
    from mpmath.calculus.quadrature import GaussLegendre

    nodes = GaussLegendre(mp.mp).calc_nodes(4, mp.mp.prec)  # 24 points
    assert abs(sum(w for _, w in nodes) - 2) < mp.mpf(10) ** -35
    for case in CASES:
        m, finer = inductance(case, 1), inductance(case, mp.mpf("1.37"))
        assert abs(m - finer) < abs(m) * mp.mpf(10) ** -14, (case[0], m, finer)
        print('    {"%s", {%s, %s}},' % (case[0], mp.nstr(finer.real, 17), mp.nstr(finer.imag, 17)), flush=True)
