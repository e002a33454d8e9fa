"""Plots of groups of lamps beside each other, on matplotlib axes that you may pass in.

``curves`` takes what ``relamp.product_limit`` gives for each group, ``pooled`` what ``relamp.pool_groups`` gives.
Nothing is computed here beyond placing numbers on axes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from relamp._ages import first_tick, hours_axis, under
from relamp._given import must_be
from relamp._words import counted, read_at
from relamp.plots import (
    BRICK,
    INK,
    MUTED,
    OCHRE,
    PETROL,
    RULE,
    _axes,
    _full_hours,
    _percent,
    _style,
)
from relamp.plots_model import _figure, _log_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import Curve, PooledGroups

__all__ = ["curves", "pooled"]

# One colour and one kind of line for each group, so that a copy without colours can be read too.
_LINES: tuple[tuple[str, Any], ...] = (
    (PETROL, "solid"),
    (BRICK, (0, (5, 1.6))),
    (OCHRE, (0, (1.4, 1.2))),
    (INK, (0, (6, 1.5, 1.4, 1.5))),
    ("#4f7192", (0, (3, 1))),
    ("#7f9c82", (0, (8, 2))),
)
# Names longer than this are cut, with a sign that they are.
_LONGEST = 44
#: Curves whose keys stand on the axes.
_IN_AXES = 3

# A chance from which a group stands out in colour: more likely than not.
_LIKELY = 0.5
# Columns of figures to the right of the frame, in points from its edge to their right ends.
_COLUMNS = (("failures", 38), ("expected", 84), ("chance", 126))
# Ends of intervals further out than this many times or parts are cut at the frame.
_WIDEST = 20.0


def curves(curves: Mapping[str, Curve], ax: Axes | None = None, *, bands: bool = True) -> Axes:
    """Product-limit curves of several groups on one axis of ages, with the lamps of each that are at risk.

    Under the ticks stands a row of lamps at risk for each group, in its colour. A curve ends at its oldest lamp.

    Parameters
    ----------
    curves : mapping of str to Curve
        One curve from ``relamp.product_limit`` for each group, 1 to 6, by name.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    bands : bool
        Whether to draw the band of each curve.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        For no curve and for more than six.
    TypeError
        For what is not a mapping of curves.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_groups
    >>> north = relamp.product_limit(relamp.lives([310, 402, 480, 505, 550, 590]))
    >>> south = relamp.product_limit(relamp.lives([633, 720, 815, 900, 950, 1100], [633, None, 815, 900, None, 1100]))
    >>> axes = plots_groups.curves({"North": north, "South": south})
    >>> [text.get_text() for text in axes.get_legend().get_texts()]
    ['North', 'South']
    """
    from matplotlib.ticker import FuncFormatter

    if not isinstance(curves, Mapping):
        got = type(curves).__name__
        raise TypeError(f"curves must be a mapping from names to what relamp.product_limit gives, got {got}")
    if not 1 <= len(curves) <= len(_LINES):
        raise ValueError(f"1 to {len(_LINES)} curves can be told apart in one plot, got {len(curves)}")
    for name, curve in curves.items():
        must_be(f"curves[{name!r}]", curve, "Curve")
    start = min(float(c.conditional_from) for c in curves.values())
    last = max(max([float(c.last_age), *(float(a) for a in c.ages)]) for c in curves.values()) or 1.0
    with _style():
        ax = _axes(ax, 6.3 if len(curves) <= _IN_AXES else 8.4, 3.4 + 0.16 * len(curves))
        ticks = hours_axis(ax, last + 0.02 * (last - start), first_tick(start, last), ends=last)
        under(ax, [], [], words="lamps at risk")
        for row, ((name, curve), (colour, dashes)) in enumerate(zip(curves.items(), _LINES, strict=False), 1):
            from_ = float(curve.conditional_from)
            ages = [from_, *(float(a) for a in curve.ages)]
            values = [1.0, *(float(r) for r in curve.reliability)]
            ends = [(float("nan"),) * 2, *((float(low), float(high)) for low, high in curve.band)]
            if float(curve.last_age) > ages[-1]:
                # The last step holds as long as a lamp is at risk.
                ages, values, ends = [*ages, float(curve.last_age)], [*values, values[-1]], [*ends, ends[-1]]
            if bands:
                low, high = zip(*ends, strict=True)
                ax.fill_between(ages, low, high, step="post", color=colour, alpha=0.11, lw=0, zorder=1)
            given = f", given survival to {_full_hours(from_)} h" if from_ > 0 else ""
            read = f", intervals read at their {read_at(curve.reading or '')}" if curve.interval_failures else ""
            label = _cut(name) + given + read
            ax.step(ages, values, where="post", color=colour, ls=dashes, lw=1.5, label=label, zorder=3)
            under(ax, ticks, curve.at_risk_at(ticks).tolist(), words=_cut(name, 16), row=row, colour=colour)
        ax.set_ylim(0.0, 1.02)
        ax.yaxis.set_major_formatter(FuncFormatter(_percent))
        ax.set_xlabel("lamp hours")
        levels = sorted({f"{100 * float(c.level):g} %" for c in curves.values()})
        ax.set_title("Lamps that still work" + (f", with {' and '.join(levels)} bands" if bands else ""))
        # The keys of many curves would lie on the curves wherever they stood.
        outside = {"loc": "upper left", "bbox_to_anchor": (1.01, 1.0)} if len(curves) > _IN_AXES else {"loc": "best"}
        ax.legend(borderaxespad=0.4, handlelength=2.6, **outside)
    return ax


def _cut(name: str, longest: int = _LONGEST) -> str:
    """A long name without its middle: names that begin alike differ at their ends."""
    # matplotlib leaves out of a legend what begins with an underscore.
    name = f" {name}" if name.startswith("_") else name
    if len(name) <= longest:
        return name
    tail = (longest - 1) // 2
    return name[: longest - 1 - tail] + "\N{HORIZONTAL ELLIPSIS}" + name[-tail:]


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
    TypeError
        For what are not pooled groups.

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
    must_be("pooled", pooled, "PooledGroups")
    if most < 1:
        raise ValueError(f"at least one group must be drawn, got {most}")
    frame = pooled.frame().sort("ratio", descending=True)
    left_out = max(0, frame.height - most)
    rows = frame.head(most).to_dicts()
    with _style():
        names = [_cut(row["group"]) for row in rows]
        # Long names take room of their own, which the frame and the words above it would lack.
        ax = _axes(ax, 6.3 + 0.07 * max(0, max(map(len, names)) - 14), 1.25 + 0.235 * len(rows))
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
        ax.set_yticks(range(len(rows)), names)
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
