"""Calls of costs, warranties and planned ages with one argument left open, for `test_arguments`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import relamp
from conftest import read_small_log

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


PARTS: dict[str, Any] = {
    "lamp": 780.0,
    "labour": 60.0,
    "visit": 120.0,
    "visit_share": 0.25,
    "dark_minute": 2.0,
    "dark": relamp.dark_minutes(45.0, burst=360.0, dim=90.0),
}
COST_PARTS = relamp.cost_parts(**PARTS)
DIAL = relamp.removal_dial(TALLY, suspects=["dim"], taus=[0.5], replicates=0)


def compared(**options: Any) -> relamp.AgeComparison:
    return relamp.compare_ages(DRAWS, LIMIT, **{"age_hours": 200.0, "other_age_hours": 300.0, **options})


def worth(**options: Any) -> relamp.Salvage:
    return relamp.salvage(**{"worth_of_new": 400.0, "gone_hours": 2000.0, **options})


def more_records(**options: Any) -> relamp.RecordsValue:
    return relamp.records_value(DRAWS, LIMIT, [100.0], **{"hours_per_week": 70.0, "days": 30.0, **options})


def aged(call: Callable[..., Any]) -> Callable[..., Any]:
    """A planned age of the world, or of its draws, with options."""
    model = DRAWS if call in (relamp.planned_age_interval, relamp.life_bars) else WORLD
    return lambda **options: call(model, LIMIT, **options)


def visited(call: Callable[..., Any], **options: Any) -> Any:
    """A rule of visits of the world with options."""
    return call(WORLD, LIMIT, **{"age_hours": 300.0, "mean_hours_between_visits": 100.0, "visit_cost": 1.0, **options})


def site_cost_of(**options: Any) -> relamp.SiteCosts:
    return relamp.site_costs(WORLD, LIMIT, **{"lamps": 3, "visit_cost": 1.0, "ages_hours": [500.0], **options})


def site_age_of(**options: Any) -> relamp.SiteAge:
    return relamp.site_age(WORLD, LIMIT, **{"lamps": 3, "visit_cost": 1.0, **options})


def visit_cost_of(**options: Any) -> relamp.VisitCost:
    return visited(relamp.visit_rule_cost, **{"visit_age_hours": 200.0, **options})


READING = read_small_log()


def replayed(**options: Any) -> relamp.ReplayedAge:
    return relamp.replay_age(READING, COSTS, LIMIT, **{"planned_age_hours": 800.0, **options})


def predicted(**options: Any) -> relamp.PredictionReplay:
    return relamp.replay_predictions(READING, **options)


REPLAYS: dict[str, Callable[..., Any]] = {"replay_age": replayed, "replay_predictions": predicted}


def replay_cases(**names: tuple[str, ...]) -> dict[str, tuple[str, Callable[[Any], Any]]]:
    """Arguments of the back-tests by name."""
    return {
        f"{owner} {name}": (name, lambda x, call=REPLAYS[owner], name=name: call(**{name: x}))
        for owner, given in names.items()
        for name in given
    }


def staged(**options: Any) -> relamp.LimitPlan:
    own = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet", limit_hours=2000.0, reason="a rule")
    return relamp.limit_stages(WORLD, own, **{"stage_hours": 300.0, "most_share": 0.05, **options})


AGES: dict[str, Callable[..., Any]] = {
    "planned_age": aged(relamp.planned_age),
    "planned_age_interval": aged(relamp.planned_age_interval),
    "capped_age": capped,
}


def scenarios(**options: Any) -> relamp.PriceScenarios:
    return relamp.price_scenarios(WORLD, LIMIT, **{"scenarios": {"as today": COSTS}, **options})


def to_horizon(**options: Any) -> relamp.HorizonAge:
    return relamp.horizon_age(WORLD, LIMIT, **{"horizon_hours": 900.0, **options})


DOUBTS: dict[str, Callable[..., Any]] = {
    "price_scenarios": scenarios,
    "horizon_age": to_horizon,
    "block_interval": aged(relamp.block_interval),
    "site_age": site_age_of,
    "best_visit_age": lambda **options: visited(relamp.best_visit_age, **options),
    "least_regret": aged(relamp.least_regret),
    "cost_bars": aged(relamp.cost_bars),
    "life_bars": aged(relamp.life_bars),
}


def costs_to_horizon(**options: Any) -> relamp.HorizonCosts:
    return relamp.horizon_costs(WORLD, LIMIT, **{"horizon_hours": 900.0, "ages_hours": [800.0], **options})


OVER_TIME: dict[str, Callable[..., Any]] = {"horizon_age": to_horizon, "horizon_costs": costs_to_horizon}

WHOLE: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **replay_cases(
        replay_age=("replicates", "seed"), replay_predictions=("window_days", "draws", "min_failures", "seed")
    ),
    "site_costs lamps": ("lamps", lambda x: site_cost_of(lamps=x)),
    "site_age lamps": ("lamps", lambda x: site_age_of(lamps=x)),
    "planned_age_interval seed": ("seed", lambda x: relamp.planned_age_interval(DRAWS, LIMIT, seed=x)),
    "limit_stages allowed": ("allowed", lambda x: staged(allowed=x)),
    **{f"records_value {name}": (name, lambda x, name=name: more_records(**{name: x})) for name in ("plays", "seed")},
    "compare_ages seed": ("seed", lambda x: compared(seed=x)),
    "CostParts.drawn seed": ("seed", lambda x: COST_PARTS.drawn(seed=x, replicate=0)),
    "CostParts.drawn replicate": ("replicate", lambda x: COST_PARTS.drawn(seed=1, replicate=x)),
}

NUMBERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **replay_cases(replay_age=("planned_age_hours", "level")),
    **{
        f"{owner} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for owner, call in AGES.items()
        for name in ("near_percent", "least_saving_percent")
    },
    "price_scenarios near_percent": ("near_percent", lambda x: scenarios(near_percent=x)),
    "RemovalDial.turn near_percent": ("near_percent", lambda x: DIAL.turn(COSTS, LIMIT, near_percent=x)),
    "life_bars level": ("level", lambda x: relamp.life_bars(DRAWS, LIMIT, level=x)),
    "planned_age_interval level": ("level", lambda x: relamp.planned_age_interval(DRAWS, LIMIT, level=x)),
    **{
        f"capped_age {name}": (name, lambda x, name=name: capped(**{name: x}))
        for name in ("show_hours", "level", "shape")
    },
    **{
        f"compare_ages {name}": (name, lambda x, name=name: compared(**{name: x}))
        for name in ("age_hours", "other_age_hours", "level")
    },
    "least_regret least_factor": ("least_factor", lambda x: relamp.least_regret(WORLD, LIMIT, least_factor=x)),
    "least_regret most_factor": ("most_factor", lambda x: relamp.least_regret(WORLD, LIMIT, most_factor=x)),
    **{
        f"limit_stages {name}": (name, lambda x, name=name: staged(**{name: x}))
        for name in ("stage_hours", "most_share", "level")
    },
    **{
        f"best_visit_age {name}": (name, lambda x, name=name: visited(relamp.best_visit_age, **{name: x}))
        for name in ("mean_hours_between_visits", "visit_cost")
    },
    **{
        f"visit_rule_cost {name}": (name, lambda x, name=name: visit_cost_of(**{name: x}))
        for name in ("visit_age_hours", "age_hours", "mean_hours_between_visits", "visit_cost")
    },
    "site_costs visit_cost": ("visit_cost", lambda x: site_cost_of(visit_cost=x)),
    "site_age visit_cost": ("visit_cost", lambda x: site_age_of(visit_cost=x)),
    "cost_bars factor": ("factor", lambda x: relamp.cost_bars(WORLD, LIMIT, factor=x)),
    "dark_minutes planned": ("planned", relamp.dark_minutes),
    "dark_minutes burst": ("burst", lambda x: relamp.dark_minutes(1.0, burst=x)),
    **{
        f"{owner} {name}": (name, lambda x, call=call, name=name: call(**{name: x}))
        for owner, call in OVER_TIME.items()
        for name in ("horizon_hours", "first_age_hours")
    },
    **{f"salvage {name}": (name, lambda x, name=name: worth(**{name: x})) for name in ("worth_of_new", "gone_hours")},
    **{
        f"records_value {name}": (name, lambda x, name=name: more_records(**{name: x}))
        for name in ("days", "hours_per_week")
    },
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
    **{
        f"{owner} oldest_at_risk_hours": ("oldest_at_risk_hours", lambda x, call=call: call(oldest_at_risk_hours=x))
        for owner, call in DOUBTS.items()
    },
    "limit_stages oldest_at_risk_hours": ("oldest_at_risk_hours", lambda x: staged(oldest_at_risk_hours=x)),
    "capped_age most_before_age": ("most_before_age", lambda x: capped(most_in_show=0.5, most_before_age=x)),
    "capped_age most_in_show": ("most_in_show", lambda x: capped(most_in_show=x)),
    "RemovalDial.turn oldest_at_risk_hours": (
        "oldest_at_risk_hours",
        lambda x: DIAL.turn(COSTS, LIMIT, oldest_at_risk_hours=x),
    ),
    "discount rate_per_hour": ("rate_per_hour", lambda x: relamp.discount(rate_per_hour=x)),
    "discount rate_per_year": (
        "rate_per_year",
        lambda x: relamp.discount(rate_per_year=x, hours_per_year=4000.0),
    ),
    "discount hours_per_year": (
        "hours_per_year",
        lambda x: relamp.discount(rate_per_year=0.05, hours_per_year=x),
    ),
    "block_costs block_cost": (
        "block_cost",
        lambda x: relamp.block_costs(WORLD, LIMIT, every_hours=[500.0], block_cost=x),
    ),
    "best_visit_age age_hours": ("age_hours", lambda x: visited(relamp.best_visit_age, age_hours=x)),
    "block_interval block_cost": ("block_cost", lambda x: relamp.block_interval(WORLD, LIMIT, block_cost=x)),
    "warranty hours": ("hours", lambda x: full(hours=x)),
    "salvage least_hours_left": ("least_hours_left", lambda x: worth(least_hours_left=x)),
    **{
        f"records_value {name}": (name, lambda x, name=name: more_records(**{name: x}))
        for name in ("rule_hours", "todays_rule_hours", "oldest_at_risk_hours")
    },
}

TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **replay_cases(replay_predictions=("family",)),
    "limit_stages cause": ("cause", lambda x: staged(cause=x)),
    "capped_age cause": ("cause", lambda x: capped(cause=x)),
    "warranty form": ("form", lambda x: full(form=x)),
}

OPTIONAL_TEXTS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    f"{owner} extrapolate_because": (
        "extrapolate_because",
        lambda x, call=call: call(extrapolate_because=x),
    )
    for owner, call in (AGES | DOUBTS).items()
} | {"curve_world reading": ("reading", lambda x: relamp.curve_world(TALLY, COSTS, reading=x))}
OPTIONAL_TEXTS["RemovalDial.turn extrapolate_because"] = (
    "extrapolate_because",
    lambda x: DIAL.turn(COSTS, LIMIT, extrapolate_because=x),
)
OPTIONAL_TEXTS["records_value extrapolate_because"] = (
    "extrapolate_because",
    lambda x: more_records(extrapolate_because=x),
)
OPTIONAL_TEXTS |= replay_cases(replay_age=("lamp_class", "since"), replay_predictions=("lamp_class",))

ENDINGS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    **replay_cases(replay_age=("failure_endings",), replay_predictions=("failure_endings",)),
    "warranty endings": ("endings", lambda x: full(endings=x)),
    "curve_world failures": ("failures", lambda x: relamp.curve_world(TALLY, COSTS, failures=x)),
}
