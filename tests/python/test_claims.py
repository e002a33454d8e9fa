"""Warranty claims: what is due, what to file, and how many claims to expect."""

from __future__ import annotations

import csv
import datetime
import io
from typing import Any

import numpy as np
import polars
import pytest
import relamp
from conftest import read_small_log
from scipy import integrate, stats

WARRANTY = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst", "seal"])
COVER = relamp.cover(WARRANTY)
TERMS = relamp.claim_terms(COVER, needed=["serial", "photo"], chance=0.8, handling_cost=60.0, days_to_file=30)
LAMPS: dict[str, list[Any]] = {
    "serial": ["A1", "A2", "A3", "A4"],
    "lamp_class": ["2 kW", "2 kW", "2 kW", "4 kW"],
    "ending": ["burst", "seal", "planned", "burst"],
    "age_hours": [500.0, 1000.0, 1900.0, 100.0],
    "ended_on": ["2026-01-20", "2025-12-01", "2026-01-20", "2026-01-20"],
    "evidence": ["photo; form", None, None, None],
}


def test_the_figures_of_a_claim_list() -> None:
    claims = relamp.claim_list(LAMPS, {"2 kW": TERMS}, as_of="2026-01-31")
    rows = claims.frame().select("serial", "standing", "due", "gain", "missing", "why_nothing", "days_left").rows()
    assert rows == [
        ("A1", "file", 750.0, 540.0, "", "", 19.0),
        ("A2", "late", 500.0, 340.0, "photo", "", -31.0),
        ("A3", "nothing", 0.0, 0.0, "", "planned", None),
        ("A4", "nothing", 0.0, 0.0, "", "no_terms", None),
    ]
    assert len(claims) == 4
    assert claims.as_of == datetime.date(2026, 1, 31)
    totals = claims.totals
    assert (totals["recoverable"], totals["to_file"], totals["missed"]) == (1250.0, 750.0, 500.0)
    assert claims.sentence.startswith("1 claim worth filing now, 750 due")


def test_frames_of_every_kind_and_days_of_every_kind_give_one_list() -> None:
    as_of = datetime.date(2026, 1, 31)
    first = relamp.claim_list(LAMPS, TERMS, as_of=as_of)
    frame = polars.DataFrame(LAMPS)
    dated = frame.with_columns(polars.col("ended_on").str.to_date())
    for other in (frame, dated, dated.to_arrow(), dated.to_pandas(), frame.rename({"serial": "lamp"})):
        columns = {"serial": "lamp"} if "lamp" in getattr(other, "columns", []) else None
        assert relamp.claim_list(other, TERMS, as_of="2026-01-31", columns=columns) == first


def test_papers_tell_what_logs_do_not() -> None:
    papers = {"serial": ["A1", "A2"], "filed_on": ["2026-01-25", "2025-12-05"], "paid": [None, 450.0]}
    claims = relamp.claim_list(LAMPS, TERMS, as_of="2026-01-31", papers=papers)
    assert dict(claims.frame().select("serial", "standing").rows())["A1"] == "open"
    totals = claims.totals
    assert (totals["recovered"], totals["open"]) == (450.0, 750.0)
    assert totals["recovered_share"] == pytest.approx(450.0 / (750.0 + 500.0 + 950.0), rel=1e-12)
    with pytest.raises(relamp.InputError, match="not among those that ended"):
        relamp.claim_list(LAMPS, TERMS, as_of="2026-01-31", papers={"serial": ["Z9"], "paid": [1.0]})


def test_a_reading_gives_its_lamps_that_ended() -> None:
    reading = read_small_log()
    claims = relamp.claim_list(reading, TERMS, as_of="2030-01-01")
    lives = reading.lives().frame()
    ended = lives.filter(polars.col("ending") != "running")
    assert sorted(claims.frame()["serial"]) == sorted(ended["serial"])
    assert set(claims.frame()["file"]) <= set(reading.spells().frame()["file"])


def test_limits_by_calendar_and_strikes() -> None:
    lamp = {**{k: v[:1] for k, v in LAMPS.items()}, "fitted_on": ["2024-01-31"], "strikes": [400]}
    due = lambda cover: relamp.claim_list(lamp, relamp.claim_terms(cover), as_of="2026-01-31").frame()  # noqa: E731
    assert due(relamp.cover(WARRANTY, months=24))["due"].to_list() == [750.0]
    assert due(relamp.cover(WARRANTY, months=23))["why_nothing"].to_list() == ["calendar"]
    assert due(relamp.cover(WARRANTY, months=24, months_from="delivery"))["why_nothing"].to_list() == ["start_unknown"]
    assert due(relamp.cover(WARRANTY, most_strikes=399))["why_nothing"].to_list() == ["strikes"]
    cover = relamp.cover(WARRANTY, months=24, most_strikes=400)
    assert (cover.months, cover.months_from, cover.most_strikes, cover.warranty) == (24, "fitting", 400, WARRANTY)


