"""Every public class has all the forms of a result, and a saved form that was changed by hand is refused by name."""

from __future__ import annotations

import copy
import inspect
import json
import pickle
from pathlib import Path
from typing import Any

import demo
import pytest
import relamp
from conftest import small_study

FORMS = (
    "summary",
    "_repr_html_",
    "to_json",
    "from_json",
    "to_dict",
    "save",
    "load",
    "table",
    "frame",
    "__arrow_c_stream__",
    "__reduce__",
)


def result_classes() -> dict[str, type]:
    classes = {n: getattr(relamp, n) for n in relamp.__all__ if inspect.isclass(getattr(relamp, n))}
    return {n: c for n, c in classes.items() if not issubclass(c, Exception | relamp.Problem)}


def test_every_public_class_has_every_form(results: dict[str, Any]) -> None:
    classes = result_classes()
    assert len(classes) >= 34
    for name, cls in classes.items():
        missing = [form for form in FORMS if not hasattr(cls, form)]
        assert not missing, f"{name} lacks {missing}"
        assert vars(cls).get("__eq__"), f"{name} compares by identity"
        assert vars(cls)["__hash__"] is None, f"{name} compares by value and must not hash by identity"
    assert set(results) == set(classes), "one object of every class belongs into the fixture `results`"


def test_attributes_cannot_be_set_or_deleted(results: dict[str, Any]) -> None:
    seen = 0
    for name, result in results.items():
        for attribute in [a for a in dir(result) if not a.startswith("_")]:
            seen += 1
            with pytest.raises(AttributeError):
                setattr(result, attribute, None)
            with pytest.raises(AttributeError):
                delattr(result, attribute)
        assert not hasattr(result, "__dict__"), name
    assert seen > 500


def test_an_equal_object_is_equal_and_another_is_not(results: dict[str, Any]) -> None:
    for name, result in results.items():
        assert result == type(result).from_json(result.to_json()), name
        assert result != object()
        others = [other for other in results.values() if other is not result]
        assert all(result != other for other in others), name
    assert relamp.life("exponential", scale=1.0) != relamp.life("exponential", scale=2.0)


ERRORS = [n for n in relamp.__all__ if n.endswith("Error")]


@pytest.mark.parametrize("name", ERRORS)
def test_errors_travel_with_their_problems(name: str) -> None:
    problem = relamp.Problem("lives.age_negative", "an age below 0", "lives", 3, None, "low", "-1", "at least 0")
    error = getattr(relamp, name)("lives, row 3: an age below 0", [problem], "look again")
    for again in (pickle.loads(pickle.dumps(error)), copy.deepcopy(error)):
        assert type(again) is type(error)
        assert (str(again), again.problems, again.slug, again.hint) == (
            "lives, row 3: an age below 0",
            [problem],
            "lives.age_negative",
            "look again",
        )
    assert name in repr(error)


# Class, path in the body, a value that breaks a rule, and the field the error names.
RARE = {"ending": "seal", "seen": 0, "lamps": 60, "at_most_per_1000_lamps": 1.0, "at_most_cost_per_hour": None}

