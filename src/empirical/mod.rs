//! Curves without a family: reliability, cumulative hazard, incidence by cause; failures of screens that get lamp after
//! lamp; and tests between groups.
//!
//! Start with [`product_limit`] for the reliability of a lamp class, or [`incidence`] for what ended the lamps. Both take a
//! [`Tally`](crate::lives::Tally) as it stands, all strata pooled: ask [`Tally::stratum`](crate::lives::Tally::stratum) for
//! one class first. Both treat lamps removed for other reasons as if they would have failed like the lamps that stayed.
//!
//! [`self_consistent`] takes failures known to intervals as they are. [`rank_test`] and [`incidence_test`] compare groups at
//! equal age. [`ending_bounds`] and [`incidence_bounds`] say what endings that may be misfiled can change at most.
//! [`removal_bounds`] does so for lamps taken out because they looked about to fail, and [`dependent_curve`] gives the curve
//! under a stated dependence of such removals on the age at failure.

mod band;
mod climb;
mod curve;
mod group_test;
mod hazard_band;
mod incidence;
mod incidence_spread;
mod incidence_test;
mod innermost;
mod plotting;
mod rank_test;
mod recurrence;
mod recurrence_groups;
mod removal;
mod removal_bounds;
mod risk_sets;
mod self_consistent;
mod simultaneous;
mod sockets;
mod spread;
mod steps;
mod suspects;
mod trend;

pub use band::BandScale;
pub use curve::{Curve, CurveNote, CurveOptions, product_limit};
pub use group_test::{ComparedGroup, GroupTest};
pub use hazard_band::{HazardScale, SimultaneousHazardBand, simultaneous_hazard_band};
pub use incidence::{CauseIncidence, Incidence, incidence};
pub use incidence_test::{IncidenceTestOptions, incidence_test};
pub use plotting::{PlottingPositions, PositionRule, plotting_positions};
pub use rank_test::{RankOptions, RankWeight, rank_test};
pub use recurrence::{Recurrence, recurrence};
pub use recurrence_groups::{
    RecurrenceDifference, RecurrenceTest, SocketGroup, recurrence_difference, recurrence_test,
};
pub use removal::{DependentCurve, RemovalOptions, dependent_curve};
pub(crate) use removal::{Event, Events, Seen, copula_power, walk_removals};
pub use removal_bounds::{RemovalBounds, RemovalBoundsOptions, removal_bounds};
pub use self_consistent::{SelfConsistent, SelfConsistentOptions, Stretch, self_consistent};
pub use simultaneous::{SimultaneousBand, equal_precision_factor, simultaneous_band};
pub use sockets::{Socket, SocketClock, SocketOptions, Sockets};
pub use spread::{MeanHours, QuantileInterval};
pub(crate) use steps::check_level;
pub(crate) use suspects::check_widest;
pub use suspects::{BoundsAt, EndingBounds, IncidenceBounds, SuspectOptions, ending_bounds, incidence_bounds};
pub use trend::{Trend, TrendTest, WatchEnd, trend};
