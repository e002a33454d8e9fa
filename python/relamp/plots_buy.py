"""Plots of how many lamps to buy and where to hold them, on matplotlib axes that you may pass in.

``last_buy`` takes what ``relamp.last_buy`` gives, ``places`` what ``relamp.class_curve`` gives. Nothing is computed
here beyond placing numbers on axes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from relamp._given import must_be
from relamp._words import counted
from relamp.plots import BRICK, INK, MUTED, OCHRE, PETROL, RULE, _axes, _style, _thousands

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import ClassCurve, LastBuy

__all__ = ["last_buy", "places"]

_SHORTFALLS = {"screens_waiting": "Screens waiting", "dark_hours": "Dark hours a year"}
# Shares of the greatest shortfall below which a curve is not drawn further: nothing can be seen there.
_SEEN = 0.002


def last_buy(buy: LastBuy, ax: Axes | None = None) -> Axes:
    """Mean lamps short and left over by the quantity held, with the chance of a shortage at the quantity.

    Lamps short fall and lamps left rise with each lamp more; the upright line is the quantity. The distribution of
    lamps needed stands behind them as bars, on a scale of its own.

    Parameters
    ----------
    buy : LastBuy
        What ``relamp.last_buy`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a last buy.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_buy
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
    >>> buy = relamp.last_buy(
    ...     world, [500.0, 800.0], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
    ...     convert_days=[400.0, 600.0], risk=0.05,
    ... )
    >>> axes = plots_buy.last_buy(buy)
    >>> axes.get_title(loc="left").startswith("Last buy: ")
    True
    """
    from matplotlib.ticker import MaxNLocator

    must_be("buy", buy, "LastBuy")
    points = buy.to_dict()["held"]
    table = buy.frame()
    lamps = [int(n) for n in table["lamps"]]
    short = [float(x) for x in table["expected_short"]]
    left = [float(x) for x in table["expected_left"]]
    held, first = int(points["lamps"]), int(buy.needed.first)
    chances = [float(p) for p in buy.needed.probabilities]
    least, most = _wanted(chances, first)
    least, most = min(least, held) - 1, max(most, min(held, most + max(5, (most - least) // 2))) + 1
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        inside = [i for i, n in enumerate(lamps) if least <= n <= most]
        highest = max([*(short[i] for i in inside), *(left[i] for i in inside), 1.0])
        tallest = max(chances)
        bars = [(first + i, 0.45 * highest * p / tallest) for i, p in enumerate(chances) if least <= first + i <= most]
        ax.bar(
            [n for n, _ in bars],
            [h for _, h in bars],
            0.85,
            color=RULE,
            lw=0,
            zorder=1,
            label="lamps needed, how likely",
        )
        ax.plot([lamps[i] for i in inside], [short[i] for i in inside], color=BRICK, lw=1.4, label="short", zorder=3)
        ax.plot(
            [lamps[i] for i in inside], [left[i] for i in inside], color=PETROL, lw=1.4, label="left over", zorder=3
        )
        ax.set_xlim(max(least, -0.6), most)
        # Room above the curves for the key and for what the quantity leads to.
        ax.set_ylim(0.0, 1.32 * highest)
        if held <= most:
            ax.axvline(held, ymax=0.9, color=INK, lw=0.9, ls=(0, (4, 2)), zorder=2)
            says = f"hold {counted(held, 'lamp')}: short with chance {_chance(float(points['shortage_chance']))}"
            far = held > (least + most) / 2
            ax.annotate(
                says,
                (held, 1.18 * highest),
                xytext=(-4 if far else 4, -3),
                textcoords="offset points",
                ha="right" if far else "left",
                va="top",
                fontsize=7.5,
                color=INK,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
                zorder=5,
            )
            ax.plot([held, held], [points["expected_short"], points["expected_left"]], "o", ms=4.5, color=INK, zorder=4)
        ax.xaxis.set_major_locator(MaxNLocator(nbins=8, integer=True))
        ax.yaxis.set_major_locator(MaxNLocator(nbins=5))
        ax.set_xlabel("lamps held until the end, those on hand included")
        ax.set_ylabel("mean lamps")
        bought = "buy none" if buy.buy == 0 else f"buy {counted(int(buy.buy), 'lamp')}"
        days = counted(round(float(buy.to_dict()["terms"]["end_days"])), "day")
        ax.set_title(f"Last buy: {bought}, for {days}")
        ax.legend(loc="upper center", ncols=3, borderaxespad=0.3, handlelength=1.8)
    return ax


def _wanted(chances: list[float], first: int) -> tuple[int, int]:
    """Numbers of lamps between which all but a thousandth at either end lies."""
    below, low, high = 0.0, first, first + len(chances) - 1
    for i, p in enumerate(chances):
        if below < 1e-3 <= below + p:
            low = first + i
        if below < 1 - 1e-3 <= below + p:
            high = first + i
        below += p
    return low, high


def _chance(p: float) -> str:
    return "0" if p == 0.0 else "below 0.001" if p < 0.001 else f"{p:.3f}"


def places(curve: ClassCurve, ax: Axes | None = None) -> Axes:
    """The lamps of one class at the depot and at the sites, by their number, with what is left to go wrong.

    Bars show where the lamps are held, the line what they leave: screens waiting or dark hours a year, on the right
    scale.

    Parameters
    ----------
    curve : ClassCurve
        What ``relamp.class_curve`` or ``relamp.one_place_curve`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a curve of a class.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_buy
    >>> stores = relamp.places(["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
    >>> curve = relamp.class_curve(stores, lamp="2 kW", unit_cost=700.0, most_lamps=9, measure="dark_hours")
    >>> axes = plots_buy.places(curve)
    >>> axes.get_title(loc="left")
    '2 kW: where to hold the lamps'
    """
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    must_be("curve", curve, "ClassCurve")
    table = curve.frame()
    numbers = {name: [float(x) for x in table[name]] for name in ("lamps", "depot", "at_sites", "shortfall")}
    greatest = max(numbers["shortfall"][0], 1e-300)
    shown = max([i for i, x in enumerate(numbers["shortfall"]) if x >= _SEEN * greatest], default=0) + 2
    lamps, depot, sites, shortfall = (numbers[name][:shown] for name in ("lamps", "depot", "at_sites", "shortfall"))
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        ax.bar(lamps, sites, 0.8, color=PETROL, alpha=0.75, lw=0, label="at the sites", zorder=2)
        ax.bar(lamps, depot, 0.8, bottom=sites, color=OCHRE, alpha=0.75, lw=0, label="at the depot", zorder=2)
        ax.set_xlim(-0.6, max(lamps) + 0.6)
        ax.set_ylim(0.0, 1.25 * max([*lamps, 1.0]))
        ax.xaxis.set_major_locator(MaxNLocator(nbins=10, integer=True))
        ax.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True))
        ax.set_xlabel("lamps in all")
        ax.set_ylabel("lamps held")
        right: Any = ax.twinx()
        right.plot(lamps, shortfall, color=INK, lw=1.4, marker="o", ms=3.2, label=_SHORTFALLS[curve.measure].lower())
        right.set_ylim(0.0, 1.25 * greatest)
        right.grid(visible=False)
        right.spines["right"].set_visible(True)
        right.yaxis.set_major_locator(MaxNLocator(nbins=5))
        if greatest >= 1000.0:
            right.yaxis.set_major_formatter(FuncFormatter(_thousands))
        right.set_ylabel(_SHORTFALLS[curve.measure].lower(), color=INK)
        right.tick_params(axis="y", colors=MUTED)
        ax.set_title(f"{curve.lamp}: where to hold the lamps")
        keys = [axes.get_legend_handles_labels() for axes in (ax, right)]
        handles, labels = ([x for key in keys for x in key[i]] for i in (0, 1))
        right.legend(handles, labels, loc="upper center", ncols=3, borderaxespad=0.4, handlelength=1.8)
    return ax
