"""Right-censored fits and curves agree with scipy.stats (CensoredData, fit, ecdf), an independent computation."""

from __future__ import annotations

import json
import warnings
from typing import Any

import numpy as np
import pytest
import relamp
import scipy.optimize
import scipy.stats
from conftest import DATA, quiet_fit

CASES = [
    (seed, n, share) for seed, (n, share) in enumerate([(12, 0.2), (40, 0.5), (200, 0.7), (200, 0.0), (1000, 0.9)])
]


def sample(seed: int, n: int, censored_share: float) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Whole-hour Weibull lives, pulled at random ages so that about the given share is right-censored."""
    random = np.random.default_rng(seed)
    age = np.ceil(2000.0 * random.weibull(2.5, n))
    pulled = np.ceil(random.uniform(500.0, 2500.0, n))
    censored = (random.uniform(size=n) < censored_share) & (pulled < age)
    return np.where(censored, pulled, age), censored


def censored_data(low: np.ndarray[Any, Any], censored: np.ndarray[Any, Any]) -> scipy.stats.CensoredData:
    return scipy.stats.CensoredData(uncensored=low[~censored], right=low[censored])


def lives(low: np.ndarray[Any, Any], censored: np.ndarray[Any, Any]) -> relamp.Tally:
    return relamp.lives(low, np.where(censored, np.inf, low))


def precise(function: Any, start: Any, args: Any, **_: Any) -> Any:
    # The default search of scipy stops at about 1e-4 of the parameters.
    return scipy.optimize.fmin(function, start, args, xtol=1e-12, ftol=1e-14, maxiter=20_000, maxfun=20_000, disp=0)


@pytest.mark.parametrize(("seed", "n", "share"), CASES)
def test_fits(seed: int, n: int, share: float) -> None:
    low, censored = sample(seed, n, share)
    data, tally = censored_data(low, censored), lives(low, censored)
    shape, _, scale = scipy.stats.weibull_min.fit(data, floc=0, optimizer=precise)
    fit = quiet_fit(tally)
    assert fit.parameters["shape"] == pytest.approx(shape, rel=1e-6)
    assert fit.parameters["scale"] == pytest.approx(scale, rel=1e-6)
    sigma, _, median = scipy.stats.lognorm.fit(data, floc=0, optimizer=precise)
    fit = quiet_fit(tally, family="lognormal")
    assert fit.parameters["location"] == pytest.approx(np.log(median), rel=1e-6)
    assert fit.parameters["scale"] == pytest.approx(sigma, rel=1e-6)
    fit = quiet_fit(tally, family="exponential")
    assert fit.parameters["scale"] == pytest.approx(low.sum() / (~censored).sum(), rel=1e-12)


@pytest.mark.parametrize(("seed", "n", "share"), CASES)
def test_likelihood_is_the_one_scipy_has(seed: int, n: int, share: float) -> None:
    low, censored = sample(seed, n, share)
    fit = quiet_fit(lives(low, censored))
    life = scipy.stats.weibull_min(fit.parameters["shape"], scale=fit.parameters["scale"])
    expected = life.logpdf(low[~censored]).sum() + life.logsf(low[censored]).sum()
    assert fit.log_likelihood == pytest.approx(expected, rel=1e-10)
    assert fit.aic == pytest.approx(4.0 - 2.0 * expected, rel=1e-10)


@pytest.mark.parametrize(("seed", "n", "share"), CASES)
def test_curves(seed: int, n: int, share: float) -> None:
    low, censored = sample(seed, n, share)
    curve = relamp.product_limit(lives(low, censored))
    ecdf = scipy.stats.ecdf(censored_data(low, censored)).sf
    failed = np.isin(ecdf.quantiles, low[~censored])
    assert curve.ages.tolist() == ecdf.quantiles[failed].tolist()
    np.testing.assert_allclose(curve.reliability, ecdf.probabilities[failed], rtol=1e-12, atol=1e-15)
    # The last step may reach 0, where scipy gives no interval either.
    with warnings.catch_warnings():
        # Undefined where the reliability is 0 or 1, and told so.
        warnings.simplefilter("ignore", RuntimeWarning)
        interval = ecdf.confidence_interval(method="log-log")
        linear = ecdf.confidence_interval(method="linear")
    low_end, high_end = (e.probabilities[failed] for e in (interval.low, interval.high))
    inner = (curve.reliability > 0.0) & np.isfinite(low_end)
    assert inner.sum() > 5
    np.testing.assert_allclose(curve.band[inner, 0], low_end[inner], rtol=1e-9)
    np.testing.assert_allclose(curve.band[inner, 1], high_end[inner], rtol=1e-9)
    plain = relamp.product_limit(lives(low, censored), band_scale="plain").band
    np.testing.assert_allclose(plain[inner, 0], linear.low.probabilities[failed][inner], rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(plain[inner, 1], linear.high.probabilities[failed][inner], rtol=1e-9)


def test_the_base_of_the_hard_cases(hard_cases: dict[str, Any], base: relamp.Tally) -> None:
    expected = hard_cases["base"]
    low = np.array(expected["low"], dtype=float)
    censored = np.array([h is None for h in expected["high"]])
    shape, _, scale = scipy.stats.weibull_min.fit(censored_data(low, censored), floc=0, optimizer=precise)
    with pytest.warns(relamp.WeakDataWarning, match="6 failures"):
        fit = relamp.fit(base)
    for found, stored, again in ((fit.parameters[n], expected[n], s) for n, s in (("shape", shape), ("scale", scale))):
        assert found == pytest.approx(stored, rel=1e-8)
        assert again == pytest.approx(stored, rel=1e-6)


@pytest.mark.parametrize(
    ("life", "same"),
    [
        (relamp.life("exponential", scale=1500.0), scipy.stats.expon(scale=1500.0)),
        (relamp.life("weibull", shape=3.2, scale=1500.0), scipy.stats.weibull_min(3.2, scale=1500.0)),
        (relamp.life("lognormal", location=7.2, scale=0.4), scipy.stats.lognorm(0.4, scale=np.exp(7.2))),
    ],
    ids=lambda x: repr(x)[:30],
)
def test_functions_of_age(life: relamp.Life, same: Any) -> None:
    ages = np.geomspace(10.0, 5000.0, 40)
    np.testing.assert_allclose(life.ln_reliability(ages), same.logsf(ages), rtol=1e-11)
    np.testing.assert_allclose(life.ln_failure_probability(ages), same.logcdf(ages), rtol=1e-9)
    np.testing.assert_allclose(life.ln_density(ages), same.logpdf(ages), rtol=1e-11)
    shares = np.array([0.001, 0.1, 0.5, 0.9, 0.999])
    np.testing.assert_allclose(life.quantile(shares), same.ppf(shares), rtol=1e-11)
    assert life.mean == pytest.approx(same.mean(), rel=1e-11)


def test_random_ages_follow_their_life() -> None:
    # One sample of 20,000 with a fixed seed; alpha 0.001.
    life = relamp.life("weibull", shape=3.2, scale=1500.0)
    ages = life.draws(20_000, seed=3)
    assert scipy.stats.kstest(ages, scipy.stats.weibull_min(3.2, scale=1500.0).cdf).pvalue > 0.001
    assert life.draws(5, seed=3).tolist() == ages[:5].tolist()


def test_stock_levels_of_a_poisson_demand() -> None:
    # A level is the least whole number whose Poisson probability reaches the target.
    for mean in (0.3, 4.0, 25.0):
        for target in (0.85, 0.95, 0.99):
            advice = relamp.stock_level(relamp.Count.poisson(mean), service_target=target)
            assert advice.level == int(scipy.stats.poisson(mean).ppf(target))


def test_age_replacement_of_a_weibull() -> None:
    # Barlow and Proschan (1965): shape 2, cost ratio 3 gives 0.7379 of the scale; shape 3, ratio 5 gives 0.50261.
    limit = relamp.hour_limit(maximum_hours=1e7, source="invented data sheet")
    for shape, ratio, expected in ((2.0, 3.0, 0.7379), (3.0, 5.0, 0.50261)):
        life = relamp.life("weibull", shape=shape, scale=1e5)
        plan = relamp.planned_age(relamp.world({"burst": life}, relamp.costs(1.0, burst=ratio)), limit)
        assert plan.optimum_hours == pytest.approx(expected * 1e5, rel=1e-4)


def test_projection_lamps() -> None:
    # Hamada, Wilson, Reese and Martz (2008), table 4.1: 31 complete lives; their mean is that of the exponential.
    lines = (DATA / "projection_lamps.csv").read_text(encoding="utf-8").splitlines()
    ages = [float(line.split(",")[0]) for line in lines if line and line[0].isdigit()]
    assert len(ages) == 31
    fit = relamp.fit(relamp.lives(ages), family="exponential")
    assert fit.parameters["scale"] == pytest.approx(17_907 / 31, rel=1e-12)
    shape, _, scale = scipy.stats.weibull_min.fit(ages, floc=0, optimizer=precise)
    fit = relamp.fit(relamp.lives(ages))
    assert (fit.parameters["shape"], fit.parameters["scale"]) == pytest.approx((shape, scale), rel=1e-6)
    assert json.loads(fit.to_json())["body"]["family"] == "weibull"
