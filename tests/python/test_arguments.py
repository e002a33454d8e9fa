"""An argument of the wrong kind or out of range is refused with its name, the value and what was expected."""

from __future__ import annotations

import decimal
import fractions
import inspect
from collections.abc import Callable
from typing import Any

import arguments_claims as claims
import arguments_demand as demand
import arguments_places as places
import arguments_played as played
import arguments_policy as policy
import arguments_stock as stock
import conftest
import numpy as np
import pytest
import relamp
from conftest import pulled_lives, raised_currents, read_small_log, small_models, small_sockets, struck_lives

ROOMS = (claims, demand, places, played, policy, stock)


def of_rooms(table: str) -> dict[str, Any]:
    """The cases of one table that stand in files of their own."""
    return {case: given for room in ROOMS for case, given in getattr(room, table, {}).items()}


TALLY = relamp.lives([100.0 + 7.0 * i for i in range(60)], ending=["burst"] * 30 + ["dim"] * 30)
COSTS = relamp.costs(950.0, burst=5200.0, dim=1250.0)
LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
LIFE = relamp.life("weibull", shape=3.0, scale=4000.0)
WORLD = relamp.world({"burst": LIFE}, COSTS)
FITS = relamp.fit_causes(TALLY)
DRAWS = FITS.draws(TALLY, COSTS, n=20, seed=1)
CURVE = relamp.product_limit(TALLY)
INCIDENCE = relamp.incidence(TALLY)
GROUPS = {"A": TALLY, "B": TALLY}
BOUNDS: dict[str, Any] = {"suspects": ["dim"], "age_hours": 200.0}
COUNT = relamp.Count.poisson(3.0)
FIT = relamp.fit(TALLY)
REGION = FIT.region(TALLY)
POSTERIOR = relamp.posterior(TALLY, draws=10, seed=1)
BOOTSTRAP = relamp.bootstrap(TALLY, replicates=10, seed=1)
LAMPS = relamp.lives([100.0 + 7.0 * i for i in range(60)], covariates={"site": ["a", "b", "b"] * 20})
LIVES_BY_SITE = relamp.fit_covariates(LAMPS, terms=["site"])
HAZARDS = relamp.proportional_hazards(LAMPS, terms=["site"])
SITES = relamp.lives(
    [100.0 + 7.0 * i for i in range(60)], ending=["dim"] * 60, covariates={"site": list("abcdef") * 10}
)
PAIR = relamp.compare_pair(SITES, by="site", group="a", other="b", replicates=100, seed=1)
CHANGES = relamp.change_counts(LIFE, 4000.0)
COUNTS_BY, MEAN_CHANGES = relamp.change_counts, relamp.expected_changes
AHEAD = relamp.failures_ahead(BOOTSTRAP, age_hours=[100.0], ahead_hours=50.0)
FORECAST_OPTIONS: dict[str, Any] = {"hours_per_week": 70.0, "planned_age_hours": 2000.0, "limit": LIMIT}
FORECAST = relamp.forecast(WORLD, [100.0], **FORECAST_OPTIONS)
SOCKETS = small_sockets()
MODELS = small_models()
EXPECTED = relamp.expected_endings(read_small_log(), MODELS)
PULLED = pulled_lives()
PULLS: dict[str, Any] = {"suspects": ["dim"], "taus": [0.5], "replicates": 0}
DIAL = relamp.removal_dial(PULLED, **PULLS)
RANGE: dict[str, Any] = {"from_tau": 0.0, "to_tau": 0.5}
TURNS: dict[str, Callable[..., Any]] = {
    "reliability": lambda **o: DIAL.reliability(900.0, **{**RANGE, **o}),
    "b_life": lambda **o: DIAL.b_life(10.0, **{**RANGE, **o}),
    "planned_age": lambda **o: DIAL.planned_age(COSTS, LIMIT, **{**RANGE, **o}),
}
STRUCK = struck_lives()
CLOCKS = relamp.two_clocks(STRUCK, strikes_per_hour="rate")
RAISED = raised_currents()
HISTORY = relamp.fit_current_history(*RAISED)


def compare(first: Any = "a", second: Any = "b", **options: Any) -> relamp.PairFit:
    given = {"by": "site", "group": first, "other": second, "seed": 1, "replicates": 100}
    return relamp.compare_pair(SITES, **{**given, **options})


def compare_costs(**options: Any) -> relamp.PairCost:
    given = {"costs": COSTS, "other_costs": COSTS, "limit": LIMIT, "other_limit": LIMIT}
    return relamp.compare_pair_costs(PAIR, **given, **options)


def corrected(**options: Any) -> relamp.Interval:
    return relamp.profile_corrected(FIT, TALLY, **{"replicates": 99, "seed": 1, **options})


WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("WHOLE"),
    "profile_corrected replicates": ("replicates", lambda x: corrected(b_life=10.0, replicates=x)),
    "profile_corrected seed": ("seed", lambda x: corrected(b_life=10.0, seed=x)),
    "bootstrap replicates": ("replicates", lambda x: relamp.bootstrap(TALLY, replicates=x, seed=1)),
    "bootstrap seed": ("seed", lambda x: relamp.bootstrap(TALLY, replicates=5, seed=x)),
    "distance_test replicates": ("replicates", lambda x: relamp.distance_test(TALLY, replicates=x, seed=1)),
    "distance_test seed": ("seed", lambda x: relamp.distance_test(TALLY, replicates=99, seed=x)),
    "fit_causes min_failures": ("min_failures", lambda x: relamp.fit_causes(TALLY, min_failures=x)),
    "fit_causes seed": ("seed", lambda x: relamp.fit_causes(TALLY, seed=x)),
    "forecast periods": ("periods", lambda x: relamp.forecast(WORLD, [1.0], **FORECAST_OPTIONS, periods=x)),
    "likelihood_ratio_bootstrap replicates": (
        "replicates",
        lambda x: relamp.likelihood_ratio_bootstrap(TALLY, narrow="exponential", wide="weibull", replicates=x, seed=1),
    ),
    "likelihood_ratio_bootstrap seed": (
        "seed",
        lambda x: relamp.likelihood_ratio_bootstrap(TALLY, narrow="exponential", wide="weibull", replicates=99, seed=x),
    ),
    "planned_changes periods": ("periods", lambda x: relamp.planned_changes([1.0], **FORECAST_OPTIONS, periods=x)),
    "phases replicates": ("replicates", lambda x: relamp.phases(TALLY, replicates=x, seed=1)),
    "phases seed": ("seed", lambda x: relamp.phases(TALLY, replicates=99, seed=x)),
    "power_law_distance replicates": ("replicates", lambda x: relamp.power_law_distance(SOCKETS, replicates=x)),
    "power_law_distance seed": ("seed", lambda x: relamp.power_law_distance(SOCKETS, replicates=9, seed=x)),
    "removal_dial replicates": ("replicates", lambda x: relamp.removal_dial(PULLED, **{**PULLS, "replicates": x})),
    "removal_dial seed": ("seed", lambda x: relamp.removal_dial(PULLED, **PULLS, seed=x)),
    "posterior draws": ("draws", lambda x: relamp.posterior(TALLY, draws=x, seed=1)),
    "posterior seed": ("seed", lambda x: relamp.posterior(TALLY, draws=1, seed=x)),
    "pool_groups draws": ("draws", lambda x: relamp.pool_groups(SITES, by="site", draws=x, seed=1)),
    "pool_groups seed": ("seed", lambda x: relamp.pool_groups(SITES, by="site", draws=500, seed=x)),
    "compare_pair replicates": ("replicates", lambda x: compare(replicates=x, seed=1)),
    "compare_pair seed": ("seed", lambda x: compare(seed=x)),
    "Fit.profile_curve points": ("points", lambda x: FIT.profile_curve(TALLY, b_life=10.0, points=x)),
    "incidence min_at_risk": ("min_at_risk", lambda x: relamp.incidence(TALLY, min_at_risk=x)),
    "product_limit min_at_risk": ("min_at_risk", lambda x: relamp.product_limit(TALLY, min_at_risk=x)),
    "self_consistent most_steps": ("most_steps", lambda x: relamp.self_consistent(TALLY, most_steps=x)),
    "incidence_test min_at_risk": (
        "min_at_risk",
        lambda x: relamp.incidence_test(GROUPS, cause="burst", min_at_risk=x),
    ),
    **{
        f"{name} min_at_risk": ("min_at_risk", lambda x, call=call: call(min_at_risk=x, **BOUNDS))
        for name, call in (
            ("ending_bounds", lambda **o: relamp.ending_bounds(TALLY, **o)),
            ("incidence_bounds", lambda **o: relamp.incidence_bounds(TALLY, cause="burst", **o)),
        )
    },
    "stock_level on_hand": ("on_hand", lambda x: relamp.stock_level(COUNT, service_target=0.9, on_hand=x)),
    "stock_level on_order": ("on_order", lambda x: relamp.stock_level(COUNT, service_target=0.9, on_order=x)),
    **{f"ChangeCounts.{m} number": ("number", getattr(CHANGES, m)) for m in ("probability", "at_most", "more_than")},
    "CauseFits.draws n": ("n", lambda x: FITS.draws(TALLY, COSTS, n=x, seed=1)),
    "CauseFits.draws seed": ("seed", lambda x: FITS.draws(TALLY, COSTS, n=5, seed=x)),
    "Count.at_most number": ("number", COUNT.at_most),
    "Count.more_than number": ("number", COUNT.more_than),
    "Draws.world replicate": ("replicate", DRAWS.world),
    "Fit.check seed": ("seed", lambda x: FIT.check(TALLY, seed=x)),
    "Forecast.needed period": ("period", FORECAST.needed),
    "Forecast.needed_by_end period": ("period", FORECAST.needed_by_end),
    "Life.draws n": ("n", lambda x: LIFE.draws(x, seed=1)),
    "Life.draws seed": ("seed", lambda x: LIFE.draws(1, seed=x)),
    **conftest.played_cases(),
    "Study.open draws": ("draws", lambda x: relamp.Study.open("no such file", draws=x)),
}

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("NUMBERS"),
    "watch ratio": ("ratio", lambda x: relamp.watch(EXPECTED, ratio=x)),
    "watch false_alarms_a_year": ("false_alarms_a_year", lambda x: relamp.watch(EXPECTED, false_alarms_a_year=x)),
    "cost planned": ("planned", relamp.costs),
    "cost burst": ("burst", lambda x: relamp.costs(1.0, burst=x)),
    "recurrence level": ("level", lambda x: relamp.recurrence(SOCKETS, level=x)),
    "recurrence_difference level": (
        "level",
        lambda x: relamp.recurrence_difference(SOCKETS, more_in="North", than_in="South", level=x),
    ),
    "power_law level": ("level", lambda x: relamp.power_law(SOCKETS, level=x)),
    "fit_known_shape shape": ("shape", lambda x: relamp.fit_known_shape(TALLY, shape=x)),
    "Life.conditional_reliability reached": ("reached", lambda x: LIFE.conditional_reliability(1.0, reached=x)),
    "fit_known_shape level": ("level", lambda x: relamp.fit_known_shape(TALLY, shape=2.0, level=x)),
    "forecast hours_per_week": (
        "hours_per_week",
        lambda x: relamp.forecast(WORLD, [1.0], **{**FORECAST_OPTIONS, "hours_per_week": x}),
    ),
    **conftest.play_cases("hours_per_week", "visit_cost", "period_days"),
    "forecast planned_age_hours": (
        "planned_age_hours",
        lambda x: relamp.forecast(WORLD, [1.0], **{**FORECAST_OPTIONS, "planned_age_hours": x}),
    ),
    "forecast period_days": ("period_days", lambda x: relamp.forecast(WORLD, [1.0], **FORECAST_OPTIONS, period_days=x)),
    "life shape": ("shape", lambda x: relamp.life("weibull", shape=x, scale=1.0)),
    "incidence level": ("level", lambda x: relamp.incidence(TALLY, level=x)),
    "product_limit level": ("level", lambda x: relamp.product_limit(TALLY, level=x)),
    "stock_level service_target": ("service_target", lambda x: relamp.stock_level(COUNT, service_target=x)),
    "world share": ("burst", lambda x: relamp.world([({"burst": x}, LIFE)], COSTS)),
    "Bootstrap.interval level": ("level", lambda x: BOOTSTRAP.interval(b_life=10.0, level=x)),
    "Count.poisson mean": ("mean", relamp.Count.poisson),
    "Count.quantile p": ("p", COUNT.quantile),
    "Incidence.band_at level": ("level", lambda x: INCIDENCE.band_at("burst", 9.0, level=x)),
    "Incidence.band level": ("level", lambda x: INCIDENCE.band("burst", level=x)),
    "ending_bounds level": ("level", lambda x: relamp.ending_bounds(TALLY, level=x, **BOUNDS)),
    "incidence_bounds level": ("level", lambda x: relamp.incidence_bounds(TALLY, cause="burst", level=x, **BOUNDS)),
    **{
        f"{name} {argument}": (argument, lambda x, call=call, argument=argument: call(**{**BOUNDS, argument: x}))
        for name, call in (
            ("ending_bounds", lambda **o: relamp.ending_bounds(TALLY, **o)),
            ("incidence_bounds", lambda **o: relamp.incidence_bounds(TALLY, cause="burst", **o)),
        )
        for argument in ("age_hours", "widest")
    },
    "incidence_test power": ("power", lambda x: relamp.incidence_test(GROUPS, cause="burst", power=x)),
    "rank_test power": ("power", lambda x: relamp.rank_test(GROUPS, power=x)),
    "rank_test scores": ("scores", lambda x: relamp.rank_test(GROUPS, scores={"A": 1.0, "B": x})),
    "self_consistent gradient": ("gradient", lambda x: relamp.self_consistent(TALLY, gradient=x)),
    "ChangeCounts.quantile p": ("p", CHANGES.quantile),
    "change_counts end_hours": ("end_hours", lambda x: relamp.change_counts(LIFE, x)),
    "change_counts first_age_hours": ("first_age_hours", lambda x: COUNTS_BY(LIFE, 1.0, first_age_hours=x)),
    "expected_changes first_age_hours": ("first_age_hours", lambda x: MEAN_CHANGES(LIFE, 1.0, first_age_hours=x)),
    "FailuresAhead.interval level": ("level", lambda x: AHEAD.interval(level=x)),
    "Reading.tally meter_step_hours": ("meter_step_hours", lambda x: read_small_log().tally(meter_step_hours=x)),
    "family_verdict age_hours": ("age_hours", lambda x: relamp.family_verdict(TALLY, fits=[FIT, FIT], age_hours=x)),
    "family_verdict level": (
        "level",
        lambda x: relamp.family_verdict(TALLY, fits=[FIT, FIT], age_hours=100.0, level=x),
    ),
    "planned_changes hours_per_week": (
        "hours_per_week",
        lambda x: relamp.planned_changes([1.0], **{**FORECAST_OPTIONS, "hours_per_week": x}),
    ),
    "planned_changes planned_age_hours": (
        "planned_age_hours",
        lambda x: relamp.planned_changes([1.0], **{**FORECAST_OPTIONS, "planned_age_hours": x}),
    ),
    "planned_changes period_days": (
        "period_days",
        lambda x: relamp.planned_changes([1.0], **FORECAST_OPTIONS, period_days=x),
    ),
    "posterior percent": ("percent", lambda x: relamp.posterior(TALLY, percent=x, seed=1)),
    "profile_corrected level": ("level", lambda x: corrected(b_life=10.0, level=x)),
    "Fit.profile_curve level": ("level", lambda x: FIT.profile_curve(TALLY, b_life=10.0, level=x)),
    "Fit.region level": ("level", lambda x: FIT.region(TALLY, level=x)),
    "LikelihoodRegion.contains first": ("first", lambda x: REGION.contains(first=x, second=1.0)),
    "LikelihoodRegion.contains second": ("second", lambda x: REGION.contains(first=1.0, second=x)),
    "Posterior.interval level": ("level", lambda x: POSTERIOR.interval(b_life=10.0, level=x)),
    "Posterior.probability_below value": ("value", lambda x: POSTERIOR.probability_below(value=x, b_life=10.0)),
    "CovariateFit.wald level": ("level", lambda x: LIVES_BY_SITE.wald("site=b", level=x)),
    "CovariateFit.profile level": ("level", lambda x: LIVES_BY_SITE.profile(LAMPS, "site=b", level=x)),
    "CovariateFit.quantile p": ("p", lambda x: LIVES_BY_SITE.quantile({"site": "b"}, p=x)),
    "CovariateFit.quantile level": ("level", lambda x: LIVES_BY_SITE.quantile({"site": "b"}, p=0.1, level=x)),
    "dependent_curve tau": ("tau", lambda x: relamp.dependent_curve(PULLED, suspects=["dim"], tau=x)),
    **{
        f"removal_bounds {name}": (
            name,
            lambda x, name=name: relamp.removal_bounds(PULLED, **{"suspects": ["dim"], "age_hours": 9.0, name: x}),
        )
        for name in ("age_hours", "widest", "level")
    },
    "RemovalDial.life tau": ("tau", DIAL.life),
    "RemovalDial.reliability age": ("age", lambda x: DIAL.reliability(x, **RANGE)),
    "RemovalDial.b_life percent": ("percent", lambda x: DIAL.b_life(x, **RANGE)),
    **{
        f"RemovalDial.{method} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for method, call in TURNS.items()
        for name in ("from_tau", "to_tau", "level", "widest")
    },
    "two_clocks level": ("level", lambda x: relamp.two_clocks(STRUCK, strikes_per_hour="rate", level=x)),
    "TwoClocks.life rate": ("rate", CLOCKS.life),
    "CurrentHistoryFit.life current": ("current", HISTORY.life),
    "CurrentHistoryFit.wald level": ("level", lambda x: HISTORY.wald(level=x)),
    "CurrentHistoryFit.profile level": ("level", lambda x: HISTORY.profile(*RAISED, level=x)),
    "pool_groups threshold": ("threshold", lambda x: relamp.pool_groups(SITES, by="site", seed=1, threshold=x)),
    "pool_groups level": ("level", lambda x: relamp.pool_groups(SITES, by="site", seed=1, level=x)),
    "compare_pair level": ("level", lambda x: compare(level=x)),
    "compare_pair_costs power": ("power", lambda x: compare_costs(common_age_hours=300.0, power=x)),
    "failures_to_see hazard_ratio": ("hazard_ratio", lambda x: relamp.failures_to_see(hazard_ratio=x)),
    "failures_to_see share": ("share", lambda x: relamp.failures_to_see(hazard_ratio=2.0, share=x)),
    "failures_to_see level": ("level", lambda x: relamp.failures_to_see(hazard_ratio=2.0, level=x)),
    "failures_to_see power": ("power", lambda x: relamp.failures_to_see(hazard_ratio=2.0, power=x)),
    "HazardFit.wald level": ("level", lambda x: HAZARDS.wald("site=b", level=x)),
    "HazardFit.profile level": ("level", lambda x: HAZARDS.profile(LAMPS, "site=b", level=x)),
    "HazardFit.reliability age": ("age", lambda x: HAZARDS.reliability({"site": "b"}, age=x)),
    "HazardFit.reliability level": ("level", lambda x: HAZARDS.reliability({"site": "b"}, age=200.0, level=x)),
    "Fit.profile level": ("level", lambda x: FIT.profile(TALLY, b_life=10.0, level=x)),
    "within_window upper_hours": (
        "upper_hours",
        lambda x: relamp.within_window(FIT, upper_hours=x, ages=[1.0]),
    ),
    "within_window level": ("level", lambda x: relamp.within_window(FIT, upper_hours=9.0, ages=[1.0], level=x)),
    "Fit.wald level": ("level", lambda x: FIT.wald(b_life=10.0, level=x)),
}

