"""Warranties, dark time, discount, caps and ranges of costs, against scipy and by hand."""

from __future__ import annotations

import math
from typing import Any

import arguments_policy as policy
import numpy as np
import pytest
import relamp
from scipy import integrate, optimize, stats

LIMIT = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
SHAPE, SCALE = 2.5, 10_000.0
LAW = stats.weibull_min(SHAPE, scale=SCALE)
LIFE = relamp.life("weibull", shape=SHAPE, scale=SCALE)


def world(costs: relamp.Costs) -> relamp.World:
    return relamp.world({"burst": LIFE}, costs)


def integral(f: Any, to: float) -> float:
    return float(integrate.quad(f, 0.0, to, epsabs=0.0, epsrel=1e-12, limit=200)[0])


def test_discounted_cost_agrees_with_scipy() -> None:
    later = relamp.discount(rate_per_year=0.08, hours_per_year=3500.0)
    rate = math.log(1.08) / 3500.0
    assert later.rate_per_hour == pytest.approx(rate, rel=1e-14)

    def even_cost(age: float) -> float:
        failed = integral(lambda t: math.exp(-rate * t) * LAW.pdf(t), age)
        hours = integral(lambda t: math.exp(-rate * t) * LAW.sf(t), age)
        return float((1000.0 * math.exp(-rate * age) * LAW.sf(age) + 6000.0 * failed) / hours)

    best = optimize.minimize_scalar(even_cost, bounds=(1000.0, 20_000.0), method="bounded", options={"xatol": 1e-3})
    plan = relamp.planned_age(world(relamp.costs(1000.0, burst=6000.0)), LIMIT, objective=later)
    assert plan.objective == "discounted_cost"
    assert plan.optimum_hours == pytest.approx(best.x, rel=1e-4)
    assert plan.cost_per_hour == pytest.approx(even_cost(plan.age_hours), rel=1e-10)
    assert plan.present_value == pytest.approx(even_cost(plan.age_hours) / rate, rel=1e-10)
    assert plan.availability is None
    plain = relamp.planned_age(world(relamp.costs(1000.0, burst=6000.0)), LIMIT)
    assert plan.age_hours > plain.age_hours
    assert (plain.objective, plain.present_value, plain.availability) == ("cost_per_hour", None, None)


def test_dark_time_agrees_with_scipy() -> None:
    dark = relamp.dark_minutes(40.0, burst=400.0)
    plan = relamp.planned_age(world(relamp.costs(1000.0, burst=1500.0)), LIMIT, objective=dark)

    def minutes(age: float) -> float:
        return float((40.0 * LAW.sf(age) + 400.0 * LAW.cdf(age)) / integral(LAW.sf, age))

    best = optimize.minimize_scalar(minutes, bounds=(500.0, 20_000.0), method="bounded", options={"xatol": 1e-3})
    assert plan.optimum_hours == pytest.approx(best.x, rel=1e-4)
    assert plan.availability == pytest.approx(60.0 / (60.0 + minutes(plan.age_hours)), rel=1e-12)
    assert "dark time per hour" in plan.sentence
    curve = relamp.cost_curve(world(relamp.costs(1000.0, burst=1500.0)), LIMIT, ages_hours=[3000.0], objective=dark)
    assert curve.cost_per_hour[0] == pytest.approx(minutes(3000.0), rel=1e-10)


def test_the_worth_of_a_used_lamp_agrees_with_scipy() -> None:
    used = relamp.salvage(worth_of_new=600.0, gone_hours=9000.0, least_hours_left=2000.0)
    assert used.worth([0.0, 4500.0, 6999.0, 7000.0]).tolist() == [600.0, 300.0, 600.0 * (1.0 - 6999.0 / 9000.0), 0.0]
    costs = relamp.costs(1000.0, burst=6000.0).with_salvage(used)
    assert costs.salvage == used
    assert relamp.costs(1.0).salvage is None

    def cost(age: float) -> float:
        return float((costs.planned_at(age) * LAW.sf(age) + 6000.0 * LAW.cdf(age)) / integral(LAW.sf, age))

    best = optimize.minimize_scalar(cost, bounds=(1000.0, 6999.0), method="bounded", options={"xatol": 1e-3})
    plan = relamp.planned_age(world(costs), LIMIT)
    assert plan.optimum_hours == pytest.approx(best.x, rel=1e-4)
    assert plan.cost_per_hour == pytest.approx(cost(plan.age_hours), rel=1e-10)
    plain = relamp.planned_age(world(relamp.costs(1000.0, burst=6000.0)), LIMIT)
    assert plan.age_hours < plain.age_hours
    curve = relamp.cost_curve(world(costs), LIMIT, ages_hours=[6999.0, 7000.0]).cost_per_hour
    assert curve.tolist() == pytest.approx([cost(6999.0), cost(7000.0)], rel=1e-10)
    # A worth that hardly falls and is lost at once: the change comes just before.
    lost = relamp.salvage(worth_of_new=600.0, gone_hours=100_000.0, least_hours_left=95_000.0)
    assert relamp.planned_age(world(relamp.costs(1000.0, burst=1300.0).with_salvage(lost)), LIMIT).age_hours == 4999.0
    with pytest.raises(relamp.InputError, match="planned") as caught:
        relamp.costs(600.0, burst=6000.0).with_salvage(lost)
    assert caught.value.slug == "terms.salvage_above_planned"
    with pytest.raises(relamp.InputError, match="worth_of_new"):
        relamp.salvage(worth_of_new=-1.0, gone_hours=9000.0)


