"""Curves of one group and of several: numbers at risk, axes, ground, words that do not meet."""

from __future__ import annotations

import io
from typing import Any

import demo
import numpy as np
import pytest
import relamp
from conftest import read_small_log, small_models
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imread
from relamp import plots, plots_groups, plots_model, plots_watch


def under_ticks(axes: Any) -> dict[str, list[str]]:
    """The rows of numbers below the axis, by their first words."""
    rows: dict[float, list[str]] = {}
    words: dict[float, str] = {}
    for text in axes.texts:
        if text.xy[1] == 0.0 and text.xycoords == ("data", "axes fraction"):
            rows.setdefault(text.xyann[1], []).append(text.get_text())
        elif text.xy == (0.0, 0.0):
            words[text.xyann[1]] = text.get_text().replace("\n", " ")
    keys = sorted(rows, reverse=True)
    named = [words[k] for k in sorted(words, reverse=True)]
    # Over the rows of several groups stand words of their own.
    return dict(zip(named[len(named) - len(keys) :], [rows[k] for k in keys], strict=True))


def test_each_tick_has_the_lamps_at_risk_there() -> None:
    # One lamp failed at 100 h, one left at 200 h: at 150 h one is at risk, though no failure is left to come.
    axes = plots.curve(relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None])))
    ticks = axes.get_xticks()
    expected = ["2" if t <= 100 else "1" if t <= 200 else "0" for t in ticks]
    assert 150.0 in ticks
    assert under_ticks(axes) == {"lamps at risk": expected}
    # Between two failures some leave: the count is that of the tick, not that of the next failure.
    low = [100.0, *[250.0] * 7, 900.0, 1000.0]
    axes = plots.curve(relamp.product_limit(relamp.lives(low, [100.0, *[None] * 7, 900.0, None])))
    counts = dict(zip(axes.get_xticks(), under_ticks(axes)["lamps at risk"], strict=True))
    assert counts[200.0] == "9"
    assert counts[400.0] == "2"


def test_the_row_of_lamps_at_risk_goes_on_to_the_oldest_lamp() -> None:
    # Round ticks end at 800 h; two lamps are seen to 900 h.
    tally = relamp.lives([310.0, 402, 480, 505, 550, 590, 633, 720, 900, 900], ending=["burst", "dim"] * 5)
    for axes in (plots.curve(relamp.product_limit(tally)), plots.incidence(relamp.incidence(tally))):
        assert axes.get_xticks()[-1] == 900.0
        assert under_ticks(axes)["lamps at risk"][-1] == "2"


def test_causes_stand_over_the_lamps_at_risk() -> None:
    entry = [0.0, 0.0, 300.0, 0.0, 100.0]
    low, high = [250.0, 400.0, 700.0, 900.0, 950.0], [250.0, None, 700.0, 900.0, None]
    ending = ["burst", None, "dim", "dim", None]
    tally = relamp.lives(low, high, entry=entry, ending=ending)
    causes = relamp.incidence(tally, min_at_risk=1)
    axes = plots.incidence(causes)
    seen = under_ticks(axes)["lamps at risk"]
    for tick, n in zip(axes.get_xticks(), seen, strict=True):
        there = (e < tick <= a or tick == 0.0 == e for e, a in zip(entry, low, strict=True))
        assert int(n) == sum(there) == causes.at_risk_at(float(tick))
    axes.figure.draw_without_rendering()
    label = axes.xaxis.label.get_window_extent()
    numbers = [t for t in axes.texts if t.xycoords == ("data", "axes fraction") and t.get_text()]
    assert all(t.get_window_extent().y1 <= label.y0 for t in numbers)


def test_each_tick_of_a_class_has_the_lamps_at_risk_there() -> None:
    c = demo.saved()["body"]["classes"][0]
    at_risk = {p["age_hours"]: p["at_risk_count"] for p in c["curve"]["at_risk"]}
    axes = plots.reliability(c)
    ticks = axes.get_xticks()
    end = c["curve"]["end_hours"]
    assert under_ticks(axes)["lamps at risk"] == [f"{at_risk[t]:,}" if t <= end else "0" for t in ticks]
    # The count of the tick is not that of the next failure, where some leave between the two.
    following = [next((p["at_risk_count"] for p in c["curve"]["points"] if p["age_hours"] >= t), 0) for t in ticks]
    assert any(at_risk.get(t, 0) > n for t, n in zip(ticks, following, strict=True))
    # Results of before do not hold them.
    del c["curve"]["at_risk"]
    assert set(under_ticks(plots.reliability(c))["lamps at risk"]) <= {"", "0"}


