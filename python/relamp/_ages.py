"""Axes of lamp hours: their ticks, and the lamps at risk under them."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from relamp._ticks import STEPS, decimals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes


def hours_axis(ax: Axes, last: float, first: float = 0.0, *, ends: float | None = None) -> list[float]:
    """An axis of hours with its ticks; `ends` gets one of its own where the last round one lies well before it."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    ax.set_xlim(first, last)
    locator = MaxNLocator(nbins=6, steps=STEPS)
    ticks = [t for t in locator.tick_values(first, last) if first <= t <= last]
    step = min((b - a for a, b in itertools.pairwise(ticks)), default=1.0)
    # Ages of a few hours have ticks between whole ones.
    places = min(decimals(ticks), 6)
    if ends is not None and len(ticks) > 1 and ends - ticks[-1] >= 0.5 * step:
        ticks.append(ends)
    ax.set_xticks(ticks)
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:,.{places}f}"))
    return ticks


def first_tick(start: float, last: float) -> float:
    """Where an axis of ages begins: at 0, unless that would leave a good part of it empty."""
    return max(0.0, start - 0.04 * (last - start)) if start > 0.15 * last else 0.0


def _room(ax: Axes, points: float) -> None:
    """Room under axes that the caller made, so that neither the figure's edge nor axes below cut the numbers off.

    A figure of ours, or one with a layout of its own, finds the room by itself.
    """
    from relamp._sheet import Sheet

    figure = ax.get_figure(root=True)
    if figure is None or isinstance(figure, Sheet) or figure.get_layout_engine() is not None:
        return
    need = points / 72.0 / float(figure.get_size_inches()[1])
    spec = ax.get_subplotspec()
    if spec is None:
        box = ax.get_position()
        if box.y0 < need < box.y1 - 0.1:
            ax.set_position((box.x0, need, box.width, box.y1 - need))
        return
    pars, rows = figure.subplotpars, spec.get_gridspec().nrows
    if spec.is_last_row():
        if pars.bottom < need < pars.top - 0.1:
            figure.subplots_adjust(bottom=need)
        return
    # Below stands another row with its title.
    gap = need + 28.0 / 72.0 / float(figure.get_size_inches()[1])
    height = (pars.top - pars.bottom - gap * (rows - 1)) / rows
    if height > 0.05 and gap / height > pars.hspace:
        figure.subplots_adjust(hspace=gap / height)


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
    _room(ax, 33 + 11 * row + 15)
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