TAMPERED: list[tuple[str, str, Any, str]] = [
    ("Tally", "count.0", 2.5, "count[0]"),
    ("Tally", "high.0", 100.0, ""),
    ("Curve", "reliability.1", 1.2, "reliability[1]"),
    ("Curve", "ages.1", 1.0, "ages"),
    ("Curve", "failures.0", 999, "failures"),
    ("Curve", "level", 1.0, "level"),
    ("Incidence", "causes.0.incidence.0", 0.3, "reliability[0]"),
    ("Sockets", "0.to", -1.0, ""),
    ("Recurrence", "mean.0", 0.9, "mean[0]"),
    ("RecurrenceDifference", "standard_error.0", -1.0, "standard_error[0]"),
    ("RecurrenceTest", "p_value", 0.9, "p_value"),
    ("Trend", "centroid.p_value", 0.001, "centroid.p_value"),
    ("PowerLaw", "scale", 1.0, "scale"),
    ("PowerLawDistance", "p_value", 1.5, "p_value"),
    ("ExpectedEndings", "months.0.expected", -1.0, "months[0].expected"),
    ("Watch", "bound", 0.1, "bound"),
    ("ReplayedAge", "saving_per_hour", 9.0, "saving_per_hour"),
    ("ReplayedAge", "hours_from_model", 9.0, "hours_from_model"),
    ("PredictionReplay", "p_value", 0.5, "p_value"),
    ("PredictionReplay", "windows.0.observed", 99999, "windows[0].observed"),
    ("Watch", "expected.months.0.observed", 9, "charts[0]"),
    ("Fit", "parameters.0", 7.0, "parameters[0]"),
    ("Fit", "family", "square", "family"),
    ("Fit", "covariance", [1.0], "covariance"),
    ("Fit", "facts.failures", 7, "facts.lamps"),
    ("Life", "parameters.1", -1.0, "parameters"),
    ("Life", "parameters", [1.0], "parameters"),
    ("Life", "family", "square", "family"),
    ("Costs", "planned", -1.0, ""),
    ("HourLimit", "hours", 9000.0, ""),
    ("PlannedAge", "age_hours", 2501.0, "age_hours"),
    ("PlannedAge", "age_hours", 1800.5, "age_hours"),
    ("PlannedAge", "limit_hours", 2600.0, "ceiling_hours"),
    ("PlannedAge", "oldest_at_risk_hours", 1.0, "past_records"),
    ("PlannedAge", "near_best.0.to_hours", 2600.0, "near_best[0].to_hours"),
    ("PlannedAge", "todays_rule.age_hours", 2600.0, "todays_rule.age_hours"),
    ("PlannedAge", "cost.failure_probability", -0.1, "cost.failure_probability"),
    ("PlannedAge", "optimum_hours", 2600.0, "optimum_hours"),
    ("CostCurve", "0.cost_per_hour", 1.0, "[0].cost_per_hour"),
    ("CostCurve", "1.mean_age_at_change_hours", 1e6, "[1].mean_age_at_change_hours"),
    ("Count", "probabilities.0", 0.9, ""),
    ("Forecast", "due_now", 3, "due_now"),
    ("Forecast", "period_days", -1.0, "period_days"),
    ("ChainForecast", "places.0.due_now", 9, "places[0].due_now"),
    ("ChainForecast", "places.1.class", "Z", "places[1].class"),
    ("ChainForecast", "places.0.months.0.process_sd", 9.0, "places[0].months[0].process_sd"),
    ("ChainForecast", "places.0.months.1.from", "2026-02-02", "places[0].months[1].from"),
    ("ChainForecast", "classes.0.step_hours", 0.0, "classes[0].step_hours"),
    ("PolicyWave", "passed", "2027-01-31", "passed"),
    ("PolicyWave", "months.0.one_off", 99.0, "months[0].one_off"),
    ("PlayedChain", "months.0.planned.mean", 9.0, "months[0].needed"),
    ("PlayedChain", "places.0.fill_rate.mean", 2.0, "places[0].fill_rate"),
    ("PlayedChain", "costs.total.mean", 1.0, "costs.total"),
    ("PlayedFleet", "due_now", 9, "due_now"),
    ("PlayedFleet", "rule.at_age.age_hours", 9000.0, "rule.age_hours"),
    ("PurchaseList", "order_lamps", 99, "order_lamps"),
    ("StockAdvice", "order", 5, "order"),
    ("LeadDemand", "review_days", -1.0, "review_days"),
    ("LeadDemand", "protected", {"first": 0, "probabilities": [1.0]}, "protected"),
    ("StockCosts", "per_order", -1.0, "per_order"),
    ("StockCosts", "prices.0.from_lamps", 2, "prices[0].from_lamps"),
    ("StockService", "fill_rate", 1.5, "fill_rate"),
    ("StockService", "rule.quantity", 0, "rule.quantity"),
    ("StockService", "mean_wait_days", 99.0, "mean_wait_days"),
    ("StockPlan", "best.total", 1.0, "best.total"),
    ("StockPlan", "sentence", "hold none", "sentence"),
    ("DatedStock", "safety_stock", 99, "safety_stock"),
    ("DatedStock", "held_for_nothing", 99, "held_for_nothing"),
    ("ShelfAge", "expired_chance", 1.5, "expired_chance"),
    ("EmergencyPlan", "best.service.emergency_share", 1.5, "best.service.emergency_share"),
    ("PoissonShortcut", "stock_error", 9, "stock_error"),
    ("StockAdvice", "service_today", 1.5, "service_today"),
    ("Reading", "ledger.counts.used", 1, "ledger.counts.rows"),
    ("Reading", "lives.0.spells", [9], "lives[0].spells"),
    ("Reading", "lives.0.ending", "planned", "lives[0].ending"),
    ("Reading", "lives.0.end_hours", 901.0, "lives[0].end_hours"),
    ("Reading", "lives", [], "lives"),
    ("Reading", "spells.0.ending", "dim", "lives[0].ending"),
    ("Reading", "spells.0.ending", "running", "spells[0].ending"),
    ("Reading", "spells.0.file", "other.csv", "spells[0].file"),
    ("Reading", "disputed_count", 1, "disputed_count"),
    ("Reading", "spells.0.end_hours", -1.0, "spells[0].end_hours"),
    ("Reading", "spells.0.removed_on", "1999-01-01", "spells[0].removed_on"),
    ("Reading", "spells.0.end_hours", 1e6, "spells[0].end_hours"),
    ("ClassResult", "stock.sentence", "hold 1 lamp", "stock.sentence"),
    ("ClassResult", "warnings", ["all is well"], "warnings"),
    ("StudyResults", "classes.0.due.reach_limit_soon_lamps_count", 99, "classes[0].due.reach_limit_soon_lamps_count"),
    ("StockAdvice", "sentence", "hold 1 lamp", "sentence"),
    ("LastBuy", "buy", 77, "buy"),
    ("LastBuy", "held.shortage_chance", 0.5, "held.shortage_chance"),
    ("LastBuy", "terms.shelf_loss_per_year", 1.0, "terms"),
    ("LastBuy", "ratio", 0.5, "ratio"),
    ("LastBuy", "sentence", "buy 1 lamp", "sentence"),
    ("Places", "sites.1.local_share", 1.5, "sites[1].local_share"),
    ("Places", "maker_days", None, "maker_days"),
    ("PlacesService", "lamps", 9, "lamps"),
    ("PlacesService", "sites.0.fill_rate", 1.5, "sites[0].fill_rate"),
    ("Pooling", "lamps_saved", 3, "lamps_saved"),
    ("ClassCurve", "points.2.depot", 5, "points[2].lamps"),
    ("ClassCurve", "points.2.shortfall", 9.0, "points[2]"),
    ("StockMix", "cost", 1.0, "cost"),
    ("Interval", "low", 1000.0, "high"),
    ("Interval", "level", 95.0, "level"),
    ("Bootstrap", "replicates", 11, "replicates"),
    ("Bootstrap", "coordinates.0", [1.0], "coordinates[0]"),
    ("FitCheck", "p_value", 0.001, "misfit"),
    ("CauseFits", "causes.0.endings.0.1", 0.5, "causes[0].endings"),
    ("Warranty", "hours", 0.5, ""),
    ("Salvage", "worth_of_new", -1.0, ""),
    ("RecordsValue", "share_changed", 1.5, "share_changed"),
    ("RecordsValue", "saving_per_hour", 1e9, "saving_per_hour"),
    ("Warranty", "end_hours", 2001.0, ""),
    ("LimitPlan", "maker_hours", 10.0, "stages"),
    ("VisitAge", "visit_age_hours", 1.0, "visit_age_hours"),
    ("VisitCost", "at_visit", 0.01, "at_visit"),
    ("WarrantyValue", "failures_in_a_row_mean", 7.0, "failures_in_a_row_mean"),
    ("Cover", "months", 601, "months"),
    ("Cover", "most_strikes", 0, "most_strikes"),
    ("Cover", "from", None, "from"),
    ("ClaimTerms", "chance", 1.5, "chance"),
    ("ClaimTerms", "handling_cost", -1.0, "handling_cost"),
    ("ClaimTerms", "needed", ["photo", "photo"], "needed"),
    ("ClaimList", "claims.0.due.amount", -1.0, "claims[0].due.amount"),
    ("ClaimList", "claims.0.standing", "late", "claims[0].standing"),
    ("ClaimList", "claims.0.lamp.age_hours", -1.0, "claims[0].lamp.age_hours"),
    ("ClaimsAhead", "under_cover", 99, "under_cover"),
    ("ClaimsAhead", "mean_money", -1.0, "mean_money"),
    ("StockCount", "ledger.counts.used", 7, "ledger.counts.rows"),
    ("StockCount", "used_lamps.0.age_hours", -1.0, "used_lamps[0].age_hours"),
    ("StockCount", "on_order.0.lamps", 0, "on_order[0].lamps"),
    ("DarkMinutes", "planned", 0.0, ""),
    ("Discount", "rate_per_hour", -1.0, ""),
    ("CappedAge", "age_hours", 2501.0, "age_hours"),
    ("CappedAge", "verdict", "caps_met", "verdict"),
    ("CappedAge", "caps.most_before_age", 0.0001, "lines[0].advised"),
    ("CappedAge", "lines.0.advised.in_show", -0.1, "lines[0].advised.in_show"),
    ("CostParts", "lamp.low", 901.0, ""),
    ("AgeComparison", "first_costs_less", 0.333, "first_costs_less"),
    ("LeastRegret", "regret_percent", 77.0, "regret_percent"),
    ("CostBars", "bars.0.ends.0.age_hours", 2501.0, "bars[0].ends[0].age_hours"),
    ("PriceScenarios", "least_regret.age_hours", 9000.0, "least_regret.age_hours"),
    ("PriceScenarios", "least_mean_cost_per_hour", 9.0, "least_mean_cost_per_hour"),
    ("DialTurn", "tau", 0.9, "tau"),
    ("LifeBars", "bars.0.interval.age_hours.high", 1e6, "bars[0].interval.age_hours.high"),
    ("HorizonCosts", "0.cost", 1.0, "[0].cost"),
    ("HorizonAge", "age_hours", 2501.0, "age_hours"),
    ("HorizonAge", "verdict", "no_planned_change", "verdict"),
    ("HorizonAge", "ceiling_hours", 3000.0, "ceiling_hours"),
    ("BlockInterval", "ceiling_hours", 3000.0, "ceiling_hours"),
    ("SiteAge", "ceiling_hours", 3000.0, "ceiling_hours"),
    ("SiteAge", "terms.lamps", 0, "terms.lamps"),
    ("SiteAge", "verdict", "together_pays", "verdict"),
    ("SiteCosts", "1.cost_per_hour", 9.0, "[1].cost_per_hour"),
    ("VisitAge", "ceiling_hours", 3000.0, "ceiling_hours"),
    ("AgeInterval", "share_at_records_end", 0.333, "share_at_records_end"),
    ("ReplayedAge", "rare", [RARE], "rare[0].at_most_per_1000_lamps"),
    ("PlannedAge", "near_best.0.from_end", "at_limit", "near_best[0].from_end"),
    ("BlockCosts", "1.alone", -1.0, "[1].alone"),
    ("BlockInterval", "advice.alone_cost_per_hour", 9.0, "advice.cost_per_hour"),
    ("BlockInterval", "optimum_cost_per_hour", 9.0, "optimum_cost_per_hour"),
    ("EndingsByAge", "0.planned_per_1000", 1.0, "[0].planned_per_1000"),
    ("CappedAge", "bands.0.to_hours", 9000.0, "bands[0].to_hours"),
    ("AgeInterval", "age_hours.low", 1e4, "age_hours"),
    ("AgeInterval", "share_at_limit", -1.0, "share_at_limit"),
    ("StudyOutput", "evidence.inputs.0.sha256", "0", "evidence.inputs[0].sha256"),
    ("StudyOutput", "results.classes.0.advised_age_hours", 2001.0, "results.classes[0].advised_age_hours"),
    ("StudyResults", "ledger.used_count", 1, "ledger.rows_count"),
    ("StudyResults", "classes.0.policy.cost_curve.0.age_hours", 1e6, "classes[0].policy.cost_curve[0].age_hours"),
    ("ClassResult", "advised_age_hours", 2001.0, "advised_age_hours"),
    ("ClassResult", "policy.planned_age_interval_hours.high", 2002.0, "policy.planned_age_interval_hours.high"),
    ("ClassResult", "stock.order_lamps", 77, "stock.order_lamps"),
    ("Study", "options.draws", -1, "options.draws"),
    ("HazardResiduals", "rows.0.passed", -1.0, "rows[0].passed"),
    ("HazardResiduals", "points.0.low", 9.0, "points[0].high"),
    ("WindowedLife", "shares.0.share", 1.5, "shares[0].share"),
    ("WindowedLife", "shares.0.age", 700.0, "shares[0].age"),
    ("World", "causes.0.life.parameters", [1.0, -1.0], "causes[0].life.parameters"),
    ("World", "causes.0.endings.0.1", -1.0, "causes[0].endings[0]"),
    ("Draws", "replicates.0.settled.0.x", [1.0], "replicates[0].settled[0].x"),
    ("Draws", "best.0.fit.family", "square", "best[0].fit.family"),
    ("Table", "rows", 3, "columns[0].values"),
    ("Table", "columns.1.name", "low", "columns[1].name"),
    ("KnownShapeFit", "scale_low", -1.0, "scale_low"),
    ("KnownShapeFit", "shape", 0.0, "shape"),
    ("PlottingPositions", "positions.0", 2.0, "positions[0]"),
    ("PlottingPositions", "ranks", [], "ranks"),
    ("RankFit", "parameters.0", -1.0, "parameters"),
    ("RankFit", "r_squared", 1.5, "r_squared"),
    ("ShapeCorrection", "corrected", 9.0, "corrected"),
    ("ProbabilityPlot", "points.0.share", 1.5, "points[0].share"),
    ("InformationTable", "rows.0.aic", 1e4, "rows[0].aic"),
    ("FailuresAhead", "lamps", 0, "at_estimate"),
    ("ExpectedChanges", "planned", [], "planned"),
    ("ExpectedChanges", "rule.planned_age_hours", -1.0, "rule.planned_age_hours"),
    ("ChangeCounts", "probabilities.0", 0.5, "probabilities"),
    ("LikelihoodRatio", "p_value", 2.0, "p_value"),
    ("DistanceTest", "kolmogorov", -1.0, "kolmogorov"),
    ("ProfileCurve", "relative_log_likelihood.0", 1.0, "relative_log_likelihood"),
    ("LikelihoodRegion", "level", 0.5, "relative_log_likelihood"),
    ("Posterior", "draws.0", [1.0], "draws[0]"),
    ("Phases", "p_value", 2.0, "p_value"),
    ("FamilyVerdict", "rows.0.failed", 1.5, "rows[0].failed"),
    ("FamilyVerdict", "disagreement", 0.5, "disagreement"),
    ("Curve", "band_scale", "steep", "band_scale"),
    ("MeanHours", "mean_hours", 1e6, "mean_hours"),
    ("MeanHours", "low", 0.0, "low"),
    ("MeanHours", "to_hours", -1.0, "to_hours"),
    ("SelfConsistent", "stretches.0.mass", 0.9, "stretches"),
    ("SelfConsistent", "stretches.0.reliability_after", 0.5, "stretches[0].reliability_after"),
    ("SelfConsistent", "stretches.0.from", -1.0, "stretches[0].from"),
    ("SelfConsistent", "candidates", 1, "candidates"),
    ("GroupTest", "statistic", 99.0, "statistic"),
    ("GroupTest", "p_value", 0.5, "p_value"),
    ("GroupTest", "degrees_of_freedom", 2, "degrees_of_freedom"),
    ("GroupTest", "groups.0.observed", 99, "groups[0].observed"),
    ("GroupTest", "variance", [1.0], "variance"),
    ("EndingBounds", "at.low", 0.0, "at.low"),
    ("EndingBounds", "at.informative", False, "at.informative"),
    ("EndingBounds", "if_all.reliability.0", 0.5, "if_all.reliability[0]"),
    ("IncidenceBounds", "at.high", 1.0, "at.high"),
    ("IncidenceBounds", "if_otherwise.causes.0.failures.0", 3, "if_otherwise.causes[0].incidence[0]"),
    ("Curve", "reliability.1", 0.5, "reliability[1]"),
    ("Curve", "cumulative_hazard.1", 9.0, "cumulative_hazard[1]"),
    ("Curve", "relative_variance.0", 9.0, "relative_variance[0]"),
    ("Curve", "hazard_variance.1", 9.0, "hazard_variance[1]"),
    ("Curve", "hazard_scale", "steep", "hazard_scale"),
    ("Curve", "lamps", 1, "failures"),
    ("Incidence", "causes.0.failures.0", 2, "causes[0].incidence[0]"),
    ("Fit", "covariance.0", -1.0, "covariance[0]"),
    ("Fit", "covariance.1", 99.0, "covariance[1]"),
    ("Fit", "converged", False, "converged"),
    ("Fit", "notes", [], "notes"),
    ("Fit", "facts.oldest_failure_hours", 1e9, "facts.oldest_failure_hours"),
    ("Fit", "facts.exposure_hours", 1e12, "facts.exposure_hours"),
    ("Fit", "identified.0.low", 99.0, "identified.shape"),
    ("Interval", "estimate", 1e6, "estimate"),
    ("Interval", "sides", "upper", "low"),
    ("PlannedAge", "age_hours", 1000.0, "age_hours"),
    ("PlannedAge", "limit_hours", 2400.0, "ceiling_hours"),
    ("PlannedAge", "ceiling_hours", 1.0, "optimum_hours"),
    ("PlannedAge", "optimum_cost_per_hour", 99.0, "optimum_cost_per_hour"),
    ("PlannedAge", "saving_against_todays_rule.per_hour", 99.0, "saving_against_todays_rule.per_hour"),
    ("PlannedAge", "saving_against_todays_rule", None, "saving_against_todays_rule"),
    ("PlannedAge", "saving_against_run_to_failure.percent", 99.0, "saving_against_run_to_failure.percent"),
    ("AgeInterval", "draws", 3, "draws"),
    ("AgeInterval", "share_at_limit", 0.333, "share_at_limit"),
    ("AgeInterval", "beats_todays_rule", None, "beats_todays_rule"),
    ("Forecast", "periods", [], "periods"),
    ("Forecast", "periods.0.mean_failures", 9.0, "periods[0].needed"),
    ("Forecast", "periods.1.needed_by_end", {"first": 0, "probabilities": [1.0]}, "periods[1].needed_by_end"),
    ("PlayedFleet", "periods.0.changes.mean", 9.0, "periods[0].changes"),
    ("PlayedFleet", "whole.cost.mean", 1.0, "whole.cost"),
    ("PlayedFleet", "ended.0.oldest_hours", 1.0, "ended[0].oldest_hours"),
    ("StockAdvice", "verdict", "enough", "verdict"),
    ("StockAdvice", "service_target", 1.0, "service_at_level"),
    ("StockAdvice", "expected_short_today", 99.0, "expected_short_today"),
    ("FitCheck", "p_value", 0.999, "p_value"),
    ("CauseFits", "facts.failures", 59, "facts.failures"),
    ("CauseFits", "unseen.0.rate_bound_95_per_hour", 1.0, "unseen[0].rate_bound_95_per_hour"),
    ("Bootstrap", "unsettled", [1, 1], "unsettled"),
    ("Draws", "replicates.0.settled.0.shares.0.1", 0.5, "replicates[0].settled[0].shares"),
    ("Draws", "best", [], "best"),
    ("World", "causes", [], "causes"),
    ("KnownShapeFit", "scale", None, "scale"),
    ("KnownShapeFit", "standard_error", 9.0, "standard_error"),
    ("KnownShapeFit", "scale_high", 1.0, "scale"),
    ("PlottingPositions", "ranks.1", 1.5, "ranks[1]"),
    ("PlottingPositions", "positions.1", 0.5, "positions[1]"),
    ("RankFit", "parameters.0", 9.0, "parameters[0]"),
    ("RankFit", "r_squared", 0.5, "r_squared"),
    ("ShapeCorrection", "failures", 3, "failures"),
    ("ShapeCorrection", "lamps", 99, "plan"),
    ("ProbabilityPlot", "points.0.y", 9.0, "points[0].y"),
    ("ProbabilityPlot", "scale.log_age", False, "scale"),
    ("InformationTable", "rows.0.bic", 9.0, "rows[0].bic"),
    ("InformationTable", "rows.1.aic_difference", 9.0, "rows[1].aic_difference"),
    ("InformationTable", "rows", [], "rows"),
    ("FailuresAhead", "draws", 0, "draws"),
    ("ExpectedChanges", "mean_hours", 9.0, "line.changes_per_hour"),
    ("ExpectedChanges", "variance.1", -1.0, "variance[1]"),
    ("ChangeCounts", "hours", 0.0, "hours"),
    ("LikelihoodRatio", "p_value", 0.5, "p_value"),
    ("LikelihoodRatio", "degrees_of_freedom", 2, "degrees_of_freedom"),
    ("LikelihoodRatio", "law", "half_chi_square", "law"),
    ("DistanceTest", "p_kolmogorov", 0.0, "p_kolmogorov"),
    ("DistanceTest", "p_anderson_darling", 0.333, "p_anderson_darling"),
    ("ProfileCurve", "cut", -9.0, "cut"),
    ("ProfileCurve", "estimate", 1.0, "estimate"),
    ("ProfileCurve", "lower_bound", 1e-3, "lower_bound"),
    ("LikelihoodRegion", "estimate", [99.0, 99.0], "estimate"),
    ("LikelihoodRegion", "parameters", ["scale", "shape"], "parameters"),
    ("Posterior", "notes", [], "notes"),
    ("Phases", "p_value", 0.333, "p_value"),
    ("CovariateFit", "coefficients", [], "coefficients"),
    ("CovariateFit", "covariance.0", -1.0, "covariance[0]"),
    ("CovariateFit", "design.columns.0.name", "x", "design.columns"),
    ("CovariateFit", "tests.0.p_value", 2.0, "tests[0].p_value"),
    ("DependentCurve", "reliability.3", 0.5, "reliability[3]"),
    ("DependentCurve", "removals.3", 2, "not_removed[3]"),
    ("DependentCurve", "tau", 1.0, "tau"),
    ("RemovalBounds", "at.high", 1.0, "at.high"),
    ("RemovalBounds", "if_at_once.reliability.0", 0.5, "if_at_once.reliability[0]"),
    ("RemovalDial", "points.1.parameters.0", 9.0, "points[1].parameters"),
    ("RemovalDial", "points.0.tau", 0.1, "points"),
    ("RemovalDial", "endings.0.1", 0.5, "endings"),
    ("RemovalDial", "suspect_lamps", 99, "suspect_lamps"),
    ("DialAnswer", "least", 1.0, "least"),
    ("DialAnswer", "range_high", 1e9, "range_high"),
    ("DialAnswer", "informative", True, "informative"),
    ("DialAnswer", "to_tau", 0.6, "to_tau"),
    ("TwoClocks", "identified", False, "identified"),
    ("TwoClocks", "share", 2.0, "share"),
    ("TwoClocks", "relative_log_likelihood.0", 1.0, "relative_log_likelihood"),
    ("TwoClocks", "log_likelihood", -1e9, "log_likelihood"),
    ("CurrentHistoryFit", "covariance.0", -1.0, "covariance[0]"),
    ("CurrentHistoryFit", "test.p_value", 2.0, "test.p_value"),
    ("CurrentHistoryFit", "mean_current", 1e6, "mean_current"),
    ("HazardFit", "robust_covariance.0", -1.0, "robust_covariance[0]"),
    ("HazardFit", "baselines.0.hazard.0", 9.0, "baselines[0].hazard[1]"),
    ("HazardFit", "baselines.0.drift.0", [], "baselines[0]"),
    ("PooledGroups", "groups.0.failures", 99, "groups[0].failures"),
    ("PooledGroups", "groups.0.raw_ratio", 9.0, "groups[0].raw_ratio"),
    ("PooledGroups", "answers.0.effects.0.low", 9.0, "answers[0].effects[0].ratio"),
    ("PooledGroups", "answers.1.effects", [], "answers[1].effects"),
    ("PooledGroups", "baselines.0.parameters", [], "baselines[0].parameters"),
    ("PooledGroups", "facts.failures", 1, "facts.lamps"),
    ("PairFit", "sides.0.failures", 0, "sides[0].failures"),
    ("PairFit", "sides.1.endings.0.1", 0.5, "sides[1].endings"),
    ("PairFit", "draws.0.x", [], "draws[0].x"),
    ("PairFit", "life_ratio.low", 99.0, "life_ratio.estimate"),
    ("PairCost", "difference_per_1000_hours", 99.0, "difference_per_1000_hours"),
    ("PairCost", "verdict", "second_cheaper", "verdict"),
    ("PairCost", "worth_per_1000_hours", -1.0, "worth_per_1000_hours"),
    ("CovariateResiduals", "lives.0.martingale", 2.0, "lives[0].martingale"),
    ("CovariateResiduals", "failures.0.plain", [], "failures[0].plain"),
    ("Proportionality", "all.degrees_of_freedom", 3, "all.degrees_of_freedom"),
    ("Reading", "ledger.by_file.0.1.used", 1, "ledger.counts.used"),
    ("StudyResults", "cautions", [], "cautions"),
    ("ClassResult", "status", "supported", "status"),
    ("ClassResult", "limit.limit_hours", 1900.0, "limit.limit_hours"),
]