def test_what_a_buyer_opens_runs_nothing() -> None:
    lamps = {**{k: v[:1] for k, v in LAMPS.items()}, "serial": ["=HYPERLINK(1)"], "site": ["@home"], "screen": ["+a"]}
    text = relamp.claim_list(lamps, TERMS, as_of="2026-01-31").to_csv()
    (row,) = csv.DictReader(io.StringIO(text))
    assert (row["serial"], row["site"], row["screen"]) == ("'=HYPERLINK(1)", "'@home", "'+a")
    assert (row["due"], row["gain"]) == ("750", "540")


def test_any_table_opens_safely() -> None:
    lamps = {**{k: v[:2] for k, v in LAMPS.items()}, "site": ["-2+3", "a,b"]}
    claims = relamp.claim_list(lamps, TERMS, as_of="2026-01-31")
    rows = list(csv.DictReader(io.StringIO(claims.table().to_csv())))
    assert [row["site"] for row in rows] == ["'-2+3", "a,b"]
    assert (rows[0]["ended_on"], rows[0]["strikes"], rows[0]["due"]) == ("2026-01-20", "", "750")


@pytest.mark.parametrize("value", ["soon", 3, None, "31.01.2026", datetime.time(3)])
def test_what_is_no_day_is_refused_by_name(value: Any) -> None:
    count = {"lamp_class": ["2 kW"], "place": ["Depot"], "on_hand": [4]}
    with pytest.raises(relamp.InputError, match="as_of"):
        relamp.claim_list(LAMPS, TERMS, as_of=value)
    with pytest.raises(relamp.InputError, match="counted_on"):
        relamp.stock_count(count, counted_on=value)
    with pytest.raises(relamp.InputError, match="due_by"):
        relamp.stock_count(count, counted_on="2026-01-31").on_order("2 kW", due_by=value)


def test_bad_terms_are_refused_by_name() -> None:
    for name, value in (("months", 1.5), ("months", -1), ("months", 0), ("most_strikes", "3"), ("most_strikes", 0)):
        with pytest.raises(relamp.InputError, match=name):
            relamp.cover(WARRANTY, **{name: value})
    with pytest.raises(relamp.InputError, match="months_from"):
        relamp.cover(WARRANTY, months=12, months_from="summer")
    with pytest.raises(relamp.InputError) as caught:
        relamp.claim_terms(COVER, chance=2.0, handling_cost=-1.0, days_to_file=0, needed=["a", "a"])
    assert {p.column for p in caught.value.problems} == {"chance", "handling_cost", "days_to_file", "needed"}
    for needed in ("photo", [3], None):
        with pytest.raises(relamp.InputError, match="needed"):
            relamp.claim_terms(COVER, needed=needed)  # type: ignore[arg-type]
    for terms in (3, {"2 kW": 3}, None):
        with pytest.raises(relamp.InputError, match="terms"):
            relamp.claim_list(LAMPS, terms, as_of="2026-01-31")  # type: ignore[arg-type]


def test_every_bad_row_is_told_with_its_place() -> None:
    bad = {"serial": ["A", "B"], "ending": ["bang", "burst"], "age_hours": [1.0, float("nan")]}
    with pytest.raises(relamp.InputError) as caught:
        relamp.claim_list(bad, TERMS, as_of="2026-01-31")
    assert [(p.slug, p.row, p.column) for p in caught.value.problems] == [
        ("warranty.ending_word", 1, "ending"),
        ("warranty.number_unreadable", 2, "age_hours"),
    ]
    with pytest.raises(relamp.InputError, match="age_hour"):
        relamp.claim_list({"serial": ["A"], "ending": ["burst"], "age_hour": [1.0]}, TERMS, as_of="2026-01-31")


SHAPE, SCALE = 1.6, 2400.0
WORLD = relamp.world({"burst": relamp.life("weibull", shape=SHAPE, scale=SCALE)}, relamp.costs(950.0, burst=5200.0))
LIMIT = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
ASKED: dict[str, Any] = {"cover": COVER, "planned_age_hours": 1800.0, "limit": LIMIT, "as_of": "2026-01-01"}