OPTIONAL: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("OPTIONAL"),
    "RemovalDial.planned_age oldest_at_risk_hours": (
        "oldest_at_risk_hours",
        lambda x: TURNS["planned_age"](oldest_at_risk_hours=x),
    ),
    "compare_pair_costs common_age_hours": ("common_age_hours", lambda x: compare_costs(common_age_hours=x)),
    "compare_pair_costs worth_per_1000_hours": (
        "worth_per_1000_hours",
        lambda x: compare_costs(common_age_hours=300.0, worth_per_1000_hours=x),
    ),
    **{
        f"hour_limit {name}": (name, lambda x, name=name: relamp.hour_limit(source="invented", **{name: x}))
        for name in ("maximum_hours", "warranty_hours", "average_life_hours", "limit_hours")
    },
    **{
        f"{call.__name__} given_survival_to": (
            "given_survival_to",
            lambda x, call=call, more=more: call(TALLY, given_survival_to=x, **more),
        )
        for call, more in (
            (relamp.product_limit, {}),
            (relamp.incidence, {}),
            (relamp.self_consistent, {}),
            (relamp.ending_bounds, BOUNDS),
            (relamp.incidence_bounds, {"cause": "burst", **BOUNDS}),
        )
    },
    "change_counts planned_age_hours": ("planned_age_hours", lambda x: COUNTS_BY(LIFE, 1.0, planned_age_hours=x)),
    "expected_changes planned_age_hours": (
        "planned_age_hours",
        lambda x: MEAN_CHANGES(LIFE, 1.0, planned_age_hours=x),
    ),
    **{
        f"{owner} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for owner, call in (
            ("Fit.wald", FIT.wald),
            ("Fit.profile", lambda **x: FIT.profile(TALLY, **x)),
            ("Bootstrap.interval", BOOTSTRAP.interval),
            ("profile_corrected", corrected),
        )
        for name in ("quantile", "b_life", "reliability", "hazard")
    },
    **{
        f"Fit.profile_curve {name}": (name, lambda x, name=name: FIT.profile_curve(TALLY, **{name: x}))
        for name in ("quantile", "b_life", "reliability")
    },
    **{
        f"Posterior.{method} {name}": (
            name,
            lambda x, method=method, name=name: getattr(POSTERIOR, method)(
                **{name: x}, **({"value": 1.0} if method == "probability_below" else {})
            ),
        )
        for method in ("interval", "mean_of", "probability_below")
        for name in ("quantile", "b_life", "reliability", "hazard")
    },
    **conftest.play_cases("planned_age_hours", "visit_age_hours", *conftest.PLAY_DAYS),
}

