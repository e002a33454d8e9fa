"""Columns of every kind give the same lives, and what is no column is refused by name."""

from __future__ import annotations

import array
import decimal
import fractions
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import relamp
from conftest import quiet_fit

NAN = float("nan")


def strided(values: list[float]) -> np.ndarray[Any, Any]:
    big = np.full(2 * len(values), -1.0)
    big[::2] = values
    return big[::2]


def matrix_column(values: list[float]) -> np.ndarray[Any, Any]:
    matrix = np.full((len(values), 3), -1.0)
    matrix[:, 1] = values
    return matrix[:, 1]


LOWS: dict[str, Callable[[list[float]], Any]] = {
    "list": list,
    "tuple": tuple,
    "range of mixed numbers": lambda v: [np.float32(v[0]), decimal.Decimal(v[1]), fractions.Fraction(v[2]), *v[3:]],
    "array module": lambda v: array.array("d", v),
    **{
        f"numpy {kind}": lambda v, kind=kind: np.array(v, dtype=kind)
        for kind in ("float64", "float32", "float16", "int64", "int32", "uint16", ">f8", "longdouble", "object")
    },
    "every second element": strided,
    "twice reversed": lambda v: np.array(v)[::-1][::-1],
    "column of a matrix": matrix_column,
    "masked array": lambda v: np.ma.array(v),
    "pandas float": lambda v: pd.Series(v, dtype="float64"),
    "pandas Int64": lambda v: pd.array(v, dtype="Int64"),
    "pandas index": lambda v: pd.Index(v),
    "pandas arrow": lambda v: pd.Series(v, dtype="double[pyarrow]"),
    "polars": lambda v: pl.Series(v),
    "polars float32": lambda v: pl.Series(v, dtype=pl.Float32),
    "polars decimal": lambda v: pl.Series(v, dtype=pl.Decimal(10, 2)),
    "polars chunks": lambda v: pl.concat([pl.Series(v[:3]), pl.Series(v[3:])], rechunk=False),
    "pyarrow array": lambda v: pa.array(v),
    "pyarrow chunks": lambda v: pa.chunked_array([v[:4], v[4:]]),
    "pyarrow float16": lambda v: pa.array(np.array(v, dtype="float16")),
}


@pytest.mark.parametrize("name", LOWS)
def test_low_of_any_kind_gives_the_same_lives(name: str, low: list[float], high: list[Any], base: relamp.Tally) -> None:
    assert relamp.lives(LOWS[name](low), high) == base


HIGHS: dict[str, Callable[[list[Any]], Any]] = {
    "infinity": lambda v: [np.inf if x is None else x for x in v],
    "object array": lambda v: np.array(v, dtype=object),
    "masked array": lambda v: np.ma.array([x or 0.0 for x in v], mask=[x is None for x in v]),
    "pandas Float64": lambda v: pd.array(v, dtype="Float64"),
    "pandas Int64": lambda v: pd.Series(v, dtype="Int64"),
    "pandas NA in a list": lambda v: [pd.NA if x is None else x for x in v],
    "polars": lambda v: pl.Series(v),
    "pyarrow": lambda v: pa.array(v),
}


@pytest.mark.parametrize("name", HIGHS)
def test_a_missing_high_is_right_censored(name: str, low: list[float], high: list[Any], base: relamp.Tally) -> None:
    assert relamp.lives(low, HIGHS[name](high)) == base


def test_reversed_columns_give_the_same_lives(low: list[float], high: list[Any], base: relamp.Tally) -> None:
    assert relamp.lives(np.array(low)[::-1], np.array(high, dtype=object)[::-1]) == base


TABLES: dict[str, Callable[[dict[str, Any]], Any]] = {
    "dict": dict,
    "polars": lambda t: pl.DataFrame(t),
    "pandas": lambda t: pd.DataFrame({"low": t["low"], "high": pd.array(t["high"], dtype="Float64")}),
    "pyarrow table": lambda t: pa.table(t),
    "pyarrow batch": lambda t: pa.RecordBatch.from_pydict(t),
}


