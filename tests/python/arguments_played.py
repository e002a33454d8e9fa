"""Calls of a chain that is played out with one argument left open, for `test_arguments`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import conftest

PLAYED = conftest.small_chain_play()


def cases(names: str) -> dict[str, tuple[str, Callable[[Any], Any]]]:
    def call(name: str, value: Any) -> Any:
        given: dict[str, Any] = {"order_up_to": {"review_days": 7.0}, "emergency_cost": {"emergency_days": 1.0}}
        return conftest.small_chain_play(**given.get(name, {}), **{name: value})

    return {f"play_chain {name}": (name, lambda x, name=name: call(name, x)) for name in names.split()}


WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **cases("base_stock months on_hand order_up_to quantity replicates seed"),
    "PlayedChain.needed month": ("month", lambda x: PLAYED.needed(x)),
    "PlayedChain.needed_by_end month": ("month", lambda x: PLAYED.needed_by_end(x)),
}

NUMBERS = cases("emergency_cost hours_per_week planned_age_hours review_days show_hours warm_up_days")

OPTIONAL = cases("emergency_days site_days")

TEXTS = cases("while_dark")

# Without them nothing is ordered, or a quantity.
WITHOUT = {"play_chain base_stock", "play_chain order_up_to"}

# Lead times may be a column.
OTHERS = {("play_chain", "lead_time_days")}
