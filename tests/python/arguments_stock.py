"""Calls of last buys and of spares at several places with one argument left open, for `test_arguments`."""

from __future__ import annotations

import functools
"""Calls of stock rules with one argument left open, for `test_arguments`, and one result of each, for `conftest`."""

from __future__ import annotations

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
DEMAND = relamp.lead_demand(0.2, lead_time_days=20.0)
REVIEWED = relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0)
COSTS = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
SERVICE = relamp.stock_service(DEMAND, base_stock=3, quantity=4)
LIMIT = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
WORLD = relamp.world(
    {"burst": relamp.life("weibull", shape=3.0, scale=4000.0)}, relamp.costs(950.0, burst=5200.0)
)  # fmt: skip
SHOWS: dict[str, Any] = {"hours_per_week": 70.0, "show_hours": 2.5}
DATED: dict[str, Any] = {
    "hours_per_week": 70.0,
    "planned_age_hours": 2000.0,
    "limit": LIMIT,
    "lead_time_days": 30.0,
    "days_ahead": 60.0,
    "service_target": 0.95,
    "hours_spread": 0.1,
}


def dated(**options: Any) -> relamp.DatedStock:
    return relamp.dated_stock(WORLD, [1950.0 - 80.0 * i for i in range(12)], **{**DATED, **options})


def aged(**options: Any) -> relamp.ShelfAge:
    given: dict[str, Any] = {"needed_a_day": 0.02, "base_stock": 5, "lead_time_days": 30.0, "price": 800.0}
    given |= {"shelf_life_days": 365.0, "warranty_days": 730.0, **options}
    return relamp.shelf_age(given.pop("needed_a_day"), **given)


def sent(**options: Any) -> relamp.EmergencyPlan:
    given: dict[str, Any] = {"needed_a_day": 0.1, "lead_time_days": 20.0, "per_transfer": 150.0, **options}
    return relamp.best_emergency(given.pop("needed_a_day"), COSTS, **given)


def served(**options: Any) -> relamp.StockService:
    demand = REVIEWED if "order_up_to" in options else DEMAND
    return relamp.stock_service(demand, **{"base_stock": 3, **SHOWS, **options})


def reordered(**options: Any) -> relamp.StockPlan:
    return relamp.best_reorder(DEMAND, COSTS, **{**SHOWS, **options})


def levelled(**options: Any) -> relamp.StockPlan:
    return relamp.best_order_up_to(REVIEWED, COSTS, **{**SHOWS, **options})


def costed(**options: Any) -> relamp.StockCosts:
    return relamp.stock_costs(800.0, **options)


def ordered(**options: Any) -> int:
    return SERVICE.order(**{"on_hand": 2, **options})


def leading(**options: Any) -> relamp.LeadDemand:
    return relamp.lead_demand(0.2, lead_time_days=20.0, **options)


def shortened(**options: Any) -> relamp.PoissonShortcut:
    return relamp.poisson_shortcut(relamp.Count.poisson(3.0), **options)


CALLS: dict[str, Callable[..., Any]] = {
    "StockCosts.price": COSTS.price,
    "StockService.order": ordered,
    "best_emergency": sent,
    "best_order_up_to": levelled,
    "best_reorder": reordered,
    "dated_stock": dated,
    "lead_demand": leading,
    "poisson_shortcut": shortened,
    "shelf_age": aged,
    "stock_costs": costed,
    "stock_service": served,
}


def _case(owner: str, name: str) -> tuple[str, Callable[[Any], Any]]:
    return name, lambda x: CALLS[owner](**{name: x})


def _cases(**names: str) -> dict[str, tuple[str, Callable[[Any], Any]]]:
    given = {owner.replace("__", "."): words.split() for owner, words in names.items()}
    return {f"{owner} {name}": _case(owner, name) for owner, each in given.items() for name in each}


WHOLE = _cases(
    StockCosts__price="quantity",
    StockService__order="on_hand on_order waiting",
    best_reorder="least_order box_of",
    shelf_age="base_stock quantity",
    stock_service="base_stock quantity order_up_to",
)
NUMBERS = _cases(
    best_emergency="needed_a_day per_transfer",
    dated_stock="hours_per_week planned_age_hours lead_time_days days_ahead service_target hours_spread "
    "shared_hours_spread",
    lead_demand="review_days variance_to_mean",
    poisson_shortcut="service_target",
    shelf_age="needed_a_day price",
    stock_costs="money_rate holding_a_year per_order dark_day dark_show",
)
OPTIONAL = _cases(
    best_order_up_to="hours_per_week show_hours",
    best_reorder="hours_per_week show_hours",
    shelf_age="shelf_life_days warranty_days",
    stock_service="hours_per_week show_hours",
)
# A number or a column, and a number or a dict: not single numbers.
OTHERS = {(name, "lead_time_days") for name in ("best_emergency", "lead_demand", "shelf_age")} | {
    ("stock_costs", "price")
}


def results() -> list[Any]:
    """One result of each class."""
    return [DEMAND, COSTS, SERVICE, reordered(), dated(), aged(), sent(), shortened(service_target=0.95)]
