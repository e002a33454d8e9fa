"""Plots of failures watched as they come, one function for each, on matplotlib axes that you may pass in.

Both take what ``relamp.watch`` gives. Nothing is computed here beyond adding up months and placing them on axes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from relamp._given import must_be
from relamp._words import counted
from relamp.plots import BRICK, INK, MUTED, OCHRE, PETROL, _axes, _style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from relamp import Watch

__all__ = ["failures", "sums"]

# Charts that are named at their end before the names run into each other.
_NAMED = 6


def _months(watch: Watch) -> dict[tuple[str, str], list[dict[str, Any]]]:
    must_be("watch", watch, "Watch")
    charts: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in watch.months().frame().to_dicts():
        charts.setdefault((row["by"], row["name"]), []).append(row)
    return charts


def _burning(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The months up to the last one in which a lamp burned or failed."""
    last = max((i for i, row in enumerate(rows) if row["expected"] > 0 or row["observed"] > 0), default=0)
    return rows[: last + 1]


def _place(month: str) -> int:
    year, number = month.split("-")
    return 12 * int(year) + int(number) - 1


def _month_axis(ax: Axes, first: int, last: int) -> None:
    """Years as labels, with a tick at each January; months where the records are short."""
    step = 12 if last - first > 24 else 3 if last - first > 6 else 1
    places = [p for p in range(first, last + 2) if p % step == 0]
    labels = [str(p // 12) if step == 12 else f"{p // 12}-{p % 12 + 1:02d}" for p in places]
    ax.set_xticks(places, labels)
    # The figures of the last month stand at its end, and a dot there must not be cut.
    ax.set_xlim(first - 0.5, last + 1.0 + max(0.3, 0.012 * (last - first)))


def _called(by: str, name: str) -> str:
    if by == "fleet":
        return "all lamps"
    # A name may say what it is the name of.
    return name if name.lower().startswith(by) else f"{by} {name}"


def failures(watch: Watch, by: str, name: str = "", ax: Axes | None = None) -> Axes:
    """Failures of one batch, supplier, site or screen so far against those expected, with its alarms.

    Parameters
    ----------
    watch : Watch
        From ``relamp.watch``.
    by : str
        What it is watched by: "fleet", "batch", "supplier", "site" or "screen".
    name : str
        Its name; empty for the fleet.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        For a name that is not watched.
    TypeError
        For what is not a watch.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_watch
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
    ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}))
    >>> axes = plots_watch.failures(watch, "site", "S")
    >>> axes.get_title(loc="left")
    'Failures of site S so far'
    """
    rows = _months(watch).get((by, name))
    if rows is None:
        raise ValueError(f"{_called(by, name)} is not watched; take by and name from the frame of the watch")
    places = [_place(row["month"]) for row in rows]
    seen, expected = [0.0], [0.0]
    for row in rows:
        seen.append(seen[-1] + row["observed"])
        expected.append(expected[-1] + row["expected"])
    alarms = [a for a in watch.alarms().frame().to_dicts() if (a["by"], a["name"]) == (by, name)]
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        # A month's figures stand at its end.
        ends = [places[0], *(p + 1 for p in places)]
        ax.plot(ends, expected, color=PETROL, linewidth=1.5, label="expected at the lamps' ages")
        ax.step(ends, seen, where="post", color=BRICK, linewidth=1.5, label="seen")
        for i, alarm in enumerate(alarms):
            from_, to = _place(alarm["since"]), _place(alarm["month"]) + 1
            said = "alarm: failures were many" if i == 0 else None
            ax.axvspan(from_, to, color=OCHRE, alpha=0.18, linewidth=0, label=said)
            ax.axvline(to, color=OCHRE, linewidth=1.0)
        _month_axis(ax, places[0], places[-1])
        ax.set_ylim(bottom=0.0)
        ax.set_title(f"Failures of {_called(by, name)} so far")
        # Below the months: above, it would hide the curves just where an alarm is.
        ax.legend(loc="upper left", bbox_to_anchor=(0.0, -0.12), ncols=3, handlelength=1.8, borderaxespad=0.0)
    return ax


def sums(watch: Watch, by: str | Sequence[str] = ("batch", "supplier", "site"), ax: Axes | None = None) -> Axes:
    """The running sums of all charts of some kinds, with the bound; those that raised an alarm are named.

    Parameters
    ----------
    watch : Watch
        From ``relamp.watch``.
    by : str or sequence of str
        The kinds to draw: "fleet", "batch", "supplier", "site", "screen".
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        Where nothing of these kinds is watched.
    TypeError
        For what is not a watch.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_watch
    >>> table = {
    ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
    ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
    ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
    ... }
    >>> columns = {
    ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
    ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
    ... }
    >>> reading = relamp.read_table(
    ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
    ...     dates="iso", blank_hours_at_fitting="new",
    ... )
    >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
    >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}))
    >>> axes = plots_watch.sums(watch, by="site")
    >>> axes.get_ylabel()
    'running sum'
    """
    kinds = [by] if isinstance(by, str) else list(by)
    charts = {key: _burning(rows) for key, rows in _months(watch).items() if key[0] in kinds}
    if not charts:
        raise ValueError(f"nothing is watched by {', '.join(kinds)}")
    told: dict[tuple[str, str], list[str]] = {}
    for alarm in watch.alarms().frame().to_dicts():
        told.setdefault((alarm["by"], alarm["name"]), []).append(alarm["month"])
    places = [_place(row["month"]) for rows in charts.values() for row in rows]
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        # The highest are named; a chart whose lamps have all gone ends there.
        named = sorted((key for key in charts if key in told), key=lambda key: -max(r["sum"] for r in charts[key]))
        colours = [BRICK, OCHRE, PETROL, "#4f7192", "#7f9c82", INK]
        for key, rows in charts.items():
            if key not in told:
                ax.plot([_place(r["month"]) + 1 for r in rows], [r["sum"] for r in rows], color=MUTED, alpha=0.35,
                        linewidth=0.7)  # fmt: skip
        for i, key in enumerate(named):
            rows, colour = charts[key], colours[i] if i < _NAMED else MUTED
            label = f"{_called(*key)}" if i < _NAMED else None
            at = [_place(r["month"]) + 1 for r in rows]
            ax.plot(at, [r["sum"] for r in rows], color=colour, linewidth=1.3, label=label, zorder=3)
            marked = [(x, r["sum"]) for x, r in zip(at, rows, strict=True) if r["month"] in told[key]]
            ax.plot(*zip(*marked, strict=True), linestyle="none", marker="o", markersize=4, color=colour, zorder=4)
        ax.axhline(watch.bound, color=INK, linewidth=1.0, linestyle="--", label=f"bound, {watch.bound:.1f}")
        _month_axis(ax, min(places), max(places))
        ax.set_ylim(bottom=0.0)
        ax.set_ylabel("running sum")
        quiet = len(charts) - len(named)
        more = f" (the {_NAMED} highest are named)" if len(named) > _NAMED else ""
        ax.set_title(f"{counted(len(named), 'chart')} raised an alarm{more}, {quiet:,} did not")
        ax.legend(loc="upper left", handlelength=1.8)
    return ax
