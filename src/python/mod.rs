//! Python bindings: they translate and do nothing else.
//!
//! A binding takes arguments, detaches from the interpreter, calls the core and wraps the answer. Columns come in
//! through `intake`, tables go out through `frames`, long work passes one door in `work`.

// Extracted arguments arrive by value; that is how the binding macros hand them over.
#![allow(clippy::needless_pass_by_value)]
#![allow(
    clippy::too_many_arguments,
    reason = "a keyword argument of Python is an argument of its function here; the binding macros know no other way"
)]
// Doc comments here become docstrings, which are numpy style and not Markdown.
#![allow(clippy::doc_markdown, clippy::doc_link_with_quotes)]

mod arrays;
mod caps;
mod chain;
mod claims;
mod claims_ahead;
mod clocks;
mod compare;
mod corrected;
mod covariates;
mod demand;
mod dial;
mod doubt;
mod empirical;
mod error;
mod even_rate;
mod families;
mod fit;
mod fixed;
mod frames;
mod groups;
mod hazards;
mod incidence;
mod intake;
mod last_buy;
mod life;
mod life_bars;
mod lives;
mod money;
mod more_records;
mod over_time;
mod pair;
mod places;
mod plain;
mod play_chain;
mod policy;
mod pooling;
mod posterior;
mod prediction;
mod profiles;
mod purchase;
mod question;
mod records;
mod records_tables;
mod recurrence;
mod removal;
mod renewal;
mod replay;
mod residuals;
mod result;
mod salvage;
mod saved_table;
mod scenarios;
mod self_consistent;
mod show;
mod simulate;
mod site;
mod small_samples;
mod sockets;
mod spread;
mod stages;
mod stock;
mod stock_count;
mod stock_dated;
mod study;
mod study_tables;
mod suspects;
mod terms;
mod tests_of_fit;
mod trends;
mod uncertainty;
mod verdict;
mod visits;
mod watch;
mod work;
mod worlds;

#[pyo3::pymodule]
mod _core {
    use pyo3::prelude::*;

