"""Every public callable says what it means, what it takes and gives, what it refuses, and shows it at work."""

from __future__ import annotations

import builtins
import doctest
import importlib
import inspect
import re
from typing import Any

import demo
import pytest
import relamp

MODULES = ("command", "plots", "plots_demand", "plots_groups", "plots_model", "plots_policy", "plots_watch", "report")
MODULES = ("command", "plots", "plots_buy", "plots_groups", "plots_model", "plots_policy", "plots_watch", "report")
MODULES = ("command", "plots", "plots_groups", "plots_model", "plots_policy", "plots_stock", "plots_watch", "report")

# Nothing can be refused here: they take nothing, or only what is looked up and may be missing.
NOTHING_RAISED = {
    "Study.lamps_today",
    "CostParts.middle",
    "CovariateFit.tests",
    "CovariateResiduals.failures",
    "HazardFit.baselines",
    "HazardFit.tests",
    "PlayedChain.costs",
    "PlayedChain.places",
    "PlayedFleet.ages",
    "PlayedFleet.ages_at_ending",
    "PlayedFleet.changes",
    "PooledGroups.baselines",
    "PooledGroups.priors",
    "StockCount.ledger",
    "StockCount.orders",
    "StudyResults.last_buys",
    "StudyResults.purchase_plan",
    "StudyResults.stock_findings",
    "StudyResults.stock_list",
    "StockCount.used_lamps",
    "Draws.best",
    "Fit.bounds",
    "Fit.parameter",
    "Fit.standard_error",
    "Reading.disputed",
    "Reading.ledger",
    "Reading.lives",
    "Reading.spells",
    "StockPlan.by_quantity",
    "Study.doubts",
    "StudyOutput.ledger",
    "StudyResults.doubts",
    "StudyResults.overdue",
    "Watch.alarms",
    "Watch.months",
    "Watch.open_lamps",
    "families",
    "report.sentence",
}
# The same of every result.
NEVER_RAISED = {"frame", "summary", "table", "to_csv", "to_dict", "to_json"}
# They give nothing back.
NOTHING_RETURNED = {"check_target", "save", "write"}


def public_callables() -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in relamp.__all__:
        thing = getattr(relamp, name)
        if inspect.isclass(thing):
            if issubclass(thing, Exception | relamp.Problem):
                continue
            for method in vars(thing):
                value = getattr(thing, method)
                if not method.startswith("_") and callable(value):
                    found[f"{name}.{method}"] = value
        elif callable(thing):
            found[name] = thing
    for module in MODULES:
        place = importlib.import_module(f"relamp.{module}")
        for name in place.__all__:
            if callable(getattr(place, name)):
                found[f"{module}.{name}"] = getattr(place, name)
    return found


CALLABLES = public_callables()


def sections(text: str) -> dict[str, str]:
    """The text of each section under its heading; the meaning stands under an empty one."""
    parts = re.split(r"^(\w[\w ]*)\n-{3,}$", text, flags=re.MULTILINE)
    return {"": parts[0].strip(), **{h: body.strip("\n") for h, body in zip(parts[1::2], parts[2::2], strict=True)}}


def described(parameters: str) -> dict[str, str]:
    """The text below each parameter, or each of several on one line."""
    found: dict[str, str] = {}
    for entry in re.split(r"\n(?=\S)", parameters):
        head, _, body = entry.partition("\n")
        for name in head.split(" : ")[0].split(", "):
            found[name.strip("*")] = f"{head.partition(' : ')[2]}\n{body}"
    return found


def test_every_callable_is_seen() -> None:
    assert len(CALLABLES) > 350
    assert {"life", "Life.reliability", "Curve.save", "plots.cost", "Study.open"} <= set(CALLABLES)


@pytest.mark.parametrize("name", CALLABLES)
def test_a_docstring_has_every_section(name: str) -> None:
    thing = CALLABLES[name]
    found = sections(inspect.getdoc(thing) or "")
    assert re.match(r"^[A-Z].*\.", found[""], flags=re.DOTALL), "no sentence that says what it is for"
    assert "Examples" in found, "no example"
    assert ">>> " in found["Examples"]
    parameters = [p for p in inspect.signature(thing).parameters.values() if p.name not in ("self", "cls")]
    if parameters:
        text = described(found.get("Parameters", ""))
        for parameter in parameters:
            assert text.get(parameter.name, "").strip(), f"{parameter.name} is not described"
        assert set(text) <= {p.name for p in parameters}, "describes what it does not take"
    else:
        assert "Parameters" not in found
    last = name.rpartition(".")[2]
    assert bool(found.get("Returns", "").strip()) != (last in NOTHING_RETURNED), "what it returns"
    assert ("Raises" in found) != (name in NOTHING_RAISED or last in NEVER_RAISED), "what it refuses"
    for raised in re.findall(r"^(\S+)$", found.get("Raises", ""), flags=re.MULTILINE):
        assert hasattr(relamp, raised) or hasattr(builtins, raised), raised
    order = [h for h in found if h in ("Parameters", "Returns", "Raises", "Notes", "Examples")]
    assert order == [h for h in ("Parameters", "Returns", "Raises", "Notes", "Examples") if h in found]


def test_numbers_carry_a_unit() -> None:
    seen = 0
    unit = re.compile(r"hour|percent|0 to 1|share|cost|how many|lamps|days|seed|level|draws|at least|the first|above 0")
    for name, thing in CALLABLES.items():
        text = described(sections(inspect.getdoc(thing) or "").get("Parameters", ""))
        for parameter, body in text.items():
            if re.match(r"(float|int)\b", body):
                seen += 1
                assert unit.search((parameter + " " + body).lower()), f"{name}({parameter}) has no unit or range"
    assert seen > 60


@pytest.mark.parametrize("module", MODULES)
def test_examples_of_the_modules_run(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # The examples name the demo chain as it lies in the source.
    monkeypatch.chdir(demo.ROOT)
    place = importlib.import_module(f"relamp.{module}")
    result = doctest.testmod(place, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert result.attempted > 0
    assert result.failed == 0


def test_the_check_sees_what_is_missing() -> None:
    text = (
        "Gives it.\n\nParameters\n----------\na, b : float\n    Age, hours.\n*c\n    More.\n\nReturns\n-------\nfloat\n"
    )
    found = sections(text)
    assert list(found) == ["", "Parameters", "Returns"]
    assert described(found["Parameters"]).keys() == {"a", "b", "c"}
    assert "Raises" not in found
