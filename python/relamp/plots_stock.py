"""Plots of how many to hold, on matplotlib axes that you may pass in.

``cost`` and ``trade_off`` take what ``relamp.best_reorder`` and ``relamp.best_order_up_to`` give. Nothing is computed
here beyond placing numbers on axes.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from relamp._given import must_be
from relamp._ticks import amounts
from relamp._words import counted
from relamp.plots import BRICK, INK, MUTED, OCHRE, PETROL, _axes, _style, _thousands

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import StockPlan

__all__ = ["cost", "trade_off"]

# Costs above this many times the least are left out of the frame, so that the valley can be seen.
_HIGHEST = 3.0
# Stocks to either side of the best that the trade-off shows at least; beyond, only while they tell something.
_BESIDE = 3
# How many times what the best stock leaves the frame reaches up to.
_TIMES = 4.0
# The share of that height below which more stock hardly tells.
_HARDLY = 0.03
_YEAR_DAYS = 365.25


def _running(row: dict[str, Any]) -> float:
    return float(row["holding"]) + float(row["ordering"]) + float(row["shortage"])


def _order_words(row: dict[str, Any]) -> str:
    if row["order_up_to"] is not None:
        over = row["order_up_to"] - row["base_stock"] + 1
        return f"order up to {counted(over, 'lamp')} above the order point"
    return f"orders of {counted(row['quantity'], 'lamp')}"


def _lamps_axis(ax: Axes, first: float, last: float) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    ax.set_xlim(first, last)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=9, integer=True))
    ax.xaxis.set_major_formatter(FuncFormatter(_thousands))


def _best_row(rows: list[dict[str, Any]], plan: StockPlan) -> dict[str, Any]:
    base = plan.service.order_point + 1
    return next(row for row in rows if row["base_stock"] == base)


def cost(plan: StockPlan, ax: Axes | None = None, *, currency: str = "") -> Axes:
    """Yearly cost by base stock, split into lamps held and ordered and screens that wait, with the stock of least cost.

    The price of the lamps that are used is the same at every stock and left out. The base stock is one above the order
    point; each dot is a stock that can be held.

    Parameters
    ----------
    plan : StockPlan
        What ``relamp.best_reorder`` or ``relamp.best_order_up_to`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    currency : str, optional
        Currency of the costs, for the title.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a stock plan.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_stock
    >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
    >>> costs = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
    >>> axes = plots_stock.cost(relamp.best_reorder(demand, costs), currency="EUR")
    >>> axes.get_title(loc="left")
    'Cost a year by base stock, EUR (lamps bought left out)'
    """
    must_be("plan", plan, "StockPlan")
    rows = plan.frame().to_dicts()
    best = _best_row(rows, plan)
    least = _running(best)
    shown = [row for row in rows if _running(row) <= _HIGHEST * least] if least > 0.0 else rows
    stocks = [row["base_stock"] for row in rows]
    few = len(shown) <= 40
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        first, last = min(row["base_stock"] for row in shown), max(row["base_stock"] for row in shown)
        room = max(0.5, 0.02 * (last - first))
        _lamps_axis(ax, first - room, last + room)
        ax.set_ylim(0.0, _HIGHEST * least if least > 0.0 else None)
        held = [float(row["holding"]) + float(row["ordering"]) for row in rows]
        short = [float(row["shortage"]) for row in rows]
        small: dict[str, Any] = {"marker": "o", "ms": 2.6} if few else {}
        ax.plot(stocks, held, color=OCHRE, lw=1.1, label="lamps held and ordered", zorder=2, **small)
        ax.plot(stocks, short, color=BRICK, lw=1.1, label="screens that wait", zorder=2, **small)
        total: dict[str, Any] = {"marker": "o", "ms": 3.4} if few else {}
        ax.plot(stocks, [_running(row) for row in rows], color=INK, lw=1.4, label="together", zorder=3, **total)
        money = _thousands(least) if least >= 10.0 or least == 0.0 else f"{least:.3g}"
        words = f"least, {counted(best['base_stock'], 'lamp')}: {money} a year"
        ax.plot([best["base_stock"]], [least], "o", ms=6.5, color=PETROL, label=words, zorder=5)
        amounts(ax.yaxis)
        ax.set_xlabel(f"base stock, lamps: one above the order point ({_order_words(best)})")
        unit = f", {currency}" if currency else ""
        ax.set_title(f"Cost a year by base stock{unit} (lamps bought left out)")
        ax.legend(loc="upper right", handlelength=1.8)
    return ax


def trade_off(
    plan: StockPlan, ax: Axes | None = None, *, todays_base_stock: int | None = None, currency: str = ""
) -> Axes:
    """Money in the lamps on the shelf against lost shows, one dot for each base stock near the least cost.

    Base stocks far from it are left out, but for today's; where some are left out between two dots the line is broken
    and a note says so. Each step to the right is one more lamp held, each step down the shows it saves. Where the plan
    was made without a programme, days that screens wait stand in place of shows.

    Parameters
    ----------
    plan : StockPlan
        What ``relamp.best_reorder`` or ``relamp.best_order_up_to`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    todays_base_stock : int, optional
        A base stock to mark, such as what is held today; one above the order point.
    currency : str, optional
        Currency of the costs, for the axis.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a stock plan.
    ValueError
        For a base stock of today that does not stand in the table of the plan.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_stock
    >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
    >>> costs = relamp.stock_costs(800.0, money_rate=0.1, dark_day=400.0)
    >>> plan = relamp.best_reorder(demand, costs, hours_per_week=70.0, show_hours=2.5)
    >>> axes = plots_stock.trade_off(plan, todays_base_stock=6, currency="EUR")
    >>> [text.get_text() for text in axes.get_legend().get_texts()]
    ['least cost, 12 lamps', 'today, 6 lamps']
    """
    must_be("plan", plan, "StockPlan")
    rows = plan.frame().to_dicts()
    best = _best_row(rows, plan)
    shows = best["dark_shows_a_year"] is not None

    def lost(row: dict[str, Any]) -> float:
        return float(row["dark_shows_a_year"]) if shows else _YEAR_DAYS * float(row["mean_waiting"])

    today = None
    if todays_base_stock is not None:
        today = next((row for row in rows if row["base_stock"] == todays_base_stock), None)
        if today is None:
            raise ValueError(f"todays_base_stock must stand in the table of the plan, got {todays_base_stock}")
    place = rows.index(best)
    marked = [row for row in (best, today) if row is not None]
    beside = rows[max(0, place - _BESIDE) : place + 1]
    near = [row for row in rows if lost(row) <= _TIMES * lost(best)]
    top = max(lost(row) for row in [*beside, *near, *marked])
    kept = [
        row
        for i, row in enumerate(rows)
        if lost(row) <= 1.02 * top and (abs(i - place) <= _BESIDE or lost(row) > _HARDLY * top or row in marked)
    ]
    with _style():
        ax = _axes(ax, 6.3, 3.3)
        money = [float(row["stock_money"]) for row in kept]
        width = max(money) - min(money) or 1.0
        ax.set_xlim(min(money) - 0.05 * width, max(money) + 0.08 * width)
        ax.set_ylim(-0.03 * top if top > 0.0 else -0.1, 1.12 * top if top > 0.0 else 1.0)
        ax.grid(visible=True, axis="both")
        line: list[tuple[float, float]] = []
        broken = False
        for before, row in zip([None, *kept], kept, strict=False):
            if before is not None and rows.index(row) - rows.index(before) > 1:
                line.append((math.nan, math.nan))
                broken = True
            line.append((float(row["stock_money"]), lost(row)))
        ax.plot(*zip(*line, strict=True), "-o", ms=3.4, lw=1.1, color=INK, zorder=3)
        if broken:
            words = "line broken: base stocks between are left out"
            ax.text(0.99, 0.62, words, transform=ax.transAxes, ha="right", fontsize=7.0, color=MUTED)
        for row in kept if len(kept) <= 25 else marked:
            ax.annotate(
                f"{row['base_stock']:,}",
                (float(row["stock_money"]), lost(row)),
                xytext=(4, 4),
                textcoords="offset points",
                fontsize=7.0,
                color=MUTED,
                zorder=4,
            )
        words = f"least cost, {counted(best['base_stock'], 'lamp')}"
        ax.plot([float(best["stock_money"])], [lost(best)], "o", ms=6.5, color=PETROL, label=words, zorder=5)
        if today is not None:
            words = f"today, {counted(today['base_stock'], 'lamp')}"
            ax.plot(
                [float(today["stock_money"])], [lost(today)], "o", ms=6.5, mfc="white", color=INK, label=words, zorder=6
            )
        for axis in (ax.xaxis, ax.yaxis):
            amounts(axis, 6)
        unit = f", {currency}" if currency else ""
        ax.set_xlabel(f"money in lamps on the shelf, on the mean{unit} (small numbers: base stock)")
        ax.set_title("Lost shows a year by stock money" if shows else "Days that screens wait a year by stock money")
        ax.legend(loc="upper right", handlelength=1.2)
    return ax
