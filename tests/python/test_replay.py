"""Back-tests: replayed ages against scipy's product limit, evenness against scipy's exact test, the demo chain."""

from __future__ import annotations

import numpy as np
import pytest
import relamp
from conftest import read_many, read_small_log
from scipy import stats

COSTS = relamp.costs(950.0, burst=5200.0, seal=1900.0, no_strike=1900.0, flicker=1500.0, dim=1250.0)


def test_a_replayed_age_is_that_of_the_product_limit(limit: relamp.HourLimit) -> None:
    reading = read_many()
    lives = reading.lives().frame()
    hours = lives["end_hours"].to_numpy()
    failed = (lives["ending"] == "burst").to_numpy()
    at = relamp.replay_age(reading, COSTS, limit, planned_age_hours=1000.0)
    curve = stats.ecdf(stats.CensoredData.right_censored(hours, ~failed)).sf
    # The curve is a step function: the integral to 1,000 h, and what is left there.
    ages = curve.quantiles[curve.quantiles < 1000.0]
    steps = np.concatenate([[1.0], curve.evaluate(ages)])
    mean = float(np.sum(steps * np.diff([0.0, *ages, 1000.0])))
    left = float(steps[-1])
    assert at.mean_age_at_change_hours == pytest.approx(mean, rel=1e-12)
    assert at.cost_per_hour == pytest.approx((left * 950.0 + (1.0 - left) * 5200.0) / mean, rel=1e-12)
    row, *unseen = at.frame().iter_rows(named=True)
    assert all(other["seen"] == 0 and other["at_most_per_1000_lamps"] > 0.0 for other in unseen)
    assert (row["ending"], row["seen"]) == ("burst", at.failed)
    assert row["per_1000_lamps"] == pytest.approx(1000.0 * (1.0 - left))
    assert row["low"] < row["per_1000_lamps"] < row["high"]
    assert at.cost_interval[0] < at.cost_per_hour < at.cost_interval[1]
    assert at.whole_lives_cost_per_hour is not None
    assert at.whole_lives_cost_per_hour - at.cost_per_hour == pytest.approx(at.saving_per_hour)


def test_what_no_row_tells_is_refused_or_said(limit: relamp.HourLimit) -> None:
    reading = read_many()
    with pytest.raises(relamp.RefusedError, match=r"replay\.past_rows"):
        relamp.replay_age(reading, COSTS, limit, planned_age_hours=2000.0)
    wear = relamp.life("weibull", shape=3.0, scale=1200.0)
    at = relamp.replay_age(reading, COSTS, limit, planned_age_hours=2000.0, model=wear)
    assert at.hours_from_model > 0.0
    assert at.notes[0][0] == "replay.from_model"
    assert "the model beyond" in at.sentence
    with pytest.raises(relamp.LimitError, match=r"replay\.age_past_limit"):
        relamp.replay_age(reading, COSTS, limit, planned_age_hours=3000.0, model=wear)
    with pytest.raises(relamp.InputError, match=r"python\.day"):
        relamp.replay_age(reading, COSTS, limit, planned_age_hours=900.0, since="next year")
    with pytest.raises(relamp.InputError, match=r"replay\.no_lamp"):
        relamp.replay_age(read_small_log(), COSTS, limit, planned_age_hours=900.0, lamp_class="3 kW")


def test_evenness_is_that_of_an_exact_test() -> None:
    replay = relamp.replay_predictions(read_many(), window_days=60, draws=20, min_failures=5)
    test = stats.kstest(replay.values, "uniform", method="exact")
    assert replay.distance == pytest.approx(test.statistic, rel=1e-12)
    assert replay.p_value == pytest.approx(test.pvalue, rel=1e-9)
    frame = replay.frame()
    assert frame.height == len(replay)
    inside = (frame["low_90"] <= frame["observed"]) & (frame["observed"] <= frame["high_90"])
    assert int(inside.sum()) == replay.held_90
    # Each window starts where the last one ended, and the failures known are those that came before.
    assert frame["from"].to_list()[1:] == frame["to"].to_list()[:-1]
    assert np.all(np.diff(frame["failures_known"].to_numpy()) >= frame["observed"].to_numpy()[:-1])


def test_the_demo_chain_is_replayed_by_class() -> None:
    reading = relamp.Study.open("data/demo/study.toml").read()
    replay = relamp.replay_predictions(reading, lamp_class="2.0 kW", draws=50, seed=1)
    assert len(replay) >= 4
    assert f"{len(replay)} windows" in replay.sentence
    with pytest.raises(relamp.InputError, match=r"one of: 1\.6 kW"):
        relamp.replay_predictions(reading)
