"""Plots of fitted lives: what they show, and that they go onto given axes and into a notebook."""

from __future__ import annotations

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
    assert list(line.get_xdata()) == answer.taus
    assert list(line.get_ydata()) == answer.estimate
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
