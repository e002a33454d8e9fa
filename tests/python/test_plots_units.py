"""Plots of fits: names and units of parameters, and words that cover nothing."""

from __future__ import annotations

from itertools import pairwise

import matplotlib.pyplot as plt
import numpy as np
import pytest
import relamp
from relamp import plots_model
from relamp._parameters import in_words, with_unit

LOW = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
TALLY = relamp.lives(LOW, [*LOW[:10], None, None])
STILL = pytest.mark.filterwarnings("ignore::relamp.errors.WeakDataWarning")


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


@pytest.mark.parametrize(
    ("family", "name", "words"),
    [
        ("weibull", "scale", "scale, hours"),
        ("weibull", "shape", "shape"),
        ("lognormal", "scale", "scale"),
        ("lognormal", "location", "location, ln hours"),
        ("generalised_gamma", "scale", "scale"),
        ("normal", "location", "location, hours"),
        ("normal", "scale", "scale, hours"),
        ("weibull_failure_free", "location", "location, hours"),
        ("inverse_gaussian", "mean", "mean, hours"),
        ("mixture(lognormal, weibull)", "first_scale", "first scale"),
        ("mixture(lognormal, weibull)", "second_scale", "second scale, hours"),
        ("never_fails(series(normal, lognormal))", "second_location", "second location, ln hours"),
        ("never_fails(weibull)", "never_share", "share that never fails"),
        ("mixture(weibull, weibull)", "first_share", "share of the first kind"),
        ("piecewise_constant(500, 1000)", "hazard_2", "hazard 2, failures per hour"),
        ("lognormal", "b10 life", "b10 life, hours"),
        ("lognormal", "mean life", "mean life, hours"),
    ],
)
def test_an_axis_has_the_unit_of_its_parameter(family, name, words):
    assert with_unit(name, family) == words
    assert "_" not in in_words(name)


def test_every_parameter_of_a_family_has_words_that_fit_its_median():
    # Doubling every age doubles what is in hours, moves what is in ln hours by ln 2, and leaves the rest.
    ages = np.array(LOW, float)
    for family in (
        "weibull",
        "lognormal",
        "log_logistic",
        "gamma",
        "birnbaum_saunders",
        "gompertz",
        "normal",
        "logistic",
    ):
        one, two = (relamp.fit(relamp.lives(by * ages), family=family) for by in (1.0, 2.0))
        for name, value in one.parameters.items():
            words = with_unit(name, family)
            moved = two.parameters[name]
            if words.endswith(", ln hours"):
                assert moved - value == pytest.approx(np.log(2.0), abs=1e-6), (family, name)
            else:
                assert moved / value == pytest.approx(2.0 if words.endswith(", hours") else 1.0, rel=1e-5), (
                    family,
                    name,
                )


def test_a_profile_and_a_region_carry_the_unit():
    fit = relamp.fit(TALLY, family="lognormal")
    assert plots_model.profile(fit.profile_curve(TALLY, parameter="scale")).get_xlabel() == "scale"
    axes = plots_model.region(fit.region(TALLY))
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("location, ln hours", "scale")


def test_both_regions_tell_their_values():
    one, two = (relamp.lives(np.array(LOW) * by) for by in (1.0, 2.5))
    regions = [relamp.fit(t).region(t) for t in (one, two)]
    axes = plots_model.region(*regions, names=("old", "new"))
    told = [text.get_text() for text in axes.texts]
    for region in regions:
        assert any(f"{region.at_maximum[0]:.3g}" in text for text in told), told


def boxes(axes, texts):
    figure = axes.figure
    figure.canvas.draw()
    found = [text.get_window_extent(figure.canvas.get_renderer()) for text in texts]
    return [box for text, box in zip(texts, found, strict=True) if text.get_text()]


@STILL
def test_figures_of_a_wide_logarithmic_axis_stand_apart():
    rng = np.random.default_rng(6)
    ages = 3000 * rng.weibull(2, size=3000)
    claims = relamp.lives(ages[ages < 1000], upper=[1000.0] * int((ages < 1000).sum()))
    curve = relamp.fit(claims).profile_curve(claims, parameter="scale")
    assert curve.estimate is None
    assert curve.at_maximum > 0
    axes = plots_model.profile(curve)
    assert any(text.get_text() == "not settled" for text in axes.texts)
    ticks = sorted(boxes(axes, axes.get_xticklabels()), key=lambda box: box.x0)
    assert len(ticks) > 2
    assert all(a.x1 < b.x0 for a, b in pairwise(ticks))


def test_ages_of_residuals_stand_clear_of_the_axis():
    rng = np.random.default_rng(2)
    tally = relamp.lives((3000 * rng.weibull(3, size=60)).round(1))
    axes = plots_model.residuals(relamp.residuals(relamp.fit(tally, family="exponential"), tally))
    ticks = boxes(axes, axes.get_yticklabels())
    for mark in boxes(axes, axes.texts):
        assert not any(mark.overlaps(tick) for tick in ticks)


@STILL
def test_a_legend_of_a_probability_plot_covers_no_failure():
    for low, high in (([412.0, 655.0, *[700.0] * 60], [412.0, 655.0, *[None] * 60]), (LOW, [*LOW[:10], None, None])):
        tally = relamp.lives(low, high)
        plot = relamp.probability_plot(relamp.product_limit(tally))
        axes = plots_model.probability(plot, relamp.fit(tally))
        axes.figure.canvas.draw()
        legend = axes.get_legend().get_window_extent()
        points = axes.transData.transform(np.column_stack([plot.x, plot.y]))
        assert not any(legend.contains(*point) for point in points)
