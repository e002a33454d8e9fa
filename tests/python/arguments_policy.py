"""Calls of costs, warranties and planned ages with one argument left open, for `test_arguments`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import relamp

TALLY = relamp.lives([100.0 + 7.0 * i for i in range(60)], ending=["burst"] * 30 + ["dim"] * 30)
COSTS = relamp.costs(950.0, burst=5200.0, dim=1250.0)
LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
LIFE = relamp.life("weibull", shape=3.0, scale=4000.0)
WORLD = relamp.world({"burst": LIFE}, COSTS)
DRAWS = relamp.fit_causes(TALLY).draws(TALLY, COSTS, n=20, seed=1)
FULL: dict[str, Any] = {"form": "full", "price": 780.0, "hours": 500.0, "endings": ["burst"]}
BACKED = relamp.world({"burst": LIFE}, COSTS.with_warranty(relamp.warranty(**FULL)))
CAPS: dict[str, Any] = {"records": TALLY, "most_before_age": 0.5, "show_hours": 2.0}


def full(**options: Any) -> relamp.Warranty:
    return relamp.warranty(**{**FULL, **options})


def capped(**options: Any) -> relamp.CappedAge:
    return relamp.capped_age(WORLD, LIMIT, **{**CAPS, **options})


def aged(call: Callable[..., Any]) -> Callable[..., Any]:
    """A planned age of the world, or of its draws, with options."""
    model = DRAWS if call is relamp.planned_age_interval else WORLD
    return lambda **options: call(model, LIMIT, **options)


AGES: dict[str, Callable[..., Any]] = {
    "planned_age": aged(relamp.planned_age),
    "planned_age_interval": aged(relamp.planned_age_interval),
    "capped_age": capped,
}

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **{
        f"{owner} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for owner, call in AGES.items()
        for name in ("near_percent", "least_saving_percent")
    },
    "planned_age_interval level": ("level", lambda x: relamp.planned_age_interval(DRAWS, LIMIT, level=x)),
    **{
        f"capped_age {name}": (name, lambda x, name=name: capped(**{name: x}))
        for name in ("show_hours", "level", "shape")
    },
    "dark_minutes planned": ("planned", relamp.dark_minutes),
    "dark_minutes burst": ("burst", lambda x: relamp.dark_minutes(1.0, burst=x)),
    "warranty price": ("price", lambda x: full(price=x)),
    "warranty_value age_hours": ("age_hours", lambda x: relamp.warranty_value(BACKED, LIMIT, age_hours=x)),
    "Warranty.within_calendar days": ("days", lambda x: full().within_calendar(days=x, hours_per_week=70.0)),
    "Warranty.within_calendar hours_per_week": (
        "hours_per_week",
        lambda x: full().within_calendar(days=90.0, hours_per_week=x),
    ),
}

OPTIONAL: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **{
        f"{owner} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for owner, call in AGES.items()
        for name in ("todays_rule_hours", "oldest_at_risk_hours")
    },
    "capped_age most_before_age": ("most_before_age", lambda x: capped(most_in_show=0.5, most_before_age=x)),
    "capped_age most_in_show": ("most_in_show", lambda x: capped(most_in_show=x)),
    "discount rate_per_hour": ("rate_per_hour", lambda x: relamp.discount(rate_per_hour=x)),
    "discount rate_per_year": (
        "rate_per_year",
        lambda x: relamp.discount(rate_per_year=x, hours_per_year=4000.0),
    ),
    "discount hours_per_year": (
        "hours_per_year",
        lambda x: relamp.discount(rate_per_year=0.05, hours_per_year=x),
    ),
    "warranty hours": ("hours", lambda x: full(hours=x)),
}

TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "capped_age cause": ("cause", lambda x: capped(cause=x)),
    "warranty form": ("form", lambda x: full(form=x)),
}

OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    f"{owner} extrapolate_because": (
        "extrapolate_because",
        lambda x, call=call: call(extrapolate_because=x),
    )
    for owner, call in AGES.items()
}

ENDINGS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "warranty endings": ("endings", lambda x: full(endings=x)),
}
