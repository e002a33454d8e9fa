"""A fleet played out from Python: by hand, against forecasts, and what is refused."""

from __future__ import annotations

import math
from typing import Any

import polars as pl
import pytest
import relamp

LIMIT = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
# Lamps that all but never fail, so that only the calendar and the hours count.
LASTING = relamp.world({"burst": relamp.life("weibull", shape=3.0, scale=1e9)}, relamp.costs(900.0, burst=5000.0))
WORLD = relamp.world(
    {"burst": relamp.life("weibull", shape=3.0, scale=2600.0), "dim": relamp.life("weibull", shape=2.0, scale=4000.0)},
    relamp.costs(950.0, burst=5200.0, dim=1250.0),
)


def play(world: relamp.World = WORLD, ages: Any = (100.0, 1900.0), **options: Any) -> relamp.PlayedFleet:
    given: dict[str, Any] = {"hours_per_week": 70.0, "limit": LIMIT, "change": "at_failure", "seed": 3}
    return relamp.play_fleet(world, list(ages), **{**given, **options})


def test_a_screen_by_hand() -> None:
    # 10 h a day: 1900 h today is 2000 h on day 10, and again every 200 days.
    played = play(LASTING, [1900.0], change="at_age", planned_age_hours=2000.0, periods=3, period_days=100.0)
    frame = played.frame()
    assert frame["changes"].to_list() == [1.0, 0.0, 1.0]
    assert frame["cost"].to_list() == [900.0, 0.0, 900.0]
    assert frame["cost_error"].to_list() == [0.0, 0.0, 0.0]
    assert frame["burning_hours"].to_list() == [1000.0] * 3
    assert (played.needed(3).first, played.needed_by_end(3).first) == (1, 2)
    assert played.changes().frame().rows()[0] == (1, "at_age", 1.0, 0.0, None, None)
    assert played.ages_at_ending().frame().row(0) == ("at_age", 2.0, 0.0, 2000.0, 0.0, 2000.0)
    ages = played.ages().frame().filter(pl.col("way") == "at_age")
    assert ages["lamps"].to_list() == [0.0] * 19 + [2.0]
    assert math.isclose(played.cost_per_hour or 0.0, 1800.0 / 3000.0)


def test_discounted_cost_and_dark_minutes_by_hand() -> None:
    # Changed on days 10 and 210, after 100 h and 2100 h of burning.
    discount = relamp.discount(rate_per_hour=1e-4)
    options: dict[str, Any] = {"change": "at_age", "planned_age_hours": 2000.0, "periods": 3, "period_days": 100.0}
    dark = relamp.dark_minutes(45.0, burst=360.0)
    played = play(LASTING, [1900.0], discount=discount, dark_minutes=dark, **options)
    worth = [900.0 * math.exp(-1e-4 * hours) for hours in (100.0, 2100.0)]
    frame = played.frame()
    assert frame["discounted_cost"].to_list() == pytest.approx([worth[0], 0.0, worth[1]], rel=1e-12)
    assert played.discounted_cost == pytest.approx(sum(worth), rel=1e-12)
    assert played.discounted_cost_error == 0.0
    assert played.dark_minutes_per_1000_hours == pytest.approx(90.0 / 3.0, rel=1e-12)
    assert played.changes().frame()["dark_minutes"].to_list()[0] == 45.0
    # A dict tells the same minutes; without a discount no such cost is told.
    plain = play(LASTING, [1900.0], dark_minutes={"planned": 45.0, "burst": 360.0}, **options)
    assert plain.dark_minutes_per_1000_hours == played.dark_minutes_per_1000_hours
    assert plain.discounted_cost is None
    # What is not given is not 0.
    silent = play(LASTING, [1900.0], **options)
    assert silent.dark_minutes_per_1000_hours is None
    assert silent.frame()["dark_minutes"].to_list() == [None] * 3
    assert silent.changes().frame()["dark_minutes"].null_count() == silent.changes().frame().height
    assert "discounted_cost" not in plain.frame().columns
    with pytest.raises(relamp.InputError, match="discount"):
        play(LASTING, [1900.0], discount=0.05, **options)


def test_means_agree_with_the_forecast() -> None:
    ages = [float(60 * i) for i in range(30)]
    options: dict[str, Any] = {"hours_per_week": 75.0, "planned_age_hours": 1800.0, "limit": LIMIT}
    told = relamp.forecast(WORLD, ages, periods=6, **options).frame()
    played = play(ages=ages, change="at_age", periods=6, replicates=2000, **options).frame()
    for month in range(6):
        for here, there in (("planned", "mean_planned"), ("failures", "mean_failures"), ("changes", "mean")):
            z = (played[here][month] - told[there][month]) / played[f"{here}_error"][month]
            assert abs(z) < 4.5, (month, here, z)