MAY_BE_NONE = {"Study.open draws", "ChainForecast.count month", "stock_service order_up_to"}
MAY_BE_NONE |= claims.WITHOUT | played.WITHOUT
NOT_WHOLE = [-1, 2**70, -(2**70), 3.5, 3.0, "3", True, None, [3], np.float64(3.0), np.True_, decimal.Decimal(3), b"3"]
NOT_NUMBERS = ["0.5", True, [0.5], {}, b"0.5", 0.5j, np.True_, np.datetime64("2025-12-28")]


def refused(call: Callable[[Any], Any], value: Any, name: str) -> relamp.Problem:
    with pytest.raises(relamp.InputError) as caught:
        call(value)
    problem = caught.value.problems[0]
    assert name in (problem.input, problem.column), str(caught.value)
    assert problem.got
    assert problem.expected
    assert name in str(caught.value)
    return problem


def slug_of(call: Callable[[Any], Any], value: Any) -> str:
    try:
        call(value)
    except relamp.RelampError as error:
        return error.slug
    return ""


@pytest.mark.parametrize("case", WHOLE)
def test_what_is_no_whole_number_is_refused_by_name(case: str) -> None:
    name, call = WHOLE[case]
    for value in NOT_WHOLE:
        if value is None and case in MAY_BE_NONE:
            continue
        problem = refused(call, value, name)
        assert problem.slug == "python.whole_number"
        assert problem.expected.startswith("a whole number from 0 to ")
        assert str(value).strip("b'") in problem.got or isinstance(value, np.generic)


@pytest.mark.parametrize("case", NUMBERS)
def test_what_is_no_number_is_refused_by_name(case: str) -> None:
    name, call = NUMBERS[case]
    for value in NOT_NUMBERS:
        if case.endswith(" hours_per_week") and isinstance(value, list):
            continue
        refused(call, value, name)
    for value in (None, float("nan"), np.nan):
        problem = refused(call, value, name)
        assert "None" not in problem.expected or problem.slug == "python.not_a_column"


