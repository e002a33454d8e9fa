"""Suspect removals: curve, bounds and dial beside numpy and scipy."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
import relamp
from scipy import optimize

Array = np.ndarray[Any, Any]


def lamps(n: int, seed: int) -> tuple[Array, Array]:
    """Invented lamps of shape 3, scale 3,000 h: ages; 1 for failed, 2 for pulled, 0 for changed at about 2,600 h."""
    random = np.random.default_rng(seed)
    life = 3000.0 * random.weibull(3.0, n)
    pull = np.where(random.uniform(size=n) < 0.5, life * random.uniform(0.85, 0.98, n), np.inf)
    change = random.normal(2600.0, 30.0, n)
    age = np.minimum(np.minimum(life, pull), change)
    return age, np.where(age == life, 1, np.where(age == pull, 2, 0))


def tally(age: Array, kind: Array) -> relamp.Tally:
    high = [a if k == 1 else None for a, k in zip(age, kind, strict=True)]
    return relamp.lives(age, high, ending=[["planned", "burst", "dim"][k] for k in kind])


def hazards(age: Array, kind: Array, q: float) -> tuple[Array, Array, Array, Array, Array]:
    """Sorted ages and kinds, both hazards after each age, and that of removal before it; no ties."""
    order = np.argsort(age)
    at_risk = len(age) - np.arange(len(age))
    events = kind[order] > 0
    both = np.cumsum(np.where(events, -np.log1p(-1.0 / np.maximum(at_risk, 1.5)), 0.0))
    rise = both**q - np.concatenate([[0.0], both[:-1]]) ** q
    failed, removed = (np.cumsum(np.where(kind[order] == k, rise, 0.0)) ** (1.0 / q) for k in (1, 2))
    return age[order], kind[order], failed, removed, np.concatenate([[0.0], removed[:-1]])


@pytest.mark.parametrize("tau", [0.3, 0.6, 0.85])
def test_the_curve_is_the_one_of_numpy(tau: float) -> None:
    age, kind = lamps(150, 4)
    ages, kinds, failed, removed, _ = hazards(age, kind, 1.0 / (1.0 - tau))
    curve = relamp.dependent_curve(tally(age, kind), suspects=["dim"], tau=tau)
    frame = curve.frame()
    np.testing.assert_allclose(frame["age"], ages[kinds > 0])
    np.testing.assert_allclose(frame["reliability"], np.exp(-failed[kinds > 0]), rtol=1e-10)
    np.testing.assert_allclose(frame["not_removed"], np.exp(-removed[kinds > 0]), rtol=1e-10)
    assert "assumed" in curve.sentence


def minus_log_likelihood(x: Any, q: float, parts: tuple[Array, Array, Array, Array, Array]) -> float:
    """The likelihood of the guide, written out for the Weibull life."""
    age, kind, _, after, before = parts
    middle = -np.log((np.exp(-before) + np.exp(-after)) / 2.0)
    b = np.where(kind == 1, before, np.where(kind == 2, middle, after))
    shape, scale = np.exp(x)
    a = (age / scale) ** shape
    s = (a**q + b**q) ** (1.0 / q)
    failed = np.log(shape / scale) + (shape - 1.0) * np.log(age / scale) - s + (q - 1.0) * (np.log(a) - np.log(s))
    return -float(np.where(kind == 1, failed, np.where(kind == 2, -s - (q - 1.0) * np.log(s), -s)).sum())


@pytest.mark.parametrize("tau", [0.3, 0.7])
def test_the_dial_is_the_maximum_that_scipy_finds(tau: float) -> None:
    age, kind = lamps(200, 5)
    q = 1.0 / (1.0 - tau)
    parts = hazards(age, kind, q)
    options = {"maxiter": 20_000, "maxfev": 20_000, "xatol": 1e-10, "fatol": 1e-12}
    start = np.log([2.0, 2500.0])
    best = optimize.minimize(minus_log_likelihood, start, (q, parts), method="Nelder-Mead", options=options)
    dial = relamp.removal_dial(tally(age, kind), suspects=["dim"], taus=[tau], replicates=0)
    np.testing.assert_allclose(list(dial.life(tau).parameters.values()), np.exp(best.x), rtol=1e-6)


def test_the_dial_from_zero_to_money() -> None:
    age, kind = lamps(200, 6)
    t = tally(age, kind)
    dial = relamp.removal_dial(t, suspects=["dim"], taus=[0.7, 0.8, 0.9], replicates=60)
    assert dial.life(0.0).parameters == relamp.fit(t).parameters
    assert dial.taus == (0.0, 0.7, 0.8, 0.9)
    assert dial.endings == {"burst": 1.0}
    assert dial.suspects == ("dim",)
    truth = relamp.life("weibull", shape=3.0, scale=3000.0)
    r = dial.reliability(1500.0, from_tau=0.7, to_tau=0.9)
    assert r.low is not None
    assert r.high is not None
    assert r.low < truth.reliability(1500.0) < r.high
    assert r.informative
    b = dial.b_life(10.0, from_tau=0.7, to_tau=0.9)
    assert b.least == dial.life(0.9).b_life(10.0)
    assert b.in_hours
    assert b.range == (0.7, 0.9)
    frame = b.frame()
    assert frame.columns == ["tau", "estimate", "low", "high"]
    assert tuple(frame["estimate"].to_list()) == b.estimate
    limit = relamp.hour_limit(maximum_hours=2400.0, source="invented data sheet")
    costs = relamp.costs(950.0, burst=5200.0)
    ticks: list[tuple[int, int]] = []
    ages = dial.planned_age(costs, limit, from_tau=0.7, to_tau=0.9, progress=lambda d, n: ticks.append((d, n)))
    assert ages.most <= limit.hours
    assert ages.estimate[0] > ages.most
    assert ticks
    world = relamp.world({"burst": dial.life(0.8)}, costs)
    oldest = t.oldest_at_risk
    assert ages.estimate[2] == relamp.planned_age(world, limit, oldest_at_risk_hours=oldest).age_hours
    assert ages.verdicts[2] == relamp.planned_age(world, limit, oldest_at_risk_hours=oldest).verdict
    assert ages.frame().columns == ["tau", "estimate", "low", "high", "verdict"]
    even = dial.planned_age(relamp.costs(500.0, burst=500.0), limit, from_tau=0.7, to_tau=0.9)
    assert set(even.verdicts) == {"planned_costs_at_least_failure"}
    assert not even.informative
    assert "costs as much as a failure" in even.sentence
    far = dial.b_life(99.9, from_tau=0.7, to_tau=0.9)
    assert [slug for slug, _ in far.notes] == ["fit.extrapolated"]
    assert b.verdicts == ()
    assert b.notes == ()
    assert "planned age" in ages.sentence
    assert "Kendall" in ages.sentence
    narrow = dial.reliability(1500.0, from_tau=0.0, to_tau=0.9, widest=0.01)
    assert not narrow.informative
    assert "uninformative" in narrow.sentence
    assert "uninformative" in narrow.summary()


def test_the_bounds_hold_independence_and_every_dependence() -> None:
    t = tally(*lamps(400, 7))
    bounds = relamp.removal_bounds(t, suspects=["dim"], age_hours=2000.0, level=0.9, widest=0.1)
    at = bounds.bounds_at(2000.0)
    outer = bounds.outer_at(2000.0)
    assert at == (bounds.low, bounds.high)
    assert outer is not None
    assert outer[0] < bounds.low < bounds.high < outer[1]
    assert bounds.if_at_once.level == 0.9
    assert bounds.suspect_lamps == int((lamps(400, 7)[1] == 2).sum())
    upper = 1.0 - bounds.if_never.incidence_at("unknown", 2000.0)
    assert bounds.high == pytest.approx(upper, abs=1e-12)
    for tau in (0.0, 0.5, 0.95):
        reliability = relamp.dependent_curve(t, suspects=["dim"], tau=tau).reliability_at(2000.0)
        assert reliability is not None
        assert bounds.low <= reliability <= bounds.high
    assert not bounds.informative
    assert "uninformative" in bounds.sentence
    assert bounds.frame().columns == ["age", "low", "high", "low_with_chance", "high_with_chance"]
    assert bounds.bounds_at(1e9) is None


def test_what_cannot_be_answered_is_refused_by_name() -> None:
    t = tally(*lamps(80, 8))
    with pytest.raises(relamp.DomainError, match=r"empirical\.tau"):
        relamp.dependent_curve(t, suspects=["dim"], tau=1.0)
    with pytest.raises(relamp.InputError, match=r"empirical\.suspects"):
        relamp.removal_dial(t, suspects=[])
    with pytest.raises(relamp.InputError, match=r"empirical\.suspects"):
        relamp.removal_bounds(t, suspects=["dim"], endings=["dim"], age_hours=100.0)
    with pytest.raises(relamp.InputError, match=r"fit\.dial_replicates"):
        relamp.removal_dial(t, suspects=["dim"], replicates=5)
    with pytest.raises(relamp.RefusedError, match=r"fit\.dial_family"):
        relamp.removal_dial(t, suspects=["dim"], family="weibull_failure_free")
    with pytest.raises(relamp.InputError, match="taus"):
        relamp.removal_dial(t, suspects=["dim"], taus=["high"])  # type: ignore[list-item]
    dial = relamp.removal_dial(t, suspects=["dim"], taus=pl.Series([0.5]), replicates=0)
    with pytest.raises(relamp.InputError, match=r"fit\.dial_range"):
        dial.b_life(10.0, from_tau=0.5, to_tau=0.6)
    with pytest.raises(relamp.InputError, match=r"fit\.dial_tau"):
        dial.life(0.6)
    with pytest.warns(relamp.WeakDataWarning, match="dial_no_suspects"):
        relamp.removal_dial(t, suspects=["moved"], replicates=0)
