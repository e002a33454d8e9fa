"""Files of claims, lamps shipped with them, parameters left open, residuals, and rows that are refused."""

from __future__ import annotations

import json
import math
import warnings
from pathlib import Path

import numpy as np
import pytest
import relamp
from conftest import quiet_fit
from relamp import plots_model
from scipy import optimize, stats

NAN, INF = math.nan, math.inf


def quiet(tally: relamp.Tally, family: str = "weibull") -> relamp.Fit:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return relamp.fit(tally, family=family)


def claims(scale: float, seed: int) -> tuple[relamp.Tally, np.ndarray]:
    """Lives of Weibull shape 1.5 in a window of 1,500 h: those that claimed, and all."""
    lives = relamp.life("weibull", shape=1.5, scale=scale).draws(3000, seed=seed)
    seen = lives[lives <= 1500.0]
    return relamp.lives(seen, upper=np.full(len(seen), 1500.0)), lives


def test_a_windowed_fit_is_the_highest_point_by_scipy() -> None:
    tally, lives = claims(2000.0, 1)
    seen = lives[lives <= 1500.0]

    def against(x: np.ndarray) -> float:
        life = stats.weibull_min(math.exp(x[0]), scale=math.exp(x[1]))
        return float(len(seen) * life.logcdf(1500.0) - life.logpdf(seen).sum())

    best = optimize.minimize(against, [0.3, 7.5], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-10})
    fit = quiet(tally)
    assert fit.log_likelihood == pytest.approx(-best.fun, rel=1e-10)
    assert fit.life_at_maximum.parameters["shape"] == pytest.approx(math.exp(best.x[0]), rel=1e-5)
    window = relamp.within_window(fit, upper_hours=1500.0, ages=[500.0, 1000.0])
    highest = fit.life_at_maximum.parameters
    life = stats.weibull_min(highest["shape"], scale=highest["scale"])
    np.testing.assert_allclose(window.shares, life.cdf([500.0, 1000.0]) / life.cdf(1500.0), rtol=1e-9)
    frame = window.frame()
    assert frame.columns == ["age", "share", "low", "high"]
    # The share of the claims themselves lies within.
    assert frame["low"][0] < np.mean(seen <= 500.0) < frame["high"][0]


def published(name: str) -> np.ndarray:
    """Ages at failure of a complete published sample."""
    stored = json.loads((Path(__file__).parents[1] / "data" / "fit_references.json").read_text(encoding="utf-8"))
    (found,) = [one for one in stored["cases"] if one["name"] == name]
    return np.array([low for low, _, _, count in found["rows"] for _ in range(int(count))])


def test_a_published_sample_cut_on_both_sides_is_fitted_as_by_scipy() -> None:
    # Ball bearings (Lieblein & Zelen 1956), million revolutions: those that failed between 30 and 110 are all that is
    # seen. Scipy's own truncated Weibull life is the likelihood.
    ages = published("ball_bearing")
    seen = ages[(ages > 30.0) & (ages <= 110.0)]
    assert (len(ages), len(seen)) == (23, 18)
    tally = relamp.lives(seen, seen, entry=np.full(len(seen), 30.0), upper=np.full(len(seen), 110.0))

    def against(x: np.ndarray) -> float:
        shape, scale = np.exp(x)
        return float(-stats.truncweibull_min(shape, 30.0 / scale, 110.0 / scale, scale=scale).logpdf(seen).sum())

    best = optimize.minimize(against, [0.7, 4.3], method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-12})
    fit = quiet(tally)
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-9)
    shape, scale = np.exp(best.x)
    assert fit.life_at_maximum.parameters["shape"] == pytest.approx(shape, rel=1e-5)
    assert fit.life_at_maximum.parameters["scale"] == pytest.approx(scale, rel=1e-5)
    # Left as if all had been watched from new, the wear looks steeper.
    assert quiet(relamp.lives(seen)).parameters["shape"] > 1.2 * shape


