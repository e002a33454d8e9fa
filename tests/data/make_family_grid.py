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


def failure_free(ln_shape, ln_scale, location, t):
    if t <= location:
        return -mp.inf, mp.mpf(0), -mp.inf
    u = mp.exp(ln_shape) * (mp.log(t - location) - ln_scale)
    f, r, p = extreme_form(u)
    return f + ln_shape - mp.log(t - location), r, p


# Shapes of the generalised gamma below which its logarithms are read off a polynomial through these nodes: they run
# through shape 0 smoothly, where the formula itself divides by 0.
NEAR_ZERO = 0.03
NODES = [mp.mpf(5) / 100 * mp.cos((2 * k + 1) * mp.pi / 56) for k in range(28)]
WEIGHTS = [(-1) ** k * mp.sin((2 * k + 1) * mp.pi / 56) for k in range(28)]


def lower_far(a, x):
    """ln P(a, x) below the shape, by the series of positive terms."""
    term, total, k = mp.mpf(1), mp.mpf(1), a
    while term > total * mp.eps:
        k += 1
        term *= x / k
        total += term
    return a * mp.log(x) - x - mp.loggamma(a + 1) + mp.log(total)


def upper_far(a, x):
    """ln Q(a, x) above the shape, by the continued fraction."""
    b = x + 1 - a
    c, d = mp.mpf(10) ** 300, 1 / b
    h, i, change = d, 0, mp.mpf(2)
    while abs(change - 1) > mp.eps:
        i += 1
        n = -i * (i - a)
        b += 2
        d = 1 / (n * d + b)
        c = b + n / c
        change = c * d
        h *= change
    return a * mp.log(x) - x - mp.loggamma(a) + mp.log(h)


def near_tails(a, x):
    """ln P and ln Q not far above the shape."""
    try:
        if x < a:
            p = mp.gammainc(a, 0, x, regularized=True)
            return mp.log(p), mp.log1p(-p)
        rest = mp.gammainc(a, x, mp.inf, regularized=True)
        return mp.log1p(-rest), mp.log(rest)
    except mp.libmp.NoConvergence:
        # One less P keeps its digits up to 20 standard deviations above the middle.
        with mp.extradps(120):
            p = lower_far(a, x)
            return p, mp.log1p(-mp.exp(p))


def prentice(w, q):
    """ln f, ln R and ln F of w = ln(q^2 G) / q, G gamma of shape 1 / q^2."""
    a = 1 / q**2
    ln = mp.log(a) + q * w
    x = mp.exp(ln)
    f = mp.log(abs(q)) + a * ln - x - mp.loggamma(a)
    if ln > 25 and x > 1e6 * a:
        # Quadrature looks this far out, where nothing is left.
        below = mp.mpf(0), f - mp.log(abs(q)) - ln
    elif x < a + 20 * mp.sqrt(a):
        below = near_tails(a, x)
    else:
        rest = upper_far(a, x)
        below = mp.log1p(-mp.exp(rest)), rest
    return (f, below[1], below[0]) if q > 0 else (f, *below)


def generalised_gamma(location, ln_scale, q, t):
    w = (mp.log(t) - location) / mp.exp(ln_scale)
    if abs(q) > NEAR_ZERO:
        out = prentice(w, q)
    else:
        # The logarithm of the small tail is smooth; the other one follows from it.
        side = 1 if w > 0 else 2
        shares = [v / (q - node) for node, v in zip(NODES, WEIGHTS, strict=True)]
        at = [prentice(w, node) for node in NODES]
        f, small = (mp.fdot(shares, [v[k] for v in at]) / mp.fsum(shares) for k in (0, side))
        large = mp.log1p(-mp.exp(small))
        out = (f, small, large) if side == 1 else (f, large, small)
    return out[0] - ln_scale - mp.log(t), out[1], out[2]


CUTS = (400, 900, 1500)