def test_more_records_are_worth_no_more_than_certainty() -> None:
    tally = relamp.lives([100.0 + 70.0 * i for i in range(60)], ending=["burst"] * 30 + ["dim"] * 30)
    costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    draws = relamp.fit_causes(tally).draws(tally, costs, n=100, seed=1)
    limit = relamp.hour_limit(maximum_hours=4000.0, source="invented data sheet")
    ages = [100.0, 900.0, None, 2500.0]
    value = relamp.records_value(draws, limit, ages, hours_per_week=70.0, plays=4, seed=1)
    assert value.hours_ahead == pytest.approx(4 * 10.0 * 365.25)
    assert -3.0 * value.saving_error <= value.saving_per_hour <= value.most_per_hour
    assert value.saving_in_as_many_hours == value.saving_per_hour * value.hours_ahead
    assert value.later_hours[0] <= value.today_hours <= limit.hours
    assert value == relamp.records_value(draws, limit, ages, hours_per_week=70.0, plays=4, seed=1)
    # All draws are asked what the age of today costs more than their own best.
    most = []
    for i in range(len(draws)):
        one = draws.world(i)
        here = relamp.cost_curve(one, limit, ages_hours=[value.today_hours]).cost_per_hour[0]
        most.append(here - relamp.planned_age(one, limit, least_saving_percent=0.0).cost_per_hour)
    assert value.most_per_hour == pytest.approx(sum(most) / len(most), rel=0.05)
    for options, name in (
        ({"days": 0.0}, "days"),
        ({"hours_per_week": -1.0}, "hours_per_week"),
        ({"plays": 0}, "plays"),
    ):
        with pytest.raises(relamp.InputError, match=name):
            relamp.records_value(draws, limit, ages, **{"hours_per_week": 70.0, **options})
    with pytest.raises(relamp.LimitError, match="rule_hours"):
        relamp.records_value(draws, limit, ages, hours_per_week=70.0, rule_hours=4001.0)


def test_money_back_agrees_with_scipy_and_by_hand() -> None:
    rated = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
    assert (rated.credit(500.0), rated.form, rated.endings) == (750.0, "pro_rata", ("burst",))
    costs = relamp.costs(1000.0, burst=6000.0).with_warranty(rated)
    assert costs.warranty == rated
    assert relamp.costs(1.0).warranty is None
    value = relamp.warranty_value(world(costs), LIMIT, age_hours=5000.0)
    back = integral(lambda t: 1000.0 * (1.0 - t / 2000.0) * LAW.pdf(t), 2000.0)
    assert value.money_back_per_lamp == pytest.approx(back, rel=1e-10)
    assert value.claim_probability == pytest.approx(LAW.cdf(2000.0), rel=1e-10)
    # The cost curve is lower by what comes back, and by nothing else.
    with_it = relamp.cost_curve(world(costs), LIMIT, ages_hours=[5000.0]).cost_per_hour[0]
    without = relamp.cost_curve(world(relamp.costs(1000.0, burst=6000.0)), LIMIT, ages_hours=[5000.0]).cost_per_hour[0]
    assert without - with_it == pytest.approx(back / integral(LAW.sf, 5000.0), rel=1e-9)
    steps = relamp.warranty(form="stepped", price=800.0, steps=[(250.0, 1.0), (1000.0, 0.5)], endings=["seal"])
    assert steps.credit([0.0, 249.0, 250.0, 1000.0]).tolist() == [800.0, 800.0, 400.0, 0.0]
    assert steps.within_calendar(days=70.0, hours_per_week=60.0).end_hours == 600.0


