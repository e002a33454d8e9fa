"""Stock counts from files and frames, with findings of their own."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import polars
import pytest
import relamp

TEXT = (
    "Lampe;Ort;Bestand;bestellt;Termin\n"
    "2 kW;Lager Nord;1.200;6;20.02.2026\n"
    "2 kW;Kino 7;-1;;\n"
    "9 kW;Kino 7;2;;\n"
    "4 kW;Kino 7;1,5;;\n"
    "4 kW;Lager Nord;;3;\n"
)
CALLED = {"lamp_class": "Lampe", "place": "Ort", "on_hand": "Bestand", "on_order": "bestellt", "due_on": "Termin"}


def test_a_file_is_read_by_the_owners_conventions(tmp_path: Path) -> None:
    path = tmp_path / "count.csv"
    path.write_bytes(TEXT.encode("windows-1252"))
    with pytest.warns(relamp.RelampWarning, match="3 of 5 rows were set aside"):
        count = relamp.stock_count(
            path,
            counted_on=datetime.date(2026, 1, 31),
            columns=CALLED,
            classes={"2 kW": ["2000 W"], "4 kW": []},
            places=["Lager Nord", "Kino 7"],
            delimiter=";",
            decimal=",",
            thousands=".",
            dates="day-first",
            encoding="windows-1252",
        )
    assert count.counts == {"rows": 5, "used": 2, "set_aside": 3}
    assert count.on_hand("2 kW") == 1200
    found = count.ledger().frame().select("file", "row", "line", "column", "value", "rule", "outcome").rows()
    assert found == [
        ("count.csv", 2, 3, "Bestand", "-1", "stock.count_negative", "set_aside"),
        ("count.csv", 3, 4, "Lampe", "9 kW", "stock.class_unknown", "set_aside"),
        ("count.csv", 4, 5, "Bestand", "1,5", "stock.count_not_whole", "set_aside"),
        ("count.csv", 5, 6, "Termin", "", "stock.lead_time_missing", "used"),
    ]
    assert count.on_order("2 kW", due_by="2026-02-20") == 6
    assert count.orders().frame()["due_on"].to_list() == [datetime.date(2026, 2, 20), None]


def test_frames_of_every_kind_give_one_count() -> None:
    columns: dict[str, list[Any]] = {
        "lamp_class": ["2 kW", "2 kW", "2 kW"],
        "place": ["Depot", "Site 7", "Depot"],
        "on_hand": [4, 1, None],
        "serial": [None, None, "U1"],
        "age_hours": [None, None, 900.0],
        "ending": [None, None, "moved"],
    }
    frame = polars.DataFrame(columns)
    first = relamp.stock_count(columns, counted_on="2026-01-31", limits={"2 kW": 2000.0})
    for other in (frame, frame.to_arrow(), frame.to_pandas(use_pyarrow_extension_array=True)):
        assert relamp.stock_count(other, counted_on="2026-01-31", limits={"2 kW": 2000.0}) == first
    assert first.frame().rows() == [("2 kW", "Depot", 4, 0, None, 1), ("2 kW", "Site 7", 1, 0, None, 0)]
    assert first.used_lamps().frame()["serial"].to_list() == ["U1"]
    assert first.counted_on == datetime.date(2026, 1, 31)
    with pytest.warns(relamp.RelampWarning):
        held = relamp.stock_count(columns, counted_on="2026-01-31", limits={"2 kW": 900.0})
    assert held.ledger().frame()["rule"].to_list() == ["stock.used_at_limit"]


def test_what_was_not_counted_is_refused_with_what_the_count_holds() -> None:
    count = relamp.stock_count(
        {"lamp_class": ["2 kW", "4 kW"], "place": ["Depot", "Site 7"], "on_hand": [4, 1]}, counted_on="2026-01-31"
    )
    assert count.on_hand("2 kW", place="Site 7") == 0
    with pytest.raises(relamp.InputError, match=r'"3 kW".*the count holds: "2 kW", "4 kW"'):
        count.on_hand("3 kW")
    with pytest.raises(relamp.InputError, match=r'the nearest is "Depot".*"depot".*the count holds: "Depot", "Site 7"'):
        count.on_hand("2 kW", place="depot")
    with pytest.raises(relamp.InputError, match="3 kW"):
        count.on_order("3 kW", due_by="2026-03-01")


def test_a_count_feeds_the_stock_level() -> None:
    count = relamp.stock_count(
        {"lamp_class": ["2 kW"], "place": ["Depot"], "on_hand": [3], "on_order": [1]},
        counted_on="2026-01-31",
        lead_time_days={"2 kW": 21},
    )
    needed = relamp.Count.poisson(4.0)
    advice = relamp.stock_level(
        needed,
        service_target=0.85,
        on_hand=count.on_hand("2 kW"),
        on_order=count.on_order("2 kW", due_by="2026-02-21"),
    )
    assert (advice.level, advice.order) == (6, 2)


def test_what_is_no_count_is_refused_by_name() -> None:
    good = {"lamp_class": ["2 kW"], "place": ["Depot"], "on_hand": [3]}
    for options, name in (
        ({"delimiter": ";;"}, "delimiter"),
        ({"decimal": "x"}, "decimal"),
        ({"dates": "american"}, "dates"),
        ({"encoding": "latin"}, "encoding"),
        ({"separator": ";"}, "separator"),
        ({"delimiter": 3}, "delimiter"),
        ({"places": "Depot"}, "places"),
        ({"lead_time_days": {"2 kW": 1.5}}, "lead_time_days"),
        ({"lead_time_days": {"2 kW": "3"}}, "lead_time_days"),
        ({"limits": {"2 kW": -1.0}}, "2 kW"),
        ({"columns": {"lamps": "x"}}, "lamps"),
        ({"columns": {"on_hand": 3}}, "columns"),
    ):
        with pytest.raises(relamp.InputError, match=name):
            relamp.stock_count(good, counted_on="2026-01-31", **options)
    slip = {"lamp_class": ["2 kW"], "place": ["Depot"], "onhand": [1]}
    with pytest.raises(relamp.InputError, match="onhand"):
        relamp.stock_count(slip, counted_on="2026-01-31")
    with pytest.raises(FileNotFoundError):
        relamp.stock_count("no/such.csv", counted_on="2026-01-31")
