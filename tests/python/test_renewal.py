"""Changes over time against scipy, against each other, and as a user meets them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import relamp
from scipy import integrate, special, stats

HOURS = [50.0, 400.0, 1000.0, 5000.0]


def test_erlang_and_exponential_lives_sum_as_scipy_says() -> None:
    for shape in (1.0, 2.0, 3.7):
        life = relamp.life("gamma", shape=shape, scale=300.0)
        run = relamp.expected_changes(life, HOURS)
        n = np.arange(1, 400)[:, None]
        by = special.gammainc(n * shape, np.array(HOURS) / 300.0)
        np.testing.assert_allclose(run.failures, by.sum(axis=0), rtol=1e-12)
        assert run.way == ("closed_form",) * 4
        np.testing.assert_allclose(run.variance, ((2 * n - 1) * by).sum(axis=0) - run.failures**2, rtol=1e-9)
    counts = relamp.change_counts(relamp.life("exponential", scale=300.0), 5000.0)
    poisson = stats.poisson(5000.0 / 300.0)
    for k in range(60):
        assert counts.probability(k) == pytest.approx(poisson.pmf(k), rel=1e-9)
        assert counts.more_than(k) == pytest.approx(poisson.sf(k), rel=1e-9)
    assert counts.quantile(0.95) == poisson.ppf(0.95)


def test_two_failures_are_one_integral() -> None:
    # P(N >= 2) = integral of F(t - s) f(s) ds, by scipy alone; steep, wearing and early failing lives.
    for shape in (0.6, 1.4, 3.0, 50.0):
        life = relamp.life("weibull", shape=shape, scale=1000.0)
        law = stats.weibull_min(shape, scale=1000.0)
        for t in (700.0, 1900.0):
            # In p = F(s) the integrand has no infinite density.
            two, _ = integrate.quad(
                lambda p, law=law, t=t: law.cdf(t - law.ppf(p)), 0.0, law.cdf(t), epsabs=1e-13, epsrel=1e-11, limit=500
            )
            counts = relamp.change_counts(life, t)
            assert counts.more_than(1) == pytest.approx(two, rel=1e-8, abs=1e-12)
            assert counts.probability(0) == pytest.approx(law.sf(t), rel=1e-12)


def test_means_and_counts_agree_under_a_planned_age() -> None:
    life = relamp.life("series(weibull, lognormal)", first_shape=0.7, first_scale=9000.0, second_location=7.3,
                       second_scale=0.3)  # fmt: skip
    for options in (
        {},
        {"planned_age_hours": 1200.0},
        {"first_age_hours": 700.0},
        {"planned_age_hours": 1200.0, "first_age_hours": 700.0},
    ):
        run = relamp.expected_changes(life, 8000.0, **options)
        counts = relamp.change_counts(life, 8000.0, **options)
        assert counts.mean == pytest.approx(run.changes[0], rel=1e-10)
        assert counts.variance == pytest.approx(run.variance[0], rel=1e-8)
        assert counts.at_most(100) == pytest.approx(1.0, abs=1e-12)
        assert run.planned_age_hours == counts.planned_age_hours == options.get("planned_age_hours")
        assert run.first_age_hours == counts.first_age_hours == options.get("first_age_hours", 0.0)


def test_the_long_run_line_holds_far_out() -> None:
    life = relamp.life("weibull", shape=2.0, scale=1000.0)
    run = relamp.expected_changes(life, [3000.0, 1e9])
    mean = 1000.0 * math.gamma(1.5)
    variance = 1e6 * math.gamma(2.0) - mean**2
    assert run.mean_hours == pytest.approx(mean, rel=1e-13)
    rate, constant = run.line
    assert constant == pytest.approx((variance - mean**2) / (2 * mean**2), rel=1e-9)
    assert run.failures[1] == pytest.approx(1e9 * rate + constant, rel=1e-14)
    assert run.way == ("solved", "long_run")
    never = relamp.expected_changes(relamp.life("never_fails(exponential)", scale=500.0, never_share=0.25), [2e6])
    assert (never.mean_hours, never.line[0]) == (math.inf, 0.0)
    assert never.failures[0] == pytest.approx(3.0, rel=1e-10)
    endless = relamp.expected_changes(relamp.life("log_logistic", shape=0.8, scale=1100.0), [20_000.0])
    assert (endless.mean_hours, endless.line) == (math.inf, None)


def test_tables_name_their_columns() -> None:
    life = relamp.life("weibull", shape=3.0, scale=1500.0)
    run = relamp.expected_changes(life, HOURS, planned_age_hours=1000.0)
    assert run.frame().columns == ["hours", "planned", "failures", "changes", "variance", "way", "low", "high"]
    np.testing.assert_array_equal(run.hours, HOURS)
    np.testing.assert_array_equal(run.changes, run.planned + run.failures)
    assert 0.0 < run.relative_error < 1e-9
    counts = relamp.change_counts(life, 5000.0, planned_age_hours=1000.0)
    assert counts.frame().columns == ["changes", "probability", "at_most"]
    assert (counts.hours, counts.first, len(counts.probabilities)) == (5000.0, 5, counts.frame().height)


@pytest.mark.parametrize(
    ("options", "slug"),
    [
        ({"hours": 0.0}, "renewal.hours"),
        ({"hours": [1.0, -2.0]}, "renewal.hours"),
        ({"planned_age_hours": 0.0}, "renewal.planned_age"),
        ({"first_age_hours": -1.0}, "renewal.first_age"),
        ({"first_age_hours": 1e6}, "renewal.first_age"),
    ],
)
def test_what_cannot_be_counted_is_refused(options: dict[str, float], slug: str) -> None:
    life = relamp.life("weibull", shape=3.0, scale=1500.0)
    given = {"hours": 1000.0, **options}
    with pytest.raises(relamp.DomainError) as caught:
        relamp.expected_changes(life, **given)
    assert caught.value.slug == slug
    with pytest.raises(relamp.InputError):
        relamp.expected_changes(life, [1.0, math.nan])
    with pytest.raises(relamp.LimitError):
        relamp.change_counts(life, 1e8)
    with pytest.raises(relamp.RefusedError, match="above_zero"):
        relamp.change_counts(relamp.life("normal", location=1000.0, scale=300.0), 5000.0)
