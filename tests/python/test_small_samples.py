"""Few failures, plots and predictions agree with scipy, an independent computation."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import relamp
import scipy.special
import scipy.stats
from conftest import quiet_fit

AGES = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]
INVENTED = [(300.0, True), (350.0, False), (420.0, True), (500.0, True), (500.0, False), (710.0, True), (760.0, False)]


def censored() -> relamp.Tally:
    return relamp.lives([a for a, _ in INVENTED], [a if failed else None for a, failed in INVENTED])


@pytest.mark.parametrize(("shape", "level"), [(1.0, 0.95), (2.5, 0.9), (0.7, 0.6)])
def test_bounds_for_a_known_shape(shape: float, level: float) -> None:
    total = sum(a**shape for a, _ in INVENTED)
    fit = relamp.fit_known_shape(censored(), shape=shape, level=level)
    chi2 = scipy.stats.chi2
    assert fit.scale == pytest.approx((total / 4) ** (1 / shape), rel=1e-12)
    assert fit.scale_low == pytest.approx((2 * total / chi2.ppf(level, 10)) ** (1 / shape), rel=1e-10)
    assert fit.scale_high == pytest.approx((2 * total / chi2.ppf(1 - level, 8)) ** (1 / shape), rel=1e-10)
    assert fit.life_low is not None
    assert fit.life is not None
    assert fit.life_high is not None
    assert fit.life_low.b_life(10.0) < fit.life.b_life(10.0) < fit.life_high.b_life(10.0)


def test_no_failure_has_a_bound_and_no_estimate() -> None:
    fit = relamp.fit_known_shape(relamp.lives([400.0, 600.0], [None, None]), shape=1.0)
    assert (fit.scale, fit.life, fit.scale_high, fit.method) == (None, None, None, "count")
    assert fit.scale_low is not None
    assert 1 / fit.scale_low == pytest.approx(-np.log(0.05) / 1000.0, rel=1e-12)
    assert [slug for slug, _ in fit.notes] == ["fit.known_shape", "fit.bound_only"]


def test_median_ranks_are_those_of_the_beta_distribution() -> None:
    points = relamp.plotting_positions(censored())
    n, rank, ranks = len(INVENTED), 0.0, []
    for left, (_, failed) in enumerate(INVENTED):
        if failed:
            rank += (n + 1 - rank) / (n + 1 - left)
            ranks.append(rank)
    expected = scipy.special.betaincinv(np.array(ranks), n + 1 - np.array(ranks), 0.5)
    np.testing.assert_allclose(points.ranks, ranks, rtol=1e-14)
    np.testing.assert_allclose(points.positions, expected, rtol=1e-12)


# Family, its standard distribution, and whether its age is logarithmic.
LINES = [
    ("weibull", scipy.stats.gumbel_l, True),
    ("lognormal", scipy.stats.norm, True),
    ("log_logistic", scipy.stats.logistic, True),
    ("normal", scipy.stats.norm, False),
    ("logistic", scipy.stats.logistic, False),
    ("smallest_extreme_value", scipy.stats.gumbel_l, False),
]


@pytest.mark.parametrize(("family", "standard", "log"), LINES, ids=[line[0] for line in LINES])
def test_lines_are_those_of_least_squares(family: str, standard: Any, log: bool) -> None:
    points = relamp.plotting_positions(censored())
    x, y = np.log(points.ages) if log else points.ages, standard.ppf(points.positions)
    for regression_on in ("age", "share"):
        line = relamp.rank_regression(censored(), family=family, regression_on=regression_on)
        if regression_on == "age":
            found = scipy.stats.linregress(y, x)
            spread, middle = found.slope, found.intercept
        else:
            found = scipy.stats.linregress(x, y)
            spread, middle = 1 / found.slope, -found.intercept / found.slope
        expected = [1 / spread, np.exp(middle)] if family in {"weibull", "log_logistic"} else [middle, spread]
        np.testing.assert_allclose(list(line.parameters.values()), expected, rtol=1e-10)
        assert line.r_squared == pytest.approx(found.rvalue**2, rel=1e-10)


def test_the_line_of_an_even_rate_has_its_slope_given() -> None:
    points = relamp.plotting_positions(censored())
    scale = np.exp(np.mean(np.log(points.ages) - scipy.stats.gumbel_l.ppf(points.positions)))
    for regression_on in ("age", "share"):
        line = relamp.rank_regression(censored(), family="exponential", regression_on=regression_on)
        assert line.parameters["scale"] == pytest.approx(scale, rel=1e-12)


def test_rows_without_ranks_are_refused_by_name() -> None:
    with pytest.raises(relamp.RefusedError, match=r"left-censored[\s\S]*empirical.rank_interval"):
        relamp.plotting_positions(relamp.lives([0.0, 300.0], [50.0, 300.0]))
    with pytest.raises(relamp.InputError, match=r"python\.position_rule"):
        relamp.plotting_positions(censored(), rule="mean")
    with pytest.raises(relamp.InputError, match=r"python\.regression_on"):
        relamp.rank_regression(censored(), regression_on="x")
    with pytest.raises(relamp.InputError, match=r"python\.termination"):
        relamp.fit_known_shape(censored(), shape=1.0, termination="never")


def test_a_shape_is_corrected_where_its_bias_is_known() -> None:
    complete = relamp.lives(AGES)
    fit = relamp.fit(complete)
    corrected = fit.corrected_shape(complete)
    assert corrected.corrected == corrected.factor * fit.parameters["shape"] < corrected.shape
    assert (corrected.plan, corrected.factor_error < 0.001) == ("complete", True)
    with pytest.raises(relamp.RefusedError, match=r"fit\.bias_censoring"):
        quiet_fit(censored()).corrected_shape(censored())


def test_plot_places_are_quantiles() -> None:
    tally = relamp.lives(AGES)
    shares = (np.arange(10) + 0.5) / 10
    for family, quantile in (("lognormal", scipy.stats.norm.ppf), ("weibull", scipy.stats.gumbel_l.ppf)):
        plot = relamp.probability_plot(relamp.product_limit(tally), family=family)
        np.testing.assert_allclose(plot.shares, shares, rtol=1e-12)
        np.testing.assert_allclose(plot.y, quantile(shares), rtol=1e-10, atol=1e-12)
        np.testing.assert_allclose(plot.x, np.log(AGES))
        # The last lamp failed, so the curve ends at 0 and has no band there.
        assert np.isnan(plot.simultaneous[-1]).all()
        inside = plot.pointwise[:-1]
        wide = plot.simultaneous[:-1]
        assert (wide[:, 0] <= inside[:, 0]).all()
        assert (inside[:, 1] < wide[:, 1]).all()


def test_criteria_of_several_fits() -> None:
    tally = relamp.lives(AGES)
    fits = [relamp.fit(tally, family=name) for name in ("exponential", "weibull", "lognormal")]
    frame = relamp.compare_fits(tally, fits=fits).frame()
    assert frame["aic"].is_sorted()
    for row in frame.iter_rows(named=True):
        fit = fits[row["given"]]
        k, twice = len(fit.parameters), -2 * fit.log_likelihood
        assert row["aic"] == pytest.approx(twice + 2 * k, rel=1e-12)
        assert row["aicc"] == pytest.approx(twice + 2 * k + 2 * k * (k + 1) / (10 - k - 1), rel=1e-12)
        assert row["bic"] == pytest.approx(twice + k * np.log(10), rel=1e-12)
    with pytest.raises(relamp.InputError, match=r"fit\.other_records"):
        relamp.compare_fits(censored(), fits=fits)


def test_the_text_of_a_comparison_holds_the_numbers_behind_it() -> None:
    tally = relamp.lives(AGES)
    table = relamp.compare_fits(tally, fits=[relamp.fit(tally, family=name) for name in ("exponential", "weibull")])
    for text in (table.summary(), table._repr_html_()):
        for row in table.frame().iter_rows(named=True):
            words = f"{row['family']}: log-likelihood {row['log_likelihood']:.2f}, {row['parameters']} parameter"
            assert words in text, text
            assert f"AIC {row['aic']:.2f}, {row['aic_difference']:.2f} above the least" in text, text


def test_what_is_no_list_of_fits_is_refused_by_name() -> None:
    tally = relamp.lives(AGES)
    fit = relamp.fit(tally)
    calls = (
        lambda x: relamp.compare_fits(tally, fits=x),
        lambda x: relamp.family_verdict(tally, fits=x, age_hours=300.0),
    )
    for call in calls:
        for wrong in (fit, "weibull", 3, None, [fit, "weibull"], [None], {"fits": [fit]}):
            with pytest.raises(relamp.InputError) as caught:
                call(wrong)
            problem = caught.value.problems[0]
            assert (problem.slug, problem.input) == ("python.type", "fits"), wrong
        with pytest.raises(relamp.InputError, match=r"entry 2 is no fit.*'weibull'"):
            call([fit, "weibull"])


def test_every_family_named_can_be_fitted() -> None:
    families, tally = relamp.families(), relamp.lives([*AGES, 350.0, 440.0, 615.0, 660.0, 1010.0])
    assert len(families) == len(set(families)) > 10
    fitted = 0
    for name, parameters in families.items():
        try:
            fit = quiet_fit(tally, family=name)
        except relamp.RefusedError:
            continue
        fitted += 1
        assert list(fit.parameters) == parameters, name
    assert fitted > 8


def test_no_failure_in_so_many_hours_bounds_an_even_rate() -> None:
    # The bound makes no failure as rare as 5 %: exact for a Poisson law.
    for hours in (1.0, 250.0, 1e6):
        assert scipy.stats.poisson.pmf(0, relamp.rate_bound_95(hours) * hours) == pytest.approx(0.05, rel=1e-12)
        assert relamp.rate_bound_95(hours) == pytest.approx(scipy.stats.chi2.ppf(0.95, 2) / 2 / hours, rel=1e-12)
    for wrong in (0.0, -1.0, float("inf")):
        with pytest.raises(relamp.InputError, match=r"exposure_hours.*finite hours above 0"):
            relamp.rate_bound_95(wrong)


def test_failures_ahead_mix_exact_sums() -> None:
    draws = relamp.bootstrap(relamp.lives(AGES), replicates=50, seed=3)
    ages, hours, count = np.array([300.0, 500.0, 640.0]), np.array([100.0, 200.0, 50.0]), [3, 2, 1]
    ahead = relamp.failures_ahead(draws, age_hours=ages, ahead_hours=hours, count=count)
    total = np.zeros(7)
    for shape, scale in np.exp(draws.coordinates):
        chance = -np.expm1((ages / scale) ** shape - ((ages + hours) / scale) ** shape)
        one = np.ones(1)
        for p in np.repeat(chance, count):
            one = np.convolve(one, [1 - p, p])
        total += one / 50
    at_most = [ahead.failures.at_most(k) for k in range(7)]
    np.testing.assert_allclose(at_most, np.cumsum(total), atol=1e-12)
    assert [slug for slug, _ in ahead.notes] == ["demand.few_failures"]
    low, high = ahead.interval(level=0.8)
    assert total[:low].sum() < 0.1
    assert total[high + 1 :].sum() <= 0.1
    with pytest.raises(relamp.InputError, match=r"row 2.*demand.lamps_at_age"):
        relamp.failures_ahead(draws, age_hours=[5.0, -1.0], ahead_hours=10.0)
    with pytest.raises(relamp.InputError, match=r"python\.length"):
        relamp.failures_ahead(draws, age_hours=[5.0, 1.0], ahead_hours=[10.0])


def test_distances_are_those_of_scipy() -> None:
    tally, logs = relamp.lives(AGES), np.log(AGES)
    expected = scipy.stats.anderson(logs, "gumbel_l", method="interpolate").statistic
    assert relamp.distance_test(tally, replicates=99, seed=1).anderson_darling == pytest.approx(expected, rel=1e-6)
    expected = scipy.stats.anderson(AGES, "expon", method="interpolate").statistic
    even = relamp.distance_test(tally, family="exponential", replicates=199, seed=1)
    assert even.anderson_darling == pytest.approx(expected, rel=1e-10)
    gap = scipy.stats.kstest(AGES, scipy.stats.expon(scale=np.mean(AGES)).cdf).statistic
    assert even.kolmogorov == pytest.approx(gap * np.sqrt(len(AGES)), rel=1e-10)
    assert even.verdict.startswith("these records speak against the exponential family")


def test_the_likelihood_ratio_has_its_chance_from_chi_square() -> None:
    tally = relamp.lives(AGES)
    even, wear = relamp.fit(tally, family="exponential"), relamp.fit(tally)
    test = relamp.likelihood_ratio(tally, narrow=even, wide=wear)
    assert test.statistic == pytest.approx(2 * (wear.log_likelihood - even.log_likelihood))
    assert test.p_value == pytest.approx(scipy.stats.chi2.sf(test.statistic, 1), rel=1e-10)
    with pytest.raises(relamp.InputError, match=r"fit\.not_nested"):
        relamp.likelihood_ratio(tally, narrow=wear, wide=even)