    #[pymodule_export]
    use super::caps::{PyCappedAge, capped_age};
    #[pymodule_export]
    use super::chain::{PyChainForecast, PyPolicyWave, chain_forecast, policy_wave};
    #[pymodule_export]
    use super::claims::{PyClaimList, PyClaimTerms, PyCover, claim_list, claim_terms, cover};
    #[pymodule_export]
    use super::claims_ahead::{PyClaimsAhead, claims_ahead};
    #[pymodule_export]
    use super::clocks::{PyCurrentHistoryFit, PyTwoClocks, fit_current_history, two_clocks};
    #[pymodule_export]
    use super::compare::{PyInformationTable, PyProbabilityPlot, compare_fits, probability_plot};
    #[pymodule_export]
    use super::corrected::profile_corrected;
    #[pymodule_export]
    use super::covariates::{PyCovariateFit, fit_covariates};
    #[pymodule_export]
    use super::demand::{PyCount, PyForecast, PyStockAdvice, forecast, planned_changes, stock_level};
    #[pymodule_export]
    use super::dial::{PyDialAnswer, PyDialTurn, PyRemovalDial, removal_dial};
    #[pymodule_export]
    use super::doubt::{
        PyAgeComparison, PyCostBars, PyCostParts, PyEndingsByAge, PyLeastRegret, compare_ages, cost_bars, cost_parts,
        curve_world, endings_by_age, least_regret,
    };
    #[pymodule_export]
    use super::empirical::{PyCurve, product_limit};
    #[pymodule_export]
    use super::even_rate::rate_bound_95;
    #[pymodule_export]
    use super::families::{families, family_box, family_in_words};
    #[pymodule_export]
    use super::fit::{PyFit, fit};
    #[pymodule_export]
    use super::frames::Table;
    #[pymodule_export]
    use super::groups::{PyGroupTest, incidence_test, rank_test};
    #[pymodule_export]
    use super::hazards::{PyCovariateResiduals, PyHazardFit, PyProportionality, proportional_hazards};
    #[pymodule_export]
    use super::incidence::{PyIncidence, incidence};
    #[pymodule_export]
    use super::last_buy::{PyLastBuy, compare_last_buys, convert_earlier, last_buy, used_spares};
    #[pymodule_export]
    use super::life::{PyLife, life};
    #[pymodule_export]
    use super::life_bars::{PyLifeBars, life_bars};
    #[pymodule_export]
    use super::lives::{PyTally, lives};
    #[pymodule_export]
    use super::money::{
        PyDarkMinutes, PyDiscount, PyWarranty, PyWarrantyValue, dark_minutes, discount, warranty, warranty_value,
    };
    #[pymodule_export]
    use super::more_records::{PyRecordsValue, records_value};
    #[pymodule_export]
    use super::over_time::{
        PyBlockCosts, PyBlockInterval, PyHorizonAge, PyHorizonCosts, block_costs, block_interval, horizon_age,
        horizon_costs,
    };
    #[pymodule_export]
    use super::pair::{PyPairCost, PyPairFit, compare_pair, compare_pair_costs, failures_to_see};
    #[pymodule_export]
    use super::places::{
        PyClassCurve, PyPlaces, PyPlacesService, PyPooling, PyStockMix, best_mix, buy_steps, class_curve,
        one_place_curve, place_service, places, pooling,
    };
    #[pymodule_export]
    use super::play_chain::{PyPlayedChain, play_chain};
    #[pymodule_export]
    use super::policy::{PyAgeInterval, PyCostCurve, PyPlannedAge, cost_curve, planned_age, planned_age_interval};
    #[pymodule_export]
    use super::pooling::{PyPooledGroups, pool_groups};
    #[pymodule_export]
    use super::posterior::{PyPosterior, posterior};
    #[pymodule_export]
    use super::prediction::{PyFailuresAhead, failures_ahead};
    #[pymodule_export]
    use super::profiles::{PyLikelihoodRegion, PyProfileCurve};
    #[pymodule_export]
    use super::purchase::{PyPurchaseList, purchase_list};
    #[pymodule_export]
    use super::records::{PyReading, read_logs, read_table};
    #[pymodule_export]
    use super::recurrence::{
        PyRecurrence, PyRecurrenceDifference, PyRecurrenceTest, recurrence, recurrence_difference, recurrence_test,
    };
    #[pymodule_export]
    use super::removal::{PyDependentCurve, PyRemovalBounds, dependent_curve, removal_bounds};
    #[pymodule_export]
    use super::renewal::{PyChangeCounts, PyExpectedChanges, change_counts, expected_changes};
    #[pymodule_export]
    use super::replay::{PyPredictionReplay, PyReplayedAge, replay_age, replay_predictions};
    #[pymodule_export]
    use super::residuals::{PyHazardResiduals, PyWindowedLife, residuals, within_window};
    #[pymodule_export]
    use super::salvage::{PySalvage, salvage};
    #[pymodule_export]
    use super::scenarios::{PyPriceScenarios, price_scenarios};
    #[pymodule_export]
    use super::self_consistent::{PySelfConsistent, self_consistent};
    #[pymodule_export]
    use super::simulate::{PyPlayedFleet, play_fleet};
    #[pymodule_export]
    use super::site::{PySiteAge, PySiteCosts, site_age, site_costs};
    #[pymodule_export]
    use super::small_samples::{
        PyKnownShapeFit, PyPlottingPositions, PyRankFit, PyShapeCorrection, fit_known_shape, plotting_positions,
        rank_regression,
    };
    #[pymodule_export]
    use super::sockets::{PySockets, sockets, sockets_of};
    #[pymodule_export]
    use super::spread::PyMeanHours;
    #[pymodule_export]
    use super::stages::{PyLimitPlan, limit_stages};
    #[pymodule_export]
    use super::stock::{
        PyLeadDemand, PyStockCosts, PyStockPlan, PyStockService, best_order_up_to, best_reorder, lead_demand,
        stock_costs, stock_service,
    };
    #[pymodule_export]
    use super::stock_count::{PyStockCount, stock_count};
    #[pymodule_export]
    use super::stock_dated::{
        PyDatedStock, PyEmergencyPlan, PyPoissonShortcut, PyShelfAge, best_emergency, dated_stock, poisson_shortcut,
        shelf_age,
    };
    #[pymodule_export]
    use super::study::{PyClassResult, PyStudy, PyStudyOutput, PyStudyResults};
    #[pymodule_export]
    use super::suspects::{PyEndingBounds, PyIncidenceBounds, ending_bounds, incidence_bounds};
    #[pymodule_export]
    use super::terms::{PyCosts, PyHourLimit, costs, hour_limit};
    #[pymodule_export]
    use super::tests_of_fit::{
        PyDistanceTest, PyLikelihoodRatio, distance_test, likelihood_ratio, likelihood_ratio_bootstrap,
    };
    #[pymodule_export]
    use super::trends::{PyPowerLaw, PyPowerLawDistance, PyTrend, power_law, power_law_distance, trend};
    #[pymodule_export]
    use super::uncertainty::{PyBootstrap, PyCauseFits, PyFitCheck, PyInterval, bootstrap, fit_causes};
    #[pymodule_export]
    use super::verdict::{PyFamilyVerdict, PyPhases, family_verdict, phases};
    #[pymodule_export]
    use super::visits::{PyVisitAge, PyVisitCost, best_visit_age, visit_rule_cost};
    #[pymodule_export]
    use super::watch::{PyExpectedEndings, PyWatch, expected_endings, watch};
    #[pymodule_export]
    use super::worlds::{PyDraws, PyWorld, world};

    #[pymodule_init]
    fn init(m: &Bound<'_, PyModule>) -> PyResult<()> {
        let endings = crate::records::Ending::ALL.map(crate::records::Ending::as_str);
        m.add("ENDINGS", pyo3::types::PyTuple::new(m.py(), endings)?)?;
        m.add("__version__", env!("CARGO_PKG_VERSION"))?;
        m.add("__build__", if cfg!(debug_assertions) { "debug" } else { "release" })
    }
}