def test_the_whole_price_back_can_make_its_end_the_best_age() -> None:
    full = relamp.warranty(form="full", price=3500.0, hours=8000.0, endings=["burst"])
    life = relamp.life("weibull", shape=2.0, scale=10_000.0)
    plan = relamp.planned_age(
        relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0).with_warranty(full)), LIMIT
    )
    assert plan.optimum_hours == pytest.approx(8000.0, rel=1e-12)


def test_terms_that_do_not_fit_together_are_refused_by_name() -> None:
    for wrong, slug in (
        ({"form": "full", "hours": None}, "python.warranty"),
        ({"form": "stepped"}, "python.warranty"),
        ({"form": "half"}, "python.warranty"),
        ({"form": "full", "price": -1.0}, "terms.warranty_price"),
        ({"form": "full", "hours": 0.0}, "terms.warranty_hours"),
        ({"form": "full", "endings": []}, "terms.warranty_endings"),
        ({"form": "stepped", "hours": None, "steps": [(5.0, 0.5), (4.0, 0.2)]}, "terms.warranty_steps"),
        ({"form": "stepped", "hours": None, "steps": 3}, "python.type"),
        ({"form": "stepped", "hours": None, "steps": [(5.0, "x")]}, "python.type"),
    ):
        with pytest.raises(relamp.InputError) as caught:
            policy.full(**wrong)
        assert caught.value.slug == slug, wrong
    for rates in (
        {},
        {"rate_per_hour": 1e-5, "rate_per_year": 0.1},
        {"rate_per_year": 0.1},
        {"hours_per_year": 4000.0},
    ):
        with pytest.raises(relamp.InputError) as caught:
            relamp.discount(**rates)
        assert caught.value.slug == "python.discount"
    with pytest.raises(relamp.InputError) as caught:
        relamp.planned_age(policy.WORLD, policy.LIMIT, objective="cost")
    assert caught.value.slug == "python.type"
    with pytest.raises(relamp.InputError) as caught:
        relamp.planned_age(policy.WORLD, policy.LIMIT, objective=relamp.dark_minutes(40.0, dim=90.0))
    assert caught.value.slug == "terms.minutes_missing"
    with pytest.raises(relamp.InputError) as caught:
        relamp.costs(1.0, burst=780.0).with_warranty(policy.full())
    assert caught.value.slug == "terms.credit_above_cost"
    for part in ("lamp", "visit_share"):
        with pytest.raises(relamp.InputError, match=part):
            relamp.cost_parts(**{**policy.PARTS, part: (2.0, 1.0)})
    with pytest.raises(relamp.InputError, match="labour"):
        relamp.cost_parts(**{**policy.PARTS, "labour": "60"})
    used = relamp.salvage(worth_of_new=300.0, gone_hours=2000.0)
    for wrong in ((2.0, 1.0), (0.0, math.nan), "100"):
        with pytest.raises(relamp.InputError, match="salvage"):
            relamp.cost_parts(**policy.PARTS, salvage=used, salvage_worth=wrong)
    with pytest.raises(relamp.InputError) as caught:
        relamp.cost_parts(**policy.PARTS, salvage_worth=100.0)
    assert caught.value.slug == "python.together"


def test_caps_are_judged_by_upper_limits() -> None:
    capped = policy.capped(
        records=relamp.lives([1500.0], [None], ending=["planned"], count=[100]), most_before_age=0.01
    )
    rate = -math.log(0.05) / 150_000.0
    assert capped.age_hours == math.floor(-math.log(0.99) / rate)
    assert capped.before_age == pytest.approx(1.0 - math.exp(-rate * capped.age_hours), rel=1e-12)
    assert capped.in_show == pytest.approx(1.0 - math.exp(-rate * 2.0), rel=1e-10)
    assert capped.bands == ((1.0, capped.age_hours),)
    # Every lamp gone for an unknown reason counts in the second line, and forbids the cap.
    unknown = relamp.lives([1500.0], [None], ending=["unknown"], count=[100])
    none = policy.capped(records=unknown, most_before_age=0.01, show_hours=2.0)
    assert none.frame()["events"].to_list() == [0, 100]
    assert none.age_hours is None or none.age_hours < 20.0
    never = policy.capped(records=unknown, most_before_age=None, most_in_show=1e-6)
    assert (never.verdict, never.age_hours, never.bands, never.in_show) == ("no_age_meets_caps", None, (), None)
    assert "no age up to" in never.sentence
    drawn = policy.capped(records=None, draws=policy.DRAWS, most_before_age=0.2)
    assert drawn.age_hours is not None
    assert drawn.before_age is not None
    assert drawn.before_age <= 0.2
    with_unknown = policy.capped(records=None, draws=policy.DRAWS, draws_with_unknown=policy.DRAWS, most_before_age=0.2)
    assert with_unknown.age_hours == drawn.age_hours
    for wrong in ({"records": None}, {"draws": policy.DRAWS}, {"records": None, "draws_with_unknown": policy.DRAWS}):
        with pytest.raises(relamp.InputError) as caught:
            policy.capped(**wrong)
        assert caught.value.slug == "python.cap_source"