def test_the_axis_starts_where_a_late_curve_does() -> None:
    entry = [700.0 + 4.0 * i for i in range(40)]
    low = [800.0 + 6.0 * i for i in range(40)]
    curve = relamp.product_limit(relamp.lives(low, low, entry=entry))
    axes = plots.curve(curve)
    assert 650.0 < axes.get_xlim()[0] <= curve.conditional_from
    seen = [int(n) for n in under_ticks(axes)["lamps at risk"]]
    for tick, n in zip(axes.get_xticks(), seen, strict=True):
        assert n == sum(e < tick <= a for e, a in zip(entry, low, strict=True))


def test_a_curve_without_failures_stands_at_one() -> None:
    axes = plots.curve(relamp.product_limit(relamp.lives([1.0, 2.0, 2.0], [None, None, None])))
    assert [tuple(line.get_ydata()) for line in axes.lines] == [(1.0, 1.0)]
    labels = [t.get_text() for t in axes.get_xticklabels()]
    assert len(set(labels)) == len(labels)
    assert under_ticks(axes)["lamps at risk"][0] == "3"


def test_several_groups_have_a_row_of_numbers_each() -> None:
    tallies = {
        "North": relamp.lives([300.0, 500.0, 700.0, 900.0], [300.0, None, 700.0, None]),
        "South of the long river": relamp.lives([200.0, 400.0, 1200.0], [200.0, 400.0, None]),
    }
    axes = plots_groups.curves({name: relamp.product_limit(t) for name, t in tallies.items()})
    rows = under_ticks(axes)
    assert [len(row) for row in rows.values()] == [len(axes.get_xticks())] * 2
    for row, tally in zip(rows.values(), tallies.values(), strict=True):
        curve = relamp.product_limit(tally)
        assert row == [f"{curve.at_risk_at(float(t)):.0f}" for t in axes.get_xticks()]
    axes.figure.draw_without_rendering()
    label = axes.xaxis.label.get_window_extent()
    numbers = [t for t in axes.texts if t.xycoords == ("data", "axes fraction") and t.get_text()]
    assert len(numbers) >= 8
    assert all(t.get_window_extent().y1 <= label.y0 for t in numbers), "numbers run into the words of the axis"
    for wrong in ({}, {str(i): None for i in range(7)}):
        with pytest.raises(ValueError, match="1 to 6"):
            plots_groups.curves(wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("rows", [1, 2])
def test_numbers_at_risk_fit_into_axes_of_the_caller(rows: int) -> None:
    figure = Figure(figsize=(12.0, 4.0 * rows))
    FigureCanvasAgg(figure)
    grid = figure.subplots(rows, 2, squeeze=False)
    low = [float(i) for i in range(100, 400, 5)]
    one, other = relamp.product_limit(relamp.lives(low)), relamp.product_limit(relamp.lives(low[:10]))
    for left, right in grid:
        plots.curve(one, ax=left)
        plots_groups.curves({"A": one, "B": other}, ax=right)
    figure.draw_without_rendering()
    bottoms = [[min(t.get_window_extent().y0 for t in ax.texts if t.get_text()) for ax in row] for row in grid]
    assert min(bottoms[-1]) > 0.0, "cut off by the edge of the figure"
    titles = [max(t.get_window_extent().y1 for t in (ax.title, ax._left_title)) for ax in grid[-1]]
    assert rows == 1 or min(bottoms[0]) > max(titles), "numbers run into the titles below"
    # Axes without a grid find their room too, and a layout of the caller's own is left alone.
    free = figure.add_axes((0.3, 0.01, 0.2, 0.3))
    plots.curve(one, ax=free)
    figure.draw_without_rendering()
    assert min(t.get_window_extent().y0 for t in free.texts if t.get_text()) > 0.0
    own = Figure(figsize=(6.0, 4.0), layout="constrained")
    FigureCanvasAgg(own)
    before = own.subplotpars.bottom
    plots.curve(one, ax=own.subplots())
    assert own.subplotpars.bottom == before


@pytest.mark.parametrize(
    ("reading", "words"), [("upper", "upper end"), ("midpoint", "midpoint"), ("lower", "lower end")]
)
def test_keys_say_at_which_end_intervals_are_read(reading: str, words: str) -> None:
    curve = relamp.product_limit(
        relamp.lives([100.0, 300.0, 400.0], [200.0, 300.0, None]), reading=reading, min_at_risk=1
    )
    for axes in (plots.curve(curve), plots_groups.curves({"A": curve})):
        keys = [t.get_text() for t in axes.get_legend().get_texts()]
        assert any(key.rstrip(")").endswith(f"intervals read at their {words}") for key in keys), keys


def test_words_above_pooled_sites_do_not_meet_however_long_the_names() -> None:
    names = [f"a cinema with a name of forty letters {i:02d}" for i in range(12)]
    tally = relamp.lives([100.0 + 7.0 * i for i in range(120)], ending=["dim"] * 120, covariates={"site": names * 10})
    axes = plots_groups.pooled(relamp.pool_groups(tally, by="site", draws=500, seed=1))
    axes.figure.draw_without_rendering()
    key = axes.get_legend().get_window_extent()
    heads = [t for t in axes.texts if t.xy == (1.0, 1.0) and t.get_position()[1] > 0]
    assert len(heads) == 3
    assert all(t.get_window_extent().x0 > key.x1 or t.get_window_extent().y0 > key.y1 for t in heads)


def test_a_saved_figure_has_a_white_ground() -> None:
    buffer = io.BytesIO()
    plots.curve(relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None]))).figure.savefig(buffer, format="png")
    buffer.seek(0)
    assert np.all(imread(buffer)[0, 0] == 1.0)