@pytest.mark.parametrize("name", TABLES)
def test_tables_of_any_kind(name: str, low: list[float], high: list[Any], base: relamp.Tally) -> None:
    assert relamp.lives(TABLES[name]({"low": low, "high": high})) == base


def test_every_way_fits_the_same_weibull(hard_cases: dict[str, Any], low: list[float], high: list[Any]) -> None:
    expected = hard_cases["base"]
    for make in LOWS.values():
        fit = quiet_fit(relamp.lives(make(low), high))
        for name in ("shape", "scale"):
            assert fit.parameters[name] == pytest.approx(expected[name], rel=expected["relative_tolerance"])


@pytest.mark.parametrize(
    "missing",
    [
        lambda v: pd.array([*v[:3], pd.NA, *v[4:]], dtype="Int64"),
        lambda v: pd.Series([*v[:3], pd.NA, *v[4:]], dtype="Float64"),
        lambda v: [*v[:3], None, *v[4:]],
        lambda v: pl.Series([*v[:3], None, *v[4:]]),
        lambda v: pa.array([*v[:3], None, *v[4:]]),
    ],
)
def test_a_missing_low_names_row_and_column(missing: Callable[[list[float]], Any], low: list[float], high: Any) -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives(missing(low), high)
    [problem] = caught.value.problems
    # Rows are counted from 1: the fourth value, at position 3.
    assert (problem.slug, problem.row, problem.column) == ("python.missing", 4, "low")


@pytest.mark.parametrize("make", [list, np.array, pl.Series, pd.Series, pa.array], ids=lambda m: m.__name__)
def test_nan_in_high_is_an_error_naming_row_and_column(make: Callable[[Any], Any], low: list[float]) -> None:
    high = [*[float(v) for v in low[:9]], NAN]
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives(low, make(high))
    [problem] = caught.value.problems
    assert (problem.slug, problem.row, problem.column) == ("lives.age_not_a_number", 10, "high")