def pieces(*at):
    *ln_hazards, t = at
    sum_, before, here = mp.mpf(0), mp.mpf(0), ln_hazards[0]
    for ln_hazard, cut in zip(ln_hazards, (*CUTS, mp.inf), strict=True):
        if t > before:
            here = ln_hazard
            sum_ += mp.exp(ln_hazard) * (min(t, cut) - before)
        before = mp.mpf(cut)
    return here - sum_, -sum_, ln_one_minus_exp(sum_)


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
    "weibull_failure_free": failure_free,
    "generalised_gamma": generalised_gamma,
    "piecewise_constant(400, 900, 1500)": pieces,
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


def prentice_age(x, z):
    """The age whose tail has about the weight of the normal tail at z."""
    q = x[2]
    if abs(q) < 1e-9:
        return mp.exp(x[0] + mp.exp(x[1]) * z)
    half = (q * z) ** 2 / 2
    if half < 1e-6:
        y = q * z
    elif q * z > 0:
        y = mp.findroot(lambda y: mp.expm1(y) - y - half, mp.log1p(half + mp.sqrt(2 * half)), tol=1e-10)
    else:
        y = mp.findroot(lambda y: mp.expm1(y) - y - half, -half - mp.sqrt(2 * half), tol=1e-10)
    return mp.exp(x[0] + mp.exp(x[1]) * y / q)


def pieces_age(x, z):
    left, before = mp.exp(z), mp.mpf(0)
    for ln_hazard, cut in zip(x, (*CUTS, mp.inf), strict=True):
        here = mp.exp(ln_hazard) * (cut - before)
        if left < here:
            return before + left / mp.exp(ln_hazard)
        left -= here
        before = mp.mpf(cut)


BOXES = {
    "exponential": ([log(0.1, 1e9)], (-40, 7), lambda x, z: mp.exp(x[0] + z)),
    "weibull": ([log(0.2, 70), log(1, 1e5)], (-40, 7), in_log),
    "lognormal": ([(0.0, 12.0), log(0.05, 3)], (-40, 40), lambda x, z: mp.exp(x[0] + z * mp.exp(x[1]))),
    "log_logistic": ([log(0.2, 60), log(1, 1e5)], (-60, 60), in_log),
    "gamma": ([log(0.1, 1000), log(1, 1e5)], (-12, 25), gamma_age),
    "inverse_gaussian": ([log(0.05, 1000), log(1, 1e5)], (-30, 30), lambda x, z: mp.exp(x[1] + sinh_age(z, x[0]))),
    "birnbaum_saunders": ([log(0.02, 5), log(1, 1e5)], (-40, 40), lambda x, z: mp.exp(x[1] + sinh_age(z, -2 * x[0]))),
    "gompertz": ([log(1e-6, 100), log(1, 1e5)], (-30, 7), lambda x, z: mp.exp(x[1]) * mp.log1p(mp.exp(z - x[0]))),
    "weibull_failure_free": (
        [log(0.2, 70), log(1, 1e5), (0.0, 1e5)],
        (-40, 7),
        lambda x, z: x[2] + mp.exp(x[1] + z / mp.exp(x[0])),
    ),
    "generalised_gamma": ([(0.0, 12.0), log(0.05, 3), (-3.0, 3.0)], (-30, 30), prentice_age),
    "piecewise_constant(400, 900, 1500)": ([log(1e-7, 0.1)] * 4, (-20, 7), pieces_age),
    "normal": ([(-1e5, 1e5), log(1, 1e5)], (-40, 40), in_hours),
    "logistic": ([(-1e5, 1e5), log(1, 1e5)], (-60, 60), in_hours),
    "smallest_extreme_value": ([(-1e5, 1e5), log(1, 1e5)], (-40, 7), in_hours),
    "above_zero(normal)": ([(-1e4, 1e5), log(1e3, 1e5)], (-13, 13), lambda x, z: mp.exp(x[1] + z)),
}
HOURS = {"normal", "logistic", "smallest_extreme_value", "above_zero(normal)"}
# Where the location in hours stands among the coordinates.
LOCATION = {**dict.fromkeys(HOURS, 0), "weibull_failure_free": 2}


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
        if name == "generalised_gamma" and i % 3 == 0:
            # Near the lognormal limit and at it.
            x = (*x[:2], 0.0 if i % 12 == 0 else round(x[2] / 100, 6))
            z = max(-20, min(20, z))
        t = float(f"{float(age(x, z)):.12g}")
        if abs(z) < 1e-3 or (name == "weibull_failure_free" and t <= x[2]):
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
    with (HERE / "families" / f"{name.replace('(', '_').replace(', ', '_').replace(')', '')}.csv").open("w") as out:
        out.write(f"# make_family_grid.py, mpmath {mp.__version__}, 120 digits worked, 2026-11\n")
        out.write(
            "# coordinates; age; term; value; first and packed lower second derivatives over (coordinates, age)\n"
        )
        for x, t in points(name):
            near_zero = name == "generalised_gamma" and abs(x[2]) <= NEAR_ZERO
            # The polynomial is good to some 25 digits, so that 60 are enough around it.
            with mp.workdps(60 if near_zero else 120):
                for line in lines(name, x, t, mp.mpf(10) ** (-17 if near_zero else -35)):
                    out.write(line)


