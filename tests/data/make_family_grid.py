"""Rebuilds families/NAME.csv and family_means.csv with mpmath.

families/NAME.csv: ln f, ln R and ln F of a family at 200 points of its stated box, with first and second derivatives
over (coordinates.., age). Worked at 120 digits, derivatives by central differences of 1e-35; values are stored to 50
digits, derivatives to 25. family_means.csv: mean, variance, mean to an age and hours still to come, by quadrature.

    python make_family_grid.py              # all, about an hour
    python make_family_grid.py gamma        # one family and the means of all
"""

import sys
from pathlib import Path

import mpmath as mp

mp.mp.dps = 120

HERE = Path(__file__).parent
POINTS = 200
LN_2PI = mp.log(2 * mp.pi)


def upper(z):
    return mp.erfc(z / mp.sqrt(2)) / 2


def ln_upper(z):
    if abs(z) > 1e6:
        # Quadrature looks this far out, where nothing is left.
        return -z * z / 2 - LN_2PI / 2 - mp.log(z) if z > 0 else mp.mpf(0)
    return mp.log(upper(z)) if z > 0 else mp.log1p(-upper(-z))


def ln_one_minus_exp(w):
    return mp.log1p(-mp.exp(-w)) if w > 1 else mp.log(-mp.expm1(-w))


def softplus(z):
    return z + mp.log1p(mp.exp(-z)) if z > 0 else mp.log1p(mp.exp(z))


# Standard forms: ln f, ln R, ln F of one number.


def normal_form(z):
    return -z * z / 2 - LN_2PI / 2, ln_upper(z), ln_upper(-z)


def logistic_form(z):
    return -softplus(z) - softplus(-z), -softplus(z), -softplus(-z)


def extreme_form(z):
    w = mp.exp(z)
    return z - w, -w, ln_one_minus_exp(w)


def straight(form):
    def terms(location, ln_scale, t):
        f, r, p = form((t - location) / mp.exp(ln_scale))
        return f - ln_scale, r, p

    return terms


def logarithmic(form):
    def terms(ln_shape, ln_scale, t):
        f, r, p = form(mp.exp(ln_shape) * (mp.log(t) - ln_scale))
        return f + ln_shape - mp.log(t), r, p

    return terms


def exponential(ln_scale, t):
    w = t / mp.exp(ln_scale)
    return -ln_scale - w, -w, ln_one_minus_exp(w)


def lognormal(location, ln_scale, t):
    f, r, p = normal_form((mp.log(t) - location) / mp.exp(ln_scale))
    return f - ln_scale - mp.log(t), r, p


def gamma(ln_shape, ln_scale, t):
    a, x = mp.exp(ln_shape), t / mp.exp(ln_scale)
    f = a * mp.log(x) - x - mp.loggamma(a) - mp.log(t)
    if x < a:
        p = mp.gammainc(a, 0, x, regularized=True)
        return f, mp.log1p(-p), mp.log(p)
    q = mp.gammainc(a, x, mp.inf, regularized=True)
    return f, mp.log(q), mp.log1p(-q)


def inverse_gaussian(ln_shape, ln_mean, t):
    k, u = mp.exp(ln_shape), mp.log(t) - ln_mean
    a, b = (2 * mp.sqrt(k) * f(u / 2) for f in (mp.sinh, mp.cosh))
    density = (ln_shape - a * a - LN_2PI - u) / 2 - mp.log(t)
    if abs(a) > 1e5:
        # Quadrature looks this far out, where nothing is left on one side.
        return (density, -a * a / 2, mp.mpf(0)) if a > 0 else (density, mp.mpf(0), -a * a / 2)
    if a > 0:
        # The difference of two nearly equal terms costs digits.
        with mp.extradps(40):
            r = upper(a) - mp.exp(2 * k) * upper(b)
            return density, mp.log(r), mp.log1p(-r)
    p = upper(-a) + mp.exp(2 * k) * upper(b)
    return density, mp.log1p(-p), mp.log(p)


def birnbaum_saunders(ln_shape, ln_scale, t):
    half = (mp.log(t) - ln_scale) / 2
    f, r, p = normal_form(2 * mp.sinh(half) / mp.exp(ln_shape))
    return f + mp.log(mp.cosh(half)) - ln_shape - mp.log(t), r, p


