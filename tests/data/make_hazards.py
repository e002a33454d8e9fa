"""Rebuilds hazards.csv with mpmath: ln hazard of every family from the middle out to ages far past the last lamp.

The hazard is f / R, both worked at 400 digits from the formulas of make_family_grid.py and make_combined_grid.py, so
that nothing is lost where ln f and ln R are nearly equal.

    python make_hazards.py
"""

from pathlib import Path

import mpmath as mp
from make_combined_grid import MADE as COMBINED
from make_family_grid import HOURS, TERMS

HERE = Path(__file__).parent
LINKS = {"lognormal": "pl", **dict.fromkeys(HOURS, "pl"), "weibull_failure_free": "llp", "generalised_gamma": "plp"}

# Family, parameters, ages.
CASES = [
    ("exponential", (1000.0,), (1.0, 1e3, 1e5, 1e9)),
    ("weibull", (40.0, 1000.0), (500.0, 1000.0, 2500.0, 3000.0)),
    ("weibull", (0.5, 1000.0), (1.0, 1e9)),
    ("weibull_failure_free", (30.0, 1000.0, 200.0), (900.0, 3000.0)),
    ("lognormal", (7.0, 0.1), (500.0, 1100.0, 1e4, 1e9)),
    ("log_logistic", (50.0, 1000.0), (500.0, 1000.0, 1e5)),
    ("gamma", (3.0, 100.0), (50.0, 300.0, 1e5, 1e7)),
    ("gamma", (0.3, 100.0), (1.0, 1e5)),
    ("gamma", (900.0, 1.0), (800.0, 950.0, 2000.0, 1e5)),
    ("generalised_gamma", (7.0, 0.1, 2.0), (500.0, 1500.0, 3000.0)),
    ("generalised_gamma", (7.0, 0.1, 0.05), (500.0, 1100.0, 1e4)),
    ("generalised_gamma", (7.0, 0.1, -0.05), (500.0, 1100.0, 1e4)),
    ("generalised_gamma", (7.0, 0.1, -2.0), (500.0, 1500.0, 1e5)),
    ("generalised_gamma", (7.5, 0.5, 2.2), (20.0, 100.0, 400.0, 1500.0, 4000.0)),
    ("generalised_gamma", (7.5, 0.5, 3.0), (20.0, 100.0, 400.0, 1500.0, 3000.0, 9000.0)),
    ("generalised_gamma", (7.5, 0.5, 6.0), (5.0, 47.0, 400.0, 1500.0, 3000.0, 9000.0)),
    ("generalised_gamma", (7.5, 0.5, -3.0), (600.0, 1500.0, 1e4, 1e6)),
    ("inverse_gaussian", (2.0, 1000.0), (100.0, 1500.0, 1e6)),
    ("inverse_gaussian", (1e3, 1000.0), (900.0, 1001.0, 1e4, 1e5)),
    ("birnbaum_saunders", (0.05, 1000.0), (800.0, 1000.0, 5000.0, 1e5)),
    ("gompertz", (1e-4, 200.0), (0.5, 2000.0, 5000.0, 1e4)),
    ("normal", (1000.0, 50.0), (500.0, 1000.0, 1e4, 1e8)),
    ("logistic", (1000.0, 50.0), (500.0, 1000.0, 1e5)),
    ("smallest_extreme_value", (1500.0, 100.0), (500.0, 1500.0, 6000.0)),
    ("piecewise_constant(400, 900, 1500)", (1e-3, 2e-3, 0.5, 0.1), (100.0, 1000.0, 1e5)),
    ("above_zero(normal)", (1000.0, 50.0), (500.0, 1000.0, 1e4)),
    ("series(weibull, lognormal)", (40.0, 1000.0, 7.0, 0.1), (500.0, 3000.0)),
    ("mixture(weibull, lognormal)", (4.0, 1000.0, 7.0, 0.1, 0.3), (500.0, 1500.0, 3000.0)),
    ("never_fails(weibull)", (4.0, 1000.0, 0.01), (500.0, 1500.0)),
]


def coordinates(name, parameters):
    if name in COMBINED:
        links = {"series(weibull, lognormal)": "llpl", "mixture(weibull, lognormal)": "llpls"}.get(name, "lls")
    else:
        links = LINKS.get(name, "l" * len(parameters))
    ways = {"l": mp.log, "p": mp.mpf, "s": lambda p: mp.log(mp.mpf(p)) - mp.log1p(-mp.mpf(p))}
    return [ways[link](mp.mpf(p)) for link, p in zip(links, parameters, strict=True)]


def main():
    with (HERE / "hazards.csv").open("w") as out:
        out.write(f"# make_hazards.py, mpmath {mp.__version__}, 400 digits worked, 2026-11\n")
        out.write("# family; parameters; age; ln hazard\n")
        mp.mp.dps = 400
        for name, parameters, ages in CASES:
            x = coordinates(name, parameters)
            for age in ages:
                f, r, _ = {**TERMS, **COMBINED}[name](*x, mp.mpf(age))
                cells = [name, " ".join(repr(p) for p in parameters), repr(age), mp.nstr(f - r, 25)]
                out.write(";".join(cells) + "\n")


if __name__ == "__main__":
    main()