def test_ranges_of_costs_reach_every_answer() -> None:
    parts = relamp.cost_parts(**{**policy.PARTS, "lamp": (700.0, 900.0), "damage": {"burst": (1000.0, 3000.0)}})
    assert parts.middle().failure("burst") == 800.0 + 60.0 + 120.0 + 720.0 + 2000.0
    assert parts.frame()["part"].to_list()[-1] == "damage burst"
    narrow = relamp.planned_age_interval(policy.DRAWS, policy.LIMIT)
    wide = relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=parts, seed=3)
    assert wide == relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=parts, seed=3)
    assert wide != narrow
    one = policy.compared(age_hours=150.0, other_age_hours=400.0, parts=parts, seed=3)
    assert one.first_costs_less + one.second_costs_less == pytest.approx(1.0)
    assert one.ages_hours == (150.0, 400.0)
    assert "of the draws" in one.sentence
    used = relamp.salvage(worth_of_new=300.0, gone_hours=2000.0)
    sure = relamp.cost_parts(**policy.PARTS, salvage=used)
    doubtful = relamp.cost_parts(**policy.PARTS, salvage=used, salvage_worth=(100.0, 500.0))
    assert doubtful.frame()["part"].to_list()[-1] == "salvage"
    assert doubtful.middle() == sure.middle()
    worths = [doubtful.drawn(seed=3, replicate=i).salvage.worth_of_new for i in range(200)]
    assert 100.0 <= min(worths) < 120.0 < 480.0 < max(worths) <= 500.0
    # A worth between is as likely as any other: its mean lies within 4.5 standard errors of the middle.
    assert sum(worths) / 200 == pytest.approx(300.0, abs=4.5 * 400.0 / math.sqrt(12 * 200))
    ages = [relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=p, seed=3) for p in (sure, doubtful)]
    assert ages[0] != ages[1]


def test_a_rate_known_to_a_range_is_discounted_draw_by_draw() -> None:
    """Each draw's discounted cost by sums over a fine grid, with its own life, prices and rate."""
    rates = (relamp.discount(rate_per_hour=1e-5), relamp.discount(rate_per_hour=4e-4))
    parts = relamp.cost_parts(**{**policy.PARTS, "lamp": (700.0, 900.0)}, discount=rates)
    assert parts.frame()["part"].to_list()[-1] == "discount"
    sure = relamp.cost_parts(**policy.PARTS)
    assert sure.middle().discount is None
    age = np.linspace(0.0, 400.0, 40_001)

    def cost(draw: int, planned: float) -> float:
        world, costs = policy.DRAWS.world(draw), parts.drawn(seed=3, replicate=draw)
        assert costs.discount is not None
        assert 1e-5 <= costs.discount.rate_per_hour <= 4e-4
        rows = world.frame()
        lives = [relamp.life(r["family"], shape=r["shape"], scale=r["scale"]) for r in rows.iter_rows(named=True)]
        t = age[age <= planned]
        worth = np.exp(-costs.discount.rate_per_hour * t) * np.prod([life.reliability(t) for life in lives], axis=0)
        fails = sum(
            np.trapezoid(costs.failure(name) * life.hazard(t[1:]) * worth[1:], t[1:])
            for name, life in zip(rows["ending"], lives, strict=True)
        )
        return float(1000.0 * (costs.planned * worth[-1] + fails) / np.trapezoid(worth, t))

    objective = relamp.discount(rate_per_hour=0.9)
    told = policy.compared(
        age_hours=150.0, other_age_hours=400.0, parts=parts, seed=3, objective=objective, level=1.0 - 1e-12
    )
    apart = [cost(i, 150.0) - cost(i, 400.0) for i in range(20)]
    assert told.difference_per_1000_hours == pytest.approx((min(apart), max(apart)), rel=1e-5)
    # A range of one rate is that rate; one that nothing asks for is refused.
    one = relamp.cost_parts(**policy.PARTS, discount=rates[1])
    same = {"seed": 3, "level": 0.9}
    own = relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=one, objective=objective, **same)
    assert own == relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=sure, objective=rates[1], **same)
    with pytest.raises(relamp.InputError, match="discount") as caught:
        relamp.planned_age_interval(policy.DRAWS, policy.LIMIT, parts=one, **same)
    assert caught.value.slug == "policy.discount_unused"
    for wrong in (0.05, (rates[1], 0.05), rates[::-1], (rates[0],)):
        with pytest.raises(relamp.InputError, match="discount"):
            relamp.cost_parts(**policy.PARTS, discount=wrong)


