"""Failures watched as they come: expected ones by hand and on the demo chain, alarms, frames and plots."""

from __future__ import annotations

import csv
from typing import Any

import numpy as np
import pytest
import relamp
from conftest import read_small_log, small_models
from relamp import plots_watch


@pytest.fixture(scope="module")
def demo() -> relamp.Watch:
    """The demo chain, each class against its own Weibull life."""
    reading = relamp.Study.open("data/demo/study.toml").read()
    tally = reading.tally()
    models = {name: relamp.fit(tally.stratum(name)) for name in tally.strata}
    return relamp.watch(relamp.expected_endings(reading, models))


def test_expected_failures_are_the_rise_of_the_cumulative_hazard() -> None:
    reading = read_small_log(out=["2025-03-01", None], hours=[590.0, 1100.0])
    months = relamp.expected_endings(reading, small_models(), by=["screen"]).frame()
    first = months.filter(months["name"] == "S, screen 1")
    # 31 of 59 days fall in January; numpy on the formula of the hazard.
    ages = np.array([0.0, 590.0 * 31 / 59, 590.0])
    # The lamp failed on the first of March, in which it did not burn.
    assert first["expected"].to_list() == pytest.approx([*np.diff((ages / 3000.0) ** 3), 0.0], rel=1e-12)
    assert first["observed"].to_list() == [0, 0, 1]
    assert months.group_by("name").agg(hours=months["hours"]).shape[0] == 2
    assert float(months["hours"].sum()) == pytest.approx(1690.0)


def test_seen_and_expected_add_up_alike_by_every_kind(demo: relamp.Watch) -> None:
    frame = demo.frame()
    totals = {by: group["observed"].sum() for (by,), group in frame.group_by("by")}
    assert len(totals) == 4
    assert len(set(totals.values())) == 1
    # Likelihood equations: a fitted scale makes what is expected equal to what is seen, class by class.
    fleet = frame.filter(frame["by"] == "fleet")
    assert fleet["expected"][0] == pytest.approx(fleet["observed"][0], rel=0.02)
    assert demo.false_alarms_a_year <= 1.0
    (twice, thrice) = demo.delays
    assert (twice[0], thrice[0]) == (2.0, 3.0)
    assert twice[1] > thrice[1] > 0.0


def test_the_weak_batch_is_told_with_its_open_lamps(demo: relamp.Watch) -> None:
    with open("data/demo/truth_lives.csv", encoding="utf-8") as file:
        weak = {row["batch"] for row in csv.DictReader(file) if row["weak_batch"] == "true"}
    alarms = demo.alarms().frame()
    assert weak <= set(alarms.filter(alarms["by"] == "batch")["name"])
    lamps = demo.open_lamps().frame()
    assert set(lamps["name"]) <= set(alarms["name"])
    last = {key: group["month"].max() for key, group in alarms.group_by("by", "name")}
    assert [last[key] for key in lamps.select("by", "name").rows()] == lamps["last_alarm"].to_list()
    assert lamps["hours"].min() >= 0.0


def test_a_hazard_ratio_of_three_is_told_sooner_by_charts_tuned_to_it(demo: relamp.Watch) -> None:
    expected = relamp.expected_endings(read_small_log(), small_models())
    for ratio in (1.5, 2.0, 3.0, 5.0):
        watch = relamp.watch(expected, ratio=ratio, false_alarms_a_year=0.05)
        assert watch.false_alarms_a_year <= 0.05
    with pytest.raises(relamp.InputError, match=r"watch\.ratio"):
        relamp.watch(expected, ratio=1.0)


@pytest.mark.filterwarnings("ignore::relamp.WeakDataWarning")
def test_models_of_bursts_alone_are_doubted_where_all_endings_count() -> None:
    reading = relamp.Study.open("data/demo/study.toml").read()
    tally = reading.tally()
    of = {name: relamp.fit(tally.stratum(name), endings=["burst"]) for name in tally.strata}
    fitting = {name: relamp.fit(tally.stratum(name)) for name in tally.strata}

    def doubted(models: Any, **more: Any) -> bool:
        notes = relamp.expected_endings(reading, models, by=["site"], **more).notes
        return any(note.startswith("all lamps together had") for note in notes)

    assert doubted(of)
    assert not doubted(of, failure_endings=["burst"])
    assert not doubted(fitting)


def test_what_is_no_model_and_no_kind_is_named() -> None:
    reading = read_small_log()
    life = small_models()["2 kW"]
    wrong: list[tuple[Any, str]] = [
        (3, "python.type"),
        ({"2 kW": 3}, "python.type"),
        ({3: life}, "python.type"),
        ({"4 kW": life}, "watch.no_lamp"),
        ({}, "watch.no_lamp"),
    ]
    for models, slug in wrong:
        with pytest.raises(relamp.RelampError) as error:
            relamp.expected_endings(reading, models)
        assert error.value.slug == slug
    for by in (["lamp"], "site", [3], []):
        with pytest.raises(relamp.InputError):
            relamp.expected_endings(reading, small_models(), by=by)


def test_plots_show_what_was_told(demo: relamp.Watch) -> None:
    alarms = demo.alarms().frame()
    by, name = alarms["by"][0], alarms["name"][0]
    axes = plots_watch.failures(demo, by, name)
    expected, seen = axes.lines[:2]
    row = demo.frame().filter((demo.frame()["by"] == by) & (demo.frame()["name"] == name))
    assert seen.get_ydata()[-1] == row["observed"][0]
    assert expected.get_ydata()[-1] == pytest.approx(row["expected"][0])
    assert plots_watch.failures(demo, "fleet", ax=axes) is axes
    axes = plots_watch.sums(demo)
    told = alarms.filter(alarms["by"] != "fleet").unique(["by", "name"])
    assert axes.get_title(loc="left").split()[0] == str(told.height)
    with pytest.raises(ValueError, match="is not watched"):
        plots_watch.failures(demo, "site", "nowhere")
    with pytest.raises(ValueError, match="nothing is watched"):
        plots_watch.sums(demo, by="screen")
