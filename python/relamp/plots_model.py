"""Plots of fitted lives, one function for each, on matplotlib axes that you may pass in.

``probability`` takes what ``relamp.probability_plot`` gives. Nothing is fitted here: numbers are placed on axes.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from relamp.plots import INK, OCHRE, PETROL, _axes, _family, _style, _thousands

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from relamp import Fit, ProbabilityPlot

__all__ = ["probability"]

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

    if fit is not None and fit.family != plot.family:
        raise ValueError(
            f"the plot has the scales of {plot.family!r}, the fit is {fit.family!r}; give a fit of that family"
        )
    with _style():
        ax = _axes(ax, 6.3, 4.2)
        level = f"{100 * plot.level:.0f} %"
        lowest, highest = 0.5 * float(plot.shares.min()), 1 - 0.5 * (1 - float(plot.shares.max()))
        bottom, top = plot.scale_share(lowest), plot.scale_share(highest)
        shown = [s for s in _SHARES if lowest <= s <= highest]
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
            life: Any = fit.life
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
        if oldest > 2.5 * youngest:
            steps = (1, 2, 5) if oldest > 30 * youngest else (1, 1.5, 2, 3, 4, 5, 7)
            powers = range(math.floor(math.log10(youngest)), math.ceil(math.log10(oldest)))
            ticks = [step * 10.0**k for k in powers for step in steps]
        else:
            ticks = list(MaxNLocator(nbins=5).tick_values(youngest, oldest))
        ticks = [t for t in ticks if youngest <= t <= oldest]
        marks = [_thousands(t) if t >= 10 else f"{t:g}" for t in ticks]
        ax.set_xticks([plot.scale_age(float(t)) for t in ticks], marks)
        ax.set_xlim(plot.scale_age(youngest), plot.scale_age(oldest))
        ax.set_xlabel("age, lamp hours")
        ax.set_title(f"Failed share on {_family(plot.family)} scales")
        ax.legend(loc="lower right", handlelength=1.8)
    return ax


def _place(plot: ProbabilityPlot, share: float, bottom: float, top: float) -> float:
    if share <= 0.0:
        return bottom
    return top if share >= 1.0 else min(max(plot.scale_share(share), bottom), top)