def changed(result: Any, path: str, value: Any) -> str:
    whole = json.loads(result.to_json())
    at = whole["body"]
    *way, last = path.split(".")
    for step in way:
        at = at[int(step)] if isinstance(at, list) else at[step]
    before = at[int(last)] if isinstance(at, list) else at[last]
    assert before != value
    at[int(last) if isinstance(at, list) else last] = value
    return json.dumps(whole)


@pytest.mark.parametrize(("name", "path", "value", "field"), TAMPERED)
def test_a_changed_file_is_refused_by_field(
    name: str, path: str, value: Any, field: str, results: dict[str, Any]
) -> None:
    with pytest.raises(relamp.InputError) as caught:
        type(results[name]).from_json(changed(results[name], path, value))
    assert field in [p.column or "" for p in caught.value.problems], str(caught.value)


def test_the_table_of_changes_covers_every_class() -> None:
    assert {t[0] for t in TAMPERED} == set(result_classes())


def test_a_field_of_another_kind_is_named(results: dict[str, Any]) -> None:
    seen = 0
    for name, result in results.items():
        body = json.loads(result.to_json())["body"]
        for field in body if isinstance(body, dict) else []:
            seen += 1
            with pytest.raises(relamp.InputError) as caught:
                type(result).from_json(changed(result, field, {"no": ["such", "thing"]}))
            problem = caught.value.problems[0]
            assert problem.slug == "saved.unreadable"
            assert (problem.column or "").startswith(field), f"{name}.{field}: {caught.value}"
    assert seen > 150


