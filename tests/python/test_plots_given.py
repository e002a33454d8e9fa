"""What is no result of the kind that a plot draws is refused by the name of its argument."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import relamp
from relamp import plots, plots_buy, plots_demand, plots_groups, plots_model, plots_policy, plots_stock, plots_watch

AGES = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
TALLY = relamp.lives(AGES, covariates={"site": ["a", "b"] * 6})
FIT = relamp.fit(TALLY)
CURVE = relamp.product_limit(TALLY)

# The plot, what it is given, the argument at fault, and the call that makes the right one.
WRONG: list[tuple[Callable[..., Any], tuple[Any, ...], str, str]] = [
    (plots.curve, (FIT,), "curve", "relamp.product_limit"),
    (plots.incidence, (CURVE,), "incidence", "relamp.incidence"),
    (plots.recurrence, (CURVE,), "recurrence", "relamp.recurrence"),
    (plots_groups.curves, ({"a": TALLY},), "curves['a']", "relamp.product_limit"),
    (plots_groups.curves, ([CURVE],), "curves", "relamp.product_limit"),
    (plots_groups.pooled, (CURVE,), "pooled", "relamp.pool_groups"),
    (plots_model.probability, (CURVE,), "plot", "relamp.probability_plot"),
    (plots_model.profile, (CURVE,), "curve", "Fit.profile_curve"),
    (plots_model.region, (FIT,), "region", "Fit.region"),
    (plots_model.families, (FIT, [FIT]), "curve", "relamp.product_limit"),
    (plots_model.families, (CURVE, [FIT, CURVE]), "fits[1]", "relamp.fit"),
    (plots_model.families, (CURVE, FIT), "fits", "relamp.fit"),
    (plots_model.residuals, (FIT,), "residuals", "relamp.residuals"),
    (plots_model.dial, (FIT,), "answer", "RemovalDial.b_life"),
    (plots_demand.fan, (CURVE, "X"), "chain", "relamp.chain_forecast"),
    (plots_demand.kinds, (CURVE, "X"), "chain", "relamp.chain_forecast"),
    (plots_demand.wave, (CURVE,), "wave", "relamp.policy_wave"),
    (plots_demand.wave_kinds, (CURVE, CURVE, "X"), "old", "relamp.chain_forecast"),
    (plots_policy.cost, (CURVE, FIT), "curve", "relamp.cost_curve"),
    (plots_policy.bars, (CURVE,), "bars", "relamp.cost_bars"),
    (plots_policy.endings, (CURVE,), "endings", "relamp.endings_by_age"),
    (plots_stock.cost, (CURVE,), "plan", "relamp.best_reorder"),
    (plots_stock.trade_off, (CURVE,), "plan", "relamp.best_reorder"),
    (plots_watch.sums, (CURVE,), "watch", "relamp.watch"),
    (plots_buy.last_buy, (CURVE,), "buy", "relamp.last_buy"),
    (plots_buy.places, (CURVE,), "curve", "relamp.class_curve"),
]


@pytest.mark.parametrize(("plot", "arguments", "argument", "maker"), WRONG)
def test_what_a_plot_does_not_draw_is_refused(
    plot: Callable[..., Any], arguments: tuple[Any, ...], argument: str, maker: str
) -> None:
    with pytest.raises(TypeError) as told:
        plot(*arguments)
    assert str(told.value).startswith(f"{argument} must be ")
    assert maker in str(told.value)
    # The class of what was given, and not that of what holds it.
    assert any(f"got {type(a).__name__}" in str(told.value) for a in [*arguments, TALLY, CURVE])


def test_residuals_of_proportional_hazards_are_told_apart() -> None:
    hazards = relamp.proportional_hazards(TALLY, terms=["site"]).residuals(TALLY)
    with pytest.raises(TypeError, match=r"residuals .* HazardResiduals, as relamp\.residuals .* CovariateResiduals"):
        plots_model.residuals(hazards)  # type: ignore[arg-type]


def test_a_life_over_a_curve_and_a_second_group_pass_the_same_door() -> None:
    with pytest.raises(TypeError, match=r"life .* Fit\.life or relamp\.life gives it, got Fit"):
        plots.curve(CURVE, life=FIT)
    screens = relamp.recurrence(relamp.sockets([5000.0, 4000.0], [[900.0, 2100.0], []]))
    with pytest.raises(TypeError, match=r"other .* Recurrence"):
        plots.recurrence(screens, other=CURVE)


def test_there_is_a_name_for_each_recurrence_or_none() -> None:
    screens = relamp.recurrence(relamp.sockets([5000.0, 4000.0], [[900.0, 2100.0], []]))
    for other, names in ((None, ["a", "b", "c"]), (screens, ["a"]), (screens, ["a", "b", "c"])):
        with pytest.raises(ValueError, match="names must be"):
            plots.recurrence(screens, other=other, names=names)
    assert plots.recurrence(screens, names=["all"]).get_xlabel() == "hours burned in the screen"
