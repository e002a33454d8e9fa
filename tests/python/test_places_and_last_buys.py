"""Last buys and spares at several places against scipy, by hand, and at the border."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
import relamp
from relamp import plots_buy
from scipy import stats

LIMIT = relamp.hour_limit(maximum_hours=1e6, source="invented data sheet")
EVEN = relamp.world({"burst": relamp.life("exponential", scale=500.0)}, relamp.costs(950.0, burst=5200.0))
BUY: dict[str, Any] = {"hours_per_week": 70.0, "planned_age_hours": 1e6, "limit": LIMIT, "end_days": 400.0}
STORES = relamp.places(["north", "south"], [0.05, 0.08], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)


def test_lives_without_memory_need_a_mixture_of_poisson_counts() -> None:
    dates = [(100.0, 0.25), (300.0, 0.5), (400.0, 0.25)]
    buy = relamp.last_buy(EVEN, [0.0, 50.0], **BUY, convert_days=[dates[:2], 200.0], risk=0.05)
    # Two screens: one mixed over its dates, one for 200 days; 10 h a day on lives of 500 h on average.
    one = sum(p * stats.poisson.pmf(np.arange(90), day / 50.0) for day, p in dates)
    both = np.convolve(one, stats.poisson.pmf(np.arange(90), 4.0))[:90]
    got = np.zeros(90)
    got[buy.needed.first : buy.needed.first + len(buy.needed.probabilities)] = buy.needed.probabilities
    assert np.abs(got - both).max() < 2e-4
    assert buy.quantity == int(np.argmax(np.cumsum(both) >= 0.95))
    assert buy.needed == buy.needed_plain


def test_two_levels_agree_with_sums_in_scipy() -> None:
    served = relamp.place_service(STORES, depot_stock=2, stock={"north": 1, "south": 2}).frame()
    numbers = np.arange(80)
    to_depot = stats.poisson.pmf(numbers, 0.13 * 20.0)
    for row, (needed, stock) in zip(served.iter_rows(named=True), [(0.05, 1), (0.08, 2)], strict=True):
        waits = sum(p * stats.binom.pmf(numbers, max(n - 2, 0), needed / 0.13) for n, p in enumerate(to_depot))
        on_way = np.convolve(waits, stats.poisson.pmf(numbers, needed * 2.0))[:80]
        waiting = float(np.clip(numbers - stock, 0, None) @ on_way)
        assert row["screens_waiting"] == pytest.approx(waiting, rel=1e-9)
        assert row["fill_rate"] == pytest.approx(float(on_way[:stock].sum()), rel=1e-9)
        assert row["dark_hours_per_year"] == pytest.approx(waiting * 3652.5, rel=1e-9)


def test_scenarios_stand_side_by_side_and_an_earlier_conversion_is_worth_something() -> None:
    money: dict[str, Any] = {"price": 900.0, "cost_short": 2500.0, "money_back": 200.0}
    days = [350.0, 350.0, None]
    now = relamp.last_buy(EVEN, [0.0] * 3, **BUY, convert_days=days, **money)
    moved = relamp.convert_earlier(days, {0: 100.0, 1: 100.0})
    assert moved == [[(100.0, 1.0)], [(100.0, 1.0)], []]
    earlier = relamp.last_buy(EVEN, [0.0] * 3, **BUY, convert_days=moved, **money)
    saved = now.saved_by(earlier, screens=2)
    assert saved["mean_saved"] == pytest.approx(2 * 250.0 / 50.0, rel=1e-3)
    assert now.cost is not None
    assert earlier.cost is not None
    assert saved["worth_per_screen"] == pytest.approx((now.cost - earlier.cost) / 2)
    table = relamp.compare_last_buys({"as planned": now, "two earlier": earlier}).frame()
    assert table["lamps_saved"].to_list() == [0.0, saved["lamps_saved"]]
    assert now.ratio == pytest.approx(1600.0 / 2300.0)
    best = now.frame().sort("cost")["lamps"][0]
    assert best == now.quantity


def test_freed_lamps_save_new_ones() -> None:
    given = {**BUY, "convert_days": [100.0, None], "risk": 0.1}
    plain = relamp.last_buy(EVEN, [0.0, 0.0], **given)
    reused = relamp.last_buy(EVEN, [0.0, 0.0], **given, least_hours_left=0.0)
    # The other screen fails at least once in 300 days with chance 1 - exp(-6).
    assert plain.needed.mean - reused.needed.mean == pytest.approx(1.0 - np.exp(-6.0), abs=0.2)
    assert reused.to_dict()["played"]["freed"] == 1.0


@pytest.mark.parametrize(
    ("options", "slug"),
    [
        ({"convert_days": [-1.0, None], "risk": 0.1}, "stock.conversion_day"),
        ({"convert_days": [[(10.0, 1.5)], None], "risk": 0.1}, "stock.conversion_chance"),
        ({"convert_days": [10.0], "risk": 0.1}, "python.length"),
        ({"convert_days": ["soon", None], "risk": 0.1}, "python.type"),
        ({"convert_days": 10.0, "risk": 0.1}, "python.type"),
        ({"risk": 1.0}, "stock.risk"),
        ({}, "python.buy_rule"),
        ({"risk": 0.1, "price": 9.0}, "python.buy_rule"),
        ({"price": 9.0, "cost_short": 9.0, "money_back": 1.0}, "stock.buy_costs"),
        ({"risk": 0.1, "slip": [(10.0, 0.5)]}, "stock.conversion_chances"),
        ({"risk": 0.1, "shelf_loss_per_year": 1.0}, "stock.shelf_loss"),
    ],
)
def test_a_last_buy_that_cannot_be_is_refused_by_name(options: dict[str, Any], slug: str) -> None:
    with pytest.raises(relamp.InputError) as told:
        relamp.last_buy(EVEN, [0.0, 0.0], **BUY, **options)
    assert told.value.slug == slug


def test_places_that_cannot_be_are_refused_by_name() -> None:
    with pytest.raises(relamp.InputError, match=r"west.*stock\.unknown_site"):
        relamp.place_service(STORES, depot_stock=1, stock={"west": 1})
    with pytest.raises(relamp.InputError, match="stock"):
        relamp.place_service(STORES, depot_stock=1, stock={"north": -1})
    with pytest.raises(relamp.InputError, match=r"maker_days.*stock\.lead_time_needed"):
        relamp.places(["north"], [0.1], depot_days=1.0, hours_per_day=9.0)
    with pytest.raises(relamp.InputError, match=r"local_share.*stock\.site"):
        relamp.places(["a"], [0.1], maker_days=9.0, depot_days=1.0, hours_per_day=9.0, local_share=1.5, local_days=1.0)
    with pytest.raises(relamp.InputError, match=r"python\.length"):
        relamp.places(["a", "b"], [0.1], maker_days=9.0, depot_days=1.0, hours_per_day=9.0)
    wide = relamp.places(["a"], [0.1], maker_days=9.0, depot_days=1.0, hours_per_day=9.0, variance_to_mean=3.0)
    with pytest.raises(relamp.RefusedError, match=r"stock\.variance_to_mean"):
        relamp.place_service(wide, depot_stock=1, stock={"a": 1})
    with pytest.raises(relamp.InputError, match=r"python\.method"):
        relamp.place_service(STORES, depot_stock=1, stock={}, method="guess")
    with pytest.raises(relamp.InputError, match=r"python\.measure"):
        relamp.class_curve(STORES, lamp="x", unit_cost=1.0, most_lamps=2, measure="guess")
    with pytest.raises(relamp.InputError, match=r"python\.goal"):
        relamp.best_mix([relamp.class_curve(STORES, lamp="x", unit_cost=1.0, most_lamps=2)])


def test_a_last_buy_is_drawn_with_its_quantity() -> None:
    buy = relamp.last_buy(EVEN, [0.0] * 3, **BUY, risk=0.05)
    axes = plots_buy.last_buy(buy)
    assert axes.get_title(loc="left") == f"Last buy: buy {buy.buy} lamps, for 400 days"
    lines = {str(line.get_label()): line for line in axes.get_lines()}
    short, left = lines["short"], lines["left over"]
    at = np.asarray(short.get_xdata()).tolist().index(buy.quantity)
    assert np.asarray(short.get_ydata())[at] == pytest.approx(buy.expected_short)
    assert np.asarray(left.get_ydata())[at] == pytest.approx(buy.expected_left)
    assert any(re.search(r"hold \d+ lamps: short with chance 0\.0\d\d", t.get_text()) for t in axes.texts)
    # Nothing needed, and plenty on hand, are drawn too.
    plots_buy.last_buy(relamp.last_buy(EVEN, [], **BUY, risk=0.05))
    plots_buy.last_buy(relamp.last_buy(EVEN, [0.0], **BUY, risk=0.05, on_hand=500))


def test_places_are_drawn_with_depot_and_sites() -> None:
    curve = relamp.class_curve(STORES, lamp="2 kW", unit_cost=700.0, most_lamps=12, measure="dark_hours")
    axes = plots_buy.places(curve)
    table = curve.frame()
    sites, depot = axes.containers
    drawn = [(bar.get_height(), top.get_height()) for bar, top in zip(sites, depot, strict=True)]
    expected = zip(table["at_sites"], table["depot"], strict=True)
    assert all(a == b for a, b in zip(drawn, expected, strict=False))
    (right,) = (a for a in axes.figure.axes if a is not axes)
    assert np.asarray(right.get_lines()[0].get_ydata())[0] == pytest.approx(table["shortfall"][0])
