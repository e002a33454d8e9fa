"""A chain played out with its stock: it meets the calls that give the formulas, and says what it was given wrong."""

from __future__ import annotations

from typing import Any

import conftest
import pytest
import relamp

LIMIT = relamp.hour_limit(maximum_hours=1e7, source="invented data sheet")
BY_CHANCE = relamp.world({"burst": relamp.life("exponential", scale=2000.0)}, relamp.costs(950.0, burst=5200.0))
CHAIN: dict[str, Any] = {
    "site": ["north"] * 40,
    "age_hours": [0.0] * 40,
    "hours_per_week": 70.0,
    "as_of": "2026-01-01",
    "limit": LIMIT,
    "planned_age_hours": 1e7,
    "on_hand": 6,
    "base_stock": 6,
    "lead_time_days": 20.0,
    "seed": 5,
    "months": 24,
    "while_dark": "clock_runs",
    "replicates": 200,
    "warm_up_days": 120.0,
}


def test_a_base_stock_gives_what_the_formula_says() -> None:
    played = relamp.play_chain(BY_CHANCE, **CHAIN)
    demand = relamp.lead_demand(0.2, lead_time_days=20.0)
    found = relamp.stock_service(demand, base_stock=6, hours_per_week=70.0, show_hours=2.5)
    store = played.places().frame().row(0, named=True)
    for name in ("fill_rate", "ready_rate", "no_screen_waiting", "mean_waiting", "mean_on_hand", "mean_wait_days"):
        assert abs(store[name] - getattr(found, name)) < 4.5 * store[f"{name}_error"], name
    dark = 2.5 * found.dark_shows_a_year
    assert abs(store["dark_hours_a_year"] - dark) < 4.5 * store["dark_hours_a_year_error"]
    assert played.no_stock_out_per_cycle == pytest.approx(found.no_stock_out_per_cycle, abs=0.03)
    assert played.orders_a_year == pytest.approx(found.orders_a_year, rel=0.03)


def test_months_are_those_of_the_chain_forecast() -> None:
    world = relamp.world({"burst": relamp.life("weibull", shape=2.2, scale=1300.0)}, relamp.costs(950.0, burst=5200.0))
    limit = relamp.hour_limit(maximum_hours=1200.0, source="invented data sheet")
    lamps: dict[str, Any] = {
        "site": ["north"] * 6,
        "age_hours": [0.0, 150.0, 300.0, None, 700.0, 950.0],
        "hours_per_week": 70.0,
        "as_of": "2026-01-01",
        "months": 6,
        "programme": ["summer", None] * 3,
        "programmes": {"summer": {"by_month": [1.0] * 5 + [0.3] + [1.0] * 6, "growth_per_year": 0.1}},
        "stop": [None, "2026-04-01", None, ("2026-03-01", "2026-05-10"), None, None],
    }
    found = relamp.chain_forecast({"X": (world, 1000.0, limit)}, lamp_class=["X"] * 6, **lamps)
    supply: dict[str, Any] = {"on_hand": 0, "lead_time_days": 20.0, "seed": 2, "replicates": 3000}
    played = relamp.play_chain(
        world, limit=limit, planned_age_hours=1000.0, while_dark="clock_runs", **supply, **lamps
    ).frame()
    for month, row in enumerate(played.iter_rows(named=True), start=1):
        assert abs(row["needed"] - found.count("X", month=month).mean) < 4.5 * row["needed_error"] + 1e-6


def test_plays_over_draws_are_those_of_the_chain_forecast_over_the_same() -> None:
    many = relamp.lives([300.0 + 35.0 * i for i in range(30)], ending=["burst"] * 30)
    draws = relamp.fit_causes(many).draws(many, relamp.costs(950.0, burst=5200.0), n=40, seed=1)
    limit = relamp.hour_limit(maximum_hours=1200.0, source="invented data sheet")
    lamps: dict[str, Any] = {
        "site": ["north"] * 6, "age_hours": [0.0, 150.0, 300.0, None, 700.0, 950.0], "hours_per_week": 70.0,
        "as_of": "2026-01-01", "months": 6,
    }  # fmt: skip
    supply: dict[str, Any] = {"on_hand": 0, "lead_time_days": 20.0, "seed": 2, "while_dark": "clock_runs"}
    found = relamp.chain_forecast({"X": (draws, 1000.0, limit)}, lamp_class=["X"] * 6, **lamps)
    played = relamp.play_chain(draws, limit=limit, planned_age_hours=1000.0, replicates=4000, **supply, **lamps)
    assert played.draws == 40
    for month, row in enumerate(played.frame().iter_rows(named=True), start=1):
        assert abs(row["needed"] - found.count("X", month=month).mean) < 4.5 * row["needed_error"] + 1e-6
    whole = found.count("X")
    assert played.needed_by_end(6).sd == pytest.approx(whole.sd, rel=0.06)
    best = relamp.play_chain(
        relamp.world({"burst": relamp.life("exponential", scale=2000.0)}, relamp.costs(950.0, burst=5200.0)),
        limit=limit, planned_age_hours=1000.0, replicates=3, **supply, **lamps,
    )  # fmt: skip
    assert best.draws is None


def test_lamps_from_elsewhere_shelves_and_costs() -> None:
    played = relamp.play_chain(
        BY_CHANCE,
        **{**CHAIN, "on_hand": 2, "base_stock": 2, "emergency_days": 0.5, "emergency_cost": 250.0},
        costs=relamp.stock_costs(800.0, holding_a_year=100.0, per_order=45.0),
    )
    store = played.places().frame().row(0, named=True)
    costs = dict(played.costs().frame().select("part", "a_year").iter_rows())
    assert costs["emergencies"] == pytest.approx(250.0 * store["emergencies_a_year"])
    assert costs["holding"] == pytest.approx(100.0 * store["mean_on_hand"])
    assert costs["total"] == pytest.approx(sum(v for k, v in costs.items() if k != "total"))
    # The loss formula by hand: four lamps needed over a lead time, two on the shelf: (16 / 2) / (1 + 4 + 16 / 2).
    assert abs(store["fill_rate"] - (1.0 - 8.0 / 13.0)) < 4.5 * store["fill_rate_error"]
    apart = conftest.small_chain_play(site_days=2.0, site_stock={"south": 1})
    assert apart.places().frame()["place"].to_list() == ["", "<script>", "south"]
    assert conftest.small_chain_play(costs=None).costs().frame().is_empty()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"base_stock": None, "order_up_to": 4}, "order_up_to"),
        ({"order_up_to": 4, "quantity": 2, "review_days": 7.0}, "quantity"),
        ({"site_stock": {"south": 1}}, "site_days"),
        ({"site_days": 1.0, "site_stock": {"nowhere": 1}}, "nowhere"),
        ({"while_dark": "sleeps"}, "clock_stops"),
        ({"order_up_to": 4}, "review_days"),
        ({"stop": [None]}, "stop"),
        ({"warm_up_days": 400.0}, "warm_up_days"),
        ({"programme": ["a", "b"]}, "programme"),
    ],
)
def test_what_does_not_go_together_is_refused_by_name(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(relamp.RelampError, match=says):
        conftest.small_chain_play(**wrong)
