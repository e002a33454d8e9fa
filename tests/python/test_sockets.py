"""Sockets that take lamp after lamp, beside the same work in numpy and scipy."""

from __future__ import annotations

import numpy as np
import pytest
import relamp
from conftest import read_small_log, small_sockets
from relamp import plots
from scipy import optimize, stats


def sample(seed: int, n: int = 40) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    """Invented screens whose rate rises with the square root of their age."""
    rng = np.random.default_rng(seed)
    start = np.where(np.arange(n) % 2 == 0, 0.0, rng.uniform(0.0, 800.0, n))
    end = start + rng.uniform(500.0, 4000.0, n)
    failures = []
    for a, b in zip(start, end, strict=True):
        count = rng.poisson(2e-5 * (b**1.5 - a**1.5))
        failures.append(np.sort((rng.uniform(a**1.5, b**1.5, count)) ** (1 / 1.5)))
    return start, end, failures


def test_the_mean_number_of_failures_agrees_with_numpy() -> None:
    start, end, failures = sample(1)
    curve = relamp.recurrence(relamp.sockets(end, failures, start=start), level=0.9)
    ages = np.unique(np.concatenate(failures))
    watched = (start[:, None] < ages) & (ages <= end[:, None])
    seen = np.array([[np.sum(f == a) for a in ages] for f in failures])
    steps = seen.sum(axis=0) / watched.sum(axis=0)
    error = np.sqrt((np.cumsum(watched * (seen - steps) / watched.sum(axis=0), axis=1) ** 2).sum(axis=0))
    np.testing.assert_allclose(curve.ages, ages)
    np.testing.assert_allclose(curve.mean, np.cumsum(steps), rtol=1e-12)
    np.testing.assert_allclose(curve.standard_error, error, rtol=1e-9)
    half = np.exp(stats.norm.ppf(0.95) * error / np.cumsum(steps))
    np.testing.assert_allclose(curve.band[:, 1], np.cumsum(steps) * half, rtol=1e-9)
    assert curve.mean_at(float(end.max()) + 1.0) is None


def test_a_power_law_agrees_with_a_general_search() -> None:
    start, end, failures = sample(2)
    law = relamp.power_law(relamp.sockets(end, failures, start=start))
    every = np.concatenate(failures)

    def minus_log_likelihood(x: np.ndarray) -> float:
        scale, shape = np.exp(x)
        mean = scale * (end**shape - start**shape).sum()
        return float(mean - (np.log(scale * shape) + (shape - 1.0) * np.log(every)).sum())

    best = optimize.minimize(
        minus_log_likelihood,
        np.log([1e-4, 1.2]),
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
    )
    np.testing.assert_allclose([law.scale, law.shape], np.exp(best.x), rtol=1e-5)
    assert law.log_likelihood == pytest.approx(-best.fun, abs=1e-8)
    # The interval by curvature: second differences of the likelihood in ln scale and ln shape.
    h = 1e-4
    at = np.log([law.scale, law.shape])
    step = np.eye(2) * h
    second = [
        [
            sum(a * b * minus_log_likelihood(at + a * step[i] + b * step[j]) for a in (1, -1) for b in (1, -1))
            / (4 * h * h)
            for j in range(2)
        ]
        for i in range(2)
    ]
    error = np.sqrt(np.linalg.inv(np.array(second))[1, 1])
    assert np.log(law.shape_interval[1] / law.shape) == pytest.approx(1.959964 * error, rel=1e-3)
    assert not law.exact


def test_trend_and_exact_interval_agree_with_scipy() -> None:
    rng = np.random.default_rng(3)
    failures = [np.sort(rng.uniform(0.0, 2000.0, 9)) for _ in range(5)]
    screens = relamp.sockets([2000.0] * 5, failures)
    tests = relamp.trend(screens).tests
    every = np.concatenate(failures)
    z = (every - 1000.0).sum() / (2000.0 * np.sqrt(every.size / 12.0))
    assert tests["centroid"] == pytest.approx((z, 2 * stats.norm.sf(abs(z))))
    logarithms = 2 * np.log(2000.0 / every).sum()
    below = stats.chi2.cdf(logarithms, 2 * every.size)
    assert tests["logarithms"] == pytest.approx((logarithms, 2 * min(below, 1 - below)))
    law = relamp.power_law(screens, level=0.8)
    ends = law.shape * stats.chi2.ppf([0.1, 0.9], 2 * every.size) / (2 * every.size)
    assert law.exact
    assert law.shape_interval == pytest.approx(tuple(ends))