def test_a_changed_study_is_declared_anew(results: dict[str, Any], tmp_path: Path) -> None:
    study = results["Study"]
    text = json.loads(study.to_json())["body"]["text"]
    with pytest.raises(relamp.StudyError) as caught:
        relamp.Study.from_json(changed(study, "text", text.replace("maximum_hours = 2000.0", "maximum_hours = -1.0")))
    assert caught.value.problems[0].line is not None
    with pytest.raises(relamp.StudyError):
        relamp.Study.from_json(changed(study, "options", {"outside_folder": False, "draws": 3, "family": None}))


def test_a_saved_study_runs_like_the_one_opened(tmp_path: Path) -> None:
    study = small_study()
    again = pickle.loads(pickle.dumps(study))
    assert again == study
    assert again.run() == study.run()
    log = Path(study.file).with_name("log.csv")
    moved = tmp_path / "study.toml"
    moved.write_bytes(Path(study.file).read_bytes())
    elsewhere = relamp.Study.open(moved)
    assert elsewhere != study, "the same text in another folder reads other logs"
    kept = pickle.dumps(elsewhere)
    moved.unlink()
    with pytest.raises(relamp.FileMissingError):
        pickle.loads(kept).run()
    (tmp_path / "log.csv").write_bytes(log.read_bytes())
    assert pickle.loads(kept).run().results == study.run().results


