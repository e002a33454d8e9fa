"""Costs with the worth of a used lamp, by quadrature and differences in 40 digits; writes salvage.json beside it.

Invented world: burst Weibull(3.5, 1800) cost 5200 with 300 back pro rata over 1000 h, dim Weibull(2.2, 2600) cost
1250, planned change 950; a used lamp is worth 400 (1 - age / 2000) while more than 500 h are left. Integrals of the
density of each cause times the reliability of the other; best ages by the root of a numerical derivative of the cost
itself.
Run with mpmath 1.3 or newer: python tests/data/make_salvage.py
"""

import json
from pathlib import Path

from mpmath import diff, exp, findroot, mp, mpf, quad

mp.dps = 40
PLANNED, NEW, GONE, LEFT = mpf(950), mpf(400), mpf(2000), mpf(500)
END = GONE - LEFT
CAUSES = [(mpf("3.5"), mpf(1800), mpf(5200)), (mpf("2.2"), mpf(2600), mpf(1250))]
BACK, BACK_HOURS = mpf(300), mpf(1000)


def worth(age):
    return NEW * (1 - age / GONE) if age < END else mpf(0)


def reliability(t):
    return exp(-sum((t / scale) ** shape for shape, scale, _ in CAUSES))


def density(j, t):
    shape, scale, _ = CAUSES[j]
    return shape / scale * (t / scale) ** (shape - 1) * reliability(t)


def back(t):
    return BACK * (1 - t / BACK_HOURS) if t < BACK_HOURS else mpf(0)


def stretches(low, high):
    marks = [low] + [k for k in (BACK_HOURS, END) if low < k < high] + [high]
    return marks


def cost(age, rate=0):
    marks = stretches(mpf(0), age)
    failures = sum(
        quad(lambda t, j=j: (CAUSES[j][2] - (back(t) if j == 0 else 0)) * density(j, t) * exp(-rate * t), marks)
        for j in range(len(CAUSES))
    )
    hours = quad(lambda t: reliability(t) * exp(-rate * t), marks)
    return ((PLANNED - worth(age)) * reliability(age) * exp(-rate * age) + failures) / hours


def visits(start, age, mean, trip):
    def there(t):
        return reliability(t) * (exp(-(t - start) / mean) if t > start else 1)

    marks = sorted({*stretches(mpf(0), age), start})
    after = [m for m in marks if m >= start]
    failures = sum(
        quad(
            lambda t, j=j: (
                (CAUSES[j][2] + trip - (back(t) if j == 0 else 0)) * density(j, t) * there(t) / reliability(t)
            ),
            marks,
        )
        for j in range(len(CAUSES))
    )
    at_visit = quad(lambda t: (PLANNED - worth(t)) * there(t) / mean, after)
    return (at_visit + (PLANNED - worth(age) + trip) * there(age) + failures) / quad(there, marks)


def block(every, failure, scale):
    """Lives of two exponential stages of mean `scale` each; renewal density (1 - exp(-2 u / scale)) / (2 scale)."""
    changes = every / (2 * scale) - (1 - exp(-2 * every / scale)) / 4

    def left(t):
        return (1 + t / scale) * exp(-t / scale)

    marks = [mpf(0)] + ([every - END] if every > END else []) + [every]
    old = quad(lambda u: (1 - exp(-2 * u / scale)) / (2 * scale) * left(every - u) * worth(every - u), marks)
    used = worth(every) * left(every) + old
    return used, (PLANNED - used + failure * changes) / every


def text(x):
    return float(mp.nstr(x, 17))


def best(of, start):
    age = findroot(lambda t: diff(of, t), start)
    return [text(age), text(of(age))]


out = {"source": __doc__}
rates = {"plain": mpf(0), "discounted": mpf("1e-4")}
for name, rate in rates.items():
    ages = [400, 900, 1499, 1500, 2000, 4000]
    out[name] = {"ages": ages, "costs": [text(cost(mpf(a), rate)) for a in ages]}
    out[name]["best"] = best(lambda t, r=rate: cost(t, r), (mpf(900), mpf(950)))
rule = [(500, 1400, 300, 240), (500, 1800, 300, 240), (1200, 1800, 50, 0), (0, 1500, 900, 240)]
out["visits"] = [[*r, text(visits(*map(mpf, r)))] for r in rule]
out["visit_best"] = best(lambda v: visits(v, mpf(1800), mpf(300), mpf(240)), (mpf(700), mpf(720)))
out["blocks"] = [[b, *map(text, block(mpf(b), mpf(5200), mpf(1200)))] for b in (600, 1499, 1500, 2500, 6000)]
Path(__file__).with_name("salvage.json").write_text(json.dumps(out, indent=1) + "\n")