def gompertz(ln_shape, ln_scale, t):
    y = t / mp.exp(ln_scale)
    if y > 1e6:
        # Quadrature looks this far out, where nothing is left.
        return -mp.inf, -mp.inf, mp.mpf(0)
    w = mp.exp(ln_shape) * mp.expm1(y)
    return ln_shape - ln_scale + y - w, -w, ln_one_minus_exp(w)


def above_zero(terms):
    def cut(*at):
        below = terms(*at[:-1], mp.mpf(0))
        f, r, _ = terms(*at)
        return f - below[1], r - below[1], ln_one_minus_exp(below[1] - r)

    return cut


TERMS = {
    "exponential": exponential,
    "weibull": logarithmic(extreme_form),
    "lognormal": lognormal,
    "log_logistic": logarithmic(logistic_form),
    "gamma": gamma,
    "inverse_gaussian": inverse_gaussian,
    "birnbaum_saunders": birnbaum_saunders,
    "gompertz": gompertz,
    "normal": straight(normal_form),
    "logistic": straight(logistic_form),
    "smallest_extreme_value": straight(extreme_form),
    "above_zero(normal)": above_zero(straight(normal_form)),
}

# Box of each family: ranges of its coordinates, range of the reduced age, and the age of (coordinates, reduced age).


def log(a, b):
    return float(mp.log(a)), float(mp.log(b))


def in_log(x, z):
    return mp.exp(x[1] + z / mp.exp(x[0]))


def in_hours(x, z):
    return x[0] + z * mp.exp(x[1])


def gamma_age(x, z):
    """Steps on the scale of the spread, ratios far below."""
    ratio = 1 + z / mp.sqrt(mp.exp(x[0]))
    return mp.exp(x[0] + x[1]) * (ratio if ratio > 0.2 else mp.exp(z))


def sinh_age(z, ln_shape):
    return 2 * mp.asinh(z / (2 * mp.sqrt(mp.exp(ln_shape))))


BOXES = {
    "exponential": ([log(0.1, 1e9)], (-40, 7), lambda x, z: mp.exp(x[0] + z)),
    "weibull": ([log(0.2, 70), log(1, 1e5)], (-40, 7), in_log),
    "lognormal": ([(0.0, 12.0), log(0.05, 3)], (-40, 40), lambda x, z: mp.exp(x[0] + z * mp.exp(x[1]))),
    "log_logistic": ([log(0.2, 60), log(1, 1e5)], (-60, 60), in_log),
    "gamma": ([log(0.1, 1000), log(1, 1e5)], (-12, 25), gamma_age),
    "inverse_gaussian": ([log(0.05, 1000), log(1, 1e5)], (-30, 30), lambda x, z: mp.exp(x[1] + sinh_age(z, x[0]))),
    "birnbaum_saunders": ([log(0.02, 5), log(1, 1e5)], (-40, 40), lambda x, z: mp.exp(x[1] + sinh_age(z, -2 * x[0]))),
    "gompertz": ([log(1e-6, 100), log(1, 1e5)], (-30, 7), lambda x, z: mp.exp(x[1]) * mp.log1p(mp.exp(z - x[0]))),
    "normal": ([(-1e5, 1e5), log(1, 1e5)], (-40, 40), in_hours),
    "logistic": ([(-1e5, 1e5), log(1, 1e5)], (-60, 60), in_hours),
    "smallest_extreme_value": ([(-1e5, 1e5), log(1, 1e5)], (-40, 7), in_hours),
    "above_zero(normal)": ([(-1e4, 1e5), log(1e3, 1e5)], (-13, 13), lambda x, z: mp.exp(x[1] + z)),
}
HOURS = {"normal", "logistic", "smallest_extreme_value", "above_zero(normal)"}


def halton(i, base):
    value, share = 0.0, 1.0
    while i:
        share /= base
        value += share * (i % base)
        i //= base
    return value


def points(name):
    box, (low, high), age = BOXES[name]
    out, i = [], 0
    while len(out) < POINTS:
        i += 1
        u = [halton(i, base) for base in (2, 3, 5, 7, 11)]
        x = tuple(round(a + v * (b - a), 6) for (a, b), v in zip(box, u[1:], strict=False))
        # Half of the points lie in the middle, half anywhere out to the far tails.
        z = low + u[0] * (high - low) if i % 2 else max(-6.0, low) + u[0] * (min(high, 4.0) - max(-6.0, low))
        t = float(f"{float(age(x, z)):.12g}")
        if abs(z) < 1e-3:
            # The rounding of the age would decide every digit of z.
            continue
        if name in HOURS or 1e-11 < t < 1e11:
            out.append((x, t))
    return out


