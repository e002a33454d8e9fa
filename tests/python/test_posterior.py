"""Posteriors beside scipy's quadrature of the same prior and likelihood."""

from __future__ import annotations

import pickle
from collections.abc import Callable

import numpy as np
import pytest
import relamp
from scipy import integrate, stats

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.2.1: 20 units, 10 failures by 500 h.
FAILED = [54.0, 187, 216, 240, 244, 335, 361, 373, 375, 386]
TALLY = relamp.lives(FAILED + [500.0] * 10, [*FAILED, *[None] * 10])


def by_scipy(prior: Callable[[float], float], low: float, high: float) -> dict[str, float]:
    """Means and chances over (ln b10, ln shape) by nested adaptive quadrature."""
    top = relamp.fit(TALLY).log_likelihood

    def density(u: float, c: float) -> float:
        shape = np.exp(c)
        law = stats.weibull_min(shape, scale=np.exp(u) * (-np.log(0.9)) ** (-1 / shape))
        return float(np.exp(law.logpdf(FAILED).sum() + 10 * law.logsf(500.0) - top) * prior(u))

    def over(f: Callable[[float, float], float], b10: float = 900.0, shape: float = high) -> float:
        def inner(c: float) -> float:
            ends = np.log(0.05), np.log(b10)
            return float(integrate.quad(lambda u: density(u, c) * f(u, c), *ends, epsabs=1e-12, epsrel=1e-8)[0])

        return float(integrate.quad(inner, np.log(low), np.log(shape), epsabs=0, epsrel=1e-8)[0])

    total = over(lambda _u, _c: 1.0)
    return {
        "shape": over(lambda _u, c: float(np.exp(c))) / total,
        "b10": over(lambda u, _c: float(np.exp(u))) / total,
        "shape below 1.5": over(lambda _u, _c: 1.0, shape=1.5) / total,
        "b10 below 130": over(lambda _u, _c: 1.0, b10=130.0) / total,
    }


@pytest.mark.parametrize("believed", [None, (60.0, 240.0, 0.9)])
def test_means_and_chances_are_those_of_scipy(believed: tuple[float, float, float] | None) -> None:
    def prior(u: float) -> float:
        if believed is None:
            return 1.0
        low, high, probability = believed
        sd = 0.5 * np.log(high / low) / stats.norm.ppf(0.5 + 0.5 * probability)
        return float(stats.norm.pdf(u, 0.5 * np.log(low * high), sd))

    want = by_scipy(prior, 0.5, 6.0)
    got = relamp.posterior(TALLY, b_life=believed, shape=(0.5, 6.0), draws=0, seed=1)
    assert got.mean_of(parameter="shape") == pytest.approx(want["shape"], rel=1e-6)
    assert got.mean_of(b_life=10.0) == pytest.approx(want["b10"], rel=1e-6)
    assert got.probability_below(value=1.5, parameter="shape") == pytest.approx(want["shape below 1.5"], rel=1e-6)
    assert got.probability_below(value=130.0, b_life=10.0) == pytest.approx(want["b10 below 130"], rel=1e-6)


def test_a_posterior_carries_method_level_draws_and_saves() -> None:
    got = relamp.posterior(TALLY, draws=200, seed=4)
    assert got.coordinates.shape == (200, 2)
    interval = got.interval(parameter="shape", level=0.9)
    assert (interval.method, interval.level) == ("posterior", 0.9)
    assert interval.low < interval.estimate < interval.high
    assert pickle.loads(pickle.dumps(got)) == got
    assert relamp.Posterior.from_json(got.to_json()).interval(parameter="shape", level=0.9) == interval
    assert got.frame()["parameter"].to_list() == ["shape", "scale"]

    def b10(life: relamp.Life) -> float:
        return float(life.b_life(10.0))

    own, ours = got.interval(function=b10, scale="positive"), got.interval(b_life=10.0)
    assert own.low == pytest.approx(ours.low, rel=5e-3)
    again = relamp.posterior(TALLY, draws=200, seed=4)
    assert np.array_equal(again.coordinates, got.coordinates)


def test_what_does_not_close_is_refused_and_a_belief_closes_it() -> None:
    none = relamp.lives([1000.0], [None], count=[10])
    with pytest.raises(relamp.RefusedError, match="do not close"):
        relamp.posterior(none, family="exponential", draws=0, seed=1)
    with pytest.warns(relamp.WeakDataWarning, match="posterior_no_failure"):
        got = relamp.posterior(none, b_life=(300.0, 3000.0, 0.9), shape=(1.0, 6.0), draws=0, seed=1)
    assert got.failures == 0
    for bad in ({"shape": (3.0,)}, {"shape": (3.0, 1.0)}, {"b_life": (1.0, 2.0, 3.0)}, {"percent": 0.0}):
        with pytest.raises(relamp.InputError):
            relamp.posterior(TALLY, draws=0, seed=1, **bad)


def test_summary_prints_the_figures() -> None:
    posterior = relamp.posterior(TALLY, shape=(0.2, 20.0), seed=1)
    shape = posterior.interval(parameter="shape", level=0.95)
    text = posterior.summary()
    assert f"median {shape.estimate:.5f}"[:12] in text
    assert "95 % from" in text
    assert "scale" in text
    assert "none" not in text


def test_an_interval_names_its_sides() -> None:
    posterior = relamp.posterior(TALLY, shape=(0.2, 20.0), seed=1)
    fit = relamp.fit(TALLY)
    assert posterior.interval(b_life=10.0).sides == "both"
    for sides in ("both", "lower", "upper"):
        interval = fit.wald(b_life=10.0, sides=sides)
        assert interval.sides == sides
        assert interval.frame()["sides"].to_list() == [sides]
        assert f"sides     {sides}" in interval.summary()


def test_an_age_of_normal_lives_follows_the_noncentral_t_law() -> None:
    # All failed, even beliefs: (age - mean) sqrt(n) / s follows the noncentral t law with n - 1 degrees of freedom and
    # centre z sqrt(n), as for one-sided tolerance limits (ISO 16269-6, from memory).
    ages = np.array([812.0, 940.0, 1003.0, 1210.0, 1333.0, 1525.0])
    n, mean, sd = len(ages), ages.mean(), ages.std(ddof=1)
    with pytest.warns(relamp.WeakDataWarning, match=r"fit\.weak"):
        got = relamp.posterior(relamp.lives(ages), family="normal", draws=0, seed=1)
    for percent in (1.0, 10.0, 63.2):
        law = stats.nct(n - 1, stats.norm.ppf(percent / 100) * np.sqrt(n))
        for age in (-400.0, 0.0, 500.0, 800.0, 1300.0):
            want = law.cdf((age - mean) * np.sqrt(n) / sd)
            assert got.probability_below(value=age, b_life=percent) == pytest.approx(want, abs=1e-7), (percent, age)
        held = got.interval(b_life=percent, level=0.9)
        ends = mean + law.ppf([0.05, 0.5, 0.95]) * sd / np.sqrt(n)
        assert [held.low, held.estimate, held.high] == pytest.approx(ends, rel=1e-5), percent
