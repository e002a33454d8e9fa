"""Posterior means and medians by plain quadrature on a grid of 2,000 by 2,000 midpoints: scipy and numpy only.

Records: ten failures and two lamps still good at 1,500 h (invented). Run: python make_posterior_means.py
"""

import numpy as np
from scipy.stats import norm

FAILED = np.array([412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450.0])
GOOD = 1500.0


def midpoints(low, high, n):
    edges = np.linspace(low, high, n + 1)
    return 0.5 * (edges[1:] + edges[:-1])


def answer(family, percent, shapes, lives, shape_belief=None, n=2000):
    """Mean of R(1000) and of the age of 10 % failed, and its median; beliefs are even on logarithms unless given."""
    u, v = midpoints(*np.log(shapes), n), midpoints(*np.log(lives), n)
    shape, life = np.meshgrid(np.exp(u), np.exp(v), indexing="ij")
    hazard = -np.log1p(-percent / 100.0)
    with np.errstate(all="ignore"):
        weibull = family == "weibull"
        scale = life / (hazard ** (1.0 / shape) if weibull else np.log1p(hazard / shape))

        def log_density(t):
            if weibull:
                return np.log(shape / scale) + (shape - 1) * np.log(t / scale) - (t / scale) ** shape
            return np.log(shape / scale) + t / scale - shape * np.expm1(t / scale)

        def reliability(t):
            return np.exp(-((t / scale) ** shape) if weibull else -shape * np.expm1(t / scale))

        def quantile(p):
            passed = -np.log1p(-p)
            return scale * (passed ** (1.0 / shape) if weibull else np.log1p(passed / shape))

        log = sum(log_density(t) for t in FAILED) + 2 * np.log(np.maximum(reliability(GOOD), 1e-300))
    if shape_belief is not None:
        low, high, probability = shape_belief
        middle = 0.5 * (np.log(low) + np.log(high))
        spread = 0.5 * (np.log(high) - np.log(low)) / norm.ppf(0.5 * (1 + probability))
        log = log - 0.5 * ((np.log(shape) - middle) / spread) ** 2
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    b10 = quantile(0.1)
    # Half of each cell lies below its middle. Cells of one b10 life count as one, or their order would move the median.
    one, cell = (life[0], weight.sum(axis=0)) if percent == 10.0 else (b10.ravel(), weight.ravel())
    order = np.argsort(one)
    share = np.cumsum(cell[order]) - 0.5 * cell[order]
    median = np.interp(0.5, share, one[order])
    return float((weight * reliability(1000.0)).sum()), float((weight * b10).sum()), float(median)


if __name__ == "__main__":
    print("shape 1 to 6, b10 300 to 900:", answer("weibull", 10.0, (1.0, 6.0), (300.0, 900.0)))
    print("shape 1 to 6, b50 800 to 1500:", answer("weibull", 50.0, (1.0, 6.0), (800.0, 1500.0)))
    print("gompertz, 90 % shape 0.001 to 1:", answer("gompertz", 10.0, (1e-12, 1e5), (20.0, 2500.0), (0.001, 1.0, 0.9)))
