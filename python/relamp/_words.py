"""Counts in sentences: a comma between thousands, and nouns and verbs that agree with them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["SAVING_WORDS", "counted", "fitting", "noun", "read_at", "saving_marks"]

SAVING_WORDS = {
    "not settled": "the interval of the saving holds zero, so these records do not tell which is cheaper",
    "model's opinion": "today's rule lies past the last record, where no lamp was seen",
}
"""Marks of a saving, the same in report and terminal, and what each means."""


def saving_marks(policy: Mapping[str, Any]) -> list[str]:
    """What goes beside the saving of a class wherever it is shown."""
    # A class without a saving, or of which a saving a year is not known, has nothing to mark.
    if policy.get("saving_against_today_per_year") is None:
        return []
    said = [policy["saving_settled"] is False, bool(policy.get("saving_past_records"))]
    return [mark for mark, holds in zip(SAVING_WORDS, said, strict=True) if holds]


def read_at(reading: str) -> str:
    """Where intervals are read, in words."""
    return f"{reading} end" if reading in ("upper", "lower") else reading


def noun(n: float, one: str) -> str:
    """The noun for a count: one lamp, two lamps, three entries."""
    if n == 1:
        return one
    if one.endswith("y") and one[-2:-1] not in "aeou":
        return f"{one[:-1]}ies"
    if one.endswith("s"):
        return f"{one}es"
    return f"{one}s"


def counted(n: int, one: str) -> str:
    """A count and its noun, such as ``1 lamp`` and ``2,000 lamps``."""
    return f"{n:,} {noun(n, one)}"


def fitting(n: float, one: str, several: str) -> str:
    """The word that goes with a count: the first for one, the second for none or several."""
    return one if n == 1 else several
