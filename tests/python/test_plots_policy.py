"""Plots of when to change: what they say stands in the results, and nothing leaves the frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import relamp
from relamp import plots_policy, plots_stock

if TYPE_CHECKING:
    from matplotlib.axis import Axis

LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
COSTS = relamp.costs(950.0, burst=8120.0, dim=1650.0)
WORLD = relamp.world(
    {
        "burst": relamp.life("weibull", shape=4.0, scale=5800.0),
        "dim": relamp.life("weibull", shape=4.4, scale=3200.0),
    },
    COSTS,
)


def test_the_cost_shows_the_advice_where_it_stands() -> None:
    planned = relamp.planned_age(WORLD, LIMIT)
    axes = plots_policy.cost(relamp.cost_curve(WORLD, LIMIT), planned, currency="EUR")
    assert axes.get_legend_handles_labels()[1] == [
        "within 2 % of the least",
        f"planned age, {planned.age_hours:,.0f} h",
    ]
    dot = next(line for line in axes.get_lines() if line.get_marker() == "o")
    assert list(dot.get_xydata()[0]) == [planned.age_hours, pytest.approx(1000.0 * planned.cost_per_hour)]
    low, high = axes.get_ylim()
    assert low == 0.0
    assert high > 1000.0 * planned.cost_per_hour
    assert max(axes.get_xlim()) > LIMIT.hours
    tally = relamp.lives([900.0, 1500.0, 2100.0, 2400.0], [900.0, None, 2100.0, None], ending=["burst", "planned"] * 2)
    alone = relamp.curve_world(tally, relamp.costs(950.0, burst=8120.0))
    records = relamp.cost_curve(alone, LIMIT, ages_hours=[500.0, 1000.0, 2000.0])
    axes = plots_policy.cost(relamp.cost_curve(WORLD, LIMIT), planned, records=records)
    assert "the records without a model" in axes.get_legend_handles_labels()[1]


def test_the_cost_is_broken_past_the_oldest_lamp_and_names_what_it_counts() -> None:
    dark = relamp.dark_minutes(45.0, burst=360.0, dim=60.0)
    options = {"objective": dark, "oldest_at_risk_hours": 1200.0, "todays_rule_hours": 1000.0}
    planned = relamp.planned_age(WORLD, LIMIT, **options)
    tally = relamp.lives([900.0, 1500.0, 2100.0, 2400.0], [900.0, None, 2100.0, None], ending=["burst", "planned"] * 2)
    records = relamp.cost_curve(relamp.curve_world(tally, relamp.costs(950.0, burst=8120.0)), LIMIT)
    axes = plots_policy.cost(relamp.cost_curve(WORLD, LIMIT, objective=dark), planned, records=records, currency="EUR")
    assert axes.get_title(loc="left") == "Dark minutes per 1,000 lamp hours"
    assert "oldest lamp at risk 1,200 h" in [text.get_text() for text in axes.texts]
    assert "today's rule, 1,000 h" in axes.get_legend_handles_labels()[1]
    seen, past = (line.get_xdata() for line in axes.get_lines() if line.get_zorder() == 3)
    assert max(seen) <= 1200.0
    assert min(past) <= 1200.0 < max(past)
    alone = next(line for line in axes.get_lines() if line.get_zorder() == 2)
    assert max(alone.get_xdata()) <= 1200.0


def test_a_curve_of_something_else_is_refused() -> None:
    dark = relamp.dark_minutes(45.0, burst=360.0, dim=60.0)
    later = relamp.discount(rate_per_year=0.08, hours_per_year=3500.0)
    planned = relamp.planned_age(WORLD, LIMIT)
    for objective in (dark, later):
        with pytest.raises(ValueError, match="objective"):
            plots_policy.cost(relamp.cost_curve(WORLD, LIMIT, objective=objective), planned)
        other = relamp.planned_age(WORLD, LIMIT, objective=objective)
        with pytest.raises(ValueError, match="objective"):
            plots_policy.cost(relamp.cost_curve(WORLD, LIMIT), other)
        plots_policy.cost(relamp.cost_curve(WORLD, LIMIT, objective=objective), other)
    dearer = relamp.world({"burst": relamp.life("weibull", shape=4.0, scale=5800.0)}, COSTS)
    with pytest.raises(ValueError, match="chance to fail"):
        plots_policy.cost(relamp.cost_curve(dearer, LIMIT), planned)
    far = relamp.hour_limit(maximum_hours=3000.0, source="invented data sheet")
    with pytest.raises(ValueError, match="up to 3000 h"):
        plots_policy.cost(relamp.cost_curve(WORLD, far), planned)


def test_bars_have_a_row_for_each_cost_with_both_ends() -> None:
    bars = relamp.cost_bars(WORLD, LIMIT, factor=2.0)
    axes = plots_policy.bars(bars)
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names[0] in ("every failure", "planned change")
    assert sorted(names) == ["burst", "dim", "every failure", "hour limit", "planned change"]
    left, right = axes.get_xlim()
    frame = bars.frame()
    assert all(left < age < right for age in frame["age_hours"])
    words = [text.get_text() for text in axes.texts]
    worst = frame["stale_percent"].max()
    assert f"{worst:.1f} %" in words
    # All at the limit: no width, and no fall of the axis either.
    held = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    axes = plots_policy.bars(relamp.cost_bars(WORLD, held))
    left, right = axes.get_xlim()
    assert left < 500.0 < right
    assert "under 0.1 %" in [text.get_text() for text in axes.texts]


def test_endings_stack_to_the_lamps_that_fail() -> None:
    endings = relamp.endings_by_age(WORLD, LIMIT)
    axes = plots_policy.endings(endings, planned_hours=2000.0)
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["dim", "burst"]
    failed = 1000.0 - endings.frame()["planned_per_1000_lamps"].to_list()[-1]
    top = max(path.vertices[:, 1].max() for layer in axes.collections for path in layer.get_paths())
    assert top == pytest.approx(failed, rel=1e-9)
    assert axes.get_xlim() == (0.0, 2500.0)


def test_ticks_are_round_and_tell_neighbours_apart() -> None:
    """As printed: small chances are not all 0, steps are 1, 2, 2.5 or 5, and long amounts do not meet."""

    def ticks(axis: Axis) -> list[str]:
        low, high = sorted(axis.get_view_interval())
        locs = [float(x) for x in axis.get_majorticklocs()]
        return [text for x, text in zip(locs, axis.get_major_formatter().format_ticks(locs), strict=True)
                if low <= x <= high]  # fmt: skip

    few = plots_policy.endings(relamp.endings_by_age(WORLD, relamp.hour_limit(maximum_hours=250.0, source="invented")))
    assert ticks(few.yaxis) == ["0.000", "0.005", "0.010", "0.015"]
    many = plots_policy.endings(relamp.endings_by_age(WORLD, LIMIT))
    assert ticks(many.yaxis) == ["0", "100", "200", "300"]
    plan = relamp.best_reorder(
        relamp.lead_demand(0.2, lead_time_days=20.0),
        relamp.stock_costs(8e8, money_rate=0.1, per_order=6e7, dark_day=4e8),
    )
    money = ticks(plots_stock.trade_off(plan).xaxis)
    assert 2 <= len(money) <= 4
    assert sum(len(text) + 4 for text in money) <= 90
    for axes in (few, many, plots_stock.cost(plan)):
        for axis in (axes.xaxis, axes.yaxis):
            words = ticks(axis)
            assert len(words) > 1
            assert len(set(words)) == len(words)
