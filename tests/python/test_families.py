"""Every family that scipy.stats has agrees with it: functions of age, moments and right-censored fits."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
import relamp
import scipy.integrate
import scipy.optimize
import scipy.special
import scipy.stats
from conftest import quiet_fit

# Our name and parameters, and the same distribution by scipy.
SAME: list[tuple[str, dict[str, float], Any]] = [
    ("exponential", {"scale": 900.0}, scipy.stats.expon(scale=900.0)),
    ("weibull", {"shape": 2.5, "scale": 1800.0}, scipy.stats.weibull_min(2.5, scale=1800.0)),
    ("lognormal", {"location": 7.0, "scale": 0.5}, scipy.stats.lognorm(0.5, scale=np.exp(7.0))),
    ("log_logistic", {"shape": 3.5, "scale": 1800.0}, scipy.stats.fisk(3.5, scale=1800.0)),
    ("gamma", {"shape": 3.0, "scale": 500.0}, scipy.stats.gamma(3.0, scale=500.0)),
    ("inverse_gaussian", {"shape": 6.0, "mean": 1500.0}, scipy.stats.invgauss(1.0 / 6.0, scale=9000.0)),
    ("birnbaum_saunders", {"shape": 0.5, "scale": 1500.0}, scipy.stats.fatiguelife(0.5, scale=1500.0)),
    ("gompertz", {"shape": 0.02, "scale": 400.0}, scipy.stats.gompertz(0.02, scale=400.0)),
    (
        "weibull_failure_free",
        {"shape": 2.5, "scale": 1300.0, "location": 100.0},
        scipy.stats.weibull_min(2.5, loc=100.0, scale=1300.0),
    ),
    # scipy: x^c is gamma of shape a; here a = 1 / shape^2, c = shape / scale, and the scale takes up a.
    (
        "generalised_gamma",
        {"location": 7.0, "scale": 0.5, "shape": 0.8},
        scipy.stats.gengamma(1 / 0.64, 1.6, scale=np.exp(7.0) * 0.64 ** (1 / 1.6)),
    ),
    (
        "generalised_gamma",
        {"location": 7.0, "scale": 0.4, "shape": -0.6},
        scipy.stats.gengamma(1 / 0.36, -1.5, scale=np.exp(7.0) * 0.36 ** (-1 / 1.5)),
    ),
    ("normal", {"location": 1500.0, "scale": 400.0}, scipy.stats.norm(1500.0, 400.0)),
    ("logistic", {"location": 1500.0, "scale": 250.0}, scipy.stats.logistic(1500.0, 250.0)),
    ("smallest_extreme_value", {"location": 1500.0, "scale": 250.0}, scipy.stats.gumbel_l(1500.0, 250.0)),
    ("above_zero(normal)", {"location": 300.0, "scale": 400.0}, scipy.stats.truncnorm(-0.75, np.inf, 300.0, 400.0)),
]


@pytest.mark.parametrize(("name", "parameters", "other"), SAME, ids=[s[0] for s in SAME])
def test_functions_of_age(name: str, parameters: dict[str, float], other: Any) -> None:
    life = relamp.life(name, **parameters)
    assert life.parameters == parameters
    ages = np.array([1.0, 150.0, 800.0, 1500.0, 2400.0, 4000.0])
    np.testing.assert_allclose(life.reliability(ages), other.sf(ages), rtol=1e-9)
    np.testing.assert_allclose(life.failure_probability(ages), other.cdf(ages), rtol=1e-9)
    np.testing.assert_allclose(life.ln_density(ages), other.logpdf(ages), rtol=1e-9)
    p = np.array([1e-6, 0.1, 0.5, 0.9, 0.999])
    np.testing.assert_allclose(life.quantile(p), other.ppf(p), rtol=1e-8)
    np.testing.assert_allclose(life.mean, other.mean(), rtol=1e-8)


@pytest.mark.parametrize(("name", "parameters", "other"), SAME, ids=[s[0] for s in SAME])
def test_draws(name: str, parameters: dict[str, float], other: Any) -> None:
    ages = relamp.life(name, **parameters).draws(4000, seed=20_261_125)
    assert scipy.stats.kstest(ages, other.cdf).pvalue > 1e-3


def test_combinations() -> None:
    ages = np.array([1.0, 150.0, 800.0, 1500.0, 2400.0])
    weak, sound = scipy.stats.weibull_min(0.8, scale=300.0), scipy.stats.lognorm(0.4, scale=np.exp(7.2))
    parts = {"first_shape": 0.8, "first_scale": 300.0, "second_location": 7.2, "second_scale": 0.4}

    mixed = relamp.life("mixture(weibull, lognormal)", **parts, first_share=0.15)
    np.testing.assert_allclose(mixed.reliability(ages), 0.15 * weak.sf(ages) + 0.85 * sound.sf(ages), rtol=1e-12)
    density = 0.15 * weak.pdf(ages) + 0.85 * sound.pdf(ages)
    np.testing.assert_allclose(np.exp(mixed.ln_density(ages)), density, rtol=1e-12)
    assert mixed.mean == pytest.approx(0.15 * weak.mean() + 0.85 * sound.mean(), rel=1e-12)
    draws = mixed.draws(4000, seed=20_261_125)
    assert scipy.stats.kstest(draws, lambda t: 0.15 * weak.cdf(t) + 0.85 * sound.cdf(t)).pvalue > 1e-3

    both = relamp.life("series(weibull, lognormal)", **parts)
    np.testing.assert_allclose(both.reliability(ages), weak.sf(ages) * sound.sf(ages), rtol=1e-12)
    np.testing.assert_allclose(both.hazard(ages), weak.pdf(ages) / weak.sf(ages) + sound.pdf(ages) / sound.sf(ages))
    mean, _ = scipy.integrate.quad(lambda t: weak.sf(t) * sound.sf(t), 0.0, 2e4, points=[1.0, 300.0, 1500.0], limit=200)
    assert both.mean == pytest.approx(mean, rel=1e-7)

    never = relamp.life("never_fails(weibull)", shape=0.8, scale=300.0, never_share=0.6)
    np.testing.assert_allclose(never.failure_probability(ages), 0.4 * weak.cdf(ages), rtol=1e-12)
    assert never.mean == never.quantile(0.5) == np.inf
    assert pickle.loads(pickle.dumps(never)) == never
    with pytest.raises(relamp.InputError, match="two families"):
        relamp.life("series(weibull)", shape=1.0, scale=1.0)


def log_likelihood(name: str, x: Any, low: Any, failed: Any) -> float:
    """The same by scipy alone; x: logarithms of scales and shapes, a location as it is, a share by its odds."""
    weibull = scipy.stats.weibull_min(np.exp(x[0]), scale=np.exp(x[1]))
    if name.startswith("never_fails"):
        never = scipy.special.expit(x[2])
        return (
            np.log((1 - never) * weibull.pdf(low[failed])).sum()
            + np.log(never + (1 - never) * weibull.sf(low[~failed])).sum()
        )
    other = scipy.stats.lognorm(np.exp(x[3]), scale=np.exp(x[2]))
    if name.startswith("series"):
        hazard = weibull.pdf(low[failed]) / weibull.sf(low[failed]) + other.pdf(low[failed]) / other.sf(low[failed])
        return np.log(hazard).sum() + (weibull.logsf(low) + other.logsf(low)).sum()
    share = scipy.special.expit(x[4])
    density = share * weibull.pdf(low[failed]) + (1 - share) * other.pdf(low[failed])
    return np.log(density).sum() + np.log(share * weibull.sf(low[~failed]) + (1 - share) * other.sf(low[~failed])).sum()


@pytest.mark.parametrize(
    ("name", "truth"),
    [
        ("mixture(weibull, lognormal)", [0.2, 5.0, 7.2, -1.2, -1.5]),
        ("series(weibull, lognormal)", [-0.3, 8.5, 7.2, -1.5]),
        ("never_fails(weibull)", [0.6, 6.3, 0.4]),
    ],
)
def test_combined_fits(name: str, truth: list[float]) -> None:
    links = {3: [np.exp, np.exp, scipy.special.expit], 4: [np.exp, np.exp, float, np.exp]}
    links[5] = [*links[4], scipy.special.expit]
    values = [float(f(v)) for f, v in zip(links[len(truth)], truth, strict=True)]
    keys = {
        3: ["shape", "scale", "never_share"],
        4: ["first_shape", "first_scale", "second_location", "second_scale"],
    }
    keys[5] = [*keys[4], "first_share"]
    life = relamp.life(name, **dict(zip(keys[len(truth)], values, strict=True)))
    age = np.ceil(life.draws(300, seed=5))
    failed = age <= 1700.0
    low = np.where(failed, age, 1700.0)
    fit = quiet_fit(relamp.lives(low, np.where(failed, low, np.inf)), family=name)
    assert list(fit.parameters) == keys[len(truth)]
    ours = fit.coordinates
    assert fit.log_likelihood == pytest.approx(log_likelihood(name, ours, low, failed), rel=1e-9)

    def loss(x: Any) -> float:
        with np.errstate(all="ignore"):
            value = log_likelihood(name, x, low, failed)
        return -value if np.isfinite(value) else 1e9

    options = {"xatol": 1e-7, "fatol": 1e-9, "maxiter": 20_000, "maxfev": 20_000}
    theirs = scipy.optimize.minimize(loss, truth, method="Nelder-Mead", options=options)
    # From the truth, another search climbs no higher, and ends at the same place.
    assert -theirs.fun <= fit.log_likelihood + 1e-6
    np.testing.assert_allclose(theirs.x, ours, atol=2e-3)
    assert fit.peaks[0][1] == fit.log_likelihood
    assert set(fit.identified) == set(fit.parameters)


def test_a_share_not_settled_has_bounds_and_no_value() -> None:
    life = relamp.life("never_fails(weibull)", shape=2.0, scale=1000.0, never_share=0.3)
    age = np.ceil(life.draws(150, seed=10))
    for until, word in [(750.0, "no"), (4000.0, "yes")]:
        low = np.minimum(age, until)
        tally = relamp.lives(low, np.where(age <= until, age, np.inf))
        fit = quiet_fit(tally, family="never_fails(weibull)")
        assert fit.identified["never_share"] == word
        low_end, high_end, profile = fit.bounds("never_share")
        row = fit.frame().row(2, named=True)
        if word == "no":
            assert row["estimate"] is None
            assert low_end is None or high_end is None
            assert len(profile) > 6
            assert "not settled" in fit.summary()
            assert "not settled" in fit._repr_html_()
            assert any(slug == "fit.parameter_open" for slug, _ in fit.notes)
        else:
            assert low_end < fit.parameters["never_share"] < high_end
            assert row["identified"] == "yes"
        assert relamp.Fit.from_json(fit.to_json()) == fit


# Family, scipy's distribution, what is held there, and scipy's numbers (shapes, location, scale) from our parameters.
FITS: list[tuple[str, Any, dict[str, float], Any]] = [
    ("log_logistic", scipy.stats.fisk, {"floc": 0.0}, lambda p: (p["shape"], 0.0, p["scale"])),
    ("gamma", scipy.stats.gamma, {"floc": 0.0}, lambda p: (p["shape"], 0.0, p["scale"])),
    (
        "inverse_gaussian",
        scipy.stats.invgauss,
        {"floc": 0.0},
        lambda p: (1.0 / p["shape"], 0.0, p["mean"] * p["shape"]),
    ),
    ("birnbaum_saunders", scipy.stats.fatiguelife, {"floc": 0.0}, lambda p: (p["shape"], 0.0, p["scale"])),
    # From its own start, a scale of 1 h, scipy runs away.
    ("gompertz", scipy.stats.gompertz, {"floc": 0.0, "scale": 700.0}, lambda p: (p["shape"], 0.0, p["scale"])),
    (
        "generalised_gamma",
        scipy.stats.gengamma,
        # From its own start scipy ends at a lower peak.
        {"floc": 0.0, "scale": 1500.0},
        lambda p: (
            p["shape"] ** -2,
            p["shape"] / p["scale"],
            0.0,
            np.exp(p["location"]) * abs(p["shape"]) ** (2 * p["scale"] / p["shape"]),
        ),
    ),
    ("normal", scipy.stats.norm, {}, lambda p: (p["location"], p["scale"])),
    ("logistic", scipy.stats.logistic, {}, lambda p: (p["location"], p["scale"])),
    ("smallest_extreme_value", scipy.stats.gumbel_l, {}, lambda p: (p["location"], p["scale"])),
]


def precise(function: Any, start: Any, args: Any, **_: Any) -> Any:
    # The default search of scipy stops at about 1e-4 of the parameters.
    return scipy.optimize.fmin(function, start, args, xtol=1e-12, ftol=1e-14, maxiter=20_000, maxfun=20_000, disp=0)


@pytest.mark.parametrize(("name", "other", "held", "theirs"), FITS, ids=[f[0] for f in FITS])
def test_right_censored_fit(name: str, other: Any, held: dict[str, float], theirs: Any) -> None:
    random = np.random.default_rng(7)
    age = np.ceil(2000.0 * random.weibull(2.5, 80))
    pulled = np.ceil(random.uniform(800.0, 2800.0, 80))
    censored = pulled < age
    low = np.where(censored, pulled, age)
    fit = quiet_fit(relamp.lives(low, np.where(censored, np.inf, low)), family=name)
    ours = theirs(fit.parameters)
    total = other.logpdf(low[~censored], *ours).sum() + other.logsf(low[censored], *ours).sum()
    assert fit.log_likelihood == pytest.approx(total, rel=1e-10)
    data = scipy.stats.CensoredData(uncensored=low[~censored], right=low[censored])
    np.testing.assert_allclose(other.fit(data, optimizer=precise, **held), ours, rtol=1e-5)


def test_a_life_below_zero_is_for_fitting() -> None:
    life = relamp.life("normal", location=1500.0, scale=400.0)
    world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    limit = relamp.hour_limit(source="invented", maximum_hours=2000.0)
    with pytest.raises(relamp.RefusedError, match="below age 0"):
        relamp.planned_age(world, limit)
