"""Counts in sentences: a comma between thousands, and nouns and verbs that agree with them."""

from __future__ import annotations

__all__ = ["counted", "fitting", "noun"]


def noun(n: float, one: str) -> str:
    """The noun for a count: one lamp, two lamps, three entries."""
    if n == 1:
        return one
    if one.endswith("y") and one[-2:-1] not in "aeou":
        return f"{one[:-1]}ies"
    return f"{one}s"


def counted(n: int, one: str) -> str:
    """A count and its noun, such as ``1 lamp`` and ``2,000 lamps``."""
    return f"{n:,} {noun(n, one)}"


def fitting(n: float, one: str, several: str) -> str:
    """The word that goes with a count: the first for one, the second for none or several."""
    return one if n == 1 else several
