"""From a season to a purchase list: forecasts, last buys and orders on the calendar, against scipy and by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import relamp
from scipy import stats

EVEN = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
LIMIT = relamp.hour_limit(maximum_hours=1e9, source="invented data sheet")
LAMPS: dict[str, Any] = {"hours_per_week": 7.0, "planned_age_hours": 1e9, "limit": LIMIT}
# Half the hours in February, none in the first week of March, 20 % more on every day of a year later.
YEAR = {"by_month": [1.0, 0.5] + [1.0] * 10, "spans": [("2026-03-01", "2026-03-07", 0.0)]}
DATES: dict[str, Any] = {"as_of": "2026-02-01", "programme": ["year"] * 100, "programmes": {"year": YEAR}}


def hours_by(day: int) -> float:
    """Hours a screen of an hour a day burns from 1 February 2026 to the end of a day."""
    return 0.5 * min(day, 28) + max(day - 35, 0)


def test_lives_without_memory_need_poisson_numbers_by_the_hours_of_the_calendar() -> None:
    weeks = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, periods=10, period_days=7.0, **DATES)
    for week in range(1, 11):
        count = weeks.needed_by_end(week)
        mean = 100 * hours_by(7 * week) / 1000.0
        assert count.mean == pytest.approx(mean, abs=1e-3)
        for lamps in range(12):
            assert count.at_most(lamps) == pytest.approx(stats.poisson.cdf(lamps, mean), abs=1e-3)
    # The first week of March is shut.
    assert weeks.needed(5).mean < 1e-9


def test_orders_follow_the_season() -> None:
    days = {"periods": 70, "period_days": 1.0}
    by_day = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, **days, **DATES)
    lead = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, periods=1, period_days=21.0, **DATES).needed(1)
    terms: dict[str, Any] = {"lead_time_days": 21, "service_target": 0.9, "price": 100.0}
    plan = relamp.purchase_list(by_day, lead, **terms)
    level = {d: int(stats.poisson.ppf(0.9, 100 * hours_by(d) / 1000.0)) for d in range(1, 71)}
    assert plan.order_now == level[21]
    assert [r["level_by_end"] for r in plan.frame().to_dicts()] == list(level.values())
    assert plan.order_lamps == level[70]
    # No order is needed for the days that are shut.
    orders = plan.frame().filter(plan.frame()["order_lamps"].is_not_null()).to_dicts()
    assert not [r for r in orders if 28 < r["to_day"] <= 35]
    even = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, **days)
    assert relamp.purchase_list(even, lead, **terms).order_lamps > plan.order_lamps


def test_a_chain_forecast_is_no_input_of_a_purchase_list_and_the_call_that_is_is_named() -> None:
    lead = relamp.forecast(EVEN, [0.0] * 3, **LAMPS, periods=1, period_days=21.0).needed(1)
    chain = relamp.chain_forecast(
        {"X": (EVEN, 1e9, LIMIT)}, lamp_class=["X"] * 3, site=["north"] * 3, age_hours=[0.0] * 3, hours_per_week=7.0,
        as_of="2026-02-01", months=3,
    )  # fmt: skip
    terms: dict[str, Any] = {"lead_time_days": 21, "service_target": 0.9, "price": 100.0}
    with pytest.raises(relamp.InputError, match="give forecast the rows of these screens with the same as_of"):
        relamp.purchase_list(chain, lead, **terms)
    with pytest.raises(relamp.InputError, match=r"relamp\.Forecast"):
        relamp.purchase_list(3, lead, **terms)


def test_lamps_that_come_later_are_taken_off_from_their_day() -> None:
    by_day = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, periods=70, period_days=1.0, **DATES)
    lead = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, periods=1, period_days=21.0, **DATES).needed(1)
    terms: dict[str, Any] = {"lead_time_days": 21, "service_target": 0.9, "price": 100.0}
    plain = relamp.purchase_list(by_day, lead, **terms)
    later = relamp.purchase_list(by_day, lead, **terms, on_order_later=[(40, 2), (60, 1)])
    level = {d: int(stats.poisson.ppf(0.9, 100 * hours_by(d) / 1000.0)) for d in range(1, 71)}
    # By hand: the most that is missing on any day, with what has come.
    come = {d: 2 * (d >= 40) + (d >= 60) for d in level}
    assert later.order_now == plain.order_now
    assert later.order_lamps == max(level[d] - come[d] for d in level if d >= 21)
    assert later.order_lamps < plain.order_lamps
    for row in later.frame().to_dicts()[20:]:
        assert row["service_by_end"] >= 0.9
    # By weeks no period ends on the day before: no fewer are ordered than by days, and none too few.
    weeks = relamp.forecast(EVEN, [0.0] * 100, **LAMPS, periods=10, period_days=7.0, **DATES)
    by_weeks = relamp.purchase_list(weeks, lead, **terms, on_order_later=[(40, 2), (60, 1)])
    assert later.order_lamps <= by_weeks.order_lamps <= plain.order_lamps
    for wrong in ([(21, 1)], [(40, 1), (40, 1)]):
        with pytest.raises(relamp.InputError, match="on_order_later"):
            relamp.purchase_list(by_day, lead, **terms, on_order_later=wrong)
    for wrong in (3, [3], [(40, -1)], [(40, 1.5)], [("x", 1)], [(2**40, 1)]):
        with pytest.raises(relamp.InputError, match="on_order_later"):
            relamp.purchase_list(by_day, lead, **terms, on_order_later=wrong)


def test_a_last_buy_stops_by_dates_and_burns_by_its_programme() -> None:
    # 59 days at home, 14 + 24 h burned by 31 March; half of the screens stop on 1 March after 14 h.
    stop = ["2026-03-01", None] * 50
    buy = relamp.last_buy(EVEN, [0.0] * 100, **LAMPS, end_days=59.0, **DATES, stop=stop, risk=0.05)
    mean = (50 * hours_by(28) + 50 * hours_by(59)) / 1000.0
    for lamps in range(12):
        assert buy.needed.at_most(lamps) == pytest.approx(stats.poisson.cdf(lamps, mean), abs=1e-3)
    assert buy.quantity == int(stats.poisson.ppf(0.95, mean))
    even = relamp.last_buy(EVEN, [0.0] * 100, **LAMPS, end_days=59.0, as_of="2026-02-01", stop=stop, risk=0.05)
    days = relamp.last_buy(EVEN, [0.0] * 100, **LAMPS, end_days=59.0, convert_days=[28.0, None] * 50, risk=0.05)
    assert even.needed == days.needed


def test_dated_stock_burns_by_its_programme_and_stops_by_dates() -> None:
    days: dict[str, Any] = {"lead_time_days": 59.0, "days_ahead": 59.0, "service_target": 0.95}
    stop = ["2026-03-01", None] * 50
    found = relamp.dated_stock(EVEN, [0.0] * 100, **LAMPS, **days, **DATES, stop=stop)
    # No lamp has a date; each screen needs a lamp at its first failure, half of the screens within 14 h only.
    first = [1.0 - np.exp(-hours_by(28) / 1000.0), 1.0 - np.exp(-hours_by(59) / 1000.0)]
    both = np.convolve(*(stats.binom.pmf(range(51), 50, p) for p in first)).cumsum()
    assert found.level == found.safety_stock == int(np.searchsorted(both, 0.95))
    assert found.to_dict()["service_at_level"] == pytest.approx(both[found.level], abs=1e-9)
    plain = relamp.dated_stock(EVEN, [0.0] * 100, **LAMPS, **days)
    assert plain.level > found.level


@pytest.mark.parametrize("call", ["forecast", "last_buy", "dated_stock"])
def test_what_does_not_go_together_is_told(call: str) -> None:
    dated: dict[str, Any] = {"lead_time_days": 30.0, "days_ahead": 60.0, "service_target": 0.95}
    more: dict[str, Any] = {"last_buy": {"end_days": 59.0, "risk": 0.05}, "dated_stock": dated}.get(call, {})

    def ask(**given: Any) -> Any:
        return getattr(relamp, call)(EVEN, [0.0, 1.0], **LAMPS, **more, **given)

    wrong: list[tuple[str, dict[str, Any]]] = [
        ("as_of", {"stop": [None, "2026-03-01"]}),
        ("as_of", {"as_of": "soon"}),
        ("programmes", {"as_of": "2026-02-01", "programmes": {"year": YEAR}}),
        ("programme", {"as_of": "2026-02-01", "programme": ["ghost", None]}),
        ("programme", {"as_of": "2026-02-01", "programme": ["year"], "programmes": {"year": YEAR}}),
        ("stop", {"as_of": "2026-02-01", "stop": [None, "2026-01-31"]}),
        ("stop", {"as_of": "2026-02-01", "stop": [None]}),
        ("stop.*a list", {"as_of": "2026-02-01", "stop": "2026-03-01"}),
        ("stop.*a list", {"as_of": "2026-02-01", "stop": 3}),
    ]
    if call == "last_buy":
        wrong.append(("convert_days", {"as_of": "2026-02-01", "stop": [None, None], "convert_days": [1.0, None]}))
    for name, given in wrong:
        with pytest.raises(relamp.InputError, match=name):
            ask(**given)


def test_dated_stock_takes_a_model_and_refuses_what_is_none() -> None:
    given: dict[str, Any] = {**LAMPS, "lead_time_days": 30.0, "days_ahead": 60.0, "service_target": 0.95}
    with pytest.raises(relamp.InputError, match="expected a World or Draws"):
        relamp.dated_stock(3, [0.0], **given)


def test_a_chain_is_played_in_a_world_and_by_a_limit() -> None:
    given: dict[str, Any] = {
        "site": ["north"], "age_hours": [0.0], "hours_per_week": 70.0, "as_of": "2026-01-01", "on_hand": 1,
        "planned_age_hours": 1000.0, "lead_time_days": 10.0, "seed": 1,
    }  # fmt: skip
    with pytest.raises(relamp.InputError, match="expected a World or Draws"):
        relamp.play_chain(3, limit=LIMIT, **given)
    with pytest.raises(relamp.InputError, match=r"relamp\.HourLimit"):
        relamp.play_chain(EVEN, limit=3, **given)


def test_used_lamps_on_the_shelf_go_with_their_endings() -> None:
    def buy(**given: Any) -> relamp.LastBuy:
        return relamp.last_buy(EVEN, [0.0] * 10, **LAMPS, end_days=365.0, risk=0.05, **given)

    plain = buy()
    used = buy(used_age_hours=[10.0, None, 5.0], used_ending=["moved", "planned", "flicker"])
    # A life without memory: the one lamp that serves is as good as a new one.
    assert used.quantity == plain.quantity - 1
    assert used.needed_plain == plain.needed
    for given in (
        {"used_age_hours": [1.0]},
        {"used_ending": ["moved"]},
        {"used_age_hours": [1.0], "used_ending": ["moved", "moved"]},
        {"used_age_hours": [-1.0], "used_ending": ["moved"]},
        {"used_age_hours": [1.0], "used_ending": ["lost"]},
        {"used_age_hours": [1.0], "used_ending": 3},
    ):
        with pytest.raises(relamp.InputError, match="used"):
            buy(**given)


def test_a_risk_of_none_says_what_it_means() -> None:
    buy = relamp.last_buy(EVEN, [0.0] * 10, **LAMPS, end_days=365.0, risk=0.0)
    assert buy.shortage_chance <= 1e-12
    assert "less likely than 1e-12" in buy.notes[0]