@pytest.mark.parametrize("case", OPTIONAL)
def test_where_none_stands_for_absent_a_nan_says_so(case: str) -> None:
    name, call = OPTIONAL[case]
    for value in NOT_NUMBERS:
        refused(call, value, name)
    for value in (float("nan"), np.nan):
        problem = refused(call, value, name)
        assert problem.slug == "python.nan"
        assert "None" in problem.expected
    assert slug_of(call, None) not in ("python.nan", "python.missing", "python.type")


def test_numbers_of_any_kind_are_taken() -> None:
    whole = relamp.Count.poisson(3.0).at_most(2)
    assert COUNT.at_most(np.int64(2)) == COUNT.at_most(np.uint8(2)) == whole
    for three in (3, 3.0, np.float32(3), np.int16(3), np.array(3.0), decimal.Decimal(3), fractions.Fraction(3)):
        assert relamp.Count.poisson(three) == COUNT
    assert (COUNT.at_most(2**64 - 1), str(COUNT.more_than(2**64 - 1))) == (1.0, "0.0")
    assert len(LIFE.draws(0, seed=2**64 - 1)) == 0


def test_a_meter_step_of_nothing_is_refused() -> None:
    reading = read_small_log()
    for step in (0.0, -1.0, float("inf")):
        with pytest.raises(relamp.InputError, match="meter_step_hours"):
            reading.tally(meter_step_hours=step)


def test_a_value_of_any_length_is_shown_in_short() -> None:
    for value in (10**5000, "x" * 5000):
        problem = refused(COUNT.at_most, value, "number")
        assert len(problem.got) < 120
        refused(relamp.Count.poisson, value, "mean")


def test_an_age_that_is_no_age_is_judged_by_no_limit() -> None:
    for call in (LIMIT.reached, LIMIT.maker_reached, LIMIT.cap):
        for value in (None, "2000", True, float("nan"), -1.0, float("-inf")):
            refused(call, value, "age_hours")
    assert (LIMIT.cap(-0.0), LIMIT.cap(float("inf")), LIMIT.reached(float("inf"))) == (0.0, 2500.0, True)


