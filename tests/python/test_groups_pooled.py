"""Groups beside each other: pooling against scipy, verdicts in words, and how they are drawn."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
import relamp
from relamp import plots_groups
from scipy import integrate, stats

SITES: dict[str, tuple[int, int]] = {
    "Aurora": (60, 300),
    "Bijou": (55, 280),
    "Cameo": (20, 50),
    "Dorado": (9, 60),
    "Elite $1": (0, 2),
    "Forum": (3, 4),
    "Gala": (22, 100),
}

TWO: dict[str, Any] = {"by": "site", "group": "Aurora", "other": "Bijou"}


def sites(counts: dict[str, tuple[int, int]] = SITES) -> relamp.Tally:
    """Failures at 500 h and survivors at 1,000 h of invented sites."""
    names = [name for name in counts for _ in range(2)]
    count = [n for failed, lamps in counts.values() for n in (failed, lamps - failed)]
    return relamp.lives(
        [500.0, 1000.0] * len(counts), [500.0, None] * len(counts), count=count, covariates={"site": names}
    )


@pytest.fixture(scope="module")
def pooled() -> relamp.PooledGroups:
    return relamp.pool_groups(sites(), by="site", family="exponential", seed=1)


def test_the_spread_of_two_alike_groups_is_that_of_nested_quadrature() -> None:
    # Two sites with d failures in t thousand hours each: the even baseline integrates to a closed form. With an even
    # prior of its logarithm, the likelihood of u1 - u2 given d1 + d2 is binomial; u1 - u2 is normal with sd s sqrt(2).
    counts = {"a": (12, 40), "b": (12, 40)}
    with pytest.warns(relamp.WeakDataWarning, match="pooling_few_groups"):
        got = relamp.pool_groups(sites(counts), by="site", family="exponential", draws=20_000, seed=3)

    def likelihood(s: float) -> float:
        def inner(v: float) -> float:
            share = 1.0 / (1.0 + np.exp(-v))
            return float(stats.norm.pdf(v, scale=s * np.sqrt(2.0)) * stats.binom.pmf(12, 24, share))

        return float(integrate.quad(inner, -8 * s, 8 * s, points=[0.0])[0])

    grid = np.linspace(1e-3, 2.5, 400)
    density = np.array([likelihood(s) for s in grid]) * stats.halfnorm.pdf(grid, scale=0.5)
    below = integrate.cumulative_trapezoid(density, grid, initial=0.0)
    expected = [np.interp(p * below[-1], below, grid) for p in (0.5, 0.025, 0.975)]
    assert got.spread == pytest.approx(expected, rel=0.03, abs=0.003)


def test_small_sites_are_drawn_to_the_fleet(pooled: relamp.PooledGroups) -> None:
    rows = {row["group"]: row for row in pooled.frame().to_dicts()}
    assert list(rows) == sorted(SITES)
    small, odd, big = rows["Elite $1"], rows["Forum"], rows["Aurora"]
    assert (small["failures"], small["lamps"], small["raw_ratio"]) == (0, 2, 0.0)
    # Drawn to the middle of the sites, which need not be the mean of the others by their hours.
    assert 0.85 < small["ratio"] < 1.1 < small["high"]
    assert odd["raw_ratio"] > 3.0 > odd["ratio"] > 1.0
    assert big["ratio"] == pytest.approx(big["raw_ratio"], rel=0.08)
    assert rows["Cameo"]["chance_above"] > 0.5 > rows["Dorado"]["chance_above"]
    assert pooled.prior_scales == (0.5, 0.25, 1.0)
    priors = pooled.priors().frame()
    assert priors.height == 3 * len(SITES)
    assert "Cameo" in pooled.sentence
    assert next(slug for slug, _ in pooled.notes) == "fit.pooling_prior"
    assert pooled.baselines().frame()["scale"][0] > 1000.0


def test_what_cannot_be_pooled_or_compared_is_refused() -> None:
    with pytest.raises(relamp.InputError, match="fewer than two groups"):
        relamp.pool_groups(sites({"a": (3, 9)}), by="site", family="exponential", seed=1)
    with pytest.raises(relamp.InputError, match=re.escape("[fit.pooling_by]")):
        relamp.pool_groups(sites(), by="screen", seed=1)
    for bad in ([0.5, 1.0], [0.5, 0.5, 1.0], [0.5, 1.0, -1.0]):
        with pytest.raises(relamp.InputError, match=re.escape("[fit.pooling_scales]")):
            relamp.pool_groups(sites(), by="site", prior_scales=bad, seed=1)
    for wrong in (0.5, "0.5", [None], ["a"]):
        with pytest.raises(relamp.InputError, match="prior_scales"):
            relamp.pool_groups(sites(), by="site", prior_scales=wrong, seed=1)  # type: ignore[arg-type]
    for wrong in ("site", [3], 3):
        with pytest.raises(relamp.InputError, match="adjust"):
            relamp.compare_pair(sites(), **TWO, adjust=wrong, seed=1)  # type: ignore[arg-type]
    with pytest.raises(relamp.RefusedError, match="Elite"):
        relamp.compare_pair(sites(), by="site", group="Elite $1", other="Bijou", family="exponential", seed=1)


def two(price: float, lamps: int = 120) -> relamp.PairCost:
    """Invented suppliers whose lamps are alike; those of the south are younger and differ in price."""
    rng = np.random.default_rng(5)
    ages = 2000.0 * rng.weibull(3.0, 2 * lamps)
    watched = np.where(np.arange(2 * lamps) % 2 == 0, 1800.0, 1100.0)
    low, failed = np.minimum(ages, watched), ages < watched
    tally = relamp.lives(
        low,
        np.where(failed, low, np.inf),
        ending=["dim" if f else "planned" for f in failed],
        covariates={"supplier": ["north", "south"] * lamps},
    )
    pair = relamp.compare_pair(tally, by="supplier", group="north", other="south", replicates=200, seed=1)
    frame = pair.frame()
    assert frame["mean_removed_hours"][0] > frame["mean_removed_hours"][1] + 200.0
    assert pair.groups == ("north", "south")
    assert pair.p_value > 0.001
    ratio, low_end, high_end = pair.life_ratio
    assert low_end is not None
    assert high_end is not None
    assert low_end < ratio < high_end
    costs, other = relamp.costs(1000.0, dim=1400.0), relamp.costs(price, dim=price + 400.0)
    limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    return relamp.compare_pair_costs(
        pair, costs=costs, other_costs=other, limit=limit, other_limit=limit, common_age_hours=1000.0
    )


def test_verdicts_say_what_to_do() -> None:
    dear = two(2500.0)
    assert dear.verdict == "first_cheaper"
    assert re.fullmatch(
        r"north is cheaper by [\d,.]+ per 1,000 h \(95 % interval [\d,.]+ to [\d,.]+\)", dear.sentence
    ), dear.sentence
    assert dear.more_failures is None
    even = two(1000.0, lamps=60)
    assert even.verdict == "not_enough", even.sentence
    assert even.more_failures is not None
    assert even.more_lamps is not None
    assert f"{even.more_failures[0]:,} more failures" in even.sentence
    d, low, high = even.difference_per_1000_hours
    assert low < d < high
    assert low < 0.0 < high


def texts(ax: Any) -> list[str]:
    return [text.get_text() for text in ax.texts]


def test_groups_are_drawn_worst_on_top_with_their_failures(pooled: relamp.PooledGroups) -> None:
    ax = plots_groups.pooled(pooled)
    frame = pooled.frame().sort("ratio", descending=True)
    assert [label.get_text() for label in ax.get_yticklabels()] == frame["group"].to_list()
    assert texts(ax)[: 3 * len(SITES) : 3] == [str(n) for n in frame["failures"]]
    first, second = (line.get_xdata()[0] for line in ax.lines[:2])
    assert (first, second) == (1.0, pooled.threshold)
    # Strong marks stand at the pooled ratios.
    strong = [line for line in ax.lines if line.get_marker() == "o" and line.get_markersize() > 5.0]
    assert [float(line.get_xdata()[0]) for line in strong] == pytest.approx(frame["ratio"].to_list())
    assert any(line.get_marker() == "<" for line in ax.lines)
    few = plots_groups.pooled(pooled, most=2)
    assert len(few.get_yticklabels()) == 2
    assert few.get_title(loc="left") == "Hazards by site, 5 lower ones not shown"
    assert plots_groups.pooled(pooled, ax=few) is few
    with pytest.raises(ValueError, match="at least one"):
        plots_groups.pooled(pooled, most=0)
