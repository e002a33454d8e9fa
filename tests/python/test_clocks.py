"""Lives on two clocks and under recorded currents, beside scipy."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import polars as pl
import pytest
import relamp
from scipy import optimize, stats

Array = np.ndarray[Any, Any]
OPTIONS = {"maxiter": 40_000, "maxfev": 40_000, "xatol": 1e-9, "fatol": 1e-11}


def struck(n: int, seed: int, low: float = 0.1, high: float = 0.8) -> dict[str, Array]:
    """Invented lamps of shape 3, scale 3,000 equivalent hours, a strike being worth 2 h."""
    random = np.random.default_rng(seed)
    rate = random.uniform(low, high, n)
    life = 3000.0 * random.weibull(3.0, n) / (1.0 + 2.0 * rate)
    end = random.uniform(1200.0, 2600.0, n)
    entry = np.where(random.uniform(size=n) < 0.3, random.uniform(0.0, 300.0, n), 0.0)
    kept = np.minimum(life, end) > entry
    columns = {"low": np.minimum(life, end), "failed": life <= end, "entry": entry, "rate": rate}
    return {name: column[kept] for name, column in columns.items()}


def tally(d: dict[str, Array]) -> relamp.Tally:
    high = [x if f else None for x, f in zip(d["low"], d["failed"], strict=True)]
    return relamp.lives(d["low"], high, entry=d["entry"], covariates={"rate": d["rate"]})


@pytest.mark.parametrize("family", ["weibull", "lognormal"])
def test_what_a_strike_is_worth_is_the_maximum_that_scipy_finds(family: str) -> None:
    d = struck(250, 1)

    def minus(x: Any) -> float:
        speed = 1.0 + x[2] * d["rate"]
        if (speed <= 0.0).any():
            return float("inf")
        shape, scale = np.exp(x[0]), np.exp(x[1])
        law = stats.weibull_min(shape, scale=scale) if family == "weibull" else stats.lognorm(1.0 / shape, scale=scale)
        at = np.where(d["failed"], law.logpdf(d["low"] * speed) + np.log(speed), law.logsf(d["low"] * speed))
        return float(-(at - law.logsf(d["entry"] * speed)).sum())

    best = optimize.minimize(minus, [0.5, 7.5, 1.0], method="Nelder-Mead", options=OPTIONS)
    best = optimize.minimize(minus, best.x, method="Nelder-Mead", options=OPTIONS)
    got = relamp.two_clocks(tally(d), strikes_per_hour="rate", family=family)
    assert got.edge == "inside"
    assert got.identified
    assert got.hours_per_strike == pytest.approx(best.x[2], rel=1e-5)
    assert got.log_likelihood == pytest.approx(-best.fun, abs=1e-7)
    median = stats.weibull_min(np.exp(best.x[0]), scale=np.exp(best.x[1])).median() if family == "weibull" else None
    if median is not None:
        assert got.life(0.5).b_life(50.0) == pytest.approx(median / (1.0 + 0.5 * best.x[2]), rel=1e-5)
    # The ends of the interval: there the constrained maximum lies half a chi-square quantile below.
    cut = -best.fun - stats.chi2.ppf(0.95, 1) / 2.0

    def held(k: float) -> float:
        one = optimize.minimize(lambda x: minus([*x, k]), best.x[:2], method="Nelder-Mead", options=OPTIONS)
        return float(-one.fun)

    assert got.high is not None
    assert held(got.high) == pytest.approx(cut, abs=1e-6)
    if got.low > 0.0:
        assert held(got.low) == pytest.approx(cut, abs=1e-6)
    else:
        assert [slug for slug, _ in got.notes] == ["fit.one_sided"]
    frame = got.frame()
    assert frame["hours_per_strike"][0] == 0.0
    assert frame["hours_per_strike"][-1] is None
    assert frame["relative_log_likelihood"].max() == 0.0


def test_rates_that_hardly_vary_give_the_profile_and_the_words() -> None:
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        got = relamp.two_clocks(tally(struck(200, 2, 0.30, 0.31)), strikes_per_hour="rate")
    assert any("fit.clock_not_identified" in str(w.message) for w in told)
    assert not got.identified
    assert got.hours_per_strike is None
    assert (got.low, got.high) == (0.0, None)
    assert "not identifiable from these records" in got.sentence
    assert got.frame()["relative_log_likelihood"].min() > -1.92
    assert got.life(got.mean_rate).parameters == got.parameters
    with pytest.raises(relamp.RefusedError, match="clock_not_identified"):
        got.life(0.9)


def test_clocks_that_cannot_run_are_refused() -> None:
    t = tally(struck(60, 3))
    with pytest.raises(relamp.InputError, match=r"fit\.clock_rate"):
        relamp.two_clocks(t, strikes_per_hour="strikes")
    with pytest.raises(relamp.RefusedError, match=r"fit\.clock_family"):
        relamp.two_clocks(t, strikes_per_hour="rate", family="normal")
    with pytest.raises(relamp.InputError, match=r"fit\.level"):
        relamp.two_clocks(t, strikes_per_hour="rate", level=0.0)


def raised(n: int, seed: int) -> tuple[dict[str, Any], dict[str, list[Any]]]:
    """Invented lamps whose current rises every 400 h; wear by its second power, shape 3, scale 3,000 h at 75 A."""
    random = np.random.default_rng(seed)
    lives: dict[str, Any] = {"life": [], "low": [], "high": [], "entry": []}
    pieces: dict[str, list[Any]] = {"life": [], "from_hours": [], "to_hours": [], "current": []}
    for i in range(n):
        left, current, rise = 3000.0 * random.weibull(3.0), random.uniform(65.0, 80.0), random.uniform(1.0, 1.08)
        change, age, name, failed = random.uniform(1500.0, 3000.0), 0.0, f"lamp {i}", False
        while age < change and not failed:
            speed = (current / 75.0) ** 2
            hours = min(left / speed, 400.0)
            failed = hours < 400.0
            for column, value in zip(pieces, (name, age, min(age + hours, change), current), strict=True):
                pieces[column].append(value)
            age, left, current = age + hours, left - hours * speed, current * rise
        failed = failed and age <= change
        entry = float(random.uniform(0.0, 200.0)) if i % 4 == 0 else 0.0
        low = age if failed else change
        for column, value in zip(lives, (name, low, low if failed else None, min(entry, 0.5 * low)), strict=True):
            lives[column].append(value)
    return lives, pieces


@pytest.mark.parametrize("family", ["weibull", "lognormal"])
def test_the_power_is_the_maximum_that_scipy_finds(family: str) -> None:
    lives, pieces = raised(150, 4)
    table = pl.DataFrame(pieces)
    own = [table.filter(pl.col("life") == name).sort("from_hours") for name in lives["life"]]

    def worn(hours: Any, n: float) -> Array:
        out = []
        for h, p in zip(hours, own, strict=True):
            there = np.clip(h - p["from_hours"].to_numpy(), 0.0, (p["to_hours"] - p["from_hours"]).to_numpy())
            out.append(float((there * (p["current"].to_numpy() / 75.0) ** n).sum()))
        return np.array(out)

    failed = np.array([h is not None for h in lives["high"]])
    last = np.array([p["current"][-1] for p in own])

    def minus(x: Any) -> float:
        shape, scale = np.exp(x[0]), np.exp(x[1])
        law = stats.weibull_min(shape, scale=scale) if family == "weibull" else stats.lognorm(1.0 / shape, scale=scale)
        u = worn(lives["low"], x[2])
        at = np.where(failed, law.logpdf(u) + x[2] * np.log(last / 75.0), law.logsf(u))
        return float(-(at - law.logsf(worn(lives["entry"], x[2]))).sum())

    options = {**OPTIONS, "xatol": 1e-6, "fatol": 1e-9}
    best = optimize.minimize(minus, [1.0, 8.0, 1.0], method="Nelder-Mead", options=options)
    fit = relamp.fit_current_history(lives, pieces, family=family)
    assert fit.converged
    assert fit.power == pytest.approx(best.x[2], abs=1e-4)
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-6)
    scale = fit.life(75.0).b_life(100.0 * (1.0 - np.exp(-1.0)) if family == "weibull" else 50.0)
    assert scale == pytest.approx(float(np.exp(best.x[1])), rel=1e-4)
    interval = fit.profile(pl.DataFrame(lives), table, level=0.9)
    wald = fit.wald(level=0.9)
    assert interval.low is not None
    assert interval.high is not None
    assert wald.low is not None
    assert interval.low < fit.power < interval.high
    assert interval.low == pytest.approx(wald.low, abs=0.5 * fit.standard_error)
    programme = [(400.0, 70.0), (400.0, 75.0)]
    left = 400.0 * (70.0 / 75.0) ** fit.power + 400.0
    assert fit.reliability(programme) == pytest.approx(fit.life(75.0).reliability(left), rel=1e-9)


def test_single_readings_and_gaps_are_refused_by_row() -> None:
    lives = {"life": ["a", "b"], "low": [900.0, 1200.0], "high": [900.0, None]}
    pieces: dict[str, list[Any]] = {
        "life": ["a", "b", "b"],
        "from_hours": [0.0, 0.0, 700.0],
        "to_hours": [900.0, 700.0, 1200.0],
        "current": [75.0, 70.0, 80.0],
    }

    def refused(changes: dict[str, Any], **more: Any) -> relamp.Problem:
        with pytest.raises(relamp.InputError) as caught:
            relamp.fit_current_history(lives, {**pieces, **changes}, family="exponential", **more)
        return caught.value.problems[0]

    problem = refused({})
    assert (problem.slug, problem.input, problem.row) == ("fit.history_single", "pieces", 1)
    assert refused({}, single="last_reading").slug == refused({}, single="at_fitting").slug == "fit.history_single"
    assert refused({}, single="yes").slug == "python.single"
    # A declaration that is none is refused where every life has its history, too.
    whole = {
        "life": ["a", "a", "b", "b"],
        "from_hours": [0.0, 400.0, 0.0, 700.0],
        "to_hours": [400.0, 900.0, 700.0, 1200.0],
        "current": [70.0, 75.0, 70.0, 80.0],
    }
    for single in ("last_reading", "at_fitting"):
        with pytest.raises(relamp.InputError, match="held all along") as error:
            relamp.fit_current_history(lives, whole, family="exponential", single=single)
        assert (error.value.slug, error.value.problems[0].input) == ("fit.history_single", "single")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", relamp.WeakDataWarning)
        assert relamp.fit_current_history(lives, pieces, family="exponential", single="constant_over_life").converged
    # Every bad number of every row at once, NaN and missing among them.
    with pytest.raises(relamp.InputError) as error:
        relamp.fit_current_history(lives, {**pieces, "current": [float("nan"), -5.0, None]}, family="exponential")
    assert [(p.slug, p.row, p.got) for p in error.value.problems] == [
        ("fit.history_piece", 1, "NaN"),
        ("fit.history_piece", 2, "-5"),
        ("fit.history_piece", 3, "NaN"),
    ]
    gap = refused({"from_hours": [0.0, 0.0, 710.0]}, single="constant_over_life")
    assert (gap.slug, gap.row, gap.column) == ("fit.history_gap", 3, "from_hours")
    assert refused({"current": [75.0, 70.0, -1.0]}).slug == "fit.history_piece"
    assert refused({"amps": [1.0, 1.0, 1.0]}).slug == "python.column_unknown"
    with pytest.raises(relamp.InputError, match="column_missing"):
        relamp.fit_current_history({"life": ["a"], "low": [1.0]}, pieces)
    some = relamp.fit_current_history(*raised(40, 5))
    with pytest.raises(relamp.InputError, match="programme"):
        some.reliability([500.0])  # type: ignore[list-item]


@pytest.mark.filterwarnings("ignore::relamp.WeakDataWarning")
def test_a_life_out_of_sight_for_a_while_has_a_row_for_each_stretch() -> None:
    lives: dict[str, Any] = {
        "life": ["a", "a", "b", "c"],
        "low": [500.0, 1200.0, 900.0, 1000.0],
        "high": [None, 1200.0, 900.0, None],
        "entry": [0.0, 700.0, 0.0, 0.0],
    }
    pieces = {
        "life": ["a", "a", "b", "b", "c", "c"],
        "from_hours": [0.0, 600.0, 0.0, 500.0, 0.0, 400.0],
        "to_hours": [600.0, 1200.0, 500.0, 900.0, 400.0, 1000.0],
        "current": [70.0, 75.0, 72.0, 80.0, 70.0, 71.0],
    }

    def refused(lives: dict[str, Any], pieces: dict[str, Any]) -> relamp.Problem:
        with pytest.raises(relamp.InputError) as caught:
            relamp.fit_current_history(lives, pieces, family="exponential")
        return caught.value.problems[0]

    assert relamp.fit_current_history(lives, pieces, family="exponential").converged
    overlap = refused({**lives, "entry": [0.0, 400.0, 0.0, 0.0]}, pieces)
    assert (overlap.slug, overlap.row, overlap.column) == ("fit.history_lives", 2, "entry")
    early = refused({**lives, "high": [500.0, 1200.0, 900.0, None]}, pieces)
    assert (early.slug, early.row, early.column) == ("fit.history_lives", 1, "high")
    # One reading copied to both pieces of a lamp is one reading still.
    copied = refused(lives, {**pieces, "current": [70.0, 75.0, 80.0, 80.0, 70.0, 71.0]})
    assert (copied.slug, copied.row) == ("fit.history_single", 3)
