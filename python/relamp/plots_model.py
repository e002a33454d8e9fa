"""Plots of fitted lives, one function for each, on matplotlib axes that you may pass in.

``probability`` takes what ``relamp.probability_plot`` gives, ``profile`` what ``Fit.profile_curve`` gives, ``region``
what ``Fit.region`` gives, ``families`` a curve and fits of the same records, ``residuals``
what ``relamp.residuals`` gives, ``dial`` what a method of ``RemovalDial`` gives.
Nothing is fitted here: numbers are placed on axes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from relamp._ages import hours_axis
from relamp._given import must_be
from relamp._parameters import in_words, with_unit
from relamp.plots import (
    BRICK,
    CAUSE_COLOURS,
    INK,
    MUTED,
    OCHRE,
    PETROL,
    _axes,
    _family,
    _full_hours,
    _mark,
    _percent,
    _style,
    _thousands,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import Curve, DialAnswer, Fit, HazardResiduals, LikelihoodRegion, ProbabilityPlot, ProfileCurve

__all__ = ["dial", "families", "probability", "profile", "region", "residuals"]

# Times and parts of the estimate that the plot of an open region shows.
_FAR = 100.0
# Figures from here on are too long for a tick of a logarithmic axis.
_LONG = 1e6
_SHARES = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.99, 0.999)


def probability(plot: ProbabilityPlot, fit: Fit | None = None, ax: Axes | None = None) -> Axes:
    """Failed shares by age on the scales on which a life of the family is a straight line, with both bands.

    Parameters
    ----------
    plot : ProbabilityPlot
        What ``relamp.probability_plot`` gave.
    fit : Fit, optional
        A fit of the same family, drawn as its line.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        If the fit is of another family, or there are no points.
    TypeError
        For what is not a probability plot, and no fit beside it.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> plot = relamp.probability_plot(relamp.product_limit(tally))
    >>> axes = plots_model.probability(plot, relamp.fit(tally))
    >>> len(axes.lines) > 0
    True
    """
    import numpy as np
    from matplotlib.ticker import MaxNLocator

    must_be("plot", plot, "ProbabilityPlot")
    must_be("fit", fit, "Fit", or_none=True)
    if fit is not None and fit.family != plot.family:
        raise ValueError(
            f"the plot has the scales of {plot.family!r}, the fit is {fit.family!r}; give a fit of that family"
        )
    with _style():
        ax = _axes(ax, 6.3, 4.2)
        level = f"{100 * plot.level:.0f} %"
        lowest, highest = 0.5 * float(plot.shares.min()), 1 - 0.5 * (1 - float(plot.shares.max()))
        if not math.isfinite(plot.scale_share(highest)):
            # A life of which a share never fails ends there.
            highest = float(plot.shares.max())
        bottom, top = plot.scale_share(lowest), plot.scale_share(highest)
        # A line of text must fit between two ticks, which some scales push together.
        shown: list[float] = []
        for share in (s for s in _SHARES if lowest <= s <= highest):
            if not shown or plot.scale_share(share) - plot.scale_share(shown[-1]) >= 0.04 * (top - bottom):
                shown.append(share)
        for band, colour, alpha, words in (
            (plot.simultaneous, PETROL, 0.12, f"{level} band for the whole curve"),
            (plot.pointwise, PETROL, 0.22, f"{level} band at each age"),
        ):
            held = np.isfinite(band).all(axis=1) & (band[:, 1] > 0)
            if not held.any():
                continue
            # A share of 0 or 1 lies at infinity on this scale: the band leaves the frame there.
            ends = [[_place(plot, float(s), bottom, top) for s in band[held, k]] for k in (0, 1)]
            ax.fill_between(
                plot.x[held], ends[0], ends[1], step="post", color=colour, alpha=alpha, lw=0, label=words, zorder=1
            )
        if fit is not None:
            life: Any = fit.life_at_maximum
            p = np.array([lowest, highest])
            ages = np.array([float(life.quantile(float(q))) for q in p])
            ax.plot(
                plot.scale_age(ages),
                plot.scale_share(p),
                color=INK,
                lw=1.3,
                label=f"{_family(fit.family)} fit",
                zorder=3,
            )
        ax.plot(plot.x, plot.y, "o", ms=4.2, mfc="white", mec=OCHRE, mew=1.3, label="failures", zorder=4)
        ax.set_ylim(bottom, top)
        ax.set_yticks([plot.scale_share(s) for s in shown], [f"{100 * s:g} %" for s in shown])
        first, last = float(plot.ages.min()), float(plot.ages.max())
        youngest, oldest = 0.7 * first, 1.3 * last
        middle = plot.scale_age(0.5 * (first + last))
        if last > first and math.isclose(2.0 * middle, plot.scale_age(first) + plot.scale_age(last)):
            # An even scale of age: even steps, and no room that only a logarithmic one would leave.
            room = 0.08 * (last - first)
            youngest, oldest = max(0.0, first - room), last + room
            ticks = list(MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10]).tick_values(youngest, oldest))
        elif oldest > 2.5 * youngest:
            steps = (1, 2, 5) if oldest > 30 * youngest else (1, 1.5, 2, 3, 4, 5, 7)
            powers = range(math.floor(math.log10(youngest)), math.ceil(math.log10(oldest)))
            ticks = [step * 10.0**k for k in powers for step in steps]
        else:
            ticks = list(MaxNLocator(nbins=5).tick_values(youngest, oldest))
        ticks = [t for t in ticks if youngest <= t <= oldest]
        marks = [_thousands(t) if t >= 10 and t == round(t) else f"{t:g}" for t in ticks]
        ax.set_xticks([plot.scale_age(float(t)) for t in ticks], marks)
        ax.set_xlim(plot.scale_age(youngest), plot.scale_age(oldest))
        ax.set_xlabel("age, lamp hours")
        ax.set_title(
            f"Failed share on scales of the {_family(plot.family)} fit"
            if plot.of_fit
            else f"Failed share on {_family(plot.family)} scales"
        )
        # Above or below the points, wherever there are none of them, nor a band.
        ax.legend(loc=_free_corner(ax, plot), handlelength=1.8)
    return ax


def _free_corner(ax: Axes, plot: ProbabilityPlot) -> Any:
    """The corner in which a legend covers the fewest points and the least of the bands."""
    import numpy as np

    (left, right), (bottom, top) = ax.get_xlim(), ax.get_ylim()
    across = (np.asarray(plot.x) - left) / (right - left)
    ends = [_place(plot, float(s), bottom, top) for s in np.nan_to_num(np.asarray(plot.simultaneous).ravel())]
    low, high = ((np.array(ends[k::2]) - bottom) / (top - bottom) for k in (0, 1))
    up = (np.asarray(plot.y) - bottom) / (top - bottom)

    def covered(corner: str) -> tuple[float, float]:
        beside = across > 0.55 if corner.endswith("right") else across < 0.45
        level = corner.startswith("upper")
        points = beside & ((up > 0.7) if level else (up < 0.3))
        # How far the bands reach into the corner.
        band = np.clip(high - 0.7, 0, None) if level else np.clip(0.3 - low, 0, None)
        return float(points.sum()), float((band * beside).sum())

    return min(("lower right", "upper left", "upper right", "lower left"), key=covered)


def _place(plot: ProbabilityPlot, share: float, bottom: float, top: float) -> float:
    if share <= 0.0:
        return bottom
    return top if share >= 1.0 else min(max(plot.scale_share(share), bottom), top)


def profile(curve: ProfileCurve, ax: Axes | None = None) -> Axes:
    """How far the log-likelihood falls as one quantity moves away from its estimate, with the interval it gives.

    Parameters
    ----------
    curve : ProfileCurve
        What ``Fit.profile_curve`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For anything but a profile curve.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> axes = plots_model.profile(relamp.fit(tally).profile_curve(tally, b_life=10.0))
    >>> len(axes.lines) > 0
    True
    """
    import numpy as np

    must_be("curve", curve, "ProfileCurve")
    with _style():
        ax = _axes(ax, 6.3, 3.4)
        x, y = curve.values, curve.relative_log_likelihood
        # The cut stays in the frame where the whole curve stands above it.
        floor = min(max(float(y.min()), 2.6 * curve.cut), 1.3 * curve.cut)
        held = y >= floor
        left, right = float(x[held].min()), float(x[held].max())
        low = left if curve.low is None else curve.low
        high = right if curve.high is None else curve.high
        level = f"{100 * curve.level:g} %"
        grid = sorted(zip(x[held].tolist(), y[held].tolist(), strict=True))
        # The curve is drawn to its ends and to the cut, which are no points of its grid. Where the quantity itself ends
        # the end is one, and stands above the cut.
        stops = [
            end is not None and math.isclose(end, last[0], abs_tol=1e-9) and last[1] > 0.999 * curve.cut
            for end, last in ((curve.low, grid[0]), (curve.high, grid[-1]))
        ]
        ends = [
            (end, curve.cut)
            for end, stop in zip((curve.low, curve.high), stops, strict=True)
            if end is not None and not stop
        ]
        points = sorted([*grid, *ends])
        px, py = np.array([p[0] for p in points]), np.array([p[1] for p in points])
        inside = (px >= low) & (px <= high)
        ax.fill_between(
            px[inside], py[inside], curve.cut, color=PETROL, alpha=0.14, lw=0, zorder=1, label=f"{level} interval"
        )
        ax.plot(px, py, color=PETROL, lw=1.6, zorder=3)
        ax.axhline(curve.cut, color=MUTED, lw=0.9, ls=(0, (4, 2.5)), zorder=2)
        ax.axhline(curve.one_sided_cut, color=MUTED, lw=0.9, ls=(0, (1, 2)), zorder=2)
        for height, words in ((curve.one_sided_cut, f"{level} bound\non one side"), (curve.cut, f"{level} interval")):
            ax.annotate(
                words,
                (1.0, height),
                xycoords=("axes fraction", "data"),
                xytext=(4, 0),
                textcoords="offset points",
                ha="left",
                va="center",
                fontsize=6.8,
                color=MUTED,
            )
        ax.plot([curve.at_maximum], [0.0], "o", ms=5, mfc="white", mec=OCHRE, mew=1.4, zorder=5)
        words = _figure(curve.at_maximum) if curve.estimate is not None else "not settled"
        _named(ax, curve.at_maximum, 0.0, words, OCHRE, above=True)
        # Below the cut and between the ends there is no curve to cross the figures.
        for end, side, stop in ((curve.low, "left", stops[0]), (curve.high, "right", stops[1])):
            if end is not None:
                ax.plot([end, end], [floor * 1.04, curve.cut], color=PETROL, lw=0.9, zorder=2)
                ax.plot([end], [curve.cut], "|", ms=9, color=PETROL, mew=1.6, zorder=4)
                words = f"{_figure(end)}, where it ends" if stop else _figure(end)
                _beside(ax, end, floor * 1.02, words, PETROL, side)
        for end, place, words, side in (
            (curve.low, left, "no lower end", "left"),
            (curve.high, right, "no upper end", "right"),
        ):
            if end is None:
                _beside(ax, place, floor * 1.02, words, MUTED, side)
        # An end at 0 has no place on a logarithmic scale.
        if min(left, low) > 0 and right > 8 * left:
            ax.set_xscale("log")
            _log_ticks(ax, left, right)
        ax.set_ylim(floor * 1.04, -0.28 * curve.cut)
        ax.set_yticks([t for t in ax.get_yticks() if floor * 1.04 <= t <= 0.0])
        ax.set_ylabel("log-likelihood below its maximum")
        ax.set_xlabel(with_unit(curve.quantity, curve.family))
        ax.set_title(f"Profile of {in_words(curve.quantity)}, {_family(curve.family)} fit")
    return ax


def region(
    region: LikelihoodRegion,
    other: LikelihoodRegion | None = None,
    ax: Axes | None = None,
    *,
    names: tuple[str, str] = ("first", "second"),
) -> Axes:
    """The joint confidence region of two parameters with the estimate, and a second one to compare it with.

    Parameters
    ----------
    region : LikelihoodRegion
        What ``Fit.region`` gave.
    other : LikelihoodRegion, optional
        Of the same family: another level, or other lamps.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.
    names : (str, str), optional
        What to call the two where there are two, such as two suppliers.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        If the two are of different families.
    TypeError
        For what is not a region.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> axes = plots_model.region(relamp.fit(tally).region(tally, level=0.9))
    >>> axes.get_xlabel() != ""
    True
    >>> new = relamp.lives([510, 602, 680, 705, 750, 790, 833, 920, 1015, 1100])
    >>> fits = [(relamp.fit(lamps), lamps) for lamps in (tally, new)]
    >>> both = plots_model.region(*[fit.region(lamps) for fit, lamps in fits], names=("old lot", "new lot"))
    >>> both.get_legend_handles_labels()[1]
    ['old lot, 95 % region', 'new lot, 95 % region']
    """
    import numpy as np

    must_be("region", region, "LikelihoodRegion")
    must_be("other", other, "LikelihoodRegion", or_none=True)
    if other is not None and other.family != region.family:
        raise ValueError(f"both regions must be of one family, got {region.family} and {other.family}")
    with _style():
        ax = _axes(ax, 5.2, 4.0)
        ax.grid(visible=True, axis="both")
        drawn = [(region, PETROL, 3)] + ([(other, OCHRE, 2)] if other is not None else [])
        first, second = region.at_maximum
        called = ["", ""] if other is None else [f"{name}, " for name in names]
        every = np.vstack([shown.corners for shown, _, _ in drawn])
        for axis, centre, values in (("x", first, every[:, 0]), ("y", second, every[:, 1])):
            low, high = float(values.min()), float(values.max())
            if low > 0 and not all(shown.closed for shown, _, _ in drawn):
                # An open region has corners anywhere: it runs out of a frame around the estimate.
                low, high = max(low, float(centre) / _FAR), min(high, float(centre) * _FAR)
            if low > 0 and high > 8 * low:
                getattr(ax, f"set_{axis}scale")("log")
                getattr(ax, f"set_{axis}lim")(low / 1.15, high * 1.15)
                _log_ticks(ax, low, high, axis)
            else:
                room = 0.06 * (high - low)
                getattr(ax, f"set_{axis}lim")(low - room, high + room)
                if high >= 1000:
                    getattr(ax, f"{axis}axis").set_major_formatter(_thousands)
        ax.autoscale(enable=False)
        for (shown, colour, order), name in zip(drawn, called, strict=False):
            corners = np.vstack([shown.corners, shown.corners[:1]])
            words = f"{name}{100 * shown.level:g} % region" + ("" if shown.closed else ", open")
            ax.fill(corners[:, 0], corners[:, 1], color=colour, alpha=0.13, lw=0, zorder=order - 1)
            ax.plot(corners[:, 0], corners[:, 1], color=colour, lw=1.4, label=words, zorder=order)
            ax.plot(*[[float(v)] for v in shown.at_maximum], "o", ms=5, mfc="white", mec=colour, mew=1.4, zorder=5)
        # Two estimates stand apart: the words of the lower one lie below it, those of the higher one above.
        rising = sorted(range(len(drawn)), key=lambda k: drawn[k][0].at_maximum[1])
        for k, (shown, colour, _) in enumerate(drawn):
            up = rising.index(k) - 0.5 * (len(drawn) - 1)
            ax.annotate(
                "\n".join(
                    f"{in_words(n)} {_value(n, float(v), shown.notes)}"
                    for n, v in zip(shown.parameters, shown.at_maximum, strict=True)
                ),
                shown.at_maximum,
                # Two lines of words each: half of it up, half down.
                xytext=(7, 28 * up),
                textcoords="offset points",
                va="center",
                fontsize=7.5,
                color=INK if other is None else colour,
                bbox={"boxstyle": "round,pad=0.15", "fc": "white", "ec": "none", "alpha": 0.65},
                zorder=6,
            )
        ax.set_xlabel(with_unit(region.parameters[0], region.family))
        ax.set_ylabel(with_unit(region.parameters[1], region.family))
        one, two = (in_words(name) for name in region.parameters)
        ax.set_title(f"{one[:1].upper()}{one[1:]} and {two} together, {_family(region.family)} fit")
        ax.legend(loc="best", handlelength=1.8)
    return ax


def families(curve: Curve, fits: Sequence[Fit], *, age_hours: float | None = None, ax: Axes | None = None) -> Axes:
    """Failed shares by the records and by several families, solid up to the oldest lamp at risk and dotted past it.

    Past it the curve of a fit with a parameter that the records do not settle is one of many: it is drawn pale, the
    legend says so, and no share is written there.

    Parameters
    ----------
    curve : Curve
        From ``relamp.product_limit`` on the records of the fits.
    fits : sequence of Fit
        One to five fits of the same records.
    age_hours : float, optional
        An age above 0 at which each family's failed share is written out.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        If there are no fits, or more than five, and for an age that is not finite and above 0.
    TypeError
        For what is not a curve, what are no fits, and an age that is no number.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> fits = [relamp.fit(tally, family=name) for name in ("weibull", "lognormal")]
    >>> axes = plots_model.families(relamp.product_limit(tally), fits, age_hours=300.0)
    >>> len(axes.lines) > 1
    True
    """
    import numpy as np
    from matplotlib.ticker import FuncFormatter

    must_be("curve", curve, "Curve")
    if not isinstance(fits, Sequence):
        raise TypeError(f"fits must be a sequence of what relamp.fit gives, got {type(fits).__name__}")
    for i, fit in enumerate(fits):
        must_be(f"fits[{i}]", fit, "Fit")
    colours = (PETROL, OCHRE, BRICK, CAUSE_COLOURS["dim"], CAUSE_COLOURS["flicker"])
    if not 1 <= len(fits) <= len(colours):
        raise ValueError(f"one to {len(colours)} fits can be told apart, got {len(fits)}")
    if age_hours is not None:
        if isinstance(age_hours, bool) or not isinstance(age_hours, (int, float, np.integer, np.floating)):
            raise TypeError(f"age_hours must be hours above 0, or None, got {age_hours!r}")
        if not 0.0 < age_hours < math.inf:
            raise ValueError(f"age_hours must be finite hours above 0, got {age_hours}")
    with _style():
        ax = _axes(ax, 6.3, 3.6)
        oldest = max(fit.oldest_at_risk_hours for fit in fits)
        last = 1.06 * max(oldest, age_hours or 0.0)
        hours_axis(ax, last)
        if len(curve.ages):
            ages = [0.0, *curve.ages.tolist(), max(curve.last_age, float(curve.ages[-1]))]
            failed = [0.0, *(1.0 - curve.reliability).tolist(), 1.0 - float(curve.reliability[-1])]
            ax.step(ages, failed, where="post", color=INK, lw=1.1, label="records", zorder=4)
            band = curve.band
            held = np.isfinite(band[:, 0]) & np.isfinite(band[:, 1])
            if held.any():
                # The last step holds to the end of the records, as the curve does.
                reach = [*np.flatnonzero(held).tolist(), *([len(held) - 1] if held[-1] else [])]
                ends = [*curve.ages[held].tolist(), *([ages[-1]] if held[-1] else [])]
                ax.fill_between(
                    ends,
                    1.0 - band[reach, 1],
                    1.0 - band[reach, 0],
                    step="post",
                    color=INK,
                    alpha=0.10,
                    lw=0,
                    label=f"its {100 * curve.level:g} % band",
                    zorder=1,
                )
        top = 0.0
        at_age = []
        for fit, colour in zip(fits, colours, strict=False):
            seen, past = np.linspace(0.0, min(oldest, last), 160), np.linspace(oldest, last, 80)
            if "fit.at_limit" in {slug for slug, _ in fit.notes}:
                raise ValueError(f"the {_family(fit.family)} fit has no maximum, so no curve beyond its window")
            life: Any = fit.life_at_maximum
            unsettled = any(slug == "fit.parameter_open" for slug, _ in fit.notes)
            label = _family(fit.family) + (f", not settled past {_full_hours(oldest)} h" if unsettled else "")
            ax.plot(seen, life.failure_probability(seen), color=colour, lw=1.5, label=label, zorder=3)
            if last > oldest:
                shares, pale = life.failure_probability(past), 0.4 if unsettled else 1.0
                ax.plot(past, shares, color=colour, lw=1.4, ls=(0, (1.2, 1.6)), alpha=pale, zorder=3)
            top = max(top, float(life.failure_probability(last)))
            if age_hours is not None:
                share = float(life.failure_probability(age_hours))
                told = "not settled" if unsettled and age_hours > oldest else f"{100 * share:.1f} %"
                at_age.append((share, colour, told))
        ax.set_ylim(0.0, min(1.02, 1.12 * max(top, 0.02)))
        if oldest < last:
            ax.axvline(oldest, color=MUTED, lw=0.8, ls=(0, (4, 2.5)), zorder=2)
            _mark(ax, oldest, f"oldest lamp {_full_hours(oldest)} h", MUTED, row=0, dashed=True)
        if age_hours is not None:
            _mark(ax, age_hours, f"{_full_hours(age_hours)} h", INK, row=1)
            _shares(ax, age_hours, at_age)
        ax.yaxis.set_major_formatter(FuncFormatter(_percent))
        ax.set_xlabel("lamp hours")
        ax.set_title("Lamps that have failed, by family", pad=26)
        # Where the curves leave room: those of early failures fill the upper left.
        ax.legend(loc="best", handlelength=1.8)
    return ax


def residuals(residuals: HazardResiduals, ax: Axes | None = None) -> Axes:
    """The cumulative hazard of the records over that of a fit: on the diagonal the fit holds, above it more lamps fail.

    Parameters
    ----------
    residuals : HazardResiduals
        What ``relamp.residuals`` or ``CovariateFit.residuals`` gave. Those of proportional hazards are of another kind:
        the baseline there follows the records, so no curve of theirs is left to stand beside it.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    ValueError
        If no lamp failed.
    TypeError
        For what are not such residuals, those of proportional hazards among them.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
    >>> axes = plots_model.residuals(relamp.residuals(relamp.fit(tally, family="exponential"), tally))
    >>> len(axes.lines)
    2
    """
    must_be("residuals", residuals, "HazardResiduals")
    if len(residuals.ages) == 0:
        raise ValueError("no lamp failed, so there is nothing to draw")
    with _style():
        ax = _axes(ax, 5.2, 4.2)
        x, y, ends = residuals.expected, residuals.seen, residuals.interval
        last = 1.06 * float(max(x.max(), y.max()))
        ax.fill_between(
            x, ends[:, 0], ends[:, 1], step="post", color=PETROL, alpha=0.16, lw=0, label="95 % at each age", zorder=1
        )
        ax.plot([0.0, last], [0.0, last], color=INK, lw=1.2, label="the fit holds", zorder=3)
        ax.plot(x, y, "o", ms=4.2, mfc="white", mec=OCHRE, mew=1.3, label="failures", zorder=4)
        ax.set_xlim(0.0, last)
        ax.set_ylim(0.0, last)
        ax.set_xlabel("cumulative hazard expected by the fit")
        ax.set_ylabel("cumulative hazard seen")
        ax.set_title(f"Seen beside expected, {_family(residuals.family)} fit")
        # Ages stand along the top, as hours are what a reader knows. With covariates they are out of order: each lamp
        # has a life of its own, and no age belongs to a hazard.
        rising = all(a <= b for a, b in zip(residuals.ages, residuals.ages[1:], strict=False))
        picked = [] if not rising else [round(k * (len(x) - 1) / 4) for k in range(5)] if len(x) > 5 else range(len(x))
        placed: list[float] = []
        edge = 0.05 * last
        for i in picked:
            at = float(x[i])
            if all(abs(at - other) > 0.12 * last for other in placed):
                placed.append(at)
                ax.annotate(
                    f"{_full_hours(float(residuals.ages[i]))} h",
                    (at, 1.0),
                    xycoords=("data", "axes fraction"),
                    # Next to an axis the words would cover its figures.
                    xytext=(3 if at < edge else -3 if at > last - edge else 0, -3),
                    textcoords="offset points",
                    ha="left" if at < edge else "right" if at > last - edge else "center",
                    va="top",
                    fontsize=6.8,
                    color=MUTED,
                )
        ax.legend(loc="lower right", handlelength=1.8)
    return ax


def dial(answer: DialAnswer, ax: Axes | None = None) -> Axes:
    """A figure over the dependence of suspect removal on failure, with chance at each, and the range held possible.

    Parameters
    ----------
    answer : DialAnswer
        What ``RemovalDial.reliability``, ``RemovalDial.b_life`` or ``RemovalDial.planned_age`` gave.
    ax : matplotlib axes, optional
        Where to draw; a new figure without it.

    Returns
    -------
    matplotlib axes

    Raises
    ------
    TypeError
        For anything but the answer of a dial.

    Examples
    --------
    >>> import relamp
    >>> from relamp import plots_model
    >>> low = [200.0 + 60.0 * i for i in range(40)]
    >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    >>> turned = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
    >>> axes = plots_model.dial(turned.b_life(10.0, from_tau=0.5, to_tau=0.8))
    >>> float(axes.get_xlim()[1])
    0.8
    """
    from matplotlib.ticker import FuncFormatter

    must_be("answer", answer, "DialAnswer")
    figure = (lambda x: f"{_thousands(x)} h") if answer.in_hours else (lambda x: f"{100 * x:.1f} %")
    with _style():
        ax = _axes(ax, 6.3, 3.6)
        x, y = answer.taus, answer.estimate
        from_tau, to_tau = answer.range
        table = answer.frame()
        low, high = table["low"].to_list(), table["high"].to_list()
        ax.axvspan(from_tau, to_tau, color=OCHRE, alpha=0.1, lw=0, zorder=0)
        if None not in low:
            words = f"{100 * answer.level:g} % by chance, at each"
            ax.fill_between(x, low, high, color=PETROL, alpha=0.16, lw=0, label=words, zorder=1)
        ax.plot(x, y, color=PETROL, lw=1.6, zorder=3)
        ax.plot(x[1:], y[1:], "o", ms=3.6, color=PETROL, zorder=4)
        ax.plot(x[:1], y[:1], "o", ms=5.5, mfc="white", mec=INK, mew=1.4, label="removal as independent", zorder=5)
        ends = (answer.low, answer.high) if answer.low is not None else (answer.least, answer.most)
        for end, words in zip(ends, ("lower end over the range", "upper end over the range"), strict=True):
            if end is None:
                continue
            ax.plot([from_tau, to_tau], [end, end], color=OCHRE, lw=1.3, zorder=4)
            # Into the frame, whichever side of it the range lies on.
            right = from_tau + to_tau > x[-1]
            ax.annotate(
                f"{words}: {figure(end)}",
                (to_tau if right else from_tau, end),
                xytext=(-3 if right else 3, -4 if end == ends[0] else 4),
                textcoords="offset points",
                ha="right" if right else "left",
                va="top" if end == ends[0] else "bottom",
                fontsize=7.5,
                color=INK,
                zorder=6,
            )
        ax.set_xlim(x[0], x[-1])
        bottom, top = ax.get_ylim()
        pad = 0.12 * (top - bottom)
        ax.set_ylim(bottom - pad, top + pad)
        ax.yaxis.set_major_formatter(FuncFormatter(_thousands if answer.in_hours else _percent))
        ax.set_xlabel("dependence of removal on failure (Kendall's tau), assumed")
        ax.set_ylabel("hours" if answer.in_hours else "share of lamps")
        verdict = "" if answer.informative else ": uninformative"
        ax.set_title(f"{answer.quantity[:1].upper()}{answer.quantity[1:]}{verdict}")
        ax.legend(loc="best", handlelength=1.6)
    return ax


def _shares(ax: Axes, age: float, at_age: list[tuple[float, str, str]]) -> None:
    """Failed shares beside the age, kept apart where they would meet, and inside the frame."""
    bottom, top = ax.get_ylim()
    ordered = sorted(at_age)
    places = _apart([share for share, _, _ in ordered], bottom, top)
    # Near the left rim there is room on the other side only.
    start, end = ax.get_xlim()
    side = 1 if age - start < 0.12 * (end - start) else -1
    for (share, colour, told), place in zip(ordered, places, strict=True):
        ax.plot([age], [share], "o", ms=4.5, mfc="white", mec=colour, mew=1.3, zorder=6)
        ax.annotate(
            told,
            (age, place),
            xytext=(7 * side, 0),
            textcoords="offset points",
            ha="left" if side > 0 else "right",
            va="center",
            fontsize=7.5,
            color=colour,
            bbox={"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none"},
            zorder=6,
        )


def _apart(places: list[float], bottom: float, top: float) -> list[float]:
    """Rising places moved until a line of text fits between any two, all of them inside the frame."""
    least = 0.055 * (top - bottom)
    out: list[float] = []
    for place in places:
        out.append(max(place, out[-1] + least if out else bottom + 0.5 * least))
    ceiling = top - 0.5 * least
    for i in reversed(range(len(out))):
        out[i] = min(out[i], ceiling)
        ceiling = out[i] - least
    return out


def _figure(x: float) -> str:
    return _thousands(x) if abs(x) >= 1000 else f"{x:.3g}"


def _value(name: str, x: float, notes: Sequence[tuple[str, str]]) -> str:
    """The figure of a parameter, or that the records leave it open."""
    left_open = any(slug == "fit.parameter_open" and f"do not settle {name}:" in text for slug, text in notes)
    return "not settled" if left_open else _figure(x)


def _named(ax: Axes, x: float, y: float, text: str, colour: str, *, above: bool) -> None:
    offset = (0, 6) if above else (0, -6)
    ax.annotate(
        text,
        (x, y),
        xytext=offset,
        textcoords="offset points",
        ha="center",
        va="bottom" if above else "top",
        fontsize=7.5,
        color=colour,
    )


def _beside(ax: Axes, x: float, y: float, text: str, colour: str, side: str) -> None:
    left = side == "left"
    ax.annotate(
        text,
        (x, y),
        xytext=(4 if left else -4, 2),
        textcoords="offset points",
        ha="left" if left else "right",
        va="bottom",
        fontsize=7.5,
        color=colour,
    )


def _log_ticks(ax: Axes, low: float, high: float, axis: str = "x") -> None:
    from matplotlib.ticker import FixedLocator, MaxNLocator, NullFormatter

    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    ticks: list[float] = []
    # As few kinds of steps as give four figures inside.
    for steps in ((1,), (1, 3), (1, 2, 5), (1, 1.5, 2, 3, 5, 7)):
        ticks = [step * 10.0**k for k in powers for step in steps if 0.9 * low <= step * 10.0**k <= 1.1 * high]
        if sum(low <= t <= high for t in ticks) >= 4:
            break
    if len(ticks) > 8:
        ticks = ticks[:: math.ceil(len(ticks) / 8)]
    if sum(low <= t <= high for t in ticks) < 3:
        # Over a narrow stretch the two kinds of scale hardly differ, and round steps can be read.
        even = MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
        ticks = [float(t) for t in even if low <= t <= high]
    which = ax.xaxis if axis == "x" else ax.yaxis
    # Marks without figures at every round step show the kind of scale.
    which.set_minor_locator(FixedLocator([step * 10.0**k for k in powers for step in range(1, 10)]))
    which.set_minor_formatter(NullFormatter())
    which.set_ticks(
        ticks, [_power(t) if t >= _LONG else _thousands(t) if t >= 10 and t == round(t) else f"{t:g}" for t in ticks]
    )


def _power(t: float) -> str:
    """A figure too long for a tick as a power of ten."""
    power = math.floor(math.log10(t) + 1e-9)
    step = t / 10.0**power
    digits = str(power).translate(
        str.maketrans("0123456789", "\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079")
    )
    return f"10{digits}" if math.isclose(step, 1.0) else f"{step:g}\u00b710{digits}"
