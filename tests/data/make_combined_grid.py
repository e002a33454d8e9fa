"""Rebuilds families/NAME.csv and combined_means.csv for families made of others, with mpmath.

The same tables as those of make_family_grid.py beside it, whose terms, differences and quadrature it uses.

    python make_combined_grid.py            # all, about twenty minutes
"""

import sys

import mpmath as mp
from make_family_grid import BOXES, HERE, TERMS, differences, halton, ln_one_minus_exp, log

# Digits worked: one part's derivatives may be a hundred decades smaller than the other's.
WORKED = 420
# Derivatives by the dozen: fewer digits than the values, and still far more than are compared.
DIGITS = 20


def total(a, b):
    """ln(exp(a) + exp(b))."""
    top, low = max(a, b), min(a, b)
    return top + mp.log1p(mp.exp(low - top)) if low > -mp.inf else top


def other(y):
    """ln(1 - exp(y))."""
    return ln_one_minus_exp(-y) if y > -mp.inf else mp.mpf(0)


def series(first, second, split):
    def terms(*at):
        a, b = first(*at[:split], at[-1]), second(*at[split:])
        failed = total(a[2], a[1] + b[2])
        return total(a[0] + b[1], b[0] + a[1]), a[1] + b[1], failed

    return terms


def shares(c):
    """ln of a share and of the rest, from ln(share / rest)."""
    return -mp.log1p(mp.exp(-c)), -mp.log1p(mp.exp(c))


def mixture(first, second, split):
    def terms(*at):
        a, b = first(*at[:split], at[-1]), second(*at[split:-2], at[-1])
        p, q = shares(at[-2])
        f, r, failed = (total(p + x, q + y) for x, y in zip(a, b, strict=True))
        return f, (r if r < failed else other(failed)), (failed if failed < r else other(r))

    return terms


def never_fails(part):
    def terms(*at):
        f, r, failed = part(*at[:-2], at[-1])
        never, rest = shares(at[-2])
        r, failed = total(never, rest + r), rest + failed
        return rest + f, (r if r < failed else other(failed)), failed

    return terms


WEIBULL, LOGNORMAL, LOG_LOGISTIC = (TERMS[n] for n in ("weibull", "lognormal", "log_logistic"))
MADE = {
    "series(weibull, lognormal)": series(WEIBULL, LOGNORMAL, 2),
    "mixture(weibull, lognormal)": mixture(WEIBULL, LOGNORMAL, 2),
    "never_fails(weibull)": never_fails(WEIBULL),
    "mixture(series(weibull, log_logistic), never_fails(weibull))": mixture(
        series(WEIBULL, LOG_LOGISTIC, 2), never_fails(WEIBULL), 4
    ),
}
# The part whose reduced age is spread, and the places of its coordinates; how many points. Parts lie within a few
# decades of each other, so that both count at many ages.
WEIBULL_BOX, LOGNORMAL_BOX = [log(0.3, 20), log(100, 1e4)], [(4.0, 10.0), log(0.1, 2)]
SHARE_BOX = [(-6.0, 6.0)]
PLANS = {
    "series(weibull, lognormal)": (WEIBULL_BOX + LOGNORMAL_BOX, "weibull", 0, 200),
    "mixture(weibull, lognormal)": (WEIBULL_BOX + LOGNORMAL_BOX + SHARE_BOX, "weibull", 0, 200),
    "never_fails(weibull)": (WEIBULL_BOX + SHARE_BOX, "weibull", 0, 200),
    "mixture(series(weibull, log_logistic), never_fails(weibull))": (
        [*WEIBULL_BOX, log(0.3, 20), log(100, 10000.0), *WEIBULL_BOX, *SHARE_BOX, *SHARE_BOX],
        "weibull",
        4,
        60,
    ),
}
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29)


def points(name):
    box, part, at, count = PLANS[name]
    (low, high), age = BOXES[part][1:]
    out, i = [], 0
    while len(out) < count:
        i += 1
        u = [halton(i, base) for base in PRIMES]
        x = tuple(round(a + v * (b - a), 6) for (a, b), v in zip(box, u[1:], strict=False))
        z = low + u[0] * (high - low) if i % 2 else -6 + u[0] * 8
        t = float(f"{float(age(x[at : at + 2], z)):.12g}")
        if abs(z) > 1e-3 and 1e-11 < t < 1e11:
            out.append((x, t))
    return out


