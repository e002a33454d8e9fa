"""Plots of groups of lamps beside each other, on matplotlib axes that you may pass in.

``pooled`` takes what ``relamp.pool_groups`` gives. Nothing is computed here beyond placing numbers on axes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from relamp._words import counted
from relamp.plots import BRICK, INK, MUTED, PETROL, RULE, _axes, _style
from relamp.plots_model import _figure, _log_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import PooledGroups

__all__ = ["pooled"]

# A chance from which a group stands out in colour: more likely than not.
_LIKELY = 0.5
# Columns of figures to the right of the frame, in points from its edge to their right ends.
_COLUMNS = (("failures", 38), ("expected", 84), ("chance", 126))
# Ends of intervals further out than this many times or parts are cut at the frame.
_WIDEST = 20.0


def pooled(pooled: PooledGroups, ax: Axes | None = None, *, most: int = 40) -> Axes:
    """Hazard of each group over that of the others: raw and faint, pooled and strong with its interval, worst on top.

    A thin line leads from the raw ratio to the pooled one: the shorter the records of a group, the longer its way.
    Beside each stand its failures, the failures expected had it the hazard of the others, and the chance that its ratio
    is above the threshold; groups for which that is more likely than not stand out. A raw ratio off the frame is an
    arrow at its edge.

    Parameters
    ----------
    pooled : PooledGroups
        What ``relamp.pool_groups`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    most : int
        How many groups to draw, those of the highest ratios; the title counts the others.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        If no group is to be drawn.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_groups
    >>> site = ["a", "b", "c", "d", "e", "f"] * 10
    >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
    >>> axes = plots_groups.pooled(relamp.pool_groups(tally, by="site", draws=500, seed=1))
    >>> len(axes.get_yticklabels())
    6
    """
    if most < 1:
        raise ValueError(f"at least one group must be drawn, got {most}")
    frame = pooled.frame().sort("ratio", descending=True)
    left_out = max(0, frame.height - most)
    rows = frame.head(most).to_dicts()
    with _style():
        ax = _axes(ax, 6.3, 1.25 + 0.235 * len(rows))
        low, high = _reach(rows, pooled.threshold)
        ax.set_xscale("log")
        ax.set_xlim(low, high)
        ax.set_ylim(len(rows) - 0.4, -0.6)
        ax.grid(visible=False)
        ax.spines["left"].set_visible(False)
        ax.axvline(1.0, color=INK, lw=0.9, zorder=1)
        ax.axvline(pooled.threshold, color=BRICK, lw=1.0, linestyle=(0, (4, 2.5)), zorder=1)
        for y, row in enumerate(rows):
            if y % 2:
                ax.axhspan(y - 0.5, y + 0.5, color=RULE, alpha=0.28, lw=0, zorder=0)
            _row(ax, y, row, (low, high))
        ax.set_yticks(range(len(rows)), [row["group"] for row in rows])
        for label in ax.get_yticklabels():
            label.set_parse_math(False)
            label.set_color(INK)
        _log_ticks(ax, low, high)
        # A tick just outside would widen the frame.
        ax.set_xlim(low, high)
        ax.set_xlabel("hazard over that of the others, equal age")
        more = f", {counted(left_out, 'lower one')} not shown" if left_out else ""
        ax.set_title(f"Hazards by {pooled.by}{more}", pad=22.0)
        _heads(ax, pooled)
    return ax


def _reach(rows: list[dict[str, Any]], threshold: float) -> tuple[float, float]:
    """Ends of the axis: all intervals and the threshold, cut where they say no more than very wide."""
    low = max(min(1.0, threshold, *(row["low"] for row in rows)), 1.0 / _WIDEST)
    high = min(max(1.0, threshold, *(row["high"] for row in rows)), _WIDEST)
    edge = (high / low) ** 0.05
    return low / edge, high * edge


def _row(ax: Axes, y: int, row: dict[str, Any], ends: tuple[float, float]) -> None:
    likely = row["chance_above"] >= _LIKELY
    colour = BRICK if likely else PETROL
    low, high = ends
    raw, edge = row["raw_ratio"], (high / low) ** 0.012
    if raw is not None:
        at = min(max(raw, low * edge), high / edge)
        marker = "o" if at == raw else ("<" if raw < at else ">")
        ax.plot([at, row["ratio"]], [y, y], color=MUTED, lw=0.7, alpha=0.55, zorder=2)
        ax.plot([at], [y], marker, ms=4.6, mfc="white", mec=MUTED, mew=0.9, alpha=0.85, zorder=4.5)
    ax.plot([max(row["low"], low), min(row["high"], high)], [y, y], color=colour, lw=1.9, alpha=0.75, zorder=4)
    ax.plot([row["ratio"]], [y], "o", ms=5.6, color=colour, zorder=5)
    words = (str(row["failures"]), _figure(float(f"{row['expected']:.2g}")), _chance(row["chance_above"]))
    for (_, to), text in zip(_COLUMNS, words, strict=True):
        ax.annotate(
            text,
            (1.0, y),
            xycoords=("axes fraction", "data"),
            xytext=(to, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=7.5,
            color=colour if likely else INK,
        )


def _chance(share: float) -> str:
    """A chance from draws in whole percent: never quite 0 or 100."""
    if share < 0.005:
        return "< 1 %"
    return "> 99 %" if share > 0.995 else f"{100 * share:.0f} %"


def _heads(ax: Axes, pooled: PooledGroups) -> None:
    """Words above the columns of figures, and a key of the marks."""
    from matplotlib.lines import Line2D

    heads = {"chance": f"above {pooled.threshold:g}"}
    for name, to in _COLUMNS:
        ax.annotate(
            heads.get(name, name),
            (1.0, 1.0),
            xycoords="axes fraction",
            xytext=(to, 4),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize=7.0,
            color=MUTED,
        )
    marks = [
        Line2D([], [], marker="o", ls="none", ms=4.6, mfc="white", mec=MUTED, mew=0.9, alpha=0.75, label="raw"),
        Line2D([], [], marker="o", ms=5.6, color=PETROL, lw=1.9, label=f"pooled, {100 * pooled.level:g} % interval"),
        Line2D([], [], color=BRICK, lw=1.0, ls=(0, (4, 2.5)), label=f"{pooled.threshold:g} times the others"),
    ]
    ax.legend(
        handles=marks, loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=3, borderpad=0.1, columnspacing=1.2,
        handlelength=1.8, frameon=False,
    )  # fmt: skip
