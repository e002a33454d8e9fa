"""Axes of lamp hours: their ticks, and the lamps at risk under them."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes


def hours_axis(ax: Axes, last: float, first: float = 0.0, *, ends: float | None = None) -> list[float]:
    """An axis of hours with its ticks; `ends` gets one of its own where the last round one lies well before it."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    ax.set_xlim(first, last)
    locator = MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10])
    ticks = [t for t in locator.tick_values(first, last) if first <= t <= last]
    step = min((b - a for a, b in itertools.pairwise(ticks)), default=1.0)
    if ends is not None and len(ticks) > 1 and ends - ticks[-1] >= 0.5 * step:
        ticks.append(ends)
    ax.set_xticks(ticks)
    # Ages of a few hours have ticks between whole ones.
    places = next((n for n in range(6) if abs(round(step, n) - step) < 1e-9 * step), 6)
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:,.{places}f}"))
    return ticks


def first_tick(start: float, last: float) -> float:
    """Where an axis of ages begins: at 0, unless that would leave a good part of it empty."""
    return max(0.0, start - 0.04 * (last - start)) if start > 0.15 * last else 0.0


def under(
    ax: Axes,
    ticks: Sequence[float],
    counts: Sequence[float | None],
    *,
    words: str = "lamps\nat risk",
    row: int = 0,
    colour: str | None = None,
) -> None:
    """Numbers under the ticks; rows below each other for several groups."""
    from relamp.plots import MUTED, _thousands

    colour = colour or MUTED
    for tick, count in zip(ticks, counts, strict=True):
        ax.annotate(
            "" if count is None or count != count else _thousands(count),
            (tick, 0.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, -33 - 11 * row),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=7.5,
            color=colour,
            annotation_clip=False,
        )
    ax.annotate(
        words,
        (0.0, 0.0),
        xycoords="axes fraction",
        xytext=(-12, (-29 if "\n" in words else -33) - 11 * row),
        textcoords="offset points",
        ha="right",
        va="top",
        fontsize=6.8,
        color=colour,
        annotation_clip=False,
    )
