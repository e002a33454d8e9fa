"""What the package shows: every export has a wrapper, a stub and a docstring, and importing it costs little."""

from __future__ import annotations

import ast
import doctest
import inspect
import re
import subprocess
import sys
from pathlib import Path

import demo
import pytest
import relamp
from relamp import _core

PACKAGE = Path(relamp.__file__).parent


def public(module: object) -> set[str]:
    return {n for n in dir(module) if not n.startswith("_")} | {"__version__", "__build__"}


def test_every_core_export_is_in_the_package() -> None:
    exports = public(_core)
    assert len(exports) > 40
    assert exports <= set(relamp.__all__)
    for name in exports:
        assert getattr(relamp, name) is getattr(_core, name)


def test_all_lists_what_is_there_and_nothing_else() -> None:
    assert len(relamp.__all__) == len(set(relamp.__all__))
    for name in relamp.__all__:
        assert hasattr(relamp, name), name


def test_every_core_export_has_a_stub() -> None:
    tree = ast.parse((PACKAGE / "_core.pyi").read_text(encoding="utf-8"))
    stubs = {n.name for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef)}
    stubs |= {n.target.id for n in tree.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)}
    assert len(stubs) > 40
    assert public(_core) <= stubs


def test_everything_public_has_a_docstring() -> None:
    seen = 0
    for name in sorted(public(_core) - {"ENDINGS", "__version__", "__build__"}):
        thing = getattr(_core, name)
        assert inspect.getdoc(thing), name
        if inspect.isclass(thing):
            for attribute, value in vars(thing).items():
                if not attribute.startswith("_"):
                    seen += 1
                    assert inspect.getdoc(value), f"{name}.{attribute}"
    assert seen > 150


def test_no_argument_after_the_data_is_positional() -> None:
    seen = 0
    data = {"low", "high", "tally", "costs", "world", "limit", "draws", "name", "model", "age_hours", "needed", "logs"}
    data |= {
        "table",
        "planned",
        "causes",
        "curve",
        "family",
        "bootstrap",
        "fit",
        "groups",
        "sockets",
        "to",
        "failures",
        "reading",
        "lives",
        "pieces",
        "pair",
        "models",
        "expected",
        "life",
        "hours",
        "end_hours",
        "warranty",
        "cover",
        "lamps",
        "terms",
        "counts",
        "buys",
        "convert_days",
        "curves",
        "earlier",
        "forecast",
        "over_lead",
        "needed_per_day",
        "on_way",
        "places",
        "sites",
        "demand",
        "needed_a_day",
        "price",
        "plans",
        "old",
        "new",
        "exposure_hours",
    }
    for name in sorted(public(_core)):
        thing = getattr(_core, name)
        if inspect.isbuiltin(thing):
            seen += 1
            for parameter in inspect.signature(thing).parameters.values():
                if parameter.kind in (parameter.POSITIONAL_ONLY, parameter.POSITIONAL_OR_KEYWORD):
                    assert parameter.name in data, f"{name}({parameter.name})"
    assert seen > 12


@pytest.mark.timeout(600)
def test_docstring_examples_run(monkeypatch: pytest.MonkeyPatch) -> None:
    # Those of a study name the demo chain as it lies in the source.
    monkeypatch.chdir(demo.ROOT)
    failed = tried = 0
    modules = [relamp]
    finder = doctest.DocTestFinder(exclude_empty=True)
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    for module in modules:
        for test in finder.find(module, module.__name__):
            runner.run(test)
    for name in sorted(public(_core) - {"ENDINGS", "__version__", "__build__"}):
        for test in finder.find(getattr(_core, name), f"relamp.{name}", module=False, globs={}):
            runner.run(test)
    failed, tried = runner.summarize(verbose=False)
    assert tried > 500
    assert failed == 0


def test_importing_loads_nothing_heavy() -> None:
    heavy = ("numpy", "polars", "matplotlib", "jinja2", "pandas", "pyarrow", "scipy")
    script = (
        "import sys, relamp\n"
        "tally = relamp.lives([900.0, 1200.0], [900.0, None])\n"
        "relamp.product_limit(tally).reliability_at(1000.0), repr(tally), tally._repr_html_()\n"
        f"print([m for m in {heavy!r} if m in sys.modules])\n"
        "tally.low\n"
        "print('numpy' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["[]", "True"]


def test_the_version_is_that_of_the_crate() -> None:
    manifest = (PACKAGE.parents[1] / "Cargo.toml") if (PACKAGE.parents[1] / "Cargo.toml").exists() else None
    root = manifest or Path(__file__).resolve().parents[2] / "Cargo.toml"
    found = re.search(r'^version = "([^"]+)"', root.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert found
    assert relamp.__version__ == found.group(1)


def test_every_error_and_warning_belongs_to_one_family() -> None:
    errors = [getattr(relamp, n) for n in relamp.__all__ if n.endswith("Error")]
    warnings = [getattr(relamp, n) for n in relamp.__all__ if n.endswith("Warning")]
    assert len(errors) >= 9
    assert len(warnings) >= 3
    assert all(issubclass(e, relamp.RelampError) for e in errors)
    assert all(issubclass(w, relamp.RelampWarning) for w in warnings)
    assert issubclass(relamp.FileMissingError, FileNotFoundError)