FIT_EVEN = relamp.fit(TALLY, family="exponential")
ASKED: list[tuple[str, Callable[..., Any]]] = [
    ("Fit.wald", FIT.wald),
    ("Fit.profile", lambda **x: FIT.profile(TALLY, **x)),
    ("Bootstrap.interval", BOOTSTRAP.interval),
    ("Posterior.interval", POSTERIOR.interval),
]
TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("TEXTS"),
    **{f"{owner} sides": ("sides", lambda x, call=call: call(b_life=10.0, sides=x)) for owner, call in ASKED},
    **{
        f"{owner} scale": ("scale", lambda x, call=call: call(function=lambda life: life.mean, scale=x))
        for owner, call in [*ASKED, ("profile_corrected", corrected)]
    },
    "fit family": ("family", lambda x: relamp.fit(TALLY, family=x)),
    "fit_causes family": ("family", lambda x: relamp.fit_causes(TALLY, family=x)),
    "bootstrap family": ("family", lambda x: relamp.bootstrap(TALLY, family=x, replicates=5, seed=1)),
    "bootstrap stratum": ("stratum", lambda x: relamp.bootstrap(TALLY, stratum=x, replicates=5, seed=1)),
    "distance_test family": ("family", lambda x: relamp.distance_test(TALLY, family=x, replicates=99, seed=1)),
    "posterior family": ("family", lambda x: relamp.posterior(TALLY, family=x, draws=1, seed=1)),
    "rank_regression family": ("family", lambda x: relamp.rank_regression(TALLY, family=x)),
    "rank_regression rule": ("rule", lambda x: relamp.rank_regression(TALLY, rule=x)),
    "rank_regression regression_on": ("regression_on", lambda x: relamp.rank_regression(TALLY, regression_on=x)),
    "rank_test weight": ("weight", lambda x: relamp.rank_test(GROUPS, weight=x)),
    "incidence_test cause": ("cause", lambda x: relamp.incidence_test(GROUPS, cause=x)),
    "incidence_bounds cause": ("cause", lambda x: relamp.incidence_bounds(TALLY, cause=x, **BOUNDS)),
    "Incidence.band cause": ("cause", INCIDENCE.band),
    "Incidence.band_at cause": ("cause", lambda x: INCIDENCE.band_at(x, 9.0)),
    "Incidence.band_at band_scale": ("band_scale", lambda x: INCIDENCE.band_at("burst", 9.0, band_scale=x)),
    "Incidence.band band_scale": ("band_scale", lambda x: INCIDENCE.band("burst", band_scale=x)),
    "Incidence.standard_error cause": ("cause", INCIDENCE.standard_error),
    "product_limit hazard_scale": ("hazard_scale", lambda x: relamp.product_limit(TALLY, hazard_scale=x)),
    "product_limit band_scale": ("band_scale", lambda x: relamp.product_limit(TALLY, band_scale=x)),
    "plotting_positions rule": ("rule", lambda x: relamp.plotting_positions(TALLY, rule=x)),
    "fit_known_shape termination": (
        "termination",
        lambda x: relamp.fit_known_shape(TALLY, shape=2.0, termination=x),
    ),
    "likelihood_ratio_bootstrap narrow": (
        "narrow",
        lambda x: relamp.likelihood_ratio_bootstrap(TALLY, narrow=x, wide="weibull", replicates=99, seed=1),
    ),
    "likelihood_ratio_bootstrap wide": (
        "wide",
        lambda x: relamp.likelihood_ratio_bootstrap(TALLY, narrow="exponential", wide=x, replicates=99, seed=1),
    ),
    "removal_dial family": ("family", lambda x: relamp.removal_dial(PULLED, **PULLS, family=x)),
    "two_clocks family": ("family", lambda x: relamp.two_clocks(STRUCK, strikes_per_hour="rate", family=x)),
    "two_clocks strikes_per_hour": ("strikes_per_hour", lambda x: relamp.two_clocks(STRUCK, strikes_per_hour=x)),
    "fit_current_history family": ("family", lambda x: relamp.fit_current_history(*RAISED, family=x)),
    "CurrentHistoryFit.wald sides": ("sides", lambda x: HISTORY.wald(sides=x)),
    "CurrentHistoryFit.profile sides": ("sides", lambda x: HISTORY.profile(*RAISED, sides=x)),
    "fit_covariates family": ("family", lambda x: relamp.fit_covariates(LAMPS, terms=["site"], family=x)),
    "CovariateFit.wald name": ("name", LIVES_BY_SITE.wald),
    "CovariateFit.wald sides": ("sides", lambda x: LIVES_BY_SITE.wald("site=b", sides=x)),
    "CovariateFit.profile name": ("name", lambda x: LIVES_BY_SITE.profile(LAMPS, x)),
    "CovariateFit.profile sides": ("sides", lambda x: LIVES_BY_SITE.profile(LAMPS, "site=b", sides=x)),
    "CovariateFit.quantile sides": ("sides", lambda x: LIVES_BY_SITE.quantile({"site": "b"}, p=0.1, sides=x)),
    "pool_groups by": ("by", lambda x: relamp.pool_groups(SITES, by=x, draws=500, seed=1)),
    "pool_groups family": ("family", lambda x: relamp.pool_groups(SITES, by="site", family=x, draws=500, seed=1)),
    "compare_pair group": ("group", compare),
    "compare_pair other": ("other", lambda x: compare(second=x)),
    "compare_pair by": ("by", lambda x: compare(by=x)),
    "compare_pair family": ("family", lambda x: compare(family=x)),
    "HazardFit.wald name": ("name", HAZARDS.wald),
    "HazardFit.wald sides": ("sides", lambda x: HAZARDS.wald("site=b", sides=x)),
    "HazardFit.profile name": ("name", lambda x: HAZARDS.profile(LAMPS, x)),
    "HazardFit.profile sides": ("sides", lambda x: HAZARDS.profile(LAMPS, "site=b", sides=x)),
    "HazardFit.reliability stratum": ("stratum", lambda x: HAZARDS.reliability({"site": "b"}, age=200.0, stratum=x)),
    "HazardFit.reliability sides": ("sides", lambda x: HAZARDS.reliability({"site": "b"}, age=200.0, sides=x)),
    "HazardFit.proportionality scale": ("scale", lambda x: HAZARDS.proportionality(LAMPS, scale=x)),
    "life name": ("name", relamp.life),
    "family_box family": ("family", relamp.family_box),
    "family_in_words name": ("name", relamp.family_in_words),
    "hour_limit source": ("source", lambda x: relamp.hour_limit(maximum_hours=1.0, source=x)),
    "read_table name": (
        "name",
        lambda x: relamp.read_table({}, columns={}, exported_on="2025-12-28", reasons={}, name=x),
    ),
    "sockets_of clock": ("clock", lambda x: relamp.sockets_of(read_small_log(), clock=x)),
    "recurrence_difference more_in": (
        "more_in",
        lambda x: relamp.recurrence_difference(SOCKETS, more_in=x, than_in="South"),
    ),
    "recurrence_difference than_in": (
        "than_in",
        lambda x: relamp.recurrence_difference(SOCKETS, more_in="North", than_in=x),
    ),
    **conftest.play_cases("change"),
    "trend ended": ("ended", lambda x: relamp.trend(SOCKETS, ended=x)),
    "power_law ended": ("ended", lambda x: relamp.power_law(SOCKETS, ended=x)),
    "power_law estimate": ("estimate", lambda x: relamp.power_law(SOCKETS, estimate=x)),
    "Sockets.of_group group": ("group", SOCKETS.of_group),
    "CauseFits.draws stratum": ("stratum", lambda x: FITS.draws(TALLY, COSTS, n=5, seed=1, stratum=x)),
    "Costs.failure cause": ("cause", COSTS.failure),
    "Fit.bounds name": ("name", FIT.bounds),
    "Fit.parameter name": ("name", FIT.parameter),
    "Fit.standard_error name": ("name", FIT.standard_error),
    "Incidence.incidence_at cause": ("cause", lambda x: relamp.incidence(TALLY).incidence_at(x, 100.0)),
    "Reading.tally cluster": ("cluster", lambda x: read_small_log().tally(cluster=x)),
    "Tally.stratum name": ("name", TALLY.stratum),
}
# None stands for absent.
OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("OPTIONAL_TEXTS"),
    "sockets_of lamp_class": ("lamp_class", lambda x: relamp.sockets_of(read_small_log(), lamp_class=x)),
    "probability_plot family": ("family", lambda x: relamp.probability_plot(CURVE, family=x)),
    **{
        f"{owner} parameter": ("parameter", lambda x, call=call: call(parameter=x))
        for owner, call in (
            *ASKED,
            ("profile_corrected", corrected),
            ("Fit.profile_curve", lambda **x: FIT.profile_curve(TALLY, **x)),
            ("Posterior.mean_of", POSTERIOR.mean_of),
            ("Posterior.probability_below", lambda **x: POSTERIOR.probability_below(value=1.0, **x)),
        )
    },
    "hour_limit reason": (
        "reason",
        lambda x: relamp.hour_limit(maximum_hours=9.0, source="invented", limit_hours=8.0, reason=x),
    ),
    **{
        f"{call.__name__} reading": (
            "reading",
            lambda x, call=call, more=more: call(PULLED, suspects=["dim"], reading=x, **more),
        )
        for call, more in (
            (relamp.dependent_curve, {"tau": 0.5}),
            (relamp.removal_bounds, {"age_hours": 900.0}),
            (relamp.removal_dial, {"replicates": 0}),
        )
    },
    "RemovalDial.planned_age extrapolate_because": (
        "extrapolate_because",
        lambda x: TURNS["planned_age"](extrapolate_because=x),
    ),
    "fit_current_history single": ("single", lambda x: relamp.fit_current_history(*RAISED, single=x)),
    "CurrentHistoryFit.profile single": ("single", lambda x: HISTORY.profile(*RAISED, single=x)),
    "product_limit reading": ("reading", lambda x: relamp.product_limit(TALLY, reading=x)),
    "rank_test reading": ("reading", lambda x: relamp.rank_test(GROUPS, reading=x)),
    "incidence_test reading": ("reading", lambda x: relamp.incidence_test(GROUPS, cause="burst", reading=x)),
    "ending_bounds reading": ("reading", lambda x: relamp.ending_bounds(TALLY, reading=x, **BOUNDS)),
    "incidence_bounds reading": (
        "reading",
        lambda x: relamp.incidence_bounds(TALLY, cause="burst", reading=x, **BOUNDS),
    ),
    "incidence reading": ("reading", lambda x: relamp.incidence(TALLY, reading=x)),
    "Study.open family": ("family", lambda x: relamp.Study.open("data/demo/study.toml", family=x)),
}
# Lists of endings; None stands for absent where there is a default.
ENDINGS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **of_rooms("ENDINGS"),
    "expected_endings failure_endings": (
        "failure_endings",
        lambda x: relamp.expected_endings(read_small_log(), MODELS, failure_endings=x),
    ),
    "within_window endings": (
        "endings",
        lambda x: relamp.within_window(FIT, upper_hours=600.0, ages=[200.0], tally=TALLY, endings=x),
    ),
    "sockets_of endings": ("endings", lambda x: relamp.sockets_of(read_small_log(), endings=x)),
    "residuals endings": ("endings", lambda x: relamp.residuals(FIT, TALLY, endings=x)),
    "ending_bounds suspects": ("suspects", lambda x: relamp.ending_bounds(TALLY, suspects=x, age_hours=9.0)),
    "incidence_bounds suspects": (
        "suspects",
        lambda x: relamp.incidence_bounds(TALLY, cause="burst", suspects=x, age_hours=9.0),
    ),
    **{
        f"{call.__name__} {name}": (
            name,
            lambda x, call=call, more=more, name=name: call(PULLED, **{"suspects": ["dim"], name: x}, **more),
        )
        for call, more in (
            (relamp.dependent_curve, {"tau": 0.5}),
            (relamp.removal_bounds, {"age_hours": 900.0}),
            (relamp.removal_dial, {"replicates": 0}),
        )
        for name in ("suspects", "endings")
    },
    "two_clocks endings": ("endings", lambda x: relamp.two_clocks(STRUCK, strikes_per_hour="rate", endings=x)),
    "fit_current_history endings": ("endings", lambda x: relamp.fit_current_history(*RAISED, endings=x)),
    "CurrentHistoryFit.profile endings": ("endings", lambda x: HISTORY.profile(*RAISED, endings=x)),
    "fit endings": ("endings", lambda x: relamp.fit(TALLY, endings=x)),
    "fit_covariates endings": (
        "endings",
        lambda x: relamp.fit_covariates(LAMPS, terms=["site"], endings=x),
    ),
    "proportional_hazards endings": (
        "endings",
        lambda x: relamp.proportional_hazards(LAMPS, terms=["site"], endings=x),
    ),
    "CovariateFit.profile endings": ("endings", lambda x: LIVES_BY_SITE.profile(LAMPS, "site=b", endings=x)),
    "CovariateFit.residuals endings": ("endings", lambda x: LIVES_BY_SITE.residuals(LAMPS, endings=x)),
    "pool_groups endings": ("endings", lambda x: relamp.pool_groups(SITES, by="site", seed=1, endings=x)),
    "compare_pair endings": ("endings", lambda x: compare(endings=x)),
    "HazardFit.profile endings": ("endings", lambda x: HAZARDS.profile(LAMPS, "site=b", endings=x)),
    "HazardFit.residuals endings": ("endings", lambda x: HAZARDS.residuals(LAMPS, endings=x)),
    "HazardFit.proportionality endings": ("endings", lambda x: HAZARDS.proportionality(LAMPS, endings=x)),
    "fit_causes failures": ("failures", lambda x: relamp.fit_causes(TALLY, failures=x)),
    "fit_known_shape endings": ("endings", lambda x: relamp.fit_known_shape(TALLY, shape=2.0, endings=x)),
    "bootstrap endings": ("endings", lambda x: relamp.bootstrap(TALLY, replicates=5, seed=1, endings=x)),
    "compare_fits endings": ("endings", lambda x: relamp.compare_fits(TALLY, fits=[FIT], endings=x)),
    "distance_test endings": ("endings", lambda x: relamp.distance_test(TALLY, replicates=99, seed=1, endings=x)),
    "family_verdict endings": (
        "endings",
        lambda x: relamp.family_verdict(TALLY, fits=[FIT], age_hours=100.0, endings=x),
    ),
    "likelihood_ratio endings": (
        "endings",
        lambda x: relamp.likelihood_ratio(TALLY, narrow=FIT_EVEN, wide=FIT, endings=x),
    ),
    "likelihood_ratio_bootstrap endings": (
        "endings",
        lambda x: relamp.likelihood_ratio_bootstrap(
            TALLY, narrow="exponential", wide="weibull", replicates=99, seed=1, endings=x
        ),
    ),
    "phases endings": ("endings", lambda x: relamp.phases(TALLY, replicates=99, seed=1, endings=x)),
    "posterior endings": ("endings", lambda x: relamp.posterior(TALLY, draws=1, seed=1, endings=x)),
    "rank_regression endings": ("endings", lambda x: relamp.rank_regression(TALLY, endings=x)),
    "Fit.check endings": ("endings", lambda x: FIT.check(TALLY, endings=x)),
    "Fit.corrected_shape endings": ("endings", lambda x: FIT.corrected_shape(TALLY, endings=x)),
    "Fit.identify endings": ("endings", lambda x: FIT.identify(TALLY, endings=x)),
    "Fit.profile endings": ("endings", lambda x: FIT.profile(TALLY, b_life=10.0, endings=x)),
    "profile_corrected endings": ("endings", lambda x: corrected(b_life=10.0, endings=x)),
    "Fit.profile_curve endings": ("endings", lambda x: FIT.profile_curve(TALLY, b_life=10.0, endings=x)),
    "Fit.region endings": ("endings", lambda x: FIT.region(TALLY, endings=x)),
    "Reading.tally failure_endings": ("failure_endings", lambda x: read_small_log().tally(failure_endings=x)),
    "Tally.for_endings endings": ("endings", TALLY.for_endings),
}
NOT_TEXTS = [3, 0.5, True, b"weibull", ["weibull"], {}, float("nan")]


