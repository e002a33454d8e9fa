//! Costs and the hour limit.

use proptest::prelude::*;
use relamp::records::Ending;
use relamp::terms::{
    Costs, DarkMinutes, Discount, HourLimit, LimitOrigin, PrintedHours, Warranty, WarrantyForm, WarrantyStep,
};

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

#[test]
fn money_back_falls_with_age_as_the_terms_say() {
    // By hand: 1,000 x (1 - 500 / 2,000).
    let rated = Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst]).unwrap();
    assert_eq!([0.0, 500.0, 1500.0, 2000.0, 9e9].map(|a| rated.credit(a)), [1000.0, 750.0, 250.0, 0.0, 0.0]);
    assert_eq!((rated.credit(f64::NAN), rated.kinks(), rated.largest()), (0.0, vec![2000.0], 1000.0));
    assert!(rated.covers(Ending::Burst) && !rated.covers(Ending::Dim));
    let step = |below_hours: f64, share: f64| WarrantyStep { below_hours, share };
    let stepped = Warranty::stepped(800.0, [step(250.0, 1.0), step(1000.0, 0.5)], [Ending::Seal]).unwrap();
    assert_eq!([249.9, 250.0, 999.9, 1000.0].map(|a| stepped.credit(a)), [800.0, 400.0, 400.0, 0.0]);
    assert_eq!(stepped.kinks(), [250.0, 1000.0]);
    // The calendar ends it earlier: what comes back until then stays as it is, and jumps to nothing.
    let dated = stepped.within_calendar(70.0, 60.0).unwrap();
    assert_eq!((dated.end_hours(), dated.hours(), dated.kinks()), (600.0, 1000.0, vec![250.0, 600.0]));
    assert_eq!((dated.credit(599.0), dated.credit(600.0)), (400.0, 0.0));
    assert_eq!(stepped.within_calendar(1e6, 60.0).unwrap(), stepped);
    for (days, weekly) in [(0.0, 60.0), (f64::NAN, 60.0), (70.0, 169.0), (70.0, f64::NAN), (1.0, 0.1)] {
        assert_eq!(stepped.within_calendar(days, weekly).unwrap_err().slug(), "terms.warranty_calendar");
    }
    let text = serde_json::to_string(&dated).unwrap();
    assert_eq!(serde_json::from_str::<Warranty>(&text).unwrap(), dated);
    assert!(serde_json::from_str::<Warranty>(&text.replace("600.0", "1600.0")).is_err());
}

#[test]
fn hostile_warranties_are_refused_by_name() {
    let slugs = |w: relamp::Result<Warranty>| w.unwrap_err().problems().iter().map(|p| p.slug).collect::<Vec<_>>();
    let all = ["terms.warranty_price", "terms.warranty_hours", "terms.warranty_endings"];
    assert_eq!(slugs(Warranty::full(f64::NAN, 0.5, [])), all);
    assert_eq!(slugs(Warranty::pro_rata(1e13, f64::INFINITY, [Ending::Planned])), all);
    assert_eq!(slugs(Warranty::full(1.0, 9.0, [Ending::Dim, Ending::Dim])), ["terms.warranty_endings"]);
    let step = |below_hours: f64, share: f64| WarrantyStep { below_hours, share };
    for steps in
        [vec![step(500.0, 0.5), step(900.0, 0.6)], vec![step(500.0, 1.0), step(500.0, 0.5)], vec![step(9.0, 1.1)]]
    {
        assert_eq!(slugs(Warranty::stepped(1.0, steps, [Ending::Dim])), ["terms.warranty_steps"]);
    }
    assert!(slugs(Warranty::stepped(1.0, [], [Ending::Dim])).contains(&"terms.warranty_steps"));
    // A failure costs the new lamp at least, so it must cost more than what comes back.
    let costs = Costs::new(950.0, [(Ending::Burst, 780.0), (Ending::Dim, 700.0), (Ending::Seal, 5.0)]).unwrap();
    let warranty = Warranty::full(780.0, 900.0, [Ending::Burst, Ending::Dim]).unwrap();
    let error = costs.clone().with_warranty(warranty).unwrap_err();
    assert_eq!((error.slug(), error.problems().len()), ("terms.credit_above_cost", 2));
    let fair = costs.with_warranty(Warranty::full(600.0, 900.0, [Ending::Burst, Ending::Dim]).unwrap()).unwrap();
    let text = serde_json::to_string(&fair).unwrap();
    assert_eq!(serde_json::from_str::<Costs>(&text).unwrap(), fair);
    assert!(serde_json::from_str::<Costs>(&text.replace("\"price\":600.0", "\"price\":701.0")).is_err());
    assert!(matches!(fair.warranty().unwrap().form(), WarrantyForm::Full));
}

#[test]
fn dark_minutes_and_discounts_are_checked() {
    let wrong =
        DarkMinutes::new(0.0, [(Ending::Burst, f64::NAN), (Ending::Running, 5.0), (Ending::Dim, 1e6)]).unwrap_err();
    assert_eq!((wrong.slug(), wrong.problems().len()), ("terms.minutes", 4));
    assert!(wrong.to_string().contains("dark minutes, column burst"), "{wrong}");
    let twice = DarkMinutes::new(40.0, [(Ending::Dim, 5.0), (Ending::Dim, 6.0)]).unwrap_err();
    assert!(twice.to_string().contains("given twice"));
    let dark = DarkMinutes::new(40.0, [(Ending::Burst, 360.0)]).unwrap();
    assert_eq!(serde_json::from_str::<DarkMinutes>(&serde_json::to_string(&dark).unwrap()).unwrap(), dark);
    assert!(serde_json::from_str::<DarkMinutes>(r#"{"planned":0.0,"by_ending":{}}"#).is_err());
    for rate in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        assert_eq!(Discount::per_hour(rate).unwrap_err().slug(), "terms.discount_rate");
        assert_eq!(Discount::per_year(rate, 4000.0).unwrap_err().slug(), "terms.discount_rate");
    }
    for hours in [0.0, 8785.0, f64::NAN] {
        assert!(Discount::per_year(0.05, hours).unwrap_err().to_string().contains("hours_per_year"));
    }
    let five = Discount::per_year(0.05, 4000.0).unwrap();
    assert!((five.worth(8000.0) * 1.05 * 1.05 - 1.0).abs() < 1e-14);
    assert_eq!(serde_json::from_str::<Discount>(&serde_json::to_string(&five).unwrap()).unwrap(), five);
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
