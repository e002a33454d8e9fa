"""Highest log-likelihoods of generalised gamma lives of claims, from scipy and mpmath: writes claims_shapes.json.

Claims are drawn here with a fixed seed. The limit in which the shape falls below 0 without bound has the density
exp(-(t / c)^-b) / t within a window, whose integral to u is E1((u / c)^-b) / b: its two parameters are searched by
scipy. `near` is the same likelihood from the generalised gamma life itself, by mpmath with 40 digits, at the shape -60
that leads there. `inside` is the highest of a search over all three parameters.
"""

import json
import pathlib

import mpmath
import numpy as np
import scipy
from scipy.optimize import minimize
from scipy.special import exp1, gammainc, gammaln

mpmath.mp.dps = 40


def draw(seed, location, scale, lamps, windows):
    rng = np.random.default_rng(seed)
    ages, uppers = [], []
    for upper in windows:
        t = np.round(np.exp(location + scale * rng.standard_normal(lamps)), 1)
        ages += list(t[t < upper])
        uppers += [upper] * int((t < upper).sum())
    return np.array(ages), np.array(uppers)


def limit(t, u):
    def minus(x):
        b, c = np.exp(x)
        with np.errstate(all="ignore"):
            value = np.sum(np.log(t) + (t / c) ** -b) + np.sum(np.log(exp1((u / c) ** -b) / b))
        return value if np.isfinite(value) else 1e12

    best = min(
        (
            minimize(minus, [lb, lc], method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-11, "maxiter": 9000})
            for lb in (-2.0, -1.0, 0.0)
            for lc in (4.0, 6.0, 8.0, 12.0)
        ),
        key=lambda found: found.fun,
    )
    return -best.fun, np.exp(best.x)


def life(t, u, location, scale, shape):
    """Log-likelihood of a generalised gamma life with a shape below 0, in 40 digits."""
    a = 1 / mpmath.mpf(shape) ** 2
    x = lambda age: a * mpmath.exp(shape * (mpmath.log(age) - location) / scale)  # noqa: E731
    whole = {v: mpmath.log(mpmath.gammainc(a, x(v), regularized=True)) for v in set(u)}
    total = mpmath.mpf(0)
    for age, upper in zip(t, u, strict=True):
        y = x(age)
        ln_f = mpmath.log(-mpmath.mpf(shape) / scale / age) + a * mpmath.log(y) - y - mpmath.loggamma(a)
        total += ln_f - whole[upper]
    return float(total)


def inside(t, u):
    """The highest point over all parameters with a shape above 0, by scipy."""

    def minus(x):
        location, scale, shape = x[0], np.exp(x[1]), np.exp(x[2])
        a = shape**-2.0
        with np.errstate(all="ignore"):
            y = lambda age: a * np.exp(shape * (np.log(age) - location) / scale)  # noqa: E731
            ln_f = np.log(shape / scale / t) + a * np.log(y(t)) - y(t) - gammaln(a)
            value = -np.sum(ln_f - np.log(gammainc(a, y(u))))
        return value if np.isfinite(value) else 1e12

    options = {"xatol": 1e-10, "fatol": 1e-10, "maxiter": 20000, "maxfev": 20000}
    found = minimize(minus, [7.0, -0.7, -0.4], method="Nelder-Mead", options=options)
    found = minimize(minus, found.x, method="Nelder-Mead", options=options)
    return -found.fun, found.x


CASES = [(1, 7.5, 0.8, 300, [800.0]), (3, 7.5, 0.8, 300, [250.0, 500.0, 800.0]), (5, 6.0, 1.2, 120, [250.0, 500.0])]


def main():
    out = {"made_by": f"make_claims_shapes.py, scipy {scipy.__version__}, mpmath {mpmath.__version__}", "cases": []}
    for case in CASES:
        t, u = draw(*case)
        value, (b, c) = limit(t, u)
        shape = -60.0
        e = (b / shape) ** 2
        q = b * b * float(c) ** b
        location = -np.log(e / q) / b
        near = life(t, u, location, -shape / b, shape)
        best, x = inside(t, u)
        out["cases"].append(
            {
                "ages": t.tolist(),
                "uppers": u.tolist(),
                "limit": value,
                "power": b,
                "hours": c,
                "near": near,
                "inside": best,
                "inside_at": x.tolist(),
            }
        )
        print(len(t), value, b, c, near, best, x)
    pathlib.Path(__file__).with_name("claims_shapes.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