def test_claims_ahead_agree_with_scipy() -> None:
    life = stats.weibull_min(SHAPE, scale=SCALE)
    ages = np.array([0.0, 400.0, 900.0, 1790.0, 1900.0])
    weeks = np.array([60.0, 20.0, 80.0, 70.0, 70.0])
    ahead = relamp.claims_ahead(WORLD, ages, hours_per_week=weeks, days=182.0, **ASKED)
    ends = np.minimum(1800.0, ages + weeks / 7.0 * 182.0)
    chances = np.where(ends > ages, 1.0 - life.sf(ends) / life.sf(ages), 0.0)
    money = sum(
        integrate.quad(lambda t: 1000.0 * (1.0 - t / 2000.0) * life.pdf(t), a, e, epsrel=1e-12)[0] / life.sf(a)
        for a, e in zip(ages, ends, strict=True)
        if e > a
    )
    assert ahead.claims.mean == pytest.approx(chances.sum(), rel=1e-10)
    assert ahead.mean_money == pytest.approx(money, rel=1e-10)
    assert (ahead.lamps, ahead.under_cover, ahead.not_known, ahead.draws) == (5, 4, 0, None)
    whole = np.array([1.0])
    for p in chances:
        whole = np.convolve(whole, [1.0 - p, p])
    assert ahead.frame()["probability"].to_numpy() == pytest.approx(whole[:5], rel=1e-9, abs=1e-14)


def test_the_calendar_and_unknown_lamps_in_claims_ahead() -> None:
    cover = relamp.cover(WARRANTY, months=12, months_from="delivery")
    ask = {**ASKED, "cover": cover, "hours_per_week": 70.0}
    days = [datetime.date(2025, 12, 1), None, datetime.date(2024, 12, 1)]
    ahead = relamp.claims_ahead(WORLD, [100.0, 100.0, 100.0], delivered_on=days, **ask)
    assert (ahead.under_cover, ahead.not_known) == (1, 1)
    assert [slug for slug, _ in ahead.notes] == ["warranty.lamps_not_known"]
    as_text = ["2025-12-01", None, "2024-12-01"]
    assert relamp.claims_ahead(WORLD, [100.0] * 3, delivered_on=as_text, **ask) == ahead
    with pytest.raises(relamp.InputError, match="delivered_on"):
        relamp.claims_ahead(WORLD, [100.0], delivered_on=["soon"], **ask)
    with pytest.raises(relamp.InputError, match="one for each age"):
        relamp.claims_ahead(WORLD, [100.0], delivered_on=as_text, **ask)


def test_screens_that_stop_bring_claims_up_to_their_day() -> None:
    ages = [0.0, 400.0, 900.0]
    plain = relamp.claims_ahead(WORLD, ages, hours_per_week=70.0, days=90.0, **ASKED)
    as_of = datetime.date.fromisoformat(str(ASKED["as_of"]))
    last = as_of + datetime.timedelta(days=90)
    stopped = relamp.claims_ahead(WORLD, ages, hours_per_week=70.0, stop=[last, str(last), {last: 1.0}], **ASKED)
    assert stopped.claims.mean == pytest.approx(plain.claims.mean, rel=1e-12)
    assert stopped.mean_money == pytest.approx(plain.mean_money, rel=1e-12)
    none = relamp.claims_ahead(WORLD, ages, hours_per_week=70.0, stop=[as_of] * 3, **ASKED)
    assert (none.claims.mean, none.later_claims, none.under_cover, none.lamps) == (0.0, 0.0, 0, 3)
    with pytest.raises(relamp.InputError, match="row 2, column stop"):
        relamp.claims_ahead(WORLD, ages, hours_per_week=70.0, stop=[None, "2001-01-01", None], **ASKED)
    with pytest.raises(relamp.InputError, match="one for each age"):
        relamp.claims_ahead(WORLD, ages, hours_per_week=70.0, stop=[None], **ASKED)


def test_draws_widen_the_claims_ahead() -> None:
    tally = relamp.lives([100.0 + 30.0 * i for i in range(40)], ending=["burst"] * 40)
    draws = relamp.fit_causes(tally).draws(tally, relamp.costs(950.0, burst=5200.0), n=40, seed=1)
    ahead = relamp.claims_ahead(draws, [200.0] * 100, hours_per_week=70.0, days=90.0, **ASKED)
    assert ahead.draws == 40
    low, high = ahead.mean_money_90 or (0.0, 0.0)
    assert low < ahead.mean_money < high
    with pytest.raises(relamp.InputError, match="a World or Draws"):
        relamp.claims_ahead(tally, [1.0], hours_per_week=70.0, **ASKED)  # type: ignore[arg-type]
