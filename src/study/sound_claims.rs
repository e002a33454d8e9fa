//! What must hold of saved claims: the list, its totals and the lamps of the classes tell one story.

use super::claims_result::{ClaimsResult, of_class, terms_sentence};
use super::class_result::ClassResult;
use super::results::StudyResults;
use crate::base::figure::counted;
use crate::base::sound::Checks;
use crate::warranty::{ClaimTotals, Standing};

/// The claims of results, held to the rest of them.
pub(super) fn claims_agree(c: &mut Checks, results: &StudyResults) {
    money_agrees(c, results);
    let Some(claims) = &results.claims else { return };
    c.inside("claims", |c| {
        c.part("list", &claims.list);
        c.follows("list.as_of", &claims.list.as_of, &results.study.as_of);
        let judged = !claims.list.claims.iter().any(|k| k.standing == Standing::Nothing);
        c.need("list.claims", judged, "a lamp for which nothing is due", "these lamps counted under nothing");
        c.follows("sentence", &claims.sentence, &claims.list.sentence());
        c.inside("totals", |c| totals_follow(c, &claims.totals, &claims.list.totals()));
        c.once("by_class.lamp_class", claims.by_class.iter().map(|k| &k.lamp_class));
        c.once("nothing.why", claims.nothing.iter().map(|n| n.why));
        lamps_add_up(c, claims, &results.classes);
        for (i, class) in claims.by_class.iter().enumerate() {
            let known = results.classes.iter().find(|k| k.name == class.lamp_class);
            c.inside(&format!("by_class[{i}]"), |c| {
                c.need("lamp_class", known.is_some(), &class.lamp_class, "a class of these results");
                c.part("terms", &class.terms);
                let said = terms_sentence(&class.terms, &results.study.currency);
                c.follows("terms_sentence", &class.terms_sentence, &said);
                c.inside("totals", |c| totals_follow(c, &class.totals, &of_class(&claims.list, &class.lamp_class)));
                let why = "there unless a reason is told";
                c.there("ahead", class.ahead.is_some(), class.ahead_not_known.is_empty(), why);
                let Some(ahead) = &class.ahead else { return };
                c.inside("ahead", |c| ahead.check(c, &class.terms));
                let Some(known) = known else { return };
                let age = ahead.found.planned_age_hours;
                c.age("ahead.found.planned_age_hours", age, known.limit.limit_hours);
                if let Some(demand) = &known.demand {
                    c.equal("ahead.found.planned_age_hours", age, demand.planned_age_hours);
                    c.follows("ahead.found.lamps", &ahead.found.lamps, &demand.running_lamps_count);
                }
            });
        }
        for (i, claim) in claims.list.claims.iter().enumerate() {
            let terms = claims.by_class.iter().find(|k| k.lamp_class == claim.lamp.lamp_class).map(|k| &k.terms);
            c.inside(&format!("list.claims[{i}]"), |c| {
                let Some(terms) = terms else { return };
                c.follows("due", &claim.due, &terms.cover.unused(&claim.lamp));
                let gain =
                    if claim.due.at_most > 0.0 { claim.due.at_most * terms.chance - terms.handling_cost } else { 0.0 };
                c.equal("gain", claim.gain, gain);
            });
        }
    });
}

/// Money back that costs count follows from the terms of the class.
fn money_agrees(c: &mut Checks, results: &StudyResults) {
    let terms = |name: &str| {
        let claims = results.claims.iter().flat_map(|claims| &claims.by_class);
        claims.into_iter().find(|k| k.lamp_class == name).map(|k| &k.terms)
    };
    for (i, class) in results.classes.iter().enumerate() {
        let Some(money) = class.policy.as_ref().and_then(|p| p.money_back.as_ref()) else { continue };
        c.inside(&format!("classes[{i}].policy.money_back"), |c| match terms(&class.name) {
            Some(terms) => money.agrees(c, terms, class, &results.study.currency),
            None => c.there("counted", true, false, "there with the terms of a warranty of the class only"),
        });
    }
}

/// Every lamp that ended stands in the list or is counted under a reason.
fn lamps_add_up(c: &mut Checks, claims: &ClaimsResult, classes: &[ClassResult]) {
    let sum = |each: &mut dyn Iterator<Item = u64>| each.fold(0_u64, u64::saturating_add);
    let told = sum(&mut claims.nothing.iter().map(|n| n.lamps_count));
    let told = told.saturating_add(claims.list.claims.len() as u64);
    let ended = sum(&mut classes.iter().map(|k| k.seen.lamps_count.saturating_sub(k.seen.running_count)));
    c.need(
        "nothing",
        told == ended,
        told,
        format!("with those of the list {}, as many as ended", counted(ended, "lamp")),
    );
}

fn totals_follow(c: &mut Checks, got: &ClaimTotals, expected: &ClaimTotals) {
    c.follows("lamps", &got.lamps, &expected.lamps);
    c.follows("lamps_due", &got.lamps_due, &expected.lamps_due);
    c.follows("recovered_share", &got.recovered_share, &expected.recovered_share);
    for (field, got, expected) in [
        ("recoverable", got.recoverable, expected.recoverable),
        ("filed", got.filed, expected.filed),
        ("recovered", got.recovered, expected.recovered),
        ("open", got.open, expected.open),
        ("to_file", got.to_file, expected.to_file),
        ("to_file_gain", got.to_file_gain, expected.to_file_gain),
        ("missed", got.missed, expected.missed),
        ("refused", got.refused, expected.refused),
        ("to_find_out", got.to_find_out, expected.to_find_out),
    ] {
        c.equal(field, got, expected);
    }
}