def test_what_claims_leave_open_has_bounds_and_no_value_in_every_form() -> None:
    found = [(seed, quiet(claims(6000.0, seed)[0])) for seed in range(20)]
    limits = [fit for _, fit in found if "fit.at_limit" in {slug for slug, _ in fit.notes}]
    assert limits
    for fit in limits:
        assert fit.identified["scale"] == "no"
        assert 0.0 < relamp.within_window(fit, upper_hours=1500.0, ages=[500.0]).shares[0] < 0.5
        for ask in (lambda fit=fit: fit.wald(b_life=10.0), lambda fit=fit: fit.wald(reliability=1000.0)):
            with pytest.raises(relamp.RefusedError) as caught:
                ask()
            assert caught.value.slug == "fit.in_limit"
        with pytest.raises(ValueError, match="no maximum"):
            plots_model.families(relamp.product_limit(relamp.lives([5.0, 9.0])), [fit])
    seed, fit = next((seed, fit) for seed, fit in found if fit.identified["scale"] == "no" and fit not in limits)
    assert fit.parameters["scale"] is None
    assert fit.parameter("scale") is None
    assert fit.standard_error("scale") is None
    low, high, profile = fit.bounds("scale")
    assert low is not None
    assert high is None
    assert len(profile) > 6
    for text in (repr(fit), fit.summary(), fit._repr_html_()):
        assert f"not settled, at least {low:,.0f}" in text
    row = fit.frame().filter(fit.frame()["parameter"] == "scale").to_dicts()[0]
    assert (row["estimate"], row["standard_error"], row["identified"], row["high"]) == (None, None, "no", None)
    saved = json.loads(fit.to_json())["body"]["identified"]
    assert next(m for m in saved if m["parameter"] == "scale")["identified"] == "no"
    assert {"fit.parameter_open", "fit.claims_only"} <= {slug for slug, _ in fit.notes}
    # No single life stands for them, no error of the scale, and no figure of all lamps.
    for ask in (lambda: fit.life, lambda: fit.wald(parameter="scale")):
        with pytest.raises(relamp.RefusedError) as caught:
            ask()
        assert caught.value.slug == "fit.parameter_open"
    assert fit.life_at_maximum.parameters["shape"] > 0.0
    for kind in ({"b_life": 10.0}, {"mean": True}, {"reliability": 500.0}):
        with pytest.raises(relamp.RefusedError) as caught:
            fit.wald(**kind)
        assert caught.value.slug == "fit.window_only"
    interval = fit.profile(claims(6000.0, seed)[0], parameter="scale")
    assert (interval.estimate, interval.high) == (None, None)
    assert interval.low == pytest.approx(low, rel=1e-6)
    assert interval.frame()["estimate"].to_list() == [None]
    assert relamp.Interval.from_json(interval.to_json()) == interval
    curve = fit.profile_curve(claims(6000.0, seed)[0], parameter="scale", points=21)
    assert "not settled" in {text.get_text() for text in plots_model.profile(curve).texts}
    # A value is given where the lamps shipped are.
    whole = claims(6000.0, seed)[0].with_shipped(upper=[1500.0], count=[3000])
    assert relamp.fit(whole).identified == {"shape": "yes", "scale": "yes"}


def test_lamps_shipped_equal_lamps_watched() -> None:
    tally, lives = claims(3000.0, 2)
    watched = relamp.lives(np.minimum(lives, 1500.0), np.where(lives <= 1500.0, lives, INF))
    assert tally.with_shipped(upper=[1500.0], count=[3000]) == watched
    with pytest.raises(relamp.InputError) as caught:
        tally.with_shipped(upper=[1500.0, 900.0, 900.0, -1.0], count=[5, 1, 1, 1])
    assert {(p.slug, p.row) for p in caught.value.problems} == {
        ("lives.shipped_upper", 3),
        ("lives.shipped_upper", 4),
        ("lives.shipped_fewer", 1),
    }
    with pytest.raises(relamp.InputError, match=r"lives\.count_not_whole"):
        tally.with_shipped(upper=[1500.0], count=[2.5])


def test_residuals_are_the_cumulative_hazard_and_can_be_drawn() -> None:
    rng = np.random.default_rng(3)
    lives, stops = 1000.0 * rng.weibull(2.0, 80), rng.uniform(400.0, 1800.0, 80)
    failed = lives <= stops
    tally = relamp.lives(np.minimum(lives, stops), np.where(failed, lives, INF))
    fit = relamp.fit(tally)
    got = relamp.residuals(fit, tally)
    life = stats.weibull_min(fit.parameters["shape"], scale=fit.parameters["scale"])
    np.testing.assert_allclose(got.passed, -life.logsf(tally.low), rtol=1e-9)
    assert got.failed == tuple(np.isfinite(tally.high).tolist())
    assert got.expected_failures == pytest.approx(got.failures, rel=1e-8)
    # The curve of the records, by scipy.
    sf = stats.ecdf(stats.CensoredData.right_censored(np.minimum(lives, stops), ~failed)).sf
    np.testing.assert_allclose(got.ages, np.sort(lives[failed]), rtol=1e-12)
    assert len(sf.quantiles) == 80
    np.testing.assert_allclose(got.expected, -life.logsf(got.ages), rtol=1e-9)
    at_risk = np.array([(np.minimum(lives, stops) >= t).sum() for t in got.ages])
    np.testing.assert_allclose(got.seen, np.cumsum(1.0 / at_risk), rtol=1e-9)
    ax = plots_model.residuals(got)
    assert list(ax.lines[1].get_ydata()) == list(got.seen)
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    none = relamp.residuals(fit, relamp.lives([10.0], [None]))
    with pytest.raises(ValueError, match="no lamp failed"):
        plots_model.residuals(none)
    with pytest.raises(relamp.RefusedError, match="failures only"):
        relamp.residuals(fit, claims(2000.0, 1)[0])


