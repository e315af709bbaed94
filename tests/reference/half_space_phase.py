"""Phase of the impedance change of a coil over a non-magnetic half-space, in 25 digits.

dZ = s pi mu0 INT W(k)^2 rho(k) dk, rho = (k - kappa)/(k + kappa), kappa^2 = k^2 + s mu0 sigma, s = j 2 pi f
(Dodd & Deeds, J. Appl. Phys. 39, 2829, 1968). Needs mpmath. Prints the table used in
tests/engine/signature_conductivity_test.cpp.
"""
from mpmath import mp, mpf, mpc, quad, besselj, exp, pi, sqrt, arg, linspace, struveh

mp.dps = 25
MU0 = 4 * pi * mpf(10) ** -7


def primitive(x):
    return pi * x / 2 * (besselj(1, x) * struveh(0, x) - besselj(0, x) * struveh(1, x))


def phase(r1, r2, z1, z2, frequency, conductivity):
    s = mpc(0, 2 * pi * frequency)

    def integrand(k):
        chi = primitive(k * r2) - primitive(k * r1)
        w = chi / k**3 * (exp(-k * z1) - exp(-k * z2))
        kappa = sqrt(k * k + s * MU0 * conductivity)
        return w * w * (k - kappa) / (k + kappa)

    return arg(s * quad(integrand, [mpf(10) ** -6] + linspace(100, 14000, 60)))


if __name__ == "__main__":
    mm = mpf("1e-3")
    p = (5 * mm, 8 * mm, 1 * mm, 3 * mm)
    for f, sigma in ((1e3, "0.1e6"), (1e3, "58e6"), (20e3, "2.9e6"), (60e3, "14e6"), (1e6, "0.5e6"), (1e6, "58e6")):
        print(f, sigma, mp.nstr(phase(*p, mpf(f), mpf(sigma)), 15))