REFUSED: dict[str, tuple[Any, str]] = {
    "None": (None, "python.not_a_column"),
    "one number": (3.0, "python.not_a_column"),
    "text": ("412", "python.not_a_column"),
    "bytes": (b"412", "python.not_a_column"),
    "a set": ({412.0}, "python.not_a_column"),
    "an iterator": (iter([412.0]), "python.not_a_column"),
    "a function": (len, "python.not_a_column"),
    "a boolean": (True, "python.not_a_column"),
    "booleans": ([True, False], "python.type"),
    "numpy booleans": (np.array([True]), "python.type"),
    "polars booleans": (pl.Series([True]), "python.type"),
    "pandas booleans": (pd.array([True, None], dtype="boolean"), "python.type"),
    "numbers as text": (["412"], "python.type"),
    "numpy text": (np.array(["412"]), "python.type"),
    "polars text": (pl.Series(["412"]), "python.type"),
    "pandas text": (pd.Series(["412"]), "python.type"),
    "dates": (np.array(["2025-01-01"], dtype="datetime64[D]"), "python.type"),
    "a date in a list": ([np.datetime64("2025-01-01")], "python.type"),
    "polars durations": (pl.Series([1]).cast(pl.Duration("ms")), "python.type"),
    "complex": (np.array([1j]), "python.type"),
    "a matrix": (np.ones((2, 2)), "python.dimensions"),
    "a zero-dimensional array": (np.array(412.0), "python.dimensions"),
    "lists in a list": ([[412.0]], "python.type"),
    "lists in a series": (pl.Series([[412.0]]), "python.type"),
    "a whole number too large for a float": ([10**400], "python.type"),
    "a lazy frame": (pl.LazyFrame({"low": [412.0]}), "python.lazy"),
    "a table without high": ({"low": [412.0]}, "python.column_missing"),
    "a table with a misspelt column": ({"low": [1.0], "high": [1.0], "entrry": [0.0]}, "python.column_unknown"),
    "a table with text": (pl.DataFrame({"low": ["412"], "high": [412.0]}), "python.type"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_column_is_refused_by_name(name: str) -> None:
    value, slug = REFUSED[name]
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives(value)
    assert caught.value.slug == slug
    assert caught.value.problems[0].input == "lives"
    assert "lives" in str(caught.value)
    assert isinstance(caught.value, ValueError)


def test_a_lazy_frame_is_told_to_collect() -> None:
    with pytest.raises(relamp.InputError, match=r"\.collect\(\)"):
        relamp.lives(pl.LazyFrame({"low": [412.0], "high": [412.0]}))


def test_all_bad_rows_are_reported_at_once() -> None:
    with pytest.raises(relamp.InputError) as caught:
        relamp.lives([1.0, "x", 3.0, True])
    assert [p.row for p in caught.value.problems] == [2, 4]


def test_counts_and_groups() -> None:
    tally = relamp.lives([900, 900], [900, None], count=[2, 3], stratum=["a", "b"], cluster=pl.Series(["x", "x"]))
    assert (tally.lamps, tally.failures, tally.strata) == (5, 2, ("a", "b"))
    assert tally.stratum("b").failures == 0
    for bad in ([0.5, 1], [-1, 1], [NAN, 1], [2.0**60, 1]):
        with pytest.raises(relamp.InputError, match="count"):
            relamp.lives([900, 900], [900, None], count=bad)
    with pytest.raises(relamp.InputError, match=r"python\.length"):
        relamp.lives([900, 900], stratum=["a", "b"], cluster=["x"])


def test_endings_by_word() -> None:
    tally = relamp.lives([900, 950, 1000], [900, None, 1000], ending=["burst", None, pd.NA])
    assert tally.frame()["ending"].to_list() == ["burst", "running", "unknown"]
    assert tally.for_endings(["burst"]).failures == 1
    with pytest.raises(relamp.InputError, match="exploded"):
        relamp.lives([900], ending=["exploded"])


def test_an_entry_inside_an_interval_is_told() -> None:
    with pytest.warns(relamp.RelampWarning, match=r"lives\.low_raised_to_entry"):
        relamp.lives([100.0], [300.0], entry=[200.0])


def test_lives_go_out_and_come_back_through_frames() -> None:
    tally = relamp.lives(
        [900, 950, 100, 1000],
        [900, None, 300, 1000],
        entry=[0, 100, 0, 0],
        ending=["burst", "running", "dim", "seal"],
        stratum=["a", "b", "a", "a"],
        count=[2, 1, 7, 1],
    )
    assert relamp.lives(tally) == tally
    assert relamp.lives(tally.frame()) == tally
    assert relamp.lives(pa.table(tally)) == tally
    assert relamp.lives(pd.DataFrame.from_arrow(tally).convert_dtypes()) == tally
    assert relamp.lives(tally.frame().to_dict(as_series=False)) == tally


def test_records_come_from_frames_of_any_kind() -> None:
    from conftest import read_small_log

    base = read_small_log()
    assert base.counts == {"rows": 2, "used": 2, "merged": 0, "set_aside": 0}
    days = pl.Series(["2025-01-01", "2025-01-01"]).str.to_date()
    changed = {"in": days, "hours": pl.Series([900, 1100]), "screen": [1, 2]}
    assert read_small_log(**changed) == base
    stamps = pd.Series(pd.to_datetime(["2025-06-01", None]))
    assert read_small_log(out=stamps) == base
    assert base.tally().failures == 1


def test_a_count_that_floats_cannot_tell_from_its_neighbour_is_refused() -> None:
    with pytest.raises(relamp.InputError, match="2\\^53"):
        relamp.lives([1.0], count=[2**53 + 1])


def test_survival_given_to_an_age_that_no_lamp_reached_is_refused() -> None:
    with pytest.raises(relamp.RefusedError, match="no lamp is at risk"):
        relamp.product_limit(relamp.lives([900.0, 1200.0]), given_survival_to=1e5)


def test_a_polars_column_of_nothing_but_nulls_is_all_missing() -> None:
    for tally in (
        relamp.lives(pl.DataFrame({"low": [900.0, 800.0], "high": [None, None]})),
        relamp.lives([900.0, 800.0], pl.Series([None, None])),
    ):
        assert (tally.lamps, tally.failures) == (2, 0)
