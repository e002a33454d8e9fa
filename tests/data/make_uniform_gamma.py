"""Rebuilds src/base/math/uniform_gamma.rs: exact fractions, and a check of their sum at 40 digits.

python make_uniform_gamma.py
"""

from fractions import Fraction
from math import comb
from pathlib import Path

import mpmath as mp

ROWS, POWERS = 11, 31
LENGTH = POWERS + 2 * ROWS + 4


def lambda_series():
    """lambda in powers of eta, from lambda lambda' = eta (1 + lambda)."""
    a = [Fraction(0)] * (LENGTH + 1)
    a[1] = Fraction(1)
    for n in range(2, LENGTH + 1):
        known = sum(a[i] * (n + 1 - i) * a[n + 1 - i] for i in range(2, n))
        a[n] = (a[n - 1] - known) / (n + 1)
    return a


def inverse_series(a):
    """eta / lambda in powers of eta."""
    b = [Fraction(0)] * LENGTH
    b[0] = Fraction(1)
    for n in range(1, LENGTH):
        b[n] = -sum(a[i + 1] * b[n - i] for i in range(1, n + 1))
    return b


def stirling():
    """g_k of Gamma(a) = Stirling's formula times the sum of g_k / a^k."""
    bernoulli = []
    for m in range(2 * ROWS + 2):
        bernoulli.append(
            Fraction(1) if m == 0 else -sum(comb(m + 1, j) * bernoulli[j] for j in range(m)) / Fraction(m + 1)
        )
    logs = [Fraction(0)] * (ROWS + 1)
    for j in range(1, ROWS):
        if 2 * j - 1 <= ROWS:
            logs[2 * j - 1] = bernoulli[2 * j] / (2 * j * (2 * j - 1))
    g = [Fraction(1)]
    for n in range(1, ROWS + 1):
        g.append(sum(k * logs[k] * g[n - k] for k in range(1, n + 1)) / n)
    return g


def rows():
    inverse, g = inverse_series(lambda_series()), stirling()
    c = [[inverse[n + 1] for n in range(LENGTH - 1)]]
    for k in range(1, ROWS):
        last, sign = c[-1], -1 if k % 2 else 1
        assert last[1] + sign * g[k] == 0, "the pole at eta = 0 must cancel"
        c.append([(n + 2) * last[n + 2] + sign * g[k] * inverse[n + 1] for n in range(len(last) - 2)])
    return [row[: max(POWERS - 3 * k, 3)] for k, row in enumerate(c)]


def check(table):
    mp.mp.dps = 40
    worst = mp.mpf(0)
    for a in (44.5, 100, 5000):
        for eta in (-1, -0.7, -0.1, 0.2, 0.6, 1):
            half = mp.mpf(eta) ** 2 / 2
            lam = mp.findroot(lambda y, half=half: y - mp.log1p(y) - half, eta + eta**2 / 3)
            q, x = 1 / mp.sqrt(a), a * (1 + lam)
            z = eta / q
            total = sum(
                mp.mpf(v.numerator) / v.denominator * mp.mpf(eta) ** n * q ** (2 * k)
                for k, row in enumerate(table)
                for n, v in enumerate(row)
            )
            part = mp.exp(-z * z / 2) / mp.sqrt(2 * mp.pi) * q * total
            if eta > 0:
                exact, ours = mp.gammainc(a, x) / mp.gamma(a), mp.erfc(z / mp.sqrt(2)) / 2 + part
            else:
                exact, ours = mp.gammainc(a, 0, x) / mp.gamma(a), mp.erfc(-z / mp.sqrt(2)) / 2 - part
            worst = max(worst, abs(ours / exact - 1))
    assert worst < 1e-17, worst


def literal(v):
    """A Rust literal with its digits in groups of three."""
    mantissa, _, exponent = repr(float(v)).partition("e")
    sign, mantissa = ("-", mantissa[1:]) if mantissa.startswith("-") else ("", mantissa)
    whole, _, rest = mantissa.partition(".")
    rest = "_".join(rest[i : i + 3] for i in range(0, len(rest), 3)) or "0"
    return f"{sign}{whole}.{rest}" + (f"e{int(exponent)}" if exponent else "")


def main():
    table = rows()
    check(table)
    path = Path(__file__).parents[2] / "src/base/math/uniform_gamma.rs"
    text = path.read_text()
    head = text[: text.index("pub(super) const")]
    body = "".join("    &[\n" + "".join(f"        {literal(v)},\n" for v in row) + "    ],\n" for row in table)
    path.write_text(f"{head}pub(super) const ROWS: [&[f64]; {ROWS}] = [\n{body}];\n")


main()
