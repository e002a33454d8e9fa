"""Cost to a horizon and changes of all lamps together, against closed forms and the played fleet."""

from __future__ import annotations

import math

import pytest
import relamp

LIMIT = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
EVEN = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
WEAR = relamp.world({"burst": relamp.life("weibull", shape=3.0, scale=1000.0)}, relamp.costs(500.0, burst=5000.0))


def test_an_even_rate_costs_what_it_must() -> None:
    costs = relamp.horizon_costs(EVEN, LIMIT, horizon_hours=3000.0, ages_hours=[1600.0, 2000.0])
    # A run of A hours without failure that ends before the horizon: exp(-A) for each start up to 3,000 - A.
    planned = [math.exp(-a) * (1.0 + 3.0 - a) for a in (1.6, 2.0)]
    assert costs.cost == pytest.approx([3.0 * 5200.0 + 950.0 * p for p in planned], rel=1e-10)
    frame = costs.frame()
    assert frame["failures"].to_list() == pytest.approx([3.0, 3.0], rel=1e-10)
    assert frame["planned_changes"].to_list() == pytest.approx(planned, rel=1e-9)
    assert (frame["planned_cost"] + frame["burst_cost"]).to_list() == pytest.approx(costs.cost.tolist(), rel=1e-14)
    blocks = relamp.block_costs(EVEN, LIMIT, every_hours=[500.0, 1000.0])
    assert blocks.cost_per_hour == pytest.approx([1.9 + 5.2, 0.95 + 5.2], rel=1e-12)


def test_the_best_age_is_never_past_the_limit_and_no_other_costs_less() -> None:
    limit = relamp.hour_limit(maximum_hours=700.5, source="invented data sheet")
    ages = [35.0 * i for i in range(3, 21)]
    for horizon, first in [(900.0, 0.0), (2100.0, 300.0), (4000.0, 900.0)]:
        best = relamp.horizon_age(WEAR, limit, horizon_hours=horizon, first_age_hours=first)
        assert best.age_hours <= 700.0
        assert best.optimum_hours <= 700.5
        assert all(age <= 700.5 and before >= at - 1e-9 for age, before, at in best.jumps)
        others = relamp.horizon_costs(WEAR, limit, horizon_hours=horizon, ages_hours=ages, first_age_hours=first).cost
        assert best.optimum_cost <= others.min() * (1.0 + 1e-9)
        assert best.optimum_cost <= min(best.cost, best.ceiling_cost) * (1.0 + 1e-9)


def test_blocks_agree_with_the_weibull_case_of_the_books() -> None:
    # Shape 3, failure 10 times a planned change: the interval and cost, recomputed in high precision.
    best = relamp.block_interval(WEAR, LIMIT)
    assert best.optimum_hours == pytest.approx(375.813364687152, rel=1e-8)
    assert best.optimum_cost_per_hour == pytest.approx(4.04012748253279 * 0.5, rel=1e-9)
    assert (best.verdict, best.every_hours) == ("blocks_pay", 376.0)
    none = relamp.block_interval(EVEN, LIMIT)
    assert (none.verdict, none.every_hours, none.cost_per_hour) == ("no_block_pays", None, None)
    assert len(none.frame()) == 0
    assert "no change of all lamps" in none.sentence


def test_one_warranty_is_shared_by_its_replacements() -> None:
    costs = relamp.costs(1.0, burst=5.0).with_warranty(
        relamp.warranty(form="full", price=1.0, hours=800.0, endings=["burst"])
    )
    limit = relamp.hour_limit(maximum_hours=5000.0, source="invented data sheet")
    world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, costs)
    value = relamp.warranty_value(world, limit, age_hours=4000.0)
    assert value.failures_in_first_warranty == pytest.approx(0.8, rel=1e-10)
    assert value.failures_in_a_row_mean == pytest.approx(math.expm1(0.8), rel=1e-10)


def test_what_cannot_be_answered_is_refused() -> None:
    with pytest.raises(relamp.DomainError, match="horizon"):
        relamp.horizon_age(WEAR, LIMIT, horizon_hours=0.0)
    with pytest.raises(relamp.LimitError, match="row 2"):
        relamp.horizon_costs(WEAR, LIMIT, horizon_hours=900.0, ages_hours=[500.0, 2001.0])
    with pytest.raises(relamp.DomainError, match="ages_hours, row 2"):
        relamp.cost_curve(WEAR, LIMIT, ages_hours=[500.0, -5.0])
    with pytest.raises(relamp.InputError, match="ages_hours, row 2:"):
        relamp.cost_curve(WEAR, LIMIT, ages_hours=[500.0, math.nan])
    with pytest.raises(relamp.DomainError, match="row 2"):
        relamp.block_costs(WEAR, LIMIT, every_hours=[500.0, -1.0])
    with pytest.raises(relamp.InputError, match="block_cost"):
        relamp.block_interval(WEAR, LIMIT, block_cost=0.0)


