"""Writes renewal.json: stored check values, and mean changes by a method that shares nothing with the library.

The stored cases are read from the two JSON files named on the command line. The others are computed here with numpy
alone: the renewal equation in its density form on an even grid by the trapezium rule, at five steps, extrapolated in
even powers of the step (Romberg). The planned age and the age of the first lamp lie on the grid, and values on both
sides of a jump are kept apart. Each case states what the last extrapolation moved.
"""

import json
import math
import sys
from pathlib import Path

import numpy as np


class Weibull:
    def __init__(self, shape, scale):
        self.shape, self.scale = shape, scale

    def density(self, t):
        x = t / self.scale
        return self.shape / self.scale * x ** (self.shape - 1) * np.exp(-(x**self.shape))

    def passed(self, t):
        return np.exp(-((t / self.scale) ** self.shape))


class Lognormal:
    def __init__(self, location, scale):
        self.location, self.scale = location, scale

    def density(self, t):
        safe = np.maximum(t, 1e-300)
        z = (np.log(safe) - self.location) / self.scale
        return np.where(t > 0, np.exp(-0.5 * z * z) / (safe * self.scale * math.sqrt(2 * math.pi)), 0.0)

    def passed(self, t):
        z = (np.log(np.maximum(t, 1e-300)) - self.location) / self.scale
        return np.array([0.5 * math.erfc(x / math.sqrt(2)) for x in np.atleast_1d(z)])


class Mixture:
    def __init__(self, share, first, second):
        self.parts = [(share, first), (1 - share, second)]

    def density(self, t):
        return sum(w * p.density(t) for w, p in self.parts)

    def passed(self, t):
        return sum(w * p.passed(t) for w, p in self.parts)


class Series:
    def __init__(self, *parts):
        self.parts = parts

    def density(self, t):
        return sum(p.density(t) * np.prod([q.passed(t) for q in self.parts if q is not p], axis=0) for p in self.parts)

    def passed(self, t):
        return np.prod([p.passed(t) for p in self.parts], axis=0)


def one_step(life, plan, age, end, n):
    """Mean failures, planned changes and N (N - 1) by `end`, in `n` steps."""
    h = end / n
    t = h * np.arange(n + 1)
    m = n + 1 if plan is None else round(plan / h)
    density, passed = life.density(t), life.passed(t)
    reach = 0.0 if plan is None else passed[m] if m <= n else float(life.passed(np.array([plan]))[0])

    def solve(left, right):
        low, high, mean = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
        for i in range(n + 1):
            k = min(i, m)
            inner = float(density[1:k] @ mean[i - k + 1 : i][::-1]) if k > 1 else 0.0
            inner += 0.5 * density[k] * high[i - k] if k >= 1 else 0.0
            known = h * inner
            weight = 0.5 * h * density[0] if k >= 1 else 0.0
            before = reach * low[i - m] if i >= m else 0.0
            after = reach * high[i - m] if i >= m else 0.0
            low[i] = (left[i] + before + known) / (1 - weight)
            high[i] = right[i] + after + known + weight * low[i]
            mean[i] = 0.5 * (low[i] + high[i])
        return low, high

    index = np.arange(n + 1)
    failed = 1 - passed[np.minimum(index, m)] if m <= n else 1 - passed

    def due(edge):
        return np.where(index > m if edge == "left" else index >= m, reach, 0.0)

    failures = solve(failed, failed)
    planned = solve(due("left"), due("right"))
    further = [
        2 * (f + p - failed - due(edge)) for f, p, edge in zip(failures, planned, ["left", "right"], strict=True)
    ]
    second = solve(*further)
    if age == 0:
        return np.array([failures[1][n], planned[1][n], second[1][n]])
    # The first lamp: its own density, and its planned age at m - a.
    a = round(age / h)
    now = float(life.passed(np.array([age]))[0])
    k = n if plan is None else min(n, m - a)
    own = life.density(age + h * np.arange(k + 1)) / now
    out = []
    due_first = 0.0 if plan is None or k < m - a else reach / now
    adds = [1.0, 0.0, None]
    for which, f in enumerate([failures, planned, second]):
        left, right = f
        if which == 2:
            left = left + 2 * (failures[0] + planned[0])
            right = right + 2 * (failures[1] + planned[1])
        else:
            left, right = left + adds[which], right + adds[which]
        mean = 0.5 * (left + right)
        values = mean[n - k : n + 1][::-1].copy()
        values[0], values[-1] = left[n], right[n - k]
        x = h * (float(own @ values) - 0.5 * (own[0] * values[0] + own[-1] * values[-1]))
        at_plan = right[n - k] + [-1.0, 1.0, 0.0][which] if due_first else 0.0
        out.append(x + due_first * at_plan)
    return np.array(out)


