"""Every result class prints, saves, pickles, compares and goes out as a frame."""

from __future__ import annotations

import copy
import json
import multiprocessing
import os
import pickle
import subprocess
import sys
import types
from pathlib import Path
from typing import Any

import polars as pl
import pyarrow as pa
import pytest
import relamp
from conftest import read_small_log

CLASSES = [
    "Tally",
    "Curve",
    "Incidence",
    "Fit",
    "Life",
    "MeanHours",
    "SelfConsistent",
    "GroupTest",
    "EndingBounds",
    "IncidenceBounds",
    "DependentCurve",
    "RemovalBounds",
    "RemovalDial",
    "DialAnswer",
    "TwoClocks",
    "CurrentHistoryFit",
    "Costs",
    "HourLimit",
    "PlannedAge",
    "CostCurve",
    "Count",
    "Forecast",
    "ChainForecast",
    "PolicyWave",
    "PlayedChain",
    "PlayedFleet",
    "PurchaseList",
    "StockAdvice",
    "LastBuy",
    "Places",
    "PlacesService",
    "Pooling",
    "ClassCurve",
    "StockMix",
    "LeadDemand",
    "StockCosts",
    "StockService",
    "StockPlan",
    "DatedStock",
    "ShelfAge",
    "EmergencyPlan",
    "PoissonShortcut",
    "Reading",
    "Interval",
    "Bootstrap",
    "FitCheck",
    "CauseFits",
    "AgeInterval",
    "StudyResults",
    "StudyOutput",
    "ClassResult",
    "KnownShapeFit",
    "PlottingPositions",
    "RankFit",
    "ShapeCorrection",
    "ProbabilityPlot",
    "InformationTable",
    "FailuresAhead",
    "LikelihoodRatio",
    "DistanceTest",
    "ProfileCurve",
    "LikelihoodRegion",
    "LimitPlan",
    "Posterior",
    "Phases",
    "FamilyVerdict",
    "HazardResiduals",
    "WindowedLife",
    "Sockets",
    "Recurrence",
    "RecurrenceDifference",
    "RecurrenceTest",
    "Trend",
    "PowerLaw",
    "PowerLawDistance",
    "ExpectedEndings",
    "ExpectedChanges",
    "ChangeCounts",
    "Watch",
    "ReplayedAge",
    "PredictionReplay",
    "CovariateFit",
    "HazardFit",
    "CovariateResiduals",
    "Proportionality",
    "PooledGroups",
    "PairFit",
    "PairCost",
    "Warranty",
    "Salvage",
    "RecordsValue",
    "VisitAge",
    "VisitCost",
    "WarrantyValue",
    "Cover",
    "ClaimTerms",
    "ClaimList",
    "ClaimsAhead",
    "StockCount",
    "DarkMinutes",
    "Discount",
    "CappedAge",
    "CostParts",
    "AgeComparison",
    "LeastRegret",
    "CostBars",
    "LifeBars",
    "PriceScenarios",
    "DialTurn",
    "EndingsByAge",
    "HorizonCosts",
    "HorizonAge",
    "BlockCosts",
    "BlockInterval",
    "SiteAge",
    "SiteCosts",
    "World",
    "Draws",
    "Study",
    "Table",
]


def test_the_list_is_complete(results: dict[str, Any]) -> None:
    saved = {n for n in relamp.__all__ if hasattr(getattr(relamp, n), "from_json")}
    assert len(saved) > 15
    assert saved == set(CLASSES) == set(results)


@pytest.mark.parametrize("name", CLASSES)
def test_what_an_attribute_holds_in_order_cannot_be_added_to(name: str, results: dict[str, Any]) -> None:
    result = results[name]
    kind = type(result)
    held = [n for n in dir(kind) if isinstance(getattr(kind, n), types.GetSetDescriptorType) and not n.startswith("_")]
    # A table names its columns as every data frame does.
    held = [n for n in held if (name, n) != ("Table", "columns")]
    assert not [n for n in held if isinstance(getattr(result, n), list)]


@pytest.mark.parametrize("name", CLASSES)
def test_saved_form_comes_back_to_equal_bits(name: str, results: dict[str, Any], tmp_path: Path) -> None:
    result = results[name]
    again = type(result).from_json(result.to_json())
    assert again == result
    assert again.to_json() == result.to_json()
    result.save(tmp_path / "saved.json")
    assert type(result).load(tmp_path / "saved.json") == result
    assert not list(tmp_path.glob("*.part"))
    whole = json.loads(result.to_json())
    assert {"format", "version", "made_by", "body"} <= set(whole)
    assert result.to_dict() == whole["body"]


@pytest.mark.parametrize("name", CLASSES)
def test_pickle_and_copy(name: str, results: dict[str, Any]) -> None:
    result = results[name]
    for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1):
        assert pickle.loads(pickle.dumps(result, protocol)) == result
    assert copy.deepcopy(result) == result
    assert copy.copy(result) == result
    assert result != 1
    assert type(result).__module__ == "relamp"
    assert getattr(relamp, type(result).__qualname__) is type(result)