def test_bars_regret_and_endings_agree_with_planned_ages() -> None:
    costs = relamp.costs(1000.0, burst=6000.0)
    bars = relamp.cost_bars(world(costs), LIMIT, factor=1.5)
    frame = bars.frame()
    dearer = relamp.planned_age(world(relamp.costs(1000.0, burst=9000.0)), LIMIT)
    row = frame.filter((frame["cost"] == "burst") & (frame["factor"] == 1.5))
    assert row["age_hours"].to_list() == [dearer.age_hours]
    assert len(bars) * 2 == frame.height
    regret = relamp.least_regret(world(costs), LIMIT, least_factor=0.5, most_factor=2.0)
    low, high = regret.frame()["regret_percent"].to_list()
    assert low == pytest.approx(high, rel=0.05)
    assert regret.regret_percent == max(low, high)
    ends = relamp.endings_by_age(world(costs), LIMIT, ages_hours=[3000.0]).frame()
    assert ends["burst_per_1000_lamps"][0] == pytest.approx(1000.0 * LAW.cdf(3000.0), rel=1e-10)
    assert ends["planned_per_1000_lamps"][0] == pytest.approx(1000.0 * LAW.sf(3000.0), rel=1e-10)


def test_errors_name_the_argument_that_was_given() -> None:
    own = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet", limit_hours=2000.0, reason="a rule")
    burst = relamp.world({"burst": LIFE}, relamp.costs(1000.0, burst=6000.0))

    def refused(call: Any) -> list[tuple[str, str | None]]:
        with pytest.raises(relamp.RelampError) as caught:
            call()
        return [(p.input, p.column) for p in caught.value.problems]

    assert refused(lambda: relamp.least_regret(burst, LIMIT, least_factor=0.0)) == [("least_factor", None)]
    assert refused(lambda: relamp.least_regret(burst, LIMIT, least_factor=3.0)) == [("most_factor", None)]
    stages = refused(lambda: relamp.limit_stages(burst, own, stage_hours=0.0, most_share=2.0))
    assert stages == [("stage_hours", None), ("most_share", None)]
    fleet: dict[str, Any] = {"hours_per_week": 70.0, "limit": LIMIT, "seed": 1}
    assert refused(lambda: relamp.play_fleet(burst, [100.0], change="at_age", planned_age_hours=-1.0, **fleet)) == [
        ("planned_age_hours", None)
    ]
    assert refused(
        lambda: relamp.play_fleet(
            burst,
            [100.0],
            change="on_calendar",
            calendar_days=-1.0,
            calendar_first_day=0.0,
            calendar_from_hours=-2.0,
            visits_days=-3.0,
            **fleet,
        )
    ) == [("calendar_days", None), ("calendar_from_hours", None), ("visits_days", None)]
    for causes in ({"dim": LIFE}, [({"burst": 0.5, "dim": 0.5}, LIFE)]):
        assert refused(lambda causes=causes: relamp.world(causes, burst.costs)) == [("costs", "dim")]
    assert len(relamp.world([({"burst": 1.0, "dim": 0.0}, LIFE)], burst.costs).causes) == 1


