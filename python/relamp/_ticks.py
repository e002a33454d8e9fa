"""Ticks of amounts: round steps, and as many decimals as the steps need."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from matplotlib.axis import Axis

STEPS = [1, 2, 2.5, 5, 10]
# More decimals than this say nothing; such amounts stand as powers of ten.
_MOST_DECIMALS = 6
# Letters that fit along an axis of words side by side, with a gap of some letters between two.
_LETTERS, _GAP = 90, 4


def decimals(ticks: Iterable[float]) -> int:
    """Decimals that tell neighbouring ticks apart; more than six stand as seven."""
    step = min((b - a for a, b in itertools.pairwise(sorted(ticks)) if b > a), default=1.0)
    return next((n for n in range(_MOST_DECIMALS + 1) if abs(round(step, n) - step) < 1e-9 * step), _MOST_DECIMALS + 1)


def amounts(axis: Axis, bins: int = 5) -> None:
    """Round ticks along an axis whose ends are set, fewer where their words are long and stand side by side."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    if axis is axis.axes.xaxis:
        longest = max(len(f"{x:,.0f}") for x in axis.get_view_interval())
        bins = max(2, min(bins, _LETTERS // (longest + _GAP)))
    axis.set_major_locator(MaxNLocator(nbins=bins, steps=STEPS))

    def text(x: float, _: int | None = None) -> str:
        places = decimals(float(tick) for tick in axis.get_majorticklocs())
        return f"{x:g}" if places > _MOST_DECIMALS else f"{x:,.{places}f}"

    axis.set_major_formatter(FuncFormatter(text))