@pytest.mark.parametrize("name", CLASSES)
def test_other_and_newer_saved_forms_are_refused(name: str, results: dict[str, Any]) -> None:
    cls = type(results[name])
    whole = json.loads(results[name].to_json())
    newer = json.dumps({**whole, "version": whole["version"] + 1})
    other = json.dumps({**whole, "format": "something_else"})
    more = json.dumps({**whole, "more": 1})
    for text in (newer, other, more, "", "{}", "null", "[1]"):
        with pytest.raises(relamp.InputError):
            cls.from_json(text)


@pytest.mark.parametrize("name", CLASSES)
def test_printed_forms(name: str, results: dict[str, Any]) -> None:
    result = results[name]
    line = repr(result)
    assert "\n" not in line
    assert line.startswith(f"{name}(")
    assert len(line) < 600
    assert result.summary().splitlines()[0] == name
    assert str(result) == result.summary()
    html = result._repr_html_()
    assert html.startswith("<table>")
    assert "<script>" not in html


@pytest.mark.parametrize("name", CLASSES)
def test_tables_go_out_as_frames(name: str, results: dict[str, Any]) -> None:
    result = results[name]
    frame = result.frame()
    assert isinstance(frame, pl.DataFrame)
    assert frame.height > 0
    assert len(result.table()) == frame.height
    assert result.table().columns == frame.columns
    assert pl.DataFrame(result).equals(frame)
    assert pa.table(result).num_rows == frame.height
    assert pl.DataFrame(result.table()).equals(frame)


@pytest.mark.parametrize("name", CLASSES)
def test_results_are_frozen(name: str, results: dict[str, Any]) -> None:
    with pytest.raises((AttributeError, TypeError)):
        results[name].anything = 1
    with pytest.raises((AttributeError, TypeError)):
        type(results[name])()


def test_printed_form_is_pinned(base: relamp.Tally) -> None:
    assert repr(base) == (
        "Tally(rows=7, lamps=10, failures=6, exposure_hours=9748, oldest_at_risk=1200, oldest_failure=1188, groups=1)"
    )
    assert base.summary().splitlines()[1:3] == ["  rows            7", "  lamps           10"]
    curve = relamp.product_limit(base)
    assert repr(curve).startswith("Curve(lamps=10, failures=6, steps=6, median=1010, last_age=1200, ")


def test_text_from_data_is_escaped() -> None:
    html = read_small_log().spells()._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def _twice(fit: relamp.Fit) -> tuple[str, relamp.Fit]:
    return fit.to_json(), fit


def test_results_travel_to_other_processes(results: dict[str, Any]) -> None:
    fit = results["Fit"]
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        [(text, again)] = pool.map(_twice, [fit])
    assert text == fit.to_json()
    assert again == fit


def _fit_again(pickled: bytes) -> str:
    text: str = relamp.product_limit(pickle.loads(pickled)).to_json()
    return text


@pytest.mark.skipif(sys.platform != "linux", reason="fork is the way of Linux")
def test_work_goes_on_in_a_forked_process(base: relamp.Tally) -> None:
    # The thread pool of the parent has no threads in the child: without care the child would wait for ever.
    script = (
        "import os, pickle, sys, relamp\n"
        "tally = relamp.lives([float(i) for i in range(1, 40000)])\n"
        "one = relamp.product_limit(tally).to_json()\n"
        "pid = os.fork()\n"
        "if pid == 0:\n"
        "    again = relamp.product_limit(relamp.lives([float(i) for i in range(1, 40000)])).to_json()\n"
        "    os._exit(0 if again == one else 3)\n"
        "sys.exit(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


def test_a_fresh_interpreter_loads_a_pickle(results: dict[str, Any], tmp_path: Path) -> None:
    file = tmp_path / "fit.pickle"
    file.write_bytes(pickle.dumps(results["Fit"]))
    script = f"import pickle, sys; sys.stdout.write(pickle.load(open({str(file)!r}, 'rb')).to_json())"
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout == results["Fit"].to_json()


def test_a_result_replaces_plain_files_only_and_follows_a_link(tmp_path: Path) -> None:
    costs = relamp.costs(950.0, burst=5200.0)
    pipe, link, file = tmp_path / "pipe", tmp_path / "link", tmp_path / "file.json"
    os.mkfifo(pipe)
    for place in (pipe, tmp_path):
        with pytest.raises(relamp.IoError) as error:
            costs.save(place)
        assert error.value.slug == "python.not_a_file"
    assert pipe.is_fifo()
    file.write_text("old", encoding="utf-8")
    link.symlink_to(file)
    costs.save(link)
    assert link.is_symlink()
    assert relamp.Costs.load(file) == costs
