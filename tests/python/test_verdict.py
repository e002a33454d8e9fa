"""Ratio tests on an edge, two phases, families that disagree, and the plot of families."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
import relamp
from conftest import quiet_fit
from relamp import plots_model
from scipy import stats

AGES = [310.0, 402.0, 480.0, 505.0, 550.0, 590.0, 633.0, 720.0, 815.0, 900.0]
TALLY = relamp.lives(AGES)


def test_on_an_edge_the_chance_is_half_of_that_of_chi_square() -> None:
    narrow, wide = quiet_fit(TALLY, family="exponential"), quiet_fit(TALLY, family="gompertz")
    got = relamp.likelihood_ratio(TALLY, narrow=narrow, wide=wide)
    assert got.law == "half_chi_square"
    assert got.p_value == pytest.approx(0.5 * stats.chi2.sf(got.statistic, 1), rel=1e-9)
    wear = relamp.likelihood_ratio(TALLY, narrow=narrow, wide=quiet_fit(TALLY))
    assert wear.law == "chi_square"
    assert wear.p_value == pytest.approx(stats.chi2.sf(wear.statistic, 1), rel=1e-9)
    drawn = relamp.likelihood_ratio_bootstrap(TALLY, narrow="exponential", wide="gompertz", replicates=199, seed=3)
    assert drawn.statistic == pytest.approx(got.statistic, rel=1e-9)
    assert (drawn.law, drawn.replicates) == ("parametric_bootstrap", 199)
    assert pickle.loads(pickle.dumps(drawn)) == drawn
    with pytest.raises(relamp.InputError, match="parametric bootstrap"):
        relamp.likelihood_ratio(TALLY, narrow=narrow, wide=quiet_fit(TALLY, family="lognormal"))


def test_two_phases_are_told_with_their_shapes() -> None:
    early, late = [9.0 * i * i for i in range(1, 13)], [2700.0 + 35 * i for i in range(18)]
    found = relamp.phases(relamp.lives(early + late), replicates=99, seed=1)
    assert found.two_phases
    assert found.verdict.startswith("one Weibull life hides two phases")
    assert relamp.Phases.from_json(found.to_json()) == found
    one = relamp.phases(TALLY, replicates=99, seed=1)
    assert not one.two_phases
    # The statistic of the chosen age, again from two fits: lamps up to it, and lamps past it from it on.
    tally = relamp.lives(early + late)
    a = found.age_hours
    ages = np.array(early + late)
    before = relamp.lives(np.minimum(ages, a), [x if x <= a else None for x in ages])
    past = ages[ages > a]
    after = relamp.lives(past, past, entry=np.full(len(past), a))
    rise = sum(quiet_fit(part).log_likelihood for part in (before, after)) - quiet_fit(tally).log_likelihood
    assert found.statistic == pytest.approx(2 * rise, rel=1e-9)


def test_families_that_fit_alike_are_named_and_drawn() -> None:
    rng = np.random.default_rng(3)
    lives = 3000.0 * rng.weibull(3.0, 120)
    tally = relamp.lives(np.minimum(lives, 1800.0), [x if x <= 1800.0 else None for x in lives])
    fits = [quiet_fit(tally, family=name) for name in ("weibull", "lognormal", "log_logistic")]
    said = relamp.family_verdict(tally, fits=fits, age_hours=3000.0)
    assert len(said.alike) >= 2
    at_age = {f.family: f.life.failure_probability(3000.0) for f in fits}
    alike = [at_age[name] for name in said.alike]
    assert said.disagreement == pytest.approx(max(alike) - min(alike))
    assert "disagree at 3,000 h" in said.verdict
    assert "fit.extrapolated" in [slug for slug, _ in said.notes]
    assert pickle.loads(pickle.dumps(said)) == said
    ax = plots_model.families(relamp.product_limit(tally), fits, age_hours=3000.0)
    texts = [t.get_text() for t in ax.texts]
    for share in at_age.values():
        assert f"{100 * share:.1f} %" in texts
    labels = [t.get_text() for t in ax.get_legend().get_texts()]
    assert labels[:1] == ["records"]
    assert {"Weibull", "lognormal", "log-logistic"} <= set(labels)
    assert ax.figure._repr_png_()[:4] == b"\x89PNG"  # type: ignore[attr-defined]
    with pytest.raises(ValueError, match="one to 5 fits"):
        plots_model.families(relamp.product_limit(tally), [])
