"""What calls on groups and covariates refuse, warn of and print."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
import relamp
from conftest import pulled_lives, raised_currents, read_small_log, small_sockets

LOW = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]


def test_booleans_are_two_levels() -> None:
    truth = [True, False, False] * 4
    words = relamp.fit_covariates(relamp.lives(LOW, covariates={"x": [str(t).lower() for t in truth]}), terms=["x"])
    for column in (truth, np.array(truth), pl.Series(truth)):
        tally = relamp.lives(LOW, covariates={"x": column})
        assert tally.covariates == {"x": "category"}
        fit = relamp.fit_covariates(tally, terms=["x"])
        assert fit.coefficients == words.coefficients
        assert fit.life({"x": True}).parameters == words.life({"x": "true"}).parameters
    with pytest.raises(relamp.InputError, match="booleans alone"):
        relamp.lives(LOW, covariates={"x": [*truth[:-1], "yes"]})


@pytest.mark.filterwarnings("ignore::relamp.WeakDataWarning")
def test_a_summary_prints_every_coefficient_with_its_error_and_ratio() -> None:
    site = [f"s{i % 8}" for i in range(80)]
    tally = relamp.lives(
        [100.0 + 9.0 * i for i in range(80)], covariates={"site": site, "x": [i % 5 for i in range(80)]}
    )
    for fit, ratio in (
        (relamp.fit_covariates(tally, terms=["site", "x"]), "life ratio"),
        (relamp.proportional_hazards(tally, terms=["site", "x"]), "hazard ratio"),
    ):
        text = fit.summary()
        for name, b in fit.coefficients.items():
            line = next(line for line in text.splitlines() if f"{name} " in line and "standard error" in line)
            assert f"{b:.4f}" in line
            assert f"{fit.standard_errors[name]:.4f}" in line
            assert ratio in line
        assert "site=s0" in text
        assert "x 2" in text
        assert "entries" not in text


def test_notes_are_printed_however_many() -> None:
    sockets = relamp.sockets(
        [100.0] * 16, [[10.0 + i, *[60.0 + i] * (i % 2)] for i in range(16)], group=[f"g{i // 2}" for i in range(16)]
    )
    test = relamp.recurrence_test(sockets)
    assert len(test.notes) == 8
    assert all(note in test.summary() and note in test._repr_html_() for note in test.notes)


def test_ages_one_by_one_or_as_a_column() -> None:
    tally = relamp.lives(LOW)
    curve, bounds = (
        relamp.product_limit(tally),
        relamp.removal_bounds(pulled_lives(), suspects=["dim"], age_hours=900.0),
    )
    both = relamp.self_consistent(tally)
    law = relamp.power_law(small_sockets())
    dependent = relamp.dependent_curve(pulled_lives(), suspects=["dim"], tau=0.5)
    for call in (curve.band_at, both.reliability_bounds, bounds.bounds_at, bounds.outer_at, law.rate_interval):
        column = call([500.0, 700.0])
        assert column.shape == (2, 2)
        for row, age in zip(column, (500.0, 700.0), strict=True):
            assert tuple(row) == call(age)
    assert np.isnan(curve.band_at([1e9])).all()
    assert curve.band_at(1e9) is None
    assert dependent.reliability_at([500.0])[0] == dependent.reliability_at(500.0)


def test_bounds_show_what_chance_adds() -> None:
    bounds = relamp.removal_bounds(pulled_lives(), suspects=["dim"], age_hours=900.0)
    frame = bounds.frame()
    assert (frame["low_with_chance"] <= frame["low"]).all()
    assert (frame["high_with_chance"] >= frame["high"]).all()
    assert "low with chance" in bounds.summary()
    assert "with chance (95 %)" in bounds.sentence


def test_a_current_outside_the_recorded_ones_is_warned_of() -> None:
    fit = relamp.fit_current_history(*raised_currents())
    with pytest.warns(relamp.WeakDataWarning, match="those recorded"):
        fit.life(1000.0)
    with pytest.warns(relamp.WeakDataWarning, match="those recorded"):
        fit.reliability([(100.0, 1000.0)])
    tally = relamp.lives(LOW, covariates={"x": [float(i % 4) for i in range(12)]})
    regression = relamp.fit_covariates(tally, terms=["x"])
    with pytest.warns(relamp.WeakDataWarning, match="lies outside"):
        regression.life({"x": 9.0})


def test_what_means_nothing_is_refused_by_its_own_name() -> None:
    groups = {"a": relamp.lives(LOW[:6]), "b": relamp.lives(LOW[6:])}
    with pytest.raises(relamp.InputError, match=r"power.*only the weight by reliability"):
        relamp.rank_test(groups, power=3.0)
    assert relamp.rank_test(groups, weight="reliability", power=3.0).statistic is not None
    with pytest.raises(relamp.DomainError, match="replicates"):
        relamp.power_law_distance(relamp.sockets([1000.0], [[500.0, 800.0, 950.0]]), replicates=0)
    with pytest.raises(relamp.InputError, match=r"9 kW.*one of: "):
        relamp.sockets_of(read_small_log(), lamp_class="9 kW")
    with pytest.raises(relamp.RefusedError, match="no spread"):
        relamp.proportional_hazards(
            relamp.lives([100.0] * 20, covariates={"x": [0.0, 1.0] * 10}), terms=["x"], robust=True
        )
    dial = relamp.removal_dial(pulled_lives(), suspects=["dim"], taus=[0.5, 0.8], replicates=0)
    with pytest.raises(relamp.DomainError, match="percent"):
        dial.b_life(0.0, from_tau=0.5, to_tau=0.8)


def test_the_self_consistent_climb_reaches_its_goal_with_late_entry() -> None:
    # The trial sample in which leaving off rounding lifted the gradient from below 1e-9 to 1.07e-9.
    random, n = np.random.default_rng(2), 10_000
    fails = 1000.0 * random.weibull(2.0, n)
    low = fails * random.uniform(0.7, 1.0, n)
    high = fails + random.uniform(1.0, 300.0, n)
    gone = random.random(n) < 0.2
    entry = np.where(random.random(n) < 0.3, low * random.uniform(0.0, 0.9, n), 0.0)
    curve = relamp.self_consistent(relamp.lives(low, np.where(gone, np.inf, high), entry=entry))
    assert curve.converged
    assert curve.gradient <= 1e-9
