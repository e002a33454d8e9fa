"""Mistakes in the dicts of `read_logs` and `read_table`: all at once, in the words that a study file gets."""

from __future__ import annotations

import datetime
import pathlib
import shutil
from typing import Any

import numpy as np
import pandas as pd
import pytest
import relamp

COLUMNS = {
    "serial": "serial",
    "lamp_class": "class",
    "site": "site",
    "screen": "screen",
    "fitted_on": "in",
    "removed_on": "out",
    "reason": "why",
    "hours": "hours",
}
LOG: dict[str, Any] = {
    "file": "north.csv",
    "dates": "iso",
    "exported_on": "2025-12-28",
    "blank_hours_at_fitting": "new",
    "columns": COLUMNS,
}
TABLE = {
    "serial": ["A1"],
    "class": ["2 kW"],
    "site": ["S"],
    "screen": ["1"],
    "in": ["2025-01-01"],
    "out": ["2025-06-01"],
    "why": ["popped"],
    "hours": [900.0],
}
TEXT = ",".join(TABLE) + "\n" + ",".join(str(column[0]) for column in TABLE.values()) + "\n"


def told(error: relamp.RelampError) -> list[tuple[str, str, str, str]]:
    return [(p.input, p.column or "", p.slug, p.got) for p in error.problems]


def test_all_mistakes_of_all_logs_and_reasons_come_at_once() -> None:
    first = LOG | {"dates": "guess", "delimiter": ";;", "datse": 1, "columns": COLUMNS | {"hours": 8, "huors": "h"}}
    second = LOG | {"file": "west.csv", "exported_on": "28.12.2025", "columns": 3}
    third: dict[str, Any] = {"columns": {}}
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs([first, second, third], reasons={"popped": "bursted", "": "dim", "late": 3})
    needed = list(COLUMNS)
    assert told(caught.value) == [
        ("log 1, north.csv", "delimiter", "study.not_a_sign", '";;"'),
        ("log 1, north.csv", "dates", "study.word_unknown", '"guess"'),
        ("log 1, north.csv", "columns.hours", "study.not_a_text", "8"),
        ("log 1, north.csv", "columns.huors", "study.key_unknown", '"h"'),
        ("log 1, north.csv", "datse", "study.key_unknown", "1"),
        ("log 2, west.csv", "exported_on", "study.not_a_date", '"28.12.2025"'),
        ("log 2, west.csv", "columns", "study.not_a_table", "3"),
        ("log 3", "file", "study.key_missing", ""),
        ("log 3", "exported_on", "study.key_missing", ""),
        *(("log 3", f"columns.{key}", "study.key_missing", "") for key in needed),
        ("reasons", "popped", "study.ending_unknown", '"bursted"'),
        ("reasons", "", "study.reason_blank", ""),
        ("reasons", "late", "study.ending_unknown", "3"),
    ]
    assert all(p.expected for p in caught.value.problems)
    message = str(caught.value)
    assert all(foreign not in message for foreign in ("line 1", "unknown field", "unknown variant", "invalid type"))


def test_a_table_is_told_of_like_a_log() -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_table(
            TABLE,
            columns={k: v for k, v in COLUMNS.items() if k != "site"} | {"batch": ""},
            exported_on=20251228,
            reasons={"popped": "gone"},
            name="spring",
            dates=["iso"],
            hours_unit="min",
            colour="red",
        )
    assert told(caught.value) == [
        ("spring", "dates", "study.word_unknown", "a list"),
        ("spring", "hours_unit", "study.word_unknown", '"min"'),
        ("spring", "exported_on", "study.not_a_date", "20251228"),
        ("spring", "columns.site", "study.key_missing", ""),
        ("spring", "columns.batch", "study.text_blank", '""'),
        ("spring", "colour", "study.key_unknown", '"red"'),
        ("reasons", "popped", "study.ending_unknown", '"gone"'),
    ]


