"""Lamps that changes on plan need: counted again screen by screen, and never more than a forecast needs."""

from __future__ import annotations

import math

import pytest
import relamp

LIMIT = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
AGES = [100.0, 1200.0, 1900.0, 1999.5, 2000.0, 2600.0, None]
WEEKLY = [70.0, 35.0, 84.0, 0.0, 10.0, 168.0, 70.0]


def counted(planned: float, days: float) -> int:
    """One screen after the other: hours left to the first change, then one change for each planned age."""
    lamps = 0
    for age, weekly in zip(AGES, WEEKLY, strict=True):
        hours = weekly * days / 7.0
        left = 0.0 if age is None or age >= planned else planned - age
        while hours >= left:
            lamps += 1
            hours -= left
            left = planned
    return lamps


@pytest.mark.parametrize("planned", [1500.0, 2000.0, 9000.0])
def test_each_screen_is_counted(planned: float) -> None:
    table = relamp.planned_changes(
        AGES, hours_per_week=WEEKLY, planned_age_hours=planned, limit=LIMIT, periods=12, period_days=91.0
    )
    assert isinstance(table, relamp.Table)
    rows = table.frame().rows()
    # The limit holds whatever the plan says.
    by_end = [counted(min(planned, 2000.0), 91.0 * period) for period in range(1, 13)]
    assert [row[2] for row in rows] == by_end
    assert [row[1] for row in rows] == [b - a for a, b in zip([0, *by_end], by_end, strict=False)]
    assert [row[0] for row in rows] == list(range(1, 13))


def test_a_forecast_never_needs_fewer() -> None:
    options = {"hours_per_week": WEEKLY, "planned_age_hours": 2000.0, "limit": LIMIT, "periods": 6}
    plan = relamp.planned_changes(AGES, **options).frame()["changes_by_end"].to_list()
    for shape, scale in ((1.0, 3000.0), (4.0, 2500.0), (30.0, 9000.0)):
        world = relamp.world(
            {"burst": relamp.life("weibull", shape=shape, scale=scale)}, relamp.costs(1000.0, burst=5000.0)
        )
        forecast = relamp.forecast(world, AGES, **options)
        for period, least in enumerate(plan, start=1):
            assert forecast.needed_by_end(period).quantile(1e-9) >= least
            # Lamps that hardly ever fail need what the plan needs.
            if shape > 20.0:
                assert math.isclose(forecast.needed_by_end(period).mean, least, rel_tol=1e-9)


def test_no_days_need_nothing_and_columns_must_match() -> None:
    options = {"planned_age_hours": 2000.0, "limit": LIMIT}
    nothing = relamp.planned_changes(AGES, hours_per_week=70.0, period_days=0.0, periods=2, **options)
    assert nothing.frame().rows() == [(1, 0, 0), (2, 0, 0)]
    with pytest.raises(relamp.InputError, match="planned_changes, column hours_per_week"):
        relamp.planned_changes(AGES, hours_per_week=[70.0], **options)
    with pytest.raises(relamp.InputError, match="age_hours"):
        relamp.planned_changes([-1.0], hours_per_week=70.0, **options)
