"""Rebuilds family_grid.csv: ln f, ln R, ln F of each family with first and second derivatives over
(coordinates.., age), and the integral of R over (0, age), by mpmath at 80 digits.

    python make_family_grid.py        # needs mpmath; about a minute
"""

import mpmath as mp

mp.mp.dps = 80

LN_2PI = mp.log(2 * mp.pi)


def upper(z):
    return mp.erfc(z / mp.sqrt(2)) / 2


def ln_rest(p):
    """ln(1 - p) without loss for p near 0."""
    return mp.log1p(-p)


def ln_one_minus_exp(w):
    return ln_rest(mp.exp(-w)) if w > 1 else mp.log(-mp.expm1(-w))


def exponential(term):
    def f(c, t):
        w = t / mp.exp(c)
        return {"f": -c - w, "R": -w, "F": ln_one_minus_exp(w)}[term]

    return f


def weibull(term):
    def f(b, c, t):
        k = mp.exp(b)
        u = k * (mp.log(t) - c)
        w = mp.exp(u)
        if term == "f":
            return b - mp.log(t) + u - w
        return -w if term == "R" else ln_one_minus_exp(w)

    return f


def lognormal(term):
    def f(m, s, t):
        z = (mp.log(t) - m) / mp.exp(s)
        if term == "f":
            return -z * z / 2 - LN_2PI / 2 - s - mp.log(t)
        z = z if term == "R" else -z
        return mp.log(upper(z)) if z > 0 else ln_rest(upper(-z))

    return f


def mean_to(name, x, t):
    if name == "exponential":
        return -mp.exp(x[0]) * mp.expm1(-t / mp.exp(x[0]))
    if name == "weibull":
        k, s = mp.exp(x[0]), mp.exp(x[1])
        return s / k * mp.gammainc(1 / k, 0, (t / s) ** k)
    m, s = x[0], mp.exp(x[1])
    z = (mp.log(t) - m) / s
    return mp.exp(m + s * s / 2) * upper(s - z) + t * upper(z)


def derivatives(f, at):
    n = len(at)

    def unit(*i):
        return tuple(sum(1 for j in i if j == k) for k in range(n))

    with mp.workdps(140):
        first = [mp.diff(f, at, unit(i)) for i in range(n)]
        second = [mp.diff(f, at, unit(i, j)) for i in range(n) for j in range(i + 1)]
    return first, second


POINTS = {
    "exponential": [((c,), t) for c in (-2.0, 0.0, 7.5, 20.0) for t in (1e-9, 0.3, 40.0, 1800.0, 9e4)],
    "weibull": [
        ((b, c), t) for b in (-1.2, 0.0, 0.8, 2.0) for c in (7.0, 8.25) for t in (1e-3, 20.0, 700.0, 3000.0, 5200.0)
    ]
    + [((4.248495242049359, 11.512925464970229), t) for t in (5e4, 9e4, 99000.0, 1e5, 1.04e5)],
    "lognormal": [
        ((m, s), t)
        for m in (5.0, 7.6)
        for s in (-1.5, -0.4, 0.5)
        for t in (1e-3, 8.0, 90.0, 400.0, 2000.0, 2500.0, 9000.0, 1e6)
    ],
}
FAMILIES = {"exponential": exponential, "weibull": weibull, "lognormal": lognormal}


def show(v):
    return mp.nstr(v, 50, strip_zeros=True)


def main():
    with open("family_grid.csv", "w") as out:
        out.write(f"# make_family_grid.py, mpmath {mp.__version__}, 80 digits worked, 50 stored, 2026-11\n")
        out.write(
            "# packed lower Hessian over (coordinates.., age); one coordinate: x2 and its derivatives are blank\n"
        )
        out.write("family,x1,x2,age,term,value,mean_to,derivatives\n")
        for name, points in POINTS.items():
            for x, t in points:
                x_mp, t_mp = tuple(mp.mpf(v) for v in x), mp.mpf(t)
                area = mean_to(name, x_mp, t_mp)
                for term in "fRF":
                    f = FAMILIES[name](term)
                    first, second = derivatives(f, (*x_mp, t_mp))
                    x2 = repr(x[1]) if len(x) > 1 else ""
                    row = [name, repr(x[0]), x2, repr(t), term, show(f(*x_mp, t_mp)), show(area)]
                    out.write(",".join([*row, " ".join(show(v) for v in first + second)]) + "\n")


main()
