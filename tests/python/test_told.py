"""Refusals that name every value at fault, in the words of a user."""

from __future__ import annotations

import numpy as np
import pytest
import relamp

LOW = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450]


def test_every_parameter_out_of_range_is_named():
    with pytest.raises(relamp.DomainError) as caught:
        relamp.life("weibull", shape=-1.0, scale=float("inf"))
    assert "shape" in str(caught.value)
    assert "scale" in str(caught.value)
    with pytest.raises(relamp.DomainError) as caught:
        relamp.life("never_fails(weibull)", shape=2.0, scale=-1.0, never_share=2.0)
    assert "scale" in str(caught.value)
    assert "shape" not in str(caught.value)


def test_every_age_that_is_none_is_named_by_its_row():
    life = relamp.life("weibull", shape=2.0, scale=1000.0)
    for function in (life.mean_residual_life, life.mean_to):
        with pytest.raises(relamp.DomainError) as caught:
            function([-5.0, 10.0, -7.0])
        text = str(caught.value)
        assert "row 1" in text
        assert "row 3" in text
        assert "-7" in text
        assert "row 2" not in text
        assert len(function([5.0, 10.0])) == 2


def test_a_huge_number_is_told_with_an_exponent():
    with pytest.raises(relamp.RelampError) as caught:
        relamp.life("weibull", shape=2.0, scale=1000.0).quantile(1e300)
    assert "1e300" in str(caught.value)
    assert "0000000000" not in str(caught.value)


def test_a_life_below_zero_is_refused_by_the_name_of_its_family():
    life = relamp.life("never_fails(normal)", location=1500.0, scale=400.0, never_share=0.2)
    world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
    with pytest.raises(relamp.RefusedError) as caught:
        relamp.planned_age(world, relamp.hour_limit(maximum_hours=2500.0, source="invented"))
    assert "{" not in str(caught.value)
    assert "never fails (normal)" in str(caught.value)


@pytest.mark.filterwarnings("ignore::relamp.errors.WeakDataWarning")
def test_replicates_left_out_are_told():
    tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900.0])
    test = relamp.distance_test(tally, family="weibull_failure_free", replicates=99, seed=1)
    assert test.unsettled > 0
    assert any(slug == "fit.unsettled" and str(test.unsettled) in text for slug, text in test.notes)


@pytest.mark.filterwarnings("ignore::relamp.errors.WeakDataWarning")
def test_a_posterior_says_why_it_does_not_close():
    tally = relamp.lives([float(a) for a in LOW])
    with pytest.raises(relamp.RefusedError) as caught:
        relamp.posterior(tally, family="gompertz", draws=0, seed=1)
    assert "two ages" not in str(caught.value)
    assert "only a range closes it" in str(caught.value)


def test_second_derivatives_over_a_shape_keep_their_digits_in_a_tail():
    # ln R = -ln(1 + exp(u)), u = shape ln(age / scale): d2/dshape2 = -ln(age / scale)^2 F R, with no difference of near
    # equals.
    for shape, ratio in ((2.0, 1e8), (5.0, 1e5), (1.0, 1e-15), (3.0, 40.0)):
        life = relamp.life("log_logistic", shape=shape, scale=1000.0)
        found = life.ln_reliability_derivatives(1000.0 * ratio)["hessian"][0, 0]
        u = shape * np.log(ratio)
        want = -(np.log(ratio) ** 2) / (1 + np.exp(u)) / (1 + np.exp(-u))
        assert found == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("family", "parameters"), [("birnbaum_saunders", "shape scale"), ("inverse_gaussian", "shape mean")]
)
def test_a_density_next_to_age_zero_is_none_and_no_nan(family, parameters):
    life = relamp.life(family, **dict(zip(parameters.split(), (0.5, 1000.0), strict=True)))
    assert life.ln_density(5e-324) == -np.inf
    assert life.ln_reliability(5e-324) == 0.0