def test_the_words_are_those_of_the_study_file(tmp_path: pathlib.Path) -> None:
    """The same mistake in a study file and in a dict differs by the place, and by the marks that a text needs there."""
    # The logs lie beside it, so that nothing else is wrong.
    shutil.copytree("data/demo/second_log", tmp_path / "study")
    path = tmp_path / "study" / "study.toml"
    study = path.read_text()
    for key, value, written in [
        ("dates", "guess", '"guess"'),
        ("encoding", "latin1", '"latin1"'),
        ("decimal", "5", '"5"'),
        ("hours_unit", 60, "60"),
        ("records_from", "1.2.2020", '"1.2.2020"'),
        ("colour", True, "true"),
    ]:
        lines = [line for line in study.splitlines() if not line.startswith(f"{key} =")]
        lines.insert(lines.index("[[log]]") + 1, f"{key} = {written}")
        path.write_text("\n".join(lines))
        with pytest.raises(relamp.StudyError) as of_file:
            relamp.Study.open(path)
        with pytest.raises(relamp.InputError) as of_dict:
            relamp.read_logs(LOG | {key: value}, reasons={})
        (a,), (b,) = of_file.value.problems, of_dict.value.problems
        assert a.column == f"log[1].{b.column}"
        bare = not written.startswith('"') and a.expected.endswith(", in quotation marks")
        assert bare == (key == "hours_unit")
        expected = a.expected.removesuffix(", in quotation marks")
        assert (a.slug, a.what, a.got, expected) == (b.slug, b.what, b.got, b.expected), key


@pytest.mark.parametrize(
    "day",
    ["2025-12-28", datetime.date(2025, 12, 28), datetime.datetime(2025, 12, 28), pd.Timestamp("2025-12-28")],
    ids=["text", "date", "midnight", "pandas"],
)
def test_dates_paths_and_none_are_taken_as_they_are(day: Any, tmp_path: pathlib.Path) -> None:
    (tmp_path / "north.csv").write_text(TEXT)
    file = {"file": pathlib.Path("north.csv"), "exported_on": day, "thousands": None, "encoding": None}
    columns = COLUMNS | {"batch": None}
    reading = relamp.read_logs(LOG | file | {"columns": columns}, reasons={"popped": "burst"}, folder=tmp_path)
    assert reading.counts["used"] == 1
    table = relamp.read_table(
        TABLE, columns=columns, exported_on=day, reasons={"popped": "burst"}, blank_hours_at_fitting="new", dates=None
    )
    assert table.counts["used"] == 1


@pytest.mark.parametrize(
    ("value", "got"),
    [
        (b"iso", "bytes"),
        (np.float64(2.5), "2.5"),
        # Of so many digits no reader counts the zeros.
        (2**200, "1.6069380442589903e60"),
        ({"iso"}, "set"),
        ({"a": {"b": {"c": {}}}}, "a table"),
        (datetime.datetime(2025, 12, 28, 6), "2025-12-28T06:00:00"),
        ("\ud800", '"\ufffd\ufffd\ufffd"'),
    ],
    ids=repr,
)
def test_odd_values_are_shown_and_refused(value: object, got: str) -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs(LOG | {"dates": value}, reasons={})
    assert [(p.slug, p.got) for p in caught.value.problems] == [("study.word_unknown", got)]


@pytest.mark.parametrize("logs", ["north.csv", 3, [LOG, "west.csv"], [[LOG]]], ids=["text", "number", "one", "list"])
def test_what_is_no_log_is_refused_by_name(logs: Any) -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs(logs, reasons={})
    assert caught.value.problems[0].slug == "python.type"
    assert "a dict for each log" in str(caught.value)


def test_two_logs_of_one_file_are_refused() -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs([LOG, dict(LOG)], reasons={})
    assert told(caught.value) == [("log 2, north.csv", "file", "study.log_file", '"north.csv"')]


