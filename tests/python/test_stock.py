"""Stock rules against scipy, what is refused, and what their plots say."""

from __future__ import annotations

import math
from typing import Any

import arguments_stock as stock
import numpy as np
import pytest
import relamp
from relamp import plots_stock
from scipy import stats


@pytest.mark.parametrize(("mean", "base", "quantity"), [(4.0, 6, 1), (1.7, 3, 4), (12.0, 9, 5), (0.2, 0, 2)])
def test_a_reorder_rule_gives_the_sums_of_scipy(mean: float, base: int, quantity: int) -> None:
    service = relamp.stock_service(
        relamp.lead_demand(mean / 25.0, lead_time_days=25.0), base_stock=base, quantity=quantity
    )  # fmt: skip
    k, places = np.arange(300), np.arange(base, base + quantity)
    law = stats.poisson(mean).pmf(k)
    short = [np.sum(np.maximum(k - y, 0) * law) for y in places]
    assert service.mean_waiting == pytest.approx(np.mean(short), rel=1e-11)
    assert service.mean_on_hand == pytest.approx(np.mean(places) - mean + np.mean(short), rel=1e-11)
    assert service.fill_rate == pytest.approx(np.mean(stats.poisson(mean).cdf(places - 1)), rel=1e-11)
    assert service.no_screen_waiting == pytest.approx(np.mean(stats.poisson(mean).cdf(places)), rel=1e-11)
    assert service.no_stock_out_per_cycle == pytest.approx(stats.poisson(mean).cdf(base - 1), rel=1e-11)
    assert service.order_point == base - 1