@pytest.mark.parametrize("family", ["gamma", "generalised_gamma", "inverse_gaussian", "birnbaum_saunders", "gompertz"])
def test_a_fit_of_any_family_has_a_plot_on_which_it_is_straight(family: str) -> None:
    ages = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]
    tally = relamp.lives([*ages, 950.0], [*ages, None])
    fit = quiet_fit(tally, family=family)
    curve = relamp.product_limit(tally)
    with pytest.raises(relamp.InputError, match="straight lines"):
        relamp.probability_plot(curve, family=family)
    plot = relamp.probability_plot(curve, fit=fit)
    assert plot.of_fit
    for share in (0.05, 0.5, 0.9):
        # Ten failures leave the shape of a generalised gamma open on both sides.
        assert plot.scale_age(fit.life_at_maximum.quantile(share)) == pytest.approx(plot.scale_share(share), abs=1e-9)
    assert np.isfinite(plot.simultaneous).all()
    ax = plots_model.probability(plot, fit)
    (x0, x1), (y0, y1) = ax.lines[0].get_xdata(), ax.lines[0].get_ydata()
    assert (y1 - y0) / (x1 - x0) == pytest.approx(1.0, abs=1e-9)
    assert "scales of the" in ax.get_title(loc="left")
    with pytest.raises(relamp.InputError, match="one of family and fit"):
        relamp.probability_plot(curve, family=family, fit=fit)
    assert not relamp.probability_plot(curve, fit=quiet_fit(tally)).of_fit


# Low, high, entry, count, and the slug and column of what is wrong.
BAD = [
    (NAN, NAN, 0.0, 1, "lives.age_not_a_number", "low"),
    (INF, INF, 0.0, 1, "lives.age_infinite", "low"),
    (-5.0, -5.0, 0.0, 1, "lives.age_negative", "low"),
    (100.0, 90.0, 0.0, 1, "lives.low_above_high", "low"),
    (100.0, 100.0, 100.0, 1, "lives.entry_not_before_failure", "entry"),
    (100.0, INF, 150.0, 1, "lives.entry_after_censoring", "entry"),
    (100.0, 120.0, 120.0, 1, "lives.entry_not_before_interval_end", "entry"),
    (100.0, 120.0, NAN, 1, "lives.age_not_a_number", "entry"),
    (100.0, 120.0, -1.0, 1, "lives.age_negative", "entry"),
]


def test_every_bad_row_is_named_with_its_reason() -> None:
    good = (250.0, 250.0, 0.0, 1)
    rows = [row for bad in BAD for row in (good, bad[:4])]
    low, high, entry, count = (list(column) for column in zip(*rows, strict=True))
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives(low, high, entry=entry, count=count)
    found = [(p.row, p.slug, p.column) for p in caught.value.problems]
    assert found == [(2 * i, slug, column) for i, (*_, slug, column) in enumerate(BAD, 1)]
    assert all(p.got for p in caught.value.problems)


def test_counts_and_lengths_that_are_none_are_named() -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives([1.0] * 5, [1.0] * 5, count=[1, -1, 0.5, 3, -2])
    assert [(p.row, p.slug) for p in caught.value.problems] == [
        (2, "lives.count_not_whole"),
        (3, "lives.count_not_whole"),
        (5, "lives.count_not_whole"),
    ]
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives([-1.0, 1.0, 9.0], [-1.0, 1.0, 8.0], count=[1, 0.5, 1])
    assert [(p.row, p.column) for p in caught.value.problems] == [(1, "low"), (2, "count"), (3, "low")]
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives([1.0, 2.0], [1.0], entry=[0.0] * 3, count=[1])
    assert {p.column for p in caught.value.problems} == {"high", "entry", "count"}
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives([-1.0, 1.0, 9.0, -2.0], [-1.0, 1.0, 8.0], count=[1, 0.5])
    assert {(p.row, p.column) for p in caught.value.problems} == {
        (None, "high"),
        (None, "count"),
        (1, "low"),
        (2, "count"),
        (3, "low"),
        (4, "low"),
    }


def test_rows_without_information_change_nothing() -> None:
    ages = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]
    plain = relamp.fit(relamp.lives(ages))
    more = relamp.fit(
        relamp.lives(
            [*ages, 512.0, 700.0, 0.0],
            [*ages, 512.0, None, None],
            entry=[0.0] * 11 + [700.0, 0.0],
            count=[1] * 10 + [0, 40, 25],
        )
    )
    assert more.parameters == pytest.approx(plain.parameters, rel=1e-9)
    assert more.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-13)
    # Lamps that were never watched are no lamps of the fit.
    assert (more.lamps, more.failures) == (plain.lamps, plain.failures)
