"""Plots of when to change, on matplotlib axes that you may pass in.

``cost`` takes what ``relamp.cost_curve`` and ``relamp.planned_age`` give, ``bars`` what ``relamp.cost_bars`` gives,
``lives`` what ``relamp.life_bars`` gives, ``endings`` what ``relamp.endings_by_age`` gives. Nothing is computed here
beyond placing numbers on axes. For one class of a study, ``moves`` shows what moves its age, and ``relamp.plots`` has
``cost`` and ``cost_parts``.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, Any

from relamp._ages import hours_axis
from relamp._given import must_be
from relamp._ticks import amounts
from relamp.plots import (
    BRICK,
    CAUSE_COLOURS,
    CAUSE_WORDS,
    INK,
    MUTED,
    OCHRE,
    PETROL,
    RULE,
    _axes,
    _full_hours,
    _mark,
    _past_limit,
    _plain,
    _style,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from relamp import CostBars, CostCurve, EndingsByAge, LifeBars, PlannedAge

__all__ = ["bars", "cost", "endings", "lives", "moves"]

_HOURS = 1000.0
# Costs above this many times the least are left out of the frame, so that the valley can be seen.
_HIGHEST = 2.2
_AGAIN = "every failure"
# Distance, relative, within which amounts at neighbouring ages are the same; later money is worth less by as much.
_SAME = 1e-3
# What is counted per 1,000 lamp hours under each objective.
_COUNTED = {"cost_per_hour": "Cost", "discounted_cost": "Discounted cost", "dark_minutes": "Dark minutes"}


def _belong_together(curve: CostCurve, planned: PlannedAge) -> None:
    """Refuses a curve that cannot be that of the planned age: it would show another advice."""
    limit, oldest = float(planned.limit_hours), max(float(a) for a in curve.age_hours)
    if oldest > limit:
        raise ValueError(
            f"curve must end at the limit of the planned age, {limit:g} h, got ages up to {oldest:g} h: another limit?"
        )
    point = planned.to_dict()["cost"]
    # What a planned change comes to, and the chance to fail before it, lie between those of the ages on either side.
    points: Any = curve.to_dict()
    ages: list[dict[str, Any]] = sorted(points, key=lambda p: p["age_hours"])
    place = bisect_right([p["age_hours"] for p in ages], point["age_hours"])
    sides = [ages[max(place - 1, 0)], ages[min(place, len(ages) - 1)]]
    if not sides[0]["age_hours"] <= point["age_hours"] <= sides[1]["age_hours"] <= 1.1 * sides[0]["age_hours"]:
        return
    for name, of in (("chance to fail before", _failed), ("amount of a planned change at", _of_a_change)):
        here, there = of(point), [of(side) for side in sides]
        if not min(there) * (1.0 - _SAME) <= here <= max(there) * (1.0 + _SAME):
            raise ValueError(
                f"curve must be of the world, costs and objective of the planned age: the {name} "
                f"{point['age_hours']:g} h is {here:g} there and {there[0]:g} to {there[1]:g} on the curve"
            )


def _failed(point: dict[str, float]) -> float:
    return point["failure_probability"]


def _of_a_change(point: dict[str, float]) -> float:
    left = 1.0 - point["failure_probability"]
    # Where next to no lamp is left, nothing tells the amounts apart.
    return point["planned_cost_per_hour"] * point["mean_age_at_change_hours"] / left if left > 1e-6 else 0.0


def cost(
    curve: CostCurve,
    planned: PlannedAge,
    ax: Axes | None = None,
    *,
    records: CostCurve | None = None,
    currency: str = "",
) -> Axes:
    """Long-run cost per 1,000 hours by planned age up to the limit, with the advice and the ages near it.

    Past the oldest lamp at risk, where the planned age was given one, the model is drawn broken and the records are not
    drawn: there no lamp was seen. The title follows what the planned age was chosen by.

    Parameters
    ----------
    curve : CostCurve
        What ``relamp.cost_curve`` gave.
    planned : PlannedAge
        What ``relamp.planned_age`` gave for the same world, limit and objective.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    records : CostCurve, optional
        The curve of ``relamp.curve_world``: the records without a family, as a check.
    currency : str, optional
        Currency of the costs, for the title; dark minutes have none.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not a cost curve and a planned age.
    ValueError
        For a curve of ages past the limit of the planned age, and one of another world, costs or objective.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_policy
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
    >>> planned = relamp.planned_age(world, limit)
    >>> axes = plots_policy.cost(relamp.cost_curve(world, limit), planned, currency="EUR")
    >>> axes.get_title(loc="left")
    'Cost per 1,000 lamp hours, EUR'
    """
    must_be("curve", curve, "CostCurve")
    must_be("planned", planned, "PlannedAge")
    must_be("records", records, "CostCurve", or_none=True)
    _belong_together(curve, planned)
    limit, ceiling = float(planned.limit_hours), float(planned.ceiling_hours)
    least = _HOURS * float(planned.cost_per_hour)
    percent, rule = planned.to_dict()["near_percent"], planned.to_dict()["todays_rule"]
    with _style():
        ax = _axes(ax, 6.3, 3.1)
        by_age = sorted(zip(curve.age_hours, curve.cost_per_hour, strict=True))
        ages, costs = [float(a) for a, _ in by_age], [_HOURS * float(c) for _, c in by_age]
        seen = [a for a, c in zip(ages, costs, strict=True) if c <= _HIGHEST * least]
        first = min([*seen, *(from_ for from_, _ in planned.near_best), 0.9 * float(planned.age_hours)])
        hours_axis(ax, 1.04 * limit, max(0.0, first))
        ax.set_ylim(0.0, _HIGHEST * least)
        _past_limit(ax, limit)
        near = f"within {percent:g} % of the least" + (" that the records support" if ceiling < limit else "")
        for i, (from_, to) in enumerate(planned.near_best):
            ax.axvspan(from_, to, color=PETROL, alpha=0.10, lw=0, label=None if i else near, zorder=0)
        if records is not None:
            pairs = zip(records.age_hours, records.cost_per_hour, strict=True)
            steps = [(float(a), _HOURS * float(c)) for a, c in pairs if float(a) <= ceiling]
            ax.plot(
                [a for a, _ in steps],
                [c for _, c in steps],
                color=OCHRE,
                lw=1.0,
                label="the records without a model",
                zorder=2,
            )
        split = bisect_right(ages, ceiling)
        ax.plot(ages[:split], costs[:split], color=INK, lw=1.4, zorder=3)
        ax.plot(ages[max(split - 1, 0) :], costs[max(split - 1, 0) :], color=INK, lw=1.2, ls=(0, (3, 2)), zorder=3)
        label = f"planned age, {_full_hours(float(planned.age_hours))} h"
        ax.plot([float(planned.age_hours)], [least], "o", ms=5.5, color=PETROL, label=label, zorder=5)
        if rule is not None and rule["age_hours"] != float(planned.age_hours):
            today = (rule["age_hours"], _HOURS * rule["cost_per_hour"])
            label = f"today's rule, {_full_hours(today[0])} h"
            ax.plot(*([v] for v in today), "o", ms=5.5, mfc="white", color=INK, label=label, zorder=4)
        amounts(ax.yaxis)
        ax.set_xlabel("planned age, lamp hours")
        unit = f", {currency}" if currency and planned.objective != "dark_minutes" else ""
        ax.set_title(f"{_COUNTED[planned.objective]} per 1,000 lamp hours{unit}", pad=20 if ceiling == limit else 30)
        _mark(ax, limit, f"limit {_full_hours(limit)} h", BRICK, row=0)
        if ceiling < limit:
            _mark(ax, ceiling, f"oldest lamp at risk {_full_hours(ceiling)} h", INK, row=1, dashed=True)
        ax.legend(loc="lower left", borderaxespad=0.4, handlelength=1.8)
    return ax


def bars(bars: CostBars, ax: Axes | None = None) -> Axes:
    """How far each cost, and what else is set, moves the planned age, and what keeping the age would cost more there.

    A ring is the planned age at the smaller cost, a dot at the larger one. To the right stands what keeping today's
    advice would cost more than the moved age, at worst: a long bar with a small figure is a flat valley. Costs stand
    above, the widest bar first; below them the price of a warranty, the worth of a used lamp, the discount rate, dark
    minutes and the limit, which is divided only.

    Parameters
    ----------
    bars : CostBars
        What ``relamp.cost_bars`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what are not bars.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_policy
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
    >>> axes = plots_policy.bars(relamp.cost_bars(world, limit))
    >>> [text.get_text() for text in axes.get_yticklabels()]
    ['every failure', 'planned change', 'burst', 'hour limit']
    """
    must_be("bars", bars, "CostBars")
    pairs: dict[str, list[dict[str, float]]] = {}
    for row in bars.frame().to_dicts():
        pairs.setdefault(row["cost"], []).append(row)
    rows = []
    for name, pair in pairs.items():
        low, high = sorted(pair, key=lambda end: end["factor"])
        rows.append((_cost_words(name), low["age_hours"], high["age_hours"], max(e["stale_percent"] for e in pair)))
    factor = max(end["factor"] for pair in pairs.values() for end in pair)
    return _moved(ax, rows, [], float(bars.planned.age_hours), float(bars.planned.limit_hours), factor, 0.0)


def lives(bars: LifeBars, ax: Axes | None = None) -> Axes:
    """How far the life of each cause, as the records leave it open, moves the planned age; the widest bar first.

    Above them stands the bar of every cause drawn together. A bar that ends at the limit may be cut there: no age past
    it is on offer.

    Parameters
    ----------
    bars : LifeBars
        What ``relamp.life_bars`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what are not bars of lives.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_policy
    >>> tally = relamp.lives([100.0 + 7.0 * i for i in range(60)], ending=["burst"] * 30 + ["dim"] * 30)
    >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=40, seed=1)
    >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
    >>> axes = plots_policy.lives(relamp.life_bars(draws, limit))
    >>> [text.get_text() for text in axes.get_yticklabels()]
    ['every cause', 'life until burst', 'life until dim']
    """
    must_be("bars", bars, "LifeBars")
    table = bars.frame().to_dicts()
    rows = [(_life_words(row["life"].split(" + ")), row["low_hours"], row["high_hours"]) for row in table]
    middle, limit = float(bars.planned.optimum_hours), float(bars.planned.limit_hours)
    return _moved(ax, [], rows, middle, limit, 0.0, float(bars.level))


def moves(result: Any, ax: Axes | None = None) -> Axes:
    """What moves the planned age of one class of a study: each cost, and the life of each cause.

    A ring is the planned age at the smaller cost, a dot at the larger one; to the right stands what keeping today's
    advice would cost more than the moved age, at worst. A thick bar is the interval of the age where the life of that
    cause alone is drawn.

    Parameters
    ----------
    result : dict or class result
        One class of a study, with five failures or more.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what is not one class of a study.
    ValueError
        For a class without an age of least cost, as one of fewer than five failures is.

    Examples
    --------
    With one class of the demo chain:

    >>> import relamp
    >>> from relamp import plots_policy
    >>> results = relamp.Study.open("data/demo/study.toml", draws=20).run().results
    >>> axes = plots_policy.moves(results.classes[0])
    >>> axes.get_yticklabels()[0].get_text()
    'every failure'
    """
    data = _plain(result)
    told = (data["policy"] or {}).get("sensitivity")
    if not told:
        raise ValueError("result must be a class with an age of least cost; one of fewer than five failures has none")
    costs = [
        (_cost_words(m["ending"] or _AGAIN), m["less_age_hours"], m["more_age_hours"], m["stale_percent"])
        for m in told["costs"]
    ]
    rows = [(_life_words(m["endings"]), m["low_hours"], m["high_hours"]) for m in told["lives"]]
    limit = float(data["limit"]["limit_hours"])
    return _moved(ax, costs, rows, told["age_hours"], limit, told["cost_factor"], told["level_probability"])


def _moved(
    ax: Axes | None,
    costs: Sequence[tuple[str, float, float, float]],
    lives: Sequence[tuple[str, float, float]],
    middle: float,
    limit: float,
    factor: float,
    level: float,
) -> Axes:
    """Rows of costs (name, age at the smaller and the larger one, percent dearer) above rows of lives (name, ends)."""
    from matplotlib.lines import Line2D
    from matplotlib.transforms import ScaledTranslation

    ends = [age for row in costs for age in row[1:3]] + [age for row in lives for age in row[1:3]]
    names = [row[0] for row in costs] + [row[0] for row in lives]
    with _style():
        ax = _axes(ax, 6.3, 1.25 + 0.27 * len(names))
        room = max(0.06 * middle, 0.12 * (max(ends) - min(ends)))
        hours_axis(ax, max(*ends, middle) + room, max(0.0, min(*ends, middle) - room))
        ax.set_ylim(len(names) - 0.4, -0.6)
        ax.grid(visible=False)
        ax.spines["left"].set_visible(False)
        _past_limit(ax, limit)
        ax.axvline(middle, color=INK, lw=0.9, zorder=1)
        for y in range(1, len(names), 2):
            ax.axhspan(y - 0.5, y + 0.5, color=RULE, alpha=0.28, lw=0, zorder=0)
        for y, (_, less, more, stale) in enumerate(costs):
            ax.plot([less, more], [y, y], color=PETROL, lw=1.9, alpha=0.75, zorder=3)
            ax.plot([less], [y], "o", ms=6.4, mfc="white", mec=PETROL, mew=1.3, zorder=4)
            ax.plot([more], [y], "o", ms=3.4, color=PETROL, zorder=5)
            _beside(ax, y, f"{stale:.1f} %" if stale >= 0.05 else "under 0.1 %", INK)
        for y, (_, low, high) in enumerate(lives, len(costs)):
            ax.plot([low, high], [y, y], color=OCHRE, lw=5.5, alpha=0.8, solid_capstyle="butt", zorder=3)
        marks = []
        if costs:
            _beside(ax, -0.85, "dearer if the age stays", MUTED)
            words = f"cost divided by {factor:g}"
            marks.append(Line2D([], [], marker="o", ls="none", ms=6.4, mfc="white", mec=PETROL, label=words))
            marks.append(Line2D([], [], marker="o", ls="none", ms=3.4, color=PETROL, label=f"cost times {factor:g}"))
        if lives:
            words = f"life, {100 * level:g} % of the draws"
            marks.append(Line2D([], [], color=OCHRE, lw=5.5, alpha=0.8, label=words))
        ax.set_yticks(range(len(names)), names)
        for label in ax.get_yticklabels():
            label.set_color(INK)
        ax.set_xlabel("planned age, lamp hours")
        ax.set_title(f"What moves the age of least cost, {_full_hours(middle)} h", pad=31.0)
        # Above the words that stand to the right of the frame, so that long keys do not run into them.
        above = ScaledTranslation(0.0, 12.0 / 72.0, ax.figure.dpi_scale_trans)
        ax.legend(
            handles=marks, loc="lower left", bbox_to_anchor=(-0.01, 1.0), bbox_transform=ax.transAxes + above, ncols=3,
            borderpad=0.1, borderaxespad=0.0, columnspacing=1.2, handlelength=1.2, frameon=False,
        )  # fmt: skip
        if min(ax.get_xlim()) <= limit <= max(ax.get_xlim()):
            ax.axvline(limit, color=BRICK, lw=1.0, ls=(0, (4, 2.5)), zorder=2)
    return ax


def _life_words(endings: Sequence[str]) -> str:
    """The cause whose life is drawn, or all of them."""
    if list(endings) == ["every cause"]:
        return "every cause"
    words = [CAUSE_WORDS.get(e, e) for e in endings]
    # A long name would leave the bars no room.
    return "life until " + (f"{words[0]} and {len(words) - 1} more" if len(words) > 2 else " or ".join(words))


def _cost_words(name: str) -> str:
    return name if name == _AGAIN else {"planned": "planned change"}.get(name, CAUSE_WORDS.get(name, name))


def _beside(ax: Axes, y: float, text: str, colour: str) -> None:
    """Words to the right of the frame, flush with its far margin."""
    ax.annotate(
        text,
        (1.0, y),
        xycoords=("axes fraction", "data"),
        xytext=(92, 0),
        textcoords="offset points",
        ha="right",
        va="center",
        fontsize=7.5 if colour == INK else 7.0,
        color=colour,
        annotation_clip=False,
    )


def endings(endings: EndingsByAge, ax: Axes | None = None, *, planned_hours: float | None = None) -> Axes:
    """What becomes of 1,000 lamps by planned age: those that fail before it, stacked by cause.

    The others are changed on plan.

    Parameters
    ----------
    endings : EndingsByAge
        What ``relamp.endings_by_age`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    planned_hours : float, optional
        A planned age to mark, hours.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For what are not endings by age.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_policy
    >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
    >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
    >>> axes = plots_policy.endings(relamp.endings_by_age(world, limit), planned_hours=600.0)
    >>> [text.get_text() for text in axes.get_legend().get_texts()]
    ['burst']
    """
    must_be("endings", endings, "EndingsByAge")
    frame = endings.frame()
    tail = "_per_1000_lamps"
    causes = [
        name.removesuffix(tail) for name in frame.columns if name.endswith(tail) and not name.startswith("planned")
    ]
    with _style():
        ax = _axes(ax, 6.3, 2.9)
        ages = frame["age_hours"].to_list()
        layers = [frame[cause + tail].to_list() for cause in causes]
        ax.stackplot(
            ages,
            *layers,
            labels=[CAUSE_WORDS.get(cause, cause) for cause in causes],
            colors=[CAUSE_COLOURS.get(cause, "#90949c") for cause in causes],
            linewidth=0,
        )
        hours_axis(ax, max(ages), min(0.0, *ages))
        ax.set_ylim(bottom=0.0)
        amounts(ax.yaxis)
        ax.set_xlabel("planned age, lamp hours")
        ax.set_title("Of 1,000 lamps, those that fail before the planned age", pad=20 if planned_hours else 9)
        if planned_hours is not None:
            _mark(ax, planned_hours, f"planned age {_full_hours(planned_hours)} h", PETROL, row=0)
        ax.legend(loc="upper left", handlelength=1.0, labelspacing=0.35, reverse=True)
    return ax