def test_no_rule_passes_the_oldest_lamp_at_risk_without_a_reason() -> None:
    far = relamp.hour_limit(maximum_hours=5000.0, source="invented data sheet")
    known = {"oldest_at_risk_hours": 700.0}
    allowed = {**known, "extrapolate_because": "an invented test ran longer"}
    late = relamp.world({"burst": relamp.life("weibull", shape=2.0, scale=6000.0)}, relamp.costs(950.0, burst=1650.0))
    planned = relamp.planned_age(late, far, **known)
    best = relamp.horizon_age(late, far, horizon_hours=9000.0, **known)
    assert (best.age_hours, best.verdict) == (planned.age_hours, planned.verdict) == (700.0, "records_end")
    assert not best.past_records
    assert "records support no later age" in best.sentence
    blocks = relamp.block_interval(late, far, block_cost=700.0, **known)
    assert blocks.ceiling_hours == 700.0
    assert "at 700 h" in blocks.sentence
    assert "5,000" not in blocks.sentence
    visit = {"age_hours": 5000.0, "mean_hours_between_visits": 300.0, "visit_cost": 100.0}
    visits = relamp.best_visit_age(late, far, **visit, **known)
    assert visits.visit_age_hours <= visits.cost.age_hours == visits.ceiling_hours == 700.0
    assert relamp.horizon_age(late, far, horizon_hours=9000.0, **allowed).past_records
    assert relamp.block_interval(late, far, block_cost=700.0, **allowed).ceiling_hours == 5000.0
    assert relamp.best_visit_age(late, far, **visit, **allowed).cost.age_hours == 5000.0
    with pytest.raises(relamp.InputError, match="reason"):
        relamp.horizon_age(late, far, horizon_hours=9000.0, oldest_at_risk_hours=700.0, extrapolate_because=" ")


def test_a_site_changed_together_is_between_one_lamp_and_a_block() -> None:
    ages = [400.0, 700.0]
    one = relamp.site_costs(WEAR, LIMIT, lamps=1, visit_cost=0.0, ages_hours=ages)
    assert one.cost_per_hour == pytest.approx(relamp.cost_curve(WEAR, LIMIT, ages_hours=ages).cost_per_hour, rel=1e-9)
    many = relamp.site_costs(WEAR, LIMIT, lamps=500, visit_cost=0.0, ages_hours=ages)
    blocks = relamp.block_costs(WEAR, LIMIT, every_hours=ages)
    assert many.cost_per_hour == pytest.approx(blocks.cost_per_hour, rel=1e-9)
    assert many.hours_between == pytest.approx(ages, rel=1e-9)
    best = relamp.site_age(WEAR, LIMIT, lamps=4, visit_cost=600.0)
    assert best.verdict == "together_pays"
    assert best.cost_per_hour < best.alone_cost_per_hour
    assert best.sentence.startswith("change all 4 lamps of the site when one of them reaches ")
    assert best.near_best[0][0] < best.optimum_hours < best.near_best[0][1]
    assert best.near_best_ends == (("exact", "exact"),)
    held = relamp.site_age(WEAR, LIMIT, lamps=4, visit_cost=600.0, oldest_at_risk_hours=250.0)
    assert (held.age_hours, held.near_best_ends[-1][1]) == (250.0, "records_end")
    with pytest.raises(relamp.InputError, match="1 to 1,000"):
        relamp.site_age(WEAR, LIMIT, lamps=0, visit_cost=600.0)
    with pytest.raises(relamp.LimitError, match="row 2"):
        relamp.site_costs(WEAR, LIMIT, lamps=2, visit_cost=0.0, ages_hours=[500.0, 2001.0])


def test_visits_at_equal_distances_are_not_visits_at_random() -> None:
    asked = {"visit_age_hours": 500.0, "age_hours": 1500.0, "mean_hours_between_visits": 300.0, "visit_cost": 200.0}
    random = relamp.visit_rule_cost(WEAR, LIMIT, **asked)
    even = relamp.visit_rule_cost(WEAR, LIMIT, evenly=True, **asked)
    assert even.cost_per_hour < random.cost_per_hour
    assert even.at_age == 0.0 < random.at_age
    # A rule of visits every hour is the rule of one age, half an hour later.
    often = {**asked, "visit_age_hours": 499.5, "mean_hours_between_visits": 1.0, "visit_cost": 0.0}
    plain = relamp.cost_curve(WEAR, LIMIT, ages_hours=[500.0]).cost_per_hour[0]
    assert relamp.visit_rule_cost(WEAR, LIMIT, evenly=True, **often).cost_per_hour == pytest.approx(plain, rel=1e-5)
    with pytest.raises(relamp.RefusedError, match="visits"):
        relamp.visit_rule_cost(WEAR, LIMIT, evenly=True, **{**asked, "mean_hours_between_visits": 1e-3})