def differences(terms, at, steps):
    """Values, gradients and packed lower Hessians of the three terms by central differences."""
    n = len(at)

    def moved(*by):
        x = list(at)
        for i, sign in by:
            x[i] += sign * steps[i]
        return terms(*x)

    here = terms(*at)
    side = [(moved((i, 1)), moved((i, -1))) for i in range(n)]
    signs = ((1, 1), (1, -1), (-1, 1), (-1, -1))
    cross = {(i, j): [moved((i, a), (j, b)) for a, b in signs] for i in range(n) for j in range(i)}
    for k, term in enumerate("fRF"):
        # Differences that are 0 to rounding become 0; ln f is a sum of parts of size 1 and more.
        noise = max(abs(here[k]), mp.mpf(1 if term == "f" else 0)) * mp.mpf(10) ** (6 - mp.mp.dps)

        def tidy(difference, step, noise=noise):
            return difference / step if abs(difference) > noise else mp.mpf(0)

        slopes = [tidy(a[k] - b[k], 2 * s) for (a, b), s in zip(side, steps, strict=True)]
        for i in range(n):
            for j in range(i):
                pp, pm, mp_, mm = (c[k] for c in cross[i, j])
                slopes.append(tidy(pp - pm - mp_ + mm, 4 * steps[i] * steps[j]))
            a, b = side[i]
            slopes.append(tidy(a[k] - 2 * here[k] + b[k], steps[i] ** 2))
        yield here[k], slopes


def write_grid(name):
    small = mp.mpf(10) ** -35
    with (HERE / "families" / f"{name.replace('(', '_').replace(')', '')}.csv").open("w") as out:
        out.write(f"# make_family_grid.py, mpmath {mp.__version__}, 120 digits worked, 2026-11\n")
        out.write(
            "# coordinates; age; term; value; first and packed lower second derivatives over (coordinates, age)\n"
        )
        for x, t in points(name):
            at = [mp.mpf(v) for v in (*x, t)]
            hours = mp.exp(at[1]) if name in HOURS else at[-1]
            steps = [small * (hours if name in HOURS and i == 0 else 1) for i in range(len(x))] + [small * hours]
            for term, (value, slopes) in zip("fRF", differences(TERMS[name], at, steps), strict=True):
                cells = [" ".join(repr(v) for v in x), repr(t), term, mp.nstr(value, 50)]
                out.write(";".join([*cells, " ".join(mp.nstr(v, 25) for v in slopes)]) + "\n")


