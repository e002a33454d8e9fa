"""Calls of the demand of a chain with one argument left open, for `test_arguments`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import relamp

LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
WORLD = relamp.world({"burst": relamp.life("weibull", shape=3.0, scale=4000.0)}, relamp.costs(950.0, burst=5200.0))


def chain(**options: Any) -> relamp.ChainForecast:
    lamps = {"lamp_class": ["X", "X"], "site": ["<script>", "south"], "age_hours": [100.0, None]}
    given: dict[str, Any] = {**lamps, "hours_per_week": 70.0, "as_of": "2026-01-01", "months": 2}
    return relamp.chain_forecast({"X": (WORLD, 2000.0, LIMIT)}, **{**given, **options})


CHAIN = chain()

WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "chain_forecast months": ("months", lambda x: chain(months=x)),
    "ChainForecast.count month": ("month", lambda x: CHAIN.count("X", month=x)),
}

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "rate_bound_95 exposure_hours": ("exposure_hours", relamp.rate_bound_95),
    "chain_forecast hours_per_week": ("hours_per_week", lambda x: chain(hours_per_week=x)),
    "chain_forecast shared_spread": ("shared_spread", lambda x: chain(shared_by="site", shared_spread=x)),
}

TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "chain_forecast shared_on": ("shared_on", lambda x: chain(shared_by="site", shared_spread=0.1, shared_on=x)),
    "ChainForecast.count kind": ("kind", lambda x: CHAIN.count("X", kind=x)),
}

OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "chain_forecast shared_by": ("shared_by", lambda x: chain(shared_by=x)),
    "ChainForecast.count lamp_class": ("lamp_class", CHAIN.count),
}
