"""Plots of study results, one function for each, on matplotlib axes that you may pass in.

``reliability``, ``cost``, ``cost_parts`` and ``demand`` take one class of a study: an entry of ``results.classes``, or
one of ``classes`` in ``results.json`` as a dict. ``curve``, ``incidence`` and ``recurrence`` take what
``relamp.product_limit``, ``relamp.incidence`` and ``relamp.recurrence`` give. Nothing is computed here beyond placing
numbers on axes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

from relamp._ages import first_tick, hours_axis, under
from relamp._given import must_be, named
from relamp._ticks import amounts
from relamp._words import counted, read_at

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["cost", "cost_parts", "curve", "demand", "incidence", "recurrence", "reliability"]

INK = "#20252e"
MUTED = "#667080"
RULE = "#d8d4cb"
PETROL = "#0e6069"
BRICK = "#a63a2b"
OCHRE = "#b67b16"
CAUSE_COLOURS = {
    "burst": "#a63a2b",
    "seal": "#cf8646",
    "no_strike": "#dfbf62",
    "flicker": "#7f9c82",
    "dim": "#4f7192",
}
CAUSE_WORDS = {
    "burst": "burst",
    "seal": "seal failed",
    "no_strike": "no strike",
    "flicker": "flicker",
    "dim": "dim",
    "planned": "changed on plan",
    "moved": "moved",
    "converted": "projector converted",
    "other": "other reason",
    "not_lamp": "fault not the lamp's",
    "unknown": "not known",
    "running": "still burning",
}

# Sockets below which the spread between them, and so their band, is a matter of luck. Our choice, without a source.
_FEW_SOCKETS = 10

_STYLE: dict[str, Any] = {
    # This font comes with matplotlib, so that the layout does not depend on the machine.
    "font.family": ["DejaVu Sans"],
    "font.size": 8.5,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": MUTED,
    "axes.linewidth": 0.7,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlesize": 9.5,
    "axes.titlelocation": "left",
    "axes.titlecolor": INK,
    "axes.titlepad": 9.0,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.major.size": 3.0,
    "ytick.major.size": 0.0,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "grid.color": RULE,
    "grid.linewidth": 0.6,
    "figure.facecolor": "white",
    "axes.facecolor": "white",
    # Nearly opaque, so that lines behind the key never run through its words.
    "legend.frameon": True,
    "legend.facecolor": "white",
    "legend.edgecolor": "none",
    "legend.framealpha": 0.85,
    "legend.fancybox": False,
    "legend.fontsize": 7.5,
    "text.color": INK,
    # Names from a log may hold dollar signs, which must not be read as formulas.
    "text.parse_math": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    # Same bytes again, and text as text.
    "svg.fonttype": "none",
    "svg.hashsalt": "relamp",
}


def _style(**changed: Any) -> AbstractContextManager[None]:
    import matplotlib

    style: Any = {**_STYLE, **changed}
    return matplotlib.rc_context(style)


def _plain(result: Any) -> Mapping[str, Any]:
    to_dict = getattr(result, "to_dict", None)
    plain = to_dict() if to_dict else result
    if isinstance(plain, Mapping) and "body" in plain:
        plain = plain["body"]
    if not isinstance(plain, Mapping) or "advised_age_hours" not in plain:
        raise TypeError(
            f"expected one class of a study, as a dict or a result object, got {type(result).__name__}; "
            "take one from results.classes"
        )
    return plain


def _axes(ax: Axes | None, width: float, height: float) -> Axes:
    if ax is not None:
        from matplotlib.text import Text

        # Titles of axes made elsewhere would read dollar signs in a name as a formula.
        for text in ax.findobj(Text):
            text.set_parse_math(False)
        return ax
    from relamp._sheet import Sheet

    axes: Axes = Sheet(width, height).add_subplot()
    return axes


def _thousands(x: float, _position: int | None = None) -> str:
    return f"{x:,.0f}"


def _full_hours(x: float) -> str:
    from relamp.report import FORMATS

    return FORMATS["hours"](x)


def _percent(x: float, _position: int | None = None) -> str:
    return f"{100 * x:.0f} %"


def _mark(ax: Axes, x: float, text: str, colour: str, *, row: int, dashed: bool = False) -> None:
    """A vertical line with its words above the frame; rows keep two labels from meeting."""
    ax.axvline(x, color=colour, linewidth=1.1, linestyle=(0, (4, 2.5)) if dashed else "solid", zorder=4)
    left, right = ax.get_xlim()
    far = x > left + 0.72 * (right - left)
    ax.annotate(
        text,
        (x, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(-3 if far else 3, 3 + 10 * row),
        textcoords="offset points",
        ha="right" if far else "left",
        va="bottom",
        fontsize=7.5,
        color=colour,
    )


def _past_limit(ax: Axes, limit: float) -> None:
    _, right = ax.get_xlim()
    if right > limit:
        ax.axvspan(limit, right, color=BRICK, alpha=0.07, linewidth=0, zorder=0)


def reliability(result: Any, ax: Axes | None = None) -> Axes:
    """The reliability curve with its band and the lamps at risk, and the fitted model over it.

    Parameters
    ----------
    result : dict or class result
        One class of a study.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not one class of a study.

    Examples
    --------
    With one class of the demo chain:

    >>> import relamp
    >>> from relamp import plots
    >>> results = relamp.Study.open("data/demo/study.toml", draws=20).run().results
    >>> axes = plots.reliability(results.classes[0])
    >>> len(axes.get_children()) > 0
    True
    """
    data = _plain(result)
    with _style():
        ax = _axes(ax, 6.3, 3.5)
        curve, model, limit = data["curve"], data["model"], data["limit"]["limit_hours"]
        points: Sequence[Mapping[str, Any]] = curve["points"] if curve else []
        last = max([limit * 1.08, *(p["age_hours"] for p in points)])
        if model:
            last = min(max(last, limit * 1.15), max(p["age_hours"] for p in model["points"]))
        ticks = hours_axis(ax, last)
        _past_limit(ax, limit)
        if model:
            _model(ax, model)
        if points:
            oldest = data["seen"]["oldest_at_risk_hours"]
            _steps(ax, points, curve, oldest)
            _at_risk(ax, curve, ticks)
        _reliability_axes(ax)
        here = data["advised_age_hours"] >= limit
        _mark(ax, limit, f"{'change at the ' if here else ''}limit {_full_hours(limit)} h", BRICK, row=0)
        if not here:
            _mark(ax, data["advised_age_hours"], f"change at {_full_hours(data['advised_age_hours'])} h", PETROL, row=1)
    return ax


def _steps(ax: Axes, points: Sequence[Mapping[str, Any]], curve: Mapping[str, Any], oldest: float) -> None:
    if oldest > points[-1]["age_hours"]:
        # The last step holds as long as a lamp is at risk.
        points = [*points, {**points[-1], "age_hours": oldest}]
    ages = [p["age_hours"] for p in points]
    held = [p for p in points if p["low_probability"] is not None and p["high_probability"] is not None]
    if held:
        ax.fill_between(
            [p["age_hours"] for p in held],
            [p["low_probability"] for p in held],
            [p["high_probability"] for p in held],
            step="post",
            color=INK,
            alpha=0.13,
            linewidth=0,
            zorder=1,
            label=_band_label(curve["level_probability"], "records"),
        )
    words = "records"
    if curve["given_survival_to_hours"] > 0:
        words += f", given survival to {_full_hours(curve['given_survival_to_hours'])} h"
    if curve["interval_rows_count"]:
        words += f" (intervals read at their {read_at(curve['interval_reading'])})"
    ax.step(
        ages, [p["reliability_probability"] for p in points], where="post", color=INK, lw=1.2, label=words, zorder=3
    )


def _band_label(level: float, of: str) -> str:
    return f"{100 * level:.0f} % band of the {of}"


def _model(ax: Axes, model: Mapping[str, Any]) -> None:
    points = model["points"]
    ages = [p["age_hours"] for p in points]
    held = [p for p in points if p["low_probability"] is not None and p["high_probability"] is not None]
    if held:
        ax.fill_between(
            [p["age_hours"] for p in held],
            [p["low_probability"] for p in held],
            [p["high_probability"] for p in held],
            color=PETROL,
            alpha=0.16,
            linewidth=0,
            zorder=1,
            label=_band_label(model["b10_interval_hours"]["level_probability"], "model"),
        )
    values = [p["reliability_probability"] for p in points]
    known = sum(not p["past_records"] for p in points)
    ax.plot(ages[:known], values[:known], color=PETROL, linewidth=1.5, label=_model_label(model), zorder=2)
    if known < len(ages):
        start = max(known - 1, 0)
        ax.plot(
            ages[start:],
            values[start:],
            color=PETROL,
            linewidth=1.3,
            linestyle=(0, (1.2, 1.6)),
            label="model past the records",
            zorder=2,
        )


def _model_label(model: Mapping[str, Any]) -> str:
    """The drawn model is that of the causes side by side, not the one of all failures together."""
    families = {cause["family"] for cause in model["by_cause"]}
    if families == {"exponential"}:
        return "even failure rate"
    if len(model["by_cause"]) > 1:
        return "model, causes side by side"
    return f"{_family(families.pop() if families else model['family'])} model"


def _at_risk(ax: Axes, curve: Mapping[str, Any], ticks: Sequence[float]) -> None:
    """Lamps at risk at each tick: without them the right end of a curve looks surer than it is."""
    known = {p["age_hours"]: p["at_risk_count"] for p in curve.get("at_risk", [])}
    # Results of before do not say how many.
    under(ax, ticks, [0 if tick > curve["end_hours"] else known.get(tick) for tick in ticks])


def cost(result: Any, ax: Axes | None = None, *, currency: str = "") -> Axes:
    """Long-run cost by planned age up to the limit, its interval, and the ages within 2 % of the least.

    Parameters
    ----------
    result : dict or class result
        One class of a study that has a policy.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    currency : str, optional
        Currency of the study, for the axis.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not one class of a study.

    Examples
    --------
    With one class of the demo chain:

    >>> import relamp
    >>> from relamp import plots
    >>> results = relamp.Study.open("data/demo/study.toml", draws=20).run().results
    >>> axes = plots.cost(results.classes[0], currency="EUR")
    >>> len(axes.get_children()) > 0
    True
    """
    data = _plain(result)
    policy = data["policy"]
    if policy is None:
        raise ValueError(f"class {data['name']!r} has no policy: {data['headline']}")
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        points = [p for p in policy["cost_curve"] if p["age_hours"] <= data["limit"]["limit_hours"]]
        limit = data["limit"]["limit_hours"]
        ages = [p["age_hours"] for p in points]
        costs = [p["cost_per_1000_hours"] for p in points]
        _cost_scale(ax, policy, limit)
        _past_limit(ax, limit)
        for i, band in enumerate(policy["near_best"]):
            ax.axvspan(
                band["from_hours"],
                band["to_hours"],
                color=PETROL,
                alpha=0.10,
                linewidth=0,
                label=None if i else "within 2 % of the least cost",
                zorder=0,
            )
        held = [p for p in points if p["low_per_1000_hours"] is not None and p["high_per_1000_hours"] is not None]
        if held:
            ax.fill_between(
                [p["age_hours"] for p in held],
                [p["low_per_1000_hours"] for p in held],
                [p["high_per_1000_hours"] for p in held],
                color=INK,
                alpha=0.13,
                linewidth=0,
                label="interval over the draws",
                zorder=1,
            )
        ax.plot(ages, costs, color=INK, linewidth=1.4, zorder=3)
        planned, today = policy["planned"], policy["todays_rule"]
        # Where both ages meet, the ring goes around the dot instead of under it.
        left, right = ax.get_xlim()
        ring = 9.5 if abs(today["age_hours"] - planned["age_hours"]) < 0.02 * (right - left) else 5.5
        ax.plot([today["age_hours"]], [today["cost_per_1000_hours"]], "o", ms=ring, mfc="white", mec=OCHRE, mew=1.5,
                label=f"today's rule, {_full_hours(today['age_hours'])} h", zorder=5)  # fmt: skip
        ax.plot([planned["age_hours"]], [planned["cost_per_1000_hours"]], "o", ms=5.5, color=PETROL,
                label=f"planned age, {_full_hours(planned['age_hours'])} h", zorder=5)  # fmt: skip
        ax.set_xlabel("planned age, lamp hours")
        ax.set_title(f"Cost per 1,000 lamp hours{f', {currency}' if currency else ''}", pad=24)
        _mark(ax, limit, f"limit {_full_hours(limit)} h", BRICK, row=0)
        ax.legend(loc="lower left", borderaxespad=0.4, handlelength=1.8)
    return ax


def cost_parts(result: Any, ax: Axes | None = None, *, currency: str = "") -> Axes:
    """Long-run cost by planned age, stacked: planned changes, then each cause of failure.

    Parameters
    ----------
    result : dict or class result
        One class of a study that has a policy.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    currency : str, optional
        Currency of the study, for the axis.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not one class of a study.

    Examples
    --------
    With one class of the demo chain:

    >>> import relamp
    >>> from relamp import plots
    >>> results = relamp.Study.open("data/demo/study.toml", draws=20).run().results
    >>> axes = plots.cost_parts(results.classes[0], currency="EUR")
    >>> len(axes.get_children()) > 0
    True
    """
    data = _plain(result)
    policy = data["policy"]
    if policy is None:
        raise ValueError(f"class {data['name']!r} has no policy: {data['headline']}")
    with _style():
        ax = _axes(ax, 6.3, 2.9)
        points = [p for p in policy["cost_curve"] if p["age_hours"] <= data["limit"]["limit_hours"]]
        limit = data["limit"]["limit_hours"]
        layers = {"planned": [p["planned_cost_per_1000_hours"] for p in points]}
        for i, part in enumerate(points[0]["by_cause"]):
            layers[part["ending"]] = [p["by_cause"][i]["cost_per_1000_hours"] for p in points]
        colours = ["#cfcabf", *(CAUSE_COLOURS.get(cause, "#90949c") for cause in list(layers)[1:])]
        labels = ["planned changes", *(CAUSE_WORDS.get(cause, cause) for cause in list(layers)[1:])]
        ax.stackplot([p["age_hours"] for p in points], *layers.values(), labels=labels, colors=colours, linewidth=0)
        _cost_scale(ax, policy, limit)
        _past_limit(ax, limit)
        ax.set_xlabel("planned age, lamp hours")
        ax.set_title(f"What the cost is made of{f', {currency}' if currency else ''}", pad=24)
        _mark(ax, limit, f"limit {_full_hours(limit)} h", BRICK, row=0)
        planned = policy["planned"]["age_hours"]
        if planned < limit:
            _mark(ax, planned, f"planned age {_full_hours(planned)} h", PETROL, row=1)
        legend = ax.legend(loc="lower left", ncols=2, handlelength=1.0, labelspacing=0.35, columnspacing=1.2)
        for handle in legend.legend_handles:
            # The key lies on the first layer, whose own swatch would vanish without an edge.
            assert handle is not None
            handle.set(edgecolor="white", linewidth=0.6)
    return ax


def _cost_scale(ax: Axes, policy: Mapping[str, Any], limit: float) -> None:
    """The steep left end would flatten the part that matters: the axes show the valley, and cost from zero."""
    points = [p for p in policy["cost_curve"] if p["age_hours"] <= limit]
    least = min(p["cost_per_1000_hours"] for p in points)
    late = [p["high_per_1000_hours"] or p["cost_per_1000_hours"] for p in points if p["age_hours"] > 0.5 * limit]
    top = min(max(1.25 * max(late, default=least), 1.6 * least), 3.0 * least)
    ax.set_ylim(0.0, top)
    first = min(p["age_hours"] for p in points if p["cost_per_1000_hours"] <= top)
    marked = min(policy["planned"]["age_hours"], policy["todays_rule"]["age_hours"])
    hours_axis(ax, limit * 1.04, max(0.0, min(first, 0.9 * marked)))
    amounts(ax.yaxis)


def demand(result: Any, ax: Axes | None = None) -> Axes:
    """Lamps needed by month: the mean, and the numbers not passed with chances of 50, 80 and 95 %.

    Parameters
    ----------
    result : dict or class result
        One class of a study that has a forecast.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not one class of a study.

    Examples
    --------
    With one class of the demo chain:

    >>> import relamp
    >>> from relamp import plots
    >>> results = relamp.Study.open("data/demo/study.toml", draws=20).run().results
    >>> axes = plots.demand(results.classes[0])
    >>> len(axes.get_children()) > 0
    True
    """
    data = _plain(result)
    if data["demand"] is None:
        raise ValueError(f"class {data['name']!r} has no forecast: {data['headline']}")
    months = data["demand"]["months"]
    with _style():
        ax = _axes(ax, 6.3, 2.7)
        places = list(range(len(months)))
        below = [0] * len(months)
        for key, alpha, label in (
            ("p50_lamps", 0.62, "50 %: not more than this"),
            ("p80_lamps", 0.34, "80 %"),
            ("p95_lamps", 0.16, "95 %"),
        ):
            top = [m[key] for m in months]
            height = [t - b for t, b in zip(top, below, strict=True)]
            ax.bar(places, height, bottom=below, width=0.62, color=PETROL, alpha=alpha, linewidth=0, label=label)
            below = top
        ax.plot(
            places, [m["mean_lamps"] for m in months], "D", ms=4, mfc="white", mec=INK, mew=1.1, ls="none", label="mean"
        )
        # Twelve labels and more would touch.
        every = -(-len(months) // 9)
        ax.set_xticks(places[::every], [_month(m["from"]) for m in months[::every]])
        ax.set_xlim(-0.6, len(months) - 0.4)
        from matplotlib.ticker import MaxNLocator

        ax.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True, steps=[1, 2, 5, 10]))
        ax.set_ylim(0, max([1, *(m["p95_lamps"] for m in months)]) * 1.12)
        ax.set_title("Lamps needed by month", pad=24)
        ax.set_xlabel("month that begins on")
        ax.legend(
            loc="lower left",
            bbox_to_anchor=(-0.01, 1.0),
            ncols=4,
            borderaxespad=0.2,
            handlelength=1.2,
            columnspacing=1.3,
        )
    return ax


def _month(day: str) -> str:
    names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    year, month, number = str(day).split("-")
    return f"{int(number)} {names[int(month) - 1]}\n{year}"


def curve(curve: Any, ax: Axes | None = None, *, life: Any = None) -> Axes:
    """A product-limit curve with its band and the lamps at risk, and a life model over it.

    The axis starts where the curve does. Under each tick stand the lamps at risk at that age.

    Parameters
    ----------
    curve : Curve
        From ``relamp.product_limit``.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    life : Life, optional
        A model to draw over the curve, such as ``fit.life``.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a curve, and no life over it.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900], ending=["burst", "dim"] * 5)
    >>> axes = plots.curve(relamp.product_limit(tally), life=relamp.fit(tally).life)
    >>> float(axes.get_xlim()[0])
    0.0
    """
    must_be("curve", curve, "Curve")
    must_be("life", life, "Life", or_none=True)
    ages = [float(a) for a in curve.ages]
    band = [(None, None) if low != low else (float(low), float(high)) for low, high in curve.band]
    start = curve.conditional_from
    points = [{"age_hours": start, "reliability_probability": 1.0, "low_probability": None, "high_probability": None}]
    points += [
        {"age_hours": age, "reliability_probability": float(r), "low_probability": low, "high_probability": high}
        for age, r, (low, high) in zip(ages, curve.reliability, band, strict=True)
    ]
    facts = {
        "level_probability": curve.level,
        "given_survival_to_hours": start,
        "interval_rows_count": curve.interval_failures,
        "interval_reading": curve.reading or "",
    }
    with _style():
        ax = _axes(ax, 6.3, 3.5)
        last = max([curve.last_age, *ages]) or 1.0
        ticks = hours_axis(ax, last + 0.02 * (last - start), first_tick(start, last), ends=last)
        if life is not None:
            grid = [start + (last - start) * i / 200 for i in range(201)]
            values = [float(r) for r in life.conditional_reliability(grid, reached=start)]
            ax.plot(grid, values, color=PETROL, linewidth=1.5, label="model", zorder=2)
        _steps(ax, points, facts, curve.last_age)
        under(ax, ticks, curve.at_risk_at(ticks).tolist())
        _reliability_axes(ax)
    return ax


def _reliability_axes(ax: Axes) -> None:
    from matplotlib.ticker import FuncFormatter

    ax.set_ylim(0.0, 1.02)
    ax.yaxis.set_major_formatter(FuncFormatter(_percent))
    ax.set_xlabel("lamp hours")
    ax.set_title("Lamps that still work", pad=24)
    handles, labels = ax.get_legend_handles_labels()
    order = sorted(range(len(labels)), key=lambda i: ("% band of" in labels[i], i))
    ax.legend(
        [handles[i] for i in order],
        [labels[i] for i in order],
        loc="lower left",
        borderaxespad=0.4,
        handlelength=1.8,
    )


def incidence(incidence: Any, ax: Axes | None = None) -> Axes:
    """Shares of lamps that failed by each age, stacked by cause; what is left on top still works.

    Under each tick stand the lamps at risk at that age.

    Parameters
    ----------
    incidence : Incidence
        From ``relamp.incidence``.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not an incidence.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900], ending=["burst", "dim"] * 5)
    >>> axes = plots.incidence(relamp.incidence(tally))
    >>> float(axes.get_ylim()[0])
    0.0
    """
    must_be("incidence", incidence, "Incidence")
    start = float(incidence.conditional_from)
    ages = [float(a) for a in incidence.ages]
    causes = list(incidence.endings)
    ages.append(max([float(incidence.last_age), start, *ages]))
    layers = [[0.0, *(float(p) for p in incidence.incidence_at(cause, ages))] for cause in causes]
    with _style():
        ax = _axes(ax, 6.3, 3.4)
        spare = ["#8b7aa0", "#5f8f9a", "#a08c6a", "#90949c"]
        colours = [CAUSE_COLOURS.get(cause) or spare[i % len(spare)] for i, cause in enumerate(causes)]
        if layers:
            labels = [CAUSE_WORDS.get(cause, cause) for cause in causes]
            # The shares are steps: each holds from its age to the next.
            ax.stackplot([start, *ages], *layers, labels=labels, colors=colours, linewidth=0, step="post")
            ax.legend(loc="upper left", reverse=True, handlelength=1.0)
        ticks = hours_axis(ax, ages[-1] or 1.0, first_tick(start, ages[-1]), ends=ages[-1])
        under(ax, ticks, incidence.at_risk_at(ticks).tolist())
        from matplotlib.ticker import FuncFormatter

        ax.yaxis.set_major_formatter(FuncFormatter(_percent))
        ax.set_ylim(bottom=0.0)
        ax.set_xlabel("lamp hours")
        given = f", given survival to {_full_hours(start)} h" if start > 0 else ""
        ax.set_title(f"Lamps that failed, by cause{given}")
    return ax


def recurrence(recurrence: Any, ax: Axes | None = None, *, other: Any = None, names: Sequence[str] = ()) -> Axes:
    """Mean number of failures of a screen by its age, with the band; of one group of screens, or of two.

    Under each tick stand the screens at risk: those under observation at that age. The band of fewer than ten screens
    is left out, and the key says so: it would rest on luck.

    Parameters
    ----------
    recurrence : Recurrence
        From ``relamp.recurrence``.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    other : Recurrence, optional
        Of a second group, drawn beside it.
    names : sequence of str
        What to call them in the key: none, or one for each.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a recurrence.
    ValueError
        For another number of names.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots
    >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
    >>> axes = plots.recurrence(relamp.recurrence(screens))
    >>> axes.get_xlabel()
    'hours burned in the screen'
    """
    must_be("recurrence", recurrence, "Recurrence")
    must_be("other", other, "Recurrence", or_none=True)
    drawn = [(recurrence, PETROL, "-")] + ([] if other is None else [(other, BRICK, "--")])
    named(names, len(drawn))
    last = max(float(r.last_age) for r, _, _ in drawn)
    with _style():
        ax = _axes(ax, 6.3, 3.1 + 0.3 * len(drawn))
        ticks = hours_axis(ax, last or 1.0, ends=last)
        if len(drawn) > 1:
            under(ax, [], [], words="screens at risk")
        for i, (r, colour, dashes) in enumerate(drawn):
            # The curve holds from each step to the next, and to the end of the last watch.
            ages = [0.0, *(float(a) for a in r.ages), float(r.last_age)]
            mean = [0.0, *(float(m) for m in r.mean)]
            ends = [(float(low), float(high)) for low, high in r.band]
            few = int(r.sockets) < _FEW_SOCKETS
            screens = counted(int(r.sockets), "screen")
            name = names[i] if i < len(names) else "mean of all screens" if other is None else f"group {i + 1}"
            label = name + (f" ({screens}, no band)" if few else "")
            # A name that is too long for the margin would run out of the figure.
            words = "screens\nat risk" if other is None else name if len(name) <= 16 else name[:15] + "\u2026"
            row = i + len(drawn) - 1
            under(ax, ticks, r.at_risk_at(ticks).tolist(), words=words, row=row, colour=colour if row else MUTED)
            ax.step(ages, [*mean, mean[-1]], where="post", color=colour, linestyle=dashes, linewidth=1.5, label=label)
            if ends and not few:
                low, high = ([0.0, *side, side[-1]] for side in zip(*ends, strict=True))
                percent = f"{100 * float(r.level):g} % band"
                ax.fill_between(ages, low, high, step="post", color=colour, alpha=0.14, linewidth=0, label=percent)
        ax.set_ylim(bottom=0.0)
        ax.set_xlabel("hours burned in the screen")
        ax.set_title("Failures of a screen so far, on average")
        ax.legend(loc="upper left", handlelength=1.8)
    return ax


def _family(code: str) -> str:
    from relamp import family_in_words

    return family_in_words(code)