def test_every_table_of_the_demo_chain_comes_back() -> None:
    output = demo.output()
    assert relamp.StudyOutput.from_json(output.to_json()) == output
    for table in (output.ledger(), output.results.overdue(), output.results.table()):
        assert len(table) > 0
        again = relamp.Table.from_json(table.to_json())
        assert again == table
        assert again.frame().equals(table.frame())


def test_bounds_of_a_low_level_come_back() -> None:
    # Each one-sided bound has its level by itself, so that below 0.5 the two change places.
    bounds = relamp.fit_known_shape(relamp.lives([300.0, 400.0, 500.0]), shape=2.0, level=0.3)
    assert bounds.scale_low is not None
    assert bounds.scale_high is not None
    assert bounds.scale_low > bounds.scale_high
    assert pickle.loads(pickle.dumps(bounds)) == bounds


def test_numbers_that_are_not_finite_come_back() -> None:
    text = json.dumps(
        {
            "format": "table",
            "version": 1,
            "made_by": "relamp",
            "body": {
                "rows": 4,
                "columns": [
                    {"name": "x", "values": {"numbers": ["infinite", "minus_infinite", "not_a_number", None]}},
                    {"name": "day", "values": {"dates": ["2025-12-28", None, None, None]}},
                ],
            },
        }
    )
    table = relamp.Table.from_json(text)
    column = table.frame()["x"].to_list()
    assert column[:2] == [float("inf"), float("-inf")]
    assert column[2] != column[2]
    assert column[3] is None
    assert relamp.Table.from_json(table.to_json()) == table


