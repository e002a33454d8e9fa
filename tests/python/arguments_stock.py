"""Calls of stock rules with one argument left open, for `test_arguments`, and one result of each, for `conftest`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import relamp

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


WEEKS = relamp.forecast(
    WORLD, [300.0, 1800.0], hours_per_week=70.0, planned_age_hours=2000.0, limit=LIMIT, periods=6, period_days=7.0
)  # fmt: skip


def bought(**options: Any) -> relamp.PurchaseList:
    given: dict[str, Any] = {"lead_time_days": 14, "service_target": 0.95, "price": 780.0, **options}
    return relamp.purchase_list(WEEKS, relamp.Count.poisson(0.5), **given)


CALLS: dict[str, Callable[..., Any]] = {
    "StockCosts.price": COSTS.price,
    "DatedStock.order": lambda **given: dated().order(**{"on_hand": 1, **given}),
    "DatedStock.too_late": lambda **given: dated().too_late(**{"on_hand": 1, **given}),
    "StockService.order": ordered,
    "best_emergency": sent,
    "best_order_up_to": levelled,
    "best_reorder": reordered,
    "dated_stock": dated,
    "lead_demand": leading,
    "poisson_shortcut": shortened,
    "purchase_list": bought,
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
    DatedStock__order="on_hand on_order",
    DatedStock__too_late="on_hand on_order",
    StockService__order="on_hand on_order waiting",
    best_reorder="least_order box_of",
    purchase_list="lead_time_days on_hand on_order box_lamps minimum_order_lamps",
    shelf_age="base_stock quantity",
    stock_service="base_stock quantity order_up_to",
)
NUMBERS = _cases(
    best_emergency="needed_a_day per_transfer",
    dated_stock="hours_per_week planned_age_hours lead_time_days days_ahead service_target hours_spread "
    "shared_hours_spread",
    lead_demand="review_days variance_to_mean",
    poisson_shortcut="service_target",
    purchase_list="service_target price",
    shelf_age="needed_a_day price",
    stock_costs="money_rate holding_a_year per_order dark_day dark_show",
)
TEXTS = _cases(lead_demand="judged_at")
OPTIONAL = _cases(
    best_order_up_to="hours_per_week show_hours",
    best_reorder="hours_per_week show_hours",
    shelf_age="shelf_life_days warranty_days",
    stock_service="hours_per_week show_hours",
)
# A number or a column, and a number or a dict: not single numbers.
OTHERS = {(name, "lead_time_days") for name in ("best_emergency", "lead_demand", "shelf_age", "stock_count")} | {
    ("claim_list", "lamps"),
    ("places", "variance_to_mean"),
    ("stock_costs", "price"),
}


def results() -> list[Any]:
    """One result of each class."""
    return [DEMAND, COSTS, SERVICE, reordered(), dated(), aged(), sent(), shortened(service_target=0.95), bought()]