def test_each_number_of_service_says_what_it_is() -> None:
    watched = relamp.stock_service(relamp.lead_demand(0.2, lead_time_days=20.0), base_stock=6)
    reviewed = relamp.stock_service(relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0), base_stock=6)
    apart = relamp.place_service(
        relamp.places(["north"], [0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0),
        depot_stock=1, stock={"north": 1},
    )  # fmt: skip
    for service in (watched, reviewed, apart):
        columns = set(service.frame().columns) | set(dir(service))
        for name, text in service.definitions.items():
            assert name in columns
            assert f"{name}: {text}" in service.summary()
    assert watched.definitions["fill_rate"].startswith("P(X <= y - 1)")
    assert watched.definitions["no_stock_out_per_cycle"].startswith("P(X <= order point)")
    # With reviews neither is that.
    assert reviewed.definitions["fill_rate"].startswith("1 - (mean waiting added")
    assert reviewed.definitions["no_stock_out_per_cycle"].startswith("P(X <= y)")
    assert apart.definitions["fill_rate"].startswith("P(on way <= stock - 1)")


def test_numbers_of_service_with_reviews_are_those_that_are_told() -> None:
    """Each by its own definition, with what is needed over a stretch of days from scipy."""
    lead, review, a_day, level = 20.0, 30.0, 0.2, 9
    service = relamp.stock_service(relamp.lead_demand(a_day, lead_time_days=lead, review_days=review), base_stock=level)
    k = np.arange(120)
    # Even from none to all of the review period: by the middles of 4,000 even parts of it.
    days = lead + review * (np.arange(4000) + 0.5) / 4000
    over = stats.poisson.pmf(k[:, None], a_day * days[None, :]).mean(axis=1)

    def waiting(days: float) -> float:
        return float(np.sum(np.maximum(k - level, 0) * stats.poisson.pmf(k, a_day * days)))

    told = {
        "no_stock_out_per_cycle": stats.poisson.cdf(level, a_day * (lead + review)),
        "no_screen_waiting": over[: level + 1].sum(),
        "ready_rate": over[:level].sum(),
        "fill_rate": 1.0 - (waiting(lead + review) - waiting(lead)) / (a_day * review),
        "mean_waiting": np.sum(np.maximum(k - level, 0) * over),
        "mean_on_hand": np.sum(np.maximum(level - k, 0) * over),
        "mean_wait_days": np.sum(np.maximum(k - level, 0) * over) / a_day,
    }
    for name, value in told.items():
        assert name in service.definitions
        assert getattr(service, name) == pytest.approx(value, rel=1e-6), name
    # Over the lead time alone, as without reviews, it would be another number.
    assert service.no_stock_out_per_cycle < stats.poisson.cdf(level, a_day * lead) - 0.3


def test_batches_and_several_lead_times_are_those_of_scipy() -> None:
    demand = relamp.lead_demand(0.3, lead_time_days=[10.0, 30.0], weights=[7, 3], variance_to_mean=2.5)
    k = np.arange(400)
    law = 0.7 * stats.nbinom(3.0 / 1.5, 0.4).pmf(k) + 0.3 * stats.nbinom(9.0 / 1.5, 0.4).pmf(k)
    assert demand.lead.at_most(7) == pytest.approx(law[:8].sum(), rel=1e-11)
    service = relamp.stock_service(demand, base_stock=9)
    assert service.mean_waiting == pytest.approx(np.sum(np.maximum(k - 9, 0) * law), rel=1e-9)


def test_what_cannot_be_is_refused_by_its_name() -> None:
    cases: list[tuple[Any, str]] = [
        (lambda: relamp.lead_demand(0.2, lead_time_days=[]), "lead_time"),
        (lambda: relamp.lead_demand(0.2, lead_time_days=-1.0), "lead_time"),
        (lambda: relamp.lead_demand(0.2, lead_time_days=None), "lead_time_days"),
        (lambda: relamp.lead_demand(0.2, lead_time_days=[1.0, 2.0], weights=[1.0]), "weights"),
        (lambda: relamp.lead_demand(-0.2, lead_time_days=3.0), "needs"),
        (lambda: relamp.lead_demand("many", lead_time_days=3.0), "needed"),
        (lambda: relamp.lead_demand(relamp.Count.poisson(2.0), lead_time_days=3.0, review_days=7.0), "review_days"),
        (lambda: relamp.stock_costs({}), "costs"),
        (lambda: relamp.stock_costs({1: 800.0, 12: float("nan")}), "price"),
        (lambda: relamp.stock_costs({12: 760.0, 1: 800.0}), "costs"),
        (lambda: relamp.stock_costs({1: 800.0, -2: 700.0}), "from_lamps"),
        (lambda: relamp.stock_costs(800.0, per_order=-1.0), "costs"),
        (lambda: stock.reordered(box_of=0), "terms"),
        (lambda: stock.served(quantity=0), "rule"),
        (lambda: stock.served(quantity=2, order_up_to=9), "quantity"),
        (lambda: relamp.stock_service(stock.DEMAND, base_stock=3, order_up_to=9), "rule"),
        (lambda: relamp.stock_service(stock.DEMAND, base_stock=3, show_hours=2.0), "hours_per_week"),
        (lambda: relamp.best_reorder(stock.DEMAND, relamp.stock_costs(800.0)), "costs"),
    ]
    for call, name in cases:
        with pytest.raises(relamp.InputError) as caught:
            call()
        assert caught.value.problems[0].input == name, str(caught.value)


def test_a_rule_is_said_in_plain_words() -> None:
    def said(call: Any, a_day: float, lead: float, review: float = 0.0, **costs: float) -> str:
        demand = relamp.lead_demand(a_day, lead_time_days=lead, review_days=review)
        plan = call(demand, relamp.stock_costs(800.0, money_rate=0.1, **costs))
        return str(plan.sentence)

    assert said(relamp.best_reorder, 0.2, 20.0, dark_day=2.0) == (
        "hold 7 lamps on hand and on order; order each lamp when it is used"
    )
    assert said(relamp.best_reorder, 0.0, 20.0) == "hold nothing; order 1 lamp when a screen waits"
    assert said(relamp.best_reorder, 0.2, 20.0, dark_day=20.0, per_order=900.0) == stock_words(
        relamp.best_reorder(stock.DEMAND, relamp.stock_costs(800.0, money_rate=0.1, dark_day=20.0, per_order=900.0))
    )
    assert said(relamp.best_order_up_to, 0.2, 20.0, 7.0, dark_day=20.0).startswith("at each review that finds ")
    assert said(relamp.best_order_up_to, 0.0, 20.0, 7.0) == "hold nothing, and need nothing"


def stock_words(plan: relamp.StockPlan) -> str:
    """The words of an order point above 0 with a quantity above 1."""
    row = plan.to_dict()["best"]["service"]["rule"]
    assert row["quantity"] > 1
    assert row["base_stock"] > 1
    left = row["base_stock"] - 1
    return f"order {row['quantity']} lamps when those on hand and on order have come down to {left}"


def test_the_plan_draws_its_cost_with_the_least_marked() -> None:
    plan = stock.reordered()
    axes = plots_stock.cost(plan, currency="EUR")
    best = next(row for row in plan.frame().to_dicts() if row["base_stock"] == plan.service.order_point + 1)
    running = best["holding"] + best["ordering"] + best["shortage"]
    assert running == pytest.approx(plan.total - best["purchase"])
    dot = axes.get_lines()[-1]
    assert list(dot.get_xydata()[0]) == [best["base_stock"], pytest.approx(running)]
    low, high = axes.get_ylim()
    assert low == 0.0
    assert high > running
    assert f"least, {best['base_stock']} lamps" in axes.get_legend_handles_labels()[1][-1]
    assert "order up to" in plots_stock.cost(stock.levelled()).get_xlabel()


def test_the_trade_off_marks_the_least_and_todays_stock() -> None:
    plan = stock.reordered()
    axes = plots_stock.trade_off(plan, todays_base_stock=4)
    rows = {row["base_stock"]: row for row in plan.frame().to_dicts()}
    ring = axes.get_lines()[-1]
    assert list(ring.get_xydata()[0]) == [rows[4]["stock_money"], rows[4]["dark_shows_a_year"]]
    assert axes.get_title(loc="left") == "Lost shows a year by stock money"
    with pytest.raises(ValueError, match="todays_base_stock must stand in the table of the plan, got 9999"):
        plots_stock.trade_off(plan, todays_base_stock=9999)
    without = plots_stock.trade_off(relamp.best_reorder(stock.DEMAND, stock.COSTS))
    assert without.get_title(loc="left") == "Days that screens wait a year by stock money"
    # A stock of today far from the least: the line is not drawn over what is left out between, and a note says so.
    assert not any("broken" in text.get_text() for text in axes.texts)
    months = relamp.best_reorder(relamp.lead_demand(5.0, lead_time_days=60.0), stock.COSTS)
    far = plots_stock.trade_off(months, todays_base_stock=months.frame()["base_stock"].min())
    drawn = far.get_lines()[0].get_xydata()
    assert sum(math.isnan(x) for x, _ in drawn) == 1
    assert sum("line broken" in text.get_text() for text in far.texts) == 1
    # Nothing needed, nothing held.
    none = relamp.best_reorder(relamp.lead_demand(0.0, lead_time_days=9.0), stock.COSTS)
    assert plots_stock.cost(none).get_title(loc="left").startswith("Cost a year")
    assert plots_stock.trade_off(none).get_title(loc="left").startswith("Days that")