@pytest.mark.parametrize("case", TEXTS)
def test_what_is_no_text_is_refused_by_name(case: str) -> None:
    name, call = TEXTS[case]
    for value in [*NOT_TEXTS, None]:
        problem = refused(call, value, name)
        assert problem.slug == "python.type"
        assert "None" not in problem.expected


@pytest.mark.parametrize("case", OPTIONAL_TEXTS)
def test_where_none_stands_for_no_text_other_kinds_are_refused_by_name(case: str) -> None:
    name, call = OPTIONAL_TEXTS[case]
    for value in NOT_TEXTS:
        assert refused(call, value, name).slug == "python.type"
    assert slug_of(call, None) != "python.type"


@pytest.mark.parametrize("case", ENDINGS)
def test_what_is_no_list_of_endings_is_refused_by_name(case: str) -> None:
    name, call = ENDINGS[case]
    for value in (3, "burst", b"burst", [3], [None], ["burst", 1.0], {"burst"}):
        assert refused(call, value, name).slug == "python.type"
    assert refused(call, ["no such"], name).slug == "python.ending"


def test_beliefs_are_ranges_of_numbers() -> None:
    for name in ("b_life", "shape"):
        for value in (3.0, "12", [None, 2.0], ["1", "2"], [1.0, float("nan")], {1.0}):
            refused(lambda x, name=name: relamp.posterior(TALLY, draws=1, seed=1, **{name: x}), value, name)


