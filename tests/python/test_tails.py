"""Densities, variances and derivatives of lives, hazards far out, and intervals that say where they are weak."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
import relamp
from conftest import quiet_fit
from relamp import plots_model
from scipy import stats

LOW = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
TALLY = relamp.lives(LOW, [*LOW[:10], None, None])
AGES = np.array([100.0, 700.0, 1500.0])

# Our life beside scipy's own; scipy has the same formulas under other names of parameters.
BESIDE: list[tuple[str, dict[str, float], Any]] = [
    ("exponential", {"scale": 900.0}, stats.expon(scale=900.0)),
    ("weibull", {"shape": 2.5, "scale": 1200.0}, stats.weibull_min(2.5, scale=1200.0)),
    ("lognormal", {"location": 7.0, "scale": 0.4}, stats.lognorm(0.4, scale=math.exp(7.0))),
    ("log_logistic", {"shape": 4.0, "scale": 1000.0}, stats.fisk(4.0, scale=1000.0)),
    ("gamma", {"shape": 3.0, "scale": 400.0}, stats.gamma(3.0, scale=400.0)),
    ("normal", {"location": 1200.0, "scale": 300.0}, stats.norm(1200.0, 300.0)),
    ("smallest_extreme_value", {"location": 1200.0, "scale": 300.0}, stats.gumbel_l(1200.0, 300.0)),
]


@pytest.mark.parametrize(("family", "parameters", "other"), BESIDE)
def test_density_and_variance_are_those_of_scipy(family: str, parameters: dict[str, float], other: Any) -> None:
    life = relamp.life(family, **parameters)
    assert life.density(AGES) == pytest.approx(other.pdf(AGES), rel=1e-11)
    assert life.density(700.0) == pytest.approx(math.exp(life.ln_density(700.0)), rel=1e-14)
    assert life.variance == pytest.approx(other.var(), rel=1e-10)
    for name, of in (
        ("ln_density", other.logpdf),
        ("ln_reliability", other.logsf),
        ("ln_failure_probability", other.logcdf),
    ):
        assert getattr(life, f"{name}_derivatives")(700.0)["value"] == pytest.approx(of(700.0), rel=1e-11)


def test_derivatives_are_over_the_parameters_themselves() -> None:
    shape, scale, age = 2.5, 1200.0, 700.0
    found = relamp.life("weibull", shape=shape, scale=scale).ln_reliability_derivatives(age)
    # By hand from ln R = -(t / scale)^shape.
    w, ln = (age / scale) ** shape, math.log(age / scale)
    assert found["names"] == ["shape", "scale", "age"]
    assert found["value"] == pytest.approx(-w, rel=1e-14)
    assert found["gradient"] == pytest.approx([-w * ln, w * shape / scale, -w * shape / age], rel=1e-13)
    mixed = w * (1.0 + shape * ln)
    want = [
        [-w * ln * ln, mixed / scale, -mixed / age],
        [mixed / scale, -w * shape * (shape + 1) / scale**2, w * shape**2 / (scale * age)],
        [-mixed / age, w * shape**2 / (scale * age), -w * shape * (shape - 1) / age**2],
    ]
    assert found["hessian"].tolist() == [pytest.approx(row, rel=1e-12) for row in want]


def test_derivatives_over_a_share_are_those_of_differences() -> None:
    numbers = {"shape": 2.0, "scale": 1000.0, "never_share": 0.2}
    found = relamp.life("never_fails(weibull)", **numbers).ln_density_derivatives(800.0)
    assert found["names"] == [*numbers, "age"]
    # ln f = ln(1 - never_share) + ..., so by hand -1 / 0.8 and -1 / 0.64.
    assert found["gradient"][2] == pytest.approx(-1.25, rel=1e-12)
    assert found["hessian"][2][2] == pytest.approx(-1.5625, rel=1e-11)
    assert found["hessian"][2][0] == pytest.approx(0.0, abs=1e-12)


def test_hazards_far_out_are_right() -> None:
    # Weibull: shape / scale (t / scale)^(shape - 1).
    assert relamp.life("weibull", shape=40.0, scale=1000.0).hazard(3000.0) == pytest.approx(0.04 * 3.0**39, rel=1e-13)
    steep = relamp.life("gompertz", shape=1e-4, scale=200.0)
    assert steep.hazard(1e4) == pytest.approx(1e-4 / 200.0 * math.exp(50.0), rel=1e-13)
    assert relamp.life("exponential", scale=500.0).hazard(math.inf) == pytest.approx(0.002, rel=1e-14)


def test_few_replicates_and_rounded_ends_are_said() -> None:
    few = relamp.bootstrap(TALLY, replicates=5, seed=1).interval(parameter="shape", level=0.99)
    assert any("take 200 or more" in text for _, text in few.notes)
    many = relamp.bootstrap(TALLY, replicates=60, seed=1).interval(parameter="shape", level=0.95)
    assert not any("or more" in text for _, text in many.notes)
    fit = quiet_fit(TALLY)
    gone = fit.wald(reliability=1e6)
    assert (gone.low, gone.high) == (0.0, 0.0)
    assert any("none that can be written" in text for _, text in gone.notes)
    with pytest.raises(relamp.InputError, match="only a function has a scale"):
        fit.wald(parameter="shape", scale="positive")


def test_sentences_name_families_and_rows_as_people_do() -> None:
    fits = [quiet_fit(TALLY, family=name) for name in ("weibull", "log_logistic")]
    said = relamp.family_verdict(TALLY, fits=fits, age_hours=800.0).verdict
    assert "log-logistic" in said
    assert "log_logistic" not in said
    with pytest.raises(relamp.RefusedError, match="tally in order of age, row 1"):
        relamp.fit(relamp.lives([500.0, 0.0, 700.0]))
    with pytest.raises(relamp.InputError, match=r"'x' of type str, expected a relamp\.Tally"):
        relamp.fit("x")  # type: ignore[arg-type]
    with pytest.raises(relamp.InputError, match=r"None, expected a relamp\.Fit"):
        relamp.likelihood_ratio(TALLY, narrow=None, wide=fits[0])  # type: ignore[arg-type]


def test_the_plot_of_families_writes_every_share_and_its_band_reaches_the_end_of_the_records() -> None:
    tally = relamp.lives([*LOW[:10], 5952], [*LOW[:10], None])
    fits = [quiet_fit(tally, family=name) for name in ("exponential", "weibull", "lognormal", "gamma")]
    ax = plots_model.families(relamp.product_limit(tally), fits, age_hours=3000.0)
    bottom, top = ax.get_ylim()
    shares = [text for text in ax.texts if text.get_text().endswith(" %")]
    assert len(shares) == 4
    places = sorted(text.xy[1] for text in shares)  # type: ignore[attr-defined]
    assert places[0] > bottom
    assert places[-1] < top
    assert min(b - a for a, b in itertools.pairwise(places)) > 0.05 * (top - bottom)
    (band,) = ax.collections
    assert max(x for path in band.get_paths() for x in path.vertices[:, 0]) == pytest.approx(5952.0)


def test_the_ticks_of_a_probability_plot_stand_apart() -> None:
    ages = [60.0, 80.0, 95.0, 110.0, 120.0, *[900.0 + 12.0 * i for i in range(45)]]
    tally = relamp.lives(ages)
    fit = quiet_fit(tally, family="mixture(weibull, weibull)")
    ax = plots_model.probability(relamp.probability_plot(relamp.product_limit(tally), fit=fit), fit)
    bottom, top = ax.get_ylim()
    ticks = list(ax.get_yticks())
    assert min(b - a for a, b in itertools.pairwise(ticks)) >= 0.04 * (top - bottom) - 1e-12
