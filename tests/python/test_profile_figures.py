"""Profile intervals of any figure for families of three and more parameters, beside scipy's constrained search."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import relamp
from conftest import quiet_fit
from scipy import optimize, stats

CUT = stats.chi2.ppf(0.95, 1) / 2


class Mixed:
    """Two Weibull lives among each other, as scipy's frozen laws are."""

    def __init__(self, x: np.ndarray) -> None:
        self.parts = [stats.weibull_min(math.exp(x[i]), scale=math.exp(x[i + 1])) for i in (0, 2)]
        self.share = 1 / (1 + math.exp(-x[4]))

    def blend(self, of: Callable[[object], object]) -> object:
        return self.share * of(self.parts[0]) + (1 - self.share) * of(self.parts[1])  # type: ignore[operator]

    def logpdf(self, t: np.ndarray) -> np.ndarray:
        return np.log(self.blend(lambda law: law.pdf(t)))  # type: ignore[attr-defined]

    def logsf(self, t: np.ndarray) -> np.ndarray:
        return np.log(self.blend(lambda law: law.sf(t)))  # type: ignore[attr-defined]

    def mean(self) -> float:
        return float(self.blend(lambda law: law.mean()))  # type: ignore[attr-defined,arg-type]


def extended_gamma(x: np.ndarray) -> object:
    # ln T = location + scale / shape ln(shape^2 G), G gamma of shape 1 / shape^2.
    location, scale, q = x[0], math.exp(x[1]), x[2]
    return stats.gengamma(1 / q**2, q / scale, scale=math.exp(location) * (q * q) ** (scale / q))


def failure_free(x: np.ndarray) -> object:
    return stats.weibull_min(math.exp(x[0]), loc=x[2], scale=math.exp(x[1]))


CASES = {
    "generalised_gamma": (extended_gamma, ("weibull", {"shape": 2.0, "scale": 1000.0}), 1500.0),
    "weibull_failure_free": (
        failure_free,
        ("weibull_failure_free", {"shape": 2.5, "scale": 900.0, "location": 400.0}),
        2500.0,
    ),
    "mixture(weibull, weibull)": (
        Mixed,
        (
            "mixture(weibull, weibull)",
            {
                "first_shape": 1.5,
                "first_scale": 60.0,
                "second_shape": 5.0,
                "second_scale": 1500.0,
                "first_share": 0.3,
            },
        ),
        1700.0,
    ),
}

# A failure-free time is none below age 0.
BOUNDS = {"weibull_failure_free": [(None, None), (None, None), (0.0, None)]}


def figures(law: object) -> dict[str, float]:
    at = np.array([900.0, 600.0, 800.0])
    passed = law.logsf(at)  # type: ignore[attr-defined]
    # The search may stray to where no life is left.
    with np.errstate(invalid="ignore"):
        return {
            "mean": math.log(law.mean()),  # type: ignore[attr-defined]
            "hazard": float(law.logpdf(at[:1])[0] - passed[0]),  # type: ignore[attr-defined]
            "within": math.log(passed[1] - passed[2]),
            "own": float(passed[2] / passed[0]),
        }


@pytest.mark.parametrize("family", CASES)
def test_the_ends_lie_where_a_constrained_search_falls_to_the_cut(family: str) -> None:
    make, (truth, parameters), until = CASES[family]
    lives = relamp.life(truth, **parameters).draws(120, seed=5)
    failed, rest = lives[lives <= until], np.full(int((lives > until).sum()), until)
    tally = relamp.lives(np.minimum(lives, until), [t if t <= until else None for t in lives])
    fit = quiet_fit(tally, family=family)

    def fall(x: np.ndarray) -> float:
        with np.errstate(all="ignore"):
            law = make(x)
            value = float(np.sum(law.logpdf(failed)) + np.sum(law.logsf(rest)))  # type: ignore[attr-defined]
        return fit.log_likelihood - value if math.isfinite(value) else 1e6

    top = np.asarray(fit.coordinates, dtype=float)
    assert fall(top) == pytest.approx(0.0, abs=1e-8)

    def ratio(life: relamp.Life) -> float:
        return life.cumulative_hazard(800.0) / life.cumulative_hazard(900.0)

    asked: dict[str, tuple[dict[str, object], Callable[[float], float]]] = {
        "mean": ({"mean": True}, math.log),
        "hazard": ({"hazard": 900.0}, math.log),
        "within": ({"failure_within": (600.0, 200.0)}, lambda p: math.log(-math.log1p(-p))),
        "own": ({"function": ratio}, lambda v: v),
    }
    for name, (question, carried) in asked.items():
        got = fit.profile(tally, **question)  # type: ignore[arg-type]
        assert got.low is not None
        assert got.high is not None
        assert carried(got.estimate) == pytest.approx(figures(make(top))[name], rel=1e-6)
        for end in (got.low, got.high):
            want = carried(end)
            held = {"type": "eq", "fun": lambda x, name=name, want=want: figures(make(x))[name] - want}
            best = min(
                (
                    optimize.minimize(
                        fall,
                        start,
                        method="SLSQP",
                        bounds=BOUNDS.get(family),
                        constraints=held,
                        options={"maxiter": 500, "ftol": 1e-12},
                    )
                    for start in (top, top * (1 + 1e-3))
                ),
                key=lambda b: b.fun + 1e3 * abs(held["fun"](b.x)),  # type: ignore[operator]
            )
            assert abs(held["fun"](best.x)) < 1e-6  # type: ignore[operator]
            assert best.fun == pytest.approx(CUT, abs=2e-3), (name, end)
