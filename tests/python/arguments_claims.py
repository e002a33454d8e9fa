"""Calls of warranty claims and stock counts with one argument left open, for `test_arguments`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import relamp

LIFE = relamp.life("weibull", shape=3.0, scale=4000.0)
WORLD = relamp.world({"burst": LIFE}, relamp.costs(950.0, burst=5200.0))
LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
WARRANTY = relamp.warranty(form="full", price=780.0, hours=500.0, endings=["burst"])
COVER = relamp.cover(WARRANTY)
COUNT = relamp.stock_count({"lamp_class": ["2 kW"], "place": ["Depot"], "on_hand": [4]}, counted_on="2026-01-31")
AHEAD: dict[str, Any] = {
    "hours_per_week": 70.0,
    "cover": COVER,
    "planned_age_hours": 2000.0,
    "limit": LIMIT,
    "as_of": "2026-01-31",
}


def ahead(**options: Any) -> relamp.ClaimsAhead:
    return relamp.claims_ahead(WORLD, [100.0], **{**AHEAD, **options})


WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "cover months": ("months", lambda x: relamp.cover(WARRANTY, months=x)),
    "cover most_strikes": ("most_strikes", lambda x: relamp.cover(WARRANTY, most_strikes=x)),
    "claim_terms days_to_file": ("days_to_file", lambda x: relamp.claim_terms(COVER, days_to_file=x)),
}
# None stands for no such limit.
WITHOUT = set(WHOLE)

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "claim_terms chance": ("chance", lambda x: relamp.claim_terms(COVER, chance=x)),
    "claim_terms handling_cost": ("handling_cost", lambda x: relamp.claim_terms(COVER, handling_cost=x)),
    **{
        f"claims_ahead {name}": (name, lambda x, name=name: ahead(**{name: x}))
        for name in ("hours_per_week", "planned_age_hours", "days")
    },
}

TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "cover months_from": ("months_from", lambda x: relamp.cover(WARRANTY, months_from=x)),
    "StockCount.on_hand lamp_class": ("lamp_class", COUNT.on_hand),
    "StockCount.on_order lamp_class": ("lamp_class", lambda x: COUNT.on_order(x, due_by="2026-02-01")),
}

OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "StockCount.on_hand place": ("place", lambda x: COUNT.on_hand("2 kW", place=x)),
    "StockCount.on_order place": ("place", lambda x: COUNT.on_order("2 kW", due_by="2026-02-01", place=x)),
}