def test_worlds_and_draws_answer_alike_after_a_journey(results: dict[str, Any], limit: relamp.HourLimit) -> None:
    world, draws = results["World"], results["Draws"]
    again = pickle.loads(pickle.dumps(world))
    assert again.reliability(1234.5) == world.reliability(1234.5)
    assert relamp.planned_age(again, limit) == relamp.planned_age(world, limit)
    back = relamp.Draws.from_json(draws.to_json())
    assert [back.world(i) for i in range(len(back))] == [draws.world(i) for i in range(len(draws))]
    assert relamp.planned_age_interval(back, limit) == relamp.planned_age_interval(draws, limit)
    assert draws.best() == back.best()
    assert draws.frame().height == 2 * len(draws)
    assert draws.frame().columns == ["replicate", "cause", "family", "shape", "scale"]
    assert world.frame().columns == ["cause", "ending", "share", "cost", "family", "shape", "scale", "location"]


def test_shares_that_are_none_are_refused_at_once() -> None:
    life, costs = relamp.life("weibull", shape=2.0, scale=900.0), relamp.costs(1.0, burst=2.0, dim=2.0)
    for shares in ({"burst": -0.1, "dim": 1.1}, {"burst": 0.0}, {"burst": float("inf")}, {}):
        with pytest.raises(relamp.InputError, match="shares"):
            relamp.world([(shares, life)], costs)
    for share in (float("nan"), "0.5", None, True):
        with pytest.raises(relamp.InputError, match="burst"):
            relamp.world([({"burst": share}, life)], costs)
