"""Numbers at the ends of what a computer can write are answered or refused by every call, within seconds."""

from __future__ import annotations

import faulthandler
import math
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import relamp
from test_arguments import NUMBERS, OPTIONAL, WHOLE

#: The least and the greatest number, both infinities, nothing, and 2^63, past what a signed machine word holds.
EXTREMES = [0.0, -0.0, 5e-324, 1e308, math.inf, -math.inf]
WHOLE_EXTREMES = [0, -1, 2**31, 2**63, 2**64]
#: Seconds after which a call counts as lost.
LONGEST = 60


@contextmanager
def within_seconds() -> Iterator[None]:
    """Ends the run, with the place of every thread, where a call never comes back: no signal reaches into the core."""
    faulthandler.dump_traceback_later(LONGEST, exit=True)
    try:
        yield
    finally:
        faulthandler.cancel_dump_traceback_later()


def refusal(call: Callable[[Any], Any], value: Any) -> relamp.RelampError | None:
    with warnings.catch_warnings():
        # A warning is an answer with a word on how far it carries.
        warnings.simplefilter("ignore", relamp.RelampWarning)
        try:
            call(value)
        except relamp.RelampError as error:
            return error
    return None


def answered(call: Callable[[Any], Any], value: Any, said: str) -> None:
    with within_seconds():
        error = refusal(call, value)
    if error is not None:
        assert error.problems, said
        # A defect of the library is no answer to a caller.
        assert not isinstance(error, relamp.InternalError), said


@pytest.mark.parametrize("case", [*NUMBERS, *OPTIONAL])
def test_numbers_at_the_ends_are_answered_or_refused(case: str) -> None:
    _, call = {**NUMBERS, **OPTIONAL}[case]
    for value in EXTREMES:
        answered(call, value, f"{case} = {value}")


@pytest.mark.parametrize("case", WHOLE)
def test_whole_numbers_at_the_ends_are_answered_or_refused(case: str) -> None:
    _, call = WHOLE[case]
    for value in WHOLE_EXTREMES:
        answered(call, value, f"{case} = {value}")


@pytest.mark.parametrize("ages", [[], [0.0], [5e-324], [1e308], [math.inf], [math.nan], [5e-324, 1e308]])
@pytest.mark.parametrize("count", [None, 0])
def test_lives_at_the_ends_are_answered_or_refused(ages: list[float], count: int | None) -> None:
    counts = {} if count is None else {"count": [count] * len(ages)}
    answered(lambda given: relamp.lives(given, **counts), ages, f"lives {ages} x {count}")
    if refusal(lambda given: relamp.lives(given, **counts), ages):
        return
    tally = relamp.lives(ages, **counts)
    calls: list[Callable[[Any], Any]] = [
        relamp.product_limit, relamp.incidence, relamp.self_consistent, relamp.fit_causes, relamp.plotting_positions,
        *(lambda t, f=f: relamp.fit(t, family=f) for f in ("exponential", "weibull", "lognormal", "gamma", "gompertz")),
        lambda t: relamp.fit_known_shape(t, shape=2.0),
        lambda t: relamp.rank_test({"A": t, "B": t}),
        lambda t: relamp.rank_regression(t),
        lambda t: t.merge(t),
    ]  # fmt: skip
    for i, call in enumerate(calls):
        answered(call, tally, f"{ages} x {count}, call {i}")
