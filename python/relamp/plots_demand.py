"""Plots of the lamps a chain needs, on matplotlib axes that you may pass in.

``fan`` and ``kinds`` take what ``relamp.chain_forecast`` gives, ``wave`` one of what ``relamp.policy_wave`` gives,
``wave_kinds`` the two forecasts of such a wave.
Nothing is computed here beyond placing numbers on axes. For one class of a study, ``relamp.plots`` has ``demand``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from relamp._given import must_be
from relamp.plots import BRICK, INK, MUTED, OCHRE, PETROL, _axes, _full_hours, _style, _thousands

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from matplotlib.axes import Axes

    from relamp import ChainForecast, PolicyWave

__all__ = ["fan", "kinds", "wave", "wave_kinds"]

_WIDTH, _HEIGHT = 6.3, 2.9
_BAR = 0.72
# More months than this are marked at the start of each quarter only.
_EVERY_MONTH = 9
_NAMES = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def fan(
    chain: ChainForecast, lamp_class: str, ax: Axes | None = None, *, depot: str | None = None, site: str | None = None
) -> Axes:
    """Lamps needed month by month: the middle, and how far chance and doubt spread about it.

    The dark band holds the middle 60 % of what may come, the light one the middle 90 %; their upper ends are the
    numbers that are not passed with 80 % and with 95 %.

    Parameters
    ----------
    chain : ChainForecast
        What ``relamp.chain_forecast`` gave.
    lamp_class : str
        The lamp class.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    depot, site : str, optional
        One of them, or none for the whole chain.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a chain forecast.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_demand
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> chain = relamp.chain_forecast(
    ...     {"X": (world, 2000.0, limit)}, lamp_class=["X"] * 20, site=["north"] * 20,
    ...     age_hours=[100.0 * i for i in range(20)], hours_per_week=70.0, as_of="2026-01-01",
    ... )
    >>> axes = plots_demand.fan(chain, "X")
    >>> axes.get_title(loc="left")
    'Lamps needed by month, class X'
    """
    must_be("chain", chain, "ChainForecast")
    months = _months(chain)
    counts = [chain.count(lamp_class, depot=depot, site=site, month=m + 1) for m in range(len(months))]
    level = {p: [c.quantile(p) for c in counts] for p in (0.05, 0.2, 0.5, 0.8, 0.95)}
    with _style():
        ax = _axes(ax, _WIDTH, _HEIGHT)
        places = list(range(len(months)))
        for low, high, alpha, label in ((0.05, 0.95, 0.17, "90 % of what may come"), (0.2, 0.8, 0.38, "60 %")):
            heights = [b - a for a, b in zip(level[low], level[high], strict=True)]
            ax.bar(
                places, heights, bottom=level[low], width=_BAR, color=PETROL, alpha=alpha, lw=0, label=label, zorder=2
            )
        half = _BAR / 2
        for p, colour, style, width, label in (
            (0.5, INK, "-", 1.6, "50 %: not more than this"),
            (0.8, PETROL, "-", 1.1, "80 %"),
            (0.95, PETROL, (0, (2, 1.5)), 1.1, "95 %"),
        ):
            left, right = [x - half for x in places], [x + half for x in places]
            ax.hlines(level[p], left, right, colors=colour, lw=width, ls=style, label=label, zorder=3)
        _month_axis(ax, months)
        _lamps_axis(ax, max([1, *level[0.95]]))
        ax.set_title(f"Lamps needed by month, {_named(lamp_class, depot, site)}", pad=24)
        _key(ax, 5)
    return ax


def kinds(
    chain: ChainForecast, lamp_class: str, ax: Axes | None = None, *, depot: str | None = None, site: str | None = None
) -> Axes:
    """Mean planned changes and mean failure changes month by month, side by side.

    The whiskers hold the middle 90 % of each. They do not add up: in a month with fewer of one there are often more of
    the other.

    Parameters
    ----------
    chain : ChainForecast
        What ``relamp.chain_forecast`` gave.
    lamp_class : str
        The lamp class.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    depot, site : str, optional
        One of them, or none for the whole chain.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a chain forecast.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_demand
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> chain = relamp.chain_forecast(
    ...     {"X": (world, 2000.0, limit)}, lamp_class=["X"] * 20, site=["north"] * 20,
    ...     age_hours=[100.0 * i for i in range(20)], hours_per_week=70.0, as_of="2026-01-01",
    ... )
    >>> axes = plots_demand.kinds(chain, "X")
    >>> axes.get_legend_handles_labels()[1]
    ['on plan', 'after a failure']
    """
    must_be("chain", chain, "ChainForecast")
    months = _months(chain)
    with _style():
        ax = _axes(ax, _WIDTH, _HEIGHT)
        top, width = 1.0, _BAR / 2
        for side, (kind, colour, label) in enumerate(
            (("planned", PETROL, "on plan"), ("failures", BRICK, "after a failure"))
        ):
            of = [chain.count(lamp_class, depot=depot, site=site, month=m + 1, kind=kind) for m in range(len(months))]
            places = [m + (side - 0.5) * width for m in range(len(months))]
            ax.bar(places, [c.mean for c in of], width=0.92 * width, color=colour, lw=0, label=label, zorder=2)
            low, high = [c.quantile(0.05) for c in of], [c.quantile(0.95) for c in of]
            ax.vlines(places, low, high, colors=INK, lw=0.8, zorder=3)
            top = max([top, *high])
        _month_axis(ax, months)
        _lamps_axis(ax, top)
        ax.set_title(f"Changes by month, {_named(lamp_class, depot, site)}: mean, and 90 % of what may come", pad=24)
        _key(ax, 2)
    return ax


def wave(wave: PolicyWave, ax: Axes | None = None) -> Axes:
    """Lamps under the old and under the new planned age: what comes once, and what stays for good.

    Parameters
    ----------
    wave : PolicyWave
        One class of what ``relamp.policy_wave`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not the wave of one class.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_demand
    >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> lamps = {"lamp_class": ["X"] * 20, "site": ["north"] * 20, "age_hours": [100.0 * i for i in range(20)]}
    >>> old, new = (
    ...     relamp.chain_forecast({"X": (world, age, limit)}, **lamps, hours_per_week=70.0, as_of="2026-01-01")
    ...     for age in (2000.0, 1500.0)
    ... )
    >>> axes = plots_demand.wave(relamp.policy_wave(old, new)[0])
    >>> axes.get_title(loc="left")
    'From 2,000 h to 1,500 h, class X: mean lamps by month'
    """
    must_be("wave", wave, "PolicyWave")
    rows = wave.frame().to_dicts()
    months = [row["from_day"] for row in rows]
    before, after = [row["before"] for row in rows], [row["after"] for row in rows]
    settled = [row["before"] + row["for_good"] for row in rows]
    with _style():
        ax = _axes(ax, _WIDTH, _HEIGHT)
        places = list(range(len(months)))
        ages = _full_hours(float(wave.old_age_hours)), _full_hours(float(wave.new_age_hours))
        ax.bar(places, after, width=_BAR, color=PETROL, alpha=0.30, lw=0, label=f"at {ages[1]} h", zorder=2)
        over = [max(a - s, 0.0) for a, s in zip(after, settled, strict=True)]
        ax.bar(places, over, bottom=settled, width=_BAR, color=OCHRE, lw=0, label="of these, only once", zorder=3)
        left, right = [x - _BAR / 2 for x in places], [x + _BAR / 2 for x in places]
        ax.hlines(before, left, right, colors=INK, lw=1.5, label=f"at {ages[0]} h, as before", zorder=5)
        ax.hlines(
            settled,
            left,
            right,
            colors=INK,
            lw=0.9,
            ls=(0, (2, 1.5)),
            label="with what stays for good",
            zorder=4,
        )
        _month_axis(ax, months)
        _lamps_axis(ax, max([1.0, *before, *after, *settled]))
        passed = None if wave.passed is None else next(i for i, r in enumerate(rows) if str(r["to_day"]) == wave.passed)
        if passed is not None:
            ax.axvline(passed + 0.5, color=MUTED, lw=0.8, ls=(0, (1, 2)), zorder=1)
            right_half = passed > len(months) / 2
            ax.annotate(
                "the wave has passed" if wave.new_age_hours < wave.old_age_hours else "the trough has passed",
                (passed + 0.5, 0.97),
                xycoords=("data", "axes fraction"),
                xytext=(-4 if right_half else 4, 0),
                textcoords="offset points",
                ha="right" if right_half else "left",
                va="top",
                color=MUTED,
                fontsize=7.5,
            )
        ax.set_title(f"From {ages[0]} h to {ages[1]} h, class {wave.lamp_class}: mean lamps by month", pad=24)
        _key(ax, 4)
    return ax


def wave_kinds(old: ChainForecast, new: ChainForecast, lamp_class: str, ax: Axes | None = None) -> Axes:
    """Mean lamps by month under the old and under the new planned age, changes on plan and after a failure apart.

    Two bars for each month, the pale one before. A lower age moves changes forward at once, and leaves fewer failures.

    Parameters
    ----------
    old, new : ChainForecast
        The same screens and months under the old and under the new planned ages, as for ``relamp.policy_wave``.
    lamp_class : str
        The lamp class.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what are not two chain forecasts.
    ValueError
        For forecasts that are not of the same screens and months, and a class that they do not have.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_demand
    >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
    >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
    >>> lamps = {"lamp_class": ["X"] * 20, "site": ["north"] * 20, "age_hours": [100.0 * i for i in range(20)]}
    >>> old, new = (
    ...     relamp.chain_forecast({"X": (world, age, limit)}, **lamps, hours_per_week=70.0, as_of="2026-01-01")
    ...     for age in (2000.0, 1500.0)
    ... )
    >>> axes = plots_demand.wave_kinds(old, new, "X")
    >>> axes.get_legend_handles_labels()[1]
    ['at 2,000 h: on plan', 'at 2,000 h: after a failure', 'at 1,500 h: on plan', 'at 1,500 h: after a failure']
    """
    import relamp

    must_be("old", old, "ChainForecast")
    must_be("new", new, "ChainForecast")
    # The check of two forecasts, and the ages.
    wave = next((w for w in relamp.policy_wave(old, new) if w.lamp_class == lamp_class), None)
    if wave is None:
        raise ValueError(f"lamp_class must be one of the forecasts, got {lamp_class!r}")
    months = _months(old)
    with _style():
        ax = _axes(ax, _WIDTH, _HEIGHT)
        top, width = 1.0, _BAR / 2
        for side, (chain, age, shade) in enumerate(((old, wave.old_age_hours, 0.40), (new, wave.new_age_hours, 0.95))):
            places = [m + (side - 0.5) * width for m in range(len(months))]
            below = [0.0] * len(months)
            for kind, colour, words in (("planned", PETROL, "on plan"), ("failures", BRICK, "after a failure")):
                of = [chain.count(lamp_class, month=m + 1, kind=kind).mean for m in range(len(months))]
                label = f"at {_full_hours(float(age))} h: {words}"
                ax.bar(
                    places, of, bottom=below, width=0.92 * width, color=colour, alpha=shade, lw=0, label=label, zorder=2
                )
                below = [b + o for b, o in zip(below, of, strict=True)]
            top = max([top, *below])
        _month_axis(ax, months)
        _lamps_axis(ax, top)
        ages = _full_hours(float(wave.old_age_hours)), _full_hours(float(wave.new_age_hours))
        ax.set_title(f"From {ages[0]} h to {ages[1]} h, class {lamp_class}: mean lamps by month", pad=35)
        _key(ax, 2)
    return ax


def _months(chain: ChainForecast) -> list[date]:
    """First days of the months."""
    frame = chain.frame()
    return [row["from_day"] for row in frame.head(len(chain)).to_dicts()]


def _named(lamp_class: str, depot: str | None, site: str | None) -> str:
    where = f", depot {depot}" if depot is not None else f", site {site}" if site is not None else ""
    return f"class {lamp_class}{where}"


def _month_axis(ax: Axes, months: Sequence[date]) -> None:
    """Ticks at months, the year under the first and under each January."""
    every = len(months) <= _EVERY_MONTH
    shown = [i for i, m in enumerate(months) if every or m.month % 3 == 1]
    shown = shown or list(range(len(months)))

    def text(i: int) -> str:
        name = _NAMES[months[i].month - 1]
        new_year = i == shown[0] or any(months[j].month == 1 for j in shown if j == i)
        return f"{name}\n{months[i].year}" if new_year else name

    ax.set_xticks(shown, [text(i) for i in shown])
    ax.set_xlim(-0.6, len(months) - 0.4)
    first = months[0]
    if first.day > 1:
        ax.set_xlabel(f"calendar month; the first from {first.day} {_NAMES[first.month - 1]}")


def _lamps_axis(ax: Axes, top: float) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    ax.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True, steps=[1, 2, 5, 10]))
    ax.yaxis.set_major_formatter(FuncFormatter(_thousands))
    ax.set_ylim(0.0, 1.12 * top)


def _key(ax: Axes, columns: int) -> None:
    options: dict[str, Any] = {"borderaxespad": 0.2, "handlelength": 1.2, "columnspacing": 1.3}
    ax.legend(loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=columns, **options)
