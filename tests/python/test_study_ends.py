"""Claims and last buys of a study: frames and files tell the same, and figures are found again from their parts."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path
from typing import Any

import demo
import polars
import pytest
import relamp
from relamp import _ends, command, plots_buy, report


@pytest.fixture(scope="module")
def results() -> Any:
    return demo.output().results


@pytest.fixture(scope="module")
def body() -> Any:
    return demo.saved()["body"]


def test_the_frame_of_claims_is_the_file_and_the_list_of_the_results(results: Any, body: Any, tmp_path: Path) -> None:
    demo.output().write(tmp_path / "out")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out" / "claims.csv").read_text(encoding="utf-8"))))
    frame = results.claims.frame()
    assert len(rows) == len(frame) == len(body["claims"]["list"]["claims"]) > 20
    for key in ("serial", "standing", "site", "missing"):
        assert [r[key].lstrip("'") for r in rows] == [x.lstrip("'") for x in frame[key].to_list()]
    assert results.claims.sentence == body["claims"]["sentence"]
    buys = list(csv.DictReader(io.StringIO((tmp_path / "out" / "last_buys.csv").read_text(encoding="utf-8"))))
    table = results.last_buys()
    assert table.columns == list(buys[0])
    assert [int(r["buy_lamps"]) for r in buys] == table.frame()["buy_lamps"].to_list()
    assert {r["programme"] for r in buys} == set(_ends.PROGRAMMES)


def test_what_is_due_pro_rata_is_the_price_of_the_hours_not_burnt(results: Any) -> None:
    frame = results.claims.frame().filter(polars.col("lamp_class") == "2.0 kW", polars.col("due") > 0)
    assert len(frame) > 10
    for age, due, gain in frame.select("age_hours", "due", "gain").iter_rows():
        assert due == pytest.approx(780.0 * (1.0 - age / 2000.0), rel=1e-12)
        assert gain == pytest.approx(0.8 * due - 60.0, rel=1e-12, abs=1e-9)
    # Those to file come with the most worth first, all of them worth something and within their deadline.
    to_file = results.claims.frame().filter(polars.col("standing") == "file")
    gains = to_file["gain"].to_list()
    assert gains == sorted(gains, reverse=True)
    assert min(gains) > 0
    assert min(to_file["days_left"].to_list()) >= 0


def test_a_list_made_from_the_same_records_by_calls_says_the_same(results: Any, body: Any) -> None:
    reading = relamp.Study.open(demo.STUDY, draws=demo.DRAWS).read()
    by_class = {c["lamp_class"]: c["terms"] for c in body["claims"]["by_class"]}
    failures = ["burst", "seal", "no_strike", "flicker", "dim"]
    money = relamp.warranty(form="pro_rata", price=780.0, hours=2000.0, endings=failures)
    terms = relamp.claim_terms(
        relamp.cover(money), needed=["serial", "photo"], chance=0.8, handling_cost=60.0, days_to_file=120
    )
    assert set(by_class) == {"2.0 kW", "4.0 kW"}
    alone = relamp.claim_list(reading, {"2.0 kW": terms}, as_of="2025-12-28").frame()
    ours = results.claims.frame().filter(polars.col("lamp_class") == "2.0 kW")
    due = dict(zip(alone["serial"], alone["due"], strict=True))
    assert all(due[serial] == value for serial, value in zip(ours["serial"], ours["due"], strict=True))


def test_claims_of_the_next_year_are_those_of_the_call(results: Any, body: Any) -> None:
    ahead = results.claims_ahead["2.0 kW"]
    told = next(c["ahead"] for c in body["claims"]["by_class"] if c["lamp_class"] == "2.0 kW")
    chances = ahead.claims.probabilities
    first = ahead.claims.first
    mean = sum((first + i) * p for i, p in enumerate(chances))
    assert told["claims_mean"] == pytest.approx(mean, rel=1e-9)
    below = sum(p for i, p in enumerate(chances) if first + i < told["claims_low"])
    up_to = sum(p for i, p in enumerate(chances) if first + i <= told["claims_high"])
    assert below < 0.05
    assert up_to >= 0.95
    assert told["claims_low"] < mean < told["claims_high"]


def test_a_last_buy_is_found_again_from_its_distribution(results: Any, body: Any) -> None:
    (name,) = results.declared_last_buys
    buy = results.declared_last_buys[name]
    (told,) = body["last_buys"]["buys"]
    assert told["lamp_class"] == name == "6.5 kW"
    chances = dict(enumerate(buy.needed.probabilities, start=buy.needed.first))
    ratio = (told["costs"]["cost_short"] - told["price"]) / (told["costs"]["cost_short"] - told["costs"]["money_back"])
    for rule, level in (("by_risk", 0.95), ("by_costs", ratio)):
        quantity = told["scenarios"][0][rule]
        least = next(n for n in chances if sum(p for m, p in chances.items() if m <= n) >= level - 1e-12)
        assert quantity["quantity_lamps"] == least
        assert quantity["ratio"] == pytest.approx(level)
        left = sum(max(quantity["held"]["lamps"] - n, 0) * p for n, p in chances.items())
        assert quantity["held"]["expected_left"] == pytest.approx(left, rel=1e-9)
        assert quantity["buy_lamps"] == least - told["on_hand_lamps"] - told["on_order_lamps"]
    means = {s["programme"]: s["mean_lamps"] for s in told["scenarios"]}
    assert means["no_stop"] > means["late"] > means["declared"] > means["earlier"]
    assert plots_buy.last_buy(buy).get_title(loc="left").startswith("Last buy: ")


def test_stops_change_lamps_needed_and_neither_model_nor_age(tmp_path: Path) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    head, classes = text.split("\n[claims]\n")[0], text[text.index("\n[[class]]\n") :]
    parts = [p.split("[class.warranty]")[0] for p in classes.split("\n[[class]]\n")[1:]]
    file.write_text(head + "".join(f"\n[[class]]\n{p}" for p in parts), encoding="utf-8")
    without = json.loads(relamp.Study.open(file).run().results.to_json())["body"]
    # What a warranty pays back moves ages, whatever stops.
    file.write_text(text.replace("[class.warranty]", '[class.warranty]\nmoney_back = "left_out"'), encoding="utf-8")
    body = json.loads(relamp.Study.open(file).run().results.to_json())["body"]
    stopping = {s["lamp_class"]: s for s in body["last_buys"]["stopping"]}
    assert stopping
    fewer = 0
    for plain, stops in zip(without["classes"], body["classes"], strict=True):
        for part in ("model", "curve", "advised_age_hours", "due"):
            assert plain[part] == stops[part]
        # A screen that stops within the year saves until then; nothing else of the age depends on it.
        a_year = "saving_against_today_per_year"
        before, after = plain["policy"][a_year], stops["policy"][a_year]
        assert {**plain["policy"], a_year: None} == {**stops["policy"], a_year: None}
        assert abs(after) < abs(before) or before == 0 or plain["name"] not in stopping
        if (stop := stopping.get(plain["name"])) is None:
            assert plain == stops
            continue
        assert stops["demand"]["stopping_lamps_count"] == stop["conversion_lamps_count"] + stop["closing_lamps_count"]
        for a, b in zip(plain["demand"]["months"], stops["demand"]["months"], strict=True):
            if b["to"] < stop["first_on"]:
                assert a["mean_lamps"] == pytest.approx(b["mean_lamps"], rel=1e-12)
                assert (a["p50_lamps"], a["p95_lamps"]) == (b["p50_lamps"], b["p95_lamps"])
            elif b["from"] > stop["first_on"]:
                assert b["mean_lamps"] < a["mean_lamps"]
                fewer += 1
        assert any("declared to stop" in w for w in stops["warnings"])
    assert fewer > 0
    assert "claims" not in without
    assert "last_buys" not in without
    results = relamp.StudyResults.from_json(json.dumps({**demo.saved(), "body": without}))
    assert results.claims is None
    assert results.claims_ahead == {}
    assert len(results.last_buys()) == 0
    page = report.html(results)
    assert 'id="claims"' not in page
    assert 'id="last-buys"' not in page


@pytest.mark.parametrize("days", ["earliest = 2026-03-01\nlatest = 2026-09-01", "on = 2026-04-10", "on = 2026-01-02"])
def test_results_with_stops_load_again(tmp_path: Path, days: str) -> None:
    folder = tmp_path / "second"
    shutil.copytree(demo.STUDY.parent / "second_log", folder)
    file = folder / "study.toml"
    text = file.read_text(encoding="utf-8").replace("\n[study]\n", "\n[study]\ndraws = 20\n", 1)
    sites = "".join(f'[[stop]]\nsite = "Site {i:02}"\nkind = "closing"\n{days}\n\n' for i in (1, 2, 3))
    file.write_text(text.replace("[[log]]", f"{sites}[[log]]", 1), encoding="utf-8")
    results = relamp.Study.open(file).run().results
    assert relamp.StudyResults.from_json(results.to_json()) == results
    for c in results.to_dict()["classes"]:
        for month in c["demand"]["months"]:
            assert min(month["planned_mean_lamps"], month["failure_mean_lamps"], month["mean_lamps"]) >= 0.0


def test_an_earlier_day_after_the_stop_is_refused(tmp_path: Path) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    stop = '[[stop]]\nsite = "Site 05"\nkind = "closing"\non = 2026-05-01\nearlier_on = 2026-06-01\n\n'
    file.write_text(text.replace("[[log]]", f"{stop}[[log]]", 1), encoding="utf-8")
    with pytest.raises(relamp.StudyError, match="earlier day of a stop lies after its last day"):
        relamp.Study.open(file)


def test_report_and_terminal_tell_both(
    results: Any, body: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = report.html(results)
    for words in (
        "Before a lamp type ends",
        "Last buy of 6.5 kW: to order by",
        "Warranty claims",
        "Worth filing now, the most worth first",
        "elsewhere in this report count what the warranty pays back for 2.0 kW, 4.0 kW.",
        "Ages, costs and savings of 2.0 kW, 4.0 kW count what the warranty pays back.",
        "count these stops",
        "from the last buy",
    ):
        assert words in page, words
    command.main(["run", str(demo.copy(tmp_path / "demo")), "--out", str(tmp_path / "out")])
    said = capsys.readouterr().out
    assert "6.5 kW, last buy: until 2027-07-01" in said
    assert f"Warranty: {body['claims']['sentence']}" in said
    assert "last_buys.csv" in said
    # What the last buy asks for stands beside the plan that does not hold it.
    buy = body["last_buys"]["buys"][0]["scenarios"][0]["by_risk"]
    assert f"{buy['buy_lamps']} lamps for {report.FORMATS['money'](buy['buy_price'])} EUR by the risk" in said
    assert said.count("declared to stop") == len(body["last_buys"]["stopping"])
    assert "claims.csv" in said
    assert (tmp_path / "out" / "claims.csv").exists()


def test_the_plan_places_no_order_after_the_last_day_of_the_maker(results: Any, body: Any) -> None:
    (buy,) = body["last_buys"]["buys"]
    frame = results.purchase_plan().frame()
    ended = frame.filter(polars.col("lamp_class") == buy["lamp_class"])
    assert str(ended["order_by"].drop_nulls().max()) <= buy["last_order_on"]
    months = ended.filter(polars.col("row") == "month")
    rows = months.select("level_by_end_lamps", "lamps_by_end_lamps", "too_late_lamps", "from", "to").rows()
    (now,) = [c["now"] for c in body["purchase_plan"]["classes"] if c["lamp_class"] == buy["lamp_class"]]
    missing = []
    for level, there, late, first, last in rows:
        short = max(0, level - there)
        # The month within which the order of today comes may show more as too late: what is missing until it comes.
        comes = str(first) <= now["arrives_on"] <= str(last)
        assert comes or late <= short
        missing.append(max(0, short - late))
    assert months["from_last_buy_lamps"].to_list() == missing
    assert months["from_last_buy_lamps"].to_list()[-1] > 0
    others = frame.filter(polars.col("lamp_class") != buy["lamp_class"])
    assert others["from_last_buy_lamps"].null_count() == len(others)
    (said,) = _ends.plan_ends(body)
    assert said.startswith(f"{buy['lamp_class']}: the plan places no order after {buy['last_order_on']}")


def test_a_last_buy_without_a_quantity_says_why(body: Any) -> None:
    refused = {"lamp_class": "9 kW", "sentence": "", "refusal": {"sentence": "no model", "slug": "x"}}
    told = {**body, "claims": None, "last_buys": {"buys": [refused], "stopping": []}}
    assert _ends.points(told) == [("Last buy", ["9 kW: no last buy can be told, as no model"])]