def test_residuals_of_a_regression_carry_no_hours_out_of_order() -> None:
    current = [60.0, 70.0, 80.0, 90.0] * 10
    low = [(900.0 + 10.0 * i) * (70.0 / c) ** 2 for i, c in enumerate(current)]
    tally = relamp.lives(low, covariates={"current": current})
    fit = relamp.fit_covariates(tally, terms=["current"], value_is={"current": "at_fitting"})
    axes = plots_model.residuals(fit.residuals(tally))
    assert not [t for t in axes.texts if t.get_text().endswith(" h")]
    plain = plots_model.residuals(relamp.residuals(relamp.fit(tally), tally))
    assert [t for t in plain.texts if t.get_text().endswith(" h")]


def test_the_dot_of_the_last_month_is_whole() -> None:
    watch = relamp.watch(relamp.expected_endings(read_small_log(), small_models()))
    axes = plots_watch.sums(watch, by=["fleet", "site", "supplier", "batch", "screen"])
    last = max(max(line.get_xdata()) for line in axes.lines[:-1])
    assert axes.get_xlim()[1] >= last + 0.3


def test_each_tick_has_the_screens_at_risk_there() -> None:
    ends = [1000.0 + 250.0 * i for i in range(12)]
    screens = relamp.sockets(ends, [[500.0 + 10.0 * i] for i in range(12)], group=["North", "South"] * 6)
    axes = plots.recurrence(relamp.recurrence(screens))
    expected = [str(sum(e >= t for e in ends)) for t in axes.get_xticks()]
    assert len(set(expected)) >= 3
    assert under_ticks(axes) == {"screens at risk": expected}
    both = [relamp.recurrence(screens.of_group(g)) for g in ("North", "South")]
    axes = plots.recurrence(both[0], other=both[1], names=["North", "a name too long for the margin"])
    rows = under_ticks(axes)
    assert list(rows) == ["North", "a name too long\N{HORIZONTAL ELLIPSIS}"]
    for i, row in enumerate(rows.values()):
        assert row == [str(sum(e >= t for e in ends[i::2])) for t in axes.get_xticks()]


@pytest.mark.parametrize(("low", "high"), [(0.93, 1.08), (1.02, 1.37), (0.7, 1.6), (10.3, 11.9), (104.0, 118.0)])
def test_a_narrow_logarithmic_axis_has_ticks_that_can_be_read(low: float, high: float) -> None:
    axes = plots._axes(None, 4.0, 3.0)
    axes.set_xscale("log")
    plots_model._log_ticks(axes, low, high)
    ticks = [t for t in axes.get_xticks() if low <= t <= high]
    assert 3 <= len(ticks) <= 8
    words = [t.get_text() for t in axes.get_xticklabels()]
    assert len(set(words)) == len(words)
    assert [float(w.replace(",", "")) for w in words] == pytest.approx(list(axes.get_xticks()))
