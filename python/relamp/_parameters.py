"""Parameters as a chart writes them: in words, with the unit that they have in their family."""

from __future__ import annotations

import re

# Families whose location and scale are those of ln hours: the scale is then a number without a unit.
_OF_LOGARITHMS = {"lognormal", "generalised_gamma"}
_HOURS = {"scale", "location", "mean"}
_NAMED = {"never_share": "share that never fails", "first_share": "share of the first kind"}


def in_words(name: str) -> str:
    """A name such as ``first_shape`` as a chart writes it."""
    return _NAMED.get(name, name.replace("_", " "))


def with_unit(name: str, family: str) -> str:
    """What an axis of a parameter, or of another figure such as a b-life, is called."""
    unit = _unit(name, family)
    return f"{in_words(name)}, {unit}" if unit else in_words(name)


def _unit(name: str, family: str) -> str:
    if "life" in name or name.startswith("quantile"):
        return "hours"
    if name.startswith("hazard"):
        return "failures per hour"
    own, of = _own(name, family)
    if own not in _HOURS:
        return ""
    if of in _OF_LOGARITHMS:
        return "ln hours" if own == "location" else ""
    return "hours"


def _own(name: str, family: str) -> tuple[str, str]:
    """A parameter and the plain family that it belongs to, out of one made of others."""
    made = re.fullmatch(r"(\w+)\((.*)\)", family)
    if made is None:
        return name, family
    kind, inner = made.groups()
    parts = _parts(inner)
    if kind in ("series", "mixture") and len(parts) == 2:
        for prefix, part in zip(("first_", "second_"), parts, strict=True):
            if name.startswith(prefix):
                return _own(name.removeprefix(prefix), part)
        return name, family
    return _own(name, inner.strip())


def _parts(inner: str) -> list[str]:
    """The parts of a family made of two, cut at the comma outside all brackets."""
    depth = 0
    for i, letter in enumerate(inner):
        depth += (letter == "(") - (letter == ")")
        if letter == "," and depth == 0:
            return [inner[:i].strip(), inner[i + 1 :].strip()]
    return [inner.strip()]
