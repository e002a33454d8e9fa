"""Profile curves, joint regions and intervals of further figures, beside scipy and their own formulas."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable

import numpy as np
import pytest
import relamp
from conftest import quiet_fit
from relamp import plots_model
from scipy import optimize, stats

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.2.1: 20 units, 10 failures by 500 h.
FAILED = [54.0, 187, 216, 240, 244, 335, 361, 373, 375, 386]
LOW = FAILED + [500.0] * 10
TALLY = relamp.lives(LOW, [*FAILED, *[None] * 10])


def log_likelihood(law: object, failed: list[float], censored: list[float]) -> float:
    return float(np.sum(law.logpdf(failed)) + np.sum(law.logsf(censored)))  # type: ignore[attr-defined]


def test_every_corner_of_a_region_lies_on_the_level_that_scipy_computes() -> None:
    fit = quiet_fit(TALLY)
    region = fit.region(TALLY, level=0.9)
    assert region.closed
    assert region.parameters == ("shape", "scale")
    assert region.corners.shape[0] >= 96
    top = log_likelihood(stats.weibull_min(fit.parameters["shape"], scale=fit.parameters["scale"]), FAILED, LOW[10:])
    for shape, scale in region.corners:
        fall = 2 * (top - log_likelihood(stats.weibull_min(shape, scale=scale), FAILED, LOW[10:]))
        assert fall == pytest.approx(stats.chi2.ppf(0.9, 2), rel=1e-7)
    assert region.contains(first=fit.parameters["shape"], second=fit.parameters["scale"])
    assert pickle.loads(pickle.dumps(region)) == region
    assert relamp.LikelihoodRegion.from_json(region.to_json()) == region
    assert region.frame().columns == ["shape", "scale"]


def test_a_curve_is_the_best_likelihood_at_each_value() -> None:
    fit = quiet_fit(TALLY)
    curve = fit.profile_curve(TALLY, b_life=10.0, points=21)
    interval = fit.profile(TALLY, b_life=10.0)
    assert (curve.low, curve.high) == (interval.low, interval.high)
    assert curve.values[np.argmax(curve.relative_log_likelihood)] == pytest.approx(curve.estimate)
    top = fit.log_likelihood

    def fall(age: float) -> float:
        def at(ln_shape: float) -> float:
            shape = np.exp(ln_shape)
            scale = age * (-np.log(0.9)) ** (-1 / shape)
            return -log_likelihood(stats.weibull_min(shape, scale=scale), FAILED, LOW[10:])

        return float(-optimize.minimize_scalar(at, bounds=(-2.0, 2.5), method="bounded", options={"xatol": 1e-10}).fun)

    for age, height in zip(curve.values, curve.relative_log_likelihood, strict=True):
        assert fall(age) - top == pytest.approx(height, abs=1e-6)
    assert pickle.loads(pickle.dumps(curve)) == curve


def test_the_mean_of_a_lognormal_life_has_the_profile_that_scipy_finds() -> None:
    # The mean is exp(location + scale^2 / 2): hold it and maximise over the scale.
    fit = quiet_fit(TALLY, family="lognormal")
    got = fit.profile(TALLY, mean=True, level=0.9)
    cut = stats.chi2.ppf(0.9, 1)

    def fall(mean: float) -> float:
        def at(ln_scale: float) -> float:
            s = np.exp(ln_scale)
            law = stats.lognorm(s, scale=np.exp(np.log(mean) - s * s / 2))
            return -log_likelihood(law, FAILED, LOW[10:])

        best = optimize.minimize_scalar(at, bounds=(-2.5, 2.0), method="bounded", options={"xatol": 1e-10})
        return float(2 * (fit.log_likelihood + best.fun))

    assert got.low is not None
    assert got.high is not None
    for end in (got.low, got.high):
        assert fall(end) == pytest.approx(cut, rel=1e-5)
    assert got.quantity == "mean life"
    assert got.method == "profile_likelihood"


def test_a_function_of_the_caller_is_asked_by_every_method() -> None:
    fit = quiet_fit(TALLY)

    def b10(life: relamp.Life) -> float:
        return float(life.b_life(10.0))

    own, ours = fit.wald(function=b10, scale="positive"), fit.wald(b_life=10.0)
    assert (own.low, own.high) == (pytest.approx(ours.low, rel=1e-8), pytest.approx(ours.high, rel=1e-8))
    assert own.quantity == "b10"
    assert own.method == "wald"
    own, ours = fit.profile(TALLY, function=b10, scale="positive"), fit.profile(TALLY, b_life=10.0)
    assert (own.low, own.high) == (pytest.approx(ours.low, rel=1e-7), pytest.approx(ours.high, rel=1e-7))
    replicates = relamp.bootstrap(TALLY, replicates=400, seed=3)
    for corrected in (False, True):
        own = replicates.interval(function=b10, scale="positive", bias_corrected=corrected)
        ours = replicates.interval(b_life=10.0, bias_corrected=corrected)
        assert (own.low, own.high) == (pytest.approx(ours.low, rel=1e-9), pytest.approx(ours.high, rel=1e-9))
    assert own.method == "weighted_bootstrap_bias_corrected"


def test_the_bias_correction_is_its_formula_in_numpy() -> None:
    replicates = relamp.bootstrap(TALLY, replicates=999, seed=3)
    shapes = np.sort(np.exp(replicates.coordinates[:, 0]))
    z0 = stats.norm.ppf(np.mean(shapes < replicates.fit.parameters["shape"]))
    ranks = stats.norm.cdf(2 * z0 + stats.norm.ppf([0.05, 0.95])) * (len(shapes) + 1) - 1
    want = np.interp(ranks, np.arange(len(shapes)), shapes)
    got = replicates.interval(parameter="shape", level=0.9, bias_corrected=True)
    assert [got.low, got.high] == pytest.approx(want, rel=1e-12)


def highest(ages: np.ndarray, failed: np.ndarray, held: Callable[[np.ndarray], np.ndarray] | None) -> np.ndarray:
    """Highest log-likelihood of each Weibull sample, one a row, over the shape: by golden section.

    `held` gives the logarithm of the scale for a shape; without it the scale is the best for the shape.
    """
    logs, d = np.log(ages), failed.sum(1)
    top = logs.max(1)

    def best(k: np.ndarray) -> np.ndarray:
        return np.log(np.exp(k[:, None] * (logs - top[:, None])).sum(1) / d) / k + top

    def at(b: np.ndarray) -> np.ndarray:
        k = np.exp(b)
        ln_scale = (held or best)(k)
        z = k[:, None] * (logs - ln_scale[:, None])
        return (failed * (b[:, None] + z - logs)).sum(1) - np.exp(z).sum(1)

    low, high = np.full(len(d), -3.0), np.full(len(d), 6.0)
    share = (5**0.5 - 1) / 2
    for _ in range(70):
        a, b = high - share * (high - low), low + share * (high - low)
        left = at(a) > at(b)
        low, high = np.where(left, low, a), np.where(left, b, high)
    return at((low + high) / 2)


def test_the_mean_of_the_ratio_is_that_of_samples_drawn_and_fitted_in_numpy() -> None:
    # All stop at 300 h, so that is the censoring age of the failed too.
    few = relamp.lives([*FAILED[:5], 300.0, 300.0], [*FAILED[:5], None, None])
    fit = quiet_fit(few)
    shape, scale = fit.parameters["shape"], fit.parameters["scale"]
    lives = scale * np.random.default_rng(4).weibull(shape, (20_000, 7))
    failed = lives <= 300.0
    fitted = failed.any(1)
    ages, failed = np.minimum(lives, 300.0)[fitted], failed[fitted]
    tops = highest(ages, failed, None)
    d = failed.sum(1)
    # At the true shape the best scale has a closed form; at the true b10 the scale follows from the shape.
    ln_scale = np.log((ages**shape).sum(1) / d) / shape
    z = shape * (np.log(ages) - ln_scale[:, None])
    at_shape = (failed * (np.log(shape) + z - np.log(ages))).sum(1) - np.exp(z).sum(1)
    ln_b10, one = np.log(fit.life.b_life(10.0)), np.log(-np.log(0.9))
    at_b10 = highest(ages, failed, lambda k: ln_b10 - one / k)
    for asked, held in (({"parameter": "shape"}, at_shape), ({"b_life": 10.0}, at_b10)):
        ratios = 2 * (tops - held)
        got = relamp.profile_corrected(fit, few, **asked, replicates=20_000, seed=2).ratio
        assert got is not None
        error = np.hypot(got["standard_error"], ratios.std() / len(ratios) ** 0.5)
        assert abs(got["mean"] - ratios.mean()) < 4 * error
        assert got["mean"] > 1 + 4 * error
        assert got["standard_error"] == pytest.approx(ratios.std() / 20_000**0.5, rel=0.05)
        assert got["replicates"] + got["unsettled"] == 20_000


def test_a_corrected_interval_is_saved_with_its_mean_and_checked() -> None:
    fit = quiet_fit(TALLY)
    got = relamp.profile_corrected(fit, TALLY, b_life=10.0, replicates=99, seed=2)
    assert got.method == "profile_likelihood_corrected"
    assert pickle.loads(pickle.dumps(got)) == got
    assert got.ratio is not None
    assert f"{got.ratio['mean']:.2f}"[:3] in got.summary()
    assert fit.profile(TALLY, b_life=10.0).ratio is None
    saved = json.loads(got.to_json())
    for field, value in (("mean", -1.0), ("unsettled", 40), ("standard_error", -1.0)):
        body = {**saved["body"], "ratio": {**saved["body"]["ratio"], field: value}}
        with pytest.raises(relamp.InputError, match=f"ratio.{field}"):
            relamp.Interval.from_json(json.dumps({**saved, "body": body}))
    for body in ({**saved["body"], "method": "profile_likelihood"}, {**saved["body"], "ratio": None}):
        with pytest.raises(relamp.InputError, match="ratio"):
            relamp.Interval.from_json(json.dumps({**saved, "body": body}))


def test_a_function_is_corrected_as_the_figure_it_gives() -> None:
    fit = quiet_fit(TALLY)

    def b10(life: relamp.Life) -> float:
        return float(life.b_life(10.0))

    own = relamp.profile_corrected(fit, TALLY, function=b10, scale="positive", replicates=99, seed=2)
    ours = relamp.profile_corrected(fit, TALLY, b_life=10.0, replicates=99, seed=2)
    assert own.ratio is not None
    assert ours.ratio is not None
    assert own.ratio["mean"] == pytest.approx(ours.ratio["mean"], rel=1e-6)
    assert (own.low, own.high) == (pytest.approx(ours.low, rel=1e-6), pytest.approx(ours.high, rel=1e-6))

    def broken(_life: relamp.Life) -> float:
        raise KeyError("mine")

    with pytest.raises(KeyError, match="mine"):
        relamp.profile_corrected(fit, TALLY, function=broken, replicates=99, seed=2)


def test_an_exception_in_a_function_comes_out_as_it_was_raised() -> None:
    fit = quiet_fit(TALLY)

    def broken(_life: relamp.Life) -> float:
        raise KeyError("mine")

    with pytest.raises(KeyError, match="mine"):
        fit.wald(function=broken)
    # A function of no number is told what it has to give, not left to a bare error of the border.
    for given, kind in (("ten", "str"), (None, "NoneType")):
        with pytest.raises(relamp.InputError, match=f"does not give a number.*{kind}.*a number"):
            fit.wald(function=lambda _life, given=given: given)
        with pytest.raises(relamp.InputError, match="does not give a number"):
            fit.profile(TALLY, function=lambda _life, given=given: given)
    for bad in ({"function": 3.0}, {"function": broken, "scale": "odd"}, {}, {"mean": True, "hazard": 3.0}):
        with pytest.raises(relamp.InputError):
            fit.wald(**bad)


def test_hazard_and_chance_ahead_follow_the_life() -> None:
    fit = quiet_fit(TALLY)
    assert fit.wald(hazard=300.0).estimate == pytest.approx(fit.life.hazard(300.0), rel=1e-12)
    ahead = fit.wald(failure_within=(300.0, 100.0))
    want = 1 - fit.life.reliability(400.0) / fit.life.reliability(300.0)
    assert ahead.estimate == pytest.approx(want, rel=1e-12)
    assert ahead.quantity == "failure within 100 h from 300 h"


def test_plots_show_what_was_computed() -> None:
    fit = quiet_fit(TALLY)
    curve = fit.profile_curve(TALLY, parameter="shape")
    ax = plots_model.profile(curve)
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    x, y = ax.lines[0].get_data()
    # The drawn curve passes both ends at the cut.
    for end in (curve.low, curve.high):
        assert y[list(x).index(end)] == curve.cut
    texts = " ".join(t.get_text() for t in ax.texts)
    assert f"{curve.low:.3g}" in texts
    region, wider = fit.region(TALLY, level=0.5), fit.region(TALLY, level=0.95)
    ax = plots_model.region(region, wider)
    drawn = ax.lines[0].get_xydata()
    assert np.allclose(drawn[:-1], region.corners)
    assert np.allclose(drawn[-1], region.corners[0])
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    other = quiet_fit(TALLY, family="lognormal").region(TALLY)
    with pytest.raises(ValueError, match="one family"):
        plots_model.region(region, other)
    with pytest.raises(TypeError, match=r"curve .* ProfileCurve, as Fit\.profile_curve gives it, got int"):
        plots_model.profile(3)  # type: ignore[arg-type]
    assert plots_model.profile(curve, ax=ax) is ax


def test_an_open_curve_is_drawn_with_its_open_end_named() -> None:
    # One look at each lamp: 1 of 10 failed by 500 h, 3 of 10 by 900 h.
    tally = relamp.lives([0, 500, 0, 900], [500, None, 900, None], count=[1, 9, 3, 7])
    fit = quiet_fit(tally)
    curve = fit.profile_curve(tally, parameter="shape")
    assert curve.low is None
    assert "fit.one_sided" in [slug for slug, _ in curve.notes]
    ax = plots_model.profile(curve)
    assert "no lower end" in [t.get_text() for t in ax.texts]
    region = fit.region(tally)
    assert not region.closed
    plots_model.region(region)
