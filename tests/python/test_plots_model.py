"""Plots of fitted lives: what they show, and that they go onto given axes and into a notebook."""

from __future__ import annotations

import itertools
import math

import pytest
import relamp
from conftest import pulled_lives, quiet_fit
from relamp import plots_model

AGES = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]


@pytest.mark.parametrize("family", ["exponential", "weibull", "lognormal"])
def test_a_probability_plot_shows_points_line_and_both_bands(family: str) -> None:
    tally = relamp.lives(AGES)
    fit = quiet_fit(tally, family=family)
    plot = relamp.probability_plot(relamp.product_limit(tally), family=family)
    ax = plots_model.probability(plot, fit)
    line, points = ax.lines
    assert list(points.get_xdata()) == list(plot.x)
    assert list(points.get_ydata()) == list(plot.y)
    # The line passes the fitted median at one half.
    (x0, x1), (y0, y1) = line.get_xdata(), line.get_ydata()
    at = y0 + (y1 - y0) * (plot.scale_age(fit.life.quantile(0.5)) - x0) / (x1 - x0)
    assert at == pytest.approx(plot.scale_share(0.5), abs=1e-9)
    assert len(ax.collections) == 2
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    other = quiet_fit(tally, family="weibull" if family == "lognormal" else "lognormal")
    with pytest.raises(ValueError, match="give a fit of that family"):
        plots_model.probability(plot, other)


def test_a_dial_shows_the_figure_its_chance_and_the_range() -> None:
    dial = relamp.removal_dial(pulled_lives(), suspects=["dim"], taus=[0.4, 0.6, 0.8], replicates=20)
    answer = dial.b_life(10.0, from_tau=0.4, to_tau=0.8, widest=1.01)
    ax = plots_model.dial(answer)
    line = ax.lines[0]
    assert tuple(line.get_xdata()) == answer.taus
    assert tuple(line.get_ydata()) == answer.estimate
    texts = " ".join(t.get_text() for t in ax.texts)
    assert f"{answer.low:,.0f} h" in texts
    assert f"{answer.high:,.0f} h" in texts
    assert ax.get_title(loc="left").endswith("uninformative")
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    bare = relamp.removal_dial(pulled_lives(), suspects=["dim"], taus=[0.4], replicates=0)
    shares = plots_model.dial(bare.reliability(900.0, from_tau=0.0, to_tau=0.4), ax=plots_model.dial(answer))
    assert shares.get_ylabel() == "share of lamps"
    with pytest.raises(TypeError, match=r"answer .* DialAnswer, as RemovalDial.b_life gives it"):
        plots_model.dial(dial)  # type: ignore[arg-type]


def test_given_axes_are_used() -> None:
    plot = relamp.probability_plot(relamp.product_limit(relamp.lives(AGES)))
    first = plots_model.probability(plot)
    first.clear()
    assert plots_model.probability(plot, ax=first) is first


def texts_apart(ax: object, axis: str) -> bool:
    """Whether no two figures of an axis meet."""
    figure = ax.figure  # type: ignore[attr-defined]
    figure.canvas.draw()
    which = ax.xaxis if axis == "x" else ax.yaxis  # type: ignore[attr-defined]
    boxes = [label.get_window_extent() for label in which.get_ticklabels() if label.get_text()]
    ends = sorted((box.x0, box.x1) if axis == "x" else (box.y0, box.y1) for box in boxes)
    return all(before[1] < after[0] for before, after in itertools.pairwise(ends))


@pytest.mark.parametrize("family", ["normal", "logistic", "smallest_extreme_value", "weibull"])
def test_figures_of_an_age_scale_do_not_meet(family: str) -> None:
    # Ages from 9 to 5,000 h: steps of a logarithmic scale crowd at the left of an even one.
    tally = relamp.lives([9.0 * 1.24**i for i in range(30)])
    ax = plots_model.probability(relamp.probability_plot(relamp.product_limit(tally), family=family))
    assert texts_apart(ax, "x")
    assert len(ax.get_xticks()) >= 4


def test_a_logarithmic_axis_of_a_region_has_figures_and_marks() -> None:
    tally = relamp.lives([400.0, 900, 1000, 1200, 1200, 1200], [400.0, 900, 1000, None, None, None])
    ax = plots_model.region(quiet_fit(tally).region(tally, level=0.9))
    assert ax.get_xscale() == ax.get_yscale() == "log"
    for axis, (low, high) in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
        assert sum(low <= t <= high for t in axis.get_majorticklocs()) >= 4
        assert sum(low <= t <= high for t in axis.get_minorticklocs()) >= 4
    assert texts_apart(ax, "x")
    assert texts_apart(ax, "y")


def test_a_profile_that_ends_at_0_is_drawn_to_it() -> None:
    tally = relamp.lives([300.0 + 1000.0 * (-math.log(1 - (i + 0.5) / 30)) ** (1 / 3) for i in range(30)])
    fit = quiet_fit(tally, family="weibull_failure_free")
    curve = fit.profile_curve(tally, parameter="location")
    ax = plots_model.profile(curve)
    assert curve.low == curve.values.min() == 0.0
    assert ax.get_xscale() == "linear"
    assert any(t.get_text() == "0, where it ends" for t in ax.texts)
    assert ax.get_ylim()[0] < curve.cut
    line = next(line for line in ax.lines if len(line.get_xdata()) > 10)
    assert line.get_xdata()[0] == 0.0
    assert line.get_ydata()[0] > curve.cut


def test_the_legend_of_the_families_leaves_the_curves_free() -> None:
    ages = [5.0 + 30.0 * i**1.6 for i in range(40)]
    tally = relamp.lives(ages)
    fits = [quiet_fit(tally, family=name) for name in ("exponential", "weibull", "lognormal")]
    ax = plots_model.families(relamp.product_limit(tally), fits, age_hours=300.0)
    ax.figure.canvas.draw()
    box = ax.get_legend().get_window_extent()
    for line in ax.lines:
        if len(line.get_xdata()) > 50:
            assert not any(box.contains(*point) for point in ax.transData.transform(line.get_xydata()))
