//! From censored lives and a family to fitted models with their uncertainty.
//!
//! Start from [`fit`]. A [`Fit`] holds the estimate, its covariance and what went in.

// Not-a-number must take the refusing branch, which the negated comparison says and its mirror does not.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod bootstrap;
mod branches;
mod cause_draws;
mod causes;
mod clocks;
mod covariates;
mod coverage;
mod distance;
mod failure_free;
mod few_clusters;
mod fitness;
mod hazards;
mod held;
mod identified;
mod information;
mod interval;
mod kernel;
mod known_shape;
mod lanes;
mod likelihood;
mod model;
mod nested;
mod newton;
mod one_kind;
mod peaks;
mod phases;
mod pieces;
mod plot_scale;
mod pooling;
mod posterior;
mod posterior_grid;
mod power_law;
mod prior;
mod probability_plot;
mod profile;
mod profile_corrected;
mod profile_curve;
mod pull;
mod rank_regression;
mod refusal;
mod region;
mod removal;
mod residuals;
mod ridge;
mod sample;
mod search;
mod shape_bias;
mod shape_limit;
mod shape_walk;
mod simpler;
mod target;
mod verdict;
mod weights;
mod window;
mod window_area;
mod window_reach;
mod window_shape;
mod world;

pub use bootstrap::{Bootstrap, BootstrapEnds, bootstrap};
pub use cause_draws::CauseDraws;
pub(crate) use causes::{CAUSES_INDEPENDENT, NO_OVERALL_FIT};
pub use causes::{CauseFit, CauseFits, CauseOptions, Unseen, fit_causes};
pub use clocks::{ClockEdge, CurrentHistoryFit, CurrentPiece, Histories, TwoClocks, fit_current_history, two_clocks};
pub(crate) use covariates::checked_power;
pub use covariates::{
    BOLTZMANN_EV, CovariateFit, Design, DesignColumn, FAILURES_PER_COEFFICIENT, Factor, LifeRatio, PairFit,
    PairOptions, PairRedraw, PairSide, Part, StressLaw, Term, TermTest, Terms, ValueIs, ZERO_CELSIUS, compare_pair,
    failures_to_see, fit_covariates,
};
pub use distance::{DistanceTest, distance_test};
pub use few_clusters::{ENOUGH_CLUSTERS, VERDICT_CLUSTERS};
pub use fitness::{FitCheck, MISFIT_LEVEL, SeenExpected};
pub use hazards::{
    AgeScale, Baseline, CovariateResiduals, FailureResidual, HazardFit, HazardOptions, LifeResidual, Proportionality,
    proportional_hazards,
};
pub(crate) use identified::past_use;
pub use identified::{Identified, Mark};
pub use information::{InformationRow, InformationTable, information_table};
pub use interval::{Interval, IntervalMethod, Quantity, Sides};
pub use known_shape::{BoundMethod, KnownShapeFit, Termination, fit_known_shape};
pub use model::{ENOUGH_FAILURES, FEW_FAILURES, Facts, Fit, Note};
pub use nested::{LikelihoodRatio, RatioLaw, likelihood_ratio, likelihood_ratio_bootstrap};
pub use newton::Stop;
pub use peaks::Peak;
pub use phases::{Phases, phases};
pub use plot_scale::{PlotScale, Standard, plot_scale};
pub use pooling::{GroupEffect, PooledBaseline, PooledGroup, PooledGroups, PoolingOptions, UnderPrior, pool_groups};
pub use posterior::{Posterior, posterior};
pub use power_law::{PowerLaw, PowerLawDistance, PowerLawEstimate, PowerLawOptions, fit_power_law, power_law_distance};
pub use prior::{Belief, Prior};
pub use probability_plot::{PlotPoint, ProbabilityPlot, fitted_plot, probability_plot};
pub use profile_corrected::RatioMean;
pub use profile_curve::ProfileCurve;
pub use rank_regression::{RankFit, RegressionOn, rank_regression};
pub use refusal::{ZERO_FAILURES_95, rate_bound_95};
pub use region::LikelihoodRegion;
pub(crate) use removal::{Asked, DialDraws, Standing, check_ratio};
pub use removal::{DialAnswer, DialOptions, DialPoint, RemovalDial, WIDEST_RATIO, removal_dial};
pub use residuals::{HazardResidual, HazardResiduals, ResidualPoint};
pub use search::{FitOptions, fit};
pub use shape_bias::{BiasFactor, CensoringPlan, ShapeCorrection, shape_bias_factor};
pub use target::{Function, OfLife, Scale};
pub use verdict::{FamilyAt, FamilyVerdict, family_verdict};
pub use window::{WindowShare, WindowedLife};
pub use world::{CauseLife, Draws, Method, Spread, World, each_draw, over_draws};