def out_of_range(call: Callable[..., Any], name: str, given: dict[str, Any]) -> str:
    with pytest.raises((relamp.InputError, relamp.DomainError)) as caught:
        call(**given)
    problem = caught.value.problems[0]
    assert name in (problem.input, problem.column), str(caught.value)
    assert problem.got
    return problem.expected


@pytest.mark.parametrize("call", [FIT.wald, lambda **x: FIT.profile(TALLY, **x)])
def test_a_quantity_out_of_range_is_refused_by_its_argument(call: Callable[..., Any]) -> None:
    for name, value, expected in (
        ("b_life", -1.0, "above 0 and below 100"),
        ("quantile", 1.0, "above 0 and below 1"),
        ("reliability", -5.0, "finite hours above 0"),
        ("hazard", -5.0, "finite hours above 0"),
        ("failure_within", (-1.0, 10.0), "finite hours, 0 or more"),
        ("parameter", "mean", "shape, scale"),
    ):
        assert out_of_range(call, name, {name: value}) == expected


def test_a_limit_and_a_horizon_out_of_range_are_refused_by_their_argument() -> None:
    ours = {"maximum_hours": 2500.0, "source": "invented", "reason": "ours", "limit_hours": -1.0}
    assert out_of_range(relamp.hour_limit, "limit_hours", ours)
    for name, value in (("period_days", -1.0), ("periods", 0), ("periods", 10_000)):
        given = {"age_hours": [1.0], **FORECAST_OPTIONS, name: value}
        assert out_of_range(relamp.planned_changes, name, given)
        assert out_of_range(relamp.forecast, name, {"model": WORLD, **given})


def test_the_tables_above_hold_every_text_argument() -> None:
    covered = {tuple(case.split(" ")) for cases in (TEXTS, OPTIONAL_TEXTS, ENDINGS) for case in cases}
    names = {name for cases in (TEXTS, OPTIONAL_TEXTS, ENDINGS) for name, _ in cases.values()}
    # Fits, what was read from logs, what a lamp costs, and labels of rows, which take a column.
    of_readings = ("doubts", "ledger", "stock_findings", "claims_set_aside", "sockets_of", "expected_endings")
    things = {
        *((call, "reading") for call in (*of_readings, "lamps_today", "replay_age", "replay_predictions")),
        ("cost_parts", "lamp"),
        ("likelihood_ratio", "narrow"),
        ("likelihood_ratio", "wide"),
        ("expected_endings", "by"),
        ("chain_forecast", "lamp_class"),
        ("lives", "stratum"),
        ("lives", "cluster"),
        ("sockets", "name"),
        ("sockets", "group"),
        ("sockets", "failures"),
    }
    seen = 0
    for owner, name, callable_ in callables():
        for parameter in inspect.signature(callable_).parameters.values():
            if (isinstance(parameter.default, str) or parameter.name in names) and (name, parameter.name) not in things:
                seen += 1
                assert (f"{owner}{name}", parameter.name) in covered, f"{owner}{name}({parameter.name})"
    assert seen > 50


def test_the_tables_above_hold_every_number_argument() -> None:
    kinds = {"int": WHOLE, "float": {**NUMBERS, **OPTIONAL}}
    covered = {tuple(case.split(" ")) for cases in kinds.values() for case in cases}
    seen = 0
    for owner, name, callable_ in callables():
        for parameter in inspect.signature(callable_).parameters.values():
            default = parameter.default
            number = isinstance(default, int | float) and not isinstance(default, bool)
            # Pairs of a belief; the ends of many watches, shares on a scale and hours, which are columns.
            word = isinstance(default, bool) or (name, parameter.name) in {
                *BELIEFS,
                *(stock.OTHERS | played.OTHERS),
                ("sockets", "to"),
                ("scale_share", "share"),
                ("expected_changes", "hours"),
            }
            if number or (parameter.name in ARGUMENTS and not word):
                seen += 1
                assert (f"{owner}{name}", parameter.name) in covered, f"{owner}{name}({parameter.name})"
    assert seen > 50


ELSEWHERE = {"age", "age_hours", "burst", "draws", "planned"}
ARGUMENTS = {name for cases in (WHOLE, NUMBERS, OPTIONAL) for name, _ in cases.values()} - ELSEWHERE
# Pairs and triples of numbers, read by a reader of their own.
BELIEFS = {("posterior", "b_life"), ("posterior", "shape")}
# Columns or words in these places, not single numbers.
WORDS = {
    *((name, "quantile") for name in ("Life.", "Curve.", "SelfConsistent.")),
    *(("Curve.", name) for name in ("quantile_interval", "restricted_mean", "restricted_mean_interval")),
}


def callables() -> list[tuple[str, str, Any]]:
    found: list[tuple[str, str, Any]] = []
    for name in relamp.__all__:
        thing = getattr(relamp, name)
        if inspect.isbuiltin(thing):
            found.append(("", name, thing))
        elif inspect.isclass(thing) and hasattr(thing, "from_json"):
            for method in [m for m in vars(thing) if not m.startswith("_")]:
                bound = getattr(thing, method)
                if callable(bound) and (f"{name}.", method) not in WORDS:
                    found.append((f"{name}.", method, bound))
    return found
