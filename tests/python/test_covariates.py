"""Lives with covariates, accelerated-life regression and proportional hazards beside general-purpose libraries."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest
import relamp
from scipy import optimize, stats
from statsmodels.api import OLS
from statsmodels.duration.hazard_regression import PHReg

LAW = {"law": "inverse_power", "reference": 75.0, "value_is": "at_fitting"}
SET = {"current": "at_fitting"}


def lamps(n: int, seed: int, ties: bool = False) -> dict[str, np.ndarray[Any, Any]]:
    """Invented Weibull lives that shorten with current and differ by supplier, some entered late or censored."""
    random = np.random.default_rng(seed)
    current = random.choice([65.0, 70.0, 75.0, 80.0, 85.0], n)
    supplier = random.choice(["north", "south", "west"], n)
    factor = np.select([supplier == "south", supplier == "west"], [1.5, 0.8], 1.0)
    age = 2000.0 * (current / 75.0) ** -2.0 * factor * random.weibull(2.0, n)
    end = random.uniform(800.0, 3000.0, n)
    entry = np.where(random.uniform(size=n) < 0.3, random.uniform(0.0, 400.0, n), 0.0)
    if ties:
        age, end = np.ceil(age / 100.0) * 100.0, np.ceil(end / 100.0) * 100.0
        # Between the ages of failure: whether a lamp that enters at one is at risk there is a convention.
        entry = np.where(entry > 0.0, np.floor(entry / 100.0) * 100.0 + 50.0, 0.0)
    low = np.minimum(age, end)
    kept = low > entry
    columns = {"low": low, "failed": age <= end, "entry": entry, "current": current, "supplier": supplier}
    columns["site"] = random.choice([f"site {i}" for i in range(20)], n)
    return {name: column[kept] for name, column in columns.items()}


def tally(d: dict[str, Any], **more: Any) -> relamp.Tally:
    high = [x if f else None for x, f in zip(d["low"], d["failed"], strict=True)]
    covariates = {"current": d["current"], "supplier": d["supplier"].tolist()}
    return relamp.lives(d["low"], high, entry=d["entry"], covariates=covariates, **more)


def matrix(d: dict[str, Any]) -> np.ndarray[Any, Any]:
    return np.column_stack([d["current"], d["supplier"] == "south", d["supplier"] == "west"]).astype(float)


NAMES = ["current", "supplier=south", "supplier=west"]


def test_covariates_come_from_dicts_and_frames_of_every_kind() -> None:
    columns: dict[str, Any] = {"supplier": ["n", "s", "n"], "current": [80, 75, 80]}
    one = relamp.lives([900.0, 900.0, 900.0], covariates=columns)
    assert (one.rows, one.lamps, one.covariates) == (2, 3, {"current": "number", "supplier": "category"})
    assert one == relamp.lives([900.0] * 3, covariates=pl.DataFrame(columns))
    assert one == relamp.lives([900.0] * 3, covariates=pd.DataFrame(columns))
    whole = {"low": [900.0] * 3, "high": [900.0] * 3, **columns}
    for table in (whole, pl.DataFrame(whole), pd.DataFrame(whole)):
        assert one == relamp.lives(table, covariates=["supplier", "current"])
    assert one.frame()["supplier"].to_list() == ["s", "n"]
    assert relamp.Tally.from_json(one.to_json()) == one
    assert relamp.Tally.merge(one, one).lamps == one.merge(one).lamps == 6
    texts = relamp.lives([900.0] * 3, covariates={"batch": ["12", "13", "12"]})
    assert texts.covariates == {"batch": "category"}


def test_bad_covariates_are_refused_by_row() -> None:
    def caught(**arguments: Any) -> relamp.InputError:
        with pytest.raises(relamp.InputError) as error:
            relamp.lives([900.0, -1.0], **arguments)
        return error.value

    error = caught(covariates={"current": [float("nan"), 70.0], "supplier": ["n", None]})
    found = [(p.slug, p.row, p.column) for p in error.problems]
    assert ("lives.covariate_not_finite", 1, "current") in found
    assert ("lives.covariate_missing", 2, "supplier") in found
    assert ("lives.age_negative", 2, "low") in found
    assert caught(covariates={"low": [1.0, 2.0]}).slug == "lives.covariate_name"
    assert caught(covariates=[1.0, 2.0]).slug == "python.not_a_table"
    table = {"low": [1.0], "high": [1.0], "supplyer": ["n"]}
    with pytest.raises(relamp.InputError, match="column_unknown"):
        relamp.lives(table)
    with pytest.raises(relamp.InputError, match="column_missing"):
        relamp.lives(table, covariates=["supplyer", "supplier"])
    with pytest.raises(relamp.InputError, match="covariates"):
        relamp.lives(table, covariates="supplyer")
    one = relamp.lives([1.0], covariates={"supplier": ["n"]})
    with pytest.raises(relamp.InputError, match="covariates_differ"):
        relamp.Tally.merge(one, relamp.lives([1.0]))


def test_a_weibull_regression_is_the_maximum_that_scipy_finds() -> None:
    d = lamps(300, 1)
    z = matrix(d)
    z[:, 0] = np.log(z[:, 0] / 75.0)

    def minus(x: Any) -> float:
        shape, eta = np.exp(x[0]), x[1] + z @ x[2:]
        u = shape * (np.log(d["low"]) - eta)
        at_entry = np.where(d["entry"] > 0.0, np.exp(shape * (np.log(np.maximum(d["entry"], 1e-9)) - eta)), 0.0)
        seen = np.where(d["failed"], np.log(shape) - np.log(d["low"]) + u, 0.0)
        return float(-(seen - np.exp(u) + at_entry).sum())

    start = [0.0, np.log(d["low"].mean()), 0.0, 0.0, 0.0]
    options = {"maxiter": 20_000, "maxfev": 20_000, "xatol": 1e-9, "fatol": 1e-11}
    best = optimize.minimize(minus, start, method="Nelder-Mead", options=options)
    best = optimize.minimize(minus, best.x, method="Nelder-Mead", options=options)
    fit = relamp.fit_covariates(tally(d), terms=["current", "supplier"], laws={"current": LAW})
    assert fit.log_likelihood == pytest.approx(-best.fun, rel=1e-9)
    assert [fit.coefficients[n] for n in NAMES] == pytest.approx(best.x[2:], rel=1e-4)
    assert fit.baseline["shape"] == pytest.approx(np.exp(best.x[0]), rel=1e-4)
    narrow = optimize.minimize(lambda x: minus([*x, 0.0, 0.0]), best.x[:3], method="Nelder-Mead", options=options)
    tests = dict(zip(*[fit.tests().frame()[c].to_list() for c in ("term", "statistic")], strict=True))
    assert tests["supplier"] == pytest.approx(2.0 * (narrow.fun - best.fun), rel=1e-4)
    p = dict(zip(*[fit.tests().frame()[c].to_list() for c in ("term", "p_value")], strict=True))
    assert p["supplier"] == pytest.approx(stats.chi2.sf(tests["supplier"], 2), rel=1e-9)


def test_complete_lognormal_lives_are_least_squares_of_the_logarithm() -> None:
    d = lamps(200, 2)
    d["failed"][:] = True
    d["entry"][:] = 0.0
    squares = OLS(np.log(d["low"]), np.column_stack([np.ones(len(d["low"])), matrix(d)])).fit()
    fit = relamp.fit_covariates(tally(d), terms=["current", "supplier"], family="lognormal", value_is=SET)
    assert [fit.coefficients[n] for n in NAMES] == pytest.approx(squares.params[1:], rel=1e-8)
    n, k = len(d["low"]), 4
    own = squares.bse[1:] * np.sqrt((n - k) / n)
    assert [fit.standard_errors[name] for name in NAMES] == pytest.approx(own, rel=1e-6)
    assert fit.log_likelihood == pytest.approx(squares.llf - np.log(d["low"]).sum(), rel=1e-10)
    medians = np.exp(squares.params @ [1.0, 80.0, 1.0, 0.0])
    assert fit.life({"current": 80.0, "supplier": "south"}).quantile(0.5) == pytest.approx(medians, rel=1e-7)


def cox(d: dict[str, Any], **more: Any) -> Any:
    model = PHReg(d["low"], matrix(d), status=d["failed"].astype(int), entry=d["entry"], ties="efron", **more)
    return model, model.fit()


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("strata", [False, True])
def test_proportional_hazards_are_those_of_statsmodels(ties: bool, strata: bool) -> None:
    d = lamps(400, 3, ties)
    site = d["site"]
    by_site = np.where(site < "site 15", "one", "two")
    _, want = cox(d, strata=(by_site == "two").astype(int)) if strata else cox(d)
    # Strata that are put together are warned of.
    t = tally(d, stratum=by_site.tolist()) if strata else tally(d)
    apart = ["stratum"] if strata else None
    fit = relamp.proportional_hazards(t, terms=["current", "supplier"], strata=apart, value_is=SET)
    assert fit.log_likelihood == pytest.approx(want.llf, rel=1e-9)
    assert [fit.coefficients[n] for n in NAMES] == pytest.approx(want.params, rel=1e-5)
    assert [fit.standard_errors[n] for n in NAMES] == pytest.approx(want.bse, rel=1e-5)


def test_a_lamp_that_enters_at_the_age_of_a_failure_is_not_at_risk_there() -> None:
    """Here statsmodels counts lamps with entry <= age as at risk, we those with entry < age, as its curves do: with its
    entries moved on by a hair both agree, and without that they do not."""
    d = lamps(400, 9, ties=True)
    d["entry"] = np.where(d["entry"] > 0.0, d["entry"] + 50.0, 0.0)
    d = {name: column[d["entry"] < d["low"]] for name, column in d.items()}
    assert np.isin(d["entry"], d["low"][d["failed"]]).sum() > 20
    fit = relamp.proportional_hazards(tally(d), terms=["current", "supplier"], value_is=SET)
    _, as_it_is = cox(d)
    _, moved = cox({**d, "entry": np.where(d["entry"] > 0.0, d["entry"] + 1e-6, 0.0)})
    assert fit.log_likelihood == pytest.approx(moved.llf, rel=1e-9)
    assert [fit.coefficients[n] for n in NAMES] == pytest.approx(moved.params, rel=1e-5)
    assert abs(as_it_is.llf - moved.llf) > 0.1


def test_robust_errors_and_residuals_are_those_of_statsmodels() -> None:
    d = lamps(400, 4)
    d["entry"][:] = 0.0
    groups = np.unique(d["site"], return_inverse=True)[1]
    model = PHReg(d["low"], matrix(d), status=d["failed"].astype(int), ties="efron")
    want = model.fit(groups=groups)
    t = tally(d, cluster=d["site"].tolist())
    with pytest.warns(relamp.WeakDataWarning, match="20 clusters"):
        fit = relamp.proportional_hazards(t, terms=["current", "supplier"], robust=True, value_is=SET)
    assert fit.clusters == 20
    # Theirs are the plain brackets; ours are raised for few clusters, here 20 for so many coefficients.
    raised = np.sqrt(20 / (20 - 1 - len(NAMES)))
    assert [fit.standard_errors[n] for n in NAMES] == pytest.approx(raised * want.bse, rel=1e-4)
    # Residuals by the sums of numpy: those of statsmodels leave out the hazard of a lamp's own age, so that they do not
    # add up to 0.
    order = np.argsort(d["low"])
    ratio, failed = np.exp(matrix(d) @ want.params)[order], d["failed"][order]
    hazard = np.cumsum(np.where(failed, 1.0 / ratio[::-1].cumsum()[::-1], 0.0))
    ours = fit.residuals(t).frame().sort("age")["martingale"].to_numpy()
    assert ours == pytest.approx(failed - ratio * hazard, abs=1e-7)


def test_regressions_say_what_they_cannot_do() -> None:
    d = lamps(120, 5)
    t = tally(d)
    with pytest.raises(relamp.RefusedError, match="fades"):
        relamp.fit_covariates(t, terms=["current"], laws={"current": {**LAW, "value_is": "last_reading"}})
    for law in ({"law": "power"}, {**LAW, "law": "power"}, {**LAW, "more": 1}, {**LAW, "reference": "much"}, "power"):
        with pytest.raises(relamp.InputError, match="laws"):
            relamp.fit_covariates(t, terms=["current"], laws={"current": law})  # type: ignore[dict-item]
    with pytest.raises(relamp.InputError, match="supplier, south"):
        relamp.fit_covariates(t, terms=["supplier, south"])
    with pytest.raises(relamp.InputError, match="terms"):
        relamp.fit_covariates(t, terms="supplier")
    with pytest.raises(relamp.InputError, match="references"):
        relamp.fit_covariates(t, terms=["supplier"], references=["north"])  # type: ignore[arg-type]
    fit = relamp.fit_covariates(t, terms=["current", "supplier"], value_is=SET)
    with pytest.raises(relamp.RefusedError, match="level_unseen"):
        fit.life({"current": 75.0, "supplier": "east"})
    with pytest.raises(relamp.InputError, match="covariate_missing"):
        fit.life({"current": 75.0})
    for covariates in ([75.0], {"current": None, "supplier": "north"}, {"current": True, "supplier": "north"}):
        with pytest.raises(relamp.InputError, match="covariates"):
            fit.life(covariates)  # type: ignore[arg-type]
    with pytest.raises(relamp.RefusedError, match="regression_family"):
        relamp.fit_covariates(t, terms=["supplier"], family="piecewise_constant(1000)")
    cut = relamp.fit_covariates(t, terms=["supplier"], family="above_zero(normal)")
    with pytest.raises(relamp.InputError, match="life_unnamed"):
        cut.life({"supplier": "north"})
    hazards = relamp.proportional_hazards(t, terms=["supplier"])
    with pytest.raises(relamp.InputError, match="scale"):
        hazards.proportionality(t, scale="years")
    few = tally(lamps(12, 6))
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        relamp.fit_covariates(few, terms=["current"], family="exponential")
    assert any("few_per_coefficient" in str(w.message) for w in seen)


def test_a_number_that_nobody_declares_is_warned_of_wherever_it_enters() -> None:
    d = lamps(120, 5)
    t = tally(d)
    pair = {"by": "supplier", "group": "north", "other": "south", "adjust": ["current"], "replicates": 100, "seed": 1}
    calls: list[Callable[..., Any]] = [
        lambda **more: relamp.fit_covariates(t, terms=["current"], **more),
        lambda **more: relamp.proportional_hazards(t, terms=["current"], **more),
        lambda **more: relamp.compare_pair(t, **pair, **more),
    ]
    for call in calls:
        with pytest.warns(relamp.WeakDataWarning, match=r"makes the ratio wrong.*\[fit.covariate_held\]"):
            call()
        # Declared, they are quiet: a warning would fail the test.
        call(value_is=SET)
        call(value_is={"current": "constant_over_life"})
        with pytest.raises(relamp.RefusedError, match="fades") as error:
            call(value_is={"current": "last_reading"})
        assert error.value.slug == "fit.last_reading"
        for wrong in ("at_fitting", {"current": "often"}, {"current": 75.0}):
            with pytest.raises(relamp.InputError) as bad:
                call(value_is=wrong)
            assert bad.value.slug == "python.value_is"
        with pytest.raises(relamp.InputError) as bad:
            call(value_is=SET, laws={"current": LAW})
        assert bad.value.slug == "fit.value_is"


def test_a_pair_far_from_the_lamps_is_warned_of() -> None:
    t = tally(lamps(120, 5))
    pair = {"by": "supplier", "group": "north", "other": "south", "adjust": ["current"], "replicates": 100, "seed": 1}
    with pytest.warns(relamp.WeakDataWarning, match=r"current 200 lies outside 65 to 85, .*covariate_extrapolated"):
        far = relamp.compare_pair(t, **pair, value_is=SET, covariates={"current": 200.0})
    assert any(slug == "fit.covariate_extrapolated" for slug, _ in far.notes)
    relamp.compare_pair(t, **pair, value_is=SET, covariates={"current": 75.0})


def test_a_level_that_no_lamp_has_is_told() -> None:
    levels = pd.Categorical(["north", "south"] * 10, categories=["east", "north", "south", "west"])
    low = [300.0 + 10.0 * i for i in range(20)]
    for covariates in ({"supplier": levels}, pd.DataFrame({"supplier": levels})):
        with pytest.warns(relamp.WeakDataWarning, match=r"no lamp has east, west .*nothing is known of them"):
            t = relamp.lives(low, covariates=covariates)
        assert relamp.fit_covariates(t, terms=["supplier"]).coefficients.keys() == {"supplier=south"}
    relamp.lives(low, covariates={"supplier": levels.remove_unused_categories()})


def test_a_life_with_covariates_goes_into_decisions() -> None:
    fit = relamp.fit_covariates(tally(lamps(200, 7)), terms=["current", "supplier"], laws={"current": LAW})
    limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    ages = []
    for current in (70.0, 80.0):
        life = fit.life({"current": current, "supplier": "north"})
        world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
        ages.append(relamp.planned_age(world, limit).age_hours)
    assert ages[0] > ages[1]


def test_covariates_come_from_logs_and_what_records_do_not_hold_is_named() -> None:
    reading = relamp.Study.open("data/demo/study.toml").read()
    tally = reading.tally(covariates=["site"]).stratum("2.0 kW")
    assert tally.covariates == {"site": "category"}
    pooled = relamp.pool_groups(tally, by="site", draws=500, seed=1)
    assert pooled.frame()["failures"].sum() == tally.failures
    assert pooled.frame().height == len(set(tally.frame()["site"]))
    for wrong, slug in ((["colour"], "python.covariate"), ("site", "python.type"), ([3], "python.type")):
        with pytest.raises(relamp.InputError) as error:
            reading.tally(covariates=wrong)  # type: ignore[arg-type]
        assert error.value.slug == slug


@pytest.mark.parametrize(
    ("c", "robust"),
    [
        (10**3, 0.769749140909782),
        (10**6, 0.675833819832813),
        (10**9, 0.657311459442782),
        (10**12, 0.649432098676435),
        (10**15, 0.645161388333134),
    ],
)
def test_robust_errors_keep_their_digits_where_very_many_fail_together(c: int, robust: float) -> None:
    # Score residuals with Efron's shares in closed form by digamma and trigamma, mpmath 1.3 with 150 digits.
    tally = relamp.lives(
        [100, 200, 300, 400], [100, 200, 300, None], count=[c, 5, 7, c], covariates={"x": [1.0, 2.0, 3.0, 1.5]}
    )
    fit = relamp.proportional_hazards(tally, terms=["x"], robust=True, value_is={"x": "at_fitting"})
    # Raised for as many clusters as lamps and one coefficient.
    lamps = 2 * c + 12
    assert fit.standard_errors["x"] == pytest.approx(robust * (lamps / (lamps - 2)) ** 0.5, rel=1e-12)


def test_a_site_for_each_supplier_tells_nothing_of_suppliers() -> None:
    low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
    t = relamp.lives(low, covariates={"s": ["a", "a", "b", "b"] * 3}, cluster=["one", "one", "two", "two"] * 3)
    with pytest.raises(relamp.RefusedError, match="hazards_clusters"):
        relamp.proportional_hazards(t, terms=["s"], robust=True)
    with pytest.raises(relamp.RefusedError, match="pair_clusters"):
        relamp.compare_pair(t, by="s", group="a", other="b", replicates=100, seed=1)
