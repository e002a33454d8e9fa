"""Lamps needed by a chain from Python: the numbers of the core, what is refused, and the plots."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
import relamp
from relamp import plots_demand

LIFE = relamp.life("weibull", shape=2.0, scale=1500.0)
WORLD = relamp.world({"burst": LIFE}, relamp.costs(950.0, burst=5200.0))
LIMIT = relamp.hour_limit(maximum_hours=1200.0, source="invented data sheet")
LAMPS: dict[str, Any] = {
    "lamp_class": ["X", "X", "Y"],
    "site": ["north", "south", "south"],
    "depot": ["east", "east", "east"],
    "age_hours": [100.0, None, 800.0],
    "hours_per_week": 70.0,
    "as_of": date(2026, 1, 1),
    "months": 3,
}
PLANS: dict[str, tuple[relamp.World | relamp.Draws, float, relamp.HourLimit]] = {
    "X": (WORLD, 1000.0, LIMIT),
    "Y": (WORLD, 5000.0, LIMIT),
}


def asked(**changed: Any) -> relamp.ChainForecast:
    return relamp.chain_forecast(PLANS, **{**LAMPS, **changed})


def test_first_failures_are_those_of_the_life() -> None:
    chain = asked()
    none = float(LIFE.conditional_reliability([100.0 + 310.0], reached=100.0)[0])
    assert math.isclose(chain.count("X", site="north", month=1).at_most(0), none, rel_tol=1e-12)
    assert chain.count("X", site="south", month=1, kind="planned").at_most(0) == 0.0
    frame = chain.frame()
    assert frame.height == 3 * (1 + 1 + 2 + 1 + 1 + 1)
    rows = frame.filter((frame["lamp_class"] == "X") & (frame["level"] == "chain"))
    assert rows["to_day"].to_list() == [date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31)]
    assert [round(h) for h in rows["hours"]] == [620, 560, 620]
    assert all(math.isclose(a, b + c, rel_tol=1e-6) for a, b, c in rows["mean", "mean_planned", "mean_failures"].rows())


def test_programmes_and_stops_reach_the_core() -> None:
    closed = {"summer": {"spans": [(date(2026, 1, 1), "2026-01-31", 0.0)], "by_month": [1.0] * 12}}
    shut = asked(programme=["summer"] * 3, programmes=closed)
    assert shut.count("X", site="north", month=1).at_most(0) == 1.0
    stops = [("2026-02-01", "2026-02-10"), {"2026-01-01": 1.0}, None]
    stopped = asked(stop=stops)
    assert stopped.count("X", site="north", month=3).at_most(0) == 1.0
    assert stopped.count("X", site="south").at_most(0) == 1.0
    tied = asked(shared_by="site", shared_spread=0.3)
    assert tied.count("X").sd > asked().count("X").sd
    young = [100.0, 400.0, 800.0]
    batch = asked(shared_by="batch", shared_spread=0.5, batch=["b7", "b7", None], age_hours=young)
    apart = asked(shared_by="batch", shared_spread=0.5, batch=["b7", "b8", "b9"], age_hours=young)
    assert batch.count("X").sd > apart.count("X").sd
    assert math.isclose(batch.count("X").mean, apart.count("X").mean, rel_tol=1e-9)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"stop": ["2025-12-31", None, None]}, "2025-12-31"),
        ({"stop": [None]}, "stop"),
        ({"lamp_class": ["X", "X", "Z"]}, "Z"),
        ({"site": ["north", None, "south"]}, "site"),
        ({"programme": ["summer", None, None]}, "summer"),
        ({"programmes": {"p": {"seasons": 1}}}, "seasons"),
        ({"as_of": 20260101}, "as_of"),
        ({"shared_by": "make"}, "make"),
        ({"shared_by": "batch", "shared_spread": 0.2}, "with batch, the batch of each screen's lamp"),
        ({"batch": ["a", "b", "c"]}, "with shared_by='batch'"),
        ({"shared_by": "batch", "shared_spread": 0.2, "batch": ["a", "b"]}, "2 for 3 ages"),
        ({"shared_by": "batch", "shared_spread": 0.2, "batch": ["a", " ", None]}, "row 2"),
        ({"shared_by": "batch", "shared_spread": 0.2, "batch": [None] * 3, "shared_on": "hours"}, "hazard"),
        ({"shared_by": "site", "shared_on": "cost"}, "cost"),
        ({"shared_by": "site", "shared_spread": 2.0}, "spread"),
        ({"hours_per_week": 169.0}, "169"),
    ],
)
def test_wrong_input_is_named(changed: dict[str, Any], named: str) -> None:
    with pytest.raises(relamp.InputError, match=named):
        asked(**changed)


@pytest.mark.parametrize(
    "ask",
    [
        lambda c: c.count("Z"),
        lambda c: c.count("X", site="west"),
        lambda c: c.count("X", month=4),
        lambda c: c.count("X", site="north", depot="east"),
        lambda c: c.count("X", kind="all"),
    ],
)
def test_what_was_not_forecast_is_refused(ask: Callable[[relamp.ChainForecast], object]) -> None:
    with pytest.raises(relamp.InputError):
        ask(asked())


def test_a_wave_needs_the_same_screens() -> None:
    with pytest.raises(relamp.InputError, match="months"):
        relamp.policy_wave(asked(), asked(months=2))


def test_a_lower_age_brings_a_wave_and_plots_show_it() -> None:
    lamps = {"lamp_class": ["X"] * 60, "site": ["north"] * 60, "age_hours": [16.0 * i for i in range(60)]}
    options: dict[str, Any] = {"hours_per_week": 70.0, "as_of": "2026-01-01", "months": 18}
    old, new = (relamp.chain_forecast({"X": (WORLD, age, LIMIT)}, **lamps, **options) for age in (1000.0, 700.0))
    wave = relamp.policy_wave(old, new)[0]
    assert wave.due_at_once == 16
    frame = wave.frame()
    assert frame["one_off"][0] > 5.0
    sums = [a - b - c for a, b, c in frame["after", "before", "for_good"].rows()]
    assert all(math.isclose(a, b, abs_tol=1e-9) for a, b in zip(sums, frame["one_off"], strict=True))
    axes = plots_demand.wave(wave)
    assert "700 h" in axes.get_title(loc="left")
    top = max(old.count("X", month=m + 1).quantile(0.95) for m in range(18))
    assert plots_demand.fan(old, "X").get_ylim()[1] == pytest.approx(1.12 * top)
    bars = plots_demand.kinds(old, "X").patches
    assert bars[0].get_height() == pytest.approx(old.count("X", month=1, kind="planned").mean)


def test_a_wave_by_kinds_stacks_what_each_forecast_says() -> None:
    lamps = {"lamp_class": ["X"] * 60, "site": ["north"] * 60, "age_hours": [16.0 * i for i in range(60)]}
    options: dict[str, Any] = {"hours_per_week": 70.0, "as_of": "2026-01-01", "months": 6}
    old, new = (relamp.chain_forecast({"X": (WORLD, age, LIMIT)}, **lamps, **options) for age in (1000.0, 700.0))
    axes = plots_demand.wave_kinds(old, new, "X")
    assert axes.get_title(loc="left") == "From 1,000 h to 700 h, class X: mean lamps by month"
    bars = iter(axes.patches)
    for chain in (old, new):
        planned, failed = ([next(bars) for _ in range(6)] for _ in range(2))
        for month, (below, above) in enumerate(zip(planned, failed, strict=True), start=1):
            assert below.get_height() == pytest.approx(chain.count("X", month=month, kind="planned").mean)
            assert above.get_height() == pytest.approx(chain.count("X", month=month, kind="failures").mean)
            assert above.get_y() == pytest.approx(below.get_height())
            assert below.get_y() == 0.0
    # A lower age brings changes on plan, and fewer failures.
    assert new.count("X", kind="failures").mean < old.count("X", kind="failures").mean
    with pytest.raises(ValueError, match="lamp_class must be one of the forecasts, got 'Z'"):
        plots_demand.wave_kinds(old, new, "Z")
    with pytest.raises(relamp.InputError, match="months"):
        plots_demand.wave_kinds(old, asked(months=2), "X")
