"""Wrong column maps whose columns can all be read: the command, the report, `read_logs` and `read_table` tell them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import demo
import polars as pl
import pytest
import relamp
from relamp.command import main

AGAINST = "records.hours_against_programme"


def section_changed(file: Path, log: str, *changes: tuple[str, str]) -> None:
    """Changes the section of one log in a study file."""
    text = file.read_text(encoding="utf-8")
    start = text.index(f'file = "{log}"')
    end = text.index("\n\n", start)
    section = text[start:end]
    for before, after in changes:
        assert before in section
        section = section.replace(before, after, 1)
    file.write_text(text[:start] + section + text[end:], encoding="utf-8")


def swapped(one: str, other: str) -> list[tuple[str, str]]:
    """Changes that exchange the columns of two entries, each given as `name = "column"`."""
    (a, first), (b, second) = one.split(" = "), other.split(" = ")
    return [(one, f"{a} = {second}"), (other, f"{b} = {first}")]


@pytest.mark.parametrize(
    ("slug", "changes"),
    [
        ("records.hours_and_strikes", swapped('hours = "meter out"', 'strikes = "strikes"')),
        ("records.hours_a_day", swapped('hours = "meter out"', '\nscreen = "screen"')),
        ("records.place_holds_reasons", swapped('reason = "why out"', '\nsite = "site"')),
        ("records.removals_undated", swapped('removed_on = "out"', 'read_on = "last read"')),
        ("records.hours_a_day", [('hours_unit = "hours"', 'hours_unit = "minutes"')]),
    ],
    ids=["strikes", "screen", "site", "removal", "unit"],
)
def test_check_and_run_refuse_a_wrong_map(
    slug: str, changes: list[tuple[str, str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    section_changed(file, "logs/south.csv", *changes)
    out = tmp_path / "out"
    for task in (["check", str(file)], ["run", str(file), "--out", str(out)]):
        assert main(task) == 1
        said = capsys.readouterr().err
        assert slug in said
        assert "logs/south.csv" in said
        # The entry as it now stands, or what it should be.
        assert "of the column map" in said
    assert not out.exists()


def test_strikes_as_hours_are_warned_of_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    section_changed(file, "logs/south.csv", ('hours = "meter out"', 'hours = "strikes"'), ('\nstrikes = "strikes"', ""))
    said = 'Logs/south.csv: hours = "strikes" of the column map gives a median of 3.'
    assert main(["check", str(file)]) == 4
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith(f"WARNING: {said}") or lines[1].lower().startswith(f"warning: {said.lower()}")
    at = lines.index(f"1 x {AGAINST}, used")
    assert lines[at + 1].startswith('    logs/south.csv, strikes "3.')
    # Lamps that are due come before everything else, and their first line says where the warning stands.
    assert main(["run", str(file), "--out", str(tmp_path / "out")]) == 3
    shown = capsys.readouterr().out.lower()
    assert re.match(r"lamps at or past their limit at their last reading: \d+ \(read the warning below", shown)
    assert shown.index(f"\nwarning: {said.lower()}") < shown.index("\nclass  ")
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page.index("Do not act on this report yet") < page.index("Change first") + 2000
    assert "of the column map gives a median of 3." in page
    assert AGAINST in page
    assert "logs/south.csv:0" not in page


def lamps(n: int = 30) -> dict[str, list[Any]]:
    """Lamps that burned about 10 h a day, planned changes but for every fourth."""
    return {
        "serial": [f"A{i}" for i in range(n)],
        "class": ["2 kW"] * n,
        "site": ["S"] * n,
        "screen": [str(i) for i in range(n)],
        "in": ["2025-01-01"] * n,
        "out": ["2025-06-30"] * n,
        "why": ["popped" if i % 4 == 0 else "on plan" for i in range(n)],
        "hours": [1700.0 + 10 * i for i in range(n)],
        "strikes": [500 + 7 * i for i in range(n)],
    }


COLUMNS = {
    "serial": "serial",
    "lamp_class": "class",
    "site": "site",
    "screen": "screen",
    "fitted_on": "in",
    "removed_on": "out",
    "reason": "why",
    "hours": "hours",
    "strikes": "strikes",
}
DECLARED: dict[str, Any] = {"exported_on": "2025-12-28", "dates": "iso", "blank_hours_at_fitting": "new"}
REASONS = {"popped": "burst", "on plan": "planned"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    pl.DataFrame(lamps()).write_csv(tmp_path / "log.csv")
    return tmp_path


def both(folder: Path, columns: dict[str, str], reasons: dict[str, str], **more: Any) -> list[Any]:
    """Calls that read the same lamps from a file and from a frame."""
    log = DECLARED | {"file": "log.csv", "columns": columns} | more
    table = pl.DataFrame(lamps())
    return [
        lambda: relamp.read_logs(log, reasons=reasons, folder=folder),
        lambda: relamp.read_table(table, columns=columns, reasons=reasons, name="log.csv", **DECLARED, **more),
    ]


def test_a_right_map_is_read_without_a_word(folder: Path) -> None:
    for call in both(folder, COLUMNS, REASONS):
        reading = call()
        assert (reading.warning, reading.counts["used"]) == ("", 30)


def test_a_wrong_map_is_refused_from_python(folder: Path) -> None:
    exchanged = COLUMNS | {"hours": "strikes", "strikes": "hours"}
    for call in both(folder, exchanged, REASONS):
        with pytest.raises(relamp.InputError) as caught:
            call()
        (problem,) = caught.value.problems
        assert (problem.slug, problem.input, problem.column) == ("records.hours_and_strikes", "log.csv", "strikes")
        assert 'hours = "strikes" and strikes = "hours"' in problem.what
    for call in both(folder, COLUMNS, REASONS, hours_unit="minutes"):
        with pytest.raises(relamp.InputError, match=r'hours_unit = "hours" would give'):
            call()


def test_a_reason_map_that_fits_nothing_is_warned_of_from_python(folder: Path) -> None:
    for reasons in ({}, {"burned out": "dim"}):
        for call in both(folder, COLUMNS, reasons):
            with pytest.warns(
                relamp.RelampWarning, match=r"log\.csv: 30 of 30 endings \(100 %\) have no mapped reason"
            ):
                reading = call()
            assert 'reason = "why" of the column map' in reading.warning
            ledger = reading.ledger().frame().filter(pl.col("row") == 0)
            assert ledger["rule"].to_list() == ["records.reasons_unmapped"]
            assert relamp.Reading.from_json(reading.to_json()) == reading
