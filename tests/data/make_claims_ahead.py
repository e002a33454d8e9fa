"""Claims ahead by numerical integration with scipy: writes claims_ahead.json.

Two causes act in series; some endings of each are covered; money comes back in full, pro rata or in steps; lamps are
changed at a planned age; the calendar ends the cover of a lamp after some days. Chances and money are integrals by
scipy.integrate.quad split at every kink; the distribution of the number is the convolution by numpy. Invented lamps.
Run: python tests/data/make_claims_ahead.py
"""

import itertools
import json
import pathlib

import numpy
import scipy
from scipy import integrate, stats

BURST = stats.weibull_min(1.7, scale=2600.0)
DIM = stats.lognorm(0.6, scale=2200.0)
SHARE = {"burst": 1.0, "dim": 0.4}  # of the failures of each cause, those that the warranty covers
PLANNED = 1700.0
DAYS = 365.0
# Age, hours a week, days that the calendar leaves.
LAMPS = [
    (0.0, 70.0, 400.0),
    (250.0, 70.0, 400.0),
    (250.0, 20.0, 400.0),
    (900.0, 55.0, 30.0),
    (1200.0, 90.0, 365.0),
    (1690.0, 84.0, 300.0),
    (1800.0, 84.0, 300.0),
    (40.0, 10.0, -5.0),
    (600.0, 0.0, 100.0),
]
PRICE = 780.0
FORMS = {
    "full": (1000.0, lambda t: PRICE, []),
    "pro_rata": (2000.0, lambda t: PRICE * (1.0 - t / 2000.0), []),
    "stepped": (1500.0, lambda t: PRICE if t < 500.0 else 0.4 * PRICE, [500.0]),
}


def alive(t):
    return BURST.sf(t) * DIM.sf(t)


def failing(t):
    return SHARE["burst"] * BURST.pdf(t) * DIM.sf(t) + SHARE["dim"] * DIM.pdf(t) * BURST.sf(t)


def over(f, low, high, kinks):
    ends = [low, *[k for k in kinks if low < k < high], high]
    pieces = itertools.pairwise(ends)
    return sum(integrate.quad(f, a, b, epsabs=0.0, epsrel=1e-13, limit=200)[0] for a, b in pieces)


def case(name):
    hours, credit, kinks = FORMS[name]
    chances, money = [], 0.0
    for age, week, left in LAMPS:
        until = min(hours, PLANNED, age + week / 7.0 * min(DAYS, left))
        if age >= until:
            chances.append(0.0)
            continue
        chances.append(over(failing, age, until, kinks) / alive(age))
        money += over(lambda t: credit(t) * failing(t), age, until, kinks) / alive(age)
    count = numpy.array([1.0])
    for p in chances:
        count = numpy.convolve(count, [1.0 - p, p])
    return {"form": name, "hours": hours, "chances": chances, "mean_money": money, "probabilities": count.tolist()}


if __name__ == "__main__":
    out = {
        "about": f"scipy {scipy.__version__}, numpy {numpy.__version__}; quad to 1e-13; by make_claims_ahead.py",
        "price": PRICE,
        "planned": PLANNED,
        "days": DAYS,
        "lamps": LAMPS,
        "cases": [case(name) for name in FORMS],
    }
    path = pathlib.Path(__file__).with_name("claims_ahead.json")
    path.write_text(json.dumps(out, indent=1) + "\n")
