//! Costs and the hour limit.

use proptest::prelude::*;
use relamp::records::Ending;
use relamp::terms::{Costs, HourLimit, LimitOrigin, PrintedHours};

fn printed(warranty: Option<f64>, average: Option<f64>, maximum: Option<f64>) -> PrintedHours {
    PrintedHours {
        warranty_hours: warranty,
        average_life_hours: average,
        maximum_hours: maximum,
        source: "invented data sheet".into(),
    }
}

#[test]
fn the_limit_of_use_comes_before_the_warranty_and_the_average_life_is_none() {
    let both = printed(Some(2000.0), Some(2400.0), Some(2500.0)).limit().unwrap();
    assert_eq!((both.hours(), both.origin()), (2500.0, &LimitOrigin::MakerMaximum));
    let warranty = printed(Some(2000.0), Some(2400.0), None).limit().unwrap();
    assert_eq!((warranty.hours(), warranty.origin()), (2000.0, &LimitOrigin::Warranty));
    let none = printed(None, Some(2400.0), None).limit().unwrap_err();
    assert_eq!(none.slug(), "terms.limit_missing");
}

#[test]
fn an_override_needs_a_reason_and_lamps_stay_judged_against_the_maker() {
    let hours = printed(Some(2000.0), None, None);
    assert_eq!(hours.limit_because(2300.0, "  ").unwrap_err().slug(), "terms.limit_reason");
    let own = hours.limit_because(2300.0, "agreed in writing, invented").unwrap();
    assert_eq!((own.hours(), own.maker_hours()), (2300.0, 2000.0));
    assert!(own.maker_reached(2100.0) && !own.reached(2100.0) && own.reached(2300.0));
    assert!(own.reached(f64::NAN) && own.maker_reached(f64::NAN));
    assert_eq!(printed(None, None, None).limit_because(2300.0, "why").unwrap_err().slug(), "terms.limit_missing");
}

#[test]
fn every_wrong_figure_is_reported_at_once() {
    let wrong = PrintedHours {
        warranty_hours: Some(f64::NAN),
        average_life_hours: Some(-1.0),
        maximum_hours: Some(f64::INFINITY),
        source: " ".into(),
    };
    let error = wrong.limit().unwrap_err();
    assert_eq!(error.problems().len(), 4, "{error}");
    let costs = Costs::new(-1.0, [(Ending::Burst, 0.0), (Ending::Planned, 5.0), (Ending::Dim, f64::NAN)]).unwrap_err();
    assert_eq!(costs.problems().len(), 4, "{costs}");
    assert!(costs.to_string().contains("costs, column burst"), "{costs}");
}

#[test]
fn a_planned_change_may_cost_more_than_a_failure() {
    let huge = Costs::new(1e300, [(Ending::Dim, 1e12)]).unwrap_err();
    assert_eq!((huge.problems().len(), huge.slug()), (1, "terms.amount_too_large"));
    let costs = Costs::new(500.0, [(Ending::Dim, 100.0)]).unwrap();
    assert!(costs.cover(&[Ending::Dim]).is_ok());
    let missing = costs.cover(&[Ending::Dim, Ending::Burst, Ending::Seal]).unwrap_err();
    assert_eq!((missing.slug(), missing.problems().len()), ("terms.cost_missing", 2));
    assert_eq!(costs.pooled(&[(Ending::Dim, 0.4), (Ending::Burst, 0.6)]).unwrap_err().slug(), "terms.cost_missing");
    assert_eq!(costs.pooled(&[(Ending::Dim, 0.4), (Ending::Burst, 0.0)]).unwrap(), 100.0);
    assert_eq!(costs.pooled(&[]).unwrap_err().slug(), "terms.shares");
}

#[test]
fn the_saved_form_passes_the_same_checks() {
    let limit = printed(Some(2000.0), None, None).limit_because(1800.5, "invented").unwrap();
    let text = serde_json::to_string(&limit).unwrap();
    assert_eq!(serde_json::from_str::<HourLimit>(&text).unwrap(), limit);
    for broken in [
        r#"{"hours":9999.0,"maker_hours":2000.0,"origin":"warranty"}"#,
        r#"{"hours":9999.0,"maker_hours":2000.0,"origin":{"override":{"reason":" "}}}"#,
        r#"{"hours":-1.0,"maker_hours":-1.0,"origin":"warranty"}"#,
        r#"{"hours":2000.0,"maker_hours":2000.0,"origin":"warranty","extra":1}"#,
    ] {
        assert!(serde_json::from_str::<HourLimit>(broken).is_err(), "{broken}");
    }
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)]).unwrap();
    let text = serde_json::to_string(&costs).unwrap();
    assert_eq!(serde_json::from_str::<Costs>(&text).unwrap(), costs);
    assert!(serde_json::from_str::<Costs>(r#"{"planned":0.0,"by_ending":{}}"#).is_err());
}

proptest! {
    #[test]
    fn a_capped_age_is_whole_and_never_above_the_limit_or_the_age(age in -10.0..1e6_f64, hours in 1.0..1e5_f64) {
        let limit = printed(None, None, Some(hours)).limit().unwrap();
        let shown = limit.cap(age);
        prop_assert!(shown <= hours && shown <= age.max(0.0) && shown.fract() == 0.0 && shown >= 0.0);
        prop_assert!(limit.cap(f64::NAN) == 0.0 && limit.cap(f64::INFINITY) == hours.floor());
    }
}