def romberg(life, plan, age, end, first):
    rows = [[one_step(life, plan, age, end, first * 2**i)] for i in range(5)]
    for i in range(1, 5):
        for j in range(1, i + 1):
            rows[i].append(rows[i][j - 1] + (rows[i][j - 1] - rows[i - 1][j - 1]) / (4**j - 1))
    best, before = rows[4][4], rows[4][3]
    return best, float(np.max(np.abs(best - before)))


def solved():
    wear, steep = Weibull(2, 1.0), Weibull(50, 1.0)
    two = Series(Weibull(2, 1.6), Weibull(4, 1.1))
    kinds = Mixture(0.2, Weibull(2, 0.3), Weibull(4, 1.2))
    lognormal = Lognormal(-0.1, 0.5)
    words = {
        wear: {"weibull": [2, 1.0]},
        steep: {"weibull": [50, 1.0]},
        two: {"series": [{"weibull": [2, 1.6]}, {"weibull": [4, 1.1]}]},
        kinds: {"mixture": [0.2, {"weibull": [2, 0.3]}, {"weibull": [4, 1.2]}]},
        lognormal: {"lognormal": [-0.1, 0.5]},
    }
    asks = [
        (wear, None, 0.0, 3.0, 60), (wear, None, 0.4, 3.0, 60), (wear, 0.9, 0.3, 3.0, 60), (wear, 0.5, 0.0, 3.0, 60),
        (two, 0.8, 0.0, 4.0, 80), (two, 0.8, 0.5, 4.0, 80), (kinds, None, 0.0, 4.0, 80), (kinds, 1.0, 0.6, 4.0, 80),
        (lognormal, None, 0.5, 4.0, 120), (lognormal, 1.2, 0.6, 4.2, 140), (steep, None, 0.0, 4.95, 396),
        (steep, 0.95, 0.0, 4.75, 400), (steep, 0.95, 0.19, 4.75, 400),
    ]  # fmt: skip
    for life, plan, age, end, first in asks:
        (failures, planned, second), moved = romberg(life, plan, age, end, first)
        mean = failures + planned
        yield {
            "life": words[life],
            "planned_age": plan,
            "first_age": age,
            "hours": end,
            "failures": failures,
            "planned": planned,
            "variance": second + mean - mean * mean,
            "moved": moved,
        }


def main():
    decisions, hard = (json.loads(Path(name).read_text()) for name in sys.argv[1:3])
    keep = ["id", "inputs", "outputs", "tol", "published", "source", "note"]
    cases = [{k: c[k] for k in keep} for c in decisions["cases"] if c["id"].startswith("ren_")]
    # The stored closed form cancels at the first time of this case: its tenth digit is wrong. By 40-digit sums of
    # incomplete gammas, and by the roots of unity at 40 digits, it is this.
    erlang = next(c for c in cases if c["id"] == "ren_erlang3")
    erlang["outputs"]["M"][0] = 1.65421654184524e-07
    hard_cases = [c for c in hard["cases"] if c["id"].startswith("hc-ren")]
    out = {
        "origin": __doc__.strip().split("\n\n")[0],
        "numpy": np.__version__,
        "cases": cases,
        "hard_cases": hard_cases,
        "solved": list(solved()),
    }
    Path(__file__).with_name("renewal.json").write_text(json.dumps(out, indent=1) + "\n")
    for row in out["solved"]:
        print(row)


if __name__ == "__main__":
    main()
