"""Calls of last buys and of spares at several places with one argument left open, for `test_arguments`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import relamp

LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
WORLD = relamp.world(
    {"burst": relamp.life("weibull", shape=3.0, scale=4000.0)}, relamp.costs(950.0, burst=5200.0, dim=1250.0)
)
BOUGHT: dict[str, Any] = {
    "hours_per_week": 70.0,
    "planned_age_hours": 1500.0,
    "limit": LIMIT,
    "end_days": 500.0,
    "convert_days": [300.0, None],
}
MONEY: dict[str, Any] = {"price": 900.0, "cost_short": 2500.0, "money_back": 200.0}
STORES = relamp.places(["north", "south"], [0.05, 0.08], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
CLASS: dict[str, Any] = {"lamp": "2 kW", "unit_cost": 700.0, "most_lamps": 6}
CURVE = relamp.class_curve(STORES, **CLASS)


def bought(**options: Any) -> relamp.LastBuy:
    rule = {} if {"price", "cost_short", "money_back"} & options.keys() else {"risk": 0.05}
    money = {} if rule else MONEY
    return relamp.last_buy(WORLD, [100.0, 900.0], **{**BOUGHT, **rule, **money, **options})


def pooled(**options: Any) -> relamp.Pooling:
    given = {"depot_stock": 1, "stock": {"north": 1, "south": 2}, "transfer_cost": 60.0}
    return relamp.pooling(STORES, **{**given, **options})


def served(**options: Any) -> relamp.PlacesService:
    return relamp.place_service(STORES, **{"depot_stock": 1, "stock": {"north": 1, "south": 2}, **options})


def curve(**options: Any) -> relamp.ClassCurve:
    return relamp.class_curve(STORES, **{**CLASS, **options})


def one_place(**options: Any) -> relamp.ClassCurve:
    return relamp.one_place_curve(relamp.Count.poisson(2.0), **{**CLASS, **options})


def spares(**options: Any) -> relamp.Table:
    given = {"ending": ["planned"], "limit": LIMIT, "until_hours": 100.0}
    return relamp.used_spares(WORLD, [900.0], **{**given, **options})


def results() -> list[Any]:
    """One object of each class of results."""
    return [
        bought(**MONEY, on_hand=2),
        STORES,
        served(),
        pooled(),
        CURVE,
        relamp.best_mix([CURVE, curve(lamp="4 kW", unit_cost=900.0)], budget=5000.0),
    ]


def cases(**names: tuple[Callable[..., Any], tuple[str, ...]]) -> dict[str, tuple[str, Callable[[Any], Any]]]:
    """Arguments by name."""
    return {
        f"{owner} {name}": (name, functools.partial(_with, call, name))
        for owner, (call, given) in names.items()
        for name in given
    }


def _with(call: Callable[..., Any], name: str, value: Any) -> Any:
    return call(**{name: value})


WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **cases(
        last_buy=(bought, ("on_hand", "plays", "seed")),
        place_service=(served, ("depot_stock",)),
        pooling=(pooled, ("depot_stock",)),
        class_curve=(curve, ("most_lamps",)),
        one_place_curve=(one_place, ("most_lamps",)),
    ),
    "LastBuy.saved_by screens": ("screens", lambda x: bought().saved_by(bought(), screens=x)),
    "ClassCurve.at_sites number": ("number", CURVE.at_sites),
    "place_service stock": ("stock", lambda x: served(stock={"north": x})),
    "pooling stock": ("stock", lambda x: pooled(stock={"north": x})),
}

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = cases(
    last_buy=(bought, ("hours_per_week", "planned_age_hours", "end_days", "shelf_loss_per_year")),
    pooling=(pooled, ("transfer_cost",)),
    class_curve=(curve, ("unit_cost",)),
    one_place_curve=(one_place, ("unit_cost",)),
    used_spares=(spares, ("until_hours",)),
)

OPTIONAL: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **cases(last_buy=(bought, ("risk", "price", "cost_short", "money_back", "least_hours_left"))),
    "places maker_days": (
        "maker_days",
        lambda x: relamp.places(["a"], [0.1], depot_days=1.0, hours_per_day=9.0, maker_days=x),
    ),
    "best_mix budget": ("budget", lambda x: relamp.best_mix([CURVE], budget=x)),
    "best_mix shortfall": ("shortfall", lambda x: relamp.best_mix([CURVE], shortfall=x)),
    "buy_steps budget": ("budget", lambda x: relamp.buy_steps([CURVE], budget=x)),
}

TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = cases(
    class_curve=(curve, ("lamp", "measure")),
    one_place_curve=(one_place, ("lamp",)),
)

OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = cases(
    place_service=(served, ("method",)),
    pooling=(pooled, ("method",)),
    class_curve=(curve, ("method",)),
)
