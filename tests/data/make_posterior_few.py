"""Posteriors of a Weibull life under even beliefs from few failures: closed in the scale, so that one integral is left.

With u = sum t^k / scale^k over all lamps the records give u ~ Gamma(r, 1) at a shape k, whose own density over ln k is
k^(r - 1) prod t^k / (sum t^k)^r, with the r failures in the product. Invented records; scipy and numpy only.
Run: python make_posterior_few.py
"""

import itertools

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import gammaincc

CASES = {
    "three": ([900, 1100, 1300], []),
    "three of eight": ([700, 1100, 1300], [1400] * 5),
    "four of ten": ([420, 800, 1010, 1150], [1200] * 6),
    "six": ([300, 650, 800, 1000, 1200, 1600], []),
}
CUTS = [-25.0, -12.0, -6.0, -3.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 6.0]


def answers(failed, good):
    """Ends of 95 % intervals and medians of the shape and of the age by which 10 % have failed."""
    r = len(failed)
    middle = np.mean(np.log(failed))
    own, every = np.log(failed) - middle, np.log(failed + good) - middle

    def weight(c):
        k = np.exp(c)
        most = k * every.max()
        return np.exp((r - 1) * c + k * own.sum() - r * (most + np.log(np.exp(k * every - most).sum())))

    def area(of, end=np.inf):
        edges = [c for c in CUTS if c < end] + ([end] if end < CUTS[-1] else [])
        return sum(quad(of, a, b, epsabs=0, epsrel=1e-12, limit=200)[0] for a, b in itertools.pairwise(edges))

    total = area(weight)
    hazard = -np.log(0.9)

    def age_below(ln_age):
        def joint(c):
            # The scale lies below age / hazard^(1 / k) where u lies above this.
            u = hazard * np.exp(np.minimum(np.exp(c) * (every + middle - ln_age), 700)).sum()
            return weight(c) * gammaincc(r, u)

        return area(joint) / total

    tails = (0.025, 0.5, 0.975)
    shapes = [np.exp(brentq(lambda c, p=p: area(weight, c) / total - p, -8, 5, xtol=1e-12)) for p in tails]
    ages = [np.exp(brentq(lambda v, p=p: age_below(v) - p, -30, 9, xtol=1e-11)) for p in tails]
    return shapes + ages


if __name__ == "__main__":
    for name, (failed, good) in CASES.items():
        print(name, failed, good, ", ".join(f"{x:.9g}" for x in answers(failed, good)))