def file_name(name):
    return name.replace("(", "_").replace(", ", "_").replace(")", "")


def write_grid(name):
    mp.mp.dps = WORKED
    small = mp.mpf(10) ** -50
    with (HERE / "families" / f"{file_name(name)}.csv").open("w") as out:
        out.write(f"# make_combined_grid.py, mpmath {mp.__version__}, {WORKED} digits worked, 2026-11\n")
        out.write(
            "# coordinates; age; term; value; first and packed lower second derivatives over (coordinates, age)\n"
        )
        for x, t in points(name):
            at = [mp.mpf(v) for v in (*x, t)]
            steps = [small] * len(x) + [small * at[-1]]
            for term, (value, slopes) in zip("fRF", differences(MADE[name], at, steps), strict=True):
                cells = [" ".join(repr(v) for v in x), repr(t), term, mp.nstr(value, 50)]
                out.write(";".join([*cells, " ".join(mp.nstr(v, DIGITS) for v in slopes)]) + "\n")


# Coordinates, ages, and marks of what is infinite: m the mean, v the variance.
LIVES = [
    ("series(weibull, lognormal)", (0.7, 4000.0, 7.0, 0.4), (300.0, 1500.0), ""),
    ("series(log_logistic, log_logistic)", (0.7, 800.0, 0.6, 2000.0), (300.0, 5000.0), "v"),
    ("series(log_logistic, log_logistic)", (0.4, 800.0, 0.5, 2000.0), (300.0, 5000.0), "mv"),
    ("mixture(weibull, lognormal)", (0.9, 60.0, 7.2, 0.3, 0.08), (40.0, 1500.0), ""),
    ("mixture(weibull, weibull)", (1.2, 500.0, 6.0, 2500.0, 0.3), (200.0, 2000.0), ""),
]
TERMS_OF = {
    **MADE,
    "series(log_logistic, log_logistic)": series(LOG_LOGISTIC, LOG_LOGISTIC, 2),
    "mixture(weibull, weibull)": mixture(WEIBULL, WEIBULL, 2),
}
LINKS = {
    "series(weibull, lognormal)": "llpl",
    "mixture(weibull, lognormal)": "llpls",
    "mixture(weibull, weibull)": "lllls",
    "series(log_logistic, log_logistic)": "llll",
}


def coordinate(link, p):
    p = mp.mpf(p)
    return {"l": mp.log, "p": lambda v: v, "s": lambda v: mp.log(v / (1 - v))}[link](p)


def write_means():
    mp.mp.dps = 40
    # Every tail falls by quadrature in ln age, cut fine enough for both parts.
    cuts = [mp.mpf(c) for c in (-230, -100, -60, -30, -15, -5, 0, *[k / 4 for k in range(8, 60)], 20, 30, 60, 120, 400)]
    with (HERE / "combined_means.csv").open("w") as out:
        out.write(f"# make_combined_grid.py, mpmath {mp.__version__}, quadrature at 40 digits, 2026-11\n")
        out.write("# family; parameters; age; mean; variance; mean to the age; mean residual life\n")
        for name, parameters, ages, infinite in LIVES:
            x = [coordinate(link, p) for link, p in zip(LINKS[name], parameters, strict=True)]

            def term(k, t, name=name, x=x):
                return TERMS_OF[name](*x, t)[k]

            def over(f, low=None, high=None):
                inside = [c for c in cuts if (low is None or c > low) and (high is None or c < high)]
                ends = ([] if low is None else [low]) + inside + ([] if high is None else [high])
                return mp.quad(lambda u: f(mp.exp(u)) * mp.exp(u), ends)

            def reliability(t, term=term):
                return mp.exp(term(1, t))

            mean = mp.inf if "m" in infinite else over(reliability)
            variance = mp.inf
            if "v" not in infinite:
                variance = over(lambda t, term=term, mean=mean: (t - mean) ** 2 * mp.exp(term(0, t)))
            for age in ages:
                rest = mp.inf if "m" in infinite else over(reliability, low=mp.log(age)) / reliability(mp.mpf(age))
                to = over(reliability, high=mp.log(age))
                cells = [name, " ".join(repr(p) for p in parameters), repr(age)]
                out.write(";".join([*cells, *(mp.nstr(v, 25) for v in (mean, variance, to, rest))]) + "\n")


if __name__ == "__main__":
    write_means()
    for made in sys.argv[1:] or MADE:
        write_grid(made)