def test_prices_by_name_share_an_age() -> None:
    today, dear = relamp.costs(1000.0, burst=6000.0), relamp.costs(1000.0, burst=12_000.0)
    found = relamp.price_scenarios(world(today), LIMIT, scenarios={"as today": today, "dear shows": dear})
    ages = {name: planned.age_hours for name, planned in found.planned.items()}
    assert ages["as today"] == relamp.planned_age(world(today), LIMIT).age_hours
    assert ages["dear shows"] <= found.least_regret_hours <= ages["as today"]
    frame = found.frame()
    assert frame.height == 8
    assert len(found) == 2
    own = frame.filter(frame["advice"] == frame["scenario"])
    assert max(own["regret_percent"].to_list()) < 0.01
    shared = frame.filter(frame["advice"] == "least regret")
    assert max(shared["regret_percent"].to_list()) == found.least_regret_percent
    with pytest.raises(relamp.InputError, match="weights"):
        relamp.price_scenarios(world(today), LIMIT, scenarios={"as today": today}, weights=[1.0, 2.0])
    with pytest.raises(relamp.InputError, match="Costs"):
        relamp.price_scenarios(world(today), LIMIT, scenarios={"as today": 5.0})


def test_short_dark_minutes_are_noted_and_ends_of_near_best_ages_told() -> None:
    assert [slug for slug, _ in relamp.dark_minutes(5.0, burst=100.0).notes] == ["terms.minutes_short"]
    assert relamp.dark_minutes(45.0, burst=100.0).notes == ()
    costs = relamp.costs(1000.0, burst=6000.0)
    planned = relamp.planned_age(world(costs), relamp.hour_limit(maximum_hours=500.0, source="invented"))
    assert planned.near_best_ends == (("exact", "at_limit"),)
    assert planned.frame()["near_best"][0].endswith(" to 500 h, cut at the limit")
    assert "cut at the limit" in planned.summary()


@pytest.mark.parametrize(
    ("shape", "bursts", "last", "samples"), [(2.5, 4.0, 1500.0, 30), (1.0, 10.0, 1500.0, 30), (4.0, 12.0, 2200.0, 40)]
)
def test_limits_from_draws_of_few_bursts_hold_the_truth(shape: float, bursts: float, last: float, samples: int) -> None:
    """Lamps with some bursts among many dim ones: a rate and a shape of wear that rest on few bursts are both open.

    To 2,200 h three lamps alone go, the others end between 800 and 1,500 h.
    """
    rng, lamps = np.random.default_rng(7), 150
    stops = np.full(lamps, last)
    if last > 2000.0:
        stops[3:] = rng.uniform(800.0, 1500.0, lamps - 3)
    scale = float(np.sum(stops**shape) / bursts) ** (1.0 / shape)
    age = np.linspace(0.0, last, 20_001)[1:]
    left = np.exp(-((age / scale) ** shape) - (age / 2500.0) ** 4)
    ends = (shape / scale) * (age / scale) ** (shape - 1.0)
    asked = {
        "most_before_age": 1.0 - 1e-9,
        "most_in_show": 1.0 - 1e-9,
        "show_hours": 2.5,
        "extrapolate_because": "a test",
    }
    truth = {
        hours: (np.trapezoid((ends * left)[age <= hours], age[age <= hours]), 2.5 * ends[age <= hours][-1])
        for hours in (500.0, last)
    }
    # No earlier change pays under it, so that the limit itself is judged.
    world = relamp.world({"dim": relamp.life("weibull", shape=1.0, scale=3000.0)}, relamp.costs(950.0, dim=5200.0))
    held, drawn = np.zeros((2, 2)), 0
    while drawn < samples:
        burst, dim = scale * rng.weibull(shape, lamps), 2500.0 * rng.weibull(4.0, lamps)
        low = np.minimum(np.minimum(burst, dim), stops)
        names = np.where(low == stops, "planned", np.where(burst < dim, "burst", "dim")).tolist()
        if "burst" not in names:
            continue
        high = [None if name == "planned" else hours for name, hours in zip(names, low.tolist(), strict=True)]
        tally = relamp.lives(low.tolist(), high, ending=names)
        draws = relamp.fit_causes(tally).draws(tally, policy.COSTS, n=40, seed=drawn)
        for place, (hours, true) in enumerate(truth.items()):
            limit = relamp.hour_limit(maximum_hours=hours, source="invented data sheet")
            capped = relamp.capped_age(world, limit, draws=draws, **asked)
            assert capped.age_hours == hours
            assert capped.before_age is not None
            assert capped.in_show is not None
            held[place] += [capped.before_age >= true[0], capped.in_show >= true[1] * (1.0 - 1e-3)]
        drawn += 1
    # 95 % at least, less three standard errors.
    assert held.min() >= samples * 0.95 - 3.0 * math.sqrt(samples * 0.95 * 0.05), held
