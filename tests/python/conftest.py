"""Fixtures that several test modules share."""

from __future__ import annotations

import atexit
import functools
import json
import tempfile
import warnings
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import arguments_places
import arguments_stock
import pytest
import relamp

DATA = Path(__file__).resolve().parents[1] / "data"


def quiet_fit(tally: relamp.Tally, **options: Any) -> relamp.Fit:
    """A fit of few lives, whose warning is tested elsewhere."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", relamp.WeakDataWarning)
        return relamp.fit(tally, **options)


@pytest.fixture(scope="session")
def hard_cases() -> dict[str, Any]:
    cases: dict[str, Any] = json.loads((DATA / "hard_cases_python.json").read_text(encoding="utf-8"))
    assert len(cases["cases"]) >= 6
    return cases


@pytest.fixture(scope="session")
def low(hard_cases: dict[str, Any]) -> list[float]:
    return list(hard_cases["base"]["low"])


@pytest.fixture(scope="session")
def high(hard_cases: dict[str, Any]) -> list[float | None]:
    return list(hard_cases["base"]["high"])


@pytest.fixture(scope="session")
def base(low: list[float], high: list[float | None]) -> relamp.Tally:
    return relamp.lives(low, high)


@pytest.fixture(scope="session")
def limit() -> relamp.HourLimit:
    return relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")


@pytest.fixture(scope="session")
def world() -> relamp.World:
    burst = relamp.life("weibull", shape=3.0, scale=4000.0)
    dim = relamp.life("lognormal", location=8.0, scale=0.3)
    return relamp.world({"burst": burst, "dim": dim}, relamp.costs(950.0, burst=5200.0, dim=1250.0))


def small_chain(planned_age_hours: float = 2000.0) -> relamp.ChainForecast:
    """Two screens of a chain over two months."""
    life = relamp.life("weibull", shape=3.0, scale=4000.0)
    world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    return relamp.chain_forecast(
        {"X": (world, planned_age_hours, limit)},
        lamp_class=["X", "X"],
        site=["<script>", "south"],
        age_hours=[100.0, None],
        hours_per_week=70.0,
        as_of="2026-01-01",
        months=2,
    )


def small_chain_play(**options: Any) -> relamp.PlayedChain:
    """Two screens of a chain with their stock over two months."""
    life = relamp.life("weibull", shape=3.0, scale=4000.0)
    world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
    limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    lamps: dict[str, Any] = {"site": ["<script>", "south"], "age_hours": [100.0, None], "hours_per_week": 70.0}
    supply: dict[str, Any] = {"on_hand": 1, "base_stock": 1, "lead_time_days": 20.0, "costs": relamp.stock_costs(800.0)}
    given = {**lamps, **supply, "as_of": "2026-01-01", "months": 2, "planned_age_hours": 2000.0, "seed": 1}
    return relamp.play_chain(world, **{"limit": limit, "replicates": 5, **given, **options})


def small_wave() -> relamp.PolicyWave:
    return relamp.policy_wave(small_chain(), small_chain(1500.0))[0]


@pytest.fixture(scope="session")
def results(
    base: relamp.Tally, world: relamp.World, limit: relamp.HourLimit, low: list[float], high: list[float | None]
) -> dict[str, Any]:
    """One object of every result class, by its class name."""
    endings = ["burst" if h is not None else "running" for h in high]
    made = [
        base,
        relamp.product_limit(base),
        relamp.product_limit(base).restricted_mean_interval(1000.0),
        relamp.self_consistent(relamp.lives(low, high)),
        relamp.rank_test({"<script>": base, "B": relamp.lives([500.0, 700.0, 900.0])}),
        relamp.ending_bounds(suspect_lives(low, high), suspects=["unknown"], age_hours=900.0),
        relamp.incidence_bounds(suspect_lives(low, high), cause="burst", suspects=["unknown"], age_hours=900.0),
        relamp.incidence(relamp.lives(low, high, ending=endings)),
        quiet_fit(base),
        relamp.life("lognormal", location=7.0, scale=0.4),
        relamp.costs(950.0, burst=5200.0),
        limit,
        relamp.planned_age(world, limit, todays_rule_hours=2000.0),
        relamp.cost_curve(world, limit),
        relamp.Count.poisson(3.0),
        relamp.forecast(world, [100.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit),
        small_chain(),
        small_wave(),
        relamp.stock_level(relamp.Count.poisson(3.0), service_target=0.95),
        small_play(world, limit),
        small_chain_play(),
        read_small_log(),
    ]
    many = relamp.lives([100.0 + 7.0 * i for i in range(60)], ending=["burst"] * 30 + ["dim"] * 30)
    fits = relamp.fit_causes(many)
    draws = fits.draws(many, relamp.costs(950.0, burst=5200.0, dim=1250.0), n=20, seed=1)
    wear = relamp.life("weibull", shape=3.0, scale=900.0)
    study = small_study()
    answers = study.run()
    made += [
        relamp.fit(many).wald(b_life=10.0),
        relamp.bootstrap(many, replicates=10, seed=1),
        relamp.fit(many).check(many),
        fits,
        relamp.planned_age_interval(draws, limit, todays_rule_hours=300.0),
        relamp.life_bars(draws, limit),
        relamp.records_value(draws, limit, [100.0, 250.0], hours_per_week=70.0, days=30.0, seed=1),
        relamp.compare_ages(draws, limit, age_hours=200.0, other_age_hours=300.0),
        answers,
        answers.results,
        answers.results.classes[0],
        study,
        world,
        draws,
        base.table(),
        relamp.fit_known_shape(many, shape=2.0),
        relamp.plotting_positions(many),
        relamp.rank_regression(many),
        relamp.fit(many).corrected_shape(many),
        relamp.probability_plot(relamp.product_limit(many)),
        relamp.compare_fits(many, fits=[relamp.fit(many), relamp.fit(many, family="lognormal")]),
        relamp.expected_changes(wear, [500.0, 4000.0], planned_age_hours=800.0),
        relamp.change_counts(wear, 4000.0, first_age_hours=300.0),
        relamp.failures_ahead(relamp.bootstrap(many, replicates=10, seed=1), age_hours=[100.0], ahead_hours=50.0),
        relamp.likelihood_ratio(many, narrow=relamp.fit(many, family="exponential"), wide=relamp.fit(many)),
        relamp.distance_test(many, replicates=99, seed=1),
        relamp.fit(many).profile_curve(many, parameter="shape", points=11),
        relamp.fit(many).region(many),
        relamp.posterior(many, draws=5, seed=1),
        relamp.residuals(relamp.fit(many), many),
        relamp.within_window(relamp.fit(many), upper_hours=600.0, ages=[200.0, 400.0]),
        relamp.phases(many, replicates=99, seed=1),
        relamp.family_verdict(many, fits=[relamp.fit(many), relamp.fit(many, family="lognormal")], age_hours=300.0),
    ]
    screens = small_sockets()
    made += [
        screens,
        relamp.recurrence(screens),
        relamp.recurrence_difference(screens, more_in="North", than_in="South"),
        relamp.recurrence_test(screens),
        relamp.trend(screens),
        relamp.power_law(screens),
        relamp.power_law_distance(screens, replicates=20, seed=1),
    ]
    watched = relamp.expected_endings(read_small_log(), small_models())
    made += [watched, relamp.watch(watched), *replayed_results(limit)]
    lamps = relamp.lives([100.0 + 7.0 * i for i in range(60)], covariates={"site": ["a", "b", "b"] * 20})
    hazards = relamp.proportional_hazards(lamps, terms=["site"])
    made += [
        relamp.fit_covariates(lamps, terms=["site"]),
        hazards,
        hazards.residuals(lamps),
        hazards.proportionality(lamps),
    ]
    pulled = pulled_lives()
    dial = relamp.removal_dial(pulled, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
    lives, pieces = raised_currents()
    made += [
        relamp.dependent_curve(pulled, suspects=["dim"], tau=0.5),
        relamp.removal_bounds(pulled, suspects=["dim"], age_hours=900.0),
        dial,
        dial.b_life(10.0, from_tau=0.5, to_tau=0.8),
        dial.turn(relamp.costs(950.0, burst=5200.0), relamp.hour_limit(maximum_hours=4000.0, source="invented")),
        relamp.two_clocks(struck_lives(), strikes_per_hour="rate"),
        relamp.fit_current_history(lives, pieces),
    ]
    sites = relamp.lives(
        [100.0 + 7.0 * i for i in range(60)], ending=["dim"] * 60, covariates={"site": [*"abcde", "<script>"] * 10}
    )
    pair = relamp.compare_pair(sites, by="site", group="<script>", other="a", replicates=100, seed=1)
    costs = relamp.costs(950.0, dim=1250.0)
    given = {"costs": costs, "other_costs": costs, "limit": limit, "other_limit": limit}
    made += [
        relamp.pool_groups(sites, by="site", draws=500, seed=1),
        *money_results(world, limit),
        *claim_results(world, limit),
        *arguments_places.results(),
        *arguments_stock.results(),
        pair,
        relamp.compare_pair_costs(pair, **given, common_age_hours=300.0),
    ]
    return {type(m).__name__: m for m in made}


def claim_results(world: relamp.World, limit: relamp.HourLimit) -> list[Any]:
    """A warranty with its limits, claims, and a stock count."""
    warranty = relamp.warranty(form="pro_rata", price=780.0, hours=2000.0, endings=["burst"])
    cover = relamp.cover(warranty, months=24, months_from="fitting", most_strikes=900)
    terms = relamp.claim_terms(cover, needed=["photo"], chance=0.8, handling_cost=60.0, days_to_file=30)
    lamps = {
        "serial": ["<script>", "B"],
        "ending": ["burst", "planned"],
        "age_hours": [500.0, 900.0],
        "strikes": [300, 500],
        "fitted_on": ["2025-06-01", "2025-06-01"],
        "ended_on": ["2026-01-20", "2026-01-20"],
    }
    count = {
        "lamp_class": ["2 kW", "2 kW"],
        "place": ["<script>", "Depot"],
        "on_hand": [4, None],
        "on_order": [2, None],
        "due_on": ["2026-02-20", None],
        "serial": [None, "U1"],
        "age_hours": [None, 900.0],
        "ending": [None, "moved"],
    }
    return [
        cover,
        terms,
        relamp.claim_list(lamps, terms, as_of="2026-01-31"),
        relamp.claims_ahead(
            world,
            [300.0],
            hours_per_week=70.0,
            cover=cover,
            planned_age_hours=1500.0,
            limit=limit,
            as_of="2026-01-31",
            fitted_on=["2025-06-01"],
        ),
        relamp.stock_count(count, counted_on="2026-01-31"),
    ]


def money_results(world: relamp.World, limit: relamp.HourLimit) -> list[Any]:
    """A warranty and its worth, dark time, a discount, and an age under caps."""
    warranty = relamp.warranty(form="pro_rata", price=780.0, hours=2000.0, endings=["burst"])
    costs = relamp.costs(950.0, burst=5200.0).with_warranty(warranty)
    backed = relamp.world({"burst": relamp.life("weibull", shape=3.0, scale=4000.0)}, costs)
    records = relamp.lives([2000.0], [None], ending=["planned"], count=[500])
    return [
        warranty,
        relamp.salvage(worth_of_new=400.0, gone_hours=2000.0, least_hours_left=500.0),
        relamp.warranty_value(backed, limit, age_hours=1800.0),
        relamp.limit_stages(
            world,
            relamp.hour_limit(
                maximum_hours=2500.0, source="invented", limit_hours=2000.0, reason="a rule of the chain"
            ),
            stage_hours=300.0,
            most_share=0.05,
        ),
        relamp.best_visit_age(world, limit, age_hours=1800.0, mean_hours_between_visits=300.0, visit_cost=80.0),
        relamp.visit_rule_cost(
            world, limit, visit_age_hours=900.0, age_hours=1800.0, mean_hours_between_visits=300.0, visit_cost=80.0
        ),
        relamp.dark_minutes(45.0, burst=360.0),
        relamp.discount(rate_per_year=0.05, hours_per_year=4000.0),
        relamp.capped_age(world, limit, records=records, most_before_age=0.002, most_in_show=0.0001, show_hours=2.2),
        relamp.cost_parts(
            lamp=(700.0, 900.0),
            labour=60.0,
            visit=120.0,
            visit_share=0.25,
            dark_minute=(1.0, 3.0),
            dark=relamp.dark_minutes(45.0, burst=360.0, dim=90.0),
        ),
        relamp.least_regret(world, limit, least_factor=0.9, most_factor=5.0),
        relamp.cost_bars(world, limit, factor=1.5),
        relamp.price_scenarios(
            world,
            limit,
            scenarios={
                "as today": relamp.costs(950.0, burst=5200.0, dim=1250.0),
                "dear shows": relamp.costs(950.0, burst=9800.0, dim=2400.0),
            },
            weights=[2.0, 1.0],
        ),
        relamp.endings_by_age(world, limit, ages_hours=[500.0, 1500.0]),
        relamp.horizon_costs(world, limit, horizon_hours=5000.0, ages_hours=[1500.0, 2500.0]),
        relamp.horizon_age(world, limit, horizon_hours=5000.0, first_age_hours=300.0),
        relamp.block_costs(world, limit, every_hours=[1500.0, 3000.0]),
        relamp.block_interval(world, limit, block_cost=400.0),
        relamp.site_costs(world, limit, lamps=3, visit_cost=120.0, ages_hours=[900.0, 1500.0]),
        relamp.site_age(world, limit, lamps=3, visit_cost=120.0),
    ]


def pulled_lives() -> relamp.Tally:
    """Forty invented lamps, every other of which was pulled because it looked about to fail."""
    low = [200.0 + 60.0 * i for i in range(40)]
    return relamp.lives(low, [a if i % 2 == 0 else None for i, a in enumerate(low)], ending=["burst", "dim"] * 20)


def struck_lives() -> relamp.Tally:
    """Twenty invented lamps to which a strike is worth 2 h."""
    rate = [0.1, 0.5] * 10
    low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
    return relamp.lives(low, covariates={"rate": rate})


def raised_currents() -> tuple[dict[str, Any], dict[str, Any]]:
    """Twenty-four invented lamps that burned 500 h at 70 A, and then at a current of their own."""
    current = [75.0, 90.0] * 12
    low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
    life = [f"lamp {i}" for i in range(24)]
    pieces = {
        "life": life * 2,
        "from_hours": [0.0] * 24 + [500.0] * 24,
        "to_hours": [500.0] * 24 + low,
        "current": [70.0] * 24 + current,
    }
    return {"life": life, "low": low, "high": low}, pieces


def small_sockets() -> relamp.Sockets:
    """Four invented screens of two sites."""
    failures = [[900.0, 2100.0, 4100.0], [1500.0], [4000.0], []]
    return relamp.sockets([5000.0] * 4, failures, group=["North", "North", "South", "South"])


def suspect_lives(low: list[float], high: list[float | None]) -> relamp.Tally:
    """Lives whose censored ones ended for a reason unknown."""
    return relamp.lives(low, high, ending=["burst" if h is not None else "unknown" for h in high])


# Of each way to change lamps, the numbers that it takes.
PLAYS: dict[str, dict[str, Any]] = {
    "at_age_or_visit": {"planned_age_hours": 1000.0, "visit_age_hours": 500.0},
    "on_calendar": {"calendar_days": 90.0, "calendar_first_day": 30.0, "calendar_from_hours": 10.0},
}

PLAY_DAYS = (*PLAYS["on_calendar"], "visits_days", "visits_first_day", "visits_mean_days")


def small_play(world: relamp.World, limit: relamp.HourLimit, **options: Any) -> relamp.PlayedFleet:
    """Two invented screens of one site, played a few times."""
    given: dict[str, Any] = {"hours_per_week": 70.0, "change": "at_age", "seed": 1, "replicates": 5, "periods": 2}
    if options.keys() & {"change", *PLAYS["at_age_or_visit"], *PLAYS["on_calendar"]} == set():
        given["planned_age_hours"] = 1990.0
    return relamp.play_fleet(world, [100.0, None], limit=limit, sites=["S", "<script>"], **{**given, **options})


def play_cases(*names: str) -> dict[str, tuple[str, Any]]:
    """Arguments of `play_fleet` by name, each with a call that is right but for it."""
    world = relamp.world({"burst": small_models()["2 kW"]}, relamp.costs(1.0, burst=5.0))
    limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")

    def call(name: str, value: Any) -> relamp.PlayedFleet:
        change = next((change for change, takes in PLAYS.items() if name in takes), "at_failure")
        given: dict[str, Any] = {"hours_per_week": 70.0, "change": change, "seed": 1, "periods": 1, "replicates": 1}
        given |= PLAYS.get(change, {})
        if name == "visits_first_day":
            given["visits_days"] = 30.0
        return relamp.play_fleet(world, [1.0], limit=limit, **{**given, name: value})

    return {f"play_fleet {name}": (name, lambda x, name=name: call(name, x)) for name in names}


def played_cases() -> dict[str, tuple[str, Any]]:
    """Whole numbers of `play_fleet` and of the methods of what it gives."""
    world = relamp.world({"burst": small_models()["2 kW"]}, relamp.costs(1.0, burst=5.0))
    played = small_play(world, relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet"))
    methods = {"needed": played.needed, "needed_by_end": played.needed_by_end}
    cases = {f"PlayedFleet.{name} period": ("period", method) for name, method in methods.items()}
    return {**cases, **play_cases("periods", "replicates", "seed")}


def small_models() -> dict[str, relamp.Life]:
    """An invented life for the class of the small log."""
    return {"2 kW": relamp.life("weibull", shape=3.0, scale=3000.0)}


def read_small_log(**changes: Any) -> relamp.Reading:
    """Two invented lamps from columns in memory."""
    table: dict[str, Any] = {
        "serial": ["A1", "A2"],
        "class": ["2 kW", "2 kW"],
        "site": ["S", "<script>"],
        "screen": ["1", "2"],
        "in": ["2025-01-01", "2025-01-01"],
        "out": ["2025-06-01", None],
        "why": ["popped", None],
        "hours": [900.0, 1100.0],
        "read": [None, "2025-12-20"],
    }
    table.update(changes)
    columns = {
        "serial": "serial",
        "lamp_class": "class",
        "site": "site",
        "screen": "screen",
        "fitted_on": "in",
        "removed_on": "out",
        "reason": "why",
        "hours": "hours",
        "read_on": "read",
    }
    return relamp.read_table(
        table,
        columns=columns,
        exported_on="2025-12-28",
        reasons={"popped": "burst", "due": "planned"},
        dates="iso",
        blank_hours_at_fitting="new",
    )


def read_many() -> relamp.Reading:
    """Sixty invented lamps of one class over three years, half of them changed on plan at 1,200 h."""
    start = date(2022, 1, 1)
    fitted = [start + timedelta(days=10 * i) for i in range(60)]
    hours = [1200.0 if i % 2 else 300.0 + 14.0 * i for i in range(60)]
    days = [timedelta(days=round(h / 10.0)) for h in hours]
    return read_small_log(
        serial=[f"L{i}" for i in range(60)],
        site=["S"] * 60,
        screen=[str(i) for i in range(60)],
        why=["due" if i % 2 else "popped" for i in range(60)],
        hours=hours,
        read=[None] * 60,
        out=[str(d + n) for d, n in zip(fitted, days, strict=True)],
        **{"class": ["2 kW"] * 60, "in": [str(d) for d in fitted]},
    )


def replayed_results(limit: relamp.HourLimit) -> list[Any]:
    """An earlier age and predictions on the same history."""
    costs = relamp.costs(950.0, burst=5200.0)
    many = read_many()
    return [
        relamp.replay_age(many, costs, limit, planned_age_hours=900.0, replicates=50),
        relamp.replay_predictions(many, window_days=182, draws=20, min_failures=5),
    ]


@functools.cache
def small_study() -> relamp.Study:
    """The smallest study: the two lamps of `read_small_log` in a file."""
    folder = tempfile.TemporaryDirectory()
    atexit.register(folder.cleanup)
    log = "serial,class,site,screen,in,out,why,hours,read\n"
    log += "A1,2 kW,S,1,2025-01-01,2025-06-01,popped,900,\nA2,2 kW,<script>,2,2025-01-01,,,1100,2025-12-20\n"
    Path(folder.name, "log.csv").write_text(log, encoding="utf-8")
    Path(folder.name, "study.toml").write_text(STUDY, encoding="utf-8")
    return relamp.Study.open(Path(folder.name, "study.toml"))


STUDY = """
format = 1
[study]
name = "Two lamps (invented)"
as_of = 2025-12-28
currency = "EUR"
seed = 1
draws = 20
[chain]
show_minutes = 130
visit_interval_days = 28
forecast_months = 2
service_target = 0.95
hours_per_week = 72.0
[[log]]
file = "log.csv"
dates = "iso"
exported_on = "2025-12-28"
blank_hours_at_fitting = "new"
[log.columns]
serial = "serial"
lamp_class = "class"
site = "site"
screen = "screen"
fitted_on = "in"
removed_on = "out"
reason = "why"
hours = "hours"
read_on = "read"
[reasons]
popped = "burst"
[[class]]
name = "2 kW"
maximum_hours = 2000.0
hours_source = "invented data sheet"
price = 780.0
lead_time_days = 21
todays_rule_hours = 1800.0
on_hand = 1
on_order = 0
[class.costs]
planned = 950.0
burst = 5200.0
seal = 1900.0
no_strike = 1900.0
flicker = 1500.0
dim = 1250.0
"""
