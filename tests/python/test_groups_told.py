"""What calls on groups and covariates refuse, warn of and print."""

from __future__ import annotations

import re

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
            ends = [np.exp(b + z * fit.standard_errors[name]) for z in (-1.959964, 1.959964)]
            said = re.search(rf"{ratio} ([\d.]+), ([\d.]+) to ([\d.]+) at 95 %", line)
            assert said
            assert [float(x) for x in said.groups()] == pytest.approx([np.exp(b), *ends], rel=5e-3)
        assert "site=s0" in text
        assert "x 2" in text
        assert "entries" not in text


def test_a_note_on_many_groups_counts_them_and_is_printed() -> None:
    sockets = relamp.sockets(
        [100.0] * 16, [[10.0 + i, *[60.0 + i] * (i % 2)] for i in range(16)], group=[f"g{i // 2}" for i in range(16)]
    )
    test = relamp.recurrence_test(sockets)
    ((slug, note),) = test.notes
    assert slug == "empirical.few_sockets"
    assert note == "8 groups have fewer than 10 sockets, so that the p value is rough: g0 2, g1 2, g2 2, g3 2, 4 more"
    assert note in test.summary()
    assert note in test._repr_html_()


def test_ages_one_by_one_or_as_a_column() -> None:
    tally = relamp.lives(LOW)
    curve, bounds = (
        relamp.product_limit(tally),
        relamp.removal_bounds(pulled_lives(), suspects=["dim"], age_hours=900.0),
    )
    both = relamp.self_consistent(tally)
    law = relamp.power_law(small_sockets())
    dependent = relamp.dependent_curve(pulled_lives(), suspects=["dim"], tau=0.5)
    for name, ages in (("mean_residual_life", [500.0, 700.0]), ("restricted_mean_interval", [500.0, 700.0])):
        each = getattr(curve, name)
        assert each(ages) == [each(age) for age in ages]
    for result, name in ((curve, "quantile_interval"), (both, "quantile")):
        call = getattr(result, name)
        column = call([0.3, 0.6])
        assert column.shape == (2, 2)
        assert [tuple(row) for row in column] == [call(0.3), call(0.6)]
    misfiled = relamp.lives(LOW, ending=["burst", "unknown"] * (len(LOW) // 2) + ["burst"] * (len(LOW) % 2))
    of_endings = relamp.ending_bounds(misfiled, suspects=["unknown"], age_hours=900.0)
    of_bursts = relamp.incidence_bounds(misfiled, cause="burst", suspects=["unknown"], age_hours=900.0)
    pairs = (curve.band_at, both.reliability_bounds, bounds.bounds_at, bounds.outer_at, law.rate_interval)
    more = (of_endings.bounds_at, of_endings.outer_at, of_bursts.bounds_at, of_bursts.outer_at)
    by_cause = of_bursts.if_all

    def of_cause(age: object) -> object:
        return by_cause.band_at("burst", age)  # type: ignore[call-overload]

    step = int(np.searchsorted(by_cause.ages, 700.0, side="right")) - 1
    assert of_cause(700.0) == tuple(by_cause.band("burst")[step])
    screens = relamp.recurrence(small_sockets())
    assert [tuple(row) for row in screens.band_at([1000.0, 4200.0])] == [screens.band_at(a) for a in (1000.0, 4200.0)]
    assert screens.band_at(500.0) is None
    for call in (*pairs, *more, of_cause):
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
    regression = relamp.fit_covariates(tally, terms=["x"], value_is={"x": "at_fitting"})
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


def test_bounds_with_chance_are_numbers_too() -> None:
    misfiled = relamp.lives(LOW, ending=["burst", "unknown"] * (len(LOW) // 2) + ["burst"] * (len(LOW) % 2))
    for bounds in (
        relamp.ending_bounds(misfiled, suspects=["unknown"], age_hours=700.0, level=0.9),
        relamp.incidence_bounds(misfiled, cause="burst", suspects=["unknown"], age_hours=700.0, level=0.9),
    ):
        low, high = bounds.outer_at(700.0)
        assert low < bounds.low <= bounds.high < high
        assert f"with chance (90 %) between {100 * low:.3g} % and {100 * high:.3g} %" in bounds.sentence
        assert "low with chance" in bounds.summary()
        row = bounds.frame().filter(bounds.frame()["age"] <= 700.0).to_dicts()[-1]
        assert (row["low_with_chance"], row["high_with_chance"]) == (low, high)


def test_what_is_not_there_is_told_by_its_place() -> None:
    tally = relamp.lives(LOW, covariates={"site": ["a", "b"] * (len(LOW) // 2) + ["a"] * (len(LOW) % 2)})
    with pytest.raises(relamp.InputError, match=r"group.*got X, expected levels of site: a, b"):
        relamp.compare_pair(tally, by="site", group="X", other="a", seed=1)
    with pytest.raises(relamp.InputError, match=r"other.*got an empty name, expected levels of site: a, b"):
        relamp.compare_pair(tally, by="site", group="a", other="", seed=1)
    with pytest.raises(relamp.InputError, match=r"terms.*got an empty name, expected covariates of these lives: site"):
        relamp.fit_covariates(tally, terms=[""])


@pytest.mark.filterwarnings("ignore::relamp.WeakDataWarning")
def test_an_interaction_with_a_law_is_told_as_a_power_and_not_as_a_step_of_e() -> None:
    current = [65.0, 70.0, 75.0, 80.0] * 20
    supplier = (["north"] * 4 + ["south"] * 4) * 10
    low = [(600.0 + 9.0 * i) * (75.0 / c) ** 2 for i, c in enumerate(current)]
    tally = relamp.lives(low, covariates={"current": current, "supplier": supplier, "x": [i % 3 for i in range(80)]})
    law = {"current": {"law": "inverse_power", "reference": 75.0, "value_is": "at_fitting"}}
    terms = ["current", "supplier", "x", "current:supplier", "current:x"]
    lines = relamp.fit_covariates(tally, terms=terms, laws=law).summary().splitlines()
    (joined,) = [line for line in lines if "current:supplier=south" in line]
    assert "in proportion to (current / 75)^" in joined
    assert "besides what holds for those compared with" in joined
    (numbers,) = [line for line in lines if "current:x" in line]
    assert "life ratio" not in joined + numbers


def test_what_has_no_width_or_rests_on_few_clusters_warns() -> None:
    with pytest.warns(relamp.WeakDataWarning, match="no width"):
        assert relamp.product_limit(relamp.lives([100.0] * 6)).quantile_interval(0.5) == (100.0, 100.0)
    ages = [100.0 + 7.0 * i for i in range(60)]
    tally = relamp.lives(ages, ending=["burst", "dim"] * 30, cluster=[f"site {i % 6}" for i in range(60)])
    fits, costs = relamp.fit_causes(tally), relamp.costs(950.0, burst=5200.0, dim=1250.0)
    with pytest.warns(relamp.WeakDataWarning, match="6 clusters"):
        draws = fits.draws(tally, costs, n=20, seed=1)
    assert [slug for slug, _ in draws.notes] == ["fit.few_clusters"]
    assert relamp.Draws.from_json(draws.to_json()) == draws


def test_bounds_without_suspects_and_of_late_entries_are_told_in_their_own_words() -> None:
    low, ending = [10.0, 20, 100, 200, 300], ["burst", "burst", "dim", "burst", "running"]
    high = [10.0, 20, None, 200, None]
    bounds = relamp.removal_bounds(relamp.lives(low, high, ending=ending), suspects=["moved"], age_hours=150.0)
    assert "no lamp has a suspect ending" in bounds.sentence
    late = relamp.lives(low, high, ending=ending, entry=[5.0, 15, 50, 50, 50])
    with pytest.raises(relamp.RefusedError, match="too few lamps") as caught:
        relamp.removal_bounds(late, suspects=["dim"], age_hours=150.0)
    assert (caught.value.problems[0].input, caught.value.problems[0].column) == ("tally", "entry")
    assert "min_at_risk" not in str(caught.value)
