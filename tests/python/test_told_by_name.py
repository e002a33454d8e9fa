"""Questions of a life, a fit and a prediction that are refused by the name of their argument, and figures left open."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import pytest
import relamp
from conftest import quiet_fit
from relamp import plots_model

AGES = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]
TALLY = relamp.lives(AGES)
LIFE = relamp.life("weibull", shape=2.0, scale=1000.0)
FIT = quiet_fit(TALLY)
DRAWS = relamp.bootstrap(TALLY, replicates=60, seed=7)
AHEAD = relamp.failures_ahead(DRAWS, age_hours=[300.0], ahead_hours=200.0)


def looks() -> relamp.Tally:
    """One look at each lamp: 2 of 20 had failed by 500 h, 3 of 20 others by 900 h."""
    return relamp.lives([0.0, 500.0, 0.0, 900.0], [500.0, None, 900.0, None], count=[2, 18, 3, 17])


@pytest.mark.parametrize(
    ("ask", "parts"),
    [
        (lambda: LIFE.quantile([0.1, 1.5]), ("row 2", "p", "1.5", "0 to 1")),
        (lambda: LIFE.quantile(-0.5), ("p", "-0.5", "0 to 1")),
        (lambda: LIFE.b_life(150.0), ("x", "150", "0 to 100")),
        (lambda: LIFE.b_life([10.0, -1.0]), ("row 2", "x", "-1", "0 to 100")),
        (lambda: LIFE.mean_to(-5.0), ("age", "-5", "0 or more")),
        (lambda: LIFE.mean_residual_life([10.0, -5.0]), ("row 2", "age", "-5", "0 or more")),
        (lambda: AHEAD.interval(level=1.2), ("level", "1.2", "above 0 and below 1")),
        (lambda: relamp.failures_ahead(DRAWS, age_hours=[1.0, -2.0], ahead_hours=5.0), ("row 2", "age_hours", "-2")),
        (lambda: FIT.profile(TALLY, mean="yes"), ("mean", "'yes'", "True or False")),
        (lambda: FIT.wald(mean=1), ("mean", "1", "True or False")),
        (lambda: FIT.wald(function=lambda life: -1.0, scale="positive"), ("function", "-1", "above 0")),
        (lambda: FIT.wald(function=lambda life: 1.5, scale="share"), ("function", "1.5", "between 0 and 1")),
        (
            lambda: relamp.probability_plot(relamp.product_limit(TALLY), family="gamma"),
            ("family", "gamma", "probability_plot(curve, fit=fit)"),
        ),
        (lambda: relamp.posterior(TALLY, family="exponential", shape=(1, 3), seed=1), ("shape", "exponential")),
        (lambda: relamp.family_box("square"), ("family", "square", "weibull")),
    ],
)
def test_a_refusal_names_argument_value_and_expected(ask: Callable[[], object], parts: tuple[str, ...]) -> None:
    with pytest.raises((relamp.InputError, relamp.DomainError)) as refused:
        ask()
    missing = [part for part in parts if part not in str(refused.value)]
    assert not missing, f"{missing} in {refused.value}"


def test_a_posterior_without_one_scale_of_all_ages_is_refused() -> None:
    for name in ("piecewise_constant(500)", "series(exponential, exponential)"):
        with pytest.raises(relamp.RefusedError) as refused:
            relamp.posterior(TALLY, family=name, seed=1)
        assert refused.value.slug == "fit.posterior_family"


def test_the_box_of_a_family_is_that_of_its_parts() -> None:
    for name, parameters in relamp.families().items():
        box = relamp.family_box(name)
        assert list(box) == parameters
        assert all(low < high for low, high in box.values())
    box = relamp.family_box("mixture(exponential, weibull)")
    assert box["second_shape"] == relamp.family_box("weibull")["shape"]


def test_an_unsettled_curve_is_marked() -> None:
    tally = looks()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fits = [relamp.fit(tally, family=name) for name in ("exponential", "never_fails(exponential)")]
        far = fits[1].profile(tally, reliability=1e7)
        with pytest.raises(relamp.RefusedError, match="never_share"):
            fits[1].wald(reliability=1e7)
    assert far.estimate is None
    assert far.high is not None
    records = relamp.product_limit(relamp.lives([500.0, 900.0], [500.0, None], count=[5, 35]))
    ax = plots_model.families(records, fits, age_hours=3000.0)
    labels = [label for label in ax.get_legend_handles_labels()[1] if "not settled past 900 h" in label]
    assert len(labels) == 1
    assert labels[0].startswith("never fails")
    assert sum(text.get_text() == "not settled" for text in ax.texts) == 1
    for bad in (-3.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="age_hours"):
            plots_model.families(records, fits, age_hours=bad)
    with pytest.raises(TypeError, match="age_hours"):
        plots_model.families(records, fits, age_hours="late")  # type: ignore[arg-type]


def test_an_open_share_is_drawn_to_where_it_is_nearly_all_or_nothing() -> None:
    tally = looks()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        curve = relamp.fit(tally, family="never_fails(exponential)").profile_curve(tally, parameter="never_share")
    assert curve.low is None
    assert float(curve.values.min()) < 0.011


def test_the_words_of_two_regions_do_not_meet() -> None:
    others = relamp.lives([x + 4.0 for x in AGES])
    regions = [quiet_fit(tally).region(tally) for tally in (TALLY, others)]
    ax = plots_model.region(*regions, names=("old lot", "new lot"))
    ax.figure.canvas.draw()
    first, second = (text.get_window_extent() for text in ax.texts if "shape" in text.get_text())
    assert not first.overlaps(second)