def lines(name, x, t, small):
    at = [mp.mpf(v) for v in (*x, t)]
    hours = mp.exp(at[1]) if name in HOURS else at[-1]
    if name == "weibull_failure_free":
        hours = at[-1] - at[2]
    steps = [small * (hours if LOCATION.get(name) == i else 1) for i in range(len(x))] + [small * hours]
    for term, (value, slopes) in zip("fRF", differences(TERMS[name], at, steps), strict=True):
        cells = [" ".join(repr(v) for v in x), repr(t), term, mp.nstr(value, 50)]
        yield ";".join([*cells, " ".join(mp.nstr(v, 25) for v in slopes)]) + "\n"


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
    "weibull_failure_free": [
        ((0.8, 1000.0, 200.0), (150.0, 2500.0), ""),
        ((2.5, 900.0, 600.0), (500.0, 1800.0), ""),
    ],
    "generalised_gamma": [
        ((7.0, 0.4, 0.04), (600.0, 2500.0), ""),
        ((7.0, 0.5, 0.6), (600.0, 2500.0), ""),
        ((7.0, 0.5, 1.8), (600.0, 2500.0), ""),
        ((6.0, 0.5, -0.7), (300.0, 2500.0), ""),
        ((6.0, 0.8, -1.0), (300.0, 2500.0), "v"),
        ((6.0, 0.9, -1.5), (300.0, 2500.0), "mv"),
    ],
    "piecewise_constant(400, 900, 1500)": [((1e-3, 2e-4, 3e-6, 1e-4), (300.0, 1700.0), "")],
    "normal": [((1500.0, 400.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (300.0, 2500.0), "")],
    "logistic": [((1500.0, 250.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (300.0, 2500.0), "")],
    "above_zero(normal)": [((1500.0, 400.0), (300.0, 2500.0), ""), ((-50.0, 400.0), (30.0, 500.0), "")],
    "smallest_extreme_value": [((1500.0, 250.0), (300.0, 1900.0), ""), ((-50.0, 400.0), (30.0, 500.0), "")],
}
LINKS = {"lognormal": "pl", **dict.fromkeys(HOURS, "pl"), "weibull_failure_free": "llp", "generalised_gamma": "plp"}
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
        # Ages at which a curve has a corner.
        corners = {"weibull_failure_free": parameters[2:], "piecewise_constant(400, 900, 1500)": CUTS}.get(name, ())
        self.cuts = sorted({*self.cuts, *(mp.log(mp.mpf(c)) for c in corners)})

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
