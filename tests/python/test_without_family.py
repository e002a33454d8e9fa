"""Curves without a family, and tests between groups, against numpy and scipy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import relamp
import scipy.stats
from statsmodels.duration.survfunc import SurvfuncRight

Array = np.ndarray[Any, Any]
SCALES = {
    "plain": (lambda r: r, lambda r: np.ones_like(r)),
    "log": (np.log, lambda r: 1.0 / r),
    "log_log": (lambda r: np.log(-np.log(r)), lambda r: 1.0 / (r * np.log(r))),
    "arcsine": (lambda r: np.arcsin(np.sqrt(r)), lambda r: 0.5 / np.sqrt(r * (1.0 - r))),
}


def sample(seed: int, n: int = 60) -> tuple[Array, Array, Array]:
    """Whole-hour lives by two causes, pulled at an even age: age, whether right-censored, cause."""
    random = np.random.default_rng(seed)
    burst, dim = 1500.0 * random.weibull(1.5, n), 1200.0 * random.weibull(3.0, n)
    pulled = random.uniform(200.0, 2500.0, n)
    age = np.ceil(np.minimum(np.minimum(burst, dim), pulled))
    return age, pulled < np.minimum(burst, dim), np.where(burst < dim, "burst", "dim")


def lives(age: Array, censored: Array, cause: Array | None = None) -> relamp.Tally:
    high = [None if c else a for a, c in zip(age, censored, strict=True)]
    if cause is None:
        return relamp.lives(age, high)
    return relamp.lives(age, high, ending=np.where(censored, "planned", cause))


@pytest.mark.parametrize("scale", SCALES)
def test_a_quantile_interval_is_the_region_that_the_test_of_each_age_leaves(scale: str) -> None:
    g, slope = SCALES[scale]
    z = scipy.stats.norm.ppf(0.975)
    for seed in range(5):
        age, censored, _ = sample(seed)
        curve = relamp.product_limit(lives(age, censored), band_scale=scale)
        inner = (curve.reliability > 0.0) & (curve.reliability < 1.0)
        r, ages, error = curve.reliability[inner], curve.ages[inner], curve.standard_error[inner]
        for p in (0.1, 0.5, 0.8):
            kept = np.flatnonzero(np.abs(g(r) - g(1.0 - p)) <= z * np.abs(slope(r)) * error)
            low, high = curve.quantile_interval(p)
            if len(kept) == 0:
                continue
            assert low == ages[kept[0]]
            assert high == (ages[kept[-1] + 1] if kept[-1] + 1 < len(ages) else None)


def likeliest(low: Array, high: Array, entry: Array, steps: int = 60_000) -> tuple[float, Any]:
    """Masses at every right end and just after every left end, by expectation steps on the full matrix."""
    points = np.unique(np.concatenate([high[np.isfinite(high)], low + 1e-7, [1e9]]))
    finite = np.where(np.isfinite(high), high, 2e9)
    inside = np.where((low == high)[:, None], points[None, :] == low[:, None], points[None, :] > low[:, None])
    inside &= points[None, :] <= finite[:, None]
    seen = points[None, :] > entry[:, None]
    mass = np.full(len(points), 1.0 / len(points))
    for _ in range(steps):
        by_row = inside * mass
        by_row /= by_row.sum(axis=1, keepdims=True)
        # Lamps that failed before anyone looked: as many for each lamp seen as the odds say.
        unseen = ~seen * mass
        unseen /= (seen * mass).sum(axis=1, keepdims=True)
        after = by_row.sum(axis=0) + unseen.sum(axis=0)
        after /= after.sum()
        if np.abs(after - mass).max() < 1e-13:
            break
        mass = after
    chance = (inside * mass).sum(axis=1) / (seen * mass).sum(axis=1)
    return float(np.log(chance).sum()), lambda age: mass[points > age + 1e-6].sum()


@pytest.mark.parametrize("late", [False, True])
def test_the_self_consistent_estimate_is_where_expectation_steps_lead(late: bool) -> None:
    for seed in range(4):
        random = np.random.default_rng(seed)
        n = 40
        fails = np.ceil(1000.0 * random.weibull(2.0, n))
        first = np.ceil(random.uniform(100.0, 1500.0, n))
        second = first + np.ceil(random.uniform(50.0, 600.0, n))
        low = np.where(fails <= first, 0.0, np.where(fails <= second, first, second))
        high = np.where(fails <= first, first, np.where(fails <= second, second, np.inf))
        exact = random.uniform(size=n) < 0.3
        low, high = np.where(exact, fails, low), np.where(exact, fails, high)
        entry = np.where(np.arange(n) % 3 == 0, np.ceil(random.uniform(10.0, 300.0, n)), 0.0) if late else np.zeros(n)
        watched = (fails > entry) & (high > entry) & ~(np.isinf(high) & (low <= entry))
        low, high, entry = np.maximum(low, entry)[watched], high[watched], entry[watched]
        curve = relamp.self_consistent(relamp.lives(low, high, entry=entry))
        assert curve.converged
        best, reliability = likeliest(low, high, entry)
        assert curve.log_likelihood == pytest.approx(best, abs=1e-5)
        assert curve.log_likelihood >= best - 1e-8
        ends = curve.stretches[np.isfinite(curve.stretches[:, 1]), 1]
        for age, (lower, upper) in zip(ends, curve.reliability_bounds(ends), strict=True):
            assert lower == upper
            assert lower == pytest.approx(reliability(age), abs=2e-3)


@pytest.mark.parametrize("seed", range(6))
def test_even_weights_are_those_of_scipy(seed: int) -> None:
    (x, gone_x, _), (y, gone_y, _) = sample(seed, 30), sample(seed + 100, 45)
    y = np.ceil(1.3 * y)
    test = relamp.rank_test({"x": lives(x, gone_x), "y": lives(y, gone_y)})
    same = scipy.stats.logrank(
        scipy.stats.CensoredData(uncensored=x[~gone_x], right=x[gone_x]),
        scipy.stats.CensoredData(uncensored=y[~gone_y], right=y[gone_y]),
    )
    assert test.statistic == pytest.approx(same.statistic**2, rel=1e-9)
    assert test.p_value == pytest.approx(same.pvalue, rel=1e-9)


def test_a_trend_of_two_groups_is_the_test_of_two_groups() -> None:
    (x, gone_x, _), (y, gone_y, _) = sample(1, 30), sample(2, 45)
    groups = {"x": lives(x, gone_x), "y": lives(np.ceil(1.3 * y), gone_y)}
    for weight in ("even", "at_risk", "root_at_risk", "reliability"):
        plain = relamp.rank_test(groups, weight=weight)
        trend = relamp.rank_test(groups, weight=weight, scores={"y": 7.0, "x": 2.0})
        assert trend.statistic == pytest.approx(plain.statistic, rel=1e-9)
        assert trend.p_value == pytest.approx(plain.p_value, rel=1e-9)
        assert trend.trend < 0.0
    turned = relamp.rank_test(dict(reversed(groups.items())))
    assert turned.statistic == pytest.approx(relamp.rank_test(groups).statistic, rel=1e-9)


def test_groups_that_are_none_are_refused_by_name() -> None:
    tally = relamp.lives([1.0, 2.0])
    for groups in ([tally], {"a": 1.0, "b": tally}, {1: tally}, None, "ab"):
        with pytest.raises(relamp.InputError, match="groups") as caught:
            relamp.rank_test(groups)  # type: ignore[arg-type]
        assert caught.value.slug == "python.not_groups"
    for scores in ([1.0, 2.0], {"a": 1.0}, {"a": 1.0, "c": 2.0}):
        with pytest.raises(relamp.InputError, match="scores"):
            relamp.rank_test({"a": tally, "b": tally}, scores=scores)  # type: ignore[arg-type]


@pytest.mark.parametrize("cause", ["burst", "dim"])
def test_the_variance_of_an_incidence_is_the_formula_taken_age_by_age(cause: str) -> None:
    age, censored, causes = sample(5)
    curves = relamp.incidence(lives(age, censored, causes))
    ages = curves.ages
    n = np.array([(age >= a).sum() for a in ages], dtype=float)
    d = np.array([((age == a) & ~censored).sum() for a in ages], dtype=float)
    own = np.array([((age == a) & ~censored & (causes == cause)).sum() for a in ages], dtype=float)
    before = np.concatenate([[1.0], np.cumprod(1.0 - d / n)[:-1]])
    incidence = np.cumsum(before * own / n)
    expected = []
    for k in range(len(ages)):
        j = slice(0, k + 1)
        rest = incidence[k] - incidence[j]
        left = np.where(n[j] > d[j], n[j] - d[j], np.inf)
        sum_of = rest**2 * d[j] / (n[j] * left) + before[j] ** 2 * own[j] * (n[j] - own[j]) / n[j] ** 3
        expected.append((sum_of - 2.0 * rest * before[j] * own[j] / n[j] ** 2).sum())
    np.testing.assert_allclose(curves.standard_error(cause), np.sqrt(expected), rtol=1e-9, atol=1e-12)
    assert np.isnan(curves.standard_error("seal")).all()
    assert np.isnan(curves.band("seal")).all()
    low, high = curves.band(cause, band_scale="arcsine").T
    seen = np.isfinite(low)
    assert seen.sum() > 20
    assert (low[seen] <= incidence[seen]).all()
    assert (incidence[seen] <= high[seen]).all()


def test_the_chance_of_an_incidence_test_is_that_of_shuffled_groups() -> None:
    age, censored, causes = sample(8, 160)
    random = np.random.default_rng(1)
    member = np.arange(160) % 3

    def test_of(member: Array) -> relamp.GroupTest:
        parts = {str(g): lives(age[member == g], censored[member == g], causes[member == g]) for g in range(3)}
        return relamp.incidence_test(parts, cause="burst")

    found = test_of(member)
    assert found.statistic is not None
    shuffled = np.array([test_of(random.permutation(member)).statistic for _ in range(400)])
    # The share of 400 shuffles has a standard deviation of at most 0.025; the law is that of large samples.
    assert found.p_value == pytest.approx((shuffled >= found.statistic).mean(), abs=0.1)
    assert shuffled.mean() == pytest.approx(2.0, abs=0.4)


def test_bounds_hold_the_curve_as_filed() -> None:
    age, censored, causes = sample(4)
    filed = np.where(censored & (np.arange(len(age)) % 2 == 0), "unknown", np.where(censored, "planned", causes))
    high = [None if c else a for a, c in zip(age, censored, strict=True)]
    tally = relamp.lives(age, high, ending=filed)
    bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=900.0, widest=0.0)
    assert bounds.suspect_lamps == (filed == "unknown").sum()
    assert bounds.if_none.reliability_at(900.0) == relamp.product_limit(tally).reliability_at(900.0) == bounds.high
    assert bounds.low < bounds.high
    assert not bounds.informative
    frame = bounds.frame()
    assert (frame["if_all"] <= frame["if_none"]).all()
    bursts = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=900.0)
    as_filed = relamp.incidence(tally).incidence_at("burst", 900.0)
    assert bursts.low <= as_filed <= bursts.high
    assert bursts.if_none.incidence_at("burst", 900.0) == as_filed


def test_the_error_of_the_cumulative_hazard_is_that_of_the_numbers_of_statsmodels() -> None:
    z = scipy.stats.norm.ppf(0.975)
    for seed in range(5):
        age, censored, _ = sample(seed)
        curve = relamp.product_limit(lives(age, censored))
        other = SurvfuncRight(age, ~censored)
        n, d = np.asarray(other.n_risk, dtype=float), np.asarray(other.n_events, dtype=float)
        hazard, error = np.cumsum(d / n), np.sqrt(np.cumsum(d / n**2))
        np.testing.assert_allclose(curve.cumulative_hazard, hazard, rtol=1e-12)
        np.testing.assert_allclose(curve.cumulative_hazard_standard_error, error, rtol=1e-12)
        ends = np.stack([hazard * np.exp(-z * error / hazard), hazard * np.exp(z * error / hazard)], axis=1)
        np.testing.assert_allclose(curve.cumulative_hazard_band, ends, rtol=1e-12)
        plain = relamp.product_limit(lives(age, censored), hazard_scale="plain")
        ends = np.stack([np.maximum(hazard - z * error, 0.0), hazard + z * error], axis=1)
        np.testing.assert_allclose(plain.cumulative_hazard_band, ends, rtol=1e-12)
        step = np.searchsorted(curve.ages, age[0], "right") - 1
        assert plain.cumulative_hazard_band_at(age[0]) == pytest.approx(tuple(ends[step]), rel=1e-12)
        frame = curve.frame()
        np.testing.assert_array_equal(frame["cumulative_hazard_standard_error"], curve.cumulative_hazard_standard_error)
        np.testing.assert_array_equal(frame["cumulative_hazard_high"], curve.cumulative_hazard_band[:, 1])
        arcsine = relamp.product_limit(lives(age, censored), hazard_scale="arcsine")
        wide, narrow = arcsine.simultaneous_cumulative_hazard_band(), arcsine.cumulative_hazard_band
        inner = ~np.isnan(wide[:, 0])
        assert (wide[inner, 0] < narrow[inner, 0]).all()
        assert (wide[inner, 1] >= narrow[inner, 1]).all()
        assert relamp.Curve.from_json(curve.to_json()) == curve
        assert curve.to_dict()["hazard_scale"] == "log"


def test_a_lamp_that_enters_at_the_age_of_a_failure_is_not_at_risk_there() -> None:
    """At risk at an age are those with entry < age, as statsmodels has it; an entry a hair earlier would count."""
    random = np.random.default_rng(4)
    n = 300
    age = np.ceil(1500.0 * random.weibull(2.0, n))
    # A third enter at the age at which another lamp failed.
    entry = np.where(random.uniform(size=n) < 0.33, random.choice(age, n), np.floor(random.uniform(0.0, 600.0, n)))
    kept = entry < age
    age, entry = age[kept], entry[kept]
    censored = random.uniform(size=len(age)) < 0.2
    high = [None if c else a for a, c in zip(age, censored, strict=True)]
    curve = relamp.product_limit(relamp.lives(age, high, entry=entry), min_at_risk=1)
    assert np.isin(entry, age[~censored]).sum() > 20
    other, earlier = (SurvfuncRight(age, ~censored, entry=e) for e in (entry, entry - 1e-6))

    def risk(of: Any) -> Array:
        at = dict(zip(of.surv_times, of.n_risk, strict=True))
        return np.array([at[a] for a in curve.ages], dtype=float)

    np.testing.assert_array_equal(curve.at_risk, risk(other))
    assert (risk(earlier) > curve.at_risk).sum() > 10


def test_a_climb_that_its_steps_end_warns_as_fits_do() -> None:
    random = np.random.default_rng(3)
    low = np.floor(random.uniform(0.0, 900.0, 200))
    tally = relamp.lives(low, low + np.ceil(random.uniform(1.0, 400.0, 200)))
    with pytest.warns(relamp.NotConvergedWarning, match=r"empirical\.not_converged"):
        assert not relamp.self_consistent(tally, most_steps=1).converged
    assert relamp.self_consistent(tally).converged