def test_gaps_of_one_screen_agree_with_scipy() -> None:
    rng = np.random.default_rng(4)
    ages = np.cumsum(rng.weibull(2.0, 14) * 200.0)
    tests = relamp.trend(relamp.sockets([ages[-1] + 50.0], [ages])).tests
    gaps = np.diff(ages, prepend=0.0)
    pairs = sum(later > earlier for i, earlier in enumerate(gaps) for later in gaps[i + 1 :])
    assert tests["longer_gaps"][0] == pairs
    # The exact law is that of Kendall's distance to the order of the gaps.
    exact = stats.kendalltau(np.arange(gaps.size), gaps, method="exact").pvalue
    assert tests["longer_gaps"][1] == pytest.approx(exact, abs=0.02)
    spread = gaps.std(ddof=1) / gaps.mean()
    assert tests["centroid_gaps"][0] == pytest.approx(tests["centroid"][0] / spread)


def test_spells_become_screens() -> None:
    screens = relamp.sockets_of(read_small_log())
    assert screens.names == ("<script>, screen 2", "S, screen 1")
    assert (screens.failures, screens.exposure, screens.groups) == (1, 2000.0, ("<script>", "S"))
    assert len(relamp.sockets_of(read_small_log(), clock="days", endings=["burst"])) == 2
    with pytest.raises(relamp.InputError, match="no lamp of this class was read, got 7 kW"):
        relamp.sockets_of(read_small_log(), lamp_class="7 kW")


def test_bad_sockets_are_refused_by_name() -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.sockets([100.0, 50.0], [[200.0], [0.0, 60.0]], name=["a", "a"])
    assert [p.slug for p in caught.value.problems] == ["empirical.socket"] * 3 + ["empirical.socket_twice"]
    for bad, column in (
        ({"failures": [[1.0]]}, "failures"),
        ({"failures": 3}, "failures"),
        ({"failures": [["x"], []]}, "failures"),
        ({"start": [0.0]}, "start"),
        ({"group": ["a"]}, "group"),
    ):
        given = {"to": [100.0, 50.0], "failures": [[], []], **bad}
        with pytest.raises(relamp.InputError) as caught:
            relamp.sockets(given.pop("to"), given.pop("failures"), **given)
        assert caught.value.problems[0].column == column
    with pytest.raises(relamp.InputError, match="'time' or 'failure'"):
        relamp.trend(small_sockets(), ended="never")


def test_the_plot_shows_both_groups_with_their_bands() -> None:
    start, end, failures = sample(5)
    screens = relamp.sockets(end, failures, start=start, group=["North", "South"] * 20)
    north, south = (relamp.recurrence(screens.of_group(g)) for g in ("North", "South"))
    axes = plots.recurrence(north, other=south, names=["North", "South"])
    assert [line.get_label() for line in axes.lines] == ["North", "South"]
    assert len(axes.collections) == 2
    assert list(axes.lines[0].get_ydata())[-1] == north.mean[-1]


def test_few_screens_have_no_band_and_the_result_says_why() -> None:
    few = relamp.recurrence(small_sockets())
    low, high = few.band[-1]
    assert f"low       {low:.6g}\n  high      {high:.6g}\n" in few.summary()
    axes = plots.recurrence(few)
    assert len(axes.collections) == 0
    assert axes.lines[0].get_label() == "mean of all screens (4 screens, no band)"
    assert ("empirical.few_sockets", "4 sockets only: the spread between them, and so the band, is rough") in few.notes


def test_groups_of_few_screens_agree_with_scipy_and_say_that_they_are_few() -> None:
    rng = np.random.default_rng(6)
    sizes = {"North": 5, "South": 8, "West": 4}
    counts = {g: rng.poisson(6.0, n) for g, n in sizes.items()}
    failures = [np.sort(rng.uniform(0.0, 1000.0, c)) for each in counts.values() for c in each]
    screens = relamp.sockets([1000.0] * 17, failures, group=[g for g, n in sizes.items() for _ in range(n)])
    test = relamp.recurrence_test(screens)
    f, p = stats.f_oneway(*counts.values())
    assert (test.statistic / test.degrees, test.p_value) == pytest.approx((f, p))
    assert test.reference == pytest.approx((2.0, 14.0))
    difference = relamp.recurrence_difference(screens, more_in="North", than_in="South", level=0.9)
    interval = stats.ttest_ind(counts["North"], counts["South"], equal_var=False).confidence_interval(0.9)
    assert tuple(difference.band[-1]) == pytest.approx(tuple(interval))
    few = "North: 5 sockets only: the spread between them, and so the band, is rough"
    assert ("empirical.few_sockets", few) in difference.notes
    assert few in difference.summary()
    error = np.sqrt(sum(counts[g].var(ddof=1) / sizes[g] for g in ("North", "South")))
    assert difference.standard_error[-1] == pytest.approx(error)