# Parameters and ages at which moments are checked; marks of what is infinite: m the mean, v the variance.
MOMENTS = {
    "exponential": [((1000.0,), (50.0, 2500.0), "")],
    "weibull": [
        ((0.6, 1000.0), (20.0, 4000.0), ""),
        ((2.5, 1800.0), (900.0, 3000.0), ""),
        ((60.0, 1e4), (9500.0, 1e4), ""),
    ],
    "lognormal": [((7.0, 0.4), (600.0, 2500.0), ""), ((5.0, 1.8), (30.0, 4000.0), "")],
    "log_logistic": [
        ((0.8, 1000.0), (20.0, 4000.0), "mv"),
        ((1.0, 1000.0), (20.0, 4000.0), "mv"),
        ((1.7, 1000.0), (20.0, 4000.0), "v"),
        ((4.0, 1800.0), (900.0, 3000.0), ""),
        ((50.0, 1e4), (9500.0, 1e4), ""),
    ],
    "gamma": [
        ((0.4, 1000.0), (20.0, 1500.0), ""),
        ((3.0, 500.0), (600.0, 3000.0), ""),
        ((200.0, 10.0), (1900.0, 2300.0), ""),
    ],
    "inverse_gaussian": [((0.3, 1000.0), (60.0, 2500.0), ""), ((6.0, 1500.0), (700.0, 2500.0), "")],
    "birnbaum_saunders": [((0.3, 1500.0), (1000.0, 2200.0), ""), ((2.0, 1000.0), (100.0, 6000.0), "")],
    "gompertz": [((0.02, 400.0), (500.0, 2000.0), ""), ((3.0, 2000.0), (100.0, 1500.0), "")],
    "normal": [((1500.0, 400.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (300.0, 2500.0), "")],
    "logistic": [((1500.0, 250.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (300.0, 2500.0), "")],
    "above_zero(normal)": [((1500.0, 400.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (30.0, 500.0), "")],
    "smallest_extreme_value": [((1500.0, 250.0), (300.0, 1900.0), ""), ((-50.0, 400.0), (30.0, 500.0), "")],
}
LINKS = {"lognormal": "pl", **dict.fromkeys(HOURS, "pl")}
REACH_BELOW = HOURS - {"above_zero(normal)"}


class Moments:
    """Integrals of one life: in age for those that reach below 0, else in ln age, where every tail decays fast."""

    def __init__(self, name, parameters, ages):
        links = LINKS.get(name, "l" * len(parameters))
        x = [mp.log(p) if link == "l" else mp.mpf(p) for p, link in zip(parameters, links, strict=True)]
        self.straight = name in REACH_BELOW
        self.terms = lambda t: TERMS[name](*x, t)
        middle = mp.findroot(lambda t: self.terms(t)[1] + mp.log(2), ages, solver="anderson", tol=1e-20)
        if self.straight:
            scale = mp.mpf(parameters[1])
            self.cuts = [middle + scale * k for k in (-80, -30, -10, -5, -2, 0, 2, 5, 10, 30, 80)]
        else:
            spread = abs(mp.log(ages[1] / ages[0]))
            steps = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 12, 60, 300)
            centre = mp.log(middle)
            self.cuts = [centre - 200, centre - 40, *[centre - spread * k for k in steps[:0:-1] if spread * k < 40]]
            for k in steps:
                self.cuts.append(centre + spread * k)
                if self.terms(mp.exp(self.cuts[-1]))[1] < -300:
                    # Nothing is left here to 40 digits.
                    break

    def over(self, f, low=None, high=None):
        """Integral of f over (low, high), without an end to the end of the life."""
        if not self.straight:
            low, high = (None if end is None else mp.log(end) for end in (low, high))
        inside = [c for c in self.cuts if (low is None or c > low) and (high is None or c < high)]
        ends = ([] if low is None else [low]) + inside + ([] if high is None else [high])
        return mp.quad(f if self.straight else lambda u: f(mp.exp(u)) * mp.exp(u), ends)

    def density(self, t):
        return mp.exp(self.terms(t)[0])

    def reliability(self, t):
        return mp.exp(self.terms(t)[1])

    def mean(self):
        return self.over(lambda t: t * self.density(t) if self.straight else self.reliability(t))

    def variance(self, mean):
        return self.over(lambda t: (t - mean) ** 2 * self.density(t))

    def mean_to(self, age):
        return self.over(self.reliability, low=0 if self.straight else None, high=age)

    def rest(self, age):
        here = self.terms(mp.mpf(age))[1]
        return self.over(lambda t: mp.exp(self.terms(t)[1] - here), low=age)


def write_means():
    mp.mp.dps = 40
    with (HERE / "family_means.csv").open("w") as out:
        out.write(f"# make_family_grid.py, mpmath {mp.__version__}, quadrature at 40 digits, 2026-11\n")
        out.write("# family; parameters; age; mean; variance; mean to the age; mean residual life\n")
        for name, cases in MOMENTS.items():
            for parameters, ages, infinite in cases:
                life = Moments(name, parameters, ages)
                mean = mp.inf if "m" in infinite else life.mean()
                variance = mp.inf if "v" in infinite else life.variance(mean)
                for age in ages:
                    rest = mp.inf if "m" in infinite else life.rest(age)
                    cells = [name, " ".join(repr(p) for p in parameters), repr(age)]
                    values = [mp.nstr(v, 25) for v in (mean, variance, life.mean_to(age), rest)]
                    out.write(";".join([*cells, *values]) + "\n")
    mp.mp.dps = 120


def main():
    (HERE / "families").mkdir(exist_ok=True)
    write_means()
    for name in sys.argv[1:] or TERMS:
        write_grid(name)


if __name__ == "__main__":
    main()
