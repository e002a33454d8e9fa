"""The purchase plan and the stock list of a study, in frames, in the report and on the command line."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import demo
import pytest
import relamp
from markupsafe import escape
from relamp import command, report
from scipy import stats


def test_the_plan_in_frames_agrees_with_the_study() -> None:
    results = demo.output().results
    plan = results.purchase_plan().frame()
    by_class = {c.name: c.to_dict() for c in results.classes}
    assert plan["lamp_class"].unique(maintain_order=True).to_list() == list(by_class)
    for name, answers in by_class.items():
        rows = plan.filter(plan["lamp_class"] == name).to_dicts()
        stock, bounds = answers["stock"], answers["bounds"]
        now = stock["order_lamps"] if stock else bounds["spares"]["order_least_lamps"]
        assert rows[0]["row"] == "now"
        assert rows[0]["least_lamps"] == now
        assert rows[0]["order_lamps"] >= now
        months = (answers["demand"] or bounds)["months"]
        assert [r["from"].isoformat() for r in rows[1:]] == [m["from"] for m in months]
        if stock:
            assert [r["mean_lamps"] for r in rows[1:]] == [m["mean_lamps"] for m in months]
        bought = sum(r["price"] or 0.0 for r in rows)
        held = results.to_dict()["purchase_plan"]["classes"][list(by_class).index(name)]
        assert held["order_price"] == pytest.approx(bought)


def test_a_list_of_poisson_needs_meets_another_library() -> None:
    """Orders of a constant rate against quantiles of scipy, week by week."""
    life = relamp.life("exponential", scale=1000.0)
    world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    limit = relamp.hour_limit(maximum_hours=1e9, source="invented")
    lamps: dict[str, Any] = {"hours_per_week": 7.0, "planned_age_hours": 1e9, "limit": limit}
    weeks = relamp.forecast(world, [0.0] * 100, **lamps, periods=12, period_days=7.0)
    lead = relamp.forecast(world, [0.0] * 100, **lamps, periods=1, period_days=21.0).needed(1)
    plan = relamp.purchase_list(weeks, lead, lead_time_days=21, service_target=0.9, price=100.0, on_hand=1)
    # A hundred screens of an hour a day and one failure in 1,000 h need 0.1 lamps a day by chance.
    levels = [int(stats.poisson.ppf(0.9, 0.7 * week)) for week in range(1, 13)]
    rows = plan.frame().to_dicts()
    assert [r["level_by_end"] for r in rows] == levels
    assert plan.order_now == levels[2] - 1
    held = levels[2]
    for row, level in zip(rows[3:], levels[3:], strict=True):
        assert (row["order_lamps"] or 0) == max(0, level - held)
        if row["order_lamps"]:
            assert row["order_day"] == row["to_day"] - 7 + 1 - 21
        held = max(held, level)
        assert row["service_by_end"] == pytest.approx(stats.poisson.cdf(held, 0.1 * row["to_day"]), abs=1e-4)
    assert plan.order_lamps == levels[-1] - 1
    assert plan.price == 100.0 * plan.order_lamps
    with pytest.raises(relamp.InputError, match="lead_time_days"):
        relamp.purchase_list(weeks, lead, lead_time_days=9999, service_target=0.9, price=100.0)


def test_the_stock_list_in_frames_adds_up() -> None:
    results = demo.output().results
    places = results.stock_list().frame()
    body = results.to_dict()["stock_list"]
    assert set(places["kind"]) == {"depot", "site", "own_store"}
    for stores in body["classes"]:
        rows = places.filter(places["lamp_class"] == stores["lamp_class"])
        assert rows["level_lamps"].sum() == stores["level_lamps"]
        assert rows["on_hand_lamps"].sum() == stores["on_hand_lamps"]
        assert rows["to_buy_lamps"].sum() == stores["to_buy_lamps"]
        assert stores["level_lamps"] >= stores["one_store_level_lamps"]
        depots = rows.filter(rows["kind"] == "depot")
        sites = rows.filter(rows["kind"] == "site")
        assert depots["screens"].sum() == sites["screens"].sum()
    assert results.stock_findings().frame()["rule"].to_list() == ["stock.place_unknown"]


def test_the_report_shows_plan_and_list_with_every_figure_in_its_place() -> None:
    saved = demo.saved()
    page = report.html(saved)
    assert 'id="buying"' in page
    assert 'id="stores"' in page
    plan, stores = saved["body"]["purchase_plan"], saved["body"]["stock_list"]
    assert f'title="body.purchase_plan.order_lamps">{plan["order_lamps"]}<' in page
    # Every figure on the page is the number at the place that it names.
    found = re.findall(r'<data value="([^"]*)" title="body\.((?:purchase_plan|stock_list)[^"]*)">', page)
    assert len(found) > 300
    for value, place in found:
        if "[]" in place:
            continue
        at: Any = saved["body"]
        for step in re.findall(r"[a-z_0-9]+", place):
            at = at[int(step)] if step.isdigit() else at[step]
        assert float(value) == at, place
    for note in plan["notes"] + stores["notes"]:
        assert escape(report.sentence(note)) in page
    # Results of before have neither.
    del saved["body"]["purchase_plan"], saved["body"]["stock_list"]
    page = report.html(saved)
    assert 'id="buying"' not in page
    assert 'id="stores"' not in page


def test_rows_of_the_count_that_are_set_aside_are_told_in_the_summary() -> None:
    def summary(saved: Any) -> str:
        page = report.html(saved)
        text = re.sub(r"<[^>]+>", "", page[page.index('id="summary"') : page.index('id="class-0"')])
        return " ".join(text.split())

    saved = demo.saved()
    count = saved["body"]["stock_list"]["count"]
    assert count["set_aside_count"] == 1
    assert f"In the stock count stock.csv 1 of {count['rows_count']} rows is set aside: the lamps in it" in summary(
        saved
    )
    count["set_aside_count"], count["used_count"] = 3, count["rows_count"] - 3
    assert f"3 of {count['rows_count']} rows are set aside: the lamps in them are counted nowhere" in summary(saved)
    count["set_aside_count"], count["used_count"] = 0, count["rows_count"]
    assert "In the stock count" not in summary(saved)


def test_hostile_names_of_places_stay_text() -> None:
    saved = demo.saved()
    saved["body"]["stock_list"]["classes"][0]["places"][0]["place"] = "<script>alert(1)</script>"
    saved["body"]["purchase_plan"]["classes"][0]["sentence"] = "<b>buy</b>"
    page = report.html(saved)
    assert "<script" not in page
    assert "<b>buy</b>" not in page


def test_a_run_writes_both_tables_and_says_what_to_buy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    command.main(["run", str(demo.copy(tmp_path / "study")), "--out", str(out)])
    said = capsys.readouterr().out
    assert "To buy: " in said
    assert "To hold: 2 depots fill" in said
    assert (
        '1 finding in the stock count (1 row set aside), the first in stock.csv, line 27, store "Old depot": ' in said
    )
    with open(out / "stock_list.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == demo.output().results.stock_list().columns
    with open(out / "purchase_plan.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == demo.output().results.purchase_plan().columns
    assert [r["order_lamps"] for r in rows if r["row"] == "now"] != []
