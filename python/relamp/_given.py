"""The door of the plots: what is drawn must be the result that the plot draws."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

__all__ = ["must_be", "named"]

# Which call makes each result.
_MADE_BY = {
    "ChainForecast": "relamp.chain_forecast",
    "ClassCurve": "relamp.class_curve",
    "CostBars": "relamp.cost_bars",
    "CostCurve": "relamp.cost_curve",
    "Curve": "relamp.product_limit",
    "DialAnswer": "RemovalDial.b_life",
    "EndingsByAge": "relamp.endings_by_age",
    "Fit": "relamp.fit",
    "HazardResiduals": "relamp.residuals",
    "Incidence": "relamp.incidence",
    "LastBuy": "relamp.last_buy",
    "Life": "Fit.life or relamp.life",
    "LifeBars": "relamp.life_bars",
    "LikelihoodRegion": "Fit.region",
    "PlannedAge": "relamp.planned_age",
    "PolicyWave": "relamp.policy_wave",
    "PooledGroups": "relamp.pool_groups",
    "ProbabilityPlot": "relamp.probability_plot",
    "ProfileCurve": "Fit.profile_curve",
    "Recurrence": "relamp.recurrence",
    "StockPlan": "relamp.best_reorder",
    "Watch": "relamp.watch",
}


def must_be(argument: str, value: Any, kind: str, *, or_none: bool = False) -> None:
    """Raises a TypeError that names the argument, what was given and what makes the result that belongs there."""
    import relamp

    if or_none and value is None:
        return
    if not isinstance(value, getattr(relamp, kind)):
        got, right = type(value).__name__, f"{kind}, as {_MADE_BY[kind]} gives it"
        raise TypeError(f"{argument} must be a result of the class {right}, got {got}")


def named(names: Sequence[str], drawn: int) -> None:
    """Raises a ValueError unless there is a name for each of what is drawn, or none at all."""
    if len(names) not in (0, drawn):
        raise ValueError(f"names must be {drawn}, one for each that is drawn, or none; got {len(names)}")
