"""Curves without a family, and tests between groups, against numpy and scipy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import relamp
import scipy.stats

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


    low, high = curves.band(cause, band_scale="arcsine").T
    seen = np.isfinite(low)
    assert seen.sum() > 20
    assert (low[seen] <= incidence[seen]).all()
    assert (incidence[seen] <= high[seen]).all()