def test_every_way_to_change_keeps_the_limit_and_says_what_it_did() -> None:
    ways: dict[str, tuple[dict[str, Any], set[str]]] = {
        "at_failure": ({}, {"at_limit"}),
        "at_age": ({"planned_age_hours": 9000.0}, {"at_age"}),
        "at_age_or_visit": (
            {"planned_age_hours": 1900.0, "visit_age_hours": 1500.0, "join_changes": True, "visits_mean_days": 60.0},
            {"at_age", "at_visit"},
        ),
        "site_together": ({"planned_age_hours": 1500.0}, {"at_age", "with_site"}),
        "on_calendar": ({"calendar_days": 100.0, "calendar_first_day": 50.0}, {"on_calendar"}),
    }
    for change, (options, kinds) in ways.items():
        played = play(
            ages=[100.0, 700.0, 1300.0],
            sites=["N", "N", "S"],
            change=change,
            periods=24,
            visit_cost=50.0,
            dark_minutes={"planned": 0.0, "burst": 90.0, "dim": 20.0},
            replicates=50,
            **options,
        )
        endings = played.ages_at_ending().frame()
        assert kinds <= set(endings["way"]) <= kinds | {"burst", "dim"}, change
        assert endings["oldest_hours"].max() <= 2000.0
        failures = endings.filter(pl.col("way").is_in(["burst", "dim"]))["lamps"].to_list()
        whole = played.to_dict()["whole"]
        assert math.isclose(whole["dark_minutes"]["mean"], 90.0 * failures[0] + 20.0 * failures[1])
        assert (played.change, played.sites, played.sockets) == (change, 2, 3)
        assert played.frame()["visits_for_lamps"].sum() > 0.0


def test_one_seed_is_one_play() -> None:
    assert play(replicates=20) == play(replicates=20)
    assert play(replicates=20) != play(replicates=20, seed=4)
    # A site played once, without its equal, has no spread.
    once = play(replicates=1)
    assert once.cost_error is None
    assert once.cost_per_hour_error is None
    assert once.frame()["cost_error"].null_count() == 12
    # A hundred equal screens are a hundred plays of one.
    assert (play(ages=[500.0] * 100, replicates=1).cost_error or 0.0) > 0.0


def test_progress_is_told_and_may_stop_the_play() -> None:
    told: list[tuple[int, int]] = []
    play(replicates=500, progress=lambda done, total: told.append((done, total)))
    assert told[-1][0] == told[-1][1] > 0

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        play(ages=[100.0] * 2000, replicates=5000, progress=stop)


def test_an_age_that_is_not_known_is_due() -> None:
    played = play(ages=[None, 100.0, 2100.0])
    assert (played.due_now, played.needed(1).first) == (2, 2)


REFUSED: list[tuple[dict[str, Any], str, str]] = [
    ({"change": "sometimes"}, "python.change", "change"),
    ({"change": "at_age"}, "python.change_needs", "planned_age_hours"),
    ({"change": "at_age_or_visit", "planned_age_hours": 100.0}, "python.change_needs", "visit_age_hours"),
    ({"change": "on_calendar"}, "python.change_needs", "calendar_days"),
    ({"planned_age_hours": 100.0}, "python.change_takes", "planned_age_hours"),
    ({"join_changes": True}, "python.change_takes", "join_changes"),
    ({"change": "at_age", "planned_age_hours": 100.0, "calendar_days": 9.0}, "python.change_takes", "calendar_days"),
    ({"visits_first_day": 3.0}, "python.visits", "visits_first_day"),
    ({"visits_days": 3.0, "visits_mean_days": 3.0}, "python.visits", "visits_mean_days"),
    ({"visits_days": -1.0}, "simulate.days", "visits_days"),
    ({"visits_mean_days": 0.0}, "simulate.days", "visits_mean_days"),
    ({"change": "at_age", "planned_age_hours": -1.0}, "simulate.rule_age", "planned_age_hours"),
    ({"sites": ["N"]}, "python.length", "sites"),
    ({"sites": ["N", None]}, "simulate.site_blank", ""),
    ({"visit_cost": -1.0}, "simulate.visit_cost", ""),
    ({"dark_minutes": 3.0}, "python.type", "dark_minutes"),
    ({"dark_minutes": {"burst": 3.0}}, "simulate.dark_minutes_missing", "dim"),
    ({"dark_minutes": {"planned": -3.0}}, "simulate.dark_minutes", "planned"),
    ({"dark_minutes": {"sometimes": 3.0}}, "python.ending", ""),
    ({"dark_minutes": {"planned": "long"}}, "python.type", "planned"),
    ({"hours_per_week": 200.0}, "demand.socket_hours", "hours_per_week"),
    ({"replicates": 0}, "simulate.replicates", ""),
    ({"replicates": 2**63}, "simulate.too_large", ""),
    ({"periods": 0}, "demand.horizon", "periods"),
    ({"period_days": 0.0}, "simulate.no_time", "period_days"),
]


@pytest.mark.parametrize(("options", "slug", "name"), REFUSED)
def test_what_is_asked_wrongly_is_refused_by_name(options: dict[str, Any], slug: str, name: str) -> None:
    with pytest.raises(relamp.RelampError) as caught:
        play(**options)
    problem = caught.value.problems[0]
    assert problem.slug == slug
    assert name in ("", problem.input, problem.column), str(caught.value)