def test_reasons_must_be_a_dict_from_text_to_ending() -> None:
    reasons: Any = {1: "dim", None: "dim", b"popped": "burst", "late": None, "gone": pd.NA, "popped": "burst"}
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs(LOG, reasons=reasons)
    assert told(caught.value) == [
        ("reasons", "late", "study.ending_unknown", "None"),
        ("reasons", "gone", "study.ending_unknown", "<NA>"),
        ("reasons", "1", "python.type", "1 of type int"),
        ("reasons", "None", "python.type", "None of type NoneType"),
        ("reasons", "b'popped'", "python.type", "b'popped' of type bytes"),
    ]
    for wrong in (["a"], "a", None, 3):
        with pytest.raises(relamp.InputError) as caught:
            relamp.read_logs(LOG | {"dates": "guess"}, reasons=wrong)  # type: ignore[arg-type]
        assert [(p.input, p.slug) for p in caught.value.problems] == [
            ("log 1, north.csv", "study.word_unknown"),
            ("reasons", "python.type"),
        ]


def test_wrong_classes_and_columns_are_told_with_everything_else() -> None:
    classes: Any = {"2 kW": "2kW"}
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_logs(LOG | {"dates": "guess"}, reasons={"popped": "gone"}, classes=classes)
    assert [(p.input, p.slug) for p in caught.value.problems] == [
        ("log 1, north.csv", "study.word_unknown"),
        ("reasons", "study.ending_unknown"),
        ("classes", "python.type"),
    ]
    columns: Any = ["serial"]
    with pytest.raises(relamp.InputError) as caught:
        relamp.read_table(TABLE, columns=columns, exported_on="2025-12-28", reasons={}, classes=["", "a"])
    assert [(p.input, p.slug) for p in caught.value.problems] == [
        ("table", "study.not_a_table"),
        ("classes", "records.class_blank_name"),
    ]


def test_each_wrong_name_of_a_class_is_named_and_none_at_all_is_refused() -> None:
    def told(classes: Any) -> list[tuple[Any, ...]]:
        with pytest.raises(relamp.InputError) as caught:
            relamp.read_logs(LOG, reasons={"popped": "burst"}, classes=classes)
        return [(p.slug, p.input, p.row, p.column, p.got) for p in caught.value.problems]

    assert told(["2 kW", 1, None]) == [
        ("python.type", "classes", 2, None, "int"),
        ("python.type", "classes", 3, None, "NoneType"),
    ]
    assert told({"2 kW": ["a", 2.5], 3: []}) == [
        ("python.type", "classes", 2, "2 kW", "float"),
        ("python.type", "classes", 2, None, "int"),
    ]
    assert told("2 kW") == [("python.type", "classes", None, None, "str")]
    for none in ([], {}, ()):
        assert told(none) == [("python.classes", "classes", None, None, "none")]


def test_every_row_of_a_table_that_cannot_be_used_is_named() -> None:
    table = {name: column * 3 for name, column in TABLE.items()} | {"hours": [float("nan"), float("inf"), -1.0]}
    table["serial"] = ["A1", "A2", "A3"]
    read: Any = lambda t, columns: relamp.read_table(  # noqa: E731
        t,
        columns=columns,
        exported_on="2025-12-28",
        reasons={"popped": "burst"},
        blank_hours_at_fitting="new",
        dates="iso",
    )
    with pytest.raises(relamp.InputError) as caught:
        read(table, COLUMNS)
    assert [(p.slug, p.row, p.column, p.got) for p in caught.value.problems[1:]] == [
        ("records.hours_unreadable", 1, "hours", "NaN"),
        ("records.hours_unreadable", 2, "hours", "inf"),
        ("records.hours_negative", 3, "hours", "-1"),
    ]
    many = {name: column * 60 for name, column in TABLE.items()} | {"serial": [f"A{i}" for i in range(60)]}
    with pytest.raises(relamp.InputError) as caught:
        read(many, COLUMNS | {"fitted_on": "out", "removed_on": "in"})
    first, *rows, last = caught.value.problems
    assert first.slug == "records.no_usable_rows"
    assert [(p.slug, p.row) for p in rows] == [("records.removed_before_fitted", i + 1) for i in range(50)]
    assert last.what == "10 more rows of the log cannot be used either"
