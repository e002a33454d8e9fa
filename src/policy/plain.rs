//! The world of the records as they stand: a check on models of it.

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::empirical::{CurveOptions, product_limit};
use crate::family::{Life, StepLife};
use crate::fit::{CauseLife, World};
use crate::lives::Tally;
use crate::records::Ending;
use crate::terms::Costs;

/// A world without any family: each failure ending that came is a cause whose life is its product-limit curve.
///
/// What [`super::planned_age`] and its like say of it rests on the records alone; where a model says something else, one of the
/// two is wrong about the shape. Past the oldest lamp at risk such a life never fails, so give that age among the options: a
/// planned age of it is a step of a curve and jumps with every failure.
///
/// # Errors
/// `policy.no_cause` where no lamp ended in one of the given ways; `terms.cost_missing` for one without a cost; those of
/// [`product_limit`].
///
/// # Examples
/// ```
/// use relamp::empirical::CurveOptions;
/// use relamp::lives::{Rows, Tally};
/// use relamp::policy::{AgeOptions, curve_world, planned_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let ages = vec![700.0, 900.0, 1000.0, 1100.0, 1200.0];
/// let (tally, _) = Tally::from_rows(&Rows {
///     low: ages.clone(),
///     high: ages,
///     ending: Some(vec![Ending::Dim; 5]),
///     ..Rows::default()
/// })?;
/// let costs = Costs::new(1.0, [(Ending::Dim, 6.0)])?;
/// let world = curve_world(&tally, &Ending::FAILURES, &costs, &CurveOptions::default())?;
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let options = AgeOptions { oldest_at_risk_hours: Some(1200.0), ..AgeOptions::default() };
/// // Just before the first failure the cost is 1 in 700 h, which no later step beats.
/// assert_eq!(planned_age(&world, &printed.limit()?, &options)?.age_hours, 699.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn curve_world(tally: &Tally, failures: &[Ending], costs: &Costs, options: &CurveOptions) -> Result<World> {
    let mut causes = Vec::new();
    for ending in failures {
        let alone = tally.for_endings(&[*ending])?;
        if alone.failures() == 0 {
            continue;
        }
        let life: Box<dyn Life> = Box::new(StepLife::new(&product_limit(&alone, options)?)?);
        causes.push(CauseLife { endings: vec![(*ending, 1.0)], life });
    }
    if causes.is_empty() {
        let problem = Problem::new("policy.no_cause", "no lamp of these records ended in one of the given ways");
        return Err(Error::new(Kind::Domain, problem.at(Place::input("records"))));
    }
    costs.cover(&causes.iter().flat_map(|c| c.endings.iter().map(|e| e.0)).collect::<Vec<_>>())?;
    Ok(World { causes, costs: costs.clone() })
}
